"""How much longer measuring a UHD movie takes than decoding it: medians of both, and their ratio.

Run it as `python tests/benchmarks/measure_movie.py [--frames N] [--megabits N] [--rounds N]`.
"""

import argparse
import os
import platform
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

import av
import numpy as np

from tonemap.measure.active_area import whole_frame
from tonemap.measure.master_figures import area_of
from tonemap.measure.session import Plan, Session
from tonemap.media.master import Master, open_master

ROWS, COLUMNS = 2160, 3840


def make_movie(path: Path, frames: int, megabits: float) -> None:
    """Write moving shapes under film grain: HEVC Main 10, 4:2:0, PQ, BT.2020, 24 frames a second."""
    random = np.random.default_rng(0)
    row, column = np.mgrid[0:ROWS, 0:COLUMNS].astype(np.float32)
    base = 380 + 130 * np.sin(column / 97) * np.cos(row / 61 + column / 300) + 60 * np.sin(row / 23 + column / 17)
    grain = random.normal(0, 7, (ROWS + 64, COLUMNS + 64)).astype(np.float32)
    with av.open(str(path), "w") as output:
        rate = f"bitrate={1000 * megabits:.0f}:vbv-maxrate={1300 * megabits:.0f}:vbv-bufsize={1300 * megabits:.0f}"
        options = {"preset": "ultrafast", "x265-params": f"log-level=none:keyint=24:{rate}"}
        stream: Any = output.add_stream("libx265", rate=24, options=options)
        stream.width, stream.height, stream.pix_fmt = COLUMNS, ROWS, "yuv420p10le"
        tags: Any = stream.codec_context
        tags.color_primaries, tags.color_trc, tags.colorspace, tags.color_range = 9, 16, 9, 1
        for number in range(frames):
            down, across = random.integers(0, 64, 2)
            luma = np.roll(base, 6 * number, axis=1) + grain[down : down + ROWS, across : across + COLUMNS]
            half_grain = 0.4 * grain[across : across + ROWS // 2, down : down + COLUMNS // 2]
            chroma = [
                512 + 28 * np.sin(column[::2, ::2] / (200 * size) + 0.05 * number) + half_grain for size in (1, 2)
            ]
            frame: Any = av.VideoFrame(COLUMNS, ROWS, "yuv420p10le")
            for plane, values in zip(frame.planes, (luma, *chroma), strict=True):
                lines = np.frombuffer(plane, np.uint16).reshape(plane.height, -1)
                lines[:, : plane.width] = np.clip(values, 64, 940)
            frame.pts = number
            output.mux(stream.encode(frame))
        output.mux(stream.encode())


def decode(master: Master) -> None:
    """Decode every frame and look at none."""
    faults = [frame.fault for frame in master.frames() if frame.fault]
    assert not faults


def find_area(master: Master) -> None:
    """Find the active area, on one frame."""
    area_of(master.frames(0, 0), ROWS, COLUMNS, 0.0)


def measure(master: Master) -> None:
    """Measure levels, gamut and flashing of every frame, with the active area given."""
    session = Session(master, Plan(0, master.count - 1, area=whole_frame(ROWS, COLUMNS)))
    assert session.run()
    assert session.figures.levels.frames == master.count


def timed(work: Callable[[Master], None], master: Master) -> tuple[float, float]:
    """Return seconds on the wall and of processor time."""
    start, busy = time.perf_counter(), time.process_time()
    work(master)
    return time.perf_counter() - start, time.process_time() - busy


def main() -> None:
    """Make the movie, take turns, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--frames", type=int, default=48)
    parser.add_argument("--megabits", type=float, default=60.0, help="a second; 60 is common for delivery in UHD")
    parser.add_argument("--rounds", type=int, default=5)
    parsed = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "movie.mkv"
        make_movie(path, parsed.frames, parsed.megabits)
        size = path.stat().st_size * 8 * 24 / parsed.frames / 1e6
        print(f"{platform.platform()}, {os.cpu_count()} processors, NumPy {np.__version__}, PyAV {av.__version__}")
        print(
            f"{parsed.frames} frames of {COLUMNS} x {ROWS}, HEVC Main 10 at {size:.0f} Mbit/s; {parsed.rounds} rounds"
        )
        master = open_master(path)
        measure(master)  # compiles, where that is not done yet
        times: dict[str, list[tuple[float, float]]] = {"decode only": [], "measure": []}
        for _ in range(parsed.rounds):
            times["decode only"].append(timed(decode, master))
            times["measure"].append(timed(measure, master))
        area_busy = timed(find_area, master)[1]
    medians = {name: statistics.median(wall for wall, _ in pairs) / parsed.frames for name, pairs in times.items()}
    for name, pairs in times.items():
        busy = statistics.median(busy for _, busy in pairs) / parsed.frames
        print(f"{name:12} {1000 * medians[name]:7.1f} ms a frame, {1000 * busy:7.1f} ms of processor time")
    print(f"active area  {1000 * area_busy:7.1f} ms of processor time for each of nine frames, once a movie")
    for index, name in enumerate(("on the wall", "of processor time")):
        ratios = [measured[index] / decoded[index] for decoded, measured in zip(*times.values(), strict=True)]
        rounds = ", ".join(f"{ratio:.2f}" for ratio in ratios)
        print(f"ratio {name:17} {statistics.median(ratios):5.2f}   (each round: {rounds})")


if __name__ == "__main__":
    main()
