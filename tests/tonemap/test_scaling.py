"""Area averages: exact where they can be, and right where pixels are split."""

import numpy as np
import pytest

from tonemap import scaling
from tonemap.scaling import area_average, area_shares

RANDOM = np.random.default_rng(5)


def averaged(light, shape):
    return area_average(lambda start, stop: light[start:stop], light.shape[:2], shape)


def reference_average(light, shape):
    """Average by repeating pixels up to a common multiple, in float64."""
    rows, columns = (np.lcm(old, new) for old, new in zip(light.shape[:2], shape, strict=True))
    fine = light.astype(np.float64).repeat(rows // light.shape[0], 0).repeat(columns // light.shape[1], 1)
    blocks = fine.reshape(shape[0], rows // shape[0], shape[1], columns // shape[1], -1)
    return blocks.mean(axis=(1, 3))


@pytest.mark.parametrize("shape", [(24, 36), (12, 9), (7, 11), (23, 35), (1, 1), (24, 1), (1, 36)], ids=str)
def test_an_area_average_is_the_mean_of_the_area(shape):
    light = (1000.0 * RANDOM.random((24, 36, 3))).astype(np.float32)
    np.testing.assert_allclose(averaged(light, shape), reference_average(light, shape), rtol=2e-6)


def test_the_same_size_keeps_every_value():
    light = (1000.0 * RANDOM.random((9, 14, 3))).astype(np.float32)
    np.testing.assert_array_equal(averaged(light, (9, 14)), light)


def test_bands_do_not_show(monkeypatch):
    light = (1000.0 * RANDOM.random((50, 20, 3))).astype(np.float32)
    whole = averaged(light, (17, 7))
    monkeypatch.setattr(scaling, "BAND_SAMPLES", 60)
    np.testing.assert_array_equal(averaged(light, (17, 7)), whole)


@pytest.mark.parametrize(("size", "new_size"), [(1920, 743), (3840, 555), (16384, 3), (5, 5), (7, 6)])
def test_shares_use_every_sample_equally(size, new_size):
    samples, shares = area_shares(size, new_size)
    used = np.zeros(size)
    np.add.at(used, samples.ravel(), shares.ravel())
    np.testing.assert_allclose(used, new_size / size, rtol=1e-5)


def test_a_larger_size_is_refused():
    with pytest.raises(ValueError, match=r"an area average reduces; \(2, 2\) can't become \(3, 2\)"):
        averaged(np.ones((2, 2, 3), np.float32), (3, 2))
