"""What is handed on from the bench: stills, LUTs, CDLs and renders, by the same commands as in a terminal.

Stills are written here, by the reference engine; all else is a command on the saved trim sheet. Plain Python.
"""

import json
import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from tonemap.cdl_files import ENDINGS as CDL_ENDINGS
from tonemap.encoding import Encoding, quantise_signal
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.media.master import MOVIE_ENDINGS
from tonemap.media.oiio import read_picture
from tonemap.media.oiio_output import write_codes, write_signal
from tonemap.media.whole_file import refuse_masters
from tonemap.picture import Picture
from tonemap.reference import ReferenceEngine
from tonemap.rendition import Chain, needs_of

from .bench import Bench
from .jobs import Job
from .showing import Key

STILL, LAYOUT, LUT, CDL, RENDER = "still", "layout", "lut", "cdl", "render"
PROGRAMME, SHOT = "programme", "shot"


@dataclass(frozen=True)
class Wishes:
    """How it is handed on; by the words of the commands.

    Attributes
    ----------
    size : of a LUT; None for the smallest within the tolerance
    input : what a LUT is fed with; '' for the master's encoding
    split : whether the output adjustments go into a CDL beside the LUT
    all_shots : whether a CDL has every shot, and not the one at hand
    span : PROGRAMME or SHOT, what is rendered
    codec : of a movie; '' for that of its ending
    rate : of a movie, where the master does not say it; '' for that at which the bench plays
    hdr : whether it is the HDR version, with the input adjustments alone, in the master's encoding
    compare_every : frames after which the reference renders one too; 0 for never
    """

    size: int | None = 33
    tolerance: float = 2.0
    input: str = ""
    shaper: bool = True
    split: bool = False
    all_shots: bool = True
    span: str = PROGRAMME
    codec: str = ""
    rate: str = ""
    dither: bool = False
    caption: bool = False
    hdr: bool = False
    compare_every: int = 100


def proposed_name(bench: Bench, what: str, key: Key) -> Path:
    """Return a name beside the sheet, or beside the master, for what is handed on."""
    master, keeping = bench.facts.path, bench.keeping
    folder = keeping.path.parent if keeping.is_named and keeping.path is not None else master.parent
    stem = master.name.partition(".")[0] or "programme"
    shot = f".{_in_a_name(bench.state.shot.name)}" if bench.state.shot else ""
    rendition = "master" if key is None else _in_a_name(bench.state.slot(key).rendition.name)
    frame = f".{bench.state.frame:06d}" if bench.playback is not None else ""
    name = {
        STILL: f"{stem}{frame}.{rendition}.png",
        LAYOUT: f"{stem}{frame}.layout.png",
        LUT: f"{stem}{shot}.{rendition}.clf",
        CDL: f"{stem}.ccc",
        RENDER: f"{stem}-sdr",
    }[what]
    return folder.absolute() / name


def _in_a_name(text: str) -> str:
    """Return a text without what means something in a path or a pattern."""
    return re.sub(r"[^\w.+-]+", "-", text)


def unknown_rate(bench: Bench) -> str | None:
    """Return the rate at which the bench plays, where no master says one; None where one does, and for a still."""
    reel = bench.playback.reel if bench.playback is not None else None
    return None if reel is None or reel.is_rate_known else str(reel.rate)


def refuse_master_files(bench: Bench, path: Path) -> None:
    """Raise WrongCall when a file is one of the masters, which are never overwritten, not even when asked to."""
    refuse_masters([path], bench.playback.reel.files() if bench.playback is not None else [bench.facts.path])


def job_of(bench: Bench, what: str, key: Key, path: Path, wishes: Wishes, *, overwrite: bool = False) -> Job:
    """Return the job that hands something on.

    Parameters
    ----------
    key : the picture that a still or a LUT is of

    Raises
    ------
    TrimbenchError
        Where something is missing: a master, a rendition, a file for the sheet.
    """
    refuse_master_files(bench, path)
    if what == STILL:
        return _still(bench, key, path, overwrite)
    words = {LUT: _lut_words, CDL: _cdl_words, RENDER: _render_words}[what](bench, key, path, wishes)
    for folder in bench.host.folders:
        words += ["--operators", str(folder)]
    words += ["--overwrite"] if overwrite else []
    if what == LUT:  # its table needs columns
        return Job(f"LUT {path.name}", [*words, "--json"], _lut_sentences)
    return Job(f"{'CDL' if what == CDL else 'Render'} {path.name}", words)


