"""Standard output, watched: what can't be written there is one sentence, and a reader that has gone is none."""

import os
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import Any


class OutputFault(Exception):
    """Standard output can't be written; no OSError, so that nothing on the way takes it for one of a file's."""

    def __init__(self, fault: OSError) -> None:
        self.is_reader_gone = isinstance(fault, BrokenPipeError)
        reason = fault.strerror or str(fault)
        super().__init__(f"standard output can't be written: {reason}; make room, or send it elsewhere")


class _Watched:
    """A stream whose faults are OutputFault."""

    def __init__(self, stream: Any) -> None:
        self._stream = stream

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def write(self, text: str) -> int:
        try:
            return int(self._stream.write(text))
        except OSError as fault:
            raise OutputFault(fault) from fault

    def flush(self) -> None:
        try:
            self._stream.flush()
        except OSError as fault:
            raise OutputFault(fault) from fault


class _Unheard:
    """A stream of words that may go lost: what can't be said does not stop the work."""

    def __init__(self, stream: Any) -> None:
        self._stream = stream

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def write(self, text: str) -> int:
        with suppress(OSError):
            self._stream.write(text)
        return len(text)

    def flush(self) -> None:
        with suppress(OSError):
            self._stream.flush()


def fill_closed_ends() -> None:
    """Open what the caller has closed of input, output and errors, or files of ours would get their numbers."""
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # the lowest free number is given first


@contextmanager
def lossy_errors() -> Iterator[None]:
    """Let what is said inside on standard error go lost where it can't be written, or the caller has closed it."""
    before = sys.stderr
    with ExitStack() as stack:
        stream = before or stack.enter_context(Path(os.devnull).open("w", encoding="utf-8"))
        unheard: Any = _Unheard(stream)
        sys.stderr = unheard
        try:
            yield
        finally:
            sys.stderr = before


@contextmanager
def watched_output() -> Iterator[None]:
    """Raise OutputFault for what is printed inside and can't be written, also when it leaves the buffer in the end."""
    stream = sys.stdout
    if stream is None:  # the caller has closed it
        yield
        return
    watched: Any = _Watched(stream)
    sys.stdout = watched
    try:
        try:
            yield
        finally:
            watched.flush()
    except OutputFault:
        with suppress(OSError):  # or the interpreter would complain of what is left in the buffer when it ends
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
        raise
    finally:
        sys.stdout = stream


def printable(text: str) -> str:
    r"""Return text as it can be printed on one line: a file's name may hold line breaks, which would read as ours.

    Examples
    --------
    >>> printable("a\nb: can't be read")
    "a\\nb: can't be read"
    """
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in text)
