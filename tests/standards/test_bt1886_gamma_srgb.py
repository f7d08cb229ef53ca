"""SDR displays: Recommendation ITU-R BT.1886-0 (Annex 1), plain powers and sRGB (IEC 61966-2-1:1999)."""

import numpy as np
import pytest

from tonemap import transfer as tf
from tonemap.colorimetry import D65, PRIMARIES, adaptation_matrix, matrix_to_xyz

SIGNAL = np.linspace(0.0, 1.0, 20001)

# Black in cd/m2, gain a, lift b, light of the signals in BT1886_SIGNALS, at a white of 100 cd/m2: computed from
# BT.1886-0, Annex 1, in float64. The Recommendation prints the formula, no values.
BT1886_SIGNALS = (0.0, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0, 1.09)
BT1886 = [
    (0.0, 100.0, 0.0, (0.0, 0.398107, 3.589682, 18.946457, 50.135694, 77.657253, 100.0, 122.976915)),
    (
        0.005,
        96.170063961,
        0.016404798,
        (0.005, 0.551277, 4.021062, 19.688678, 50.785487, 77.991910, 100.0, 122.583954),
    ),
    (
        0.01,
        94.907110707,
        0.022018726,
        (0.01, 0.609147, 4.171919, 19.940927, 51.004155, 78.104154, 100.0, 122.452539),
    ),
    (
        0.1,
        87.031053277,
        0.059584834,
        (0.1, 1.063786, 5.218497, 21.604911, 52.420832, 78.826881, 100.0, 121.610956),
    ),
]


@pytest.mark.parametrize(("black", "gain", "lift", "nits"), BT1886)
def test_bt1886_matches_the_values_of_annex_1(black, gain, lift, nits):
    assert tf.bt1886_gain_and_lift(100.0, black) == pytest.approx((gain, lift), abs=5.1e-10, rel=0)
    light = tf.bt1886_eotf(np.array(BT1886_SIGNALS), 100.0, black)
    np.testing.assert_allclose(light, nits, rtol=0, atol=5.1e-7)


@pytest.mark.parametrize("black", [0.0, 0.005, 0.1])
@pytest.mark.parametrize("peak", [48.0, 100.0, 203.0])
def test_bt1886_signal_0_is_black_and_signal_1_is_white(peak, black):
    """What BT.1886-0 defines a and b for. Worst measured: 3e-16 relative."""
    light = tf.bt1886_eotf(np.array([0.0, 1.0]), peak, black)
    np.testing.assert_allclose(light, [black, peak], rtol=2e-15, atol=0)


# Worst measured: float64 0; float32 9.8e-7 relative in light (near black), 7.2e-8 in signal.
@pytest.mark.parametrize(
    ("dtype", "light_tolerance", "signal_tolerance"), [(np.float64, 1e-14, 1e-15), (np.float32, 1.5e-6, 1.5e-7)]
)
@pytest.mark.parametrize("black", [0.0, 0.005, 0.1])
@pytest.mark.parametrize("peak", [48.0, 100.0, 203.0])
def test_bt1886_matches_colour_science(colour, peak, black, dtype, light_tolerance, signal_tolerance):
    """colour-science takes 0 and 1 cd/m2 for the display unless both levels are passed."""
    signal = SIGNAL.astype(dtype)
    light = tf.bt1886_eotf(signal, peak, black)
    expected = colour.models.eotf_BT1886(signal.astype(np.float64), L_B=black, L_W=peak)
    np.testing.assert_allclose(light, expected, rtol=light_tolerance, atol=0)
    back = colour.models.eotf_inverse_BT1886(light.astype(np.float64), L_B=black, L_W=peak)
    np.testing.assert_allclose(tf.bt1886_eotf_inverse(light, peak, black), back, rtol=0, atol=signal_tolerance)


@pytest.mark.parametrize("exponent", [2.2, 2.4, 2.6])
# Worst measured: float64 0; float32 9.1e-7 relative in light (near black), 8e-8 in signal.
@pytest.mark.parametrize(
    ("dtype", "light_tolerance", "signal_tolerance"), [(np.float64, 1e-14, 1e-15), (np.float32, 1.5e-6, 2e-7)]
)
def test_gamma_matches_colour_science(colour, exponent, dtype, light_tolerance, signal_tolerance):
    signal = SIGNAL.astype(dtype)
    light = tf.gamma_eotf(signal, exponent, 48.0)
    expected = 48.0 * colour.models.gamma_function(signal.astype(np.float64), exponent)
    np.testing.assert_allclose(light, expected, rtol=light_tolerance, atol=0)
    back = colour.models.gamma_function(light.astype(np.float64) / 48.0, 1.0 / exponent)
    np.testing.assert_allclose(tf.gamma_eotf_inverse(light, exponent, 48.0), back, rtol=0, atol=signal_tolerance)