def layout_job(codes: Any, encoding: Encoding, path: Path, overwrite: bool) -> Job:
    """Return the job that writes what the window shows, in the monitor's own encoding."""
    return Job(f"Layout {path.name}", lambda: _written(path, codes, encoding, overwrite, "as the window shows it"))


def _still(bench: Bench, key: Key, path: Path, overwrite: bool) -> Job:
    picture, engine = bench.pixels, ReferenceEngine()
    if picture is None:
        raise WrongCall("frames are passing; stand on one, and write it then")
    place = _place_in_time(bench)
    if key is None:
        return Job(f"Still {path.name}", lambda: _master_still(path, picture, overwrite, place))
    working = bench.working(bench.state.slot(key))
    if working is None or working.chain is None:
        raise TrimbenchError(bench.fault(bench.state.slot(key)) or "there is no picture to write; open a master first")
    if working.is_measuring:
        raise WrongCall(
            f"the shot of '{working.slot.rendition.name}' is still being measured; write the still after that"
        )
    chain = working.chain

    def write() -> list[str]:
        if path.suffix.lower() == ".exr":
            write_signal(path, engine.signal(picture, chain), chain.rendition.target, overwrite, **place)
            return [f"{path}: {_title(chain)}, R'G'B' signal by the reference engine"]
        codes, target = engine.codes(picture, chain), chain.rendition.target
        return _written(path, codes, target, overwrite, f"{_title(chain)}, by the reference engine", place)

    return Job(f"Still {path.name}", write)


def _place_in_time(bench: Bench) -> dict[str, Any]:
    """Return timecode and rate of the frame, where they are known."""
    if bench.playback is None:
        return {}
    reel = bench.playback.reel
    timecode = reel.timecode_at(bench.state.frame)
    return {"timecode": timecode, "rate": reel.rate} if timecode is not None else {}


def _master_still(path: Path, picture: Picture, overwrite: bool, place: dict[str, Any]) -> list[str]:
    encoding = picture.encoding
    if path.suffix.lower() == ".exr":
        write_signal(path, picture.samples.astype(np.float64), encoding, overwrite, **place)
        return [f"{path}: the master, {encoding.title}"]
    if encoding.bits is not None:
        return _written(path, picture.samples.astype(np.uint16), encoding, overwrite, "the master's own codes", place)
    if encoding.transfer == "linear":
        raise WrongCall(f"{path}: the master is linear light and has no code values; choose a name that ends in .exr")
    stated = replace(encoding, bits=16, signal_range="full")
    codes = quantise_signal(picture.samples.astype(np.float64), stated)
    return _written(path, codes, stated, overwrite, "the master, rounded to 16 bits", place)


def _written(
    path: Path, codes: Any, encoding: Encoding, overwrite: bool, what: str, place: dict[str, Any] | None = None
) -> list[str]:
    """Write code values, read the file again, and say how many differ."""
    write_codes(path, codes, encoding, overwrite, **(place or {}))
    read = read_picture(path).picture
    scale = (read.encoding.bits or 16) - (encoding.bits or 16)
    differing = int(np.count_nonzero(read.samples.astype(np.int64) >> max(scale, 0) != codes))
    return [f"{path}: {what}, {encoding.title}", f"read again: {differing} of {codes.size} code values differ"]


def _title(chain: Chain) -> str:
    rendition = chain.rendition
    return f"'{rendition.name}' ({rendition.tone}, {rendition.gamut})"


def _sheet_path(bench: Bench) -> Path:
    """Return the saved sheet; raises TrimbenchError where it can't be saved."""
    bench.settle()
    bench.keeping.make_file()
    if bench.keeping.fault is not None or bench.keeping.path is None:
        raise TrimbenchError(bench.keeping.fault or "the trim sheet has no file yet; give it a name with Ctrl S")
    return bench.keeping.path.absolute()


def _of_rendition(bench: Bench, key: Key) -> list[str]:
    """Return the words for a rendition as its tile shows it."""
    if key is None:
        raise WrongCall("the master has no LUT and no CDL; choose a rendition")
    sheet, shot = str(_sheet_path(bench)), bench.state.shot
    if shot is not None and bench.state.taken == key:
        return ["--sheet", sheet, "--shot", shot.name]
    return ["--sheet", sheet, "--rendition", bench.state.slot(key).rendition.name]


