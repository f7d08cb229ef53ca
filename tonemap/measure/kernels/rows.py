"""Rows of a frame, one after the other: light, counted and tested while it lies in the processor's cache."""

# mypy: disable-error-code="no-untyped-def, no-untyped-call, untyped-decorator"

import numpy as np
from numba import njit

from . import LOOP
from .gamut_row import gamut_row
from .light_row import light_row, signal_row
from .tally_row import tally_row

ACTIVE, BARS = 0, 1


SEGMENT = 1024
"""Columns whose light is worked on together, so that it stays in the nearest cache."""


@njit(nogil=True, cache=True)
def measure_planes(planes, recipe, top, bottom, counting):
    """Count the light of rows top..bottom - 1 of planes into a `Counting`, while it lies in the nearest cache."""
    columns = counting.columns
    work, numbers = _room(columns)
    light = np.empty((3, columns), np.float32)
    for row in range(top, bottom):
        signal_row(planes, recipe, row, work, light)
        for left in range(0, columns, SEGMENT):
            right = min(left + SEGMENT, columns)
            part = light[0, left:right], light[1, left:right], light[2, left:right]
            light_row(recipe, part, work[0], numbers)
            _measure(part[0], part[1], part[2], row, left, work, numbers, counting)
        _coarse_row(light, row, counting)


@njit(nogil=True, cache=True)
def measure_light(light, top, bottom, counting):
    """Count rows top..bottom - 1 of a frame into a `Counting`; their light is float32 (3, rows or more, columns)."""
    work, numbers = _room(counting.columns)
    for row in range(top, bottom):
        lights = light[:, row - top]
        _measure(lights[0], lights[1], lights[2], row, 0, work, numbers, counting)
        _coarse_row(lights, row, counting)


@njit(**LOOP)
def _room(columns):
    return np.empty((4, columns + 2), np.float32), np.empty(columns, np.int32)


@njit(**LOOP)
def _measure(reds, greens, blues, row, first, work, indices, counting):
    """Count a row, or a part of one, whose first pixel is in column `first`."""
    columns = reds.shape[0]
    left = right = columns
    if counting.top <= row < counting.bottom:
        left = min(max(counting.left - first, 0), columns)
        right = min(max(counting.right - first, 0), columns)
    for start, end, part in ((0, left, BARS), (left, right, ACTIVE), (right, columns, BARS)):
        if start < end:
            column = first + start
            tally_row(reds[start:end], greens[start:end], blues[start:end], row, column, work, part, counting.tallies)
    if left < right:
        inside = reds[left:right], greens[left:right], blues[left:right]
        column = first + left
        gamut_row(inside[0], inside[1], inside[2], row, column, work[0], indices, counting.test, counting.found)


@njit(**LOOP)
def _coarse_row(light, row, counting):
    """Keep every `coarse_step`-th pixel of every `coarse_step`-th row."""
    step = counting.coarse_step
    if step > 0 and row % step == 0:
        for place in range(counting.coarse.shape[1]):
            for channel in range(3):
                counting.coarse[row // step, place, channel] = light[channel, place * step]