def test_bt1886_without_black_is_a_power_of_2_4():
    """BT.1886-0, Annex 1 with Lb = 0. Worst measured: 0."""
    np.testing.assert_allclose(tf.bt1886_eotf(SIGNAL, 100.0), tf.gamma_eotf(SIGNAL, 2.4, 100.0), rtol=1e-14)


@pytest.mark.parametrize(
    ("signal", "light"),
    [
        (0.0, 0.0),
        (0.04045, 0.0031308050),
        (0.2, 0.0331047666),
        (0.5, 0.2140411405),
        (128.0 / 255.0, 0.2158605001),
        (1.0, 1.0),
    ],
)
def test_srgb_eotf_matches_iec_61966_2_1_values(signal, light):
    """Computed from the formula and the rounded constants that IEC 61966-2-1:1999 prints."""
    assert float(tf.srgb_eotf(np.array(signal), 1.0)) == pytest.approx(light, abs=5.1e-11)
    # Not closer at the break: the rounded constants leave a gap of 3e-8 there.
    assert float(tf.srgb_eotf_inverse(np.array(light), 1.0)) == pytest.approx(signal, abs=4e-8)


def test_srgb_breaks_are_the_two_that_iec_61966_2_1_prints():
    """0.04045 and 0.0031308 are still on the straight line; the line and the power differ there by 2.3e-9 in light."""
    assert float(tf.srgb_eotf(np.array(0.04045), 1.0)) == 0.04045 / 12.92
    assert float(tf.srgb_eotf_inverse(np.array(0.0031308), 1.0)) == 12.92 * 0.0031308
    above = np.nextafter(0.04045, 1.0)
    assert float(tf.srgb_eotf(np.array(above), 1.0)) == pytest.approx(((above + 0.055) / 1.055) ** 2.4, rel=1e-15)


# Worst measured: float64 0; float32 3.8e-7 relative in light, 1.6e-7 in signal.
@pytest.mark.parametrize(
    ("dtype", "light_tolerance", "signal_tolerance"), [(np.float64, 1e-14, 1e-15), (np.float32, 6e-7, 3e-7)]
)
def test_srgb_matches_colour_science(colour, dtype, light_tolerance, signal_tolerance):
    """colour-science breaks at 12.92 * 0.0031308 = 0.0404499 instead of 0.04045: the codes between are left out."""
    signal = SIGNAL.astype(dtype)
    signal = signal[(signal < 0.040449) | (signal > 0.040451)]
    expected = 80.0 * colour.models.eotf_sRGB(signal.astype(np.float64))
    light = tf.srgb_eotf(signal, 80.0)
    np.testing.assert_allclose(light, expected, rtol=light_tolerance, atol=0)
    back = colour.models.eotf_inverse_sRGB(light.astype(np.float64) / 80.0)
    np.testing.assert_allclose(tf.srgb_eotf_inverse(light, 80.0), back, rtol=0, atol=signal_tolerance)


# Name of OpenColorIO's built-in, primaries, inverse EOTF of a display whose white is 1. Worst measured, in this order:
# 5.5e-7, 5.3e-7, 2.9e-7, 8.2e-7, 6.0e-7, all of it the float32 XYZ.
DISPLAYS = [
    ("REC.1886-REC.709", "bt709", lambda light: tf.bt1886_eotf_inverse(light, 1.0)),
    ("G2.2-REC.709", "bt709", lambda light: tf.gamma_eotf_inverse(light, 2.2, 1.0)),
    ("G2.6-P3-D65", "p3-d65", lambda light: tf.gamma_eotf_inverse(light, 2.6, 1.0)),
    ("G2.6-P3-DCI-BFD", "p3-dci", lambda light: tf.gamma_eotf_inverse(light, 2.6, 1.0)),
    ("sRGB", "bt709", lambda light: tf.srgb_eotf_inverse(light, 1.0)),
]


