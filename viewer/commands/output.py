"""Standard output, watched: what can't be written there is one sentence, and a reader that has gone is none."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
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
