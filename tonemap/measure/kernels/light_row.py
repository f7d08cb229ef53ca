"""Light from a movie's planes: the compiled twin of `Planes.signal` and `encoding.signal_to_light`."""

# mypy: disable-error-code="no-untyped-def, no-untyped-call, untyped-decorator, assignment"

import numpy as np
from numba import njit

from ...encoding import LIGHT_CEILING
from ..light_of_planes import GAIN_FIRST, GAIN_FRACTION_BITS, HLG_WEIGHTS_32
from . import LOOP
from .pq_row import pq_row

CEILING = np.float32(LIGHT_CEILING)
GAIN_FRACTION = np.int32((1 << GAIN_FRACTION_BITS) - 1)
GAIN_STEP = np.float32(2.0**-GAIN_FRACTION_BITS)
HLG_RED, HLG_GREEN, HLG_BLUE = HLG_WEIGHTS_32
ZERO = np.float32(0.0)


@njit(**LOOP)
def signal_row(planes, recipe, row, work, light):
    """Write the signal of a row, or steps of the table, from the code values of three planes.

    Parameters
    ----------
    planes : FlatPlanes of Y', Cb and Cr, or of R', G' and B'
    recipe : PlanesRecipe
    row : which
    work : float32 (4, columns + 2), for what lies between
    light : float32 (3, columns), the result
    """
    columns = light.shape[1]
    if recipe.chroma.shape[0] == 0:
        for channel in range(3):
            start = row * planes.lines[channel]
            _luma(planes.codes[channel][start : start + columns], recipe.luma, light[channel])
    else:
        _from_luma_and_chroma(planes, recipe, row, work, light)


@njit(**LOOP)
def light_row(recipe, light, fractions, steps):
    """Replace what `signal_row` wrote, of a row or of a part of one, by BT.2020 light in cd/m2.

    Parameters
    ----------
    recipe : PlanesRecipe
    light : three arrays of float32 (columns,)
    fractions : float32 (columns,) or more, and `steps` int32 (columns,) or more: for what lies between
    """
    for channel in range(3):
        if recipe.table.shape[0] == 0:
            pq_row(light[channel])
        else:
            _looked_up(recipe.table, light[channel], fractions, steps)
    if recipe.gain.shape[0] > 0:
        _hlg_ootf(recipe.gain, light, fractions[: light[0].shape[0]])
    if recipe.to_bt2020.shape[0] > 0:
        _converted(recipe.to_bt2020, light)


@njit(**LOOP)
def _luma(codes, luma, result):
    """Bring the codes of a row to the signal, or to steps of the table."""
    offset, scale, first = luma
    for column in range(result.shape[0]):
        result[column] = (np.float32(codes[column]) - offset) * scale + first


@njit(**LOOP)
def _from_luma_and_chroma(planes, recipe, row, work, light):
    """Write R', G' and B' of a row, from Y', Cb and Cr."""
    columns = light.shape[1]
    luma, blue, red, difference = work[0], work[1], work[2], work[3]
    start = row * planes.lines[0]
    _luma(planes.codes[0][start : start + columns], recipe.luma, luma[:columns])
    _chroma(planes, 1, recipe, row, blue)
    _chroma(planes, 2, recipe, row, red)
    even, odd = recipe.columns_before
    even_weight, odd_weight = recipe.column_weights
    for channel in range(3):
        of_blue, of_red = recipe.chroma[channel]
        for sample in range(planes.samples + 2):
            difference[sample] = of_blue * blue[sample] + of_red * red[sample]
        if recipe.column_step == 1:
            _added(luma, difference[1:], light[channel])
        else:
            _spread(luma, difference[1 + even :], even_weight, difference[1 + odd :], odd_weight, light[channel])


@njit(**LOOP)
def _added(luma, difference, result):
    for column in range(result.shape[0]):
        result[column] = luma[column] + difference[column]


@njit(**LOOP)
def _spread(luma, evens, even_weight, odds, odd_weight, result):
    """Add differences to luma, interpolated between each sample and the next, for even and for odd columns."""
    pairs = result.shape[0] // 2
    next_evens, next_odds = evens[1:], odds[1:]
    for pair in range(pairs):
        even, odd = evens[pair], odds[pair]
        result[2 * pair] = luma[2 * pair] + (even + even_weight * (next_evens[pair] - even))
        result[2 * pair + 1] = luma[2 * pair + 1] + (odd + odd_weight * (next_odds[pair] - odd))
    if result.shape[0] % 2:
        even = evens[pairs]
        result[2 * pairs] = luma[2 * pairs] + (even + even_weight * (next_evens[pairs] - even))


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
    reds, greens, blues = light
    for column in range(luminance.shape[0]):
        value = HLG_RED * reds[column] + HLG_GREEN * greens[column] + HLG_BLUE * blues[column]
        luminance[column] = max(value, np.float32(1e-30))
    bits = luminance.view(np.int32)
    for column in range(luminance.shape[0]):
        step = (bits[column] >> GAIN_FRACTION_BITS) - GAIN_FIRST
        value = gain[step]
        value += np.float32(bits[column] & GAIN_FRACTION) * GAIN_STEP * (gain[step + 1] - value)
        reds[column] = min(value * reds[column], CEILING)
        greens[column] = min(value * greens[column], CEILING)
        blues[column] = min(value * blues[column], CEILING)


@njit(**LOOP)
def _converted(matrix, light):
    for column in range(light[0].shape[0]):
        red, green, blue = light[0][column], light[1][column], light[2][column]
        for channel in range(3):
            value = red * matrix[channel, 0] + green * matrix[channel, 1] + blue * matrix[channel, 2]
            light[channel][column] = min(max(value, ZERO), CEILING)
