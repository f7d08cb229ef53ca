"""A movie with sound, a sequence and their codes, made by PyAV and OpenImageIO alone."""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest

from tonemap.encoding import Encoding
from tonemap.host import find_operators
from tonemap.media.oiio_output import write_codes
from tonemap.reference import ReferenceEngine
from tonemap.rendition import Rendition

COLUMNS, ROWS, FRAMES = 256, 144, 20
RATE = Fraction(24000, 1001)
SAMPLES_A_FRAME = 2002
PQ = Encoding("pq", "bt2020", "narrow", 10)
HOST = find_operators()
RENDITION = Rendition("EETF", "bt2390", "gamut_clip")


@dataclass(frozen=True)
class Film:
    """A movie and the sound in it, int32 (samples, 2)."""

    path: Path
    sound: np.ndarray


def still(frame: int) -> np.ndarray:
    """Return the code values (rows, columns, 3) of a frame: a ramp, a patch of colour, and what moves."""
    codes = np.empty((ROWS, COLUMNS, 3))
    codes[:] = np.linspace(64, 800, COLUMNS)[np.newaxis, :, np.newaxis]
    codes[32:80, 80:160] = (600, 300 + 8 * frame, 200)
    codes[96:120, 4 * frame : 4 * frame + 24] = 780
    return codes.astype(np.uint16)


@pytest.fixture
def film(tmp_path: Path) -> Film:
    """Write a PQ movie of 20 frames, lossless R'G'B', with timecode and 24-bit sound."""
    path = tmp_path / "film.mkv"
    random = np.random.default_rng(2)
    sound = (random.integers(-(2**22), 2**22, (FRAMES * SAMPLES_A_FRAME, 2)) << 8).astype(np.int32)
    with av.open(str(path), "w") as output:
        video: Any = output.add_stream("ffv1", rate=RATE, options={"level": "3", "g": "1"})
        video.width, video.height, video.pix_fmt = COLUMNS, ROWS, "gbrp10le"
        video.metadata["timecode"] = "01:00:00:00"
        audio: Any = output.add_stream("pcm_s24le", rate=48000)
        audio.layout = "stereo"
        tags = {"color_primaries": 9, "color_trc": 16, "colorspace": 0, "color_range": 1}
        for name, value in tags.items():
            setattr(video.codec_context, name, value)
        for number in range(FRAMES):
            frame: Any = av.VideoFrame(COLUMNS, ROWS, "gbrp10le")
            codes = still(number)
            for plane, channel in zip(frame.planes, (1, 2, 0), strict=True):
                np.frombuffer(plane, np.uint16).reshape(plane.height, -1)[:, :COLUMNS] = codes[..., channel]
            for name, value in tags.items():
                setattr(frame, name, value)
            frame.pts = number
            output.mux(video.encode(frame))
            part = sound[number * SAMPLES_A_FRAME : (number + 1) * SAMPLES_A_FRAME]
            heard: Any = av.AudioFrame.from_ndarray(part.reshape(1, -1), format="s32", layout="stereo")
            heard.sample_rate, heard.pts, heard.time_base = 48000, number * SAMPLES_A_FRAME, Fraction(1, 48000)
            output.mux(audio.encode(heard))
        output.mux(video.encode())
        output.mux(audio.encode())
    return Film(path, sound)


@pytest.fixture
def scans(tmp_path: Path) -> Path:
    """Write a PQ sequence of 6 DPX files, numbered from 1001, with timecode; returns its pattern."""
    folder = tmp_path / "scans"
    folder.mkdir()
    for number in range(6):
        write_codes(
            folder / f"a.{1001 + number}.dpx",
            still(number),
            PQ,
            timecode=f"10:00:00:{number:02d}",
            rate=Fraction(24),
        )
    return folder / "a.####.dpx"


@pytest.fixture
def expected() -> Callable[[np.ndarray, Rendition], np.ndarray]:
    """Return a function that renders codes by the reference engine."""
    from tonemap.picture import Picture
    from tonemap.rendition import chain_of

    def codes_of(codes: np.ndarray, rendition: Rendition = RENDITION) -> np.ndarray:
        picture = Picture(codes, PQ)
        return ReferenceEngine().codes(picture, chain_of(rendition, PQ, HOST))

    return codes_of


def decoded(path: Path) -> list[np.ndarray]:
    """Return the planes of every frame of a movie, one after the other, by PyAV alone."""
    frames = []
    with av.open(str(path)) as source:
        for frame in source.decode(video=0):
            planes = []
            for plane, part in zip(frame.planes, frame.format.components, strict=True):
                kind: Any = np.uint8 if part.bits == 8 else np.uint16
                held: Any = plane
                planes.append(np.frombuffer(held, kind).reshape(plane.height, -1)[:, : plane.width].copy())
            frames.append(planes)
    return frames  # type: ignore[return-value]


def heard(path: Path) -> np.ndarray:
    """Return the sound of a file, int32 (samples, 2)."""
    with av.open(str(path)) as source:
        parts = [frame.to_ndarray().reshape(-1, 2) for frame in source.decode(audio=0)]
    return np.concatenate(parts).astype(np.int32)
