"""A render as a map over chunks of frames, behind the standard Executor interface: other processes, other machines.

The workers write into the same folder as the one that asks, so the output lies where all of them reach it. The manifest
is written by the one that asks alone.
"""

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from dataclasses import dataclass
from typing import Any

from ..parity import Engine
from .findings import Finding, TriedFrames, handed_on, odd_in
from .forms import rendered_by
from .job import Outcome
from .manifest import Entry
from .movie_output import MovieOutput, SegmentCoder
from .programme import Programme, runs
from .sequence_output import FrameWriter, SequenceOutput

CHUNK = 24  # frames of numbered pictures
LOOK = 0.2  # seconds between two looks whether a stop was asked for


@dataclass(frozen=True)
class ChunkResult:
    """What a worker made of a chunk: the files, (number, sentence) of frames without a picture, and what was found."""

    frames: tuple[int, ...]
    entries: tuple[Entry, ...]
    faults: tuple[tuple[int, str], ...]
    findings: tuple[Finding, ...] = ()


def render_chunk(
    programme: Programme, writer: FrameWriter | SegmentCoder, engine: Engine, frames: Sequence[int]
) -> ChunkResult:
    """Render the frames of one chunk; a segment of a movie, where the writer is a coder of those."""
    segment = writer.begin(programme, frames[0] // writer.segment) if isinstance(writer, SegmentCoder) else None
    form = writer.form(programme)
    entries: list[Entry] = []
    faults: list[tuple[int, str]] = []
    findings: list[Finding] = []
    tried = TriedFrames(programme)
    try:
        for frame in programme.frames(frames):
            rendered = watched = None
            if frame.fault is not None:
                faults.append((programme.number(frame.index), frame.fault))
                tried.without(frame.index)
            else:
                chain = programme.chain_at(frame.index)
                rendered = rendered_by(engine, frame, chain, form)
                is_tried = frame.index in tried
                rendered, watched = handed_on(programme, frame, chain, rendered, odd=odd_in(frame), is_tried=is_tried)
            if isinstance(writer, SegmentCoder) and segment is not None:
                segment.put(writer.coded(programme, frame.index, rendered, watched))
            elif isinstance(writer, FrameWriter) and rendered is not None:
                entry, found = writer.write(programme, frame.index, rendered, watched)
                entries.append(entry)
                findings += found
        if segment is not None:
            entry, findings = segment.finish()
            entries.append(entry)
    except BaseException:
        if segment is not None:
            segment.give_up()
        raise
    return ChunkResult(tuple(frames), tuple(entries), tuple(faults), tuple(findings))


def chunks_of(output: SequenceOutput | MovieOutput, programme: Programme) -> list[list[int]]:
    """Return what is still wanted in chunks: segments of a movie, runs of at most `CHUNK` numbered pictures."""
    wanted = output.wanted()
    if isinstance(output, MovieOutput):
        missing = set(wanted)
        return [list(frames) for frames in output.coder.segments(programme) if frames[0] in missing]
    return [
        list(range(start, min(start + CHUNK, last + 1)))
        for first, last in runs(wanted)
        for start in range(first, last + 1, CHUNK)
    ]


def render_on(
    executor: Executor,
    work: Callable[[list[int]], ChunkResult],
    output: SequenceOutput | MovieOutput,
    programme: Programme,
    *,
    after_frame: Callable[[int, int], None] = lambda done, count: None,
    is_stopped: Callable[[], bool] = lambda: False,
) -> Outcome:
    """Render what is still wanted by the workers of an executor; what each sends back is noted at once.

    Parameters
    ----------
    work : renders one chunk, in a worker; it is sent there
    """
    chunks = chunks_of(output, programme)
    output.manifest.begin()  # workers write beside it
    outcome = Outcome(kept=programme.count - sum(map(len, chunks)))
    done = outcome.kept
    pending = [executor.submit(work, chunk) for chunk in chunks]
    try:
        for future in _as_completed(pending, is_stopped):
            result = future.result()
            outcome.faults += result.faults
            outcome.done += len(result.frames) - len(result.faults)
            output.manifest.note(result.findings)
            if not (isinstance(output, MovieOutput) and result.faults):
                for entry in result.entries:
                    output.manifest.add(entry)
            done += len(result.frames)
            after_frame(done, programme.count)
        outcome.faults.sort()
        if done < programme.count:
            output.finish(is_complete=False)
            return outcome
        outcome.notices = output.finish(is_complete=True)
        outcome.is_complete = True
    finally:
        outcome.findings, outcome.whole = output.manifest.findings, output.manifest.whole()
        for future in pending:
            future.cancel()
        output.close()
    return outcome


def _as_completed(pending: Sequence[Future[Any]], is_stopped: Callable[[], bool]) -> Iterator[Future[Any]]:
    """Yield futures as they end; no more of them after a stop, though none may be about to end."""
    waiting = set(pending)
    while waiting and not is_stopped():
        ended, waiting = wait(waiting, LOOK, FIRST_COMPLETED)
        yield from ended
