"""Where in the frames the bench is, and where the clock says that it should be while it plays. Plain Python."""

import math
import time
from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import Any

from .reel import Shot

Clock = Callable[[], float]

NEARLY = 1e-6
"""Of a frame's time, by which one is due too early: sums of times are not exact."""


class Transport:
    """The playhead: it stands on a frame, or runs by a clock at the master's rate.

    While it plays, places are counted from the frame it began with, and go on over the end of a loop. Every place that
    was due and was not shown counts as dropped.

    Attributes
    ----------
    position : the frame that is shown, or wanted
    direction : 1 or -1, the way of the last step
    first, last : what is played: the marks, or all
    dropped, shown : frames since playing began
    """

    def __init__(self, count: int, rate: Fraction, clock: Clock = time.monotonic) -> None:
        self.count, self.rate, self.clock = count, rate, clock
        self.position, self.direction = 0, 1
        self.first, self.last = 0, count - 1
        self.is_looping = False
        self.is_playing = False
        self.dropped, self.shown = 0, 0
        self._start, self._began, self._place = 0, 0.0, 0

    @property
    def is_marked(self) -> bool:
        """Whether a part is marked."""
        return (self.first, self.last) != (0, self.count - 1)

    def play(self) -> None:
        """Run from the frame that is shown; from the first mark where that lies outside of the marks, or at the end."""
        if self.count < 2:
            return
        is_at_end = self.position == self.last and not self.is_looping
        if not self.first <= self.position <= self.last or is_at_end:
            self.position = self.first
        self.is_playing, self.direction = True, 1
        self.dropped, self.shown = 0, 0
        self._start, self._began, self._place = self.position, self.clock(), 0

    def pause(self) -> None:
        """Stand on the frame that is shown."""
        self.is_playing = False

    def go(self, index: int) -> None:
        """Stand on a frame, the nearest there is."""
        self.is_playing = False
        index = min(max(index, 0), self.count - 1)
        if index != self.position:
            self.direction = 1 if index > self.position else -1
        self.position = index

    def mark_first(self) -> None:
        """Begin what is played with the frame that is shown; once more on the same frame: with the first."""
        self.first = 0 if self.first == self.position else self.position
        self.last = self.last if self.first <= self.last else self.count - 1
        self._anew()

    def mark_last(self) -> None:
        """End what is played with the frame that is shown; once more on the same frame: with the last."""
        self.last = self.count - 1 if self.last == self.position else self.position
        self.first = self.first if self.first <= self.last else 0
        self._anew()

    def loop(self, is_looping: bool) -> None:
        """Begin again after the end, or not."""
        self.is_looping = is_looping
        self._anew()

    def take_marks(self, other: "Transport") -> None:
        """Take up the marks and the loop of another one, where it has as many frames."""
        if other.count == self.count:
            self.first, self.last, self.is_looping = other.first, other.last, other.is_looping

    def mark(self, marks: Any) -> None:
        """Take up marks and the loop as they were kept: first, last, is_looping; what can't be is left out."""
        match marks:
            case [int(first), int(last), bool(is_looping)] if 0 <= first <= last < self.count:
                self.first, self.last, self.is_looping = first, last, is_looping

    def go_to_shot(self, shots: Sequence[Shot], step: int) -> None:
        """Go to the first frame of the next shot, or of the one before; without any, to the end or the start."""
        starts = sorted({0, *(shot.first for shot in shots), *(shot.last + 1 for shot in shots)} - {self.count})
        if step > 0:
            self.go(next((start for start in starts if start > self.position), self.count - 1))
        else:
            self.go(max((start for start in starts if start < self.position), default=0))

    @property
    def place(self) -> int:
        """The place that was shown last."""
        return self._place

    def due(self) -> int:
        """Return the place at which playing should be now."""
        place = math.floor((self.clock() - self._began) * self.rate + NEARLY)
        return place if self.is_looping else min(place, self.last - self._start)

    def seconds_to_next(self) -> float:
        """Return how long it is until another frame is due."""
        return max(float(self._began + (self.due() + 1) / self.rate) - self.clock(), 0.0)

    def index_of(self, place: int) -> int | None:
        """Return the frame at a place; None behind the end."""
        index = self._start + place
        if index <= self.last:
            return index
        return self.first + (index - self.last - 1) % (self.last - self.first + 1) if self.is_looping else None

    def show(self, place: int) -> None:
        """Note that the frame of a place is shown now; those between count as dropped. At the end, stand."""
        self.dropped += place - self._place - 1
        self.shown += 1
        self._place = place
        index = self.index_of(place)
        self.position = self.position if index is None else index
        if self.position == self.last and not self.is_looping:
            self.is_playing = False

    def _anew(self) -> None:
        """Count the places from the frame that is shown, where it is playing; what was counted stays."""
        if not self.is_playing:
            return
        if not self.first <= self.position <= self.last:
            self.position = self.first
        self._start, self._began, self._place = self.position, self.clock(), 0
