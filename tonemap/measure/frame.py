"""Measuring a frame of a picture: decoded in bands of rows, on several processors, with every band read once."""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from ..arrays import Array
from ..colorimetry import Primaries
from ..encoding import Encoding
from ..media.master import Frame
from ..media.planes import Coding, Planes
from ..picture import Picture
from .active_area import Rectangle, whole_frame
from .counting import Counting, counting_for, gamut_test, merge_found, shares_of, smallest_first, tally_of
from .gamut_share import HALF_FLOAT_TOLERANCE, TOLERANCE, GamutShare, gamut_named
from .kernels import compiled_rows
from .light_levels import FrameTally
from .light_of_planes import flat_planes, planes_recipe
from .light_of_rows import light_of_rows

Result = TypeVar("Result")

BANDS_A_THREAD = 2
"""Bands of rows that a frame is shared by: each has counters of its own, and threads are busy to the end."""

STRIP_SAMPLES = 1 << 16
"""Pixels of a strip of rows: its light is counted while it lies in the processor's cache."""

CODES_OF_CHROMA = {8: 8, 10: 8, 12: 10, 16: 12}
"""Bits of R'G'B' that tell colours apart as Y'CbCr of some bits does: rounding that moves B' by up to 1.4 codes."""

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
    """What one reading of a frame gives.

    Attributes
    ----------
    tally : of its light
    gamuts : shares of its active area, by name
    coarse : ndarray (rows, columns, 3), float32, light of pixels `coarse_step` apart; empty if not asked for
    """

    tally: FrameTally
    gamuts: dict[str, GamutShare]
    coarse: Array


def measure_frame(
    content: Picture | Planes,
    area: Rectangle | None = None,
    frame: int = 0,
    gamuts: tuple[str | Primaries, ...] = ("p3-d65", "bt709"),
    *,
    encoding: Encoding | None = None,
    coarse_step: int = 0,
    workers: int | None = None,
) -> FrameFigures:
    """Measure the light and the gamut of a frame, in float32, by compiled loops.

    `measure_light` and `measure_gamut` define the figures, and tests hold the loops to them: counts are the same, and
    sums agree to 1e-12.

    Parameters
    ----------
    content : a picture, or a movie's planes
    area : the active area; None for the whole frame
    frame : the frame's number
    gamuts : names in `colorimetry.PRIMARIES`, or the primaries of a display
    encoding : of the planes' signal; a picture has its own
    coarse_step : pixels from one of the coarse picture to the next, 1 for all light; 0 for no such picture
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
    rows, columns = content.rows, content.columns
    area = (area or whole_frame(rows, columns)).checked(rows, columns)
    in_order = smallest_first(gamuts)
    tolerance = gamut_tolerance(content) if gamuts and isinstance(content, Picture) else TOLERANCE
    test = gamut_test(in_order, tolerance, coded_as(content, encoding))
    coarse = np.empty((*(-(-size // coarse_step) if coarse_step else 0 for size in (rows, columns)), 3), np.float32)
    count_rows = _counter(content, encoding)

    def band(bounds: tuple[int, int]) -> Counting:
        counting = counting_for(columns, area, test, coarse_step, coarse)
        count_rows(*bounds, counting)
        return counting

    workers = workers or os.cpu_count() or 1
    with ThreadPoolExecutor(workers) as pool:
        first, *others = pool.map(band, _bands(rows, workers))
    tallies = [tally_of(first.tallies, part) for part in range(2)]
    for other in others:
        for part, tally in enumerate(tallies):
            tally.merge(tally_of(other.tallies, part))
        merge_found(first.found, other.found)
    shares = {share.gamut: share for share in shares_of(first.found, in_order, area.pixels, frame)}
    by_name = {name: shares[name] for name, _ in map(gamut_named, gamuts)}
    return FrameFigures(FrameTally(frame, area, *tallies), by_name, coarse)


def _bands(rows: int, workers: int) -> list[tuple[int, int]]:
    """Return the first row and the end of the bands for so many threads."""
    step = max(1, -(-rows // (BANDS_A_THREAD * workers)))
    return [(top, min(top + step, rows)) for top in range(0, rows, step)]


def _counter(content: Picture | Planes, encoding: Encoding | None) -> Callable[[int, int, Counting], None]:
    """Return what counts rows top..bottom - 1 of a picture or of planes."""
    if isinstance(content, Planes):
        assert encoding is not None  # of a movie's frame
        measure_planes = compiled_rows().measure_planes
        flat, recipe = flat_planes(content), planes_recipe(content.coding, encoding)
        return lambda top, bottom, counting: measure_planes(flat, recipe, top, bottom, counting)

    picture, measure_light = content, compiled_rows().measure_light

    def count(top: int, bottom: int, counting: Counting) -> None:
        step = max(1, STRIP_SAMPLES // picture.columns)
        light = np.empty((3, step, picture.columns), np.float32)
        for start in range(top, bottom, step):
            end = min(start + step, bottom)
            light[:, : end - start] = np.moveaxis(light_of_rows(picture, start, end), 2, 0)
            measure_light(light, start, end, counting)

    return count


def coded_as(content: Picture | Planes, encoding: Encoding | None) -> Encoding:
    """Return the encoding of the codes that a picture, or planes of some encoding, come from."""
    if isinstance(content, Picture):
        return content.encoding
    assert encoding is not None  # of a movie's frame
    return codes_of(content.coding, encoding)


def codes_of(coding: Coding, encoding: Encoding) -> Encoding:
    """Return the encoding of the code values that planes hold, as far as telling colours apart goes."""
    bits = coding.bits if coding.matrix is None else CODES_OF_CHROMA[coding.bits]
    return replace(encoding, bits=bits, signal_range=coding.signal_range)


def tally_frame(
    picture: Picture, area: Rectangle | None = None, frame: int = 0, workers: int | None = None
) -> FrameTally:
    """Count the light of a frame, without its gamut: for `ProgrammeLevels.add`, or for `tally_frame(...).levels`."""
    return measure_frame(picture, area, frame, (), workers=workers).tally


def light_of(frame: Frame) -> Array:
    """Return a frame's light (rows, columns, 3), BT.2020, cd/m2, float32."""
    assert frame.content is not None  # it has no fault
    return measure_frame(frame.content, gamuts=(), encoding=frame.encoding, coarse_step=1).coarse


def gamut_tolerance(picture: Picture) -> float:
    """Return how much of a negative component is arithmetic: more where all samples are half-floats."""
    if picture.encoding.bits is not None:
        return TOLERANCE
    with np.errstate(over="ignore", invalid="ignore"):
        as_half = picture.samples.astype(np.float16)
        is_half = bool(np.all((as_half == picture.samples) | ~np.isfinite(picture.samples)))
    return HALF_FLOAT_TOLERANCE if is_half else TOLERANCE
