"""Light levels of a programme: MaxCLL and MaxFALL, gathered frame by frame in bounded memory."""

import math
from collections.abc import Mapping
from dataclasses import asdict, astuple, dataclass, replace
from typing import Any

from ..errors import TrimbenchError
from .light_levels import PERCENTS, AreaLevels, FrameLevels, FrameTally, levels_of, stops
from .light_tally import LightTally

ROUNDING = 1e-6
"""Relative: light this little above a whole number of cd/m2 is that number; float32 tells no more apart."""

SAVED_FORMAT = 1


def whole_nits(nits: float) -> int:
    """Round a level up to whole cd/m2, so that it is never understated.

    CTA-861.3 asks for whole numbers and leaves the rounding open; this is our choice, and the float stands beside it.

    Examples
    --------
    >>> whole_nits(1000.0), whole_nits(1000.0001), whole_nits(250.025)
    (1000, 1000, 251)
    """
    return math.ceil(nits * (1.0 - ROUNDING))


@dataclass(frozen=True)
class FrameSummary:
    """One row of the history: what is kept of a frame, in cd/m2, of max(R, G, B) where nothing else is said.

    Attributes
    ----------
    frame : number of the frame
    maximum, row, column : of the active area
    average, minimum : of the active area
    luminance_average : of the active area
    full_average : of the whole frame, bars included
    p50, p95, p99, p99_9, p99_99 : percentiles of the active area; not normative
    pixels, full_pixels : how many pixels the averages stand for
    full_luminance_average : of the whole frame
    """

    frame: int
    maximum: float
    row: int
    column: int
    average: float
    minimum: float
    luminance_average: float
    full_average: float
    p50: float
    p95: float
    p99: float
    p99_9: float
    p99_99: float
    pixels: int
    full_pixels: int
    full_luminance_average: float

    @property
    def percentiles(self) -> tuple[float, ...]:
        """The percentiles in the order of `PERCENTS`."""
        return self.p50, self.p95, self.p99, self.p99_9, self.p99_99


def summary_of(levels: FrameLevels) -> FrameSummary:
    """Keep of a frame's levels what the history holds."""
    active, full = levels.active, levels.full
    p50, p95, p99, p99_9, p99_99 = (percentile.nits for percentile in active.percentiles)
    return FrameSummary(
        levels.frame,
        active.maximum,
        active.row,
        active.column,
        active.average,
        active.minimum,
        active.luminance_average,
        full.average,
        p50,
        p95,
        p99,
        p99_9,
        p99_99,
        active.pixels,
        full.pixels,
        full.luminance_average,
    )


@dataclass(frozen=True)
class PercentilePeak:
    """The largest that a percentile of a frame gets in the programme, and where: not normative."""

    percent: float
    nits: float
    stops: float | None
    frame: int


