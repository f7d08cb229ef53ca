"""trimbench render, of more than a still: a sequence, a movie or a trim sheet, stopped and gone on with."""

import argparse
import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

from tonemap.encoding import Encoding
from tonemap.errors import WrongCall
from tonemap.host import Host
from tonemap.render.findings import distance_of, odd_of
from tonemap.render.job import Outcome, render
from tonemap.render.part_of_programme import PartOfProgramme
from tonemap.render.programme import MasterProgramme, Programme, SheetProgramme
from tonemap.trim_sheet_text import is_trim_sheet

from ..stops import STATUS, stop_asked
from . import options
from .progress import ProgressBar
from .render_hdr import HdrLevels


def is_meant(parsed: argparse.Namespace) -> bool:
    """Say whether the words ask for more than a still."""
    from tonemap.media.master import MOVIE_ENDINGS
    from tonemap.media.sequence import is_pattern

    master, output = parsed.master, parsed.output
    return bool(
        parsed.sequence
        or parsed.frames
        or is_trim_sheet(master)
        or master.suffix.lower() in MOVIE_ENDINGS
        or is_pattern(master.name)
        or master.is_dir()
        or is_pattern(output.name)
        or output.suffix.lower() in MOVIE_ENDINGS
    )


def run(parsed: argparse.Namespace) -> int:
    """Render and say what was done; exit status 1 when a frame is not there, 130 after a stop."""
    if parsed.compare_engines < 0:
        raise WrongCall(f"--compare-engines {parsed.compare_engines} is no number of frames; give 1 or more")
    host = options.host_of(parsed)
    programme = programme_of(parsed, host)
    if parsed.scheduler is not None and parsed.compare_engines:
        raise WrongCall("--compare-engines renders on this machine; leave out --scheduler, or compare afterwards")
    output, path, after = _output(parsed, programme)
    bar = ProgressBar(in_lines=parsed.progress)
    with stop_asked() as is_stopped:
        try:
            if parsed.scheduler is not None:
                from .render_cluster import render_by_cluster

                outcome = render_by_cluster(parsed, programme, output, bar.show, is_stopped)
                title = f"the cluster at {parsed.scheduler}"
            else:
                engine = options.engine_of(parsed.engine)
                every = parsed.compare_engines
                outcome = render(
                    programme, output, engine, compare_every=every, after_frame=bar.show, is_stopped=is_stopped
                )
                title = engine.title  # behind the work: it says where another engine has taken its place
        finally:
            bar.clear()
    if outcome.is_complete and after is not None:
        outcome.notices += after()
    return _say(parsed, programme, outcome, path, _encoding_of(output, path, programme.target).title, title)


def _encoding_of(output: Any, path: Path, target: Encoding) -> Encoding:
    """Return how the files hold the target: a movie in the bits and range of its codec."""
    from tonemap.media.movie_output import coding_for
    from tonemap.render.movie_output import MovieOutput

    from .render import encoding_in

    if not isinstance(output, MovieOutput):
        return encoding_in(path, target)
    coding = coding_for(output.coder.codec, target)
    return replace(target, bits=coding.bits, signal_range=coding.signal_range)


def _say(
    parsed: argparse.Namespace, programme: Programme, outcome: Outcome, path: Path, encoding: str, engine: str
) -> int:
    """Print what was done, and return the exit status."""
    report = _report(programme, outcome, path, encoding, engine)
    print(json.dumps(report, indent=2, ensure_ascii=False) if parsed.json else _sentences(report))
    for fault in report["faults"]:
        print(f"trimbench: frame {fault['frame']}: {fault['sentence']}", file=sys.stderr)
    if not outcome.is_complete:
        print(f"trimbench: stopped; {_how_to_go_on(outcome, path)}", file=sys.stderr)
        return STATUS
    return 1 if outcome.faults or programme.is_cut_short else 0


def _how_to_go_on(outcome: Outcome, path: Path) -> str:
    from tonemap.media.master import MOVIE_ENDINGS
    from tonemap.render.movie_output import SEGMENT

    if outcome.whole == 0:
        return "nothing is whole yet, and the same command begins anew"
    if path.suffix.lower() in MOVIE_ENDINGS:
        return f"segments of {SEGMENT} frames that are whole are kept, and the same command goes on behind them"
    return "the same command goes on from here"


def programme_of(parsed: argparse.Namespace, host: Host) -> Programme:
    """Return what the user wants rendered, with its captions if they are wanted."""
    programme = _programme(parsed, host)
    if parsed.rate is not None:
        from tonemap.timecode import rate_of

        programme.rate = rate_of(parsed.rate)
    if parsed.caption:
        from ..burn_in import Captions

        programme.caption = Captions(programme)
    return programme


def _programme(parsed: argparse.Namespace, host: Host) -> Programme:
    from tonemap.media.master import open_master
    from tonemap.media.wishes import EncodingWishes
    from tonemap.trim_sheet import load

    from .render import rendition_of

    if is_trim_sheet(parsed.master):
        if options.says_renditions(parsed) or parsed.frames:
            raise WrongCall(f"{parsed.master}: a trim sheet says which rendition each shot takes; leave the others out")
        if parsed.sequence or parsed.matrix or options.wishes_of(parsed) != EncodingWishes():
            raise WrongCall(
                f"{parsed.master}: a trim sheet says the encoding of its masters; leave it out, or enter them anew"
            )
        sheet = load(parsed.master)
        shot = sheet.shot(parsed.shot) if parsed.shot is not None else None
        pieces = [piece for piece in sheet.pieces() if piece.master is not None and shot in (None, piece.shot)]
        if parsed.hdr is None:
            options.tell_needs([sheet.rendition_at(piece.first, host) for piece in pieces], host, None)
        programme = SheetProgramme(sheet, host, hdr=parsed.hdr)
        return programme if shot is None else PartOfProgramme(programme, shot.first, shot.last)
    rendition = rendition_of(parsed, host)
    master = open_master(parsed.master, options.wishes_of(parsed), as_sequence=parsed.sequence, matrix=parsed.matrix)
    first, last = options.frames_range(parsed.frames, master)
    if parsed.hdr is None:
        options.tell_needs([rendition], host, (first, last))
    return MasterProgramme(master, rendition, host, first, last, hdr=parsed.hdr)


