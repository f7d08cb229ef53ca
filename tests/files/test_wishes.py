"""The user's words and the tags become one encoding, or one sentence that asks for what is missing."""

from pathlib import Path

import pytest

from tonemap.encoding import Encoding
from tonemap.errors import WrongCall
from tonemap.media.wishes import EncodingWishes as Wishes
from tonemap.media.wishes import Finding, resolve

PATH = Path("scene.0000.dpx")
TRANSFERS = "--transfer (pq, hlg, bt1886, gamma2.2, gamma2.4, gamma2.6, srgb, linear)"
PRIMARIES = "--primaries (bt709, bt2020, p3-d65, p3-dci, ap0, ap1)"
RANGES = "--range (narrow, full)"


def refusal(wishes, findings=(), stored_bits=10):
    with pytest.raises(WrongCall) as caught:
        resolve(PATH, wishes, findings, stored_bits)
    assert caught.value.exit_status == 2
    return str(caught.value)


def test_one_missing_part_is_asked_for():
    assert refusal(Wishes(primaries="bt2020", signal_range="narrow")) == (
        f"scene.0000.dpx: the transfer function is not known from the file; say it with {TRANSFERS}"
    )


def test_several_missing_parts_are_asked_for_in_one_sentence():
    assert refusal(Wishes()) == (
        "scene.0000.dpx: the transfer function, the primaries and the signal range are not known from the file; "
        f"say them with {TRANSFERS}, {PRIMARIES} and {RANGES}"
    )


def test_range_is_not_asked_for_floating_point_samples():
    assert refusal(Wishes(), stored_bits=None) == (
        "scene.0000.dpx: the transfer function and the primaries are not known from the file; "
        f"say them with {TRANSFERS} and {PRIMARIES}"
    )


def test_linear_light_needs_the_light_of_the_value_one():
    assert refusal(Wishes("linear", "bt2020"), stored_bits=None) == (
        "scene.0000.dpx: the light of the value 1.0 is not known from the file; say it with --unit (cd/m2)"
    )


@pytest.mark.parametrize(
    ("wishes", "stored_bits", "sentence"),
    [
        (Wishes("pqq"), 10, "transfer 'pqq' is not known; did you mean 'pq'?"),
        (Wishes(primaries="bt2021"), 10, "primaries 'bt2021' are not known; did you mean 'bt2020'?"),
        (
            Wishes("pq", "bt2020", "narrow"),
            None,
            "narrow range needs integer code values; floating-point samples are full range",
        ),
        (Wishes("hlg", "bt709"), 10, "HLG is defined with BT.2020 primaries (BT.2100); use primaries bt2020"),
        (Wishes(peak=0.5), 10, "peak = 0.5 is outside 1..10000 cd/m2; give the display's peak luminance"),
        (Wishes(bits=9), 10, "9 bits are not supported; choose one of 8, 10, 12, 16"),
        (Wishes(bits=12), 10, "the file holds 10-bit codes, not 12-bit; correct --bits"),
        (Wishes(bits=10), None, "the samples are floating-point and have no bit depth; leave out --bits"),
        (
            Wishes("pq", unit=100.0),
            10,
            "--unit is for linear light, and the transfer function is pq; leave it out",
        ),
    ],
)
def test_wrong_words_are_refused_before_anything_is_asked_for(wishes, stored_bits, sentence):
    assert refusal(wishes, stored_bits=stored_bits) == f"scene.0000.dpx: {sentence}"


def test_unit_is_refused_when_the_tags_say_another_transfer():
    tag = Finding(Wishes("hlg", "bt2020", "narrow"), "tag")
    assert refusal(Wishes(unit=100.0), [tag]) == (
        "scene.0000.dpx: --unit is for linear light, and the transfer function is hlg; leave it out"
    )


def test_levels_that_can_not_be_together_are_refused():
    tag = Finding(Wishes("pq", "bt2020", "narrow", black=5.0), "tag")
    assert refusal(Wishes(peak=2.0), [tag]) == (
        "scene.0000.dpx: black = 5 is outside 0..0.2 cd/m2, a tenth of the peak; give the display's black"
    )


@pytest.mark.parametrize(
    ("transfer", "peak"),
    [("pq", 1000.0), ("hlg", 1000.0), ("bt1886", 100.0), ("srgb", 100.0), ("gamma2.6", 100.0)],
)
def test_peak_has_a_stated_default(transfer, peak):
    encoding, origins = resolve(PATH, Wishes(transfer, "bt2020", "full"), [], 10)
    assert (encoding.peak, encoding.black) == (peak, 0.0)
    assert origins["peak"] == origins["black"] == "default (common practice)"


def test_hlg_has_the_primaries_of_bt2100():
    encoding, origins = resolve(PATH, Wishes("hlg", signal_range="narrow"), [], 10)
    assert encoding == Encoding("hlg", "bt2020", "narrow", 10)
    assert origins["primaries"] == "default (BT.2100)"


def test_the_user_overrides_tags_part_by_part():
    tag = Finding(Wishes("pq", "p3-d65", "full", peak=4000.0, black=0.005), "tag (x)")
    encoding, origins = resolve(PATH, Wishes(primaries="bt2020", peak=2000.0), [tag], 12)
    assert encoding == Encoding("pq", "bt2020", "full", 12, 2000.0, 0.005)
    assert origins == {
        "transfer": "tag (x)",
        "primaries": "said by the user",
        "signal_range": "tag (x)",
        "bits": "default (by the format)",
        "peak": "said by the user",
        "black": "tag (x)",
    }


def test_a_tag_with_another_transfer_is_set_aside_whole():
    tags = [Finding(Wishes("bt1886", "bt709"), "tag (header)"), Finding(Wishes(signal_range="full"), "tag (codes)")]
    assert refusal(Wishes("pq"), tags) == (
        f"scene.0000.dpx: the primaries are not known from the file; say them with {PRIMARIES}"
    )


def test_mastering_display_is_not_the_reference_display_of_sdr():
    tags = [
        Finding(Wishes("bt1886", "bt709", "narrow"), "tag (x)"),
        Finding(Wishes(peak=4000.0, black=0.01), "tag (mastering display)"),
    ]
    encoding, _ = resolve(PATH, Wishes(), tags, 10)
    assert (encoding.peak, encoding.black) == (100.0, 0.0)
