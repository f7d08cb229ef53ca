"""Code points of Recommendation ITU-T H.273 against colour-science's tables, and what an encoding says and refuses."""

import numpy as np
import pytest

from tonemap import transfer as tf
from tonemap.colorimetry import PRIMARIES
from tonemap.encoding import (
    CICP_MATRIX_RGB,
    CICP_PRIMARIES,
    CICP_TRANSFERS,
    CICP_UNSPECIFIED,
    TRANSFERS,
    Encoding,
    light_to_signal,
    quantise_signal,
    sdr_target,
    signal_to_light,
)
from tonemap.errors import WrongCall


@pytest.mark.parametrize(("code", "name"), sorted(CICP_PRIMARIES.items()))
def test_cicp_primaries_match_the_table_of_h273(colour, code, name):
    from colour.models.rgb.itut_h_273 import CCS_WHITEPOINTS_ITUTH273

    ours = PRIMARIES[name]
    theirs = colour.models.COLOUR_PRIMARIES_ITUTH273[code]
    assert theirs.tolist() == [list(ours.red), list(ours.green), list(ours.blue)]
    assert CCS_WHITEPOINTS_ITUTH273[code].tolist() == list(ours.white)


# Code point, light to signal by our function of that name; H.273, Table 3 gives the camera curve of 1, 6, 14 and 15,
# so those four are compared with one another below.
@pytest.mark.parametrize(
    ("code", "inverse"),
    [
        (4, lambda light: tf.gamma_eotf_inverse(light, 2.2, 1.0)),
        (8, lambda light: light),
        (13, lambda light: tf.srgb_eotf_inverse(light, 1.0)),
        (16, lambda light: tf.pq_eotf_inverse(10000.0 * light)),
        (18, tf.hlg_oetf),
    ],
)
def test_cicp_transfers_match_the_table_of_h273(colour, code, inverse):
    """Worst measured: 0 for all."""
    light = np.linspace(0.0, 1.0, 2001)
    theirs = colour.models.TRANSFER_CHARACTERISTICS_ITUTH273[code]
    with np.errstate(invalid="ignore"):
        expected = theirs(10000.0 * light if code == 16 else light)
    np.testing.assert_allclose(inverse(light), expected, rtol=0, atol=1e-15)


def test_cicp_transfers_1_6_14_and_15_are_one_camera_curve(colour):
    """H.273, Table 3 (2.5e-4 apart: code 15 has more digits); all four are shown on a BT.1886 display here."""
    curves = colour.models.TRANSFER_CHARACTERISTICS_ITUTH273
    light = np.linspace(0.0, 1.0, 2001)
    for code in (6, 14, 15):
        np.testing.assert_allclose(curves[code](light), curves[1](light), rtol=0, atol=3e-4)
    assert {code for code, name in CICP_TRANSFERS.items() if name == "bt1886"} == {1, 6, 14, 15}


def test_cicp_tables_name_known_transfers_and_primaries(colour):
    assert set(CICP_TRANSFERS.values()) <= set(TRANSFERS)
    assert set(CICP_PRIMARIES.values()) <= set(PRIMARIES)
    assert str(colour.models.COLOUR_PRIMARIES_ITUTH273[CICP_UNSPECIFIED]) == "Unspecified"
    assert str(colour.models.MATRIX_COEFFICIENTS_ITUTH273[CICP_MATRIX_RGB]) == "Identity"


# Rows of H.273, Tables 2 to 4 as R'G'B' (matrix 0); primaries, transfer, full-range flag.
@pytest.mark.parametrize(
    ("encoding", "cicp"),
    [
        (sdr_target(), (1, 1, 0, 0)),
        (Encoding("bt1886", "bt2020", "narrow", 10), (9, 14, 0, 0)),
        (Encoding("bt1886", "bt2020", "narrow", 12), (9, 15, 0, 0)),
        (Encoding("bt1886", "bt2020"), (9, 14, 0, 1)),
        (Encoding("pq", "bt2020", "narrow", 10), (9, 16, 0, 0)),
        (Encoding("pq", "p3-d65", "full", 12), (12, 16, 0, 1)),
        (Encoding("hlg", "bt2020", "narrow", 10), (9, 18, 0, 0)),
        (Encoding("srgb", "bt709", "full", 8), (1, 13, 0, 1)),
        (Encoding("gamma2.2", "bt709"), (1, 4, 0, 1)),
        (Encoding("linear", "bt709"), (1, 8, 0, 1)),
        (Encoding("gamma2.6", "p3-dci", "full", 12), (11, 2, 0, 1)),  # ST 428-1 (17) has another scale
        (Encoding("gamma2.4", "ap1"), (2, 2, 0, 1)),
    ],
    ids=lambda value: value.title if isinstance(value, Encoding) else None,
)
def test_cicp_of_an_encoding_is_that_of_h273(encoding, cicp):
    assert encoding.cicp == cicp


@pytest.mark.parametrize("code", sorted(CICP_TRANSFERS))
def test_an_encoding_read_from_a_cicp_transfer_writes_an_equal_one(code):
    primaries = "bt2020" if code in (14, 15, 16, 18) else "bt709"
    written = Encoding(CICP_TRANSFERS[code], primaries, "narrow", 12 if code == 15 else 10).cicp[1]
    assert written == {6: 1}.get(code, code)


