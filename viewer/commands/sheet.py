"""trimbench sheet: make, show, check and relink a trim sheet, and bring its shots in."""

import argparse
import json
import sys
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from tonemap.errors import TrimbenchError, WrongCall
from tonemap.trim_sheet_text import ENDING, is_trim_sheet

from . import options


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the verb's arguments."""
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    new = actions.add_parser("new", help="a sheet of a master, with the renditions that are spelled out")
    new.add_argument("sheet_file", metavar="SHEET", type=Path, help=f"the file to write: NAME{ENDING}")
    options.add_master(new, options.ANY_MASTER)
    new.add_argument("--sequence", action="store_true", help="MASTER stands for all pictures numbered like it")
    options.add_matrix(new)
    new.add_argument("--title", metavar="TEXT", help="of the programme", default="")
    options.add_renditions(new, several=True)
    new.add_argument("--overwrite", action="store_true", help="replace the sheet when it exists")

    add = _action(actions, "add", "one more master, for a programme that is cut from several")
    options.add_master(add, options.ANY_MASTER)
    add.add_argument("--sequence", action="store_true", help="MASTER stands for all pictures numbered like it")
    options.add_matrix(add)
    add.add_argument(
        "--as", metavar="NAME", dest="master_name", help="what the sheet calls it; default: the file's name"
    )

    show = _action(actions, "show", "masters, renditions and shots as a table")
    show.add_argument("--json", action="store_true", help="print the sheet's own JSON")

    check = _action(actions, "check", "whether its masters are in place and the same, and its operators are here")
    options.add_operators(check)
    check.add_argument("--json", action="store_true", help="print as JSON")

    recover = _action(actions, "recover", "save what a bench that was cut off had not saved yet")
    recover.add_argument("--discard", action="store_true", help="throw it away instead")

    relink = _action(actions, "relink", "find its masters below a folder, by name, and check them")
    relink.add_argument("folder", metavar="FOLDER", type=Path)

    shots = _action(actions, "shots", "bring shots in: from an edit list, typed, or from a file of proposals")
    shots.add_argument("list", metavar="LIST", type=Path, nargs="?", help="CMX 3600 .edl, .otio, or proposals as JSON")
    shots.add_argument("--rate", metavar="FPS", help="of the list's timecode; default: the master's")
    shots.add_argument("--cuts", metavar="A,B,...", help="first frames of shots: numbers from 0, or timecodes")

    propose = _action(actions, "propose", "look for cuts in the pictures, and print them")
    propose.add_argument("--frames", metavar="A-B", help="only these, counted from 0")
    propose.add_argument("-o", "--output", metavar="FILE", type=Path, help="write the proposals there, for 'shots'")
    propose.add_argument("--json", action="store_true", help="print as JSON")


def _action(actions: Any, name: str, explanation: str) -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = actions.add_parser(name, help=explanation, description=explanation)
    parser.add_argument("sheet_file", metavar="SHEET", type=Path)
    return parser


def run(parsed: argparse.Namespace) -> int:
    """Do one action; exit status 1 when a check finds something."""
    done: Callable[[argparse.Namespace], int] = {
        "new": _new,
        "add": _add,
        "show": _show,
        "check": _check,
        "recover": _recover,
        "relink": _relink,
        "shots": _shots,
        "propose": _propose,
    }[parsed.action]
    return done(parsed)


def _new(parsed: argparse.Namespace) -> int:
    from tonemap.media.whole_file import refuse_existing
    from tonemap.starters import starter_renditions
    from tonemap.trim_sheet import TrimSheet, save

    if not is_trim_sheet(parsed.sheet_file):
        raise WrongCall(f"{parsed.sheet_file}: the name of a trim sheet ends in {ENDING}; change it")
    refuse_existing(parsed.sheet_file, parsed.overwrite)
    host = options.host_of(parsed)
    renditions = options.renditions_of(parsed, host) or list(starter_renditions())
    sheet = TrimSheet((_entered(parsed),), title=parsed.title)
    for rendition in renditions:
        sheet = sheet.with_rendition(rendition, host)
    sheet = save(replace(sheet, default_rendition=renditions[0].name), parsed.sheet_file, overwrite=parsed.overwrite)
    names = ", ".join(rendition.name for rendition in renditions)
    master = sheet.masters[0]
    print(f"{parsed.sheet_file}: {master.path}, {options.frames_text(master.frames)}")
    print(f"renditions: {names}; default: {renditions[0].name}")
    return 0


