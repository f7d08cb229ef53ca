"""Render the demo master: an evening in a lantern maker's workshop by a harbour, in absolute light.

The scene is computed, not photographed: see `demo/scene/`. Run it as
`python demo/make_scene.py OUT --width 1920 --height 1080 --frames 0-47 --format exr,dpx`.
"""

import argparse
import math
import multiprocessing
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
if str(ROOT) not in sys.path:  # so that the file also runs as a script from a checkout
    sys.path.insert(0, str(ROOT))

from demo.scene import lens, picture, references  # noqa: E402
from tonemap.arrays import Array  # noqa: E402
from tonemap.colorimetry import PRIMARIES, conversion_matrix, convert, luminance  # noqa: E402
from tonemap.signal_range import quantise  # noqa: E402
from tonemap.transfer import hlg_ootf, hlg_ootf_inverse, pq_eotf_inverse  # noqa: E402

FRAMES = 48
FRAME_RATE = 24
PEAK = 1000.0
KNEE = 600.0
TOP = 4000.0

PATCHES: dict[str, tuple[float, float, float, float]] = {
    "skin_dark": (0.2292, 0.3519, 0.2427, 0.3963),
    "skin_medium": (0.4958, 0.3259, 0.5104, 0.3444),
    "skin_light": (0.7750, 0.3667, 0.7875, 0.3870),
    "white": (0.3930, 0.8257, 0.4227, 0.8559),
    "grey": (0.4435, 0.8242, 0.4731, 0.8543),
    "chart_dark": (0.3905, 0.8759, 0.4092, 0.9050),
    "chart_medium": (0.4238, 0.8748, 0.4423, 0.9039),
    "chart_light": (0.4568, 0.8737, 0.4754, 0.9027),
    "sky": (0.6458, 0.1259, 0.6927, 0.1815),
    "lamp": (0.3896, 0.0444, 0.4146, 0.0852),
    "red": (0.6927, 0.6944, 0.7292, 0.8148),
    "blue": (0.0354, 0.7037, 0.0667, 0.7963),
    "green": (0.0885, 0.7407, 0.1354, 0.8333),
    "shadow": (0.3500, 0.6150, 0.4000, 0.7000),
}
"""Named regions of frame 0: (left, top, right, bottom), each 0..1 of the picture."""


def render_frame(frame: int, width: int, height: int) -> Array:
    """Render one frame of the scene.

    Parameters
    ----------
    frame : int
        Number of the frame; the motion is a loop of `FRAMES` frames.
    width, height : int
        Size in pixels; the picture is composed for 16:9.

    Returns
    -------
    ndarray (height, width, 3), float32
        Light in cd/m2, BT.2020 primaries, D65; non-negative, finite, not limited in peak or gamut.
        White card, grey card and strip show their nominal light up to 600 cd/m2; the strip's last step is what
        `grade` brings to 1000 cd/m2.
    """
    phase = 2.0 * math.pi * (frame % FRAMES) / FRAMES
    scene = picture.picture(phase, width, height)
    white = float(hlg_ootf_inverse(np.full(3, references.WHITE), PEAK)[0])
    light = hlg_ootf(scene * white, PEAK)
    light = lens.grain(light, frame % FRAMES)
    light = references.lay_in(light, picture.camera(phase), _arc_inverse)
    return light.astype(np.float32)


