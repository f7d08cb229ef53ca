"""HLG against Recommendation ITU-R BT.2100-3 (Table 5), EBU R 167, BT.2408, colour-science and OpenColorIO."""

import numpy as np
import pytest

from tonemap import transfer as tf
from tonemap.signal_range import quantise

# Signal, scene light, display light at 1000 cd/m2 and black 0, 10-bit narrow code: computed from the published
# formulas of BT.2100-3, Table 5, in float64.
GREYS = [
    (0.25, 0.020833333, 9.60529, 283),
    (0.38, 0.048133333, 26.23827, 397),
    (0.50, 0.083333333, 50.69703, 502),
    (0.55, 0.102563133, 65.04135, 546),
    (0.65, 0.161633787, 112.26350, 633),
    (0.75, 0.264962560, 203.15215, 721),
    (0.90, 0.581837591, 522.11014, 852),
    (1.00, 1.000000027, 1000.00003, 940),
    (1.09, 1.638593573, 1808.69566, 1019),
]


def grey(value, dtype=np.float64):
    """Return one neutral pixel."""
    return np.full(3, value, dtype)


def test_hlg_constants_are_those_of_bt2100():
    """BT.2100-3, Table 5: a is printed to eight digits, b = 1 - 4a, c = 0.5 - a ln(4a), printed as 0.55991073."""
    assert tf.HLG_A == 0.17883277
    np.testing.assert_allclose([tf.HLG_B, tf.HLG_C], [0.28466892, 0.55991073], rtol=0, atol=5e-9)
    assert tf.HLG_WEIGHTS == (0.2627, 0.6780, 0.0593)


@pytest.mark.parametrize(("signal", "scene", "nits", "code"), GREYS)
def test_hlg_greys_match_bt2100_values(signal, scene, nits, code):
    assert float(tf.hlg_oetf_inverse(np.array(signal))) == pytest.approx(scene, abs=5.1e-10)
    assert tf.hlg_eotf(grey(signal), 1000.0) == pytest.approx(grey(nits), abs=5.1e-6, rel=0)
    assert int(quantise(np.array(signal), 10, "narrow")) == code


@pytest.mark.parametrize(
    ("scene", "signal"),
    [(0.001, 0.054772256), (0.01, 0.173205081), (1.0 / 12.0, 0.5), (0.18, 0.672358132), (1.0, 0.999999995)],
)
def test_hlg_oetf_matches_bt2100_values(scene, signal):
    """Computed from BT.2100-3, Table 5; the printed constants don't close exactly at 1."""
    assert float(tf.hlg_oetf(np.array(scene))) == pytest.approx(signal, abs=5.1e-10)


# EBU R 167 v1.1, Table 1.1: nominal peak, system gamma, level of the 75 % signal; all three as printed.
@pytest.mark.parametrize(
    ("peak", "gamma", "digits", "level"),
    [
        (500.0, 1.07, 2, 120),
        (600.0, 1.11, 2, 138),
        (1000.0, 1.2, 1, 203),
        (2000.0, 1.33, 2, 343),
        (3000.0, 1.42, 2, 456),
        (4000.0, 1.48, 2, 559),
        (5000.0, 1.53, 2, 653),
        (10000.0, 1.7, 1, 1043),
    ],
)
def test_hlg_system_gamma_and_75_percent_level_match_ebu_r167(peak, gamma, digits, level):
    assert tf.hlg_system_gamma(peak) == pytest.approx(gamma, abs=0.5 * 10.0**-digits)
    # Rounded with the tie away from zero: R 167 prints 1043 where the formula gives 1042.50.
    assert np.floor(tf.hlg_eotf(grey(0.75), peak)[0] + 0.5) == level


