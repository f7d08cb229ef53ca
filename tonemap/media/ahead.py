"""Reading ahead: frames are read and decoded in a thread of their own while earlier ones are worked on."""

from collections.abc import Generator, Iterator
from queue import Full, Queue
from threading import Event, Thread
from typing import TypeVar

Item = TypeVar("Item")

DEPTH = 2


def ahead(items: Iterator[Item], depth: int = DEPTH) -> Generator[Item, None, None]:
    """Yield the items in order; up to `depth` of them are made ahead. What making them raises is raised here.

    Close it where it may be left before its end: an interrupt while it closes by itself would be lost.

    Examples
    --------
    >>> list(ahead(iter("abc")))
    ['a', 'b', 'c']
    """
    made: Queue[tuple[Item] | BaseException | None] = Queue(depth)
    stop = Event()

    def put(value: tuple[Item] | BaseException | None) -> bool:
        while not stop.is_set():
            try:
                made.put(value, timeout=0.1)
                return True
            except Full:
                continue
        return False

    def make() -> None:
        try:
            for item in items:
                if not put((item,)):
                    break
            put(None)
        except BaseException as fault:  # handed over, whatever it is
            put(fault)
        finally:
            close = getattr(items, "close", None)
            if close is not None:
                close()

    worker = Thread(target=make, name="reading ahead", daemon=True)
    worker.start()
    try:
        while (value := made.get()) is not None:
            if isinstance(value, BaseException):
                raise value
            yield value[0]
    finally:
        stop.set()
        worker.join()
