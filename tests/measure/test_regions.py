"""Connected regions and moving averages, against scipy."""

import numpy as np
import pytest
from scipy import ndimage

from tonemap.measure.regions import connected_regions, inner_square, moving_average


@pytest.mark.parametrize("density", [0.0, 0.3, 0.55, 0.6, 1.0])
@pytest.mark.parametrize("shape", [(1, 1), (1, 40), (40, 1), (37, 53)])
def test_regions_are_those_of_scipy(density, shape):
    """The same partition; the order of the numbers may differ."""
    mask = np.random.default_rng(int(100 * density)).random(shape) < density
    labels, count = connected_regions(mask)
    expected, expected_count = ndimage.label(mask)
    assert count == expected_count
    assert labels.max(initial=0) == count
    pairs = {(int(a), int(b)) for a, b in zip(labels.ravel(), expected.ravel(), strict=True)}
    assert len({a for a, _ in pairs}) == len({b for _, b in pairs}) == len(pairs)
    assert np.array_equal(labels > 0, mask)


def test_spiral_is_one_region():
    spiral = np.array([[1, 1, 1, 1, 1], [0, 0, 0, 0, 1], [1, 1, 1, 0, 1], [1, 0, 0, 0, 1], [1, 1, 1, 1, 1]], bool)
    assert connected_regions(spiral)[1] == 1
    assert connected_regions(~spiral)[1] == 1


def test_moving_average_is_that_of_scipy_within_the_frame_and_of_the_part_at_its_edge():
    values = np.random.default_rng(2).random((20, 30))
    found = moving_average(values, 5)
    np.testing.assert_allclose(found[2:-2, 2:-2], ndimage.uniform_filter(values, 5)[2:-2, 2:-2], atol=1e-13)
    assert found[0, 0] == pytest.approx(values[:3, :3].mean())
    assert found[19, 29] == pytest.approx(values[17:, 27:].mean())


def test_inner_square_of_a_disc_and_of_a_line():
    rows, columns = np.indices((101, 101))
    disc = (rows - 50) ** 2 + (columns - 50) ** 2 <= 40**2
    top, left, side = inner_square(disc, 1.0)
    assert disc[top : top + side, left : left + side].all()
    assert side == pytest.approx(40 * np.sqrt(2), abs=2.0)
    line = np.zeros((9, 9), bool)
    line[4, 2:7] = True
    assert inner_square(line) == (4, 2, 1)
