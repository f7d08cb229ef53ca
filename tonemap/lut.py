"""A look-up table: a shaper on each channel, then a cube of R'G'B', and how it is applied."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .arrays import Array
from .errors import TrimbenchError

TETRAHEDRAL = "tetrahedral"
TRILINEAR = "trilinear"
INTERPOLATIONS = (TETRAHEDRAL, TRILINEAR)

BAND_SAMPLES = 1 << 16
"""Pixels that are looked up at once: their temporaries stay near the size of a processor's cache."""


@dataclass(frozen=True)
class Lut:
    """A shaper and a cube.

    Attributes
    ----------
    table : ndarray (size, size, size, 3), by red, green and blue node; the R'G'B' that comes out
    shaper : ndarray (n,), 0..1, not descending: where the values low..high, in equal steps, lie in the cube; None for
        a straight line
    low, high : the input values of the first and the last node, the same for all channels; what lies outside is read
        as the nearer of the two
    """

    table: Array
    shaper: Array | None = None
    low: float = 0.0
    high: float = 1.0

    def __post_init__(self) -> None:
        """Refuse what is no look-up table; raises TrimbenchError with a sentence without a place."""
        size = self.table.shape[0]
        if self.table.shape != (size, size, size, 3) or size < 2:
            raise TrimbenchError(f"a cube needs 2 or more nodes a side and three channels, not {self.table.shape}")
        if not np.isfinite(self.table).all():
            raise TrimbenchError("the cube holds a value that is not a finite number")
        if not (np.isfinite([self.low, self.high]).all() and self.low < self.high):
            raise TrimbenchError(f"the input values {self.low:g} to {self.high:g} are no range")
        shaper = self.shaper
        if shaper is None:
            return
        if shaper.ndim != 1 or len(shaper) < 2 or not np.isfinite(shaper).all():
            raise TrimbenchError("a shaper needs 2 or more finite numbers")
        if (np.diff(shaper) < 0.0).any() or shaper[0] < 0.0 or shaper[-1] > 1.0:
            raise TrimbenchError("the shaper descends, or leaves the range 0 to 1")

    @property
    def size(self) -> int:
        """Nodes a side."""
        return int(self.table.shape[0])


def apply_lut(lut: Lut, values: Array, interpolation: str = TETRAHEDRAL) -> Array:
    """Look R'G'B' values (..., 3) up; float64 of the same shape.

    References
    ----------
    Academy S-2014-006, Common LUT Format: linear interpolation of a LUT1D, trilinear and tetrahedral of a LUT3D.

    Examples
    --------
    >>> axis = np.array([0.0, 1.0])
    >>> identity = Lut(np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1))
    >>> apply_lut(identity, np.array([0.25, 0.5, 1.5])).tolist()
    [0.25, 0.5, 1.0]
    """
    look_up = {TETRAHEDRAL: _tetrahedral, TRILINEAR: _trilinear}[interpolation]
    pixels = np.asarray(values, np.float64).reshape(-1, 3)
    result = np.empty_like(pixels)
    for start in range(0, len(pixels), BAND_SAMPLES):
        part = np.s_[start : start + BAND_SAMPLES]
        result[part] = _in_cube(lut, pixels[part], look_up)
    return result.reshape(values.shape)


def nodes_of(shaper: Array | None, size: int) -> Array:
    """Return where the nodes of one side lie, 0..1 from low to high: the shaper's inverse at equal steps.

    Examples
    --------
    >>> nodes_of(np.array([0.0, 0.75, 1.0]), 5).round(6).tolist()
    [0.0, 0.166667, 0.333333, 0.5, 1.0]
    """
    steps = np.linspace(0.0, 1.0, size)
    return steps if shaper is None else np.interp(steps, shaper, np.linspace(0.0, 1.0, len(shaper)))


def _in_cube(lut: Lut, pixels: Array, look_up: Callable[[Array, Array, Array], Array]) -> Array:
    """Shape, find the cell and the place in it, and interpolate."""
    place = np.clip((pixels - lut.low) / (lut.high - lut.low), 0.0, 1.0)
    if lut.shaper is not None:
        place = np.interp(place, np.linspace(0.0, 1.0, len(lut.shaper)), lut.shaper)
    place = place * (lut.size - 1)
    cell = np.minimum(place.astype(np.intp), lut.size - 2)
    return look_up(np.asarray(lut.table, np.float64).reshape(-1, 3), cell @ _strides(lut.size), place - cell)


def _strides(size: int) -> Array:
    return np.array([size * size, size, 1])


def _tetrahedral(nodes: Array, corner: Array, fraction: Array) -> Array:
    """Walk from the cell's first corner to its last along the axes, the largest fraction first."""
    size = round(len(nodes) ** (1.0 / 3.0))
    order = np.argsort(-fraction, axis=-1, kind="stable")
    largest_first = np.take_along_axis(fraction, order, axis=-1)
    steps = _strides(size)[order]
    value = nodes[corner]
    result = value.copy()
    for axis in range(3):
        corner = corner + steps[:, axis]
        following = nodes[corner]
        result += largest_first[:, axis, np.newaxis] * (following - value)
        value = following
    return result


def _trilinear(nodes: Array, corner: Array, fraction: Array) -> Array:
    """Weigh the eight corners of the cell."""
    strides = _strides(round(len(nodes) ** (1.0 / 3.0)))
    result = np.zeros((len(corner), 3))
    for index in range(8):
        chosen = np.array([index >> 2 & 1, index >> 1 & 1, index & 1])
        weight = np.where(chosen, fraction, 1.0 - fraction).prod(axis=-1)
        result += weight[:, np.newaxis] * nodes[corner + chosen @ strides]
    return result