def grade(light: Array) -> Array:
    """Limit light to the master's container: at most 1000 cd/m2 in any channel, colours within P3-D65.

    Light is unchanged up to 600 cd/m2. Above, a hyperbolic arc brings 4000 cd/m2 to 1000, and what is
    brighter clips there. The arc is driven by the greatest channel, a quarter by each channel alone, so that
    hot cores whiten a little. Colours outside P3 are mixed with their grey of the same luminance until the
    least P3 component is 0.

    Parameters
    ----------
    light : ndarray (..., 3), cd/m2, BT.2020

    Returns
    -------
    ndarray (..., 3), cd/m2, BT.2020, 0..1000
    """
    light = np.maximum(light, 0.0)
    strongest = np.maximum(light.max(axis=-1, keepdims=True), 1e-12)
    limited = 0.75 * light * (_arc(strongest) / strongest) + 0.25 * _arc(light)
    p3 = convert(limited, conversion_matrix("bt2020", "p3-d65"))
    grey = luminance(limited)[..., np.newaxis]
    least = p3.min(axis=-1, keepdims=True)
    excess = np.where(least < 0.0, -least / np.maximum(grey - least, 1e-12), 0.0)
    inside = convert(p3 + excess * (grey - p3), conversion_matrix("p3-d65", "bt2020"))
    return np.clip(inside, 0.0, PEAK).astype(light.dtype)


def _arc(nits: Array) -> Array:
    bend = 1.0 / (PEAK - KNEE) - 1.0 / (TOP - KNEE)
    above = np.maximum(nits - KNEE, 0.0)
    return np.minimum(np.minimum(nits, KNEE) + above / (1.0 + bend * above), PEAK)


def _arc_inverse(nits: Array) -> Array:
    """Return the light that `grade` brings to `nits`, so that the strip's steps are true in the master."""
    bend = 1.0 / (PEAK - KNEE) - 1.0 / (TOP - KNEE)
    above = np.clip(nits - KNEE, 0.0, PEAK - KNEE)
    return np.minimum(nits, KNEE) + above / (1.0 - bend * above)


def _write(path: Path, pixels: Array, spec_type: str, attributes: dict[str, object]) -> None:
    import OpenImageIO as oiio

    path.parent.mkdir(parents=True, exist_ok=True)
    height, width = pixels.shape[:2]
    spec = oiio.ImageSpec(width, height, 3, spec_type)
    for name, value in attributes.items():
        if isinstance(value, tuple):
            spec.attribute(name, oiio.TypeDesc(f"float[{len(value)}]"), value)
        else:
            spec.attribute(name, value)
    part = path.with_name(f".{path.stem}.part{os.getpid()}{path.suffix}")
    output = oiio.ImageOutput.create(str(path))
    done = output is not None and output.open(str(part), spec) and output.write_image(pixels)
    problem = oiio.geterror() if output is None else output.geterror()
    if output is not None:
        done = output.close() and done
    if not done:
        part.unlink(missing_ok=True)
        raise OSError(f"{path}: the frame could not be written ({problem}); check the folder and the space left")
    part.replace(path)


def write_frame_exr(path: Path | str, light: Array) -> None:
    """Write light as a half-float EXR file in which 1.0 is 1 cd/m2; the file appears whole or not at all.

    Parameters
    ----------
    path : Path or str
    light : ndarray (height, width, 3), cd/m2, BT.2020
    """
    primaries = PRIMARIES["bt2020"]
    corners = (*primaries.red, *primaries.green, *primaries.blue, *primaries.white)
    attributes: dict[str, object] = {
        "compression": "zip",
        "chromaticities": tuple(float(value) for value in corners),
        "whiteLuminance": 1.0,
        "framesPerSecond": float(FRAME_RATE),
    }
    _write(Path(path), np.ascontiguousarray(light, np.float32), "half", attributes)


def write_frame_dpx(path: Path | str, light: Array) -> None:
    """Write light as a 10-bit DPX file: PQ, BT.2020 primaries, narrow-range R'G'B'.

    OpenImageIO takes and gives 10-bit samples as 16-bit ones: it keeps the upper ten bits when it writes, and
    repeats the upper bits below when it reads. Codes are therefore handed over in that repeated form, and
    `value >> 6` gives them back.

    Parameters
    ----------
    path : Path or str
    light : ndarray (height, width, 3), cd/m2, BT.2020
    """
    codes = quantise(pq_eotf_inverse(np.asarray(light, np.float64)), 10, "narrow")
    wide = (codes << 6) | (codes >> 4)
    attributes: dict[str, object] = {
        "oiio:BitsPerSample": 10,
        "dpx:LowData": 64,
        "dpx:HighData": 940,
        "dpx:FrameRate": float(FRAME_RATE),
        "ImageDescription": "PQ BT.2020 narrow range",
    }
    _write(Path(path), np.ascontiguousarray(wide), "uint16", attributes)


