"""ASC Color Decision List v1.2 against its formula and OpenColorIO."""

import numpy as np
import pytest

from tonemap.cdl import CDL_WEIGHTS, Cdl, apply_cdl

DECISION = Cdl(slope=(1.2, 1.0, 0.8), offset=(0.05, -0.02, 0.0), power=(1.1, 0.9, 1.0), saturation=0.8)


# Computed from the formula of ASC CDL v1.2 in float64: slope, offset, clamp, power, then saturation, clamp.
@pytest.mark.parametrize(
    ("signal", "graded"),
    [
        ((0.5, 0.4, 0.3), (0.587891, 0.424700, 0.281816)),
        ((0.0, 0.0, 0.0), (0.031221, 0.001576, 0.001576)),
        ((1.0, 1.0, 1.0), (0.994535, 0.980120, 0.834535)),
        ((-0.1, 0.5, 1.2), (0.087751, 0.500995, 0.855751)),
    ],
)
def test_cdl_matches_the_formula_of_asc_cdl(signal, graded):
    np.testing.assert_allclose(apply_cdl(np.array(signal), DECISION), graded, rtol=0, atol=5.1e-7)


def test_cdl_weights_are_those_of_bt709_and_sum_to_1():
    """ASC CDL v1.2 prints 0.2126, 0.7152, 0.0722 whatever the working space."""
    assert CDL_WEIGHTS == (0.2126, 0.7152, 0.0722)
    assert sum(CDL_WEIGHTS) == pytest.approx(1.0, abs=1e-15)


# Worst measured against float32 OpenColorIO: 3.1e-7 with float64 pixels, 3.5e-7 with float32 ones.
@pytest.mark.parametrize("dtype", [np.float64, np.float32])
@pytest.mark.parametrize("seed", range(12))
def test_cdl_matches_opencolorio(ocio, ocio_apply, seed, dtype):
    """OpenColorIO's default style doesn't clamp; CDL_ASC is v1.2."""
    rng = np.random.default_rng(seed)
    slope, offset, power = rng.uniform(0.0, 2.0, 3), rng.uniform(-0.3, 0.3, 3), rng.uniform(0.4, 2.5, 3)
    saturation = float(rng.uniform(0.0, 2.0))
    theirs = ocio.CDLTransform(slope=list(slope), offset=list(offset), power=list(power), sat=saturation)
    theirs.setStyle(ocio.CDL_ASC)
    signal = rng.uniform(-0.3, 1.5, (500, 3)).astype(np.float32)
    ours = apply_cdl(signal.astype(dtype), Cdl(tuple(slope), tuple(offset), tuple(power), saturation))
    np.testing.assert_allclose(ours, ocio_apply(theirs, signal), rtol=0, atol=8e-7)


def test_cdl_clamps_before_the_power_unlike_the_style_without_clamps(ocio, ocio_apply):
    signal = np.array([[-0.1, 0.5, 1.2]])
    theirs = ocio.CDLTransform(slope=[1.2, 1.0, 0.8], offset=[0.05, -0.02, 0.0], power=[1.1, 0.9, 1.0], sat=0.8)
    loose = ocio_apply(theirs, signal)
    np.testing.assert_allclose(loose, [[0.028774, 0.498019, 0.852774]], rtol=0, atol=2e-6)
    assert np.abs(apply_cdl(signal, DECISION) - loose).max() > 0.05


@pytest.mark.parametrize("dtype", [np.float64, np.float32])
def test_neutral_cdl_changes_nothing_inside_0_to_1_and_clamps_outside(dtype):
    """Worst measured: 1.1e-16 in float64, 6e-8 in float32 (the mix about luma)."""
    signal = np.random.default_rng(9).random((500, 3)).astype(dtype)
    np.testing.assert_allclose(apply_cdl(signal, Cdl()), signal, rtol=0, atol=2.0 * np.finfo(dtype).eps)
    assert apply_cdl(np.array([-0.5, -0.5, -0.5], dtype), Cdl()).tolist() == [0.0, 0.0, 0.0]
    assert apply_cdl(np.array([1.5, 1.5, 1.5], dtype), Cdl()).tolist() == pytest.approx([1.0, 1.0, 1.0])


def test_cdl_saturation_0_is_luma():
    signal = np.array([0.2, 0.5, 0.9])
    luma = 0.2126 * 0.2 + 0.7152 * 0.5 + 0.0722 * 0.9
    np.testing.assert_allclose(apply_cdl(signal, Cdl(saturation=0.0)), np.full(3, luma), rtol=1e-15)


def test_each_cdl_number_acts_on_its_own_channel():
    """One number at a time, away from neutral: the other two channels stay; computed by hand."""
    signal = np.array([0.25, 0.25, 0.25])
    for channel in range(3):

        def one(value, channel=channel, neutral=1.0):
            return tuple(value if i == channel else neutral for i in range(3))

        for decision, moved in (
            (Cdl(slope=one(2.0)), 0.5),
            (Cdl(offset=one(0.125, neutral=0.0)), 0.375),
            (Cdl(power=one(0.5)), 0.5),
        ):
            expected = np.full(3, 0.25)
            expected[channel] = moved
            np.testing.assert_allclose(apply_cdl(signal, decision), expected, rtol=1e-14)


@pytest.mark.parametrize("shape", [(3,), (5, 3), (2, 4, 3)])
@pytest.mark.parametrize("dtype", [np.float64, np.float32])
def test_cdl_keeps_shape_and_dtype(shape, dtype):
    graded = apply_cdl(np.full(shape, 0.5, dtype), DECISION)
    assert graded.shape == shape
    assert graded.dtype == dtype


def test_a_neutral_decision_clamps_and_changes_nothing_to_the_last_digit():
    """ASC CDL v1.2: slope 1, offset 0, power 1 and saturation 1 are no correction."""
    signal = np.random.default_rng(3).uniform(-0.1, 1.1, (1000, 3))
    assert np.array_equal(apply_cdl(signal, Cdl()), np.clip(signal, 0.0, 1.0))
