"""Light from a movie's planes: the compiled twin of `Planes.signal` and `encoding.signal_to_light`."""

# mypy: disable-error-code="no-untyped-def, no-untyped-call, untyped-decorator, assignment"

import numpy as np
from numba import njit

from ...encoding import LIGHT_CEILING
from ..light_of_planes import GAIN_FIRST, GAIN_FRACTION_BITS, HLG_WEIGHTS_32
from . import LOOP, SEGMENT
from .pq_row import pq_row

CEILING = np.float32(LIGHT_CEILING)
GAIN_FRACTION = np.int32((1 << GAIN_FRACTION_BITS) - 1)
GAIN_STEP = np.float32(2.0**-GAIN_FRACTION_BITS)
HLG_RED, HLG_GREEN, HLG_BLUE = HLG_WEIGHTS_32
ZERO = np.float32(0.0)
GREEN, BLUE = SEGMENT, 2 * SEGMENT


@njit(**LOOP)
def chroma_row(planes, recipe, row, samples, chroma):
    """Write Cb and Cr of a row, less their offset, for every column; nothing for planes of R', G' and B'.

    Parameters
    ----------
    planes : FlatPlanes of Y', Cb and Cr, or of R', G' and B'
    recipe : PlanesRecipe
    row : which
    samples : float32 (columns + 2,), for what lies between
    chroma : float32 (2, columns), the result
    """
    if recipe.chroma.shape[0] == 0:
        return
    even, odd = recipe.columns_before
    even_weight, odd_weight = recipe.column_weights
    for number in range(2):
        _chroma(planes, 1 + number, recipe, row, samples)
        if recipe.column_step == 1:
            for column in range(chroma.shape[1]):
                chroma[number, column] = samples[1 + column]
        else:
            _spread(samples[1 + even :], even_weight, samples[1 + odd :], odd_weight, chroma[number])


@njit(**LOOP)
def signal_row(planes, recipe, row, left, chroma, count, light):
    """Write the signal of a part of a row, or steps of the table, from code values and what `chroma_row` wrote.

    Parameters
    ----------
    planes, recipe, row, chroma : as for `chroma_row`
    left, count : the part's first column, and how many
    light : float32 (3 * SEGMENT,) or more, the result
    """
    if recipe.chroma.shape[0] == 0:
        for channel in range(3):
            start = row * planes.lines[channel] + left
            _luma(planes.codes[channel][start : start + count], recipe.luma, light[channel * SEGMENT :])
    else:
        start = row * planes.lines[0] + left
        codes = planes.codes[0][start : start + count]
        _joined(codes, chroma[0, left : left + count], chroma[1, left : left + count], recipe, light)


@njit(**LOOP)
def light_row(recipe, count, light, fractions, steps):
    """Replace what `signal_row` wrote by BT.2020 light in cd/m2.

    Parameters
    ----------
    recipe : PlanesRecipe
    count, light : as for `signal_row`
    fractions, steps : float32 and int32 (SEGMENT,) or more, for what lies between
    """
    for channel in range(3):
        values = light[channel * SEGMENT : channel * SEGMENT + count]
        if recipe.table.shape[0] == 0:
            pq_row(values)
        else:
            _looked_up(recipe.table, values, fractions, steps)
    if recipe.gain.shape[0] > 0:
        _hlg_ootf(recipe.gain, light, fractions[:count])
    if recipe.to_bt2020.shape[0] > 0:
        _converted(recipe.to_bt2020, count, light)


@njit(**LOOP)
def _luma(codes, luma, result):
    """Bring codes to the signal, or to steps of the table."""
    offset, scale, first = luma
    for column in range(codes.shape[0]):
        result[column] = (np.float32(codes[column]) - offset) * scale + first


