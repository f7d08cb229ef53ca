"""Scaling a picture by area averages of its light, in bands, so that memory does not grow with the picture."""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

from .arrays import Array

BAND_SAMPLES = 1 << 19  # pixels of the source a band
ROUNDING = 1e-9  # of a sample: an edge this near to a sample's is on it

LightOfRows = Callable[[int, int], Array]
"""Returns the light (rows, columns, channels) of the rows from the first number up to, not including, the second."""


def area_shares(size: int, new_size: int) -> tuple[NDArray[np.intp], Array]:
    """Return which samples each new sample covers, and each one's share.

    Returns
    -------
    samples : ndarray (new size, n) of indices; n is the most that any new sample covers
    shares : ndarray (new size, n), float32; each row sums to 1, and what is not covered has 0

    Examples
    --------
    >>> area_shares(4, 2)[1].tolist()
    [[0.5, 0.5], [0.5, 0.5]]
    """
    edges = np.arange(new_size + 1) * (size / new_size)
    low, high = edges[:-1, np.newaxis], edges[1:, np.newaxis]
    first = np.floor(low + ROUNDING).astype(np.intp)
    last = np.ceil(high - ROUNDING).astype(np.intp)
    samples = first + np.arange(int((last - first).max()))
    shares = np.clip(np.minimum(high, samples + 1) - np.maximum(low, samples), 0.0, None)
    shares[samples >= last] = 0.0
    shares /= shares.sum(axis=1, keepdims=True)
    return np.minimum(samples, size - 1), shares.astype(np.float32)


def area_average(light_of_rows: LightOfRows, shape: tuple[int, int], new_shape: tuple[int, int]) -> Array:
    """Reduce a picture so that each new pixel is the average of the area it covers.

    Averages belong to light: decode before, encode after. At the same size every value is kept exactly.

    Parameters
    ----------
    light_of_rows : called once a band, from several threads; neighbouring bands may share a row
    shape, new_shape : (rows, columns); no new side may be longer than the old one

    Returns
    -------
    ndarray (new rows, new columns, channels), float32
    """
    rows, columns = shape
    new_rows, new_columns = new_shape
    if not (1 <= new_rows <= rows and 1 <= new_columns <= columns):
        raise ValueError(f"an area average reduces; {shape} can't become {new_shape}")
    down, down_shares = area_shares(rows, new_rows)
    across, across_shares = area_shares(columns, new_columns)
    step = max(1, int(BAND_SAMPLES / columns * new_rows / rows))

    def band(start: int) -> Array:
        covered = down[start : start + step]
        first = int(covered.min())
        light = np.asarray(light_of_rows(first, int(covered.max()) + 1), np.float32)
        fewer_rows = _mixed(light, covered - first, down_shares[start : start + step], axis=0)
        return _mixed(fewer_rows, across, across_shares, axis=1)

    with ThreadPoolExecutor(os.cpu_count()) as pool:
        return np.concatenate(list(pool.map(band, range(0, new_rows, step))))


def _mixed(light: Array, samples: NDArray[np.intp], shares: Array, axis: int) -> Array:
    """Sum the shares of samples along an axis, one covered sample of all new ones at a time."""
    across_axis = (-1, 1, 1) if axis == 0 else (1, -1, 1)
    result = light.take(samples[:, 0], axis) * shares[:, 0].reshape(across_axis)
    for number in range(1, samples.shape[1]):
        result += light.take(samples[:, number], axis) * shares[:, number].reshape(across_axis)
    return result
