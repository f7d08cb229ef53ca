"""Light of a movie's planes, fast: what the compiled loops are told of planes and of their way to light.

The light is within 2e-5 of a pixel's brightest channel and 2e-6 cd/m2 of what `Planes.signal` and `decode` give, for PQ
within 1e-5 and 1e-6 cd/m2. A step of 12-bit PQ is 2e-3 of the light.
"""

import math
from functools import cache
from typing import Any, NamedTuple

import numpy as np
from numpy.lib.stride_tricks import as_strided
from numpy.typing import NDArray

from ..arrays import Array
from ..colorimetry import conversion_matrix
from ..encoding import Encoding, signal_to_light
from ..media.planes import MATRICES, SITINGS, Coding, Planes
from ..transfer import HLG_WEIGHTS, hlg_black_lift, hlg_oetf_inverse, hlg_system_gamma

STEPS = 4096
"""Steps of the tables for each 1.0 of signal, with a straight line between two."""

SIGNALS = (-1.25, 2.25)
"""Signals that the tables hold: all that Y'CbCr codes of any bits can say."""

GAIN_FRACTION_BITS = 16
"""Bits of a float32 between two steps of the gain's table: a step is 1/128 of an octave of luminance."""

GAIN_FIRST = (127 - 100) << (23 - GAIN_FRACTION_BITS)  # the step of 2^-100; luminance is at least 1e-30
GAIN_COUNT = (100 + 16) << (23 - GAIN_FRACTION_BITS)

HLG_WEIGHTS_32 = tuple(np.float32(weight) for weight in HLG_WEIGHTS)


class PlanesRecipe(NamedTuple):
    """What `kernels.light_row` is told; arrays are float32.

    Attributes
    ----------
    luma : (offset, scale, first) of Y', or of R', G' and B': (code - offset) * scale + first is the step of the table,
        and for PQ, which needs none, the signal
    chroma_offset, chroma : codes of no chroma; (3, 2), what R', G' and B' get for each code of Cb and of Cr; empty for
        planes of R', G' and B'
    column_step, row_step : columns and rows of luma for each of chroma
    columns_before, rows_before : for even and for odd columns and rows of luma, the chroma sample before, counted from
        that of the same number
    column_weights, row_weights : of the sample behind it
    table : light of each step; for HLG, scene light; empty for PQ
    gain : for HLG, display light for scene light, by the upper bits of its luminance; empty for others
    to_bt2020 : (3, 3) from the encoding's primaries; empty for those of BT.2020
    """

    luma: tuple[np.float32, np.float32, np.float32]
    chroma_offset: np.float32
    chroma: Array
    column_step: int
    row_step: int
    columns_before: tuple[int, int]
    rows_before: tuple[int, int]
    column_weights: tuple[np.float32, np.float32]
    row_weights: tuple[np.float32, np.float32]
    table: Array
    gain: Array
    to_bt2020: Array


@cache
def planes_recipe(coding: Coding, encoding: Encoding) -> PlanesRecipe:
    """Return how planes of a coding become the light of an encoding."""
    is_pq = encoding.transfer == "pq"
    steps, first = (1, 0.0) if is_pq else (STEPS, -SIGNALS[0] * STEPS)
    scale, offset = coding.luma_scale
    chroma_scale, chroma_offset = coding.chroma_scale
    chroma = np.empty((0, 2), np.float32)
    if coding.matrix is not None:
        red, blue = MATRICES[coding.matrix]
        green = 1.0 - red - blue
        differences = np.array(
            [
                [0.0, 2.0 * (1.0 - red)],
                [-2.0 * blue * (1.0 - blue) / green, -2.0 * red * (1.0 - red) / green],
                [2.0 * (1.0 - blue), 0.0],
            ]
        )
        chroma = (differences * steps / chroma_scale).astype(np.float32)
    across, down = SITINGS[coding.siting]
    columns, rows = (_phases(step, place) for step, place in zip(coding.subsampling, (across, down), strict=True))
    to_bt2020 = np.empty((0, 3), np.float32)
    if encoding.primaries != "bt2020":
        to_bt2020 = conversion_matrix(encoding.primaries, "bt2020").astype(np.float32)
    table, gain = _tables(encoding)
    return PlanesRecipe(
        luma=(np.float32(offset), np.float32(steps / scale), np.float32(first)),
        chroma_offset=np.float32(chroma_offset),
        chroma=chroma,
        column_step=coding.subsampling[0],
        row_step=coding.subsampling[1],
        columns_before=columns[0],
        rows_before=rows[0],
        column_weights=columns[1],
        row_weights=rows[1],
        table=table.astype(np.float32),
        gain=gain.astype(np.float32),
        to_bt2020=to_bt2020,
    )


def _tables(encoding: Encoding) -> tuple[Array, Array]:
    """Return the light of each step, and the gain of each luminance; see `PlanesRecipe`."""
    signal = np.linspace(*SIGNALS, round((SIGNALS[1] - SIGNALS[0]) * STEPS) + 1)
    if encoding.transfer == "pq":
        return np.empty(0), np.empty(0)
    if encoding.transfer != "hlg":
        light = signal_to_light(signal, encoding)
        return np.append(light, light[-1]), np.empty(0)
    lift = hlg_black_lift(encoding.peak, encoding.black)
    light = hlg_oetf_inverse((1.0 - lift) * signal + lift)
    bits = (np.arange(GAIN_COUNT + 1) + GAIN_FIRST << GAIN_FRACTION_BITS).astype(np.int32)
    gain = encoding.peak * bits.view(np.float32).astype(np.float64) ** (hlg_system_gamma(encoding.peak) - 1.0)
    return np.append(light, light[-1]), gain


def _phases(step: int, place: float) -> tuple[tuple[int, int], tuple[np.float32, np.float32]]:
    """Return which sample lies before an even and an odd column or row of luma, and the weight of the one behind."""
    starts = [(phase - place) / step if step > 1 else 0.0 for phase in range(2)]
    before = [math.floor(start) for start in starts]
    return (before[0], before[1]), (np.float32(starts[0] - before[0]), np.float32(starts[1] - before[1]))


class FlatPlanes(NamedTuple):
    """Code values of three planes, each as one line of memory.

    Attributes
    ----------
    codes : three arrays (number of codes,)
    lines : codes from the beginning of a row to that of the next, for each plane
    samples, sample_rows : size of the second and third plane
    """

    codes: tuple[NDArray[Any], NDArray[Any], NDArray[Any]]
    lines: tuple[int, int, int]
    samples: int
    sample_rows: int


def flat_planes(planes: Planes) -> FlatPlanes:
    """Return the codes of planes without copying those whose rows are lines of memory."""
    one, two, three = (_flat(plane) for plane in planes.components)
    sample_rows, samples = planes.components[1].shape
    return FlatPlanes((one[0], two[0], three[0]), (one[1], two[1], three[1]), samples, sample_rows)


def _flat(plane: NDArray[Any]) -> tuple[NDArray[Any], int]:
    """Return the codes of a plane as one line, and how many of them lie between the beginnings of rows."""
    across = plane.itemsize
    lies_flat = plane.strides[1] == across and plane.strides[0] >= 0 and plane.strides[0] % across == 0
    rows = plane if lies_flat else np.ascontiguousarray(plane)
    line = rows.strides[0] // across
    return as_strided(rows, ((rows.shape[0] - 1) * line + rows.shape[1],), (across,)), line
