"""What of a row of light lies outside some primaries: the compiled twin of `gamut_share.measure_gamut`."""

# mypy: disable-error-code="no-untyped-def, no-untyped-call, untyped-decorator"

import numpy as np
from numba import njit

from ..light_cells import CELLS, FIRST_CELL, FRACTION_BITS
from . import LOOP

SMALLEST = np.float32(1e-30)
THREE, FOUR, NINE, FIFTEEN = (np.float32(number) for number in (3, 4, 9, 15))
NONE = np.int32(0)
BLOCK = 64
"""Columns that are passed over together where none of them is outside."""


@njit(**LOOP)
def gamut_row(reds, greens, blues, row, left, work, indices, test, found):
    """Add the pixels of a row, or of a part of one, that lie outside each of the primaries.

    Parameters
    ----------
    reds, greens, blues : float32 (columns,)
    row, left : place of the first pixel in the frame
    work : float32 (columns,) or more, and `indices` int32 (columns,) or more: for what lies between
    test : GamutTest
    found : GamutFound
    """
    count = 0
    for gamut in range(test.matrices.shape[0]):
        if test.leaders[gamut] == gamut:
            _lowest(reds, greens, blues, test.matrices[gamut], work)
            count = _candidates(work[: reds.shape[0]], test.candidate, indices)
        if count > 0:
            _add_those_outside(reds, greens, blues, row, left, indices[:count], gamut, test, found)


@njit(**LOOP, fastmath={"contract"})
def _lowest(reds, greens, blues, matrix, result):
    """Write each pixel's lowest component after conversion, nearly: to find those that are worth a closer look."""
    red_red, red_green, red_blue = matrix[0]
    green_red, green_green, green_blue = matrix[1]
    blue_red, blue_green, blue_blue = matrix[2]
    for column in range(reds.shape[0]):
        red, green, blue = reds[column], greens[column], blues[column]
        one = red * red_red + green * red_green + blue * red_blue
        two = red * green_red + green * green_green + blue * green_blue
        three = red * blue_red + green * blue_green + blue * blue_blue
        result[column] = min(one, two, three)


@njit(**LOOP)
def _candidates(lowest, candidate, indices):
    """Write the columns with a component that is negative enough, and return how many they are."""
    count = 0
    for start in range(0, lowest.shape[0], BLOCK):
        block = lowest[start : start + BLOCK]
        total = NONE
        for column in range(block.shape[0]):
            total = np.int32(total + np.int32(block[column] < candidate))
        if total > 0:
            for column in range(block.shape[0]):
                indices[count] = start + column
                if block[column] < candidate:
                    count += 1
    return count


@njit(**LOOP, error_model="numpy")
def _add_those_outside(reds, greens, blues, row, left, columns, gamut, test, found):
    matrix, spread = test.matrices[gamut], test.spreads[gamut]
    red_bits, green_bits, blue_bits = reds.view(np.int32), greens.view(np.int32), blues.view(np.int32)
    for column in columns:
        red, green, blue = reds[column], greens[column], blues[column]
        one = red * matrix[0, 0] + green * matrix[0, 1] + blue * matrix[0, 2]
        two = red * matrix[1, 0] + green * matrix[1, 1] + blue * matrix[1, 2]
        three = red * matrix[2, 0] + green * matrix[2, 1] + blue * matrix[2, 2]
        distance = -min(one, two, three) / max(one, two, three, SMALLEST)
        if not distance > test.tolerance or max(red, green, blue) < test.floor:
            continue
        if test.half_code.shape[0] > 0:
            red_step = test.half_code[_cell(red_bits[column])]
            green_step = test.half_code[_cell(green_bits[column])]
            blue_step = test.half_code[_cell(blue_bits[column])]
            if not (
                -(red_step * spread[0, 0] + green_step * spread[0, 1] + blue_step * spread[0, 2]) - one > 0.0
                or -(red_step * spread[1, 0] + green_step * spread[1, 1] + blue_step * spread[1, 2]) - two > 0.0
                or -(red_step * spread[2, 0] + green_step * spread[2, 1] + blue_step * spread[2, 2]) - three > 0.0
            ):
                continue
        hue = _hue(red, green, blue, test)
        found.pixels[gamut, hue] += 1
        if distance > found.distances[gamut, hue]:
            found.distances[gamut, hue] = distance
            found.places[gamut, hue, 0] = row
            found.places[gamut, hue, 1] = left + column
            found.lights[gamut, hue, 0] = red
            found.lights[gamut, hue, 1] = green
            found.lights[gamut, hue, 2] = blue


@njit(**LOOP)
def _cell(bits):
    return min(max((bits >> FRACTION_BITS) - FIRST_CELL, 0), CELLS - 1)


@njit(**LOOP, error_model="numpy")
def _hue(red, green, blue, test):
    """Return the index in `hue.HUES`, by `counting.turn_of`, which grows with the angle and needs no arc tangent."""
    matrix = test.to_xyz
    x = red * matrix[0, 0] + green * matrix[0, 1] + blue * matrix[0, 2]
    y = red * matrix[1, 0] + green * matrix[1, 1] + blue * matrix[1, 2]
    z = red * matrix[2, 0] + green * matrix[2, 1] + blue * matrix[2, 2]
    total = x + FIFTEEN * y + THREE * z
    across, up = np.float64(FOUR * x / total) - test.white[0], np.float64(NINE * y / total) - test.white[1]
    size = max(abs(across) + abs(up), 1e-30)
    if up >= 0.0:
        turn = up / size if across >= 0.0 else 1.0 - across / size
    else:
        turn = 2.0 - up / size if across < 0.0 else 3.0 + across / size
    index = 0
    while index < test.borders.shape[0] and test.borders[index] <= turn:
        index += 1
    return index % test.borders.shape[0]
