"""Going through frames: the playhead, the thread that reads, and which frame is shown now. Plain Python."""

import math
import time
from collections.abc import Callable

from tonemap.media.master import Frame

from .reader import NEW, OLD, Reader
from .reel import Reel
from .transport import Clock, Transport

SLACK = 0.25
"""Of a frame's time, by which the mean may be over it and every frame still be wanted: the ring evens out."""

FARTHEST = 240
"""Places that are looked through for the newest frame that has come."""


class Playback:
    """What is gone through, and where.

    Parameters
    ----------
    called : is called from a thread when a frame has come that is waited for; it must be safe to call from there
    clock : in seconds, for the playhead and for how long a frame takes

    Attributes
    ----------
    drawing : seconds that a frame takes from the reader to the screen, as the caller notes by `drew`
    faults : frames without a picture that were met, by their index
    """

    def __init__(self, reel: Reel, called: Callable[[], None] = lambda: None, clock: Clock = time.monotonic) -> None:
        self.reel = reel
        self.transport = Transport(reel.count, reel.rate, clock)
        self.drawing = 0.0
        self._called = called
        self.faults: dict[int, str] = {}
        self._shown: int | None = None
        self._step = 1
        self.reader = Reader(reel, self._came, clock)

    def new_frame(self) -> Frame | None:
        """Return the frame that is to be shown now, if it is another one than before and has come."""
        transport = self.transport
        return self._playing() if transport.is_playing else self._standing(transport.position)

    def drew(self, seconds: float) -> None:
        """Note how long the frame that `new_frame` gave took to the screen."""
        if self.transport.is_playing:
            self.drawing = OLD * self.drawing + NEW * seconds

    def _came(self, index: int) -> None:
        """Call where the frame is waited for: nobody is to draw anew for one that is read ahead."""
        transport = self.transport
        late = range(transport.place + 1, transport.due() + 1)[-FARTHEST:] if transport.is_playing else ()
        if index == transport.position or index in [transport.index_of(place) for place in late]:
            self._called()

    @property
    def is_waiting(self) -> bool:
        """Whether the frame that the playhead stands on has not come yet."""
        return not self.transport.is_playing and self._shown != self.transport.position

    def close(self) -> None:
        """End the thread."""
        self.reader.close()

    def _standing(self, position: int) -> Frame | None:
        way = self.transport.direction
        near = [position + way * step for step in range(self.reader.capacity - 1)] + [position - way]
        self.reader.want([index for index in near if 0 <= index < self.reel.count], makes_picture=True)
        frame = self.reader.get(position)
        return None if frame is None or self._shown == position else self._take(position, frame)

    def _playing(self) -> Frame | None:
        transport, found = self.transport, None
        due = transport.due()
        for place in range(due, max(transport.place, due - FARTHEST), -1):
            index = transport.index_of(place)
            frame = self.reader.get(index) if index is not None else None
            if index is not None and frame is not None:
                transport.show(place)
                found = self._take(index, frame)
                break
        if transport.is_playing:
            self._want(due)
        return found

    def _want(self, due: int) -> None:
        """Want what is due next; where reading or drawing is slower than the rate, only as much as can be shown."""
        transport = self.transport
        step = self._step = self._even_step(max(self.reader.seconds, self.drawing) * float(self.reel.rate))
        place = max(transport.place, due) // step * step + step  # multiples: reading goes on in equal steps
        wanted = [transport.index_of(place + step * ahead) for ahead in range(self.reader.capacity - 1)]
        if None in wanted:
            wanted.append(transport.last)  # the end is shown, however slow it is
        self.reader.want(list(dict.fromkeys(index for index in wanted if index is not None)), step)

    def _even_step(self, needed: float) -> int:
        """Return the step for frames that take so many times their time; kept while it is nearly right."""
        most, least = math.ceil(needed), math.ceil(needed - SLACK)
        return max(min(max(self._step, least), most), 1)

    def _take(self, index: int, frame: Frame) -> Frame:
        self._shown = index
        if frame.content is None:
            self.faults[index] = frame.fault or frame.name
        else:
            self.faults.pop(index, None)
        return frame
