"""Movies written by PyAV: segments that are joined without coding them again, with the sound of the master."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from ..encoding import CICP_MATRIX_RGB, Encoding
from ..errors import TrimbenchError, WrongCall, suggestion
from ..signal_range import NARROW
from .planes import Coding, Planes

SOUND = {
    "mov": (("aac", "ac3", "eac3", "alac", "mp2", "mp3", "pcm_"), "PCM"),
    "mp4": (("aac", "ac3", "eac3", "alac", "flac", "mp3", "opus"), "AAC"),
    "mxf": (("pcm_s16le", "pcm_s24le"), "PCM of 16 or 24 bits and 48 kHz"),
}
"""How the names of sound begin that a container takes (Matroska takes all), and what would fit; tried with PyAV 18."""
PARAMETERS = ("x265-params", "x264-params")
MATRIX_CODES = {"bt709": 1, "bt601": 6, "bt2020": 9}  # Recommendation ITU-T H.273, Table 4


@dataclass(frozen=True)
class Codec:
    """A way to code a movie.

    Attributes
    ----------
    title : as one reads it
    encoder : the library's name
    pixels : the library's name of the layout
    bits, subsampling : of the planes; `is_rgb` for planes of R, G and B
    options : of the encoder
    endings : of files that may hold it
    tag : in MP4 and QuickTime, where it is not the library's own: 'hvc1' says that parameter sets are in the header
        alone (ISO/IEC 14496-15, 8.3.3), and some players know no other
    """

    title: str
    encoder: str
    pixels: str
    bits: int
    subsampling: tuple[int, int]
    endings: tuple[str, ...]
    options: Mapping[str, str] = field(default_factory=dict)
    is_rgb: bool = False
    tag: str = ""


CODECS = {
    "prores-hq": Codec(
        "ProRes 422 HQ", "prores_ks", "yuv422p10le", 10, (2, 1), (".mov",), {"profile": "hq"}
    ),
    "prores-4444": Codec(
        "ProRes 4444", "prores_ks", "yuv444p10le", 10, (1, 1), (".mov",), {"profile": "4444"}
    ),
    "dnxhr-hqx": Codec(
        "DNxHR HQX", "dnxhd", "yuv422p10le", 10, (2, 1), (".mov", ".mxf"), {"profile": "dnxhr_hqx"}
    ),
    "ffv1": Codec(
        "FFV1, lossless R'G'B'", "ffv1", "gbrp10le", 10, (1, 1), (".mkv",),
        {"level": "3", "slicecrc": "1", "slices": "16", "g": "1"}, is_rgb=True,
    ),
    "hevc": Codec(
        "HEVC Main 10", "libx265", "yuv420p10le", 10, (2, 2), (".mp4", ".mov", ".mkv"),
        {"crf": "14", "preset": "medium", "x265-params": "log-level=none"}, tag="hvc1",
    ),
    "h264": Codec(
        "H.264 for mail", "libx264", "yuv420p", 8, (2, 2), (".mp4", ".mov", ".mkv"),
        {"crf": "18", "preset": "medium", "x264-params": "log-level=none"},
    ),
}  # fmt: skip
DEFAULTS = {".mov": "prores-hq", ".mkv": "ffv1", ".mp4": "hevc", ".mxf": "dnxhr-hqx"}


def codec_for(path: Path, name: str | None) -> Codec:
    """Return the codec of that name, or the one that a file's ending stands for.

    Raises
    ------
    WrongCall
        For an unknown name or ending, or a codec that the file can't hold.
    TrimbenchError
        When the library that is installed has no such encoder.
    """
    import av

    ending = path.suffix.lower()
    if name is None:
        name = DEFAULTS.get(ending)
        if name is None:
            raise WrongCall(f"{path}: movies are written as {', '.join(DEFAULTS)}; change the ending")
    if name not in CODECS:
        raise WrongCall(f"codec '{name}' is not known; {suggestion(name, list(CODECS))}")
    codec = CODECS[name]
    if ending not in codec.endings:
        raise WrongCall(
            f"{path}: {codec.title} is written to {' or '.join(codec.endings)}; change the ending or --codec"
        )
    try:
        av.codec.Codec(codec.encoder, "w")
    except (av.FFmpegError, ValueError) as fault:
        raise TrimbenchError(
            f"the PyAV installed here has no encoder for {codec.title}; choose another --codec"
        ) from fault
    return codec


def with_parameters(codec: Codec, words: str) -> Codec | None:
    """Return a codec whose encoder gets more parameters of its own; None where it takes none."""
    name = next((option for option in PARAMETERS if option in codec.options), None)
    if name is None:
        return None
    return replace(codec, options={**codec.options, name: f"{codec.options[name]}:{words}"})


def coding_for(codec: Codec, target: Encoding) -> Coding:
    """Return how a codec's planes code a target; the matrix is the one that belongs to the target's primaries.

    References
    ----------
    BT.2020-2 and BT.2100-3, sampling of 4:2:0, from memory: the first sample of chroma lies on the first of luma.
    """
    if codec.is_rgb:
        return Coding(codec.bits, target.signal_range)
    matrix = target.primaries if target.primaries in MATRIX_CODES else "bt709"
    siting = "topleft" if matrix == "bt2020" and codec.subsampling == (2, 2) else "left"
    return Coding(codec.bits, NARROW, matrix, codec.subsampling, siting)


def coding_faults() -> tuple[type[Exception], ...]:
    """Return what coding and writing may raise."""
    import av

    return OSError, ValueError, av.FFmpegError


class SegmentWriter:
    """Writes a part of a movie: frames in order, from its own time 0.

    Parameters
    ----------
    size : columns and rows
    """

    def __init__(self, path: Path, codec: Codec, target: Encoding, size: tuple[int, int], rate: Fraction) -> None:

        if coding_for(codec, target).siting == "topleft":
            codec = with_parameters(codec, "chromaloc=2") or codec  # H.273, Figure 1
        self.path, self.codec, self._tags = path, codec, _tags(codec, target)
        self._container = _written(path)
        stream: Any = self._container.add_stream(codec.encoder, rate=rate, options=dict(codec.options))
        stream.width, stream.height, stream.pix_fmt = size[0], size[1], codec.pixels
        stream.codec_context.sample_aspect_ratio = Fraction(1)
        stream.codec_context.time_base = 1 / rate
        if codec.tag and self._container.format.name in ("mp4", "mov"):
            stream.codec_context.codec_tag = codec.tag
        for name, value in self._tags.items():
            setattr(stream.codec_context, name, value)
        self._stream, self._count, self._rate = stream, 0, rate

    def put(self, planes: Planes) -> None:
        """Code one frame."""
        import av

        frame = av.VideoFrame(planes.columns, planes.rows, self.codec.pixels)
        order = (1, 2, 0) if self.codec.is_rgb else (0, 1, 2)  # planar R'G'B' lies as G, B, R
        for plane, component in zip(frame.planes, order, strict=True):
            samples = planes.components[component]
            kind = np.uint8 if self.codec.bits == 8 else np.uint16
            samples_of_plane: Any = plane
            rows = np.frombuffer(samples_of_plane, kind).reshape(plane.height, -1)
            rows[:, : plane.width] = samples
        for name, value in self._tags.items():
            setattr(frame, name, value)
        frame.pts, frame.time_base = self._count, 1 / self._rate
        self._count += 1
        for packet in self._stream.encode(frame):
            self._container.mux(packet)

    def close(self) -> None:
        """End the part."""
        for packet in self._stream.encode(None):
            self._container.mux(packet)
        self._container.close()


def join(
    path: Path,
    segments: Sequence[Path],
    lengths: Sequence[int],
    rate: Fraction,
    *,
    timecode: str | None = None,
    sound: Path | None = None,
    start: Fraction = Fraction(0),
) -> list[str]:
    """Join segments to a movie without coding anything again; returns notices.

    Parameters
    ----------
    path : of the file to write; its ending says the container
    lengths : frames of every segment
    timecode : of the first frame
    sound : a file whose audio is carried over as it is coded
    start : the time in `sound` of the first frame, in seconds
    """
    import av

    notices = []
    with _written(path) as joined:
        with av.open(str(segments[0])) as first:
            coded = first.streams.video[0]
            video: Any = joined.add_stream_from_template(coded)
            video.codec_context.codec_tag = coded.codec_context.codec_tag  # else the profile is lost
            video.codec_context.framerate = rate  # else the timecode is
        if timecode is not None:
            video.metadata["timecode"] = timecode
        length = sum(lengths) / rate
        sounds = _Sounds(joined, sound, start, length) if sound is not None else None
        if sounds is not None:
            notices += sounds.notices
        early = 0
        if video.codec_context.codec.reorder:
            early = max(place - number for file in segments for place, (_, number) in enumerate(_numbered(file, rate)))
        begun = 0
        for segment, count in zip(segments, lengths, strict=True):
            found = 0
            for packet, number in _numbered(segment, rate):
                packet.time_base = 1 / rate
                packet.pts, packet.dts, packet.duration = begun + number, begun + found - early, 1
                if sounds is not None:
                    sounds.up_to(packet.dts / rate)
                packet.stream = video
                joined.mux(packet)
                found += 1
            if found != count:
                raise ValueError(f"{segment.name} has {found} of {count} frames")
            begun += count
        if sounds is not None:
            sounds.up_to(length)
            sounds.close()
    return notices


def _numbered(segment: Path, rate: Fraction) -> Iterator[tuple[Any, int]]:
    """Yield a segment's packets in the order of coding, each with the number in the segment of the frame that it shows.

    Times of display alone are used: Matroska keeps no others, and they are rounded to a millisecond there.
    """
    import av

    with av.open(str(segment)) as part:
        packets: Iterator[Any] = part.demux(part.streams.video[0])
        for packet in packets:
            if packet.size:
                yield packet, round(packet.pts * Fraction(packet.time_base) * rate)


class _Sounds:
    """The audio of a file, handed on packet by packet up to a time."""

    def __init__(self, joined: Any, path: Path, start: Fraction, length: Fraction) -> None:
        import av

        self.notices: list[str] = []
        self._joined, self._start, self._length = joined, start, length
        self._source = av.open(str(path))
        self._streams: dict[int, Any] = {}
        for stream in self._source.streams.audio:
            name, container = stream.codec_context.codec.canonical_name, joined.format.name
            if not _fits(stream, container):
                remedy = ".mov takes it" if _fits(stream, "mov") else f"{SOUND[container][1]} would fit"
                self.notices.append(f"the sound, {name}, does not fit into .{container} and is left out; {remedy}")
                continue
            self._streams[stream.index] = joined.add_stream_from_template(stream)
        wanted = [stream for stream in self._source.streams.audio if stream.index in self._streams]
        self._packets = self._source.demux(wanted) if wanted else iter(())
        self._held: Any = None

    def up_to(self, time: Fraction) -> None:
        """Hand on all packets that begin before a time of the movie."""
        while True:
            packet = self._held if self._held is not None else next(self._packets, None)
            self._held = None
            if packet is None:
                return
            if packet.dts is None or packet.pts is None:
                continue
            base = Fraction(packet.time_base)
            begins = packet.pts * base - self._start
            if begins < 0 or begins >= self._length:
                continue
            if begins > time:
                self._held = packet
                return
            shift = round(self._start / base)
            packet.pts, packet.dts = packet.pts - shift, packet.dts - shift
            packet.stream = self._streams[packet.stream.index]
            self._joined.mux(packet)

    def close(self) -> None:
        """Let go of the file."""
        self._source.close()


def _fits(stream: Any, container: str) -> bool:
    """Say whether a container takes a stream of sound."""
    names, _ = SOUND.get(container, (("",), ""))
    fits = stream.codec_context.codec.canonical_name.startswith(names)
    return fits and (container != "mxf" or stream.codec_context.sample_rate == 48000)


def _tags(codec: Codec, target: Encoding) -> dict[str, int]:
    """Return the library's colour tags, which are the code points of H.273."""
    primaries, transfer, _, _ = target.cicp
    matrix = CICP_MATRIX_RGB if codec.is_rgb else MATRIX_CODES[coding_for(codec, target).matrix or "bt709"]
    is_narrow = coding_for(codec, target).signal_range == NARROW
    return {
        "color_primaries": primaries,
        "color_trc": transfer,
        "colorspace": matrix,
        "color_range": 1 if is_narrow else 2,
    }


def _written(path: Path) -> Any:
    """Open a file to write; its name may have the ending of an unfinished file behind that of its container."""
    import av

    formats = {".mov": "mov", ".mp4": "mp4", ".mkv": "matroska", ".mxf": "mxf"}
    name = next(formats[suffix.lower()] for suffix in reversed(path.suffixes) if suffix.lower() in formats)
    options = {"fflags": "+bitexact"} if name == "matroska" else {}  # else a random number is in every file
    return av.open(str(path), "w", format=name, options=options)
