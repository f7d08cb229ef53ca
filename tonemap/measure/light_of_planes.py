"""Light of a movie's planes, fast: PQ by a fine table, all else by way of a picture."""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from typing import TypeVar

import numpy as np

from ..arrays import Array
from ..colorimetry import conversion_matrix
from ..encoding import LIGHT_CEILING, Encoding
from ..media.master import Frame
from ..media.planes import Planes
from ..transfer import pq_eotf
from .frame import in_bands
from .light_of_rows import converted_planes

Result = TypeVar("Result")

STEPS = 1 << 18
"""Steps of PQ's signal in the table: at most 3e-5 of the light from 1 cd/m2 up, where a step of 12 bits is 2e-3."""


def in_bands_of(frame: Frame, work: Callable[[Array, int], Result]) -> list[Result]:
    """Call `work` with the light of each band of rows and the number of its first row; return the results in order.

    Light is (rows, columns, 3), BT.2020, cd/m2, laid out channel by channel where it came by a table. Every band begins
    at an even row.
    """
    planes = frame.planes
    if planes is None or frame.encoding.transfer != "pq":
        return in_bands(frame.picture, work)

    def band(rows: tuple[int, int]) -> Result:
        return work(light_of_planes(planes, frame.encoding, *rows), rows[0])

    with ThreadPoolExecutor(os.cpu_count()) as pool:
        return list(pool.map(band, planes.bands()))


def light_of_planes(planes: Planes, encoding: Encoding, top: int, bottom: int) -> Array:
    """Return the light (rows, columns, 3) in float32 of rows top..bottom - 1 of planes that code PQ."""
    signal = planes.signal(top, bottom)
    signal *= np.float32(STEPS)
    signal += np.float32(0.5)
    steps = np.empty(signal.shape[1:], np.int32)
    for channel in signal:
        np.copyto(steps, np.clip(channel, 0.0, STEPS + 0.5, out=channel), casting="unsafe")
        _table().take(steps, mode="clip", out=channel)
    light = np.moveaxis(signal, 0, 2)
    if encoding.primaries == "bt2020":
        return light
    return np.clip(converted_planes(light, conversion_matrix(encoding.primaries, "bt2020")), 0.0, LIGHT_CEILING)


@cache
def _table() -> Array:
    table: Array = pq_eotf(np.arange(STEPS + 1) / STEPS).astype(np.float32)
    table.flags.writeable = False  # the cache hands the same array to every caller
    return table
