"""PQ against SMPTE ST 2084:2014, Recommendation ITU-R BT.2100-3 (Table 4), colour-science and OpenColorIO."""

from decimal import Decimal, localcontext

import numpy as np
import pytest

from tonemap import transfer as tf
from tonemap.signal_range import expand, quantise

# Light in cd/m2, PQ signal, 10-bit narrow code, 10-bit full code: computed from the published formula in float64
# (ST 2084:2014, clause 5.3; code values by BT.2100-3, Table 9). The standards print no such table.
LEVELS = [
    (0.0, 0.000000731, 64, 0),
    (0.005, 0.015076399, 77, 15),
    (0.1, 0.062336866, 119, 64),
    (1.0, 0.149945732, 195, 153),
    (10.0, 0.299699092, 327, 307),
    (26.0, 0.380032274, 397, 389),
    (100.0, 0.508078422, 509, 520),
    (203.0, 0.580688881, 573, 594),
    (400.0, 0.652578598, 636, 668),
    (600.0, 0.696294086, 674, 712),
    (1000.0, 0.751827096, 723, 769),
    (1600.0, 0.803099453, 768, 822),
    (4000.0, 0.902572393, 855, 923),
    (10000.0, 1.000000000, 940, 1023),
]

# PQ signal, light in cd/m2 and half a unit of its last digit: computed from ST 2084:2014, clause 5.2, in float64.
SIGNALS = [
    (0.1, 0.3245656, 5e-8),
    (0.25, 5.154176, 5e-7),
    (0.5, 92.245709, 5e-7),
    (0.58, 201.666262, 5e-7),
    (0.75, 983.377856, 5e-7),
    (0.9, 3905.644653, 5e-7),
]


def test_pq_constants_are_the_decimals_that_bt2100_prints():
    """BT.2100-3, Table 4 prints each constant as a ratio and as a finite decimal: the two are equal exactly."""
    assert tf.PQ_M1 == 0.1593017578125
    assert tf.PQ_M2 == 78.84375
    assert tf.PQ_C1 == 0.8359375 == tf.PQ_C3 - tf.PQ_C2 + 1.0
    assert tf.PQ_C2 == 18.8515625
    assert tf.PQ_C3 == 18.6875


@pytest.mark.parametrize(("nits", "signal", "narrow", "full"), LEVELS)
def test_pq_eotf_inverse_matches_st2084_values(nits, signal, narrow, full):
    encoded = tf.pq_eotf_inverse(np.array(nits))
    assert float(encoded) == pytest.approx(signal, abs=5.1e-10)  # half a unit of the ninth digit
    assert int(quantise(encoded, 10, "narrow")) == narrow
    assert int(quantise(encoded, 10, "full")) == full


@pytest.mark.parametrize(("signal", "nits", "half_digit"), SIGNALS)
def test_pq_eotf_matches_st2084_values(signal, nits, half_digit):
    assert float(tf.pq_eotf(np.array(signal))) == pytest.approx(nits, abs=1.01 * half_digit, rel=0)


def test_58_percent_pq_is_not_203_nits():
    """BT.2408 rounds reference white to 58 %; BT.2111 uses 58.000 %, code 572, while 203 cd/m2 is code 573."""
    assert int(quantise(np.array(0.58), 10, "narrow")) == 572
    assert int(quantise(tf.pq_eotf_inverse(np.array(203.0)), 10, "narrow")) == 573
    assert float(tf.pq_eotf(np.array(0.58))) == pytest.approx(201.666262, abs=5e-7)


def test_pq_plunge_code_399_is_26_7_nits():
    """BT.814-4: the higher level of the HDR line-up signal is code 399; the light is computed."""
    assert float(tf.pq_eotf(expand(np.array(399, np.uint16), 10, "narrow"))) == pytest.approx(26.706, abs=5e-4)


@pytest.mark.parametrize("signal", [0.01, 0.15, 0.380032274, 0.508078422, 0.75, 0.99, 1.0])
def test_pq_eotf_matches_forty_digit_arithmetic(signal):
    """The published formula in decimal arithmetic; float64 loses 2e-13 to cancellation near black (measured)."""
    with localcontext() as context:
        context.prec = 40
        m1, m2 = Decimal(2610) / 16384, Decimal(2523) / 32
        c1, c2, c3 = Decimal(3424) / 4096, Decimal(2413) / 128, Decimal(2392) / 128
        root = Decimal(signal) ** (1 / m2)
        exact = float(10000 * (max(root - c1, Decimal(0)) / (c2 - c3 * root)) ** (1 / m1))
    assert float(tf.pq_eotf(np.array(signal))) == pytest.approx(exact, rel=1e-12)


