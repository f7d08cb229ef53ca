"""Frames read in a thread of their own, into a ring of a few frames. Plain Python."""

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from threading import Condition, Thread

from tonemap.errors import TrimbenchError
from tonemap.media.dpx import WordsPicture
from tonemap.media.master import Frame
from tonemap.media.planes import Planes
from tonemap.picture import Picture

from .reel import Reel
from .transport import Clock

RING_BYTES = 1 << 28
"""Of the samples that are held ahead, where that is not less than `LEAST` frames."""

LEAST, MOST = 3, 12

OLD, NEW = 0.7, 0.3
"""Shares of the mean that follows how long a frame takes."""


class Reader:
    """Reads the frames that are wanted, the first wanted first, and keeps those.

    Parameters
    ----------
    came : is called from the thread with the number of a frame that has come, or whose picture has; it must be safe to
        call from there
    clock : in seconds; by it is judged whether reading on is quicker than beginning anew

    Attributes
    ----------
    capacity : how many frames are held at most, by what a frame's samples take
    seconds : that each frame takes that is decoded, where reading goes on
    """

    def __init__(self, reel: Reel, came: Callable[[int], None] = lambda _: None, clock: Clock = time.monotonic) -> None:
        self.reel = reel
        self.capacity = MOST
        self.seconds = 0.0
        self._came, self._clock = came, clock
        self._seconds_to_begin = 0.0
        self._ring: dict[int, Frame] = {}
        self._asked: tuple[int, ...] = ()
        self._step, self._makes_picture = 1, False
        self._is_closed = False
        self._stirred = Condition()
        self._frames: Iterator[Frame] | None = None
        self._upcoming = self._stride = 0
        self._thread = Thread(target=self._run, name="reading frames", daemon=True)
        self._thread.start()

    def want(self, wanted: Sequence[int], step: int = 1, makes_picture: bool = False) -> None:
        """Say which frames are wanted, of which the first `capacity` are read, and forget the others soon.

        Parameters
        ----------
        step : from one wanted frame to the next, where only some of them can be shown
        makes_picture : whether the picture of the first of them is made of its planes too, after all are read
        """
        given = tuple(wanted), step, makes_picture
        with self._stirred:
            if given != (self._asked, self._step, self._makes_picture):
                self._asked, self._step, self._makes_picture = given
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
                self._came(self._read(missing, step))
            elif first is not None and first.picture is not None:  # makes it, and the frame keeps it
                self._forget_pictures_beside(first)
                self._came(first.index)
        self._end()

    @property
    def _wanted(self) -> tuple[int, ...]:
        return self._asked[: self.capacity]

    def _missing(self) -> list[int]:
        return [index for index in self._wanted if index not in self._ring]

    def _has_work(self) -> bool:
        first = self._ring.get(self._wanted[0]) if self._wanted else None
        is_without_picture = self._makes_picture and first is not None and first.is_coded
        return is_without_picture or bool(self._missing())

    def _read(self, missing: list[int], step: int) -> int:
        """Read one frame, the first that is missing or one on the way to it, and return which."""
        start = self._clock()
        wanted = missing[0]
        goes_on = self._is_on_the_way(wanted, step)
        if not goes_on:
            self._begin(wanted, missing, step)
        before = self._upcoming - self._stride
        try:
            if self._frames is None:
                raise TrimbenchError(f"{self.reel.facts_at(wanted).path}: frame {wanted} can't be read")
            frame = next(self._frames)
            self._upcoming = frame.index + self._stride
        except (TrimbenchError, StopIteration) as fault:
            self._end()
            encoding = self.reel.facts_at(wanted).encoding
            frame = Frame(wanted, f"frame {self.reel.number(wanted)}", encoding, fault=str(fault))
        if frame.content is not None:
            self.capacity = min(max(RING_BYTES // _bytes_of(frame.content), LEAST), MOST)
        self._note_time(self._clock() - start, frame.index, before if goes_on else None)
        with self._stirred:
            self._ring[frame.index] = frame
            for index in [index for index in self._ring if index not in self._wanted and index != frame.index]:
                if len(self._ring) <= self.capacity:
                    break
                del self._ring[index]
        return frame.index

    def _note_time(self, taken: float, index: int, before: int | None) -> None:
        """Note how long a frame took after the one before it, or after reading began: then decoders fill up first."""
        if before is None:
            self._seconds_to_begin = OLD * self._seconds_to_begin + NEW * taken if self._seconds_to_begin else taken
        else:
            decoded = index - max(before, self.reel.start_before(index) - 1)
            self.seconds = OLD * self.seconds + NEW * taken / max(decoded, 1)

    def _is_on_the_way(self, wanted: int, step: int) -> bool:
        """Say whether to read on to a frame: no other way is shorter, or what lies between takes less than a start."""
        between = wanted - self._upcoming
        if self._frames is None or between < 0 or between % self._stride:
            return False
        start = self.reel.start_before(wanted)
        if step != self._stride and start == wanted:
            return False
        return start <= self._upcoming or between // self._stride * self.seconds < self._seconds_to_begin - self.seconds

    def _forget_pictures_beside(self, first: Frame) -> None:
        """Let go of pictures that were made of planes for frames that were passed: each takes four times their room."""
        with self._stirred:
            for index, frame in self._ring.items():
                if frame is not first and frame.planes is not None and not frame.is_coded:
                    self._ring[index] = replace(frame)

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


def _bytes_of(content: Picture | Planes) -> int:
    """Return the room that a frame's samples take, with the chroma that is made for the card, here and not there."""
    if isinstance(content, Picture):
        words = content.words.nbytes if isinstance(content, WordsPicture) else 0  # unpacked here, while nobody waits
        return words + content.samples.nbytes
    made = 0 if content.chroma is None else content.chroma.nbytes
    return made + sum(plane.nbytes for plane in content.components)