WRITERS = {"exr": write_frame_exr, "dpx": write_frame_dpx}


def _is_complete(path: Path, width: int, height: int) -> bool:
    import OpenImageIO as oiio

    if not path.is_file():
        return False
    source = oiio.ImageInput.open(str(path))
    if source is None:
        oiio.geterror()
        return False
    spec = source.spec()
    source.close()
    return bool((spec.width, spec.height) == (width, height))


def make_frame(frame: int, folder: Path, width: int, height: int, formats: tuple[str, ...]) -> float:
    """Render and write one frame where a file is missing; return the seconds taken, 0 for none."""
    started = time.perf_counter()
    paths = {kind: folder / kind / f"scene.{frame:04d}.{kind}" for kind in formats}
    missing = [kind for kind, path in paths.items() if not _is_complete(path, width, height)]
    if not missing:
        return 0.0
    light = grade(render_frame(frame, width, height))
    for kind in missing:
        WRITERS[kind](paths[kind], light)
    return time.perf_counter() - started


def _frame_range(text: str) -> range:
    first, _, last = text.partition("-")
    try:
        frames = range(int(first), int(last or first) + 1)
    except ValueError:
        frames = range(0)
    if not frames or frames[0] < 0:
        raise argparse.ArgumentTypeError(f"'{text}' is not a range of frames; write it as 0-47 or 12")
    return frames


def _formats(text: str) -> tuple[str, ...]:
    kinds = tuple(dict.fromkeys(text.split(",")))
    unknown = [kind for kind in kinds if kind not in WRITERS]
    if unknown:
        raise argparse.ArgumentTypeError(f"format '{unknown[0]}' is not known; choose among {', '.join(WRITERS)}")
    return kinds


def main(arguments: list[str] | None = None) -> int:
    """Render a range of frames into a folder; frames that are there already are kept."""
    parser = argparse.ArgumentParser(description="Render the demo master.")
    parser.add_argument("out", type=Path, help="folder for the sub-folders exr and dpx")
    parser.add_argument("--width", type=int, default=1920, help="pixels (default 1920)")
    parser.add_argument("--height", type=int, default=1080, help="pixels (default 1080)")
    parser.add_argument("--frames", type=_frame_range, default=range(FRAMES), help="first-last (default 0-47)")
    parser.add_argument("--format", type=_formats, default=tuple(WRITERS), help="exr, dpx or both (default exr,dpx)")
    parser.add_argument("--jobs", type=int, default=min(2, os.cpu_count() or 1), help="processes (default 2)")
    options = parser.parse_args(arguments)
    if options.width < 16 or options.height < 16 or options.jobs < 1:
        parser.error("width and height must be at least 16 pixels, and jobs at least 1")
    started = time.perf_counter()
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(options.jobs, mp_context=context) as pool:
        tasks = {
            pool.submit(make_frame, frame, options.out, options.width, options.height, options.format): frame
            for frame in options.frames
        }
        try:
            for count, task in enumerate(as_completed(tasks), start=1):
                spent = task.result()
                left = (time.perf_counter() - started) / count * (len(tasks) - count)
                what = f"{spent:.1f} s" if spent else "kept"
                line = f"frame {tasks[task]:04d} {what}, {count} of {len(tasks)}, about {left:.0f} s left"
                print(f"\r{line:<70}", end="", file=sys.stderr, flush=True)
        except KeyboardInterrupt:
            pool.shutdown(wait=False, cancel_futures=True)
            print("\nstopped; run the same command again to go on", file=sys.stderr)
            return 1
    print(file=sys.stderr)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
