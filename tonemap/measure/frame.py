"""Measuring a frame of a picture: decoded in bands of rows, on several processors, with every band read once."""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

from ..arrays import Array
from ..picture import Picture
from .active_area import Rectangle, whole_frame
from .light_levels import FrameTally, tally_band
from .light_of_rows import light_of_rows
from .light_tally import LightTally

Result = TypeVar("Result")

BAND_SAMPLES = 1 << 18  # pixels a band: planes of a band stay near the size of a processor's cache


def in_bands(
    picture: Picture, work: Callable[[Array, int], Result], workers: int | None = None
) -> list[Result]:
    """Call `work` with the light of each band of rows and the number of its first row; return the results in order.

    Parameters
    ----------
    workers : threads; None for as many as there are processors
    """
    step = max(1, BAND_SAMPLES // picture.columns)

    def band(start: int) -> Result:
        return work(light_of_rows(picture, start, min(start + step, picture.rows)), start)

    with ThreadPoolExecutor(workers or os.cpu_count()) as pool:
        return list(pool.map(band, range(0, picture.rows, step)))


def tally_frame(
    picture: Picture, area: Rectangle | None = None, frame: int = 0, workers: int | None = None
) -> FrameTally:
    """Count the light of a frame, for `ProgrammeLevels.add`, or for its own figures: `tally_frame(...).levels`.

    Parameters
    ----------
    area : the active area; None for the whole frame
    frame : the frame's number
    workers : threads; None for as many as there are processors

    Raises
    ------
    WrongCall
        If the area is not within the frame.

    Examples
    --------
    >>> import numpy as np
    >>> from tonemap.encoding import Encoding
    >>> codes = np.full((2, 2, 3), 573, np.uint16)
    >>> levels = tally_frame(Picture(codes, Encoding("pq", "bt2020", "narrow", 10))).levels
    >>> round(levels.active.maximum, 2)
    203.7
    """
    area = (area or whole_frame(picture.rows, picture.columns)).checked(picture.rows, picture.columns)
    active, bars = LightTally(), LightTally()
    for inside, beside in in_bands(picture, lambda light, top: tally_band(light, top, area), workers):
        active.merge(inside)
        bars.merge(beside)
    return FrameTally(frame, area, active, bars)