# BT.2408-9, Table 1: reflectance, cd/m2 on a 1000 cd/m2 display, % PQ, % HLG, all as printed.
@pytest.mark.parametrize(
    ("reflectance", "nits", "pq_percent", "hlg_percent"),
    [(0.18, 26, 38, 38), (0.83, 162, 56, 71), (0.90, 179, 57, 73), (1.0, 203, 58, 75)],
)
def test_levels_of_bt2408_follow_from_the_hlg_curve(reflectance, nits, pq_percent, hlg_percent):
    """100 % reflectance at HLG 75 %: so 18 % grey is 26 cd/m2 through the OOTF, not 0.18 of 203."""
    scene = reflectance * tf.hlg_oetf_inverse(grey(0.75))
    light = tf.hlg_ootf(scene, 1000.0)
    assert np.rint(light[0]) == nits
    assert np.rint(100.0 * tf.pq_eotf_inverse(light)[0]) == pq_percent
    assert np.rint(100.0 * tf.hlg_oetf(scene)[0]) == hlg_percent


# BT.2408 section 6.2 bridges PQ and HLG at 1000 cd/m2; signals computed, the middle pixel is a saturated one.
@pytest.mark.parametrize(
    ("light", "signal", "codes"),
    [
        ((100.0, 100.0, 100.0), (0.629620, 0.629620, 0.629620), (616, 616, 616)),
        ((600.0, 200.0, 50.0), (0.943340, 0.734524, 0.428629), (890, 707, 439)),
        ((203.0, 203.0, 203.0), (0.749877, 0.749877, 0.749877), (721, 721, 721)),
    ],
)
def test_hlg_eotf_inverse_matches_the_bridge_of_bt2408(light, signal, codes):
    encoded = tf.hlg_eotf_inverse(np.array(light), 1000.0)
    assert encoded == pytest.approx(np.array(signal), abs=5.1e-7, rel=0)
    assert tuple(quantise(encoded, 10, "narrow").tolist()) == codes


# 75 % bars on a 1000 cd/m2 display, light of the lit channels: computed. A per-channel power would give 203.152 to all.
@pytest.mark.parametrize(
    ("lit", "nits"),
    [
        ((1, 0, 0), 155.494),
        ((0, 1, 0), 187.961),
        ((0, 0, 1), 115.460),
        ((1, 1, 0), 200.683),
        ((0, 1, 1), 191.139),
        ((1, 0, 1), 161.954),
        ((1, 1, 1), 203.152),
    ],
)
def test_hlg_ootf_works_on_luminance_and_not_on_channels(lit, nits):
    lit = np.array(lit, np.float64)
    assert tf.hlg_eotf(0.75 * lit, 1000.0) == pytest.approx(nits * lit, abs=5.1e-4, rel=0)


def test_hlg_black_lift_is_that_of_bt2100_2_and_later():
    """Computed from BT.2100-3, Table 5, at 1000 cd/m2: black shows at its own level, the peak stays where it is."""
    assert tf.hlg_black_lift(1000.0, 0.005) == pytest.approx(0.010710214, abs=5.1e-10)
    assert tf.hlg_black_lift(1000.0, 0.05) == pytest.approx(0.027955341, abs=5.1e-10)
    assert tf.hlg_black_lift(1000.0, 0.0) == 0.0
    for signal, nits in [(0.0, 0.005), (0.5, 52.022738), (0.75, 206.504948), (1.0, 1000.000032)]:
        assert tf.hlg_eotf(grey(signal), 1000.0, 0.005) == pytest.approx(grey(nits), abs=5.1e-7, rel=0)


def test_hlg_black_lift_is_not_the_additive_one_of_bt2100_1(colour):
    """BT.2100-0 and -1 put the black level into the OOTF; at 50 % that would be 1.3 cd/m2 darker (measured)."""
    ours = tf.hlg_eotf(grey(0.5), 1000.0, 0.005)
    older = colour.models.eotf_BT2100_HLG(grey(0.5), L_B=0.005, L_W=1000, method="ITU-R BT.2100-1")
    newer = colour.models.eotf_BT2100_HLG(grey(0.5), L_B=0.005, L_W=1000, method="ITU-R BT.2100-2")
    np.testing.assert_allclose(ours, newer, rtol=1e-14)
    assert np.all(ours - older > 1.0)


