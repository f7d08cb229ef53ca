"""Levels and thumbnails of all frames, made by a process of low priority while the bench is used. Plain Python.

A process and not a thread: what compiles and counts there would hold up the interface here.
"""

import multiprocessing
import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from multiprocessing import resource_tracker
from threading import Thread

import numpy as np

from .overview import work
from .reel import Reel


@contextmanager
def _without_stops() -> Iterator[None]:
    """Let a process that is started inside hear no Ctrl-C: it ends with the bench, which hears it in its place."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    resource_tracker.ensure_running()  # which lets this thread hear it again
    before = signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGINT])
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


class Background:
    """What is known so far of the frames of a reel.

    Parameters
    ----------
    called : is called from a thread when there is more; it must be safe to call from there

    Attributes
    ----------
    maximum, average : of every frame's light, cd/m2; NaN where it is not measured, or there is no picture
    measured : how many frames were measured, those without a picture included
    thumbnails : small pictures by their frames, uint8 (rows, columns, 3); None for a frame without a picture
    """

    def __init__(self, reel: Reel, called: Callable[[], None] = lambda: None) -> None:
        self.reel = reel
        self.maximum, self.average = (np.full(reel.count, np.nan) for _ in range(2))
        self.measured = 0
        self.thumbnails: dict[int, np.ndarray | None] = {}
        self.is_held = False
        self._called = called
        self._wanted: tuple[int, ...] = ()
        context = multiprocessing.get_context("spawn")
        self._connection, other = context.Pipe()
        self._process = context.Process(target=work, args=(reel, other), name="overview", daemon=True)
        with _without_stops():
            self._process.start()
        other.close()
        self._thread = Thread(target=self._receive, name="overview", daemon=True)
        self._thread.start()

    @property
    def is_measured(self) -> bool:
        """Whether every frame is measured."""
        return self.measured == self.reel.count

    def want_thumbnails(self, indices: Sequence[int]) -> None:
        """Say which thumbnails are wanted now; those that are not wanted any more are forgotten."""
        wanted = tuple(indices)
        if wanted == self._wanted:
            return
        self._wanted = wanted
        for index in [index for index in self.thumbnails if index not in wanted]:
            self.thumbnails.pop(index, None)
        self._send(("thumbnails", [index for index in wanted if index not in self.thumbnails]))

    def hold(self, is_held: bool) -> None:
        """Let the process rest, so that playing has the machine for itself, or go on."""
        if is_held != self.is_held:
            self.is_held = is_held
            self._send(("hold", is_held))

    def close(self) -> None:
        """End the process."""
        self._send(("end", None))
        self._process.join(timeout=0.2)
        if self._process.is_alive():
            self._process.terminate()
            self._process.join()
        self._thread.join()
        self._connection.close()

    def _send(self, message: tuple[str, object]) -> None:
        try:
            self._connection.send(message)
        except OSError:
            return  # the process has ended; what it sent is kept

    def _receive(self) -> None:
        while True:
            try:
                kind, value = self._connection.recv()
            except (EOFError, OSError):
                return
            if kind == "levels":
                index, maximum, average = value
                self.maximum[index], self.average[index] = maximum, average
                self.measured += 1
            else:
                self.thumbnails[value[0]] = value[1]
            self._called()
