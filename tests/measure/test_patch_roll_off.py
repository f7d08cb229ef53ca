"""Roll-off figures of a patch, against curves whose slope and shoulder are arithmetic."""

from dataclasses import replace

import numpy as np
import pytest

from tonemap.adjustments import InputAdjustments
from tonemap.cdl import Cdl
from tonemap.encoding import Encoding
from tonemap.measure.patch_roll_off import roll_off, shoulder, slopes
from tonemap.rendition import Rendition, chain_of
from tonemap.transfer import pq_eotf_inverse

MASTER = Encoding("linear", peak=1000.0)
CLIP = Rendition("clip", "hard_clip")
SCALE = Rendition("scale", "linear_scale", tone_settings={"white": 200.0})
SKIN = np.array([40.0, 26.0, 18.0])  # inside BT.709
MASK = np.ones((4, 4), bool)


def picture(colour) -> np.ndarray:
    return np.ones((4, 4, 3)) * np.asarray(colour, np.float64)


def test_clip_keeps_all_contrast_below_and_none_above():
    chain = chain_of(CLIP, MASTER)
    below, above = roll_off(MASK, picture([50.0] * 3), chain), roll_off(MASK, picture([150.0] * 3), chain)
    assert (below.slope_median, below.slope_p95) == pytest.approx((1.0, 1.0), abs=1e-9)
    assert (above.slope_median, above.slope_p95, above.shoulder_stops) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize("nits", [12.5, 25.0, 50.0])
def test_shoulder_of_a_clip_begins_where_the_clip_is(nits):
    """From 25 cd/m2 to the clip at 100 it is two stops; the difference spans 0.04 stops and the scan 0.02."""
    found = roll_off(MASK, picture([nits] * 3), chain_of(CLIP, MASTER)).shoulder_stops
    assert found == pytest.approx(np.log2(100.0 / nits), abs=0.04)


def test_no_shoulder_before_the_masters_peak_is_none():
    within = replace(CLIP, target=replace(CLIP.target, peak=400.0))
    master = replace(MASTER, peak=300.0)
    assert roll_off(MASK, picture([50.0] * 3), chain_of(within, master)).shoulder_stops is None


def test_slope_of_a_gain_is_the_quotient_of_pq_derivatives():
    """Out = in / 2: the slope in PQ is PQ'(L/2) / 2 over PQ'(L), here by a difference of its own."""
    chain = chain_of(SCALE, MASTER)
    for nits in (1.0, 20.0, 150.0):
        step = nits * 1e-5
        came = pq_eotf_inverse(np.array([nits - step, nits + step]))
        went = pq_eotf_inverse(np.array([nits - step, nits + step]) / 2.0)
        expected = (went[1] - went[0]) / (came[1] - came[0])
        assert roll_off(MASK, picture([nits] * 3), chain).slope_median == pytest.approx(expected, abs=2e-5)


def test_slope_of_a_colour_is_that_of_its_luminance():
    """A gain keeps the colour, so the quotient of derivatives holds for skin too."""
    chain = chain_of(SCALE, MASTER)
    skin = roll_off(MASK, picture(SKIN), chain)
    luminance = float(np.array([0.26270, 0.67800, 0.05930]) @ SKIN)
    assert skin.slope_median == pytest.approx(float(slopes(np.full(3, luminance), np.zeros(1), chain)[0]), abs=1e-4)
    assert skin.hue_shift == pytest.approx(0.0, abs=2.0)


def test_median_and_95th_percentile_are_taken_apart():
    light = np.full((10, 10, 3), 40.0)
    light[:2] = 200.0  # a fifth of the patch is above the clip
    found = roll_off(np.ones((10, 10), bool), light, chain_of(CLIP, MASTER))
    assert (found.slope_median, found.slope_p95) == pytest.approx((1.0, 0.0), abs=1e-9)


def test_untouched_colour_keeps_hue_and_chroma():
    found = roll_off(MASK, picture(SKIN), chain_of(CLIP, MASTER))
    assert found.hue_shift == pytest.approx(0.0, abs=1e-6)
    assert found.chroma_kept == pytest.approx(1.0, abs=1e-8)


def test_hue_shift_and_chroma_kept_match_colour_science(colour):
    """A clip of each channel on its own turns skin toward yellow: the hue angle grows, here by 5 degrees and more."""
    bright = SKIN * 4.0  # only red is above 105 cd/m2
    target = Encoding("bt1886", "bt2020", "narrow", 10, 105.0)
    clip = replace(CLIP, tone_settings={"application": "per_channel"}, gamut="gamut_clip", target=target)
    chain = chain_of(clip, MASTER)
    found = roll_off(MASK, picture(bright), chain)
    method = "ITU-R BT.2100-2 PQ"
    first = colour.RGB_to_ICtCp(bright, method=method)
    second = colour.RGB_to_ICtCp(np.minimum(bright, 105.0), method=method)
    angles = np.degrees(np.arctan2([first[2], second[2]], [first[1], second[1]]))
    chromas = np.hypot([first[1], second[1]], [first[2], second[2]])
    assert found.hue_shift == pytest.approx(angles[1] - angles[0], abs=1e-6)
    assert found.chroma_kept == pytest.approx(chromas[1] / chromas[0], abs=1e-9)
    assert found.hue_shift > 5.0


def test_desaturated_output_has_no_hue_and_keeps_no_chroma():
    found = roll_off(MASK, picture(SKIN), chain_of(replace(CLIP, output=Cdl(saturation=0.0)), MASTER))
    assert found.hue_shift is None
    assert found.chroma_kept == pytest.approx(0.0, abs=1e-6)


def test_grey_patch_has_no_hue_shift_and_black_patch_no_slope():
    grey = roll_off(MASK, picture([26.0] * 3), chain_of(CLIP, MASTER))
    assert (grey.hue_shift, grey.chroma_kept) == (None, None)
    black = roll_off(MASK, picture([0.0] * 3), chain_of(CLIP, MASTER))
    assert (black.slope_median, black.slope_p95, black.shoulder_stops) == (None, None, None)


def test_input_exposure_moves_the_shoulder_toward_the_patch():
    lifted = replace(CLIP, input=InputAdjustments(exposure=1.0))
    plain, moved = (shoulder(np.full(3, 20.0), chain_of(item, MASTER)) for item in (CLIP, lifted))
    assert plain - moved == pytest.approx(1.0, abs=0.03)


def test_softer_curve_begins_earlier_and_keeps_more_above():
    """The patch at 60 cd/m2 is below the clip, and on the shoulder of the logarithmic roll-off."""
    clip, soft = (chain_of(Rendition("x", tone), MASTER) for tone in ("hard_clip", "logarithmic"))
    early, late = (roll_off(MASK, picture([15.0] * 3), chain).shoulder_stops for chain in (soft, clip))
    assert early < late
    hard, kept = (roll_off(MASK, picture([150.0] * 3), chain).slope_median for chain in (clip, soft))
    assert kept > hard + 0.1
