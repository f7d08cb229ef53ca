"""Movies read by PyAV: planes as the codec gives them, frames by their exact number, damage named."""

import os
from bisect import bisect_left
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from itertools import chain, dropwhile
from pathlib import Path
from typing import Any

import numpy as np

from ..errors import TrimbenchError
from .cut_short import ending
from .master import MOVIE, Facts, Frame, Master
from .movie_tags import FIRST_FRAME, STREAM, chroma_siting, resolved, sample_layout, side_data_of
from .packets import Damage, PacketTable, ffv1_is_damaged, packet_table
from .planes import Coding, Planes
from .wishes import EncodingWishes

STRICT = {"err_detect": "crccheck+explode"}
"""Decoders are to report damage instead of hiding it."""

TITLES = {"hevc": "HEVC", "h264": "H.264", "prores": "ProRes", "dnxhd": "DNxHD", "ffv1": "FFV1", "av1": "AV1"}


def open_movie(path: Path, wishes: EncodingWishes, matrix: str | None = None) -> "Movie":
    """Open the first video of a movie file.

    Raises
    ------
    TrimbenchError
        If there is no video that can be read.
    WrongCall
        If the encoding can't be known from the file, or is not possible as it was said.
    """
    with opened(path) as (container, stream):
        table = packet_table(path, container, stream)
    with opened(path) as (container, stream):
        codec = stream.codec_context
        layout = sample_layout(path, stream)
        stream_tags = _Tags(codec)
        siting = chroma_siting(container, stream)
        first = _first_frame(path, container, stream)
        display, content = side_data_of(first)
        encoding, coding, origins, notices = resolved(
            path, wishes, matrix, [(STREAM, stream_tags), (FIRST_FRAME, first)], layout, siting, codec.name, display
        )
        notices += _picture_notices(path, container, stream, first, coding)
        end = ending(path, container, stream, table)
        notices += [end.sentence] if end else []
        name = codec.codec.canonical_name  # AV1's decoder has a name of its own
        title = TITLES.get(name, name.upper())
        facts = Facts(
            path=path,
            kind=MOVIE,
            format=f"{title} ({codec.profile})" if codec.profile else title,
            encoding=encoding,
            stored=replace(encoding, bits=coding.bits, signal_range=coding.signal_range),
            coding=coding.title,
            origins=origins,
            notices=tuple(notices),
            rows=first.height,
            columns=first.width,
            count=len(table.times),
            rate=stream.average_rate or stream.guessed_rate,
            timecode=_timecode(container, stream),
            mastering_display=display,
            content_light=content,
            is_cut_short=end is not None and end.is_cut_short,
        )
    return Movie(facts, coding, table)


@contextmanager
def opened(path: Path) -> Iterator[tuple[Any, Any]]:
    """Open a movie file and choose its video stream, or say in one sentence why not."""
    import av

    try:
        with path.open("rb") as file:
            is_empty = not file.read(1)
    except OSError as error:
        raise TrimbenchError(f"{path}: can't be read: {error.strerror}; check the name and its permissions") from error
    if is_empty:
        raise TrimbenchError(f"{path}: the file is empty; copy or export it again")
    try:
        container = av.open(str(path))
    except (av.FFmpegError, OSError, ValueError) as error:
        raise TrimbenchError(
            f"{path}: can't be read as a movie: it is damaged, cut short or of another kind; export it again"
        ) from error
    with container:
        stream = next((one for one in container.streams.video if not _is_cover(one)), None)
        if stream is None:
            raise TrimbenchError(f"{path}: there is no video in this file; name another")
        if stream.codec_context is None or not stream.codec_context.width:
            raise TrimbenchError(
                f"{path}: the video can't be decoded: its header is damaged, or it is of a kind not known here; "
                "export it again"
            )
        yield container, stream


class _Tags:
    """The stream's colour tags, kept before decoding replaces them by those of the frames."""

    def __init__(self, codec: Any) -> None:
        self.color_primaries, self.color_trc = int(codec.color_primaries), int(codec.color_trc)
        self.colorspace, self.color_range = int(codec.colorspace), int(codec.color_range)


def _timecode(container: Any, stream: Any) -> str | None:
    """Return the timecode of the first frame: of the video, of the file, or of a track of its own."""
    places = (stream.metadata, container.metadata, *(other.metadata for other in container.streams))
    tags = ({name.lower(): value for name, value in place.items()} for place in places)  # Matroska has TIMECODE
    return next((place["timecode"] for place in tags if place.get("timecode")), None)


