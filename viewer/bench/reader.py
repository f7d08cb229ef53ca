"""Frames read in a thread of their own, into a ring of a few frames. Plain Python."""

import time
from collections.abc import Callable, Iterator, Sequence
from threading import Condition, Thread

from tonemap.errors import TrimbenchError
from tonemap.media.master import Frame

from .reel import Reel

RING_BYTES = 1 << 28
"""Of the samples that are held ahead, where that is not less than `LEAST` frames."""

LEAST, MOST = 3, 12
BYTES = 12
"""A pixel of a picture in floating point; planes take less."""

OLD, NEW = 0.7, 0.3
"""Shares of the mean that follows how long a frame takes."""


class Reader:
    """Reads the frames that are wanted, the first wanted first, and keeps those.

    Parameters
    ----------
    called : is called from the thread when what was wanted first has come; it must be safe to call from there
    """

    def __init__(self, reel: Reel, called: Callable[[], None] = lambda: None) -> None:
        facts = reel.facts_at(0)
        self.reel = reel
        self.capacity = min(max(RING_BYTES // (BYTES * facts.rows * facts.columns), LEAST), MOST)
        self.seconds = 0.0
        self.called = called
        self._ring: dict[int, Frame] = {}
        self._wanted: tuple[int, ...] = ()
        self._step, self._makes_picture = 1, False
        self._is_closed = False
        self._stirred = Condition()
        self._frames: Iterator[Frame] | None = None
        self._upcoming = self._stride = 0
        self._thread = Thread(target=self._run, name="reading frames", daemon=True)
        self._thread.start()

    def want(self, wanted: Sequence[int], step: int = 1, makes_picture: bool = False) -> None:
        """Say which frames are wanted, at most `capacity` of them, and forget the others soon.

        Parameters
        ----------
        step : from one wanted frame to the next, where only some of them can be shown
        makes_picture : whether the picture of the first of them is made of its planes too, after all are read
        """
        given = tuple(wanted[: self.capacity]), step, makes_picture
        with self._stirred:
            if given != (self._wanted, self._step, self._makes_picture):
                self._wanted, self._step, self._makes_picture = given
                self._stirred.notify()

    def get(self, index: int) -> Frame | None:
        """Return a frame if it is there."""
        return self._ring.get(index)

    def held(self) -> tuple[int, ...]:
        """Return which frames are there."""
        with self._stirred:
            return tuple(self._ring)

    def close(self) -> None:
        """End the thread; the frame that is being read is waited for."""
        with self._stirred:
            self._is_closed = True
            self._stirred.notify()
        self._thread.join()

    def _run(self) -> None:
        while True:
            with self._stirred:
                while not self._is_closed and not self._has_work():
                    self._stirred.wait()
                if self._is_closed:
                    break
                missing = self._missing()
                step, first = self._step, self._ring.get(self._wanted[0])
            if missing:
                is_awaited = self._read(missing, step) == missing[0]
            elif first is not None:
                is_awaited = first.picture is not None  # makes it, and the frame keeps it
            if is_awaited:
                self.called()
        self._end()

    def _missing(self) -> list[int]:
        return [index for index in self._wanted if index not in self._ring]

    def _has_work(self) -> bool:
        first = self._ring.get(self._wanted[0]) if self._wanted else None
        is_without_picture = self._makes_picture and first is not None and first.is_coded
        return is_without_picture or bool(self._missing())

    def _read(self, missing: list[int], step: int) -> int:
        """Read one frame, the first that is missing or one on the way to it, and return which."""
        start = time.perf_counter()
        wanted = missing[0]
        if not self._is_on_the_way(wanted, step):
            self._begin(wanted, missing, step)
        try:
            if self._frames is None:
                raise TrimbenchError(f"{self.reel.facts_at(wanted).path}: frame {wanted} can't be read")
            frame = next(self._frames)
            self._upcoming = frame.index + self._stride
        except (TrimbenchError, StopIteration) as fault:
            self._end()
            encoding = self.reel.facts_at(wanted).encoding
            frame = Frame(wanted, f"frame {self.reel.number(wanted)}", encoding, fault=str(fault))
        self.seconds = OLD * self.seconds + NEW * (time.perf_counter() - start)
        with self._stirred:
            self._ring[frame.index] = frame
            for index in [index for index in self._ring if index not in self._wanted and index != frame.index]:
                if len(self._ring) <= self.capacity:
                    break
                del self._ring[index]
        return frame.index

    def _is_on_the_way(self, wanted: int, step: int) -> bool:
        """Say whether the frames that are being read lead to one, with none between that need not be read."""
        if self._frames is None or (step != self._stride and self.reel.start_before(wanted) == wanted):
            return False
        if self._upcoming == wanted:
            return True
        return self._upcoming < wanted and self.reel.start_before(wanted) <= self._upcoming

    def _begin(self, wanted: int, missing: list[int], step: int) -> None:
        self._end()
        first, begins = wanted, self.reel.start_before(wanted)
        while begins < first - 1 and first - 1 in missing:
            first -= 1  # what has to be decoded on the way is kept
        self._upcoming, self._stride = first, step if begins == wanted else 1
        try:
            self._frames = self.reel.frames(first, self._stride)
        except TrimbenchError:
            self._frames = None

    def _end(self) -> None:
        close = getattr(self._frames, "close", None)
        if close is not None:
            close()
        self._frames = None
