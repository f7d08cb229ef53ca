"""CIEDE2000, CIELAB, and what a map of differences says in a few numbers."""

import numpy as np
import pytest

from tonemap.difference import delta_e_2000, delta_e_itp, difference_statistics, lab_from_xyz, within_sdr_range

# Sharma, Wu, Dalal 2005, Table 1: two CIELAB colours and their CIEDE2000. Pair 14 stands apart, below.
PAIRS = np.array(
    [
        [50.0000, 2.6772, -79.7751, 50.0000, 0.0000, -82.7485, 2.0425],
        [50.0000, 3.1571, -77.2803, 50.0000, 0.0000, -82.7485, 2.8615],
        [50.0000, 2.8361, -74.0200, 50.0000, 0.0000, -82.7485, 3.4412],
        [50.0000, -1.3802, -84.2814, 50.0000, 0.0000, -82.7485, 1.0000],
        [50.0000, -1.1848, -84.8006, 50.0000, 0.0000, -82.7485, 1.0000],
        [50.0000, -0.9009, -85.5211, 50.0000, 0.0000, -82.7485, 1.0000],
        [50.0000, 0.0000, 0.0000, 50.0000, -1.0000, 2.0000, 2.3669],
        [50.0000, -1.0000, 2.0000, 50.0000, 0.0000, 0.0000, 2.3669],
        [50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0009, 7.1792],
        [50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0010, 7.1792],
        [50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0011, 7.2195],
        [50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0012, 7.2195],
        [50.0000, -0.0010, 2.4900, 50.0000, 0.0009, -2.4900, 4.8045],
        [50.0000, -0.0010, 2.4900, 50.0000, 0.0011, -2.4900, 4.7461],
        [50.0000, 2.5000, 0.0000, 50.0000, 0.0000, -2.5000, 4.3065],
        [50.0000, 2.5000, 0.0000, 73.0000, 25.0000, -18.0000, 27.1492],
        [50.0000, 2.5000, 0.0000, 61.0000, -5.0000, 29.0000, 22.8977],
        [50.0000, 2.5000, 0.0000, 56.0000, -27.0000, -3.0000, 31.9030],
        [50.0000, 2.5000, 0.0000, 58.0000, 24.0000, 15.0000, 19.4535],
        [50.0000, 2.5000, 0.0000, 50.0000, 3.1736, 0.5854, 1.0000],
        [50.0000, 2.5000, 0.0000, 50.0000, 3.2972, 0.0000, 1.0000],
        [50.0000, 2.5000, 0.0000, 50.0000, 1.8634, 0.5757, 1.0000],
        [50.0000, 2.5000, 0.0000, 50.0000, 3.2592, 0.3350, 1.0000],
        [60.2574, -34.0099, 36.2677, 60.4626, -34.1751, 39.4387, 1.2644],
        [63.0109, -31.0961, -5.8663, 62.8187, -29.7946, -4.0864, 1.2630],
        [61.2901, 3.7196, -5.3901, 61.4292, 2.2480, -4.9620, 1.8731],
        [35.0831, -44.1164, 3.7933, 35.0232, -40.0716, 1.5901, 1.8645],
        [22.7233, 20.0904, -46.6940, 23.0331, 14.9730, -42.5619, 2.0373],
        [36.4612, 47.8580, 18.3852, 36.2715, 50.5065, 21.2231, 1.4146],
        [90.8027, -2.0831, 1.4410, 91.1528, -1.6435, 0.0447, 1.4441],
        [90.9257, -0.5406, -0.9208, 88.6381, -0.8985, -0.7239, 1.5381],
        [6.7747, -0.2908, -2.4247, 5.8714, -0.0985, -2.2286, 0.6377],
        [2.0776, 0.0795, -1.1350, 0.9033, -0.0636, -0.5514, 0.9082],
    ]
)


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: f"{pair[6]:g}")
def test_ciede2000_matches_the_published_pairs(pair):
    assert float(delta_e_2000(pair[:3], pair[3:6])) == pytest.approx(pair[6], abs=1e-4)
    assert float(delta_e_2000(pair[3:6], pair[:3])) == pytest.approx(pair[6], abs=1e-4)


