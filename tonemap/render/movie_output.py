"""A movie as the output of a render: coded in segments that outlive a stop, and joined when all are whole."""

import hashlib
import secrets
import shutil
from collections import deque
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from ..errors import TrimbenchError, WrongCall
from ..media.coded_planes import planes_of_signal
from ..media.master import open_master
from ..media.movie_output import Codec, SegmentWriter, coding_faults, coding_for, join
from ..media.planes import Planes
from ..media.whole_file import refuse_existing, refuse_masters, whole_file
from ..media.wishes import EncodingWishes
from .findings import Finding, Watched
from .forms import SIGNAL, Form
from .manifest import Entry, Manifest, file_sha256, open_manifest
from .programme import Programme
from .quantising import triangular

SEGMENT = 120  # frames; a stop loses one segment at most
WAITING = 3  # frames at most that wait for the encoder
PREPARING = 2  # threads that make planes of them


@dataclass(frozen=True)
class CodedFrame:
    """A frame as the encoder takes it.

    Attributes
    ----------
    sha256 : of its planes
    is_black : because it has no picture
    """

    index: int
    planes: Planes
    sha256: str
    is_black: bool
    watched: Watched | None = None


@dataclass(frozen=True)
class SegmentCoder:
    """Codes segments of a programme into a folder; can be sent to another process.

    Attributes
    ----------
    segment : frames of each but the last
    """

    folder: Path
    ending: str
    codec: Codec
    dither: bool
    segment: int

    def form(self, programme: Programme) -> Form:
        """Return the form in which it takes frames: the codec's planes, where nothing is to be done to them."""
        return SIGNAL if self.dither or programme.caption is not None else coding_for(self.codec, programme.target)

    def segments(self, programme: Programme) -> list[range]:
        """Return the frames of every segment."""
        count = programme.count
        return [range(first, min(first + self.segment, count)) for first in range(0, count, self.segment)]

    def file(self, number: int) -> Path:
        """Return the file of a segment."""
        return self.folder / f"{number:05d}{self.ending}"

    def coded(self, programme: Programme, index: int, rendered: Any, watched: Watched | None = None) -> CodedFrame:
        """Return a rendered frame as the encoder takes it; None is black. Frames need not come in order."""
        planes = self._planes(programme, index, rendered)
        digest = hashlib.sha256()
        for plane in planes.components:
            digest.update(np.ascontiguousarray(plane).data)
        return CodedFrame(index, planes, digest.hexdigest(), rendered is None, watched)

    def begin(self, programme: Programme, number: int) -> "Segment":
        """Begin a segment."""
        return Segment(self, programme, number)

    def _planes(self, programme: Programme, index: int, rendered: Any) -> Planes:
        coding = coding_for(self.codec, programme.target)
        if rendered is None:
            return planes_of_signal(np.zeros((programme.rows, programme.columns, 3), np.float32), coding)
        if isinstance(rendered, Planes):
            return rendered
        return planes_of_signal(rendered, coding, triangular(index) if self.dither else None)


