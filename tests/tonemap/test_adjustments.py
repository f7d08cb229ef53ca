"""Input adjustments: exposure, contrast and saturation each do one thing, and nothing at their neutral settings."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from tonemap.adjustments import InputAdjustments, apply_input_adjustments
from tonemap.colorimetry import luminance

STEADY = settings(max_examples=150, derandomize=True, database=None)

# Light as decode hands it on: 0..65504 cd/m2, black and very dark channels included.
NITS = st.one_of(st.floats(0.0, 65504.0), st.floats(-7.0, 4.8).map(lambda power: 10.0**power), st.just(0.0))
PIXELS = arrays(np.float64, (4, 3), elements=NITS)
SETTINGS = st.builds(
    InputAdjustments,
    exposure=st.floats(-6.0, 6.0),
    contrast=st.floats(0.5, 2.0),
    pivot=st.floats(0.1, 1000.0),
    saturation=st.floats(0.0, 2.0),
)


def adjusted_grey(nits, adjustments):
    """Return where the adjustments put one neutral level, in cd/m2."""
    return float(apply_input_adjustments(np.full(3, nits), adjustments)[0])


def test_the_defaults_are_neutral_with_the_pivot_at_18_percent_grey():
    """26 cd/m2: BT.2408-9, Table 1."""
    assert InputAdjustments() == InputAdjustments(exposure=0.0, contrast=1.0, pivot=26.0, saturation=1.0)


@STEADY
@given(light=PIXELS, pivot=st.floats(0.1, 1000.0))
def test_neutral_settings_change_no_channel(light, pivot):
    """Every channel to 1e-12 of itself, a dark one beside a bright one too."""
    adjusted = apply_input_adjustments(light, InputAdjustments(pivot=pivot))
    np.testing.assert_allclose(adjusted, light, rtol=1e-12, atol=0)


def test_neutral_settings_change_no_dark_channel_in_float32():
    """The card computes in float32: a channel at 1e-4 cd/m2 beside two at 1000 must survive there as well."""
    light = np.array([[1000.0, 1000.0, 1e-4], [1e-4, 5000.0, 1e-5]], np.float32)
    np.testing.assert_allclose(apply_input_adjustments(light, InputAdjustments()), light, rtol=2e-7, atol=0)


@STEADY
@given(light=PIXELS, stops=st.integers(-8, 8))
def test_exposure_is_in_stops(light, stops):
    """A whole stop is a power of two, so that only the neutral mix can round."""
    adjusted = apply_input_adjustments(light, InputAdjustments(exposure=float(stops)))
    np.testing.assert_allclose(adjusted, light * 2.0**stops, rtol=1e-12, atol=0)


@pytest.mark.parametrize(("stops", "factor"), [(1.0, 2.0), (-1.0, 0.5), (0.5, 2.0**0.5), (-3.25, 2.0**-3.25)])
def test_exposure_moves_grey_by_its_factor(stops, factor):
    assert adjusted_grey(26.0, InputAdjustments(exposure=stops)) == pytest.approx(26.0 * factor, rel=1e-14)


@STEADY
@given(contrast=st.floats(0.25, 4.0), pivot=st.floats(0.1, 1000.0))
def test_contrast_keeps_the_pivot(contrast, pivot):
    assert adjusted_grey(pivot, InputAdjustments(contrast=contrast, pivot=pivot)) == pytest.approx(pivot, rel=1e-13)


@STEADY
@given(level=st.floats(1e-3, 10000.0), contrast=st.floats(0.25, 4.0), pivot=st.floats(0.1, 1000.0))
def test_contrast_is_the_slope_in_stops_about_the_pivot(level, contrast, pivot):
    """log(out / pivot) = contrast * log(in / pivot)."""
    adjusted = adjusted_grey(level, InputAdjustments(contrast=contrast, pivot=pivot))
    assert adjusted == pytest.approx(pivot * (level / pivot) ** contrast, rel=1e-11)


@STEADY
@given(light=arrays(np.float64, (3,), elements=st.floats(0.01, 10000.0)), contrast=st.floats(0.25, 4.0))
def test_contrast_keeps_chromaticity(light, contrast):
    adjusted = apply_input_adjustments(light, InputAdjustments(contrast=contrast))
    np.testing.assert_allclose(adjusted / luminance(adjusted), light / luminance(light), rtol=1e-11)


@STEADY
@given(light=PIXELS)
def test_saturation_0_is_the_grey_of_the_same_luminance(light):
    adjusted = apply_input_adjustments(light, InputAdjustments(saturation=0.0))
    expected = np.repeat(luminance(light)[:, np.newaxis], 3, axis=1)
    np.testing.assert_allclose(adjusted, expected, rtol=1e-12, atol=0)


@STEADY
@given(light=PIXELS, saturation=st.floats(0.0, 1.0))
def test_saturation_keeps_luminance_and_scales_the_distance_from_grey(light, saturation):
    """Up to 1, where no channel can turn negative."""
    adjusted = apply_input_adjustments(light, InputAdjustments(saturation=saturation))
    lum = luminance(light)
    np.testing.assert_allclose(luminance(adjusted), lum, rtol=1e-12, atol=0)
    grey = lum[:, np.newaxis]
    brightest = light.max(axis=1, keepdims=True)
    assert np.all(np.abs((adjusted - grey) - saturation * (light - grey)) <= 1e-12 * brightest)


def test_saturation_above_1_keeps_luminance_until_a_channel_would_turn_negative():
    inside = np.array([120.0, 100.0, 90.0])
    more = apply_input_adjustments(inside, InputAdjustments(saturation=1.5))
    assert float(luminance(more)) == pytest.approx(float(luminance(inside)), rel=1e-14)
    assert more[0] > 120.0
    assert more[2] < 90.0
    beyond = apply_input_adjustments(np.array([100.0, 50.0, 1.0]), InputAdjustments(saturation=2.0))
    assert beyond[2] == 0.0  # the mix would put blue at -60 cd/m2


@STEADY
@given(light=PIXELS, adjustments=SETTINGS)
def test_adjusted_light_is_finite_and_never_negative(light, adjustments):
    adjusted = apply_input_adjustments(light, adjustments)
    assert np.all(np.isfinite(adjusted))
    assert np.all(adjusted >= 0.0)


@STEADY
@given(adjustments=SETTINGS)
def test_black_stays_black(adjustments):
    assert apply_input_adjustments(np.zeros((2, 3)), adjustments).tolist() == [[0.0] * 3, [0.0] * 3]


@STEADY
@given(light=st.lists(st.floats(1e-4, 10000.0), min_size=2, max_size=2, unique=True), adjustments=SETTINGS)
def test_greys_keep_their_order_and_stay_grey(light, adjustments):
    dark, bright = sorted(light)
    greys = apply_input_adjustments(np.array([[dark] * 3, [bright] * 3]), adjustments)
    assert np.all(greys[0] <= greys[1] * (1.0 + 1e-12))
    np.testing.assert_allclose(greys, np.repeat(greys[:, :1], 3, axis=1), rtol=1e-12)


def test_exposure_comes_before_contrast_and_saturation_last():
    """One stop up puts 26 at 52; contrast 2 about 26 then doubles it again to 104."""
    level = adjusted_grey(26.0, InputAdjustments(exposure=1.0, contrast=2.0, pivot=26.0, saturation=0.3))
    assert level == pytest.approx(104.0, rel=1e-13)


@pytest.mark.parametrize(
    "adjustments",
    [
        InputAdjustments(exposure=0.5),
        InputAdjustments(contrast=1.2),
        InputAdjustments(contrast=1.2, pivot=100.0),
        InputAdjustments(saturation=1.2),
    ],
    ids=str,
)
def test_every_setting_changes_a_colour(adjustments):
    light = np.array([120.0, 70.0, 50.0])
    neutral = apply_input_adjustments(light, InputAdjustments(contrast=1.2 if adjustments.pivot != 26.0 else 1.0))
    assert np.all(np.abs(apply_input_adjustments(light, adjustments) / neutral - 1.0) > 0.01)