@dataclass(frozen=True)
class ProgrammeFigures:
    """The figures of a programme.

    Attributes
    ----------
    frames : number of frames measured
    max_cll, max_fall : whole cd/m2 over the active area; CTA-861.3, Annex A (later CTA-861, Annex P)
    max_cll_nits, max_fall_nits : the same before rounding up
    max_cll_frame, max_cll_row, max_cll_column : the first pixel that has MaxCLL
    max_fall_frame : the first frame that has MaxFALL
    max_fall_full, max_fall_full_nits : as MaxFALL, over the whole frame; not normative
    percentile_peaks : MaxCLL with each frame's maximum replaced by a percentile; not normative
    active, full : levels of all frames' pixels taken as one picture; not normative
    """

    frames: int
    max_cll: int
    max_cll_nits: float
    max_cll_frame: int
    max_cll_row: int
    max_cll_column: int
    max_fall: int
    max_fall_nits: float
    max_fall_frame: int
    max_fall_full: int
    max_fall_full_nits: float
    percentile_peaks: tuple[PercentilePeak, ...]
    active: AreaLevels
    full: AreaLevels

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON."""
        return asdict(self)


class ProgrammeLevels:
    """Gathers frames. Histograms are of fixed size; the history grows by one short row a frame.

    Parts of a programme may be gathered apart, in any order, and merged: the figures are then the same to the last bit
    as those of one pass.

    Examples
    --------
    >>> import numpy as np
    >>> from tonemap.measure import frame
    >>> from tonemap.picture import light_picture
    >>> programme = ProgrammeLevels()
    >>> for number, nits in enumerate([100.0, 1000.0]):
    ...     levels = programme.add(frame.tally_frame(light_picture(np.full((2, 2, 3), nits)), frame=number))
    >>> figures = programme.figures
    >>> figures.max_cll, figures.max_cll_frame, figures.max_fall, figures.active.average
    (1000, 1, 1000, 550.0)
    """

    def __init__(self) -> None:
        self._rows: dict[int, FrameSummary] = {}
        self._active = LightTally()
        self._bars = LightTally()

    def add(self, tally: FrameTally) -> FrameLevels:
        """Take a frame's tally over and return the frame's figures; raises TrimbenchError for a frame seen before."""
        levels = tally.levels
        self._claim([tally.frame])
        self._rows[tally.frame] = summary_of(levels)
        self._active.merge(tally.active)
        self._bars.merge(tally.bars)
        return levels

    def merge(self, other: "ProgrammeLevels") -> None:
        """Take another part of the programme over; raises TrimbenchError if a frame is in both."""
        self._claim(list(other._rows))
        self._rows |= other._rows
        self._active.merge(other._active)
        self._bars.merge(other._bars)

    @property
    def history(self) -> tuple[FrameSummary, ...]:
        """What is kept of each frame, in order of their numbers."""
        return tuple(self._rows[frame] for frame in sorted(self._rows))

    @property
    def frames(self) -> int:
        """Number of frames gathered so far."""
        return len(self._rows)

    @property
    def brightest(self) -> FrameSummary:
        """The first frame that has MaxCLL; raises TrimbenchError before the first frame."""
        if not self._rows:
            raise TrimbenchError("no frame was measured, so there are no figures; check that the master has frames")
        return max(self._rows.values(), key=lambda row: (row.maximum, -row.frame))

    @property
    def figures(self) -> ProgrammeFigures:
        """The programme's figures; raises TrimbenchError before the first frame."""
        brightest, rows = self.brightest, self.history
        fullest = max(rows, key=lambda row: (row.average, -row.frame))
        fullest_with_bars = max(row.full_average for row in rows)
        return ProgrammeFigures(
            len(rows),
            whole_nits(brightest.maximum),
            brightest.maximum,
            brightest.frame,
            brightest.row,
            brightest.column,
            whole_nits(fullest.average),
            fullest.average,
            fullest.frame,
            whole_nits(fullest_with_bars),
            fullest_with_bars,
            self._percentile_peaks(),
            *self._levels(brightest),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON, to go on later with `from_dict`."""
        return {
            "format": SAVED_FORMAT,
            "rows": [list(astuple(row)) for row in self.history],
            "active": self._active.to_dict() if self._active.pixels else None,
            "bars": self._bars.to_dict() if self._bars.pixels else None,
        }

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> "ProgrammeLevels":
        """Return what `to_dict` wrote; raises TrimbenchError if another version wrote it."""
        if values.get("format") != SAVED_FORMAT:
            raise TrimbenchError(
                f"the saved figures have format {values.get('format')!r}, and this version reads {SAVED_FORMAT}; "
                "measure from the beginning"
            )
        programme = cls()
        if values["rows"]:
            programme._rows = {row[0]: FrameSummary(*row) for row in values["rows"]}
            programme._active = LightTally.from_dict(values["active"])
            programme._bars = LightTally.from_dict(values["bars"]) if values["bars"] else LightTally()
        return programme

    def _claim(self, frames: list[int]) -> None:
        twice = sorted(self._rows.keys() & set(frames))
        if twice:
            raise TrimbenchError(f"frame {twice[0]} was measured before; measure each frame once")

    def _percentile_peaks(self) -> tuple[PercentilePeak, ...]:
        peaks = []
        for index, percent in enumerate(PERCENTS):
            row = max(self.history, key=lambda row: (row.percentiles[index], -row.frame))
            nits = row.percentiles[index]
            peaks.append(PercentilePeak(percent, nits, stops(nits), row.frame))
        return tuple(peaks)

    def _levels(self, brightest: FrameSummary) -> tuple[AreaLevels, AreaLevels]:
        """Return the levels of all pixels; averages are summed from the history, so that no order of merging shows."""
        rows = self.history
        active = replace(
            levels_of(self._active),
            average=_mean([row.average for row in rows], [row.pixels for row in rows]),
            luminance_average=_mean([row.luminance_average for row in rows], [row.pixels for row in rows]),
            row=brightest.row,
            column=brightest.column,
        )
        whole = LightTally()
        whole.merge(self._active)
        whole.merge(self._bars)
        full = replace(
            levels_of(whole),
            average=_mean([row.full_average for row in rows], [row.full_pixels for row in rows]),
            luminance_average=_mean([row.full_luminance_average for row in rows], [row.full_pixels for row in rows]),
            row=brightest.row if whole.largest_maximum == brightest.maximum else whole.row,
            column=brightest.column if whole.largest_maximum == brightest.maximum else whole.column,
        )
        return active, full


def _mean(averages: list[float], pixels: list[int]) -> float:
    return math.fsum(average * count for average, count in zip(averages, pixels, strict=True)) / sum(pixels)
