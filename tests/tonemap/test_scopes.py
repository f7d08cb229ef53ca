"""Scopes: counts equal an independent count, nothing is lost, and targets are those of the standards."""

import math

import colour
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from tonemap import scopes
from tonemap.colorimetry import conversion_matrix, convert, luminance
from tonemap.encoding import Encoding, sdr_target
from tonemap.measure.frame import tally_frame
from tonemap.measure.programme import ProgrammeLevels
from tonemap.picture import light_picture
from tonemap.scopes import (
    CHROMA_SCALE,
    LOG_SCALE,
    PQ_SCALE,
    SIGNAL_SCALE,
    UV_SCALE,
    ChromaticityScope,
    Histogram,
    Scale,
    Vectorscope,
    Waveform,
    bar_targets,
    bins_of,
    chroma_signals,
    level_history,
    light_channels,
    luma_signal,
    signal_channels,
    skin_angle,
)
from tonemap.transfer import bt1886_eotf_inverse, pq_eotf, pq_eotf_inverse

RANDOM = np.random.default_rng(11)
LIGHT = np.exp(RANDOM.uniform(np.log(1e-4), np.log(12000.0), (9, 14, 3)))
SIGNAL = RANDOM.uniform(-0.1, 1.12, (9, 14, 3))
SCALES = {"pq": PQ_SCALE, "log": LOG_SCALE, "signal": SIGNAL_SCALE}


def bin_by_hand(place, bins):
    """Return the bin by the rule as it is worded, for one value."""
    clamped = np.float32(min(max(np.float32(place), np.float32(0.0)), np.float32(1.0)))
    return math.floor(np.float32(clamped * np.float32(bins - 1)) + np.float32(0.5))


@pytest.mark.parametrize("name", SCALES)
def test_a_waveform_equals_a_loop_over_pixels(name):
    scale = SCALES[name]
    channels = signal_channels(SIGNAL, "bt709") if name == "signal" else light_channels(LIGHT)
    waveform = Waveform(14, scale, levels=40)
    waveform.add(channels)
    expected = np.zeros((4, 40, 14), int)
    for row in range(9):
        for column in range(14):
            for channel in range(4):
                place = float(scale.place(channels[row, column, channel]))
                expected[channel, bin_by_hand(place, 40), column] += 1
    assert np.array_equal(waveform.counts, expected)
    assert waveform.rows == 9


def test_bands_and_frames_add_up():
    channels = light_channels(LIGHT)
    whole, parts = Waveform(14, PQ_SCALE), Waveform(14, PQ_SCALE)
    whole.add(channels)
    whole.add(channels)
    for band in (channels[:4], channels[4:], channels):
        parts.add(band)
    assert np.array_equal(whole.counts, parts.counts)
    assert whole.rows == parts.rows == 18


@pytest.mark.parametrize("primaries", ["bt709", "bt2020"])
def test_a_vectorscope_equals_numpys_two_dimensional_histogram(primaries):
    scope = Vectorscope(primaries, bins=64)
    scope.add(SIGNAL)
    cb, cr = (np.clip(CHROMA_SCALE.place(values), 0.0, 1.0) for values in chroma_signals(SIGNAL, primaries))
    edges = (np.arange(65) - 0.5) / 63.0
    expected, _, _ = np.histogram2d(cr.ravel(), cb.ravel(), bins=(edges, edges))
    assert np.array_equal(scope.counts, expected)
    assert scope.pixels == 9 * 14


def test_a_chromaticity_scope_equals_numpys_two_dimensional_histogram():
    scope = ChromaticityScope(bins=50)
    scope.add(LIGHT)
    lit = LIGHT[LIGHT.max(axis=-1) >= 1.0]
    xyz = lit @ colour.RGB_COLOURSPACES["ITU-R BT.2020"].matrix_RGB_to_XYZ.T
    uv = UV_SCALE.place(colour.xy_to_Luv_uv(colour.XYZ_to_xy(xyz)))
    edges = (np.arange(51) - 0.5) / 49.0
    expected, _, _ = np.histogram2d(uv[:, 1], uv[:, 0], bins=(edges, edges))
    # The library's own matrix is rounded, so a pixel at the edge of a bin may fall on its other side.
    assert np.abs(scope.counts - expected).sum() <= 2
    assert (scope.dark, scope.pixels) == (9 * 14 - len(lit), 9 * 14)


