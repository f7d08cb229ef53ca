"""What of a row of light lies outside some primaries: the compiled twin of `gamut_share.measure_gamut`."""

# mypy: disable-error-code="no-untyped-def, no-untyped-call, untyped-decorator"

import numpy as np
from numba import njit

from ..light_cells import CELLS, FIRST_CELL, FRACTION_BITS
from . import LOOP, SEGMENT

SMALLEST = np.float32(1e-30)
THREE, FOUR, NINE, FIFTEEN = (np.float32(number) for number in (3, 4, 9, 15))
NONE = np.int32(0)
GREEN, BLUE = SEGMENT, 2 * SEGMENT
BLOCK = 64
"""Columns that are passed over together where none of them is outside."""


@njit(**LOOP)
def gamut_row(light, count, row, left, lowest, indices, test, found):
    """Add the pixels of a part of a row that lie outside each of the primaries.

    Parameters
    ----------
    light : float32 (3 * SEGMENT,) or to there: red, green and blue
    count : of pixels
    row, left : place of the first pixel in the frame
    lowest, indices : float32 and int32 (SEGMENT,) or more, for what lies between
    test : GamutTest
    found : GamutFound
    """
    candidates = 0
    for gamut in range(test.matrices.shape[0]):
        if test.leaders[gamut] == gamut:
            _lowest(light, test.matrices[gamut], lowest[:count])
            candidates = _candidates(lowest[:count], test.candidate, indices)
        if candidates > 0:
            _add_those_outside(light, row, left, indices[:candidates], gamut, test, found)


@njit(**LOOP, fastmath={"contract"})
def _lowest(light, matrix, result):
    """Write each pixel's lowest component after conversion, nearly: to find those that are worth a closer look."""
    red_red, red_green, red_blue = matrix[0]
    green_red, green_green, green_blue = matrix[1]
    blue_red, blue_green, blue_blue = matrix[2]
    for column in range(result.shape[0]):
        red, green, blue = light[column], light[GREEN + column], light[BLUE + column]
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
def _add_those_outside(light, row, left, columns, gamut, test, found):
    matrix, spread, half_code = test.matrices[gamut], test.spreads[gamut], test.half_code
    pixels, distances = found.pixels[gamut], found.distances[gamut]
    places, lights = found.places[gamut], found.lights[gamut]
    candidate, tolerance, floor = test.candidate, test.tolerance, test.floor
    to_xyz, white, borders = test.to_xyz, test.white, test.borders
    bits = light.view(np.int32)
    for index in range(columns.shape[0]):
        column = columns[index]
        red, green, blue = light[column], light[GREEN + column], light[BLUE + column]
        one = red * matrix[0, 0] + green * matrix[0, 1] + blue * matrix[0, 2]
        two = red * matrix[1, 0] + green * matrix[1, 1] + blue * matrix[1, 2]
        three = red * matrix[2, 0] + green * matrix[2, 1] + blue * matrix[2, 2]
        lowest = min(one, two, three)
        if lowest >= candidate:
            continue
        distance = -lowest / max(one, two, three, SMALLEST)
        if not distance > tolerance or max(red, green, blue) < floor:
            continue
        if half_code.shape[0] > 0:
            red_step = half_code[_cell(bits[column])]
            green_step = half_code[_cell(bits[GREEN + column])]
            blue_step = half_code[_cell(bits[BLUE + column])]
            if not (
                -(red_step * spread[0, 0] + green_step * spread[0, 1] + blue_step * spread[0, 2]) - one > 0.0
                or -(red_step * spread[1, 0] + green_step * spread[1, 1] + blue_step * spread[1, 2]) - two > 0.0
                or -(red_step * spread[2, 0] + green_step * spread[2, 1] + blue_step * spread[2, 2]) - three > 0.0
            ):
                continue
        hue = _hue(red, green, blue, to_xyz, white, borders)
        pixels[hue] += 1
        if distance > distances[hue]:
            distances[hue] = distance
            places[hue, 0], places[hue, 1] = row, left + column
            lights[hue, 0], lights[hue, 1], lights[hue, 2] = red, green, blue


@njit(**LOOP)
def _cell(bits):
    return min(max((bits >> FRACTION_BITS) - FIRST_CELL, 0), CELLS - 1)


@njit(**LOOP, error_model="numpy")
def _hue(red, green, blue, matrix, white, borders):
    """Return the index in `hue.HUES`, by `counting.turn_of`, which grows with the angle and needs no arc tangent."""
    x = red * matrix[0, 0] + green * matrix[0, 1] + blue * matrix[0, 2]
    y = red * matrix[1, 0] + green * matrix[1, 1] + blue * matrix[1, 2]
    z = red * matrix[2, 0] + green * matrix[2, 1] + blue * matrix[2, 2]
    total = x + FIFTEEN * y + THREE * z
    across, up = np.float64(FOUR * x / total) - white[0], np.float64(NINE * y / total) - white[1]
    size = max(abs(across) + abs(up), 1e-30)
    if up >= 0.0:
        turn = up / size if across >= 0.0 else 1.0 - across / size
    else:
        turn = 2.0 - up / size if across < 0.0 else 3.0 + across / size
    index = 0
    for border in range(borders.shape[0]):
        index += borders[border] <= turn
    return index % borders.shape[0]
