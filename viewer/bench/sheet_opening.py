"""Opening a trim sheet: what was left unsaved comes back, and a master without a sheet gets one. Plain Python."""

import hashlib
from collections.abc import Iterator
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

from tonemap.in_use import open_elsewhere
from tonemap.master_entry import PARTS, MasterEntry, entry_of
from tonemap.media.master import SEQUENCE, Master
from tonemap.media.sequence import numbering_of
from tonemap.media.wishes import EncodingWishes
from tonemap.sheet_work import SheetWork, unsaved_changes
from tonemap.trim_sheet import TrimSheet, load
from tonemap.trim_sheet_text import ENDING

from .keeping import Keeping

JOURNALS, UNNAMED = "journals", "unnamed"


def open_keeping(path: Path, folder: Path | None) -> tuple[Keeping, list[str]]:
    """Open a sheet with what an earlier bench left unsaved of it, and sentences about that.

    Parameters
    ----------
    folder : the program's own, None to do without

    Raises
    ------
    TrimbenchError
        If it can't be read, is no trim sheet, or is of a newer version.
    """
    load(path)  # says first what is wrong with the sheet itself
    elsewhere = folder / JOURNALS if folder else None
    found, sentences = unsaved_changes(path, elsewhere)
    work = SheetWork.open(path, elsewhere) if found is None else SheetWork.recovered(found, elsewhere)
    notices = [*sentences, *work.notices]
    work.notices.clear()
    if found is not None and found.changes:
        count = len(found.changes)
        changes = "a change is" if count == 1 else f"{count} changes are"
        notices.insert(0, f"{path.name}: {changes} back that the last bench was cut off from: {_last(found.changes)}")
    unsaved = path if folder is not None and path.parent == folder / UNNAMED else None
    return Keeping(work, folder, unsaved), notices


def new_keeping(sheet: TrimSheet, master: Path | None, folder: Path | None) -> tuple[Keeping, list[str]]:
    """Begin a sheet that has no name yet; its file is written with the first change."""
    work = SheetWork(replace(sheet, origin=None), folder / JOURNALS if folder else None)
    if folder is None or master is None:
        return Keeping(work, folder), []
    earlier = None
    for place in _places(master, folder):
        if not place.exists():
            break
        earlier = place
    told = [f"earlier trims of {master.name} without a name are kept in {earlier}"] if earlier else []
    return Keeping(work, folder, place), told


def unnamed_sheet(master: Path, folder: Path | None) -> Path | None:
    """Return the newest sheet without a name that was begun for a master and is open nowhere, or None."""
    if folder is None:
        return None
    found = None
    for place in _places(master, folder):
        if not place.exists():
            return found
        if not open_elsewhere(place):
            found = place
    return None


def _places(master: Path, folder: Path) -> Iterator[Path]:
    """Yield the names for sheets of a master, in the order in which they are given."""
    mark = hashlib.sha256(str(master.resolve()).encode()).hexdigest()[:12]
    stem = master.name.partition(".")[0] or master.name
    number = 1
    while True:
        yield folder / UNNAMED / f"{stem}-{mark}{f'-{number}' if number > 1 else ''}{ENDING}"
        number += 1


def _last(changes: tuple[str, ...]) -> str:
    """Name the last changes, the newest first."""
    return ", ".join(dict.fromkeys(reversed(changes[-3:])))


def entry_for(master: Master, said: dict[str, Any]) -> MasterEntry:
    """Make the sheet's entry of a master on the bench; its path is whole until the sheet is saved beside it."""
    path = master.facts.path
    path = numbering_of(path).pattern if master.facts.kind == SEQUENCE else path
    name = path.name.partition(".")[0] or path.name
    return entry_of(master, name, path.absolute().as_posix(), said, has_hash=False)


def said_of(wishes: EncodingWishes) -> dict[str, Any]:
    """Return what the user said of a master's encoding, by the words of the sheet."""
    said = {PARTS[part.name]: getattr(wishes, part.name) for part in fields(wishes)}
    return {word: value for word, value in said.items() if value is not None}