@pytest.mark.parametrize(("name", "primaries", "inverse"), DISPLAYS, ids=[display[0] for display in DISPLAYS])
def test_sdr_displays_match_opencolorio(ocio, ocio_apply, name, primaries, inverse):
    """XYZ at D65 to the display's signal, for light from 1 % up: below, float32 XYZ can't tell the channels apart.

    The break of sRGB, which OpenColorIO joins by other constants than IEC 61966-2-1 prints, lies below as well.
    """
    light = np.random.default_rng(1886).uniform(0.01, 1.0, (2000, 3))
    to_xyz = adaptation_matrix(PRIMARIES[primaries].white, D65) @ matrix_to_xyz(PRIMARIES[primaries])
    theirs = ocio_apply(ocio.BuiltinTransform(f"DISPLAY - CIE-XYZ-D65_to_{name}"), light @ to_xyz.T)
    np.testing.assert_allclose(inverse(light), theirs, rtol=0, atol=1.5e-6)


@pytest.mark.parametrize("dtype", [np.float64, np.float32])
def test_negative_signal_and_light_are_read_as_0(dtype):
    below = np.array([-1.0, -1e-9, 0.0], dtype)
    assert tf.gamma_eotf(below, 2.2, 100.0).tolist() == [0.0, 0.0, 0.0]
    assert tf.gamma_eotf_inverse(below, 2.2, 100.0).tolist() == [0.0, 0.0, 0.0]
    assert tf.srgb_eotf(below, 100.0).tolist() == [0.0, 0.0, 0.0]
    assert tf.srgb_eotf_inverse(below, 100.0).tolist() == [0.0, 0.0, 0.0]
    assert tf.bt1886_eotf(below, 100.0).tolist() == [0.0, 0.0, 0.0]
    assert tf.bt1886_eotf_inverse(below, 100.0).tolist() == [0.0, 0.0, 0.0]


def test_bt1886_black_lift_reaches_below_signal_0():
    """L = a max(V + b, 0)^2.4: signals between -b and 0 are still light, below -b there is none."""
    gain, lift = tf.bt1886_gain_and_lift(100.0, 0.1)
    light = tf.bt1886_eotf(np.array([-0.5 * lift, -lift, -2.0 * lift]), 100.0, 0.1)
    np.testing.assert_allclose(light, [gain * (0.5 * lift) ** 2.4, 0.0, 0.0], rtol=1e-14, atol=1e-30)
    signal = tf.bt1886_eotf_inverse(np.array([0.0, 0.05, 0.1]), 100.0, 0.1)
    np.testing.assert_allclose(signal, [-lift, (0.05 / gain) ** (1 / 2.4) - lift, 0.0], rtol=1e-14, atol=1e-16)


def test_super_white_goes_on_along_the_curve():
    """10-bit narrow code 1019 is signal 955 / 876: 123.03 cd/m2 on a display of 100/0 (computed)."""
    assert float(tf.bt1886_eotf(np.array(955.0 / 876.0), 100.0)) == pytest.approx(123.03, abs=5e-3)
    assert float(tf.srgb_eotf(np.array(1.1), 100.0)) > 100.0
    assert float(tf.gamma_eotf(np.array(1.1), 2.2, 100.0)) == pytest.approx(100.0 * 1.1**2.2, rel=1e-15)


@pytest.mark.parametrize(
    ("eotf", "inverse"),
    [
        (lambda x: tf.bt1886_eotf(x, 100.0, 0.05), lambda x: tf.bt1886_eotf_inverse(x, 100.0, 0.05)),
        (lambda x: tf.gamma_eotf(x, 2.6, 48.0), lambda x: tf.gamma_eotf_inverse(x, 2.6, 48.0)),
        (lambda x: tf.srgb_eotf(x, 80.0), lambda x: tf.srgb_eotf_inverse(x, 80.0)),
    ],
    ids=["bt1886", "gamma2.6", "srgb"],
)
def test_sdr_curves_round_trip(eotf, inverse):
    """Worst measured: 2.2e-16 for the powers; 3e-8 for sRGB between its two printed breaks, 2.2e-16 elsewhere."""
    signal = SIGNAL[(SIGNAL < 0.0404) | (SIGNAL > 0.0405)]
    np.testing.assert_allclose(inverse(eotf(signal)), signal, rtol=0, atol=1e-15)
    np.testing.assert_allclose(inverse(eotf(SIGNAL)), SIGNAL, rtol=0, atol=1e-7)
