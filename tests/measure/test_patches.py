"""Patches: which pixels they mark, and their figures on the master and on a rendition."""

import json
import math
from dataclasses import asdict, replace

import numpy as np
import pytest

from tonemap.encoding import Encoding, decode, sdr_target
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.measure.patches import Patch, hue_and_chroma, master_figures, rendition_figures, typical_colour
from tonemap.measure.reference_levels import REFERENCE_LEVELS, reference_levels
from tonemap.rendition import Rendition, chain_of
from tonemap.transfer import hlg_ootf

PQ = Encoding("pq", peak=1000.0)
ALL = np.ones((1, 4), bool)


def grey(*nits: float) -> np.ndarray:
    return np.repeat(np.array(nits)[np.newaxis, :, np.newaxis], 3, axis=2)


def chain(target: Encoding | None = None):
    return chain_of(Rendition("clip", "hard_clip", target=target or sdr_target()), PQ)


def test_rectangle_marks_the_pixels_whose_centres_it_holds():
    mask = Patch.rectangle("face", "skin", 0.25, 0.5, 0.75, 1.0).mask(100, 200)
    assert mask[50:, 50:150].all()
    assert mask.sum() == 50 * 100


def test_polygon_marks_its_area_and_leaves_its_notch():
    triangle = Patch("sail", "custom", ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0))).mask(400, 400)
    assert triangle.mean() == pytest.approx(0.5, abs=0.002)
    assert triangle[0, 0]
    assert not triangle[399, 399]
    notched = Patch("u", "custom", ((0, 0), (0.3, 0), (0.3, 0.6), (0.7, 0.6), (0.7, 0), (1, 0), (1, 1), (0, 1)))
    mask = notched.mask(100, 100)
    assert not mask[:60, 30:70].any()
    assert mask.sum() == 10000 - 60 * 40


def test_neighbouring_patches_share_no_pixel_and_leave_none():
    left, right = (Patch.rectangle("half", "custom", *edges).mask(9, 9) for edges in ((0, 0, 0.5, 1), (0.5, 0, 1, 1)))
    assert np.array_equal(left, ~right)


def test_patch_survives_a_trip_through_json():
    patch = Patch("forehead", "skin", ((0.1, 0.2), (0.3, 0.2), (0.2, 0.4)))
    assert Patch.from_dict(json.loads(json.dumps(asdict(patch)))) == patch


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (
            lambda: Patch.rectangle("face", "skim", 0, 0, 1, 1),
            "patch 'face': kind 'skim' is not known; did you mean 'skin'?",
        ),
        (
            lambda: Patch("face", "skin", ((0, 0), (1, 1))),
            "patch 'face' has 2 corners; a polygon needs at least three",
        ),
        (
            lambda: Patch.rectangle("face", "skin", 0.5, 0, 1.5, 1),
            "patch 'face': corner (1.5, 0) is outside 0..1 of the picture; move it in",
        ),
        (
            lambda: Patch.rectangle("face", "skin", math.nan, 0, 1, 1),
            "patch 'face': left nan, top 0, right 1, bottom 1 is no rectangle; "
            "left must be below right, and top below bottom",
        ),
    ],
    ids=["kind", "corners", "outside", "not a number"],
)
def test_a_patch_that_marks_nothing_is_refused_in_one_sentence(make, message):
    with pytest.raises(WrongCall) as refused:
        make()
    assert str(refused.value) == message


def test_a_patch_between_pixels_is_refused_with_the_pictures_size():
    with pytest.raises(TrimbenchError) as refused:
        Patch.rectangle("dot", "custom", 0.0, 0.0, 0.001, 0.001).mask(90, 160)
    assert str(refused.value) == "patch 'dot' covers no pixel of a picture of 160 x 90; draw it larger"


def test_master_levels_are_those_of_bt2408():
    """Report BT.2408-8, Table 1: 26 cd/m2 is 38 % and 203 cd/m2 is 58 % of PQ."""
    for nits, percent in ((26.0, 38.0), (203.0, 58.07)):
        found = master_figures(ALL, grey(nits, nits, nits, nits), PQ)
        assert found.nits["p50"] == pytest.approx(nits)
        assert found.signal_percent["p50"] == pytest.approx(percent, abs=0.01)
        assert (found.hue, found.pixels) == (None, 4)


def test_hlg_master_shows_its_own_signal():
    white = hlg_ootf(np.full((1, 4, 3), 0.2649625604), 1000.0)
    found = master_figures(ALL, white, Encoding("hlg", peak=1000.0))
    assert found.nits["p50"] == pytest.approx(203.15, abs=0.01)
    assert found.signal_percent["p50"] == pytest.approx(75.0, abs=1e-4)


def test_linear_master_is_given_in_pq():
    found = master_figures(ALL, grey(203, 203, 203, 203), Encoding("linear", peak=1000.0))
    assert found.signal_percent["p50"] == pytest.approx(58.07, abs=0.01)


def test_percentiles_are_those_of_the_marked_pixels_only():
    ramp = grey(*np.arange(101.0), 5000.0)
    mask = np.append(np.ones(101, bool), False)[np.newaxis]
    found = master_figures(mask, ramp, PQ)
    assert found.nits == pytest.approx({"p1": 1.0, "p5": 5.0, "p50": 50.0, "p95": 95.0, "p99": 99.0})


