"""trimbench line-up: test patterns for a monitor as files, with the tags of their encoding."""

import argparse
import json
import re
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from tonemap.encoding import Encoding, sdr_target
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.line_up.patterns import CAUTION, PATTERNS, brightness_of, draw_pattern
from tonemap.signal_range import BIT_DEPTHS, FULL, NARROW, RANGES

SIGNALS = ("pq", "sdr")
FORMATS = ("png", "dpx", "tif")
SIZE = "3840x2160"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the verb's arguments."""
    parser.add_argument(
        "--write", metavar="DIR", type=Path, required=True, help="the folder for the files; made where there is none"
    )
    parser.add_argument(
        "--pattern",
        metavar="NAME",
        action="append",
        help=f"one of {', '.join(PATTERNS)}; may be given several times; default: all",
    )
    parser.add_argument(
        "--signal", choices=SIGNALS, action="append", help="pq or sdr (BT.1886, 100 cd/m\u00b2); default: both"
    )
    parser.add_argument(
        "--format", choices=FORMATS, action="append", help="png, dpx or tif; default: png, the smallest, tagged by cICP"
    )
    parser.add_argument("--size", metavar="WxH", default=SIZE, help=f"pixels of the monitor, default {SIZE}")
    parser.add_argument(
        "--peak",
        metavar="NITS",
        type=float,
        default=1000.0,
        help="of the PQ monitor: level of its windows; default 1000",
    )
    parser.add_argument("--black", metavar="NITS", type=float, default=0.0, help="of the SDR monitor; default 0")
    parser.add_argument("--primaries", metavar="NAME", help="of both; default bt2020 for pq, bt709 for sdr")
    parser.add_argument("--range", choices=RANGES, dest="signal_range", help="default narrow for dpx, else full")
    parser.add_argument("--bits", type=int, choices=BIT_DEPTHS, help="default 10 for dpx, else 16")
    parser.add_argument(
        "--bright", action="store_true", help="also write windows of 200 cd/m\u00b2 and more over the whole picture"
    )
    parser.add_argument("--overwrite", action="store_true", help="replace files that exist")
    parser.add_argument("--json", action="store_true", help="print what was written as JSON")


def run(parsed: argparse.Namespace) -> int:
    """Draw and write the patterns, the caution first."""
    from tonemap.media.oiio_output import write_codes
    from tonemap.media.whole_file import refuse_existing

    from ..line_up import set_type

    columns, rows = _size(parsed.size)
    names = parsed.pattern or list(PATTERNS)
    plan = [
        (name, encoding_of(signal, file_format, parsed), parsed.write / f"{name}.{signal}.{file_format}")
        for signal in parsed.signal or SIGNALS
        for file_format in parsed.format or FORMATS[:1]
        for name in names
    ]
    found = {path: brightness_of(name, encoding) for name, encoding, path in plan}
    bright = [path.name for path, each in found.items() if each.is_bright_on_the_whole]
    if not parsed.bright:
        plan = [(name, encoding, path) for name, encoding, path in plan if path.name not in bright]
    for _, _, path in plan:
        refuse_existing(path, parsed.overwrite)
    _make_folder(parsed.write)
    if not parsed.json:
        print(f"caution: {CAUTION}")
    written: list[dict[str, Any]] = []
    for name, encoding, path in plan:
        write_codes(path, draw_pattern(name, encoding, columns, rows, set_type), encoding, parsed.overwrite)
        written.append({"file": str(path), "pattern": name, "encoding": encoding.title, "light": asdict(found[path])})
        if not parsed.json:
            light = f"; very bright: {found[path].words}" if found[path].is_very_bright else ""
            print(f"{path}: {PATTERNS[name].title}, {encoding.title}{light}")
    left_out = [] if parsed.bright else bright
    if parsed.json:
        report = {"caution": CAUTION, "size": [columns, rows], "written": written, "left out": left_out}
        print(json.dumps(report, indent=2, ensure_ascii=False))
    elif left_out:
        print(f"left out, for they are very bright: {', '.join(left_out)}; --bright writes them too")
    return 0


def encoding_of(signal: str, file_format: str, parsed: argparse.Namespace) -> Encoding:
    """Return the encoding of the files of a signal in a format, by what the user said and the defaults."""
    is_dpx = file_format == "dpx"
    encoding = Encoding("pq", "bt2020", peak=parsed.peak) if signal == "pq" else sdr_target(black=parsed.black)
    return replace(
        encoding,
        primaries=parsed.primaries or encoding.primaries,
        signal_range=parsed.signal_range or (NARROW if is_dpx else FULL),
        bits=parsed.bits or (10 if is_dpx else 16),
    )


def _size(text: str) -> tuple[int, int]:
    found = re.fullmatch(r"(\d+)[xX\u00d7](\d+)", text)
    if found is None:
        raise WrongCall(f"--size '{text}' is no size; give it as 3840x2160")
    return int(found[1]), int(found[2])


def _make_folder(path: Path) -> None:
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise TrimbenchError(f"{path}: no folder can be made here: {error.strerror}; choose another place") from error
