"""How long a UHD render takes, beside what a general-purpose transcoder takes for the same: medians of one run.

    python tests/benchmarks/render_speed.py [--frames 12] [--rounds 3] [--engine gpu|reference] [--parts codes dpx ...]

codes: PQ codes to 10-bit SDR codes of one frame, both in planes of R, G and B. dpx: HEVC Main 10 to 10-bit DPX.
prores, hevc: into that codec, beside decoding alone and encoding alone the very planes that the render gives its
encoder, kept beforehand. memory: the largest size of the process over 1 and 4 times the frames. The transcoder is
libavfilter's own colour conversion and tone mapping ('scale', perceptual intent), with its decoder and its encoders;
before its first frame it makes a table, which 'dpx' counts and also states alone, for over a long movie it weighs
nothing. Rounds of both sides alternate. Processor time is printed too: where other work runs, it says more than the
wall.
"""

import argparse
import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

import av
import numpy as np

from tests.benchmarks.measure_movie import COLUMNS, ROWS, make_movie
from tonemap.encoding import Encoding
from tonemap.host import find_operators
from tonemap.media.master import Frame, open_master
from tonemap.media.movie_output import CODECS, SegmentWriter, coding_for
from tonemap.media.planes import Coding, Planes
from tonemap.parity import Engine
from tonemap.render.forms import rendered_by
from tonemap.render.job import render
from tonemap.render.movie_output import MovieOutput
from tonemap.render.programme import MasterProgramme
from tonemap.render.sequence_output import SequenceOutput
from tonemap.rendition import Rendition, chain_of
from viewer.commands.options import engine_of

ROOT = Path(__file__).resolve().parent.parent.parent
HOST = find_operators()
TRIALS = {"clip": Rendition("EETF", "bt2390", "gamut_clip"), "hue": Rendition("EETF", "bt2390", "gamut_hue")}
FILTER = "out_primaries=bt709:out_transfer=bt709:out_range=tv:intent=perceptual"
PARTS = ("codes", "dpx", "prores", "hevc", "memory")
Work = Callable[[], object]


def compare(what: str, sides: dict[str, Work], rounds: int, frames: int) -> None:
    """Run the sides in turns, after one run that warms up; print medians a frame, and ratios to the last side."""
    times: dict[str, list[tuple[float, float]]] = {name: [] for name in sides}
    for round_number in range(rounds + 1):
        for name, work in sides.items():
            start, used = time.perf_counter(), time.process_time()
            work()
            if round_number:
                times[name].append((time.perf_counter() - start, time.process_time() - used))
    last = [statistics.median(column) for column in zip(*times[list(sides)[-1]], strict=True)]
    for name, found in times.items():
        wall, used = (statistics.median(column) for column in zip(*found, strict=True))
        each = f"{1000 * wall / frames:8.1f} ms on the wall ({wall / last[0]:5.2f}), "
        used_words = f"{1000 * used / frames:8.1f} ms of processor time ({used / last[1]:5.2f})"
        print(f"  {what:8}{name:34}{each}{used_words}", flush=True)  # a part that is done outlives one cut short


def converter(layout: str, result: str) -> Callable[[Any], Any]:
    """Return a function that sends a frame through the transcoder's filter."""
    graph = av.filter.Graph()
    space = "bt2020nc" if layout.startswith("yuv") else "gbr"
    size = f"video_size={COLUMNS}x{ROWS}:pix_fmt={layout}:time_base=1/24:pixel_aspect=1/1"
    steps = [
        graph.add("buffer", f"{size}:colorspace={space}:range=tv"),
        graph.add("scale", FILTER + (":out_color_matrix=bt709" if result.startswith("yuv") else "")),
        graph.add("format", f"pix_fmts={result}"),
        graph.add("buffersink"),
    ]
    for one, other in pairwise(steps):
        one.link_to(other)
    graph.configure()

    def convert(frame: Any, graph: Any = graph) -> Any:  # the steps alone don't keep the graph
        steps[0].push(frame)
        return steps[-1].pull()

    return convert


def both_frames() -> tuple[Frame, Any]:
    """Return the same planes of code values as a master's frame and as the transcoder's."""
    random = np.random.default_rng(1)
    grey = random.normal(420.0, 110.0, (ROWS, COLUMNS, 1))
    codes = np.clip(grey + random.normal(0.0, 25.0, (ROWS, COLUMNS, 3)), 64, 940).astype(np.uint16)
    frame: Any = av.VideoFrame(COLUMNS, ROWS, "gbrp10le")
    red, green, blue = (np.ascontiguousarray(codes[..., channel]) for channel in range(3))
    for plane, channel in zip(frame.planes, (green, blue, red), strict=True):
        np.frombuffer(plane, np.uint16).reshape(ROWS, -1)[:, :COLUMNS] = channel
    frame.color_primaries, frame.color_trc, frame.colorspace, frame.color_range = 9, 16, 0, 1
    return Frame(0, "frame 0", Encoding("pq", "bt2020"), Planes((red, green, blue), Coding(10, "narrow"))), frame


def codes_part(engine: Engine, rounds: int) -> None:
    """Compare one rendition of one frame."""
    ours, frame = both_frames()
    convert = converter("gbrp10le", "gbrp10le")
    sides: dict[str, Work] = {
        f"bt2390, gamut_{name}": partial(
            rendered_by, engine, ours, chain_of(trial, ours.encoding, HOST), Coding(10, "narrow")
        )
        for name, trial in TRIALS.items()
    }
    float32 = ours.picture.samples
    sides["one power, float32 NumPy"] = lambda: float32 ** np.float32(1.0 / 2.4)
    sides["the transcoder's filter"] = lambda: convert(frame)
    compare("codes", sides, rounds, 1)