def test_ciede2000_takes_one_of_two_values_where_hues_are_opposite():
    """Pair 14: the hues are 180 degrees apart but for the last bit of an arc tangent, and the formula jumps there."""
    found = float(delta_e_2000(np.array([50.0, -0.001, 2.49]), np.array([50.0, 0.001, -2.49])))
    assert min(abs(found - 4.8045), abs(found - 4.7461)) <= 1e-4


def test_ciede2000_matches_colour_science_on_random_colours(colour):
    """Worst measured: 4e-14 relative."""
    rng = np.random.default_rng(2000)
    lab, other = (rng.uniform([0, -120, -120], [110, 120, 120], (4000, 3)) for _ in range(2))
    np.testing.assert_allclose(delta_e_2000(lab, other), colour.delta_E(lab, other, method="CIE 2000"), rtol=1e-11)


def test_ciede2000_keeps_the_shape_and_is_0_for_equal_colours():
    lab = np.random.default_rng(1).uniform(-50, 50, (4, 5, 3))
    assert delta_e_2000(lab, lab).shape == (4, 5)
    assert np.all(delta_e_2000(lab, lab.copy()) == 0.0)


def test_lab_matches_colour_science_from_black_to_beyond_white(colour):
    white = 203.0 * colour.xy_to_XYZ((0.3127, 0.3290))
    xyz = np.concatenate(
        [np.random.default_rng(3).uniform(0, 400, (500, 3)), np.geomspace(1e-5, 5, 60)[:, None] * white]
    )
    expected = colour.XYZ_to_Lab(xyz / white[1], colour.XYZ_to_xy(white))
    np.testing.assert_allclose(lab_from_xyz(xyz, white), expected, rtol=0, atol=1e-9)


def test_lab_of_white_and_of_black_and_of_an_instruments_negative():
    white = np.array([95.0, 100.0, 109.0])
    assert lab_from_xyz(white, white).tolist() == [100.0, 0.0, 0.0]
    np.testing.assert_allclose(lab_from_xyz(np.zeros(3), white), 0.0, atol=1e-12)
    below = lab_from_xyz(np.array([0.0, -0.01, 0.0]), white)
    assert np.isfinite(below).all()
    assert below[0] < 0.0


def test_statistics_of_a_map_are_arithmetic():
    ramp = np.arange(1000.0).reshape(20, 50)
    found = difference_statistics(ramp)
    assert (found.pixels, found.share, found.mean) == (1000, 1.0, 499.5)
    assert (found.p50, found.p95, found.p99) == pytest.approx((499.5, 949.05, 989.01))
    assert found.p99_9 == pytest.approx(998.001)
    assert (found.maximum, found.row, found.column) == (999.0, 19, 49)


def test_statistics_look_only_into_the_mask():
    ramp = np.arange(100.0).reshape(10, 10)
    mask = ramp < 40.0
    found = difference_statistics(ramp, mask)
    assert (found.pixels, found.share, found.maximum, found.row, found.column) == (40, 0.4, 39.0, 3, 9)
    assert difference_statistics(ramp, np.zeros_like(mask)) is None


def test_a_master_within_the_sdr_range_differs_only_there():
    """Above the limit the two pictures differ by a lot, below it by nothing."""
    nits = np.linspace(0.0, 400.0, 81)
    master = np.repeat(nits[np.newaxis, :, np.newaxis], 3, axis=2)
    rendition = np.minimum(master, 100.0)
    mask = within_sdr_range(master, 100.0)
    assert int(mask.sum()) == 21
    differences = delta_e_itp(master, rendition)
    assert difference_statistics(differences).maximum > 90.0
    assert difference_statistics(differences, mask).maximum == pytest.approx(0.0, abs=1e-9)