@njit(**LOOP, fastmath={"contract"})
def _joined(codes, blue_chroma, red_chroma, recipe, light):
    """Write R', G' and B', from Y', Cb and Cr."""
    offset, scale, first = recipe.luma
    red_of_red, green_of_blue, green_of_red, blue_of_blue = (
        recipe.chroma[0, 1],
        recipe.chroma[1, 0],
        recipe.chroma[1, 1],
        recipe.chroma[2, 0],
    )
    for column in range(codes.shape[0]):
        luma = (np.float32(codes[column]) - offset) * scale + first
        blue, red = blue_chroma[column], red_chroma[column]
        light[column] = luma + red_of_red * red
        light[GREEN + column] = luma + green_of_blue * blue + green_of_red * red
        light[BLUE + column] = luma + blue_of_blue * blue


@njit(**LOOP)
def _spread(evens, even_weight, odds, odd_weight, result):
    """Interpolate between each sample and the next, for even and for odd columns."""
    pairs = result.shape[0] // 2
    next_evens, next_odds = evens[1:], odds[1:]
    for pair in range(pairs):
        even, odd = evens[pair], odds[pair]
        result[2 * pair] = even + even_weight * (next_evens[pair] - even)
        result[2 * pair + 1] = odd + odd_weight * (next_odds[pair] - odd)
    if result.shape[0] % 2:
        even = evens[pairs]
        result[2 * pairs] = even + even_weight * (next_evens[pairs] - even)


@njit(**LOOP)
def _chroma(planes, number, recipe, row, result):
    """Interpolate a row between two rows of chroma, less its offset, with one more sample at each end."""
    phase = row % recipe.row_step
    before, weight = recipe.rows_before[phase], recipe.row_weights[phase]
    samples, line, last = planes.samples, planes.lines[number], planes.sample_rows - 1
    first = row // recipe.row_step + before
    above, below = line * min(max(first, 0), last), line * min(max(first + 1, 0), last)
    _mixed(
        planes.codes[number][above : above + samples],
        planes.codes[number][below : below + samples],
        weight,
        recipe.chroma_offset,
        result[1 : samples + 1],
    )
    result[0] = result[1]
    result[samples + 1] = result[samples]


@njit(**LOOP)
def _mixed(ones, others, weight, offset, result):
    for sample in range(result.shape[0]):
        one, other = np.float32(ones[sample]), np.float32(others[sample])
        result[sample] = (one - offset) + weight * (other - one)


@njit(**LOOP)
def _looked_up(table, values, fractions, steps):
    """Replace steps of the table by its values; in two loops, of which the first is vectorised."""
    columns, last = values.shape[0], np.float32(table.shape[0] - 2)
    for column in range(columns):
        value = min(max(values[column], ZERO), last)
        step = np.int32(value)
        steps[column] = step
        fractions[column] = value - np.float32(step)
    for column in range(columns):
        step = np.uint32(steps[column])
        value = table[step]
        values[column] = value + fractions[column] * (table[step + 1] - value)


@njit(**LOOP)
def _hlg_ootf(gain, light, luminance):
    """Multiply scene light by the gain that belongs to its luminance; within the ceiling."""
    for column in range(luminance.shape[0]):
        value = HLG_RED * light[column] + HLG_GREEN * light[GREEN + column] + HLG_BLUE * light[BLUE + column]
        luminance[column] = max(value, np.float32(1e-30))
    bits = luminance.view(np.int32)
    for column in range(luminance.shape[0]):
        step = (bits[column] >> GAIN_FRACTION_BITS) - GAIN_FIRST
        value = gain[step]
        value += np.float32(bits[column] & GAIN_FRACTION) * GAIN_STEP * (gain[step + 1] - value)
        light[column] = min(value * light[column], CEILING)
        light[GREEN + column] = min(value * light[GREEN + column], CEILING)
        light[BLUE + column] = min(value * light[BLUE + column], CEILING)


@njit(**LOOP)
def _converted(matrix, count, light):
    for column in range(count):
        red, green, blue = light[column], light[GREEN + column], light[BLUE + column]
        for channel in range(3):
            value = red * matrix[channel, 0] + green * matrix[channel, 1] + blue * matrix[channel, 2]
            light[channel * SEGMENT + column] = min(max(value, ZERO), CEILING)
