"""trimbench lut: a rendition as a LUT, with its distance from the exact trim."""

import argparse
import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tonemap.errors import TrimbenchError, WrongCall
from tonemap.rendition import Chain, Rendition
from tonemap.settings import settings_of
from tonemap.trim_sheet_text import is_trim_sheet

from . import options
from .lut_source import Source, source_of

DEFAULT_SIZE = 33
GRID, FRAME, LAST = "grid", "frame", "last frame"
GRID_TITLE = "grid up to the master's peak"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the verb's arguments."""
    from tonemap.bake import SIZES
    from tonemap.encoding import ENCODING_WORDS

    options.add_master(parser, options.MASTER_OR_SHEET, optional=True)
    options.add_matrix(parser)
    parser.add_argument("--frame", metavar="N", type=int, help="of the master, to measure on; default: in the middle")
    parser.add_argument(
        "--frames",
        metavar="A-B",
        help="of the master, measured for operators that need it; default: the shot's, the frame that is named, or all",
    )
    parser.add_argument("-o", "--output", metavar="OUT", type=Path, required=True, help=".clf or .cube")
    parser.add_argument("--overwrite", action="store_true", help="replace the output when it exists")
    parser.add_argument(
        "--input", metavar="ENCODING", help=f"what the LUT is fed with: {ENCODING_WORDS}; default: the master's"
    )
    parser.add_argument(
        "--size", metavar="N", type=int, choices=SIZES, help=f"nodes a side: 17, 33 or 65; default {DEFAULT_SIZE}"
    )
    parser.add_argument(
        "--tolerance",
        metavar="N",
        type=float,
        help="write the smallest size of which 99 %% of the frame (without one: of the grid) is within N Delta E ITP",
    )
    parser.add_argument("--shaper", action="store_true", help="cube: a shaper before the table; CLF always has one")
    parser.add_argument(
        "--split", metavar="FILE", type=Path, help="leave the output adjustments to a CDL: .cdl, .cc or .ccc"
    )
    options.add_renditions(parser, several=False)
    options.add_engine(parser)
    parser.add_argument("--json", action="store_true", help="print what was done as JSON")


def run(parsed: argparse.Namespace) -> int:
    """Bake, measure the file's own text, write, and say what was done."""
    from tonemap.lut_file import ending_of
    from tonemap.media.whole_file import refuse_existing

    ending = ending_of(parsed.output)
    for path in filter(None, (parsed.output, parsed.split)):
        refuse_existing(path, parsed.overwrite)
    if parsed.tolerance is not None and not parsed.tolerance > 0.0:
        raise WrongCall(f"--tolerance {parsed.tolerance:g} can't be met; give a Delta E ITP above 0")
    if parsed.master is not None and is_trim_sheet(parsed.master):
        if parsed.sheet is not None:
            raise WrongCall(f"{parsed.master} and {parsed.sheet} are both trim sheets; give one")
        parsed.sheet, parsed.master = parsed.master, None
    host = options.host_of(parsed)
    renditions = options.renditions_of(parsed, host) or [
        Rendition(host.get(options.DEFAULT_TONE).title, options.DEFAULT_TONE, options.DEFAULT_GAMUT)
    ]
    if len(renditions) > 1:
        raise WrongCall("lut takes one rendition, and several --tone were given; call it once for each")
    source = source_of(parsed)
    chain = source.chain(renditions[0], host)
    at_last = source.chain(options.renditions_of(parsed, host, at_last=True)[0], host) if source.last else None
    job = _Job(parsed, ending, source, chain, at_last, options.engine_of(parsed.engine))
    report = job.report(job.chosen())
    print(json.dumps(report, indent=2, ensure_ascii=False) if parsed.json else "\n".join(_lines(report)))
    return 0


@dataclass(frozen=True)
class _Baked:
    """A LUT as its file's text says it, with its errors."""

    lut: Any
    errors: dict[str, Any]