class Segment:
    """One segment while it is coded: under another name until it is whole."""

    def __init__(self, coder: SegmentCoder, programme: Programme, number: int) -> None:
        self._coder, self._programme = coder, programme
        self._file, self._frames = coder.file(number), coder.segments(programme)[number]
        self._coding = coding_for(coder.codec, programme.target)
        self._hashes: list[str] = []
        self._watched: list[Watched] = []
        self._is_closed = False
        self.lacks_pictures = False
        part = self._file.with_name(f"{number:05d}.{secrets.token_hex(4)}.part{coder.ending}")
        size = programme.columns, programme.rows
        with _said(self._file, "the segment"):
            self._writer = SegmentWriter(part, coder.codec, programme.target, size, programme.rate or Fraction(24))

    def put(self, frame: CodedFrame) -> None:
        """Code the next frame."""
        if frame.watched is not None:
            self._watched.append(frame.watched)
        self.lacks_pictures |= frame.is_black
        self._hashes.append(frame.sha256)
        with _said(self._file, f"frame {frame.index}"):
            self._writer.put(frame.planes)

    def finish(self) -> tuple[Entry, list[Finding]]:
        """End the segment and give it its name; say what was found."""
        with _said(self._file, "the segment"):
            self._writer.close()
            self._is_closed = True
            self._writer.path.replace(self._file)
        source = self._programme.source_of(self._frames)
        entry = Entry(self._file.name, file_sha256(self._file), tuple(self._frames), tuple(self._hashes), source)
        decoded = self._decoded([watched.frame for watched in self._watched if watched.sample is not None])
        return entry, [watched.finding(lambda: next(decoded), self._programme.target) for watched in self._watched]

    def _decoded(self, frames: list[int]) -> Iterator[Planes]:
        """Decode frames of the finished segment again; those that build on each other in one pass."""
        if not frames:
            return
        target, first = self._programme.target, self._frames[0]
        said = EncodingWishes(target.transfer, target.primaries, self._coding.signal_range)
        master = open_master(self._file, said, matrix=self._coding.matrix)
        passes: list[list[int]] = []
        for place in (frame - first for frame in frames):
            if passes and master.nearest_start(place) <= passes[-1][-1]:
                passes[-1].append(place)
            else:
                passes.append([place])
        for places in passes:
            for frame in master.frames(places[0], places[-1]):
                if frame.index in places:
                    if frame.planes is None:
                        raise TrimbenchError(f"{self._file}: the segment can't be decoded again: {frame.fault}")
                    yield frame.planes

    def give_up(self) -> None:
        """Leave nothing of a segment that is not whole."""
        if not self._is_closed:
            with suppress(TrimbenchError), _said(self._file, "the segment"):
                self._writer.close()  # what can't be ended is not kept either
        self._writer.path.unlink(missing_ok=True)


@contextmanager
def _said(path: Path, what: str) -> Iterator[None]:
    """Say in one sentence what the library or the system refuses."""
    try:
        yield
    except coding_faults() as fault:
        reason = getattr(fault, "strerror", None) or fault
        raise TrimbenchError(
            f"{path}: {what} can't be coded or written: {reason}; make room or choose another --codec, and the same "
            "command goes on from there"
        ) from fault


