"""Movies and sequences whose frames carry their number as flat codes, for the tests of the bench."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

ROWS, COLUMNS = 64, 96


def luma_code(number: int) -> int:
    """Return the 10-bit code of luma by which a frame is told: 12 codes from one to the next."""
    return 100 + 12 * number


def planes(number: int, steps: tuple[int, int] = (2, 2), rows: int = ROWS, columns: int = COLUMNS) -> list[np.ndarray]:
    """Return Y', Cb and Cr of a frame: flat luma, and chroma that changes from sample to sample below the middle."""
    random = np.random.default_rng(number)
    luma = np.full((rows, columns), luma_code(number), np.uint16)
    chroma = [np.full((-(-rows // steps[1]), -(-columns // steps[0])), 512, np.uint16) for _ in range(2)]
    for plane in chroma:
        half = plane.shape[0] // 2
        plane[half:] = random.integers(496, 528, (plane.shape[0] - half, plane.shape[1]))
    return [luma, *chroma]


def write_movie(
    path: Path,
    count: int,
    codec: str = "ffv1",
    pixels: str = "yuv420p10le",
    options: dict[str, str] | None = None,
    rate: int = 24,
    timecode: str | None = None,
    frame_of: Callable[[int], list[np.ndarray]] = planes,
) -> Path:
    """Write a movie in PQ, BT.2020, narrow range, by PyAV alone."""
    import av

    with av.open(str(path), "w") as output:
        stream: Any = output.add_stream(codec, rate=rate, options=options or {"level": "3", "slicecrc": "1", "g": "6"})
        stream.height, stream.width = frame_of(0)[0].shape
        stream.pix_fmt = pixels
        if timecode:
            stream.metadata["timecode"] = timecode
        for number in range(count):
            frame: Any = av.VideoFrame(stream.width, stream.height, pixels)
            for plane, codes in zip(frame.planes, frame_of(number), strict=True):
                lines = np.frombuffer(plane, np.uint16).reshape(plane.height, -1)
                lines[:, : codes.shape[1]] = codes
            for target in (stream.codec_context, frame):
                target.color_primaries, target.color_trc, target.colorspace, target.color_range = 9, 16, 9, 1
            frame.pts = number
            output.mux(stream.encode(frame))
        output.mux(stream.encode())
    return path
