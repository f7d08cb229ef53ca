"""How many frames a second the bench shows of a UHD movie: decoding alone, and with one and with four renditions.

`python tests/benchmarks/playback.py [SECONDS]` makes a movie (HEVC Main 10, intra and long groups, UHD) in a temporary
folder, and plays it off screen in a window of 1600 x 940, in turns, so that a loaded machine loads all of them alike.
Medians of three turns.
"""

import statistics
import sys
import tempfile
import time
from pathlib import Path
from threading import Event
from typing import Any

import numpy as np

import viewer.gl  # noqa: F401 - first: it sets the platform of GL
from tonemap.host import find_operators
from tonemap.media.master import open_master
from tonemap.media.wishes import EncodingWishes
from tonemap.starters import starter_renditions
from viewer.bench.app import App
from viewer.bench.bench import Bench
from viewer.bench.surface import OffscreenSurface
from viewer.bench.toolkit import imgui
from viewer.gl.context import renderer_name

ROWS, COLUMNS, COUNT, RATE = 2160, 3840, 48, 24
TURNS = 3
CODINGS = {
    "HEVC, every frame a key frame": ("libx265", "yuv420p10le", "log-level=none:keyint=1:crf=18"),
    "HEVC, a key frame a second": ("libx265", "yuv420p10le", "log-level=none:keyint=24:crf=18"),
}


def write_movie(path: Path, codec: str, pixels: str, parameters: str) -> None:
    """Write ramps that move, with grain, in PQ and BT.2020."""
    import av

    random = np.random.default_rng(1)
    ramp = np.linspace(64, 720, COLUMNS)[np.newaxis] + np.linspace(0, 60, ROWS)[:, np.newaxis]
    luma = np.clip(ramp + random.normal(0.0, 3.0, (ROWS, COLUMNS)), 64, 940).astype(np.uint16)
    chroma = np.clip(512 + random.normal(0.0, 4.0, (ROWS // 2, COLUMNS // 2)), 64, 960).astype(np.uint16)
    with av.open(str(path), "w") as output:
        stream: Any = output.add_stream(codec, rate=RATE, options={"x265-params": parameters, "preset": "ultrafast"})
        stream.height, stream.width, stream.pix_fmt = ROWS, COLUMNS, pixels
        for number in range(COUNT):
            frame: Any = av.VideoFrame(COLUMNS, ROWS, pixels)
            for plane, codes in zip(frame.planes, (np.roll(luma, 16 * number, 1), chroma, chroma), strict=True):
                lines = np.frombuffer(plane, np.uint16).reshape(plane.height, -1)
                lines[:, : codes.shape[1]] = codes
            for target in (stream.codec_context, frame):
                target.color_primaries, target.color_trc, target.colorspace, target.color_range = 9, 16, 9, 1
            frame.pts = number
            output.mux(stream.encode(frame))
        output.mux(stream.encode())


def decoded_a_second(path: Path, seconds: float) -> float:
    """Return how many frames a second are decoded when nothing is done with them."""
    master, count, start = open_master(path), 0, time.perf_counter()
    while time.perf_counter() - start < seconds:
        for frame in master.frames():
            assert frame.planes is not None
            count += 1
            if time.perf_counter() - start >= seconds:
                break
    return count / (time.perf_counter() - start)


def played(path: Path, renditions: int, seconds: float) -> tuple[float, int, int]:
    """Play in a loop; return frames a second that were shown, how many were, and how many were dropped."""
    surface = OffscreenSurface(1600, 940, 10)
    imgui.create_context()
    bench = Bench(find_operators(), starter_renditions()[:renditions], EncodingWishes())
    bench.open(path)
    app = App(bench, surface)
    try:
        assert bench.playback is not None
        for _ in range(5):
            app.frame()
        transport = bench.playback.transport
        transport.loop(True)
        transport.play()
        for _ in range(4):  # programs are made and paces known
            app.frame()
        transport.play()
        called = Event()
        bench.call = called.set
        start = time.perf_counter()
        while time.perf_counter() - start < seconds:
            called.wait(bench.seconds_to_next)  # as a window does: until a frame is due, or one has come too late
            called.clear()
            app.frame()
        taken = time.perf_counter() - start
        return transport.shown / taken, transport.shown, transport.dropped
    finally:
        app.close()
        imgui.destroy_context()
        surface.close()


def main(seconds: float) -> None:
    """Measure and print."""
    surface = OffscreenSurface(64, 64)
    print(f"{renderer_name()}; {COLUMNS} x {ROWS} at {RATE} frames a second, window 1600 x 940, {seconds:g} s a turn")
    surface.close()
    with tempfile.TemporaryDirectory() as folder:
        for title, coding in CODINGS.items():
            path = Path(folder) / "movie.mkv"
            write_movie(path, *coding)
            decoding: list[float] = []
            playing: dict[int, list[tuple[float, int, int]]] = {1: [], 4: []}
            for _ in range(TURNS):
                decoding.append(decoded_a_second(path, seconds))
                for count, found in playing.items():
                    found.append(played(path, count, seconds))
            print(f"{title}: decoding alone {statistics.median(decoding):.1f} frames a second")
            for count, found in playing.items():
                rate = statistics.median(rate for rate, _, _ in found)
                shown, dropped = sum(shown for _, shown, _ in found), sum(dropped for _, _, dropped in found)
                print(f"    {count} rendition(s): {rate:.1f} shown a second, dropped {dropped} of {shown + dropped}")


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 8.0)