def test_signal_is_luma_with_the_primaries_own_weights():
    """A pure red signal reads 26.27 % on a BT.2020 waveform and 21.26 % on a BT.709 one (BT.2020-2, BT.709-6)."""
    red = np.zeros((1, 4, 3))
    red[..., 0] = 10000.0
    assert master_figures(ALL, red, PQ).signal_percent["p50"] == pytest.approx(26.27, abs=0.005)
    assert rendition_figures(ALL, red / 10000.0, chain()).signal_percent["p50"] == pytest.approx(21.26, abs=0.005)


def test_rendition_levels_are_those_of_bt1886():
    """100 * 0.5 ** 2.4 = 18.946 cd/m2; on a display of 203 cd/m2, 38.46."""
    half = np.full((1, 4, 3), 0.5)
    assert rendition_figures(ALL, half, chain()).nits["p50"] == pytest.approx(18.946, abs=5e-4)
    assert rendition_figures(ALL, half, chain(sdr_target(203.0))).nits["p50"] == pytest.approx(38.461, abs=5e-4)
    assert rendition_figures(ALL, half, chain()).signal_percent["p50"] == pytest.approx(50.0)


def test_clipped_shares_count_channels():
    signal = np.full((1, 10, 3), 0.5)
    signal[0, 0, 0] = signal[0, 1:3, 1:] = signal[0, 3:7] = 1.0
    found = rendition_figures(np.ones((1, 10), bool), signal, chain())
    assert (found.clipped_one, found.clipped_two, found.clipped_three) == (0.1, 0.2, 0.4)


def test_master_clips_at_its_own_peak():
    light = grey(1000.0, 999.0, 500.0, 10.0)
    light[0, 1, 0] = 1000.0
    found = master_figures(ALL, light, PQ)
    assert found.clipped_three == 0.5  # 999 cd/m2 is within half a code of 10 bits
    assert master_figures(ALL, light, replace(PQ, peak=4000.0)).clipped_three == 0.0
    light[0, 1, 1:] = 900.0
    assert master_figures(ALL, light, PQ).clipped_one == 0.25


def test_hue_and_chroma_are_those_of_bt2100_colours():
    """ICtCp of the green and the skin-like colour as computed from BT.2100-3, Tables 4 and 7."""
    for light, (ct, cp) in (
        ((0.0, 1000.0, 0.0), (-0.459303519, -0.119796748)),
        ((120.0, 70.0, 50.0), (-0.033701430, 0.074164797)),
    ):
        hue, chroma = hue_and_chroma(np.array(light))
        assert hue == pytest.approx(math.degrees(math.atan2(cp, ct)) % 360.0, abs=1e-5)
        assert chroma == pytest.approx(math.hypot(ct, cp), abs=1e-8)


def test_typical_colour_leaves_a_highlight_out():
    light = np.concatenate([np.full((95, 3), 50.0), np.full((5, 3), 5000.0)])
    assert typical_colour(light, 50.0).tolist() == [50.0, 50.0, 50.0]
    assert typical_colour(light[:1], 95.0).tolist() == [50.0, 50.0, 50.0]


def test_figures_of_half_float_light_are_those_of_float64():
    light = decode(np.random.default_rng(5).uniform(0.3, 0.6, (1, 4, 3)), PQ)
    wide, narrow = master_figures(ALL, light, PQ), master_figures(ALL, light.astype(np.float32), PQ)
    assert narrow.nits == pytest.approx(wide.nits, rel=1e-6)
    assert narrow.hue == pytest.approx(wide.hue, abs=1e-3)


def test_reference_levels_are_those_of_bt2408_with_their_source():
    assert {(levels.title, levels.nits) for levels in reference_levels("skin") if levels.nits} == {
        ("light skin, types 1 and 2", (65.0, 110.0)),
        ("medium skin, types 3 and 4", (40.0, 85.0)),
        ("dark skin, types 5 and 6", (10.0, 40.0)),
    }
    assert [levels.nits for levels in reference_levels("white")] == [(179.0, 179.0), (203.0, 203.0)]
    assert reference_levels("sky") == ()
    assert all(levels.source.startswith("Report ITU-R BT.2408-8, ") for levels in REFERENCE_LEVELS)


@pytest.mark.parametrize("levels", [item for item in REFERENCE_LEVELS if item.nits], ids=lambda item: item.title)
def test_reference_levels_agree_with_themselves(levels):
    """The Report rounds: single levels to 1 %, the HLG ranges to the nits, the PQ ranges to 5 %."""
    light = np.array([levels.nits]).T[..., np.newaxis] * np.ones(3)
    pq = master_figures(np.ones((2, 1), bool), light, PQ).signal_percent
    hlg = master_figures(np.ones((2, 1), bool), light, Encoding("hlg", peak=1000.0)).signal_percent
    tolerance = 1.0 if levels.nits[0] == levels.nits[1] else 3.0
    middle = sum(levels.pq_percent) / 2, sum(levels.hlg_percent) / 2
    assert (pq["p50"], hlg["p50"]) == pytest.approx(middle, abs=tolerance)