def test_a_histogram_equals_a_waveform_without_its_columns():
    channels = light_channels(LIGHT)
    waveform, histogram = Waveform(14, LOG_SCALE), Histogram(LOG_SCALE)
    waveform.add(channels)
    histogram.add(channels)
    assert np.array_equal(histogram.counts, waveform.counts.sum(axis=2))


VALUES = st.floats(width=32, allow_nan=False) | st.sampled_from([np.inf, -np.inf, 0.0, 0.5, 1.0])


@settings(max_examples=60)
@given(arrays(np.float32, (3, 5, 4), elements=VALUES), st.sampled_from([2, 3, 17, 1024]))
def test_no_pixel_is_lost_or_counted_twice(values, bins):
    with np.errstate(over="ignore", invalid="ignore"):
        for scale in (Scale("linear", 0.0, 1.0), SIGNAL_SCALE):
            waveform, histogram = Waveform(5, scale, bins), Histogram(scale, bins)
            waveform.add(values)
            histogram.add(values)
            assert (waveform.counts.sum(axis=1) == 3).all()
            assert (histogram.counts.sum(axis=1) == 15).all()


@settings(max_examples=40)
@given(arrays(np.float64, (4, 3, 3), elements=st.floats(0.0, 65504.0)))
def test_planes_keep_every_pixel_that_has_a_colour(light):
    vectorscope, chromaticity = Vectorscope("bt2020", 32), ChromaticityScope(32)
    vectorscope.add(pq_eotf_inverse(light))
    chromaticity.add(light)
    assert vectorscope.counts.sum() == vectorscope.pixels == 12
    assert chromaticity.counts.sum() + chromaticity.dark == chromaticity.pixels == 12


def test_the_bin_rule_rounds_half_up_and_clamps():
    places = np.array([-3.0, 0.0, 0.125, 0.375, 0.5, 0.875, 1.0, 9.0, np.nan, np.inf, -np.inf])
    assert bins_of(places, 5).tolist() == [0, 0, 1, 2, 2, 4, 4, 4, 0, 4, 0]


def test_every_code_of_ten_bits_has_its_own_bin_of_a_signal():
    codes = np.arange(1024)
    assert np.array_equal(bins_of(SIGNAL_SCALE.place((codes - 64) / 876.0)), codes)
    assert np.array_equal(bins_of(CHROMA_SCALE.place((codes - 512) / 896.0)), codes)


@pytest.mark.parametrize("scale", [PQ_SCALE, LOG_SCALE, SIGNAL_SCALE, Scale("pq", 0.0, 1250.0)], ids=str)
def test_the_value_of_a_bin_falls_into_it(scale):
    assert np.array_equal(bins_of(scale.place(scale.values())), np.arange(1024))


def test_a_pq_scale_is_spaced_as_pq_and_a_logarithmic_one_by_decades():
    assert float(PQ_SCALE.place(203.0)) == pytest.approx(0.580688881, abs=1e-6)
    assert np.diff(LOG_SCALE.place(np.array([0.1, 1.0, 10.0, 100.0]))) == pytest.approx(1.0 / 6.0)
    assert float(LOG_SCALE.place(0.0)) < 0.0


# SMPTE RP 219:2002, 75 % bars for BT.709, 10 bits: Y', Cb, Cr.
RP_219 = {
    "yellow": (674, 176, 543),
    "cyan": (581, 589, 176),
    "green": (534, 253, 207),
    "magenta": (251, 771, 817),
    "red": (204, 435, 848),
    "blue": (111, 848, 481),
}


@pytest.mark.parametrize("name", RP_219)
def test_targets_of_75_percent_bars_are_the_published_codes(name):
    luma, cb, cr = RP_219[name]
    target = bar_targets("bt709", 0.75)[name]
    assert (round(512 + 896 * target[0]), round(512 + 896 * target[1])) == (cb, cr)
    assert round(64 + 876 * float(luma_signal(0.75 * np.array(scopes.BARS[name]), "bt709"))) == luma


@pytest.mark.parametrize(("primaries", "standard"), [("bt709", "ITU-R BT.709"), ("bt2020", "ITU-R BT.2020")])
def test_chroma_and_luma_agree_with_a_second_opinion(primaries, standard):
    expected = colour.RGB_to_YCbCr(
        SIGNAL, K=colour.WEIGHTS_YCBCR[standard], out_range=(0.0, 1.0, -0.5, 0.5), in_range=(0.0, 1.0)
    )
    cb, cr = chroma_signals(SIGNAL, primaries)
    assert np.stack([luma_signal(SIGNAL, primaries), cb, cr], axis=-1) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("name", scopes.BARS)
