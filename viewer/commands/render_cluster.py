"""trimbench render --scheduler: the same job on the workers of a Dask cluster that the user has started."""

import argparse
import logging
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from tonemap.errors import TrimbenchError, WrongCall
from tonemap.render.chunks import ChunkResult, render_chunk, render_on
from tonemap.render.job import Outcome
from tonemap.render.movie_output import MovieOutput
from tonemap.render.programme import Programme

from . import options

PATIENCE = 10.0  # seconds to find the scheduler
_OF_THREAD = threading.local()


def render_by_cluster(
    parsed: argparse.Namespace,
    programme: Programme,
    output: Any,
    after_frame: Callable[[int, int], None],
    is_stopped: Callable[[], bool],
) -> Outcome:
    """Render on the cluster; a chunk whose worker dies is given to another by the scheduler."""
    work = Work(sendable(parsed), _writer_of(output))
    with _executor(parsed.scheduler) as executor:
        return render_on(executor, work, output, programme, after_frame=after_frame, is_stopped=is_stopped)


def _writer_of(output: Any) -> Any:
    """Return what the workers write with; a frame that a worker wrote before it died is written again by another."""
    return output.coder if isinstance(output, MovieOutput) else replace(output.writer, may_replace=True)


class Work:
    """Renders a chunk in a worker, which opens the programme by the same words as the one that asks."""

    def __init__(self, parsed: argparse.Namespace, writer: Any) -> None:
        self.parsed, self.writer = parsed, writer

    def __call__(self, frames: list[int]) -> ChunkResult:
        """Render the frames."""
        programme, engine = self._opened()
        return render_chunk(programme, self.writer, engine, frames)

    def _opened(self) -> tuple[Programme, Any]:
        """Return programme and engine of this thread, which keeps them: an engine's context belongs to one thread."""
        key = repr(sorted(vars(self.parsed).items(), key=str))
        if getattr(_OF_THREAD, "key", None) != key:
            from .render_programme import programme_of

            host = options.host_of(self.parsed)
            _OF_THREAD.opened = programme_of(self.parsed, host), options.engine_of(self.parsed.engine)
            _OF_THREAD.key = key
        opened: tuple[Programme, Any] = _OF_THREAD.opened
        return opened


def sendable(parsed: argparse.Namespace) -> argparse.Namespace:
    """Return the words with whole paths, and without what belongs to this process."""
    words = {name: value for name, value in vars(parsed).items() if not callable(value)}
    for name, value in words.items():
        if isinstance(value, Path):
            words[name] = value.resolve()
    words["operator_folders"] = [folder.resolve() for folder in parsed.operator_folders]
    return argparse.Namespace(**words)


def refuse_malformed(address: str) -> None:
    """Raise WrongCall for what is no address; the library would wait for it, and speak."""
    try:
        parts = urlsplit(address if "://" in address else f"tcp://{address}")
        is_whole = bool(parts.hostname and parts.port)
    except ValueError:
        is_whole = False
    if not is_whole:
        raise WrongCall(f"--scheduler {address} is no address of a scheduler; write tcp://HOST:PORT")


@contextmanager
def _executor(address: str) -> Iterator[Any]:
    """Give the executor of a running cluster."""
    refuse_malformed(address)
    try:
        import distributed
    except ImportError:
        raise TrimbenchError(
            "--scheduler needs the package distributed, which is not installed; pip install 'trimbench[cluster]'"
        ) from None
    logging.getLogger("distributed").setLevel(logging.CRITICAL)  # what is wrong is said here, in one sentence
    connect: Any = distributed.Client
    try:
        client = connect(address, timeout=PATIENCE, set_as_default=False)
    except (OSError, ValueError) as fault:
        raise TrimbenchError(
            f"no scheduler answers at {address} ({fault}); start one with 'dask scheduler' and give its tcp://HOST:PORT"
        ) from fault
    with client:
        if not client.scheduler_info()["workers"]:
            raise TrimbenchError(f"the cluster at {address} has no workers; start some with 'dask worker {address}'")
        executor = client.get_executor(retries=2)
        try:
            yield executor
        except (CancelledError, distributed.KilledWorker) as fault:
            raise TrimbenchError(
                f"the cluster at {address} is gone, or a chunk ends its workers; what is whole stays, and the same "
                "command goes on when there is a cluster again"
            ) from fault
        executor.shutdown(wait=False)
