"""Counting a row of light: the compiled twin of `LightTally.of`."""

# mypy: disable-error-code="no-untyped-def, no-untyped-call, untyped-decorator"

import numpy as np
from numba import njit

from ...colorimetry import luminance_weights
from ..light_cells import CELLS, FIRST_CELL, FRACTION_BITS
from ..light_tally import THRESHOLDS
from . import LOOP, SEGMENT

RED, GREEN, BLUE = (np.float32(weight) for weight in luminance_weights())
LEVELS = tuple(np.float32(level) for level in THRESHOLDS)
LEVEL_BITS = tuple(level.view(np.int32) for level in LEVELS)
SHIFT, FIRST, LAST, NONE, ONE = (np.int32(number) for number in (FRACTION_BITS, FIRST_CELL, CELLS - 1, 0, 1))
LARGEST, NITS = 3 * SEGMENT, 4 * SEGMENT
WAITING = 32 * SEGMENT
"""Cells of pixels that are counted together: counters of one kind then stay in the nearest cache."""


@njit(**LOOP)
def tally_row(light, count, row, left, part, tallies, waiting, lengths):
    """Add a part of a row of pixels to the tally of a part of the frame; its histograms when enough are waiting.

    Parameters
    ----------
    light : float32 (5 * SEGMENT,) or to there: red, green and blue, not negative, finite; max(R, G, B) and luminance
        are written behind them
    count : of pixels
    row, left : place of the first pixel in the frame
    part : index in `tallies`, a `counting.Tallies`
    waiting, lengths : uint16 (2 parts, 2 kinds, WAITING) and int64 (2 parts,): cells that are not counted yet
    """
    _levels(light, count)
    bits = light.view(np.int32)
    for kind in range(2):
        first = LARGEST + kind * SEGMENT
        values, value_bits = light[first : first + count], bits[first : first + count]
        tallies.sums[part, kind] += _sum(values)
        lowest, highest = _extremes(value_bits)
        tallies.lowest[part, kind] = min(tallies.lowest[part, kind], lowest)
        if highest > tallies.highest[part, kind]:
            tallies.highest[part, kind] = highest
            if kind == 0:
                tallies.places[part, 0] = row
                tallies.places[part, 1] = left + _first(value_bits, highest)
        if kind == 0:
            for index in range(len(LEVELS)):
                if highest > LEVEL_BITS[index]:
                    tallies.above[part, index] += _above(values, LEVELS[index])
        length = lengths[part]
        _cells(value_bits, waiting[part, kind, length : length + count])
    lengths[part] += count
    if lengths[part] > WAITING - SEGMENT:
        count_waiting(part, tallies, waiting, lengths)


@njit(**LOOP)
def count_waiting(part, tallies, waiting, lengths):
    """Count the cells that are waiting."""
    for kind in range(2):
        _count(waiting[part, kind, : lengths[part]], tallies.cells[part, kind])
    lengths[part] = 0


@njit(**LOOP)
def _levels(light, count):
    for index in range(count):
        red, green, blue = light[index], light[SEGMENT + index], light[2 * SEGMENT + index]
        light[LARGEST + index] = max(red, green, blue)
        light[NITS + index] = RED * red + GREEN * green + BLUE * blue


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
def _cells(bits, cells):
    for index in range(bits.shape[0]):
        cells[index] = min(max((bits[index] >> SHIFT) - FIRST, NONE), LAST)


@njit(**LOOP)
def _count(cells, counts):
    for index in range(cells.shape[0]):
        counts[cells[index]] += ONE
