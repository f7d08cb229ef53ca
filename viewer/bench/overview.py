"""What is made of every frame for the timeline: light levels and thumbnails. Runs in a process of its own."""

import os
import sys
from collections.abc import Iterator
from multiprocessing.connection import Connection
from typing import Any

import numpy as np

from tonemap.colorimetry import conversion_matrix, convert
from tonemap.encoding import Encoding, decode
from tonemap.errors import TrimbenchError
from tonemap.media.master import Frame
from tonemap.media.planes import Coding, Planes
from tonemap.transfer import bt1886_eotf_inverse

from .reel import Reel

THUMBNAIL_ROWS = 96
WHITE = 203.0
"""cd/m2 that a thumbnail's white stands for: HDR reference white, Report ITU-R BT.2408-8, Table 1; above, it is cut."""

OVERSAMPLING = 4
FIRST_PASS = 48
"""Frames over the whole length that are measured before all others, so that the history has a shape at once."""

Message = tuple[str, Any]
"""To the process: ('thumbnails', indices), ('hold', bool), ('end', None).

From it: ('levels', (index, maximum, average) in cd/m2; NaN for a frame without a picture) and
('thumbnail', (index, pixels)).
"""


def thumbnail_of(frame: Frame, rows: int = THUMBNAIL_ROWS) -> np.ndarray:
    """Return a small picture of the master, uint8 (rows, columns, 3): light up to `WHITE`, as a BT.709 signal.

    Raises
    ------
    TrimbenchError
        When the frame has no picture.
    """
    samples = _fewer_samples(frame, rows * OVERSAMPLING)
    light = decode(samples, frame.encoding)
    rows = min(rows, light.shape[0])  # a smaller picture stays as it is
    columns = max(1, round(rows * light.shape[1] / light.shape[0]))
    down = np.linspace(0, light.shape[0], rows + 1).astype(int)[:-1]
    across = np.linspace(0, light.shape[1], columns + 1).astype(int)[:-1]
    summed = np.add.reduceat(np.add.reduceat(light, down, axis=0), across, axis=1)
    areas = np.multiply.outer(np.diff([*down, light.shape[0]]), np.diff([*across, light.shape[1]]))
    seen = convert(summed / areas[..., np.newaxis], conversion_matrix("bt2020", "bt709"))
    signal = bt1886_eotf_inverse(np.clip(seen / WHITE, 0.0, 1.0) * 100.0, 100.0, 0.0)
    return np.rint(255.0 * signal).astype(np.uint8)


def _fewer_samples(frame: Frame, rows: int) -> np.ndarray:
    """Return every n-th sample of a frame, at least `rows` rows of them where it has so many."""
    if frame.planes is None:
        step = max(1, frame.picture.rows // rows)
        return frame.picture.samples[::step, ::step]
    planes, coding = frame.planes, frame.planes.coding
    step = max(1, planes.rows // rows // 2) * 2 if planes.rows >= 2 * rows else 1
    if step == 1:
        return frame.picture.samples
    across, down = coding.subsampling
    luma, *chroma = planes.components
    one, two = (plane[:: step // down, :: step // across] for plane in chroma)
    flat = Coding(coding.bits, coding.signal_range, coding.matrix)
    return Planes((luma[::step, ::step], one, two), flat).picture(frame.encoding).samples


def levels_of(frame: Frame) -> tuple[float, float]:
    """Return the maximum and the average of max(R, G, B) of a frame's light, cd/m2, as `trimbench measure` has them."""
    from tonemap.measure.frame import measure_frame

    if frame.content is None:
        return np.nan, np.nan
    encoding: Encoding = frame.encoding
    full = measure_frame(frame.content, gamuts=(), encoding=encoding, workers=1).tally.levels.full
    return full.maximum, full.average


def work(reel: Reel, connection: Connection) -> None:
    """Make what is asked for until the other end is gone; thumbnails come before levels."""
    if sys.platform.startswith("linux"):
        os.nice(10)
    wanted: list[int] = []
    is_held = False
    levels = _levels(reel)
    is_measured = False
    try:
        while True:
            has_work = bool(wanted) or not is_measured
            while connection.poll(None if is_held or not has_work else 0.0):
                kind, value = connection.recv()
                if kind == "end":
                    return
                wanted, is_held = (value, is_held) if kind == "thumbnails" else (wanted, value)
                has_work = bool(wanted) or not is_measured
            if wanted:
                _send_thumbnail(reel, wanted.pop(0), connection)
            elif (found := next(levels, None)) is not None:
                connection.send(("levels", found))
            else:
                is_measured = True
    except (EOFError, OSError, KeyboardInterrupt):
        return  # the bench is gone


def _send_thumbnail(reel: Reel, index: int, connection: Connection) -> None:
    frames = reel.frames(index)
    try:
        connection.send(("thumbnail", (index, thumbnail_of(next(frames)))))
    except TrimbenchError:
        connection.send(("thumbnail", (index, None)))
    finally:
        _close(frames)


def _levels(reel: Reel) -> Iterator[tuple[int, float, float]]:
    """Measure some frames over the whole length, each a key frame where there are such, and then all others."""
    places = np.linspace(0, reel.count - 1, min(FIRST_PASS, reel.count)).astype(int)
    first_pass = sorted({reel.start_before(int(index)) for index in places})
    for index in first_pass:
        frames = reel.frames(index)
        yield index, *levels_of(next(frames))
        _close(frames)
    known = set(first_pass)
    for frame in reel.frames(0):
        if frame.index not in known:
            yield frame.index, *levels_of(frame)


def _close(frames: Any) -> None:
    close = getattr(frames, "close", None)
    if close is not None:
        close()