def test_the_usual_sdr_target_is_bt709_at_100_nits_in_10_bits():
    target = sdr_target()
    assert target == Encoding("bt1886", "bt709", "narrow", 10, peak=100.0, black=0.0)
    assert sdr_target(203.0, 0.005) == Encoding("bt1886", "bt709", "narrow", 10, peak=203.0, black=0.005)
    assert target.title == "BT.1886, BT.709, 10-bit narrow, peak 100 cd/m²"


@pytest.mark.parametrize(
    ("encoding", "title"),
    [
        (Encoding("pq"), "PQ (ST 2084), BT.2020, peak 1000 cd/m²"),
        (Encoding("hlg", bits=12, peak=4000.0), "HLG (BT.2100), BT.2020, 12-bit full, peak 4000 cd/m²"),
        (Encoding("linear", "ap0", unit=100.0), "linear light, ACES AP0, 1.0 = 100 cd/m², peak 1000 cd/m²"),
        (Encoding("srgb", "p3-d65", bits=8, peak=80.0), "sRGB (IEC 61966-2-1), P3-D65, 8-bit full, peak 80 cd/m²"),
        (Encoding("gamma2.6", "p3-dci", peak=48.0), "gamma 2.6, P3-DCI, peak 48 cd/m²"),
    ],
)
def test_titles_say_what_an_encoding_is(encoding, title):
    assert encoding.title == title


PIXEL = np.array([0.1, 0.5, 0.9])
EXPECTED = {
    "pq": tf.pq_eotf,
    "hlg": lambda signal: tf.hlg_eotf(signal, 600.0, 0.01),
    "bt1886": lambda signal: tf.bt1886_eotf(signal, 600.0, 0.01),
    "gamma2.2": lambda signal: 600.0 * signal**2.2,
    "gamma2.4": lambda signal: 600.0 * signal**2.4,
    "gamma2.6": lambda signal: 600.0 * signal**2.6,
    "srgb": lambda signal: tf.srgb_eotf(signal, 600.0),
    "linear": lambda signal: 100.0 * signal,
}


@pytest.mark.parametrize("transfer", TRANSFERS)
def test_every_transfer_is_reached_by_its_name_with_the_displays_levels(transfer):
    encoding = Encoding(transfer, peak=600.0, black=0.01, unit=100.0)
    light = signal_to_light(PIXEL, encoding)
    np.testing.assert_allclose(light, EXPECTED[transfer](PIXEL), rtol=1e-15)
    np.testing.assert_allclose(light_to_signal(light, encoding), PIXEL, rtol=0, atol=1e-13)


REFUSED = [
    ({"transfer": "pq10"}, "transfer 'pq10' is not known; did you mean 'pq'?"),
    (
        {"transfer": "rec709"},
        "transfer 'rec709' is not known; choose one of bt1886, gamma2.2, gamma2.4, gamma2.6, hlg, linear, pq, srgb",
    ),
    ({"primaries": "bt2021"}, "primaries 'bt2021' are not known; did you mean 'bt2020'?"),
    ({"bits": 11}, "11 bits are not supported; choose one of 8, 10, 12, 16"),
    ({"signal_range": "narow"}, "signal range 'narow' is not known; did you mean 'narrow'?"),
    ({"bits": 10, "signal_range": "narow"}, "signal range 'narow' is not known; did you mean 'narrow'?"),
    (
        {"signal_range": "narrow"},
        "narrow range needs integer code values; floating-point samples are full range",
    ),
    ({"peak": 0.5}, "peak = 0.5 is outside 1..10000 cd/m2; give the display's peak luminance"),
    ({"peak": 12000.0}, "peak = 12000 is outside 1..10000 cd/m2; give the display's peak luminance"),
    ({"peak": float("nan")}, "peak = nan is outside 1..10000 cd/m2; give the display's peak luminance"),
    ({"peak": float("inf")}, "peak = inf is outside 1..10000 cd/m2; give the display's peak luminance"),
    (
        {"transfer": "linear", "unit": 20000.0},
        "unit = 20000 is outside 0.0001..10000 cd/m2; give the cd/m2 of the value 1.0",
    ),
    ({"transfer": "linear", "unit": -1.0}, "unit = -1 is outside 0.0001..10000 cd/m2; give the cd/m2 of the value 1.0"),
    (
        {"transfer": "hlg", "primaries": "bt709"},
        "HLG is defined with BT.2020 primaries (BT.2100); use primaries bt2020",
    ),
]


@pytest.mark.parametrize(("arguments", "sentence"), REFUSED, ids=[sentence[:28] for _, sentence in REFUSED])
def test_an_impossible_encoding_is_refused_in_one_sentence(arguments, sentence):
    with pytest.raises(WrongCall) as refusal:
        Encoding(**{"transfer": "pq", **arguments})
    assert str(refusal.value) == sentence
    assert refusal.value.exit_status == 2


@pytest.mark.parametrize("black", [-0.01, 10.1, 100.0, float("nan")])
def test_black_outside_the_display_is_refused_in_one_sentence(black):
    with pytest.raises(WrongCall) as refusal:
        Encoding("bt1886", peak=100.0, black=black)
    sentence = f"black = {black:.9g} is outside 0..10 cd/m2, a tenth of the peak; give the display's black"
    assert str(refusal.value) == sentence


def test_code_values_without_bits_are_refused_in_one_sentence():
    with pytest.raises(WrongCall) as refusal:
        quantise_signal(PIXEL, Encoding("bt1886", "bt709"))
    assert str(refusal.value) == "code values need a bit depth; give the target 8, 10, 12 or 16 bits"
    assert quantise_signal(PIXEL, sdr_target()).tolist() == [152, 502, 852]