def _is_cover(stream: Any) -> bool:
    from av.stream import Disposition

    return bool(stream.disposition & Disposition.attached_pic)


def _first_frame(path: Path, container: Any, stream: Any) -> Any:
    """Return the first frame that can be decoded."""
    import av

    codec = stream.codec_context
    for packet in container.demux(stream):
        if packet.has_sidedata("encryption_info"):
            raise TrimbenchError(f"{path}: the movie is encrypted; export it without encryption")
        try:
            frames = packet.decode()
            if not frames and packet.is_keyframe:
                frames = codec.decode(None)  # it need not wait for those that may be shown before
                codec.flush_buffers()
        except av.FFmpegError:
            continue
        if frames:
            return frames[0]
    raise TrimbenchError(f"{path}: none of the frames can be decoded; copy or export the movie again")


def _picture_notices(path: Path, container: Any, stream: Any, frame: Any, coding: Coding) -> list[str]:
    """Say what about the picture is not as it might be expected."""
    notices = []
    if frame.interlaced_frame:
        if coding.subsampling == (2, 2):
            raise TrimbenchError(
                f"{path}: the picture is interlaced with 4:2:0 chroma, which is not read; export 4:2:2"
            )
        notices.append("the picture is interlaced, and both fields are read as one frame")
    videos = [one for one in container.streams.video if not _is_cover(one)]
    if len(videos) > 1:
        notices.append(f"the first of {len(videos)} videos in the file is read")
    if any(part.is_alpha for part in frame.format.components):
        notices.append("the alpha channel is not used")
    if frame.rotation:
        notices.append(f"the rotation tag ({frame.rotation} degrees) is not applied")
    aspect = stream.sample_aspect_ratio
    if aspect and aspect != 1:
        notices.append(f"the pixels are not square (aspect {float(aspect):g}) and are shown as squares")
    return notices


class Movie(Master):
    """A movie: every call of `frames` opens the file anew, so that several may run at once."""

    def __init__(self, facts: Facts, coding: Coding, table: PacketTable) -> None:
        super().__init__(facts)
        self._coding = coding
        self._table = table

    def nearest_start(self, index: int) -> int:
        """Return the frame at `index`, or the key frame before it."""
        return bisect_left(self._table.times, self._table.start_for(self._table.times[index]))

    def _frames(self, wanted: range) -> Iterator[Frame]:
        with opened(self.facts.path) as (container, stream):
            reading = _Reading(self._table, container, stream, {self._table.times[index] for index in wanted})
            waiting = iter(wanted)
            index = next(waiting, None)
            for time, picture in reading.pictures():
                while index is not None and self._table.times[index] < time:
                    yield self._missing(index, reading)
                    index = next(waiting, None)
                if index is None:
                    return
                if self._table.times[index] == time:
                    yield self._frame(index, picture, reading.damage)
                    index = next(waiting, None)
            while index is not None:
                yield self._missing(index, reading)
                index = next(waiting, None)

    def _name(self, time: int) -> str:
        return f"frame {bisect_left(self._table.times, time)}"

    def _missing(self, index: int, reading: "_Reading") -> Frame:
        time = self._table.times[index]
        name = f"frame {index}"
        below = reading.damage.below(time)
        if time not in reading.delivered:
            fault = f"{self.facts.path}: {name} is missing, the file is cut short or can't be read there"
        elif below is not None:
            fault = f"{self.facts.path}: {name} can't be decoded, it builds on {self._name(below)}, which is damaged"
        else:
            fault = f"{self.facts.path}: {name} can't be decoded, the file is damaged there"
        reading.damage.add(self._table.order[time])
        return Frame(index, name, self.facts.encoding, fault=fault)

    def _frame(self, index: int, picture: Any, damage: Damage) -> Frame:
        name, path = f"frame {index}", self.facts.path
        time = self._table.times[index]
        fault, content = None, None
        if picture.is_corrupt:
            damage.add(self._table.order[time])
            fault = f"{path}: {name} is damaged"
        elif (below := damage.below(time)) is not None:
            fault = f"{path}: {name} can't be trusted, it builds on {self._name(below)}, which is damaged"
        elif (picture.width, picture.height) != (self.facts.columns, self.facts.rows):
            fault = (
                f"{path}: {name} is {picture.width} x {picture.height}, and the movie "
                f"{self.facts.columns} x {self.facts.rows}"
            )
        else:
            content = Planes(planes_of(picture), self._coding)
        return Frame(index, name, self.facts.encoding, content, fault)


