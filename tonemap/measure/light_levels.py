"""Light levels of a frame: peak and its place, average, percentiles, shares of picture."""

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from ..arrays import Array
from .active_area import Rectangle, whole_frame
from .light_cells import mean_signal, percentiles
from .light_tally import THRESHOLDS, LightTally

REFERENCE_WHITE = 203.0
"""HDR reference white in cd/m2; Report ITU-R BT.2408, Table 1."""

PERCENTS = (50.0, 95.0, 99.0, 99.9, 99.99)


def stops(nits: float) -> float | None:
    """Return the stops between reference white and a level in cd/m2; None for black.

    Examples
    --------
    >>> stops(812.0), stops(0.0)
    (2.0, None)
    """
    return math.log2(nits / REFERENCE_WHITE) if nits > 0.0 else None


@dataclass(frozen=True)
class Percentile:
    """The level that a share of the pixels does not exceed, right to 0.025 %; in stops about reference white."""

    percent: float
    nits: float
    stops: float | None


@dataclass(frozen=True)
class ShareAbove:
    """The share (0..1) of pixels whose max(R, G, B) is above a level in cd/m2."""

    nits: float
    share: float


@dataclass(frozen=True)
class AreaLevels:
    """Light levels of an area, in cd/m2 where nothing else is said; `largest` is max(R, G, B) of BT.2020 light.

    Attributes
    ----------
    pixels : number of pixels that the figures stand for
    maximum : the largest of `largest`
    row, column : the first pixel of the frame that has it
    average : mean of `largest`; of a frame's active area this is the frame-average light level of CTA-861.3, Annex A
    minimum : the smallest of `largest`
    luminance_maximum, luminance_average, luminance_minimum : the same of luminance (BT.2020, exact colorimetry)
    average_picture_level : mean PQ signal of luminance in %, common practice, no source
    percentiles, luminance_percentiles : of `largest` and of luminance; not normative
    above : shares of picture
    """

    pixels: int
    maximum: float
    row: int
    column: int
    average: float
    minimum: float
    luminance_maximum: float
    luminance_average: float
    luminance_minimum: float
    average_picture_level: float
    percentiles: tuple[Percentile, ...]
    luminance_percentiles: tuple[Percentile, ...]
    above: tuple[ShareAbove, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON."""
        return asdict(self)


def levels_of(tally: LightTally) -> AreaLevels:
    """Return the figures of a tally of at least one pixel."""
    largest = percentiles(tally.largest_cells, PERCENTS)
    nits = percentiles(tally.luminance_cells, PERCENTS)
    return AreaLevels(
        pixels=tally.pixels,
        maximum=tally.largest_maximum,
        row=tally.row,
        column=tally.column,
        average=tally.largest_sum / tally.pixels,
        minimum=tally.largest_minimum,
        luminance_maximum=tally.luminance_maximum,
        luminance_average=tally.luminance_sum / tally.pixels,
        luminance_minimum=tally.luminance_minimum,
        average_picture_level=100.0 * mean_signal(tally.luminance_cells),
        percentiles=_within(largest, tally.largest_minimum, tally.largest_maximum),
        luminance_percentiles=_within(nits, tally.luminance_minimum, tally.luminance_maximum),
        above=tuple(
            ShareAbove(nits, count / tally.pixels) for nits, count in zip(THRESHOLDS, tally.above, strict=True)
        ),
    )


def _within(values: list[float], minimum: float, maximum: float) -> tuple[Percentile, ...]:
    """Keep the centre of a cell from passing the extremes, which are known exactly."""
    exact = [min(max(value, minimum), maximum) for value in values]
    return tuple(Percentile(percent, value, stops(value)) for percent, value in zip(PERCENTS, exact, strict=True))


@dataclass(frozen=True)
class FrameLevels:
    """Light levels of a frame: of its active area, which counts, and of all of it."""

    frame: int
    area: Rectangle
    active: AreaLevels
    full: AreaLevels

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON."""
        return asdict(self)


@dataclass
class FrameTally:
    """The tallies of a frame: inside the active area, and of the bars around it."""

    frame: int
    area: Rectangle
    active: LightTally
    bars: LightTally

    @property
    def full(self) -> LightTally:
        """The tally of the whole frame."""
        whole = LightTally()
        whole.merge(self.active)
        whole.merge(self.bars)
        return whole

    @property
    def levels(self) -> FrameLevels:
        """The frame's figures."""
        active = levels_of(self.active)
        full = levels_of(self.full) if self.bars.pixels else active
        return FrameLevels(self.frame, self.area, active, full)

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON, to go on later with `from_dict`."""
        return {
            "frame": self.frame,
            "area": self.area.to_dict(),
            "active": self.active.to_dict(),
            "bars": self.bars.to_dict(),
        }

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> "FrameTally":
        """Return what `to_dict` wrote."""
        tallies = (LightTally.from_dict(values[name]) for name in ("active", "bars"))
        return cls(values["frame"], Rectangle(**values["area"]), *tallies)


def tally_band(light: Array, top: int, area: Rectangle) -> tuple[LightTally, LightTally]:
    """Count a band of whole rows (rows, columns, 3) of a frame from row `top` on: inside an area, and beside it."""
    rows, columns = light.shape[:2]
    first = min(max(area.top - top, 0), rows)
    last = min(max(area.top + area.rows - top, first), rows)
    right = area.left + area.columns
    bars = LightTally()
    for start, stop, left, end in (
        (0, first, 0, columns),
        (first, last, 0, area.left),
        (first, last, right, columns),
        (last, rows, 0, columns),
    ):
        if start < stop and left < end:
            bars.merge(LightTally.of(light[start:stop, left:end], top + start, left))
    return LightTally.of(light[first:last, area.left : right], top + first, area.left), bars


def measure_light(light: Array, area: Rectangle | None = None, frame: int = 0) -> FrameLevels:
    """Measure a frame's light.

    Parameters
    ----------
    light : ndarray (rows, columns, 3), BT.2020 primaries, cd/m2, finite, not negative: as `decode` returns it
    area : the active area; None for the whole frame

    Returns
    -------
    FrameLevels

    Raises
    ------
    WrongCall
        If the area is not within the frame.

    References
    ----------
    CTA-861.3, Annex A (later CTA-861, Annex P), for maximum and average.

    Examples
    --------
    A saturated red counts with its largest channel, not with its luminance:

    >>> import numpy as np
    >>> levels = measure_light(np.array([[[1000.0, 0.0, 0.0], [0.0, 0.0, 0.0]]])).active
    >>> levels.maximum, levels.average, round(levels.luminance_maximum, 1)
    (1000.0, 500.0, 262.7)
    """
    rows, columns = light.shape[:2]
    area = (area or whole_frame(rows, columns)).checked(rows, columns)
    return FrameTally(frame, area, *tally_band(light, 0, area)).levels
