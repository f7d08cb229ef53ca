"""trimbench measure: the figures of a master, of its renditions and of what lies between; or those of a monitor."""

import argparse
import json
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tonemap.errors import TrimbenchError, WrongCall

from ..stops import STATUS, stop_asked
from . import options
from .output import printable
from .progress import ProgressBar

SAVE_SECONDS = 10.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the verb's arguments."""
    options.add_master(parser, options.ANY_MASTER, optional=True)
    parser.add_argument("--sequence", action="store_true", help="MASTER stands for all pictures numbered like it")
    options.add_matrix(parser)
    parser.add_argument("--frames", metavar="A-B", help="only these, by their numbers; a movie's are counted from 0")
    parser.add_argument("--step", metavar="N", type=int, default=1, help="only every Nth frame")
    parser.add_argument(
        "--area", metavar="TOP,LEFT,ROWS,COLUMNS", help="active picture area in pixels; default: bars are found"
    )
    parser.add_argument(
        "--profile", metavar="NAME|FILE", help="check against a delivery profile, by name or .toml file"
    )
    parser.add_argument(
        "--patch",
        metavar="KIND:NAME:X,Y,X,Y ...",
        action="append",
        default=[],
        help="a region to measure: skin, white, grey, sky or custom; two opposite corners, or three and more of a "
        "polygon, 0..1 of the picture",
    )
    parser.add_argument("--find-skin", action="store_true", help="propose regions that may be skin and measure them")
    parser.add_argument(
        "--patch-frame", metavar="N", type=int, help="frame that patches lie on; default: the first that can be read"
    )
    options.add_renditions(parser, several=True)
    parser.add_argument(
        "--against",
        metavar="WHAT",
        default="master",
        help="what the renditions' difference is from: master, reference (the same rendition by the reference engine), "
        "or the name of one of the renditions; default: master",
    )
    parser.add_argument(
        "--below",
        metavar="NITS",
        type=float,
        help="count the difference only where the master is this dark; default: from the master the target's peak, "
        "else all",
    )
    options.add_engine(parser)
    parser.add_argument("--state", metavar="FILE", type=Path, help="save there, to go on after an interruption")
    parser.add_argument("--resume", metavar="FILE", type=Path, help="go on from a saved state, with the same words")
    parser.add_argument("--plots", metavar="FOLDER", type=Path, help="write pictures there, PNG and SVG")
    parser.add_argument("--paper", action="store_true", help="plots for print, on white; default: for dark screens")
    parser.add_argument(
        "--sidecar", metavar="FILE", type=Path, help="write MaxCLL, MaxFALL and the mastering display there, JSON"
    )
    parser.add_argument("--overwrite", action="store_true", help="replace plots, a state and a sidecar that exist")
    parser.add_argument("--json", action="store_true", help="print as JSON")
    group = parser.add_argument_group("a monitor, in place of a master")
    group.add_argument("--readings", metavar="FILE", type=Path, help="CGATS or CSV file of measured patches")
    group.add_argument("--rgb-scale", metavar="NAME", help="what the patches' RGB means: percent, unit, 10-narrow ...")
    group.add_argument(
        "--white", metavar="NITS", type=float, help="luminance of Y = 100, where the file doesn't say it"
    )
    group.add_argument("--grade", metavar="NAME", help="tolerances to judge by: ebu-3320-grade-1-sdr or -hdr")


def run(parsed: argparse.Namespace) -> int:
    """Measure and print; exit status 1 when a frame could not be read or a profile fails."""
    if (parsed.master is None and parsed.sheet is None) == (parsed.readings is None):
        raise WrongCall("measure takes a master, or a monitor's readings with --readings; name one of them")
    if parsed.paper and parsed.plots is None:
        raise WrongCall("--paper is how plots look; say where they go with --plots FOLDER, or leave it out")
    if parsed.readings is not None:
        from .measure_monitor import run_readings

        return run_readings(parsed)
    if parsed.state is not None and parsed.resume is not None:
        raise WrongCall("--resume goes on saving to its own file; leave out --state")
    return _run_session(parsed)


