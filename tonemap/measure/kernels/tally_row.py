"""Counting a row of light: the compiled twin of `LightTally.of`."""

# mypy: disable-error-code="no-untyped-def, no-untyped-call, untyped-decorator"

import numpy as np
from numba import njit

from ...colorimetry import luminance_weights
from ..light_cells import CELLS, FIRST_CELL, FRACTION_BITS
from ..light_tally import THRESHOLDS
from . import LOOP

RED, GREEN, BLUE = (np.float32(weight) for weight in luminance_weights())
LEVELS = tuple(np.float32(level) for level in THRESHOLDS)
LEVEL_BITS = tuple(level.view(np.int32) for level in LEVELS)
SHIFT, FIRST, LAST, NONE, ONE = (np.int32(number) for number in (FRACTION_BITS, FIRST_CELL, CELLS - 1, 0, 1))


@njit(**LOOP)
def tally_row(reds, greens, blues, row, left, work, part, tallies):
    """Add a row of pixels, or a part of one, to the tally of a part of the frame.

    Parameters
    ----------
    reds, greens, blues : float32 (columns,), not negative, finite
    row, left : place of the first pixel in the frame
    work : float32 (2, columns or more), for what lies between
    part : index in `tallies`, a `counting.Tallies`
    """
    columns = reds.shape[0]
    largest, nits = work[0, :columns], work[1, :columns]
    _levels(reds, greens, blues, largest, nits)
    for kind in range(2):
        values = work[kind, :columns]
        bits = values.view(np.int32)
        tallies.sums[part, kind] += _sum(values)
        lowest, highest = _extremes(bits)
        tallies.lowest[part, kind] = min(tallies.lowest[part, kind], lowest)
        if highest > tallies.highest[part, kind]:
            tallies.highest[part, kind] = highest
            if kind == 0:
                tallies.places[part, 0] = row
                tallies.places[part, 1] = left + _first(bits, highest)
        if kind == 0:
            for index in range(len(LEVELS)):
                if highest > LEVEL_BITS[index]:
                    tallies.above[part, index] += _above(values, LEVELS[index])
        _count(bits, tallies.cells[part, kind])


@njit(**LOOP)
def _levels(reds, greens, blues, largest, nits):
    for index in range(largest.shape[0]):
        red, green, blue = reds[index], greens[index], blues[index]
        largest[index] = max(red, green, blue)
        nits[index] = RED * red + GREEN * green + BLUE * blue


@njit(**LOOP, fastmath={"reassoc", "nsz"})
def _sum(values):
    total = 0.0
    for index in range(values.shape[0]):
        total += np.float64(values[index])
    return total


@njit(**LOOP)
def _extremes(bits):
    """Return the least and the greatest, by bits: floats that are not negative are in the order of theirs."""
    lowest = highest = bits[0]
    for index in range(bits.shape[0]):
        lowest = min(lowest, bits[index])
        highest = max(highest, bits[index])
    return lowest, highest


@njit(**LOOP)
def _first(bits, value):
    for index in range(bits.shape[0]):
        if bits[index] == value:
            return index
    return 0


@njit(**LOOP)
def _above(values, level):
    count = np.int32(0)
    for index in range(values.shape[0]):
        count = np.int32(count + np.int32(values[index] > level))
    return count


@njit(**LOOP)
def _count(bits, cells):
    """Count the cells of values by their bits, which are overwritten."""
    for index in range(bits.shape[0]):
        bits[index] = min(max((bits[index] >> SHIFT) - FIRST, NONE), LAST)
    for index in range(bits.shape[0]):
        cells[np.uint32(bits[index])] += ONE
