"""ICtCp (Recommendation ITU-R BT.2100-3, Table 7) and Delta E ITP (BT.2124-0, Annex 1) against colour-science."""

import numpy as np
import pytest

from tonemap.colorimetry import (
    ICTCP_FROM_LMS,
    LMS_FROM_BT2020,
    ictcp_from_light,
    light_from_ictcp,
    lms_from_light,
)
from tonemap.difference import delta_e_itp

METHOD = "ITU-R BT.2100-2 PQ"  # passed by name: colour-science's default is an older method

# BT.2020 light in cd/m2 and its I, Ct, Cp: computed from BT.2100-3, Tables 4 and 7, in float64.
COLOURS = [
    ((203.0, 203.0, 203.0), (0.580688881, 0.0, 0.0)),
    ((1000.0, 0.0, 0.0), (0.608002448, -0.164948316, 0.443092500)),
    ((0.0, 1000.0, 0.0), (0.698885475, -0.459303519, -0.119796748)),
    ((0.0, 0.0, 1000.0), (0.492078393, 0.285660595, -0.275511028)),
    ((100.0, 0.0, 0.0), (0.381769682, -0.112360627, 0.371638093)),
    ((120.0, 70.0, 50.0), (0.488849367, -0.033701430, 0.074164797)),
]

# Two BT.2020 colours in cd/m2 and their Delta E ITP: computed from BT.2124-0, Annex 1, in float64.
PAIRS = [
    ((203.0, 203.0, 203.0), (204.0, 204.0, 204.0), 0.369851),
    ((100.0, 100.0, 100.0), (101.0, 101.0, 101.0), 0.719269),
    ((10.0, 10.0, 10.0), (11.0, 11.0, 11.0), 5.447824),
    ((1000.0, 1000.0, 1000.0), (1010.0, 1010.0, 1010.0), 0.780996),
    ((100.0, 100.0, 100.0), (203.0, 203.0, 203.0), 52.279531),
    ((100.0, 100.0, 100.0), (0.0, 0.0, 0.0), 365.815937),
    ((100.0, 0.0, 0.0), (110.0, 0.0, 0.0), 6.817038),
    ((120.0, 70.0, 50.0), (125.0, 70.0, 50.0), 4.050797),
]


@pytest.fixture(scope="module")
def light():
    """Ordinary and saturated light over eight decades, black included."""
    rng = np.random.default_rng(2124)
    return np.concatenate(
        [rng.random((1500, 3)) * 10000.0, 10.0 ** rng.uniform(-4.0, 4.0, (1500, 3)), np.zeros((1, 3))]
    )


def test_ictcp_matrices_are_the_integers_that_bt2100_prints():
    """BT.2100-3, Table 7: n / 4096; greys have no chroma, so LMS rows sum to 1, and those of Ct and Cp to 0."""
    assert (LMS_FROM_BT2020 * 4096.0).tolist() == [[1688, 2146, 262], [683, 2951, 462], [99, 309, 3688]]
    assert (ICTCP_FROM_LMS * 4096.0).tolist() == [[2048, 2048, 0], [6610, -13613, 7003], [17933, -17390, -543]]
    assert LMS_FROM_BT2020.sum(axis=1).tolist() == [1.0, 1.0, 1.0]
    assert ICTCP_FROM_LMS.sum(axis=1).tolist() == [1.0, 0.0, 0.0]


@pytest.mark.parametrize(("light", "ictcp"), COLOURS)
def test_ictcp_matches_bt2100_values(light, ictcp):
    np.testing.assert_allclose(ictcp_from_light(np.array(light)), ictcp, rtol=0, atol=5.1e-10)


def test_ictcp_inverse_matrices_match_their_computed_values():
    """Read through the function: unit chroma moves L'M'S' by the columns of the inverse (computed, nine digits)."""
    lms_inverse = [
        [3.436606694, -2.506452119, 0.069845424],
        [-0.791329556, 1.983600452, -0.192270896],
        [-0.025949900, -0.098913715, 1.124863614],
    ]
    np.testing.assert_allclose(np.array(lms_inverse) @ LMS_FROM_BT2020, np.eye(3), rtol=0, atol=3e-9)
    # L'M'S' all 1 is 10000 cd/m2; what the inverse then makes of it is 10000 in every channel.
    np.testing.assert_allclose(light_from_ictcp(np.array([1.0, 0.0, 0.0])), np.full(3, 10000.0), rtol=1e-13)