def decoded(path: Path) -> Iterator[Any]:
    """Yield the frames of a movie, decoded on every processor."""
    with av.open(str(path)) as source:
        source.streams.video[0].thread_type = "AUTO"
        yield from source.decode(video=0)


def transcoded(movie: Path, folder: Path) -> None:
    """Make DPX files by the transcoder alone."""
    convert = converter("yuv420p10le", "gbrp10le")
    for number, frame in enumerate(decoded(movie)):
        encoder: Any = av.CodecContext.create("dpx", "w")
        encoder.width, encoder.height, encoder.pix_fmt, encoder.framerate = COLUMNS, ROWS, "gbrp10le", 24
        packets = encoder.encode(convert(frame))
        (folder / f"{number:04d}.dpx").write_bytes(b"".join(map(bytes, packets)))


def rendered(movie: Path, out: Path, engine: Engine, codec: str | None = None) -> None:
    """Render a movie, and replace what was there."""
    programme = MasterProgramme(open_master(movie), TRIALS["clip"], HOST)
    if codec is None:
        render(programme, SequenceOutput(out / "s.%04d.dpx", programme, overwrite=True), engine)
    else:
        render(programme, MovieOutput(out / "s.mov", CODECS[codec], programme, overwrite=True), engine)


def given_planes(movie: Path, engine: Engine, codec: str) -> list[Planes]:
    """Return the planes that a render of the movie gives the encoder."""
    programme = MasterProgramme(open_master(movie), TRIALS["clip"], HOST)
    coding = coding_for(CODECS[codec], programme.target)
    return [
        rendered_by(engine, frame, programme.chain_at(frame.index), coding)
        for frame in programme.frames(range(programme.count))
    ]


def decoded_and_encoded(movie: Path, out: Path, codec: str, given: list[Planes]) -> None:
    """Decode all frames, and encode as many prepared ones: what the codecs need alone."""
    programme = MasterProgramme(open_master(movie), TRIALS["clip"], HOST)
    writer = SegmentWriter(
        out / "alone.mov", CODECS[codec], programme.target, (COLUMNS, ROWS), programme.rate or Fraction(24)
    )
    for _, planes in zip(decoded(movie), given, strict=True):
        writer.put(planes)
    writer.close()


def table_time(movie: Path) -> None:
    """Print what the transcoder's first frame takes beyond the next: its table."""
    frame = next(decoded(movie))
    convert = converter("yuv420p10le", "gbrp10le")
    times = []
    for _ in range(2):
        start, used = time.perf_counter(), time.process_time()
        convert(frame)
        times.append((time.perf_counter() - start, time.process_time() - used))
    wall, used = (first - second for first, second in zip(*times, strict=True))
    print(f"  dpx     the transcoder's table, once: {wall:.1f} s on the wall, {used:.1f} s of processor time")


def largest_size(movie: Path, frames: int, engine: str | None) -> float:
    """Return the largest size in MiB of a process that renders the first frames."""
    with tempfile.TemporaryDirectory() as folder:
        words = ["render", str(movie), "-o", f"{folder}/s.%04d.dpx", "--frames", f"0-{frames - 1}"]
        words += ["--gamut", "gamut_clip", *(["--engine", engine] if engine else [])]
        code = "import sys; from viewer.commands import main; main(sys.argv[1:]); "
        code += "print(open('/proc/self/status').read().split('VmHWM:')[1].split()[0])"  # ru_maxrss is the caller's too
        call = [sys.executable, "-c", code, *words]
        done = subprocess.run(call, cwd=ROOT, capture_output=True, text=True, check=True)
    return int(done.stdout.split()[-1]) / 1024.0


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--frames", type=int, default=12)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--megabits", type=float, default=60.0)
    parser.add_argument("--engine", choices=("gpu", "reference"))
    parser.add_argument("--parts", nargs="+", choices=PARTS, default=PARTS)
    parsed = parser.parse_args()
    engine = engine_of(parsed.engine)
    load = ", ".join(f"{value:.1f}" for value in os.getloadavg())
    print(f"{platform.machine()}, {os.cpu_count()} processors, load {load}; {engine.title}; {COLUMNS} x {ROWS}")
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        movie, out, theirs = place / "master.mp4", place / "ours", place / "theirs"
        theirs.mkdir()
        if set(parsed.parts) - {"codes"}:
            make_movie(movie, parsed.frames, parsed.megabits)
        for part in parsed.parts:
            if part == "codes":
                codes_part(engine, parsed.rounds)
            elif part == "dpx":
                ours, other = partial(rendered, movie, out, engine), partial(transcoded, movie, theirs)
                table_time(movie)
                compare(part, {"render": ours, "the transcoder": other}, parsed.rounds, parsed.frames)
            elif part == "memory":
                make_movie(movie, 4 * parsed.frames, parsed.megabits)
                for count in (parsed.frames, 4 * parsed.frames):
                    print(f"  memory  {count} frames: {largest_size(movie, count, parsed.engine):.0f} MiB")
            else:
                codec = {"prores": "prores-hq"}.get(part, part)
                given = given_planes(movie, engine, codec)
                ours, other = (
                    partial(rendered, movie, out, engine, codec),
                    partial(decoded_and_encoded, movie, theirs, codec, given),
                )
                compare(part, {"render": ours, "decode and encode alone": other}, parsed.rounds, parsed.frames)
                sizes = (out / "s.mov").stat().st_size, (theirs / "alone.mov").stat().st_size
                print(f"  {part:8}the movies have {sizes[0]} and {sizes[1]} bytes")
    print(f"largest size of this process: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB")


if __name__ == "__main__":
    main()