def _output(parsed: argparse.Namespace, programme: Programme) -> tuple[Any, Path, HdrLevels | None]:
    """Return where the frames go, how that is called, and the light levels of an HDR output."""
    from tonemap.media.master import MOVIE_ENDINGS
    from tonemap.media.sequence import is_pattern
    from tonemap.render.sequence_output import SequenceOutput

    path, levels = parsed.output, None
    if path.suffix.lower() in MOVIE_ENDINGS and not is_pattern(path.name):
        from tonemap.media.movie_output import codec_for
        from tonemap.media.whole_file import refuse_existing
        from tonemap.render.movie_output import MovieOutput

        codec = codec_for(path, parsed.codec)
        refuse_existing(path, parsed.overwrite)
        if programme.is_hdr:
            levels = HdrLevels(path.with_suffix(""), programme, parsed.overwrite)
            codec = levels.written_by(codec)
        sound = programme.sound()
        output: Any = MovieOutput(path, codec, programme, overwrite=parsed.overwrite, dither=parsed.dither, sound=sound)
        return output, path, levels
    if parsed.codec is not None:
        raise WrongCall(
            f"{path}: --codec is a matter of movies; leave it out, or give a name that ends in .mov or .mkv"
        )
    if not is_pattern(path.name):
        if path.suffix:
            whose = f"{programme.count} frames need" if programme.count > 1 else "a sequence of 1 frame needs"
            raise WrongCall(f"{path}: {whose} a place for numbers; write NAME.%04d.dpx")
        path = path / f"{programme.stem}.dpx"
    output = SequenceOutput(path, programme, overwrite=parsed.overwrite, dither=parsed.dither)
    if programme.is_hdr:
        name = output.manifest.path.name.removesuffix(".manifest.jsonl")
        levels = HdrLevels(output.manifest.path.with_name(name), programme, parsed.overwrite)
        levels.is_in_file = output.state(levels.metadata)
    return output, path, levels


def _report(programme: Programme, outcome: Outcome, path: Path, encoding: str, engine: str) -> dict[str, Any]:
    report: dict[str, Any] = {
        "output": str(path),
        "frames": programme.count,
        "rendered": outcome.done,
        "kept": outcome.kept,
        "whole": outcome.whole,
        "complete": outcome.is_complete,
        "target": encoding,
        "engine": engine,
        "masters": {
            name: {"encoding": master.facts.stored.title, "known from": master.facts.origins}
            for name, master in programme.masters.items()
        },
        "captions": programme.caption is not None,
        "notices": [*programme.notices(), *outcome.notices],
        "faults": [{"frame": number, "sentence": sentence} for number, sentence in outcome.faults],
    }
    findings = [outcome.findings[frame] for frame in sorted(outcome.findings)]
    distance, frames = distance_of(findings)
    report["distance"] = None if distance is None else {"frames": frames, "sentence": str(distance), **vars(distance)}
    report["odd samples"] = odd_of(findings, programme, outcome.done + outcome.kept).report(several=True)
    unknown = [
        f"frame {programme.number(finding.frame)}: its distance from the exact trim is not known: {finding.fault}"
        for finding in findings
        if finding.fault is not None
    ]
    if distance is None and not unknown and outcome.is_complete and outcome.whole:
        unknown = ["distance from the exact trim: not measured, none of the frames that are tried has a picture"]
    report["notices"] += unknown
    if outcome.comparison is not None:
        found = outcome.comparison
        report["engines"] = {"frames": found.frames, "ppm": found.ppm, "step": found.step}
    return report


def _sentences(report: dict[str, Any]) -> str:
    frames = f"{report['rendered']} of {report['frames']} frames"
    if not report["complete"]:
        frames = f"stopped, {report['whole']} of {report['frames']} frames are whole"
    lines = [f"{report['output']}: {frames}, {report['target']}"]
    masters = report["masters"]
    lines += [f"master{f' {name}' if len(masters) > 1 else ''}: {one['encoding']}" for name, one in masters.items()]
    if report["kept"]:
        lines.append(f"{report['kept']} frames were whole already, and were kept")
    if report["captions"]:
        lines.append("a copy for approval: captions are burnt in")
    lines += [*report["notices"], *report["odd samples"]["sentences"], f"engine: {report['engine']}"]
    if (distance := report["distance"]) is not None:
        frames = "1 frame" if distance["frames"] == 1 else f"{distance['frames']} frames, 99 % of the worst"
        lines.append(f"distance from the exact trim, read again on rows of {frames}: {distance['sentence']}")
    if "engines" in report:
        found = report["engines"]
        frames = "1 frame" if found["frames"] == 1 else f"{found['frames']} frames"
        lines.append(
            f"against the reference, on {frames}: {found['ppm']:.0f} per million of codes differ, by "
            f"{found['step']} at most"
        )
    return "\n".join(lines)