def test_58_percent_targets_are_the_bars_of_bt2111(name):
    # Recommendation ITU-R BT.2111, PQ pattern, 10-bit narrow: the main bars are code 572.
    codes = np.where(np.array(scopes.BARS[name]) > 0.0, 572, 64)
    bar = [float(value) for value in chroma_signals((codes - 64) / 876.0, "bt2020")]
    assert bar == pytest.approx(bar_targets("bt2020", 0.58)[name], abs=0.5 / 876.0)


def test_bars_are_symmetric_about_the_centre_and_touch_the_nominal_range():
    for primaries in ("bt709", "bt2020"):
        targets = bar_targets(primaries)
        for one, other in (("red", "cyan"), ("green", "magenta"), ("blue", "yellow")):
            assert targets[one] == pytest.approx([-value for value in targets[other]], abs=1e-12)
        assert targets["red"][1] == pytest.approx(0.5)
        assert targets["blue"][0] == pytest.approx(0.5)


def chart_xyz(name):
    """Integrate a patch's reflectance under D65 with the CIE 1931 observer."""
    reflectance = colour.SDS_COLOURCHECKERS["ISO 17321-1"][name].copy()
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(reflectance.shape)
    light = colour.SDS_ILLUMINANTS["D65"].copy().align(reflectance.shape)
    xyz = (reflectance.values * light.values) @ cmfs.values
    return xyz / (light.values @ cmfs.values[:, 1])


def test_the_skin_is_the_charts_patch():
    assert pytest.approx(chart_xyz("light skin"), abs=2e-4) == scopes.LIGHT_SKIN_XYZ


def test_the_skin_line_in_sdr_is_the_patchs_hue_and_near_the_i_axis():
    to_709 = np.linalg.inv(colour.RGB_COLOURSPACES["ITU-R BT.709"].matrix_RGB_to_XYZ)
    for name, tolerance in (("light skin", 0.15), ("dark skin", 2.0)):
        signal = bt1886_eotf_inverse(to_709 @ chart_xyz(name), 1.0)
        cb, cr = chroma_signals(signal, "bt709")
        degrees = math.degrees(math.atan2(float(cr), float(cb)))
        assert skin_angle(sdr_target()) == pytest.approx(degrees, abs=tolerance)
    assert skin_angle(sdr_target()) == pytest.approx(123.0, abs=1.0)
    assert skin_angle(sdr_target(203.0)) == pytest.approx(skin_angle(sdr_target()), abs=1e-9)


def test_the_skin_line_in_pq_is_the_patch_at_the_level_of_bt2408():
    nits = 1000.0 * (0.2649625604 * 0.355831) ** 1.2
    assert nits == pytest.approx(58.8, abs=0.1)
    light = convert(np.array([0.559506, 0.308700, 0.222825]), conversion_matrix("bt709", "bt2020"))
    cb, cr = chroma_signals(pq_eotf_inverse(light * nits / luminance(light)), "bt2020")
    degrees = math.degrees(math.atan2(float(cr), float(cb)))
    assert skin_angle(Encoding("pq", "bt2020")) == pytest.approx(degrees, abs=0.05)


def test_the_level_history_is_that_of_the_frames():
    programme = ProgrammeLevels()
    for number, nits in ((3, 80.0), (1, 400.0), (2, 120.0)):
        light = np.full((2, 2, 3), nits)
        light[0, 0] = (2.0 * nits, 0.0, 0.0)
        programme.add(tally_frame(light_picture(light), frame=number))
    history = level_history(programme.history)
    assert history.frames.tolist() == [1, 2, 3]
    assert history.maximum.tolist() == [800.0, 240.0, 160.0]
    assert history.average == pytest.approx([500.0, 150.0, 100.0])
    assert history.luminance[0] == pytest.approx((3 * 400.0 + 800.0 * 0.2627) / 4, abs=0.01)


def test_a_flat_frame_is_one_line_of_a_waveform():
    waveform = Waveform(8, PQ_SCALE)
    waveform.add(light_channels(np.full((6, 8, 3), 203.0)))
    level = round(0.580688881 * 1023)
    assert (waveform.counts[:, level] == 6).all()
    assert waveform.counts.sum() == 4 * 6 * 8
    assert pq_eotf(np.array(level / 1023.0)) == pytest.approx(203.0, rel=0.01)
