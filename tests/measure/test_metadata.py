"""Contradictions between a picture and its file's tags, each as one sentence."""

import json

import pytest

from tonemap.colorimetry import PRIMARIES
from tonemap.measure.metadata import ContentLight, MasteringDisplay, contradictions, named_primaries

# SMPTE ST 2086:2018 with the P3-D65 primaries, 0.0001 to 1000 cd/m2.
P3_DISPLAY = MasteringDisplay((0.68, 0.32), (0.265, 0.69), (0.15, 0.06), (0.3127, 0.329), 1000.0, 0.0001)


@pytest.mark.parametrize(
    ("measured", "tags", "sentences"),
    [
        ((1000, 180), ContentLight(1000, 180), ()),
        ((999, 10), ContentLight(1000, 180), ()),
        ((1204, 180), ContentLight(1000, 180), ("MaxCLL is 1204 cd/m2, above the 1000 of the tag",)),
        ((1000, 181), ContentLight(1000, 180), ("MaxFALL is 181 cd/m2, above the 180 of the tag",)),
        (
            (1001, 181),
            ContentLight(1000, 180),
            ("MaxCLL is 1001 cd/m2, above the 1000 of the tag", "MaxFALL is 181 cd/m2, above the 180 of the tag"),
        ),
        ((100, 50), ContentLight(400, 500), ("the tags give MaxFALL 500, which can't be above MaxCLL 400",)),
        ((4000, 900), ContentLight(0, 0), ()),
        ((4000, 900), ContentLight(None, None), ()),
        ((4000, 900), None, ()),
    ],
)
def test_content_light_is_compared_and_0_is_unknown(measured, tags, sentences):
    """CTA-861.3, Annex A: whole cd/m2, 0 where the value is not known."""
    assert contradictions(max_cll=measured[0], max_fall=measured[1], content_light=tags) == sentences


@pytest.mark.parametrize(
    ("peak", "sentences"),
    [
        (999.0, ()),
        (1000.4, ()),
        (1000.5, ()),
        (1000.6, ("the peak is 1000.6 cd/m2, above the 1000 of the mastering display",)),
        (1204.25, ("the peak is 1204.2 cd/m2, above the 1000 of the mastering display",)),
        (None, ()),
    ],
)
def test_peak_is_compared_with_the_display_to_half_a_step_of_st2086(peak, sentences):
    assert contradictions(max_cll=1205, max_fall=1, mastering_display=P3_DISPLAY, peak=peak) == sentences
    assert contradictions(max_cll=1205, max_fall=1, mastering_display=MasteringDisplay(), peak=peak) == ()


def test_colour_outside_the_mastering_primaries_is_a_contradiction():
    calls = [
        contradictions(max_cll=1, max_fall=1, mastering_display=P3_DISPLAY, outside_share=share)
        for share in (None, 0.0, 0.00123)
    ]
    assert calls == [(), (), ("up to 0.123 % of a frame lies outside the mastering display's primaries",)]


@pytest.mark.parametrize("name", ["bt709", "bt2020", "p3-d65"])
def test_a_display_is_named_by_its_primaries_to_two_steps(name):
    """ST 2086:2018 codes chromaticities in steps of 0.00002."""
    known = PRIMARIES[name]
    for error, expected in ((0.0, name), (0.00004 - 1e-12, name), (0.00006, None)):
        red = (known.red[0] + error, known.red[1])
        assert named_primaries(MasteringDisplay(red, known.green, known.blue, known.white), PRIMARIES) == expected


def test_a_display_without_all_chromaticities_has_no_primaries():
    assert P3_DISPLAY.primaries is not None
    for missing in ("red", "green", "blue", "white"):
        display = MasteringDisplay(**{**P3_DISPLAY.to_dict(), missing: None})
        assert display.primaries is None
        assert named_primaries(display, PRIMARIES) is None


def test_tags_are_plain_values():
    assert json.loads(json.dumps(P3_DISPLAY.to_dict()))["green"] == [0.265, 0.69]
    assert json.loads(json.dumps(ContentLight(1000, 180).to_dict())) == {"max_cll": 1000, "max_fall": 180}