class MovieOutput:
    """Codes frames into segments in a folder beside the movie, '.NAME.render', and joins them at the end.

    Parameters
    ----------
    sound : a file whose audio is carried over, and the time in it of the first frame
    """

    def __init__(
        self,
        path: Path,
        codec: Codec,
        programme: Programme,
        *,
        overwrite: bool = False,
        dither: bool = False,
        sound: tuple[Path, Fraction] | None = None,
        segment: int | None = None,
    ) -> None:
        if programme.rate is None:
            raise WrongCall("the master does not say its frames a second, and a movie needs them; give --rate")
        columns_step, rows_step = codec.subsampling
        if programme.columns % columns_step or programme.rows % rows_step:
            raise WrongCall(
                f"{codec.title} needs an even size, and the frames are {programme.columns} x {programme.rows}; "
                "choose another --codec"
            )
        if programme.is_hdr and codec.bits < 10:
            raise WrongCall(f"{codec.title} has {codec.bits} bits, in which an HDR picture bands; choose hevc")
        target = programme.target
        named = f"{target.transfer},{target.primaries},{target.signal_range},{codec.bits}"
        correction = f"say --hdr {named}" if programme.is_hdr else f"set target.bits={codec.bits}"
        if codec.is_rgb and programme.target.bits != codec.bits:
            raise WrongCall(
                f"{codec.title} holds {codec.bits}-bit code values, and the target has {programme.target.bits} bits; "
                f"{correction}, or choose another --codec"
            )
        refuse_masters([path], programme.files())
        refuse_existing(path, overwrite)
        self._path, self._programme, self._rate = path, programme, programme.rate
        self._overwrite, self._sound = overwrite, sound
        self._folder = path.with_name(f".{path.name}.render")
        segment = segment or SEGMENT
        self.coder = SegmentCoder(self._folder, path.suffix, codec, dither, segment)
        self.form = self.coder.form(programme)
        job = {
            **programme.job(),
            "codec": codec.title,
            "options": dict(codec.options),
            "dither": dither,
            "segment": segment,
        }
        self.manifest: Manifest = open_manifest(self._folder / "manifest.jsonl", job, overwrite)
        self._preparing = ThreadPoolExecutor(PREPARING, thread_name_prefix="planes")
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="coding")
        self._waiting: deque[Future[None]] = deque()
        self._segment: Segment | None = None

    def wanted(self) -> list[int]:
        """Return the frames of the segments that are not whole yet.

        Raises
        ------
        TrimbenchError
            When a file of the master that a segment is of was changed after it had been coded.
        """
        wanted: list[int] = []
        for number, frames in enumerate(self.coder.segments(self._programme)):
            file = self.coder.file(number)
            if self.manifest.holds(file):
                self.manifest.refuse_changed_source(file, self._programme.source_of(frames))
            else:
                wanted += frames
        return wanted

    def put(self, index: int, rendered: Any, watched: Watched | None = None) -> None:
        """Hand a frame to the encoder; one without a picture becomes black, so that picture and sound stay together."""
        self.manifest.begin()
        while len(self._waiting) >= WAITING:
            self._waiting.popleft().result()
        coded = self._preparing.submit(self.coder.coded, self._programme, index, rendered, watched)
        self._waiting.append(self._pool.submit(self._code, coded))

    def finish(self, is_complete: bool) -> list[str]:
        """Wait for the encoder; join the segments when all are there."""
        while self._waiting:
            self._waiting.popleft().result()
        if not is_complete:
            return []
        segments = self.coder.segments(self._programme)
        files = [self.coder.file(number) for number in range(len(segments))]
        with whole_file(self._path, self._overwrite) as part:
            sound, start = self._sound or (None, Fraction(0))
            inner = part.with_name(f"{part.name}{self._path.suffix}")
            try:
                with _said(self._path, "the movie"):
                    notices = join(
                        inner,
                        files,
                        [len(frames) for frames in segments],
                        self._rate,
                        timecode=self._programme.timecode,
                        sound=sound,
                        start=start,
                    )
                inner.replace(part)
            finally:
                inner.unlink(missing_ok=True)
        whole = self._path.with_name(f"{self._path.stem}.manifest.jsonl")
        self.manifest.path.replace(whole)
        self.manifest.path = whole
        self.manifest.add(Entry(self._path.name, file_sha256(self._path), tuple(range(self._programme.count)), ()))
        shutil.rmtree(self._folder, ignore_errors=True)
        return notices

    def close(self) -> None:
        """Let the encoder end the frame in hand; a segment that is not whole is given up.

        Where none is whole, there is nothing to go on from, and nothing is left behind.
        """
        self._pool.shutdown(wait=True, cancel_futures=True)
        self._preparing.shutdown(wait=True, cancel_futures=True)
        try:
            if self._segment is not None:
                self._segment.give_up()
                self._segment = None
            if self.manifest.is_mine and not self.manifest.entries:
                shutil.rmtree(self._folder, ignore_errors=True)
        finally:
            self.manifest.close()

    def _code(self, coded: Future[CodedFrame]) -> None:
        frame = coded.result()
        number, place = divmod(frame.index, self.coder.segment)
        if place == 0:
            self._segment = self.coder.begin(self._programme, number)
        if self._segment is None:
            raise ValueError(f"frame {frame.index} begins no segment, and none was begun")
        self._segment.put(frame)
        if frame.index == self.coder.segments(self._programme)[number][-1]:
            entry, findings = self._segment.finish()
            self.manifest.note(findings)
            if not self._segment.lacks_pictures:  # else it is made again when the render goes on
                self.manifest.add(entry)
            self._segment = None