# Worst measured: float64 0; float32 8.5e-8 in signal, 3.5e-7 relative in scene light.
@pytest.mark.parametrize(("dtype", "tolerance"), [(np.float64, 1e-15), (np.float32, 1.2e-7)])
def test_hlg_oetf_matches_colour_science(colour, dtype, tolerance):
    scene = np.linspace(0.0, 1.0, 20001).astype(dtype)
    with np.errstate(invalid="ignore"):  # colour-science takes the logarithm on both sides of the break
        expected = colour.models.oetf_BT2100_HLG(scene.astype(np.float64))
    np.testing.assert_allclose(tf.hlg_oetf(scene), expected, rtol=0, atol=tolerance)


@pytest.mark.parametrize(("dtype", "tolerance"), [(np.float64, 1e-15), (np.float32, 5e-7)])
def test_hlg_oetf_inverse_matches_colour_science(colour, dtype, tolerance):
    signal = np.linspace(0.0, 1.09, 20001).astype(dtype)
    expected = colour.models.oetf_inverse_BT2100_HLG(signal.astype(np.float64))
    np.testing.assert_allclose(tf.hlg_oetf_inverse(signal), expected, rtol=tolerance, atol=0)


# Worst measured over all: float64 3.6e-16 relative in light and 2.3e-16 in signal; float32 6.4e-7 and 1.2e-7.
@pytest.mark.parametrize(
    ("dtype", "light_tolerance", "signal_tolerance"), [(np.float64, 2e-15, 1e-15), (np.float32, 1.2e-6, 2.5e-7)]
)
@pytest.mark.parametrize("black", [0.0, 0.005, 0.05])
@pytest.mark.parametrize("peak", [400.0, 1000.0, 2000.0, 4000.0])
def test_hlg_eotf_and_inverse_match_colour_science(colour, peak, black, dtype, light_tolerance, signal_tolerance):
    signal = np.random.default_rng(2100).random((2000, 3)).astype(dtype)
    # colour-science knows the 0.42 form of the system gamma only, so the extended form is handed to it.
    display = {"L_B": black, "L_W": peak, "gamma": tf.hlg_system_gamma(peak), "method": "ITU-R BT.2100-2"}
    expected = colour.models.eotf_BT2100_HLG(signal.astype(np.float64), **display)
    light = tf.hlg_eotf(signal, peak, black)
    np.testing.assert_allclose(light, expected, rtol=light_tolerance, atol=0)
    with np.errstate(invalid="ignore"):
        back = colour.models.eotf_inverse_BT2100_HLG(light.astype(np.float64), **display)
    np.testing.assert_allclose(tf.hlg_eotf_inverse(light, peak, black), back, rtol=0, atol=signal_tolerance)


@pytest.mark.parametrize("peak", [400.0, 700.0, 1000.0, 1555.0, 2000.0])
@pytest.mark.usefixtures("colour")
def test_hlg_system_gamma_matches_colour_science_where_bt2100_defines_it(peak):
    from colour.models.rgb.transfer_functions.itur_bt_2100 import gamma_function_BT2100_HLG

    assert tf.hlg_system_gamma(peak) == pytest.approx(gamma_function_BT2100_HLG(peak), abs=1e-15)


@pytest.mark.parametrize(
    ("peak", "gamma"), [(100.0, 0.845907), (350.0, 1.023161), (399.0, 1.043724), (2001.0, 1.333301), (4000.0, 1.481185)]
)
def test_hlg_system_gamma_takes_the_extended_form_outside_400_to_2000(peak, gamma):
    """Report BT.2390: 1.2 x 1.111^log2(Lw / 1000), worked out by hand; BT.2100-3, note 5f, ends at 400 and 2000."""
    assert tf.hlg_system_gamma(peak) == pytest.approx(gamma, abs=5.1e-7)