class _Job:
    """One call of the verb: from the rendition to the file."""

    def __init__(
        self, parsed: argparse.Namespace, ending: str, source: Source, chain: Chain, at_last: Chain | None, engine: Any
    ) -> None:
        from tonemap.bake import grid_trial, picture_trial, without_output_adjustments
        from tonemap.lut_file import CLF

        self.parsed, self.ending, self.source, self.chain, self.engine = parsed, ending, source, chain, engine
        self.has_shaper = parsed.shaper or ending == CLF
        self.baked_chain = without_output_adjustments(chain) if parsed.split else chain
        self.cdl_text: str | None = None
        self.cdl: Any = None
        if parsed.split:
            self.cdl_text, self.cdl = self._split()
        self.trials = {GRID: grid_trial(chain, source.lut_input, engine)}
        if source.picture is not None:
            self.trials[FRAME] = picture_trial(chain, source.lut_input, engine, source.picture)
        if source.last is not None and at_last is not None:
            self.trials[LAST] = picture_trial(at_last, source.lut_input, engine, source.last.picture)
        self.judged = FRAME if FRAME in self.trials else GRID
        self.tried: dict[int, float] = {}

    def chosen(self) -> _Baked:
        """Bake the size that was asked for, or the smallest that meets the tolerance, and write it."""
        from tonemap.bake import SIZES

        tolerance, size = self.parsed.tolerance, self.parsed.size
        sizes = (size,) if size else SIZES if tolerance is not None else (DEFAULT_SIZE,)
        for side in sizes:
            baked = self._baked(side)
            self.tried[side] = baked.errors[self.judged].p99
            if size or tolerance is None or self.tried[side] <= tolerance:
                self._write(baked)
                return baked
        best = min(self.tried, key=lambda side: self.tried[side])
        raise TrimbenchError(
            f"{self.parsed.output}: no size is within {tolerance:g} Delta E ITP for 99 % of the {self.judged}: "
            f"{best} nodes a side reach {self.tried[best]:.2f}; nothing was written; raise --tolerance, or give --size"
        )

    def report(self, baked: _Baked) -> dict[str, Any]:
        """Return what was done, as plain values."""
        from tonemap.bake import errors_of
        from tonemap.lut import TRILINEAR

        rendition, tolerance = self.chain.rendition, self.parsed.tolerance
        grid = {GRID: self.trials[GRID]}
        trilinear = errors_of(baked.lut, grid, self.chain, interpolation=TRILINEAR, cdl=self.cdl)
        return {
            "output": str(self.parsed.output),
            "bytes": self.parsed.output.stat().st_size,
            "size": baked.lut.size,
            "shaper": baked.lut.shaper is not None,
            "cdl": str(self.parsed.split) if self.parsed.split else None,
            "rendition": {
                "name": rendition.name,
                "tone": rendition.tone,
                "gamut": rendition.gamut,
                "settings": settings_of(rendition, self.chain.host),
            },
            "input": self.source.lut_input.title,
            "outputs": _output_title(self.chain),
            "engine": self.engine.title,
            "frame": self.source.label,
            "last frame": self.source.last.name if self.source.last else None,
            "notices": list(self.source.notices),
            "errors": {
                "tetrahedral": {name: error.to_dict() for name, error in baked.errors.items()},
                "trilinear": {name: error.to_dict() for name, error in trilinear.items()},
            },
            "tolerance": tolerance,
            "tolerance is of": None if tolerance is None else f"99 % of the {self.judged}, Delta E ITP",
            "within tolerance": None if tolerance is None else self.tried[baked.lut.size] <= tolerance,
            "tried": {str(side): value for side, value in self.tried.items()},
        }

    def _split(self) -> tuple[str, Any]:
        """Return the text of the CDL file, and the CDL that is read from it."""
        from tonemap.cdl_files import Correction, cdl_text, corrections_in, ending_of_cdl

        ending = ending_of_cdl(self.parsed.split)
        rendition = self.chain.rendition
        text = cdl_text(ending, [Correction(rendition.name, rendition.output)])
        return text, corrections_in(text)[0].cdl

    def _baked(self, size: int) -> _Baked:
        """Bake one size, and measure it as its file's text holds it."""
        from tonemap.bake import bake, errors_of
        from tonemap.lut_file import lut_in_text, lut_text

        lut = bake(self.baked_chain, self.source.lut_input, size, self.engine, shaper=self.has_shaper)
        read, _ = lut_in_text(self.ending, lut_text(self.ending, lut, self._notes({})))
        return _Baked(read, errors_of(read, self.trials, self.chain, cdl=self.cdl))

    def _write(self, baked: _Baked) -> None:
        from tonemap.lut_file import write_lut
        from tonemap.media.whole_file import whole_file

        notes = self._notes(baked.errors)
        if self.cdl_text is None:
            write_lut(self.parsed.output, baked.lut, notes, overwrite=self.parsed.overwrite)
            return
        with whole_file(self.parsed.split, self.parsed.overwrite) as part:  # gets its name when the LUT has its own
            part.write_text(self.cdl_text, encoding="utf-8", newline="\n")
            write_lut(self.parsed.output, baked.lut, notes, overwrite=self.parsed.overwrite)

    def _notes(self, errors: dict[str, Any]) -> Any:
        from tonemap import __version__
        from tonemap.clf import Notes

        rendition = self.baked_chain.rendition
        settings = settings_of(rendition, self.chain.host)
        master = self.chain.master
        lines = [
            f"tone operator {rendition.tone}, gamut operator {rendition.gamut}",
            "settings: " + ", ".join(f"{path}={_word(value)}" for path, value in settings.items()),
            f"master: peak {master.peak:g} cd/m2, black {master.black:g} cd/m2; target: {rendition.target.title}",
            "interpolation: tetrahedral",
        ]
        if self.parsed.split:
            lines.append(f"to be followed by the CDL in {self.parsed.split.name}, from which the errors include it")
        lines += [f"distance from the exact trim, {self._place(name)}: {e}" for name, e in errors.items()]
        made = f"Trimbench {__version__}, {self.engine.title}, {datetime.now(UTC).date().isoformat()}"
        return Notes(rendition.name, made, tuple(lines), self.source.lut_input.title, _output_title(self.chain))

    def _place(self, name: str) -> str | None:
        if name == LAST and self.source.last is not None:
            return f"{self.source.last.name} (last)"
        return GRID_TITLE if name == GRID else self.source.label


