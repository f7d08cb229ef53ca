"""Rows of a frame, one after the other: light, counted and tested while it lies in the processor's cache."""

# mypy: disable-error-code="no-untyped-def, no-untyped-call, untyped-decorator"

import numpy as np
from numba import njit

from . import LOOP
from .gamut_row import gamut_row
from .light_row import light_row
from .tally_row import tally_row

ACTIVE, BARS = 0, 1


@njit(nogil=True, cache=True)
def decode_planes(planes, recipe, top, bottom, light, first):
    """Write the light of rows top..bottom - 1 of planes; see `light_row`.

    Parameters
    ----------
    light : float32 (3, rows, columns), of which the first row is for row `first` of the planes
    """
    work, steps = _room(light.shape[2])
    for row in range(top, bottom):
        place = row - first
        light_row(planes, recipe, row, work, steps, (light[0, place], light[1, place], light[2, place]))


@njit(nogil=True, cache=True)
def measure_light(light, top, bottom, counting):
    """Count rows top..bottom - 1 of a frame, whose light, float32 (3, rows, columns), is given, into a `Counting`."""
    work, indices = _room(light.shape[2])
    for row in range(top, bottom):
        _measure_row(light[0, row - top], light[1, row - top], light[2, row - top], row, work, indices, counting)


@njit(**LOOP)
def _room(columns):
    return np.empty((4, columns + 2), np.float32), np.empty(columns, np.int32)


@njit(**LOOP)
def _measure_row(reds, greens, blues, row, work, indices, counting):
    is_inside = counting.top <= row < counting.bottom
    left = counting.left if is_inside else reds.shape[0]
    right = counting.right if is_inside else reds.shape[0]
    for start, end, part in ((0, left, BARS), (left, right, ACTIVE), (right, reds.shape[0], BARS)):
        if start < end:
            tally_row(reds[start:end], greens[start:end], blues[start:end], row, start, work, part, counting.tallies)
    if left < right:
        inside = reds[left:right], greens[left:right], blues[left:right]
        gamut_row(inside[0], inside[1], inside[2], row, left, work[0], indices, counting.test, counting.found)
    step = counting.coarse_step
    if step > 0 and row % step == 0:
        for place in range(counting.coarse.shape[1]):
            counting.coarse[row // step, place, 0] = reds[place * step]
            counting.coarse[row // step, place, 1] = greens[place * step]
            counting.coarse[row // step, place, 2] = blues[place * step]
