"""trimbench cdl: output adjustments as colour decisions of the ASC CDL, and what is in such files."""

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from tonemap.errors import WrongCall
from tonemap.trim_sheet_text import ENDING, is_trim_sheet

from . import options

if TYPE_CHECKING:
    from tonemap.cdl import Cdl
    from tonemap.distance import Distance
    from tonemap.encoding import Encoding


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the verb's arguments."""
    parser.add_argument(
        "file", metavar="FILE", type=Path, nargs="?", help="a trim sheet, or colour decisions: .cdl, .cc, .ccc"
    )
    parser.add_argument("-o", "--output", metavar="OUT", type=Path, help=".cdl, .cc or .ccc; without it: print only")
    parser.add_argument("--overwrite", action="store_true", help="replace the output when it exists")
    options.add_renditions(parser, several=True)
    parser.add_argument("--json", action="store_true", help="print as JSON")


def run(parsed: argparse.Namespace) -> int:
    """Collect the corrections, write them where a file is named, and print them."""
    from tonemap.cdl_files import read_corrections, write_corrections

    corrections, notices = _corrections(parsed)
    error = None
    if parsed.output is not None:
        write_corrections(parsed.output, corrections, overwrite=parsed.overwrite)
        number = _difference(corrections, read_corrections(parsed.output))
        error = {"number": number, "sentence": _error_sentence(number)}
    report = {
        "output": str(parsed.output) if parsed.output else None,
        "error": error,
        "notices": notices,
        "corrections": [{"name": item.name, "note": item.note, **vars(item.cdl)} for item in corrections],
    }
    print(json.dumps(report, indent=2, ensure_ascii=False) if parsed.json else _sentences(report))
    return 0


def _corrections(parsed: argparse.Namespace) -> tuple[list[Any], list[str]]:
    """Return the corrections of a file, of the shots of a sheet, or of the renditions that are named, with notices."""
    from tonemap.cdl_files import ENDINGS, Correction, read_corrections

    if parsed.file is not None and parsed.file.suffix.lower() in ENDINGS:
        if options.says_renditions(parsed):
            raise WrongCall(f"{parsed.file} has its own numbers; leave out the renditions")
        return read_corrections(parsed.file), []
    if parsed.file is not None:
        if not is_trim_sheet(parsed.file):
            known = ", ".join(ENDINGS)
            raise WrongCall(
                f"{parsed.file}: this is neither a trim sheet ({ENDING}) nor colour decisions ({known}); name one"
            )
        if parsed.sheet is not None:
            raise WrongCall(f"{parsed.file} and {parsed.sheet} are two files; give one")
        parsed.sheet = parsed.file
    host = options.host_of(parsed)
    if not options.says_renditions(parsed):
        raise WrongCall("cdl takes a trim sheet, colour decisions, or a rendition; for example --set output.slope=1.1")
    sheet = options.sheet_of(parsed)
    if sheet is None or not sheet.shots or getattr(parsed, "rendition_words", []):
        renditions = options.renditions_of(parsed, host)
        return [Correction(parsed.shot or item.name, item.output, item.name) for item in renditions], []
    corrections, notices = [], []
    for shot in sheet.shots if parsed.shot is None else [options.shot_of(parsed)]:
        rendition, last = (sheet.rendition_at(frame, host) for frame in (shot.first, shot.last))
        corrections.append(Correction(shot.name, rendition.output, rendition.name))
        if rendition.output != last.output:
            notices.append(
                f"shot {shot.name} changes inside; the correction is that of its first frame, and from its last one it "
                f"is, over all signals, {_distance(rendition.output, last.output, rendition.target)}"
            )
    return corrections, notices


def _distance(first: "Cdl", last: "Cdl", target: "Encoding") -> "Distance":
    """Return how far two corrections are apart, on a dense grid of R'G'B' signals."""
    from tonemap.bake import measurement_grid
    from tonemap.cdl import apply_cdl
    from tonemap.distance import distance_between

    signals = measurement_grid(0.0, 1.0)
    return distance_between(apply_cdl(signals, last), apply_cdl(signals, first), target)


def _difference(written: list[Any], read: list[Any]) -> float:
    """Return the greatest difference of a number as it was meant and as the file holds it."""
    words = ("slope", "offset", "power", "saturation")
    return max(
        float(np.abs(np.subtract(getattr(one.cdl, word), getattr(other.cdl, word))).max())
        for one, other in zip(written, read, strict=True)
        for word in words
    )


def _error_sentence(error: float) -> str:
    """Say how far a file of colour decisions is from the output adjustments."""
    found = "the output adjustments exactly" if error == 0.0 else f"the output adjustments within {error:.1g}"
    return f"read again: {found}; operators and input adjustments are not in it"


def _sentences(report: dict[str, Any]) -> str:
    lines = list(report["notices"])
    if report["error"] is not None:
        lines.insert(0, report["error"]["sentence"])
    if report["output"]:
        count = len(report["corrections"])
        lines.insert(0, f"{report['output']}: {count} correction{'s' if count > 1 else ''}")
    for item in report["corrections"]:
        words = ((word, item[word]) for word in ("slope", "offset", "power"))
        numbers = ", ".join(f"{word} " + " ".join(f"{number:g}" for number in values) for word, values in words)
        lines.append(f"{item['name'] or '(no name)'}: {numbers}, saturation {item['saturation']:g}")
    return "\n".join(lines)