# Worst measured: float64 1.4e-13; float32 7.8e-5 (PQ in float32, times the 4.4 of the last row).
@pytest.mark.parametrize(("dtype", "tolerance"), [(np.float64, 5e-13), (np.float32, 1e-4)])
def test_ictcp_matches_colour_science(colour, light, dtype, tolerance):
    light = light.astype(dtype)
    expected = colour.RGB_to_ICtCp(light.astype(np.float64), method=METHOD)
    np.testing.assert_allclose(ictcp_from_light(light), expected, rtol=0, atol=tolerance)


def test_ictcp_inverse_matches_colour_science(colour, light):
    """Worst measured: 3.7e-12 cd/m2 at up to 10 000 cd/m2."""
    ictcp = colour.RGB_to_ICtCp(light, method=METHOD)
    expected = colour.ICtCp_to_RGB(ictcp, method=METHOD)
    np.testing.assert_allclose(light_from_ictcp(ictcp), expected, rtol=0, atol=2e-11)


def test_ictcp_round_trips(light):
    """Relative to each pixel's brightest channel; worst measured 7.7e-13."""
    back = light_from_ictcp(ictcp_from_light(light))
    brightest = light.max(axis=1, keepdims=True)
    assert np.all(np.abs(back - light) <= 4e-12 * brightest)


def test_ictcp_of_grey_is_its_pq_signal_without_chroma():
    greys = np.repeat(np.geomspace(0.001, 10000.0, 101)[:, np.newaxis], 3, axis=1)
    ictcp = ictcp_from_light(greys)
    np.testing.assert_allclose(ictcp[:, 1:], 0.0, rtol=0, atol=1e-12)
    assert np.all(np.diff(ictcp[:, 0]) > 0.0)


def test_lms_is_light_and_keeps_greys():
    np.testing.assert_allclose(lms_from_light(np.full((4, 3), 203.0)), np.full((4, 3), 203.0), rtol=1e-15)
    np.testing.assert_allclose(lms_from_light(np.array([4096.0, 0.0, 0.0])), [1688.0, 683.0, 99.0], rtol=1e-15)


@pytest.mark.parametrize(("one", "other", "difference"), PAIRS)
def test_delta_e_itp_matches_bt2124_values(one, other, difference):
    one, other = np.array(one), np.array(other)
    assert float(delta_e_itp(one, other)) == pytest.approx(difference, abs=5.1e-7)
    assert float(delta_e_itp(other, one)) == float(delta_e_itp(one, other))


# Worst measured: float64 7.9e-11; float32 0.051, a twentieth of a just noticeable step.
@pytest.mark.parametrize(("dtype", "tolerance"), [(np.float64, 5e-10), (np.float32, 0.08)])
def test_delta_e_itp_matches_colour_science(colour, light, dtype, tolerance):
    one, other = light.astype(dtype), light[::-1].astype(dtype)
    first = colour.RGB_to_ICtCp(one.astype(np.float64), method=METHOD)
    second = colour.RGB_to_ICtCp(other.astype(np.float64), method=METHOD)
    expected = colour.difference.delta_E_ITP(first, second)
    np.testing.assert_allclose(delta_e_itp(one, other), expected, rtol=0, atol=tolerance)


def test_delta_e_itp_halves_ct_and_weights_all_by_720():
    """BT.2124-0, Annex 1: T = 0.5 Ct. A pair that differs in Ct alone, made by the inverse."""
    base = np.array([0.5, 0.02, 0.03])
    for step, weight in ([0.01, 0.0, 0.0], 1.0), ([0.0, 0.01, 0.0], 0.5), ([0.0, 0.0, 0.01], 1.0):
        moved = light_from_ictcp(base + np.array(step))
        assert float(delta_e_itp(light_from_ictcp(base), moved)) == pytest.approx(7.2 * weight, abs=1e-9)


def test_delta_e_itp_of_a_picture_with_itself_is_0(light):
    assert np.all(delta_e_itp(light, light.copy()) == 0.0)
    assert delta_e_itp(light.reshape(-1, 1, 3), light.reshape(-1, 1, 3)).shape == (len(light), 1)
