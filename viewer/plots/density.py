"""From counts to strengths: how a density of pixels becomes a trace of a plot's own size."""

import numpy as np

from tonemap.arrays import Array
from tonemap.scaling import area_shares
from tonemap.scopes import Counts

SOFTNESS = 1.4 / 1024.0
"""Of an axis: standard deviation of the blur that closes the gaps between code values, which would show as stripes."""

SQUARE_ROOT, CUBE_ROOT = 1.0 / 2.0, 1.0 / 3.0
FULL_SHARE = 0.985
"""Share of the lit cells that are not brighter than full strength."""


def softened(counts: Counts | Array, axes: tuple[int, ...]) -> Array:
    """Blur counts along some axes; nothing is lost, also not at the ends."""
    result: Array = np.asarray(counts, np.float32)
    for axis in axes:
        size = result.shape[axis]
        deviation = SOFTNESS * size
        reach = int(np.ceil(3.0 * deviation))
        kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / max(deviation, 1e-6)) ** 2)
        kernel /= kernel.sum()
        padding = [(reach, reach) if number == axis % result.ndim else (0, 0) for number in range(result.ndim)]
        padded = np.pad(result, padding, mode="symmetric")
        windows = [padded.take(range(start, start + size), axis) for start in range(2 * reach + 1)]
        result = np.asarray(sum(weight * window for weight, window in zip(kernel.tolist(), windows, strict=True)))
    return result


def resized(values: Array, shape: tuple[int, int]) -> Array:
    """Return the averages (rows, columns) over the areas of new pixels, which may be larger or smaller."""
    for axis, size in enumerate(shape):
        samples, shares = area_shares(values.shape[axis], size)
        weights = shares.reshape((*shares.shape, 1) if axis == 0 else (1, *shares.shape))
        values = (values.take(samples, axis) * weights).sum(axis=1 if axis == 0 else 2)
    return values


def strengths(density: Array, full: float, power: float = SQUARE_ROOT) -> Array:
    """Return strengths 0..1 for a density, relative to the one that has full strength: a root of it."""
    return np.minimum(density / full, 1.0) ** power


def full_density(density: Array) -> float:
    """Return the density that is drawn at full strength; 1 for an empty plot."""
    lit = density[density > 1e-3 * density.max()] if density.size and density.max() > 0.0 else np.ones(1)
    return float(np.quantile(lit, FULL_SHARE))
