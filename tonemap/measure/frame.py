"""Measuring a frame of a picture: decoded in bands of rows, on several processors, with every band read once."""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from ..arrays import Array
from ..colorimetry import Primaries
from ..picture import Picture
from .active_area import ActiveArea, Rectangle, whole_frame
from .gamut_share import HALF_FLOAT_TOLERANCE, TOLERANCE, GamutShare, measure_gamut
from .light_levels import FrameTally, tally_band
from .light_of_rows import light_of_rows
from .light_tally import LightTally

Result = TypeVar("Result")

BAND_SAMPLES = 1 << 18  # pixels a band: planes of a band stay near the size of a processor's cache


def in_bands(picture: Picture, work: Callable[[Array, int], Result], workers: int | None = None) -> list[Result]:
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


@dataclass(frozen=True)
class FrameFigures:
    """What one reading of a frame gives: the tally of its light, and the gamut shares of its active area by name."""

    tally: FrameTally
    gamuts: dict[str, GamutShare]


def measure_frame(
    picture: Picture,
    area: Rectangle | None = None,
    frame: int = 0,
    gamuts: tuple[str | Primaries, ...] = ("p3-d65", "bt709"),
    workers: int | None = None,
) -> FrameFigures:
    """Measure the light and the gamut of a frame.

    Parameters
    ----------
    area : the active area; None for the whole frame
    frame : the frame's number
    gamuts : names in `colorimetry.PRIMARIES`, or the primaries of a display
    workers : threads; None for as many as there are processors

    Raises
    ------
    WrongCall
        If the area is not within the frame.

    Examples
    --------
    >>> from tonemap.encoding import Encoding
    >>> codes = np.full((2, 2, 3), 573, np.uint16)
    >>> figures = measure_frame(Picture(codes, Encoding("pq", "bt2020", "narrow", 10)))
    >>> round(figures.tally.levels.active.maximum, 2), figures.gamuts["bt709"].share
    (203.7, 0.0)
    """
    area = (area or whole_frame(picture.rows, picture.columns)).checked(picture.rows, picture.columns)
    tolerance = gamut_tolerance(picture) if gamuts else TOLERANCE

    def measure(light: Array, top: int) -> tuple[LightTally, LightTally, list[GamutShare]]:
        first, last = max(area.top, top), min(area.top + area.rows, top + light.shape[0])
        inside = light[max(first - top, 0) : max(last - top, 0), area.left : area.left + area.columns]
        shares = [
            measure_gamut(
                inside,
                gamut,
                frame=frame,
                place=(first, area.left),
                tolerance=tolerance,
                encoding=picture.encoding,
            )
            for gamut in gamuts
        ]
        return *tally_band(light, top, area), shares

    active, bars, merged = LightTally(), LightTally(), dict[str, GamutShare]()
    for in_area, beside, shares in in_bands(picture, measure, workers):
        active.merge(in_area)
        bars.merge(beside)
        for share in shares:
            merged[share.gamut] = merged[share.gamut].merged(share) if share.gamut in merged else share
    return FrameFigures(FrameTally(frame, area, active, bars), merged)


def tally_frame(
    picture: Picture, area: Rectangle | None = None, frame: int = 0, workers: int | None = None
) -> FrameTally:
    """Count the light of a frame, without its gamut: for `ProgrammeLevels.add`, or for `tally_frame(...).levels`."""
    return measure_frame(picture, area, frame, (), workers).tally


def gamut_tolerance(picture: Picture) -> float:
    """Return how much of a negative component is arithmetic: more where all samples are half-floats."""
    if picture.encoding.bits is not None:
        return TOLERANCE
    with np.errstate(over="ignore", invalid="ignore"):
        as_half = picture.samples.astype(np.float16)
        is_half = bool(np.all((as_half == picture.samples) | ~np.isfinite(picture.samples)))
    return HALF_FLOAT_TOLERANCE if is_half else TOLERANCE


def add_to_area(finder: ActiveArea, picture: Picture) -> None:
    """Show a frame of a master to the finder of its active area."""
    finder.add(np.concatenate(in_bands(picture, lambda light, top: light.astype(np.float32))))