# Worst measured: float64 0; float32 5.9e-5 relative (the power 1 / 0.159 magnifies the rounding of the root).
@pytest.mark.parametrize(("dtype", "tolerance"), [(np.float64, 1e-14), (np.float32, 8e-5)])
def test_pq_eotf_matches_colour_science(colour, dtype, tolerance):
    signal = np.linspace(0.0, 1.0, 20001).astype(dtype)[1:]
    expected = colour.models.eotf_ST2084(signal.astype(np.float64))
    np.testing.assert_allclose(tf.pq_eotf(signal), expected, rtol=tolerance, atol=1e-9)


# Worst measured: float64 0; float32 1.4e-5 (the power 78.8 magnifies the rounding of the base).
@pytest.mark.parametrize(("dtype", "tolerance"), [(np.float64, 1e-15), (np.float32, 2e-5)])
def test_pq_eotf_inverse_matches_colour_science(colour, dtype, tolerance):
    nits = np.concatenate([[0.0], np.geomspace(1e-6, 10000.0, 20001)]).astype(dtype)
    expected = colour.models.eotf_inverse_ST2084(nits.astype(np.float64))
    np.testing.assert_allclose(tf.pq_eotf_inverse(nits), expected, rtol=0, atol=tolerance)


def test_pq_eotf_matches_opencolorio_at_every_half_float(ocio, ocio_apply, half_floats):
    """OpenColorIO's 1.0 is 100 cd/m2. Worst measured: 5.8e-8 relative, the rounding of its float32 table."""
    signal = half_floats(1.0)
    theirs = 100.0 * ocio_apply(ocio.BuiltinTransform("CURVE - ST-2084_to_LINEAR"), signal)
    np.testing.assert_allclose(tf.pq_eotf(signal), theirs, rtol=6.5e-8, atol=1e-12)


def test_pq_eotf_inverse_matches_opencolorio_at_every_half_float(ocio, ocio_apply, half_floats):
    """Worst measured: 3.0e-8, half a step of float32 below 1."""
    light = half_floats(100.0)
    theirs = ocio_apply(ocio.BuiltinTransform("CURVE - LINEAR_to_ST-2084"), light)
    np.testing.assert_allclose(tf.pq_eotf_inverse(100.0 * light), theirs, rtol=0, atol=3.5e-8)


@pytest.mark.parametrize("dtype", [np.float64, np.float32])
def test_pq_ends_and_what_lies_beyond_them(dtype):
    eotf = tf.pq_eotf(np.array([-1.0, -1e-30, 0.0, 1e-7, 1.0, 1.09, 65504.0], dtype))
    assert eotf.tolist() == [0.0, 0.0, 0.0, 0.0, 10000.0, 10000.0, 10000.0]  # 1e-7 lies below the signal of black
    inverse = tf.pq_eotf_inverse(np.array([-1.0, 0.0, 10000.0, 24077.0], dtype))
    assert inverse[0] == inverse[1] == pytest.approx(7.3095590e-7, rel=2e-5)  # c1 ^ m2, not 0
    assert inverse[2] == 1.0
    assert inverse[3] == pytest.approx(1.09018, abs=2e-5)  # 10-bit narrow code 1019, computed


def test_pq_round_trips():
    """Worst measured: 2.6e-14 in signal (above the 7.3e-7 of black), 2.4e-13 relative in light."""
    signal = np.linspace(0.0, 1.0, 20001)[1:]
    np.testing.assert_allclose(tf.pq_eotf_inverse(tf.pq_eotf(signal)), signal, rtol=0, atol=1e-13)
    nits = np.geomspace(1e-4, 10000.0, 20001)
    np.testing.assert_allclose(tf.pq_eotf(tf.pq_eotf_inverse(nits)), nits, rtol=1e-12)


def test_pq_is_strictly_increasing_over_all_12_bit_codes():
    codes = np.arange(256, 3761, dtype=np.uint16)
    assert np.all(np.diff(tf.pq_eotf(expand(codes, 12, "narrow"))) > 0.0)