def _output_title(chain: Chain) -> str:
    target = replace(chain.rendition.target, bits=None, signal_range="full")
    return f"{target.title}: R'G'B' signal, 0 is black and 1 is white, at any range and bits"


def _word(value: Any) -> str:
    return ",".join(map(repr, value)) if isinstance(value, tuple) else str(value)


def _lines(report: dict[str, Any]) -> Iterator[str]:
    rendition, size = report["rendition"], report["size"]
    shaper = "with a shaper" if report["shaper"] else "without a shaper"
    yield (
        f"{report['output']}: {rendition['name']} ({rendition['tone']}, {rendition['gamut']}), "
        f"{size} nodes a side, {shaper}, {report['bytes'] / 1e6:.1f} MB"
    )
    if report["cdl"]:
        yield f"{report['cdl']}: the output adjustments, to be applied after the LUT; the figures below are of both"
    yield f"input: {report['input']}"
    yield f"output: {report['outputs']}"
    yield from report["notices"]
    yield f"{'distance from the exact trim':44}{'Delta E ITP':>22}{'10-bit codes':>22}"
    yield f"{'':44}{'mean':>8}{'99 %':>7}{'max':>7}{'mean':>8}{'99 %':>7}{'max':>7}"
    for interpolation, errors in report["errors"].items():
        for name, error in errors.items():
            place = {GRID: GRID_TITLE, FRAME: report["frame"], LAST: f"{report['last frame']} (last)"}[name]
            yield (
                f"{f'{place}, {interpolation}':44}{error['mean']:8.2f}{error['p99']:7.2f}{error['maximum']:7.2f}"
                f"{error['codes_mean']:8.2f}{error['codes_p99']:7.0f}{error['codes_maximum']:7d}"
            )
    if report["tolerance"] is not None:
        tried = ", ".join(f"{side}: {value:.2f}" for side, value in report["tried"].items())
        meets = "met" if report["within tolerance"] else "not met"
        yield f"tolerance {report['tolerance']:g} of {report['tolerance is of']}: {meets}; tried {tried}"
    yield f"engine: {report['engine']}"
