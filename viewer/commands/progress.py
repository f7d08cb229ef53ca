"""Long work on the command line: a bar on a terminal, and a stop that is asked for by Ctrl-C."""

import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

WIDTH = 30


class ProgressBar:
    """Shows how far the work is, where somebody looks, or where another program asked to be told.

    Parameters
    ----------
    in_lines : whether each step is a line of its own, 'DONE/COUNT frames'
    """

    def __init__(self, *, in_lines: bool = False) -> None:
        self.is_shown = sys.stderr.isatty() and not in_lines
        self._in_lines = in_lines
        self._start = time.monotonic()
        self._first: int | None = None

    def show(self, done: int, count: int) -> None:
        """Draw the bar anew; the rate is that since the first call."""
        if self._in_lines:
            print(f"{done}/{count} frames", file=sys.stderr, flush=True)
        if not self.is_shown:
            return
        if self._first is None:
            self._first = done - 1
        rate = (done - self._first) / max(time.monotonic() - self._start, 1e-6)
        filled = WIDTH * done // count
        bar = "\u2588" * filled + "\u2591" * (WIDTH - filled)
        left = (count - done) / rate
        print(f"\r{bar} {done}/{count} frames, {rate:.1f} a second, {left:.0f} s left \033[K", end="", file=sys.stderr)

    def clear(self) -> None:
        """Take the bar away."""
        if self.is_shown:
            print("\r\033[K", end="", file=sys.stderr, flush=True)


@contextmanager
def stop_asked() -> Iterator[Callable[[], bool]]:
    """Make the first Ctrl-C ask for a stop after the frame in hand; a second one interrupts at once."""
    asked = threading.Event()
    if threading.current_thread() is not threading.main_thread():
        yield asked.is_set
        return

    def ask(*_: Any) -> None:
        asked.set()
        signal.signal(signal.SIGINT, before)

    before = signal.signal(signal.SIGINT, ask)
    try:
        yield asked.is_set
    finally:
        signal.signal(signal.SIGINT, before)