def _of_master(bench: Bench) -> list[str]:
    """Return the words for the master at hand, with what was said of its encoding."""
    _sheet_path(bench)
    sheet, frame = bench.keeping.work.sheet, bench.state.frame
    piece = next((piece for piece in sheet.pieces() if piece.first <= frame <= piece.last), None)
    if piece is None or piece.master is None:
        raise WrongCall(f"frame {frame} of the programme has no picture; go to a shot")
    said = [word for name, value in piece.master.said.items() for word in (f"--{name}", str(value))]
    path = sheet.path_of(piece.master).absolute()
    return [str(path), *said]


def _lut_words(bench: Bench, key: Key, path: Path, wishes: Wishes) -> list[str]:
    words = ["lut", *_of_master(bench), *_of_rendition(bench, key), "-o", str(path)]
    if bench.facts.count > 1 and bench.state.master is not None:
        words += ["--frame", str(_number(bench)), *_measured_frames(bench, key)]
    words += ["--tolerance", f"{wishes.tolerance:g}"] if wishes.size is None else ["--size", str(wishes.size)]
    words += ["--input", wishes.input] if wishes.input else []
    words += ["--shaper"] if wishes.shaper and path.suffix.lower() == ".cube" else []
    return words + (["--split", str(path.with_suffix(".cc"))] if wishes.split else [])


def _measured_frames(bench: Bench, key: Key) -> list[str]:
    """Return the words for the frames whose statistics the tile of a rendition has, where its operators need any."""
    stretch = bench.stretch
    if key is None or stretch is None or not needs_of(bench.state.slot(key).rendition, bench.host):
        return []
    first, last = (stretch.master.number(index) for index in (stretch.first, stretch.first + stretch.count - 1))
    return ["--frames", f"{first}-{last}"]


def _number(bench: Bench) -> int:
    """Return what the user calls the frame of the master at hand."""
    facts, frame = bench.facts, bench.state.master.frame if bench.state.master else None
    sheet, at = bench.state.sheet, bench.state.frame
    piece = next((piece for piece in sheet.pieces() if piece.first <= at <= piece.last), None)
    source = at if piece is None or frame is None else piece.source + at - piece.first
    return facts.first_number + source * facts.number_step


def _cdl_words(bench: Bench, key: Key, path: Path, wishes: Wishes) -> list[str]:
    if path.suffix.lower() not in CDL_ENDINGS:
        raise WrongCall(f"{path}: a CDL ends in {', '.join(CDL_ENDINGS)}; change the name")
    if wishes.all_shots and bench.state.sheet.shots:
        return ["cdl", str(_sheet_path(bench)), "-o", str(path)]
    return ["cdl", *_of_rendition(bench, key), "-o", str(path)]


def _render_words(bench: Bench, _: Key, path: Path, wishes: Wishes) -> list[str]:
    shot = bench.state.shot
    words = ["render", str(_sheet_path(bench))]
    words += ["--shot", shot.name] if wishes.span == SHOT and shot is not None else []
    words += ["-o", str(path), "--progress"]
    words += ["--codec", wishes.codec] if wishes.codec else []
    rate = unknown_rate(bench) if path.suffix.lower() in MOVIE_ENDINGS else None
    words += ["--rate", wishes.rate or rate] if rate is not None else []
    words += ["--dither"] if wishes.dither else []
    words += ["--caption"] if wishes.caption else []
    words += ["--hdr", "master"] if wishes.hdr else []
    return words + (["--compare-engines", str(wishes.compare_every)] if wishes.compare_every else [])


def _lut_sentences(printed: str) -> list[str]:
    report = json.loads(printed)
    lines = [f"{report['output']}: {report['size']} nodes a side, input {report['input']}"]
    lines += [f"{report['cdl']}: the output adjustments, to be applied after the LUT"] if report["cdl"] else []
    for name, error in report["errors"]["tetrahedral"].items():
        place = "grid up to the master's peak" if name == "grid" else report["frame"]
        lines.append(
            f"Delta E ITP from the exact trim, {place}: mean {error['mean']:.2f}, 99 % {error['p99']:.2f}, "
            f"maximum {error['maximum']:.2f}"
        )
    return [*lines, *report["notices"], f"engine: {report['engine']}"]