def _add(parsed: argparse.Namespace) -> int:
    from tonemap.trim_sheet import save

    sheet = _loaded_for_a_change(parsed.sheet_file)
    master = _entered(parsed)
    if any(item.name == master.name for item in sheet.masters):
        raise WrongCall(f"{parsed.sheet_file}: there is a master '{master.name}' already; give another name with --as")
    save(sheet.with_master(master))
    print(f"{parsed.sheet_file}: master '{master.name}' added, {master.path}, {options.frames_text(master.frames)}")
    return 0


def _entered(parsed: argparse.Namespace) -> Any:
    from tonemap.sheet_masters import enter_master

    return enter_master(
        parsed.master,
        parsed.sheet_file.parent,
        options.wishes_of(parsed),
        name=getattr(parsed, "master_name", None),
        as_sequence=parsed.sequence,
        matrix=parsed.matrix,
    )


def _show(parsed: argparse.Namespace) -> int:
    from tonemap.trim_sheet import load

    sheet = load(parsed.sheet_file)
    if parsed.json:
        print(json.dumps(sheet.to_dict(), indent=2, ensure_ascii=False))
    else:
        from .sheet_table import table

        print(table(sheet))
    return 0


def _check(parsed: argparse.Namespace) -> int:
    from tonemap.in_use import open_elsewhere
    from tonemap.journal import journal_path
    from tonemap.sheet_masters import check_master, unknown_operators
    from tonemap.shot_list import programme_faults
    from tonemap.trim_sheet import load

    sheet = load(parsed.sheet_file)
    masters = [check_master(sheet, entry) for entry in sheet.masters]
    faults = [*unknown_operators(sheet, options.host_of(parsed)), *programme_faults(sheet)]
    notices = [f"{person.sentence} has the sheet open" for person in open_elsewhere(parsed.sheet_file)]
    if journal_path(parsed.sheet_file).exists():
        notices.append(
            "there are changes that have not been saved, in its journal; 'trimbench sheet recover' saves them"
        )
    if parsed.json:
        found = [
            {"name": one.entry.name, "path": str(one.path), "differences": one.differences, "fault": one.fault}
            for one in masters
        ]
        print(json.dumps({"masters": found, "faults": faults, "notices": notices}, indent=2, ensure_ascii=False))
    else:
        _print_masters(masters)
        print("\n".join([*faults, *notices]) if faults or notices else "shots and renditions: nothing to say")
    return 0 if all(one.is_same for one in masters) and not faults else 1


def _recover(parsed: argparse.Namespace) -> int:
    from tonemap.journal import forget, journal_path, recover
    from tonemap.trim_sheet import save

    if parsed.discard:
        forget(parsed.sheet_file)
        print(f"{journal_path(parsed.sheet_file)}: discarded")
        return 0
    found = recover(parsed.sheet_file)
    if found is None:
        print(f"{parsed.sheet_file}: there is nothing to recover")
        return 0
    save(found.sheet)
    forget(parsed.sheet_file)
    for notice in found.notices:
        print(f"trimbench: {notice}", file=sys.stderr)
    print(f"{parsed.sheet_file}: saved with what {found.person.sentence} had done: {', '.join(found.changes)}")
    return 0


def _loaded_for_a_change(path: Path) -> Any:
    """Load a sheet that is about to be changed; unsaved changes forbid it, and who has it open is said."""
    from tonemap.in_use import open_elsewhere
    from tonemap.journal import journal_path
    from tonemap.trim_sheet import load

    sheet = load(path)
    if journal_path(path).exists():
        raise TrimbenchError(
            f"{path}: a bench has changes of this sheet that are not saved; save them there, "
            f"or after a crash call 'trimbench sheet recover {path}'"
        )
    for person in open_elsewhere(path):
        print(
            f"trimbench: {path}: {person.sentence} has the sheet open and can't save over this change", file=sys.stderr
        )
    return sheet


def _print_masters(masters: list[Any]) -> None:
    for one in masters:
        words = one.fault or "; ".join(one.differences) or f"the same, {options.frames_text(one.entry.frames)}"
        print(f"master '{one.entry.name}': {'' if one.fault else f'{one.path}: '}{words}")