def _run_session(parsed: argparse.Namespace) -> int:
    from tonemap.measure.report import passes, report_of

    if parsed.sidecar is not None:
        from tonemap.media.whole_file import refuse_existing

        refuse_existing(parsed.sidecar, parsed.overwrite)
    session = session_of(parsed)
    if parsed.plots is not None and not parsed.overwrite:
        from .measure_plots import refuse_existing_plots

        refuse_existing_plots(session, parsed.plots)
    session.keeps_codes = parsed.plots is not None
    state = parsed.resume or parsed.state
    if parsed.resume:
        session.resume(parsed.resume)
    elif state:
        from tonemap.media.whole_file import refuse_existing

        refuse_existing(state, parsed.overwrite)
    progress = _Progress(session, state)
    progress.begin()
    with stop_asked() as is_stopped:
        is_complete = session.run(progress.after_frame, is_stopped)
    progress.bar.clear()
    if state or not is_complete:
        state = state or _free_name(Path(f"{parsed.master.stem or 'master'}.measure-state.json"))
        session.save(state)
    if not is_complete:
        print(
            f"trimbench: stopped after {session.done} of {len(session.plan.indices)} frames; "
            f"the same words with --resume {state} in place of --state go on from there",
            file=sys.stderr,
        )
        return STATUS
    report = report_of(session)
    faults = (_write_plots(parsed, session, report), _write_sidecar(parsed, session, report))
    if parsed.json:
        print(json.dumps(report, indent=2, ensure_ascii=False, allow_nan=False))
    else:
        from .measure_table import table

        print(table(report))
    for sentence in _failures(report):
        print(f"trimbench: {printable(sentence)}", file=sys.stderr)
    for fault in filter(None, faults):
        raise fault  # only now, so that the figures are not lost
    return 0 if passes(session) else 1


def session_of(parsed: argparse.Namespace) -> Any:
    """Open the master and prepare what the user asked for."""
    from tonemap.measure.profile import load_profile
    from tonemap.measure.session import Plan, Session
    from tonemap.media.master import open_master
    from tonemap.rendition import chain_over

    options.sheet_of(parsed)  # says here what can't be found in one
    profile = load_profile(parsed.profile) if parsed.profile else None
    patches, area = tuple(_patch(text) for text in parsed.patch), _area(parsed.area)
    says_renditions = options.says_renditions(parsed)
    host = options.host_of(parsed) if says_renditions or parsed.operator_folders else None
    renditions = options.renditions_of(parsed, host) if host and says_renditions else []
    if parsed.master is None:
        master, first, last, shot = _from_sheet(parsed)
        still = options.sheet_of(parsed).still
        patches += shot.patches if shot else still.patches if still else ()
    else:
        shot = None
        master = open_master(
            parsed.master, options.wishes_of(parsed), as_sequence=parsed.sequence, matrix=parsed.matrix
        )
        first, last = options.frames_range(parsed.frames, master)
    master.frames(first, last, parsed.step)  # says here what is wrong with the numbers
    if renditions and host:
        span = (first, last) if shot is None else (shot.source_first, shot.source_first + shot.count - 1)
        if parsed.sheet is not None and shot is None and options.sheet_of(parsed).shots:
            options.refuse_needs(renditions, host)
        options.tell_needs(renditions, host, span)
        chains = [chain_over(rendition, master, span[0], span[1], host) for rendition in renditions]
    else:
        chains = []
    patch_frame = None if parsed.patch_frame is None else master.index(parsed.patch_frame)
    plan = Plan(
        first, last, parsed.step, area, profile, patches, parsed.find_skin, patch_frame, parsed.against, parsed.below
    )
    return Session(master, plan, chains, options.engine_of(parsed.engine) if chains else None)


def _from_sheet(parsed: argparse.Namespace) -> tuple[Any, int, int, Any]:
    """Open the master of the sheet or of its shot; returns it, the frames to measure, and the shot or None."""
    from tonemap.sheet_masters import open_entry

    sheet = options.sheet_of(parsed)
    shot = sheet.shot(parsed.shot) if parsed.shot is not None else None
    entry = sheet.master(shot.master if shot else None)
    parsed.master = sheet.path_of(entry)
    master = open_entry(sheet, entry)
    if shot is None or parsed.frames:
        return (master, *options.frames_range(parsed.frames, master), shot)
    return master, shot.source_first, shot.source_first + shot.count - 1, shot


