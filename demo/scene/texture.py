"""Seeded noise for grain of wood, cloth, skin and plaster."""

from functools import cache
from typing import Any

import numpy as np

SIZE_FLAT = 256
SIZE_SOLID = 32


@cache
def _flat_tile() -> Any:
    return np.random.default_rng(11).random(SIZE_FLAT * SIZE_FLAT, dtype=np.float32) * 2.0 - 1.0


@cache
def _solid_tile() -> Any:
    return np.random.default_rng(12).random(SIZE_SOLID**3, dtype=np.float32) * 2.0 - 1.0


def _cell(value: Any, size: int) -> tuple[Any, Any, Any]:
    """Lower and upper knot, wrapped to a power of two, and the eased share between them."""
    base = np.floor(value)
    share = value - base
    low = base.astype(np.int32)
    return low & (size - 1), (low + 1) & (size - 1), share * share * (3.0 - 2.0 * share)


def noise2(x: Any, y: Any) -> Any:
    """Smooth value noise in -1..1 over the plane, one knot a unit."""
    tile = _flat_tile()
    x0, x1, u = _cell(x, SIZE_FLAT)
    y0, y1, v = _cell(y, SIZE_FLAT)
    y0, y1 = y0 * SIZE_FLAT, y1 * SIZE_FLAT
    first, last = tile.take(y0 + x0), tile.take(y1 + x0)
    low = first + (tile.take(y0 + x1) - first) * u
    high = last + (tile.take(y1 + x1) - last) * u
    return low + (high - low) * v


def noise3(x: Any, y: Any, z: Any) -> Any:
    """Smooth value noise in -1..1 in space, one knot a unit."""
    tile = _solid_tile()
    size = SIZE_SOLID
    x0, x1, u = _cell(x, size)
    y0, y1, v = _cell(y, size)
    z0, z1, w = _cell(z, size)
    planes = []
    for zk in (z0, z1):
        rows = []
        for yk in (y0, y1):
            row = (zk * size + yk) * size
            first = tile.take(row + x0)
            rows.append(first + (tile.take(row + x1) - first) * u)
        planes.append(rows[0] + (rows[1] - rows[0]) * v)
    return planes[0] + (planes[1] - planes[0]) * w


def layered2(x: Any, y: Any, layers: int = 3) -> Any:
    """Sum of octaves of `noise2`, about -1..1."""
    total = np.zeros_like(x)
    weight = 0.55
    for _ in range(layers):
        total = total + weight * noise2(x, y)
        x, y, weight = x * 2.03 + 17.3, y * 2.03 + 5.1, weight * 0.5
    return total
