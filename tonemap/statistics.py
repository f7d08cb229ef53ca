"""Statistics of the master's light that operators may need: measured, or what stands for them where nothing is."""

from contextlib import closing
from typing import TYPE_CHECKING

import numpy as np

from .errors import TrimbenchError
from .operator import Levels, Statistics

if TYPE_CHECKING:
    from pathlib import Path

    from .measure.light_levels import AreaLevels
    from .media.master import Frame, Master
    from .picture import Picture

SMALLEST = 0.001
GREY_NITS = 26.0  # 18 % grey of a PQ master; Report ITU-R BT.2408-8, Table 1


def measure_statistics(picture: "Picture") -> Statistics:
    """Measure a frame."""
    from .measure.frame import tally_frame

    return statistics_of(tally_frame(picture).levels.full)


def measure_frames(master: "Master", first: int, last: int) -> Statistics:
    """Measure all frames first..last of a master together, as those of a shot; ones that can't be read are left out.

    Raises
    ------
    TrimbenchError
        When none of them can be read.
    WrongCall
        When there are no such frames.
    """
    from .media.ahead import ahead

    together = FramesTogether(master.facts.path)
    with closing(ahead(master.frames(first, min(last, master.count - 1)))) as frames:
        for frame in frames:
            together.add(frame)
    return together.statistics()


class FramesTogether:
    """Frames that are measured one after another as one; those that can't be read are left out.

    Parameters
    ----------
    path : of the master, for a sentence
    """

    def __init__(self, path: "Path") -> None:
        from .measure.light_tally import LightTally

        self._path, self._tally = path, LightTally()
        self._fault: str | None = None

    def add(self, frame: "Frame", workers: int | None = None) -> None:
        """Measure a frame too; `workers` as `measure_frame` takes them."""
        from .measure.frame import measure_frame

        if frame.content is None:
            self._fault = self._fault or frame.fault
            return
        found = measure_frame(frame.content, gamuts=(), encoding=frame.encoding, workers=workers)
        self._tally.merge(found.tally.full)

    def statistics(self) -> Statistics:
        """Return the statistics of all frames so far; raises TrimbenchError when there are none."""
        from .measure.light_levels import levels_of

        if not self._tally.pixels:
            words = "no frame can be measured for the operator that needs it"
            raise TrimbenchError(f"{self._path}: {words}: {self._fault}")
        return statistics_of(levels_of(self._tally))


def statistics_of(levels: "AreaLevels") -> Statistics:
    """Return the statistics of a frame or a shot whose light was measured; percentiles are right to 0.025 %."""
    at = {item.percent: item.nits for item in levels.percentiles}
    return _as_the_card_gets_them(levels.maximum, at[99.9], at[50.0], levels.average)


def stand_ins(levels: Levels) -> Statistics:
    """Return what stands for statistics where nothing is measured: the master's peak, and 18 % grey."""
    grey = min(GREY_NITS, levels.source_peak)
    return _as_the_card_gets_them(levels.source_peak, levels.source_peak, grey, grey)


def _as_the_card_gets_them(*nits: float) -> Statistics:
    return Statistics(*(float(np.float32(max(value, SMALLEST))) for value in nits))
