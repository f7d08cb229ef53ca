"""A movie as the output of a render: coded in segments that outlive a stop, and joined when all are whole."""

import hashlib
import shutil
from collections import deque
from concurrent.futures import Future, ThreadPoolExecutor
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from ..errors import TrimbenchError, WrongCall
from ..media.coded_planes import planes_of_signal
from ..media.movie_output import Codec, SegmentWriter, coding_for, join
from ..media.planes import Planes
from ..media.whole_file import refuse_existing, refuse_masters, whole_file
from .manifest import Entry, Manifest, file_sha256, open_manifest
from .programme import Programme
from .quantising import dithered

SEGMENT = 120  # frames; a stop loses one segment at most
WAITING = 3  # frames at most that wait for the encoder


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
        segment: int = SEGMENT,
    ) -> None:
        if programme.rate is None:
            raise WrongCall("the master does not say its frames a second, and a movie needs them; give --rate")
        columns_step, rows_step = codec.subsampling
        if programme.columns % columns_step or programme.rows % rows_step:
            raise WrongCall(
                f"{codec.title} needs an even size, and the frames are {programme.columns} x {programme.rows}; "
                "choose another --codec"
            )
        refuse_masters([path], programme.files())
        refuse_existing(path, overwrite)
        self._path, self._codec, self._programme, self._rate = path, codec, programme, programme.rate
        self._overwrite, self._dither, self._sound, self._segment = overwrite, dither, sound, segment
        self._coding = coding_for(codec, programme.target)
        self.takes_signal = not codec.is_rgb or dither
        self._folder = path.with_name(f".{path.name}.render")
        job = {**programme.identity(), "codec": codec.title, "dither": dither, "segment": segment}
        self.manifest: Manifest = open_manifest(self._folder / "manifest.jsonl", job, overwrite)
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="coding")
        self._waiting: deque[Future[None]] = deque()
        self._writer: SegmentWriter | None = None
        self._hashes: list[str] = []
        self._lacks_pictures = False

    def wanted(self) -> list[int]:
        """Return the frames of the segments that are not whole yet."""
        return [
            index
            for number, frames in enumerate(self._segments())
            if not self.manifest.holds(self._file(number))
            for index in frames
        ]

    def put(self, index: int, rendered: Any) -> None:
        """Hand a frame to the encoder; one without a picture becomes black, so that picture and sound stay together."""
        while len(self._waiting) >= WAITING:
            self._waiting.popleft().result()
        self._waiting.append(self._pool.submit(self._code, index, rendered))

    def finish(self, is_complete: bool) -> list[str]:
        """Wait for the encoder; join the segments when all are there."""
        while self._waiting:
            self._waiting.popleft().result()
        if not is_complete:
            return []
        segments = list(self._segments())
        files = [self._file(number) for number in range(len(segments))]
        with whole_file(self._path, self._overwrite) as part:
            sound, start = self._sound or (None, Fraction(0))
            inner = part.with_name(f"{part.name}{self._path.suffix}")
            try:
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
        """Let the encoder end the frame in hand; a segment that is not whole is given up."""
        self._pool.shutdown(wait=True, cancel_futures=True)
        if self._writer is not None:
            self._writer.close()
            self._writer.path.unlink(missing_ok=True)
            self._writer = None

    def _segments(self) -> list[range]:
        count = self._programme.count
        return [range(first, min(first + self._segment, count)) for first in range(0, count, self._segment)]

    def _file(self, number: int) -> Path:
        return self._folder / f"{number:05d}{self._path.suffix}"

    def _code(self, index: int, rendered: Any) -> None:
        number, place = divmod(index, self._segment)
        frames = self._segments()[number]
        if place == 0:
            size = self._programme.columns, self._programme.rows
            path = self._folder / f"{number:05d}.part{self._path.suffix}"
            self._writer = self._opened(path, size)
            self._hashes, self._lacks_pictures = [], False
        if self._writer is None:
            raise TrimbenchError(f"frame {index} begins no segment, and none was begun")
        planes = self._planes(index, rendered)
        self._lacks_pictures |= rendered is None
        digest = hashlib.sha256()
        for plane in planes.components:
            digest.update(np.ascontiguousarray(plane).tobytes())
        self._hashes.append(digest.hexdigest())
        try:
            self._writer.put(planes)
            if index == frames[-1]:
                self._writer.close()
        except (OSError, ValueError) as fault:
            raise TrimbenchError(
                f"{self._path}: frame {index} can't be coded or written: {getattr(fault, 'strerror', None) or fault}; "
                "make room or choose another --codec, and the same command goes on from there"
            ) from fault
        if index == frames[-1]:
            file = self._file(number)
            self._writer.path.replace(file)
            self._writer = None
            entry = Entry(file.name, file_sha256(file), tuple(frames), tuple(self._hashes))
            if not self._lacks_pictures:
                self.manifest.add(entry)

    def _opened(self, path: Path, size: tuple[int, int]) -> SegmentWriter:
        try:
            return SegmentWriter(path, self._codec, self._programme.target, size, self._rate)
        except (OSError, ValueError) as fault:
            raise TrimbenchError(
                f"{path}: can't be written: {getattr(fault, 'strerror', None) or fault}; choose another place"
            ) from fault

    def _planes(self, index: int, rendered: Any) -> Planes:
        target = self._programme.target
        if rendered is None:
            rendered = np.zeros((self._programme.rows, self._programme.columns, 3), np.float32)
            return planes_of_signal(rendered, self._coding)
        if self._codec.is_rgb:
            codes = dithered(rendered, target, index) if self._dither else rendered
            return Planes((codes[..., 0], codes[..., 1], codes[..., 2]), self._coding)
        return planes_of_signal(rendered, self._coding)
