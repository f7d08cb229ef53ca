"""Stops: Ctrl-C, and what the system sends to end a program, end a command in one sentence, whenever they come."""

import _thread
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

STATUS = 130
SIGNALS = (signal.SIGINT, signal.SIGTERM)
LATER, LONGEST = 0.01, 2.0
"""Seconds until a stop is tried again that came at a bad time, and for how long."""


@contextmanager
def stops_heard(*, to_the_end: bool = False) -> Iterator[Callable[[], bool]]:
    """Make both signals raise KeyboardInterrupt inside, but none that would be lost, or be told as a fault of others.

    What is raised while modules are imported, or in what Python calls by itself, is taken for a fault of theirs, or
    printed and forgotten; so such a stop waits until that is over. What is given says whether one was raised: a
    library may have made another exception of it.

    Parameters
    ----------
    to_the_end : whether the process ends behind this; a stop then ends it at once and without a word
    """
    raised = threading.Event()
    if threading.current_thread() is not threading.main_thread():
        yield raised.is_set
        return
    told = sys.unraisablehook
    came: float | None = None
    latest = SIGNALS[0]

    def stop(number: int, frame: FrameType | None) -> None:
        nonlocal came, latest
        latest = signal.Signals(number)
        came = came or time.monotonic()
        if _is_importing(frame) and time.monotonic() < came + LONGEST:
            _thread.start_new_thread(_again, (latest,))
            return
        came = None
        raised.set()
        raise KeyboardInterrupt

    def not_raised(what: Any) -> None:
        if what.exc_type is KeyboardInterrupt:
            _thread.start_new_thread(_again, (latest,))
        else:
            told(what)

    sys.unraisablehook = not_raised
    before = _taken(stop)
    try:
        yield raised.is_set
    finally:
        for number, handler in before.items():
            signal.signal(number, signal.SIG_DFL if to_the_end else handler)
        sys.unraisablehook = told


@contextmanager
def stop_asked() -> Iterator[Callable[[], bool]]:
    """Make the first stop ask for the end after the frame in hand; a second one interrupts at once."""
    asked = threading.Event()
    if threading.current_thread() is not threading.main_thread():
        yield asked.is_set
        return

    def ask(*_: Any) -> None:
        asked.set()
        give_back()

    def give_back() -> None:
        for number, handler in before.items():
            signal.signal(number, handler)

    before: dict[signal.Signals, Any] = {}
    before.update(_taken(ask))
    try:
        yield asked.is_set
    finally:
        give_back()


def _taken(handler: Callable[[int, FrameType | None], None]) -> dict[signal.Signals, Any]:
    """Hear both signals, but one that is to be ignored, as in a command behind '&'; returns who heard them before."""
    before = {number: signal.getsignal(number) for number in SIGNALS}
    heard = {number: old for number, old in before.items() if old is not signal.SIG_IGN}
    for number in heard:
        signal.signal(number, handler)
    return heard


def _is_importing(frame: FrameType | None) -> bool:
    """Say whether an import is under way in a frame or above it."""
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib"):
            return True
        frame = frame.f_back
    return False


def _again(number: signal.Signals) -> None:
    """Send a signal again, a little later; where that is possible, so that it also ends a wait."""
    time.sleep(LATER)
    if hasattr(signal, "pthread_kill"):
        signal.pthread_kill(threading.main_thread().ident or 0, number)
    else:
        _thread.interrupt_main(number)