def _relink(parsed: argparse.Namespace) -> int:
    from tonemap.sheet_masters import relinked
    from tonemap.trim_sheet import save

    sheet, masters = relinked(before := _loaded_for_a_change(parsed.sheet_file), parsed.folder)
    if sheet != before:
        save(sheet)
    _print_masters(masters)
    return 0 if all(one.is_same for one in masters) else 1


def _shots(parsed: argparse.Namespace) -> int:
    from tonemap.edit_list import read_edit_list
    from tonemap.shot_list import with_cuts, with_edit_list
    from tonemap.timecode import rate_of
    from tonemap.trim_sheet import save

    if (parsed.list is None) == (parsed.cuts is None):
        raise WrongCall("shots come from a list or from --cuts; name one of them")
    sheet = _loaded_for_a_change(parsed.sheet_file)
    rate = rate_of(parsed.rate) if parsed.rate else _rate_of(sheet)
    notices: tuple[str, ...] = ()
    if parsed.cuts is not None:
        changed, sentences = with_cuts(sheet, [_frame(text, sheet, rate) for text in parsed.cuts.split(",")])
    elif parsed.list.suffix.lower() == ".json":
        changed, sentences = with_cuts(sheet, _proposed(parsed.list))
    else:
        edits = read_edit_list(parsed.list, rate)
        notices = edits.notices
        changed, sentences = with_edit_list(sheet, edits)
    save(changed)
    for sentence in (*notices, *sentences):
        print(f"trimbench: {sentence}", file=sys.stderr)
    count = len(changed.shots)
    print(f"{parsed.sheet_file}: {count} {'shot' if count == 1 else 'shots'}, frames 0 to {changed.frames - 1}")
    return 0


def _propose(parsed: argparse.Namespace) -> int:
    from tonemap.cut_detector import looks_of, proposals
    from tonemap.sheet_masters import open_entry
    from tonemap.trim_sheet import load

    sheet = load(parsed.sheet_file)
    entry = sheet.master()
    master = open_entry(sheet, entry)
    first, last = _range(parsed.frames, master.count)
    looks = []
    for look in looks_of(master, first, last):
        looks.append(look)
        if sys.stderr.isatty():
            print(f"\r{len(looks)}/{last - first + 1} frames\033[K", end="", file=sys.stderr, flush=True)
    if sys.stderr.isatty():
        print("\r\033[K", end="", file=sys.stderr, flush=True)
    found = [vars(proposal) for proposal in proposals(looks, first)]
    text = json.dumps({"proposals": found}, indent=2)
    if parsed.output:
        from tonemap.media.whole_file import whole_file

        with whole_file(parsed.output) as part:
            part.write_text(text + "\n", encoding="utf-8")
    if parsed.json:
        print(text)
        return 0
    from .sheet_table import proposal_table

    print(proposal_table(found, entry, _rate_of(sheet)))
    return 0


def _proposed(path: Path) -> list[int]:
    try:
        return [int(item["frame"]) for item in json.loads(path.read_text(encoding="utf-8"))["proposals"]]
    except OSError as error:
        raise TrimbenchError(f"{path}: can't be read: {error.strerror}; check the name and its permissions") from error
    except (ValueError, KeyError, TypeError) as error:
        raise TrimbenchError(f"{path}: these are no proposals; write them with 'trimbench sheet propose -o'") from error


def _rate_of(sheet: Any) -> Fraction | None:
    return sheet.rate or (sheet.masters[0].rate if sheet.masters else None)


def _frame(text: str, sheet: Any, rate: Fraction | None) -> int:
    """Read a frame: a number from 0, or a timecode of the programme."""
    from tonemap.timecode import frames_of

    text = text.strip()
    if text.isdecimal():
        return int(text)
    if ":" not in text:
        raise WrongCall(f"--cuts: '{text}' is neither a frame's number nor a timecode; write 48 or 01:00:02:00")
    start = sheet.timecode or (sheet.masters[0].timecode if sheet.masters else None)
    if rate is None or start is None:
        raise WrongCall(f"--cuts: the master has no timecode or rate, so {text} is no frame of it; give frame numbers")
    from tonemap.timecode import is_drop

    return frames_of(text, rate, is_drop(start)) - frames_of(start, rate)


def _range(text: str | None, count: int) -> tuple[int, int]:
    first, dash, last = (text or f"0-{count - 1}").partition("-")
    try:
        return int(first), int(last if dash else first)
    except ValueError:
        raise WrongCall(f"--frames {text} is not understood; write A-B, for example 0-47, or one number") from None
