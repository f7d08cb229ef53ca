"""Whether the file of the frame that is shown is still what was read: looked at now and then, in a thread.

Plain Python.
"""

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tonemap.errors import TrimbenchError
from tonemap.media.sequence import is_pattern, numbering_of

from .aside import Aside

LOOK = 1.0
"""Seconds between two looks."""

GLANCE = 0.1
"""Seconds between two looks whether such a look has ended: a share of the network may be slow to answer."""


@dataclass(frozen=True)
class Stamp:
    """What a file is known by: another stamp is another content.

    Attributes
    ----------
    facts : the system's number, size in bytes, and time of the last change in ns; None where it can't be read
    fault : why it can't be read, in the system's words
    """

    path: Path
    facts: tuple[int, int, int] | None
    fault: str | None = None


def stamp_of(path: Path) -> Stamp:
    """Look at a file, or at the last of those that a pattern stands for."""
    try:
        with _file_of(path).open("rb") as file:
            found = os.fstat(file.fileno())
    except OSError as error:
        return Stamp(path, None, error.strerror or type(error).__name__)
    return Stamp(path, (found.st_ino, found.st_size, found.st_mtime_ns))


def _file_of(path: Path) -> Path:
    if not is_pattern(path.name):
        return path
    try:
        numbering = numbering_of(path)
        numbers = numbering.numbers()
    except TrimbenchError:
        return path
    return numbering.path(numbers[-1]) if numbers else path


class SourceLook:
    """Tells once of every change of a file that was read.

    Parameters
    ----------
    clock : in seconds
    """

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._looked = float("-inf")
        self._looking: Aside[Stamp] | None = None
        self._seen: list[Stamp] = []  # by the last two looks
        self._told: Stamp | None = None

    def seconds_to_next(self) -> float:
        """Return how long it is until `changed` has something to do."""
        now = self._clock()
        return max(self._looked + LOOK - now, 0.0) if self._looking is None else GLANCE

    def changed(self, read: Stamp | None) -> Stamp | None:
        """Return what the file is now, where that is another thing than was told before; else None.

        Parameters
        ----------
        read : the file as it was read; None where there is none to look at

        Returns
        -------
        stamp : with its fault; another one than `read`, for a file that was written anew and has come to rest; `read`
            itself, for one that is as it was again
        """
        now = self._clock()
        if self._looking is not None and self._looking.is_done:
            looking, self._looking = self._looking, None
            looking.finish()
            return self._judged(read)
        if self._looking is None and now >= self._looked + LOOK:
            self._looked = now
            if read is not None:
                self._looking = Aside("the file", lambda: stamp_of(read.path), self._see, lambda: None)
        return None

    def forget(self) -> None:
        """Begin anew, after a file was read again."""
        self._seen, self._told = [], None

    def _see(self, stamp: Stamp) -> None:
        if self._seen and self._seen[-1].path != stamp.path:
            self.forget()
        self._seen = [*self._seen[-1:], stamp]

    def _judged(self, read: Stamp | None) -> Stamp | None:
        seen = self._seen[-1]
        if read is None or seen.path != read.path:
            return None  # another frame is shown now
        if seen == read:
            was_told, self._told = self._told is not None, None
            return seen if was_told else None
        is_at_rest = seen.fault is not None or self._seen[:-1] == [seen]  # or the same at two looks
        if seen == self._told or not is_at_rest:
            return None
        self._told = seen
        return seen