def test_hlg_oetf_inverse_matches_opencolorio_at_every_half_float(ocio, ocio_apply, half_floats):
    """OpenColorIO scales scene light by 3. Worst measured: 5.9e-8 relative, the rounding of its float32 table."""
    signal = half_floats(1.0)
    theirs = ocio_apply(ocio.BuiltinTransform("CURVE - HLG-OETF-INVERSE"), signal) / 3.0
    np.testing.assert_allclose(tf.hlg_oetf_inverse(signal), theirs, rtol=6.5e-8, atol=1e-12)


def test_hlg_oetf_matches_opencolorio_at_every_half_float(ocio, ocio_apply, half_floats):
    """Worst measured: 3.0e-8, half a step of float32 below 1."""
    scene = half_floats(3.0)
    theirs = ocio_apply(ocio.BuiltinTransform("CURVE - HLG-OETF"), scene)
    np.testing.assert_allclose(tf.hlg_oetf(scene / 3.0), theirs, rtol=0, atol=3.5e-8)


def test_hlg_eotf_inverse_matches_opencolorio_on_random_light(ocio, ocio_apply):
    """The whole path at 1000 cd/m2, OOTF included. Worst measured: 5e-7 (float32, tables interpolated)."""
    from tonemap.colorimetry import PRIMARIES, matrix_to_xyz

    light = np.random.default_rng(5).uniform(5.0, 1000.0, (2000, 3))
    xyz = light / 100.0 @ matrix_to_xyz(PRIMARIES["bt2020"]).T
    theirs = ocio_apply(ocio.BuiltinTransform("DISPLAY - CIE-XYZ-D65_to_REC.2100-HLG-1000nit"), xyz)
    np.testing.assert_allclose(tf.hlg_eotf_inverse(light, 1000.0), theirs, rtol=0, atol=1e-6)


@pytest.mark.parametrize("dtype", [np.float64, np.float32])
def test_hlg_negative_values_are_read_as_black(dtype):
    assert tf.hlg_oetf(np.array([-1.0, -1e-9, 0.0], dtype)).tolist() == [0.0, 0.0, 0.0]
    assert tf.hlg_oetf_inverse(np.array([-1.0, -1e-9, 0.0], dtype)).tolist() == [0.0, 0.0, 0.0]
    assert tf.hlg_eotf(np.zeros(3, dtype), 1000.0).tolist() == [0.0, 0.0, 0.0]
    assert tf.hlg_eotf_inverse(np.zeros(3, dtype), 1000.0).tolist() == [0.0, 0.0, 0.0]


def test_hlg_light_below_the_display_black_gives_a_signal_below_zero():
    assert np.all(tf.hlg_eotf_inverse(grey(0.004), 1000.0, 0.005) < 0.0)
    assert tf.hlg_eotf_inverse(grey(0.005), 1000.0, 0.005) == pytest.approx(grey(0.0), abs=1e-15)


def test_hlg_round_trips_down_to_black_at_every_peak():
    """Greys from 1e-6 of the signal up. Worst measured: 1.1e-16."""
    signal = np.repeat(np.geomspace(1e-6, 1.0, 2001)[:, np.newaxis], 3, axis=1)
    for peak in (100.0, 400.0, 1000.0, 2000.0, 4000.0, 10000.0):
        back = tf.hlg_eotf_inverse(tf.hlg_eotf(signal, peak), peak)
        np.testing.assert_allclose(back, signal, rtol=0, atol=2e-15, err_msg=f"peak {peak:g}")


def test_hlg_pieces_join_at_one_twelfth():
    """BT.2100-3, Table 5: c is defined so that they do. Worst measured: 5.6e-17."""
    below, above = np.nextafter(1.0 / 12.0, 0.0), np.nextafter(1.0 / 12.0, 1.0)
    assert float(tf.hlg_oetf(np.array(above))) == pytest.approx(float(tf.hlg_oetf(np.array(below))), abs=1e-15)
    assert float(tf.hlg_oetf_inverse(np.array(0.5))) == pytest.approx(1.0 / 12.0, abs=1e-16)
