"""Numbered pictures as the output of a render."""

from collections import deque
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from ..errors import TrimbenchError, WrongCall
from ..measure.metadata import HdrMetadata
from ..media.oiio import read_picture
from ..media.oiio_output import CODE_FORMATS, HDR_FORMATS, SIGNAL_FORMATS, write_codes, write_signal, write_words
from ..media.sequence import is_pattern, numbering_of
from ..media.whole_file import refuse_existing, refuse_masters, remove_parts
from .findings import Finding, Watched
from .forms import CODES, SIGNAL, WORDS, Form
from .manifest import Entry, Manifest, file_sha256, open_manifest
from .programme import Programme
from .quantising import NOTHING_TO_DITHER, dithered

WRITERS = 2
WAITING = 4  # frames at most that wait for a writer


@dataclass(frozen=True)
class FrameWriter:
    """Writes single frames of a programme; can be sent to another process.

    Attributes
    ----------
    pattern : 'sdr/scene.%04d.dpx'; the ending says the format
    may_replace : whether files that are there already may be replaced
    metadata : of an HDR programme, for files that take it
    """

    pattern: Path
    dither: bool
    may_replace: bool
    metadata: HdrMetadata | None = None

    @property
    def is_signal(self) -> bool:
        """Whether the format holds a floating-point signal."""
        return self.pattern.suffix.lower() in SIGNAL_FORMATS

    def form(self, programme: Programme) -> Form:
        """Return the form in which it takes frames: the file's own, where nothing is to be done to it."""
        if self.is_signal or self.dither:
            return SIGNAL
        is_ten_bit_dpx = self.pattern.suffix.lower() == ".dpx" and programme.target.bits == 10
        return WORDS if is_ten_bit_dpx and programme.caption is None else CODES

    def path(self, programme: Programme, index: int) -> Path:
        """Return the file of a frame."""
        return numbering_of(self.pattern).path(programme.number(index))

    def write(
        self, programme: Programme, index: int, rendered: Any, watched: Watched | None = None
    ) -> tuple[Entry, list[Finding]]:
        """Write a frame, whole or not at all; where it is watched, say what was found."""
        path, target = self.path(programme, index), programme.target
        write: Callable[..., None] = write_signal
        if not self.is_signal:
            write = write_words if self.form(programme) == WORDS else partial(write_codes, metadata=self.metadata)
            rendered = dithered(rendered, target, index) if self.dither else rendered
        timecode, rate = programme.timecode_at(index), programme.rate
        write(path, rendered, target, overwrite=self.may_replace, timecode=timecode, rate=rate)
        entry = Entry(path.name, file_sha256(path), (index,), (), programme.source_of([index]))
        return entry, [watched.finding(lambda: read_picture(path).picture, target)] if watched else []


class SequenceOutput:
    """Writes every frame to a file of its own, whole or not at all.

    Parameters
    ----------
    path : a pattern ('sdr/scene.%04d.dpx', '####'); the ending says the format
    overwrite : whether files that are there already may be replaced
    dither : whether noise of two codes is added before rounding, the same every time
    """

    def __init__(self, path: Path, programme: Programme, *, overwrite: bool = False, dither: bool = False) -> None:
        if not is_pattern(path.name):
            raise WrongCall(f"{path}: a sequence needs a place for its numbers; write for example NAME.%04d.dpx")
        ending = path.suffix.lower()
        if ending not in (*CODE_FORMATS, *SIGNAL_FORMATS):
            known = ", ".join((*CODE_FORMATS, *SIGNAL_FORMATS))
            raise WrongCall(f"{path}: sequences are written as {known}; change the ending")
        if ending in SIGNAL_FORMATS and dither:
            raise WrongCall(NOTHING_TO_DITHER.format(path))
        self._programme = programme
        numbering = numbering_of(path)
        outputs = (numbering.path(programme.number(index)) for index in range(programme.count))
        refuse_masters(outputs, programme.files())
        job = {**programme.job(), "format": ending, "dither": dither}
        before = numbering.before
        manifest_path = path.parent / f"{before.rstrip('._-') or 'render'}.manifest.jsonl"
        is_resumed = manifest_path.exists() and not overwrite
        self.writer = FrameWriter(path, dither, may_replace=overwrite or is_resumed)
        self.form = self.writer.form(programme)
        if not is_resumed:
            for index in range(programme.count):
                refuse_existing(self.writer.path(programme, index), overwrite)
        self.manifest: Manifest = open_manifest(manifest_path, job, overwrite)
        self._pool = ThreadPoolExecutor(WRITERS, thread_name_prefix="writing")
        self._waiting: deque[Future[tuple[Entry, list[Finding]]]] = deque()

    def state(self, metadata: HdrMetadata) -> bool:
        """State the levels of an HDR programme in the files; returns whether their format takes them."""
        self.writer = replace(self.writer, metadata=metadata)
        return self.writer.pattern.suffix.lower() in HDR_FORMATS

    def wanted(self) -> list[int]:
        """Return the frames that are not whole yet; what was half written of them is taken away.

        When the render began, none of the names was taken: a file that is there without a line in the manifest was
        being noted when the render was stopped, and is made again.

        Raises
        ------
        TrimbenchError
            When a file, or the master's that it is of, was changed after it had been rendered.
        """
        wanted = []
        for index in range(self._programme.count):
            path = self.writer.path(self._programme, index)
            if path.exists() and path.name in self.manifest.entries:
                if not self.manifest.holds(path):
                    raise TrimbenchError(
                        f"{path}: the file was changed after it had been rendered; move it away, or give --overwrite"
                    )
                self.manifest.refuse_changed_source(path, self._programme.source_of([index]))
                continue
            wanted.append(index)
        names = {self.writer.path(self._programme, index).name for index in wanted}
        remove_parts(self.writer.pattern.parent, names)
        return wanted

    def put(self, index: int, rendered: Any, watched: Watched | None = None) -> None:
        """Hand a frame to a writer, as soon as one is free."""
        if rendered is None:
            return
        self.manifest.begin()
        while self._waiting and (len(self._waiting) >= WAITING or self._waiting[0].done()):
            self.manifest.add(*self._waiting.popleft().result())
        self._waiting.append(self._pool.submit(self.writer.write, self._programme, index, rendered, watched))

    def finish(self, is_complete: bool) -> list[str]:
        """Wait for the writers."""
        while self._waiting:
            self.manifest.add(*self._waiting.popleft().result())
        return []

    def close(self) -> None:
        """Let the writers end what they have begun, and note it."""
        self._pool.shutdown(wait=True, cancel_futures=True)
        try:
            for future in self._waiting:
                if not future.cancelled() and future.exception() is None:
                    self.manifest.add(*future.result())
        finally:
            self._waiting.clear()
            self.manifest.close()
