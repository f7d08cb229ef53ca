"""What the bench goes through frame by frame: a still, a sequence or a movie. Plain Python."""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from tonemap.media.master import Facts, Frame, Master
from tonemap.timecode import frames_of, is_drop, text_of

from .shot_statistics import Stretch
from .source_look import Stamp, stamp_of

USUAL_RATE = Fraction(24)
"""Frames a second of a sequence that says none; common practice, no source."""


@dataclass(frozen=True)
class Shot:
    """A shot, by its first and last frame, and what is written in it on the timeline; `keys` are frames."""

    first: int
    last: int
    name: str
    trim: str = ""
    keys: tuple[int, ...] = ()


class Reel:
    """The frames of a master in order.

    Attributes
    ----------
    count : number of frames, those that are missing included
    rate : frames a second; `is_rate_known` says whether the files state it
    shots : in order; what lies between them is no shot
    read : of every frame that was read, what its file was then
    """

    def __init__(self, master: Master) -> None:
        self.master = master
        self.count = master.count
        self.rate = master.facts.rate or USUAL_RATE
        self.is_rate_known = master.facts.rate is not None
        self.timecode = master.facts.timecode
        self.shots: tuple[Shot, ...] = ()
        self.read: dict[int, Stamp] = {}

    def __getstate__(self) -> dict[str, Any]:
        """Return what another process gets: without what was read here, to which a thread may be adding."""
        return {**vars(self), "read": {}}

    def files(self) -> list[Path]:
        """Return the files that the frames are read from."""
        return self.master.files()

    def file_at(self, index: int) -> Path | None:
        """Return the file that a frame is read from; None where there is no master."""
        return self.master.file_at(index)

    def stretch_at(self, _index: int) -> Stretch | None:
        """Return the frames that are measured together with a frame; None where there is no master."""
        return Stretch(self.master, 0, self.count - 1)

    def facts_at(self, _index: int) -> Facts:
        """Return what is known of the master that a frame comes from."""
        return self.master.facts

    def frames(self, first: int, step: int = 1) -> Iterator[Frame]:
        """Yield the frames first, first + step, ...; one without a picture has its fault."""
        return self._noted(self.master.frames(first, None, step), first, step)

    def start_before(self, index: int) -> int:
        """Return the frame at `index`, or one before it at which reading must begin to get at it."""
        return self.master.nearest_start(index)

    def number(self, index: int) -> int:
        """Return what the user calls a frame."""
        return self.master.number(index)

    def timecode_at(self, index: int) -> str | None:
        """Return the timecode of a frame, None where it is not known."""
        if self.timecode is None or not self.is_rate_known:
            return None
        drop = is_drop(self.timecode)
        return text_of(frames_of(self.timecode, self.rate, drop) + index, self.rate, drop)

    def _noted(self, frames: Iterator[Frame], first: int, step: int) -> Iterator[Frame]:
        """Yield frames, and note of each what its file is when it is read; a movie's when it is opened."""
        path, stamp, index = None, None, first
        while True:
            if (file := self.file_at(index)) != path:
                path, stamp = file, None if file is None else stamp_of(file)
            frame = next(frames, None)
            if frame is None:
                return
            if stamp is not None:
                self.read[frame.index] = stamp
            yield frame
            index += step

    def first_frame(self) -> Frame:
        """Return the first frame that has a picture, or the very first with its fault."""
        frames = self.frames(0)
        first = next(frames)
        return first if first.content is not None else next((frame for frame in frames if frame.content), first)
