"""Histograms of light in cells that are evenly spaced in stops, fine enough to stand for the values themselves.

A cell is 1/2048 of its octave: at most 0.049 % of its light, where the finest step of 12-bit PQ is 0.25 %. The edges of
cells are floating-point numbers of 12 bits, so every whole number of cd/m2 up to 4096 is an edge.
"""

from collections.abc import Mapping
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..transfer import pq_eotf_inverse

Counts = NDArray[np.int64]

CELLS_OF_AN_OCTAVE = 2048
LOWEST_EXPONENT = -14  # below 2^-14 cd/m2, light is counted as black, in cell 0
HIGHEST_EXPONENT = 16  # `encoding.LIGHT_CEILING` lies below 2^16 cd/m2
CELLS = (HIGHEST_EXPONENT - LOWEST_EXPONENT) * CELLS_OF_AN_OCTAVE

FRACTION_BITS = 23 - 11  # of float32, those that don't tell cells apart
FIRST_CELL = (127 + LOWEST_EXPONENT) * CELLS_OF_AN_OCTAVE


def cells_of(light: Array) -> NDArray[np.int32]:
    """Return the cell of each value of light in cd/m2, finite; negative light is in cell 0.

    Examples
    --------
    >>> cells = cells_of(np.array([0.0, 203.0, 203.05, 203.07]))
    >>> (cells - cells[1]).tolist()[1:], int(cells[0])
    ([0, 0, 1], 0)
    """
    cells = np.asarray(light, np.float32).view(np.int32) >> FRACTION_BITS
    cells -= FIRST_CELL
    return np.clip(cells, 0, CELLS - 1, out=cells)


def counted(light: Array) -> Counts:
    """Return how many values lie in each cell, shape (`CELLS`,)."""
    return np.bincount(cells_of(light).ravel(), minlength=CELLS)


@cache
def cell_edges() -> Array:
    """Return the edges of the cells in cd/m2, shape (`CELLS` + 1,); the first is 0."""
    edges = (np.arange(CELLS + 1, dtype=np.int32) + FIRST_CELL << FRACTION_BITS).view(np.float32).astype(np.float64)
    edges[0] = 0.0
    edges.flags.writeable = False  # the cache hands the same array to every caller
    return edges


@cache
def cell_centres() -> Array:
    """Return the light in cd/m2 that stands for each cell, shape (`CELLS`,); the first is 0."""
    centres = 0.5 * (cell_edges()[:-1] + cell_edges()[1:])
    centres[0] = 0.0
    centres.flags.writeable = False
    return centres


@cache
def _cell_signals() -> Array:
    return pq_eotf_inverse(cell_centres())


def percentiles(counts: Counts, percents: tuple[float, ...]) -> list[float]:
    """Return the light in cd/m2 that the given percents of the values don't exceed, to the centre of its cell."""
    running = np.cumsum(counts)
    ranks = np.ceil(np.array(percents) / 100.0 * running[-1])
    return cell_centres()[np.searchsorted(running, np.maximum(ranks, 1.0))].tolist()


def mean_signal(counts: Counts) -> float:
    """Return the mean PQ signal of the values."""
    return float(np.sum(counts * _cell_signals()) / counts.sum())  # not @, whose threads would go on waiting busily


def sparse(counts: Counts) -> dict[str, list[int]]:
    """Return the cells that hold something, and what they hold, as plain lists for JSON."""
    cells = np.flatnonzero(counts)
    return {"cells": cells.tolist(), "counts": counts[cells].tolist()}


def dense(values: Mapping[str, Any]) -> Counts:
    """Return the counts that `sparse` wrote."""
    counts = np.zeros(CELLS, np.int64)
    counts[values["cells"]] = values["counts"]
    return counts
