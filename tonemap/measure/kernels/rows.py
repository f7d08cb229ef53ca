"""Rows of a frame, one after the other: light, counted and tested while it lies in the processor's cache."""

# mypy: disable-error-code="no-untyped-def, no-untyped-call, untyped-decorator"

from typing import Any, NamedTuple

import numpy as np
from numba import njit

from . import LOOP, SEGMENT
from .gamut_row import gamut_row
from .light_row import chroma_row, light_row, signal_row
from .tally_row import WAITING, count_waiting, tally_row

ACTIVE, BARS = 0, 1


class Room(NamedTuple):
    """Memory for a part of a row.

    Attributes
    ----------
    light : float32 (5 * SEGMENT,): red, green, blue, max(R, G, B) and luminance
    work, numbers : float32 and int32 (SEGMENT,), for what lies between
    waiting, lengths : uint16 (2 parts, 2 kinds, WAITING) and int64 (2 parts,), cells that are to be counted
    """

    light: Any
    work: Any
    numbers: Any
    waiting: Any
    lengths: Any


@njit(nogil=True, cache=True)
def measure_planes(planes, recipe, top, bottom, counting):
    """Count the light of rows top..bottom - 1 of planes into a `Counting`, while it lies in the nearest cache."""
    columns = counting.columns
    samples, chroma = np.empty(columns + 2, np.float32), np.empty((2, columns), np.float32)
    _rows_of_planes(planes, recipe, top, bottom, samples, chroma, _room(), counting)


@njit(nogil=True, cache=True)
def measure_light(light, top, bottom, counting):
    """Count rows top..bottom - 1 of a frame into a `Counting`; their light is float32 (3, rows or more, columns)."""
    _rows_of_light(light, top, bottom, _room(), counting)


@njit(nogil=True)
def _room():
    return Room(
        np.empty(5 * SEGMENT, np.float32),
        np.empty(SEGMENT, np.float32),
        np.empty(SEGMENT, np.int32),
        np.empty((2, 2, WAITING), np.uint16),
        np.zeros(2, np.int64),
    )


@njit(**LOOP)
def _rows_of_planes(planes, recipe, top, bottom, samples, chroma, room, counting):
    for row in range(top, bottom):
        chroma_row(planes, recipe, row, samples, chroma)
        for left in range(0, counting.columns, SEGMENT):
            count = min(SEGMENT, counting.columns - left)
            signal_row(planes, recipe, row, left, chroma, count, room.light)
            light_row(recipe, count, room.light, room.work, room.numbers)
            _measure(count, row, left, room, counting)
    _count_the_rest(room, counting)


@njit(**LOOP)
def _rows_of_light(light, top, bottom, room, counting):
    for row in range(top, bottom):
        for left in range(0, counting.columns, SEGMENT):
            count = min(SEGMENT, counting.columns - left)
            for channel in range(3):
                values, start = light[channel, row - top], channel * SEGMENT
                for column in range(count):
                    room.light[start + column] = values[left + column]
            _measure(count, row, left, room, counting)
    _count_the_rest(room, counting)


@njit(**LOOP)
def _measure(count, row, first, room, counting):
    """Count a part of a row whose first pixel is in column `first`."""
    left = right = count
    if counting.top <= row < counting.bottom:
        left = min(max(counting.left - first, 0), count)
        right = min(max(counting.right - first, 0), count)
    for start, end, part in ((0, left, BARS), (left, right, ACTIVE), (right, count, BARS)):
        if start < end:
            light, pixels = room.light[start:], end - start
            tally_row(light, pixels, row, first + start, part, counting.tallies, room.waiting, room.lengths)
    if left < right:
        light, test, found = room.light[left:], counting.test, counting.found
        gamut_row(light, right - left, row, first + left, room.work, room.numbers, test, found)
    if counting.coarse_step > 0 and row % counting.coarse_step == 0:
        _keep(room.light, count, row // counting.coarse_step, first, counting)


@njit(**LOOP)
def _keep(light, count, row, first, counting):
    """Keep every `coarse_step`-th pixel, for a row of the coarse picture."""
    step = counting.coarse_step
    for place in range(-(-first // step), -(-(first + count) // step)):
        for channel in range(3):
            counting.coarse[row, place, channel] = light[channel * SEGMENT + place * step - first]


@njit(**LOOP)
def _count_the_rest(room, counting):
    for part in (ACTIVE, BARS):
        count_waiting(part, counting.tallies, room.waiting, room.lengths)
