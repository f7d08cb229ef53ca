"""Long work on the command line: a bar on a terminal."""

import sys
import time

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