class _Reading:
    """One pass over a stream, from the key frame before the first wanted frame."""

    def __init__(self, table: PacketTable, container: Any, stream: Any, wanted: set[int]) -> None:
        self.table, self.damage = table, Damage(table)
        self.delivered: set[int] = set()
        self._container, self._stream, self._wanted = container, stream, wanted
        self._has_check_sums = False
        self._threads = os.cpu_count() or 1
        codec = stream.codec_context
        codec.thread_type, codec.thread_count, codec.options = "AUTO", self._threads, STRICT
        self._start = table.order[table.start_for(min(wanted))]

    def pictures(self) -> Iterator[tuple[int, Any]]:
        """Yield time stamps and decoded frames in the order in which they are shown."""
        import av

        codec, last = self._stream.codec_context, max(self._wanted)
        try:
            for packet in self._packets():
                if packet is not None and not self._is_to_be_decoded(packet):
                    continue
                try:
                    frames = codec.decode(packet)
                except av.FFmpegError:
                    self._note(packet)
                    continue
                for frame in frames:
                    if frame.pts in self.table.order:
                        yield frame.pts, frame
                        if frame.pts >= last:
                            return
        except av.FFmpegError:
            return  # what was not delivered is named by the caller

    def _packets(self) -> Iterator[Any]:
        """Yield packets up to the last that is needed, then None, upon which the decoder gives what it holds back."""
        left = set(self._wanted)
        for packet in self._from_start():
            if packet.size:
                yield packet
                left.discard(packet.pts)
            if not left or not packet.size:
                break
        yield None

    def _from_start(self) -> Iterator[Any]:
        """Yield packets from the key frame on; where a container without an index leads too far, look further back."""
        order, keys = self.table.order, self.table.keys
        place, back = bisect_left(keys, self._start), 0
        packets = self._container.demux(self._stream)
        while back < place:
            packets = self._sought(self.table.by_order[keys[place - back]])
            packet = next(packets, None)
            if packet is not None and packet.size and order.get(packet.pts, self._start + 1) <= self._start:
                packets = chain((packet,), packets)
                break
            back = 2 * back + 1
        else:
            if place:
                packets = self._sought(2 * self.table.times[0] - self.table.times[-1])  # before everything
        yield from dropwhile(lambda packet: packet.size and order.get(packet.pts, -1) < self._start, packets)

    def _sought(self, time: int) -> Iterator[Any]:
        self._container.seek(time, stream=self._stream)
        return iter(self._container.demux(self._stream))

    def _is_to_be_decoded(self, packet: Any) -> bool:
        self.delivered.add(packet.pts)
        if self.table.is_intra and packet.pts not in self._wanted:
            return False
        if self._stream.codec_context.name == "ffv1":
            is_damaged = ffv1_is_damaged(bytes(packet))
            self._has_check_sums |= is_damaged is not None
            if is_damaged or (is_damaged is None and self._has_check_sums):
                self.damage.add(self.table.order[packet.pts])
                return False
        return True

    def _note(self, packet: Any) -> None:
        """Note the packet that failed: with frames decoded in threads, the error comes with a later one."""
        if not self.table.is_intra:
            last = len(self.table.by_order)
            order = last if packet is None else self.table.order.get(packet.pts, last)
            self.damage.add(max(0, order - self._threads + 1))


def planes_of(frame: Any) -> tuple[Any, Any, Any]:
    """Return views of the three planes of a frame, uint8 or uint16, without the bytes that fill their lines up."""
    parts = [part for part in frame.format.components if not part.is_alpha]
    kind = np.uint8 if parts[0].bits == 8 else np.uint16
    size = np.dtype(kind).itemsize
    if len({part.plane for part in parts}) == 1:
        plane = frame.planes[0]
        lines = np.frombuffer(plane, kind).reshape(plane.height, plane.line_size // size)
        count = 4 if frame.format.name[3:4] in ("a", "0") else 3  # rgb48le, but rgba64le and bgr0
        pixels = lines[:, : plane.width * count].reshape(plane.height, plane.width, count)
        places = [frame.format.name.index(letter) for letter in "rgb"]
        return pixels[..., places[0]], pixels[..., places[1]], pixels[..., places[2]]
    result = []
    for part in parts:
        plane = frame.planes[part.plane]
        lines = np.frombuffer(plane, kind).reshape(plane.height, plane.line_size // size)
        result.append(lines[:, : plane.width])
    one, two, three = result
    return one, two, three
