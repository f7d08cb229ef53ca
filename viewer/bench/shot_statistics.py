"""Statistics of the shot that is shown, for operators that need them: measured once, in a thread. Plain Python."""

import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from threading import Condition, Thread

from tonemap.errors import TrimbenchError
from tonemap.media.ahead import ahead
from tonemap.media.master import Master
from tonemap.operator import Statistics
from tonemap.statistics import FramesTogether

TELL = 0.5
"""Seconds between two calls that more is measured."""


@dataclass(frozen=True)
class Stretch:
    """Frames of a master that are measured together: a shot's, or what lies between two."""

    master: Master
    first: int
    last: int

    @property
    def count(self) -> int:
        """The number of frames that there are."""
        return min(self.last, self.master.count - 1) - self.first + 1


class ShotStatistics:
    """Measures stretches when they are asked for, the one that was asked for last first.

    Parameters
    ----------
    called : is called from the thread when there is more; it must be safe to call from there

    Attributes
    ----------
    measured : how many frames of the stretch at work are measured
    """

    def __init__(self, called: Callable[[], None]) -> None:
        self._called = called
        self._known: dict[Stretch, Statistics | TrimbenchError] = {}
        self._wanted: Stretch | None = None
        self.measured = 0
        self._is_held = self._is_closed = False
        self._stirred = Condition()
        self._thread: Thread | None = None

    def of(self, stretch: Stretch) -> Statistics | None:
        """Return the statistics of a stretch; None while they are measured, which begins now.

        Raises
        ------
        TrimbenchError
            When none of its frames can be measured.
        """
        found = self._known.get(stretch)
        if isinstance(found, TrimbenchError):
            raise type(found)(str(found))
        if found is None and stretch != self._wanted:
            with self._stirred:
                self._wanted, self.measured = stretch, 0
                self._stirred.notify()
            if self._thread is None:
                self._thread = Thread(target=self._run, name="measuring a shot", daemon=True)
                self._thread.start()
        return found

    def wait(self) -> None:
        """Wait until what is wanted is measured."""
        with self._stirred:
            self._stirred.wait_for(lambda: self._wanted is None)

    def hold(self, is_held: bool) -> None:
        """Let the thread rest, so that playing has the machine for itself, or go on."""
        if is_held != self._is_held:
            with self._stirred:
                self._is_held = is_held
                self._stirred.notify()

    def close(self) -> None:
        """End the thread, which it does by itself after the frame that is being measured."""
        with self._stirred:
            self._is_closed = True
            self._stirred.notify()

    def _run(self) -> None:
        while True:
            with self._stirred:
                self._stirred.wait_for(lambda: self._is_closed or self._wanted is not None)
                if self._is_closed:
                    return
                stretch = self._wanted
            if stretch is not None:
                self._measure(stretch)

    def _measure(self, stretch: Stretch) -> None:
        """Measure a stretch, unless another one is wanted before it is done."""
        together, told = FramesTogether(stretch.master.facts.path), time.monotonic()
        result: Statistics | TrimbenchError
        try:
            last = min(stretch.last, stretch.master.count - 1)
            with closing(ahead(stretch.master.frames(stretch.first, last))) as frames:
                for frame in frames:
                    with self._stirred:
                        self._stirred.wait_for(lambda: not self._is_held or not self._is_wanted(stretch))
                    if not self._is_wanted(stretch):
                        return
                    together.add(frame, workers=1)
                    with self._stirred:
                        if not self._is_wanted(stretch):
                            return
                        self.measured += 1
                    if time.monotonic() > told + TELL:
                        told = time.monotonic()
                        self._called()
            result = together.statistics()
        except TrimbenchError as fault:
            result = fault
        except Exception as fault:  # or whoever waits would wait for ever
            result = TrimbenchError(f"{stretch.master.facts.path}: measuring fails: {type(fault).__name__}: {fault}")
        with self._stirred:
            self._known[stretch] = result
            if self._wanted == stretch:
                self._wanted = None
            self._stirred.notify_all()
        self._called()

    def _is_wanted(self, stretch: Stretch) -> bool:
        return not self._is_closed and self._wanted == stretch