def _area(text: str | None) -> Any:
    from tonemap.measure.active_area import Rectangle

    if text is None:
        return None
    try:
        top, left, rows, columns = map(int, text.split(","))
    except ValueError:
        raise WrongCall(
            f"--area {text} is not understood; write TOP,LEFT,ROWS,COLUMNS in pixels, for example 276,0,1608,3840"
        ) from None
    return Rectangle(top, left, rows, columns)


def _patch(text: str) -> Any:
    from tonemap.measure.patches import Patch

    kind, _, rest = text.partition(":")
    name, _, numbers = rest.rpartition(":")
    try:
        values = tuple(map(float, numbers.split(",")))
    except ValueError:
        values = ()
    corners = tuple(zip(values[::2], values[1::2], strict=False))
    if len(values) % 2 or len(corners) < 2:
        raise WrongCall(
            f"--patch {text} is not understood; write KIND:NAME: and two corners X,Y,X,Y, or more of a polygon, "
            "for example skin:face:0.4,0.3,0.5,0.45"
        )
    if len(corners) == 2:
        return Patch.rectangle(name or kind, kind, *corners[0], *corners[1])
    return Patch(name or kind, kind, corners)


def _write_plots(parsed: argparse.Namespace, session: Any, report: dict[str, Any]) -> TrimbenchError | None:
    """Write the plots that were asked for and name them in the report; returns what went wrong."""
    if parsed.plots is None or report["levels"] is None:
        return None
    from . import measure_plots

    try:
        report["plots"] = [
            str(path) for path in measure_plots.write(session, parsed.plots, parsed.overwrite, parsed.paper)
        ]
    except TrimbenchError as fault:
        return fault
    return None


def _write_sidecar(parsed: argparse.Namespace, session: Any, report: dict[str, Any]) -> TrimbenchError | None:
    """Write the sidecar that was asked for and name it in the report; returns what went wrong."""
    if parsed.sidecar is None:
        return None
    from datetime import UTC, datetime

    from tonemap import __version__
    from tonemap.measure.sidecar import sidecar_of, sidecar_text
    from tonemap.media.whole_file import whole_file

    if report["levels"] is None:
        return TrimbenchError(f"{parsed.sidecar}: no frame could be measured, so there is no sidecar")
    entries = sidecar_of(session, f"Trimbench {__version__}", datetime.now(UTC).date().isoformat())
    try:
        with whole_file(parsed.sidecar, parsed.overwrite) as part:
            part.write_text(sidecar_text(entries), encoding="utf-8", newline="\n")
    except TrimbenchError as fault:
        return fault
    report["sidecar"] = str(parsed.sidecar)
    return None


def _failures(report: dict[str, Any]) -> Iterator[str]:
    """Say what made the exit status 1."""
    measured = report["measured"]
    if measured["faults"]:
        count = len(measured["faults"])
        words = "1 frame could not be read" if count == 1 else f"{count} frames could not be read"
        yield f"{words}: {measured['fault frames']}; the first: {measured['faults'][0]['sentence']}"
    for name, check in (("the master", report["profile"]), *((r["name"], r["profile"]) for r in report["renditions"])):
        if check is not None and not check["passes"]:
            yield f"{name} fails the delivery profile '{check['name']}': {', '.join(check['fails'])}"


def _free_name(path: Path) -> Path:
    """Return the name, or the first numbered one like it, that no file has."""
    number = 1
    free = path
    while free.exists():
        number += 1
        free = path.with_name(f"{path.stem}-{number}{path.suffix}")
    return free


class _Progress:
    """Shows a bar on a terminal, and saves the state from time to time."""

    def __init__(self, session: Any, state: Path | None) -> None:
        self.session, self.state = session, state
        self.bar, self.saved = ProgressBar(), time.monotonic()

    def begin(self) -> None:
        """Say why nothing moves at first, where that is so."""
        from tonemap.measure.kernels import are_compiled
        from tonemap.media.master import MOVIE

        loop = "measure_planes" if self.session.master.facts.kind == MOVIE else "measure_light"
        if self.bar.is_shown and not are_compiled(loop):
            print("\rcompiling for this machine, this once \033[K", end="", file=sys.stderr, flush=True)

    def after_frame(self, _: Any) -> None:
        """Note that one more frame is done."""
        if self.state and time.monotonic() - self.saved > SAVE_SECONDS:
            self.session.save(self.state)
            self.saved = time.monotonic()
        self.bar.show(self.session.done, len(self.session.plan.indices))
