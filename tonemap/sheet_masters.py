"""The masters of a trim sheet on disk: entering, checking and finding them again."""

import os
from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from pathlib import Path

from .errors import TrimbenchError
from .host import Host
from .master_entry import PARTS, MasterEntry, entry_of
from .media.master import SEQUENCE, Master, open_master
from .media.sequence import numbering_of
from .media.wishes import EncodingWishes
from .trim_sheet import TrimSheet, relative_path


@dataclass(frozen=True)
class Checked:
    """A master compared with what the sheet says of it.

    Attributes
    ----------
    differences : sentences; none where it is the same
    fault : why it can't be read, or None
    """

    entry: MasterEntry
    path: Path
    differences: tuple[str, ...] = ()
    fault: str | None = None

    @property
    def is_same(self) -> bool:
        """Whether it is there and the same."""
        return not self.differences and self.fault is None


def enter_master(
    path: Path,
    folder: Path,
    wishes: EncodingWishes | None = None,
    *,
    name: str | None = None,
    as_sequence: bool = False,
    matrix: str | None = None,
) -> MasterEntry:
    """Open a master and make the entry of a sheet that lies in `folder`; raises as `open_master` does.

    Parameters
    ----------
    name : None for the file's name without its ending and number
    """
    wishes = wishes or EncodingWishes()
    master = open_master(path, wishes, as_sequence=as_sequence, matrix=matrix)
    said = {PARTS[part.name]: getattr(wishes, part.name) for part in fields(wishes)}
    said["matrix"] = matrix
    if master.facts.kind == SEQUENCE:
        path = numbering_of(path).pattern
    own_name = path.name.partition(".")[0] or path.name
    return entry_of(
        master, name or own_name, relative_path(path, folder), {word: v for word, v in said.items() if v is not None}
    )


def open_entry(sheet: TrimSheet, entry: MasterEntry, path: Path | None = None) -> Master:
    """Open a master as the sheet has it, or the file at `path` in its place; raises as `open_master` does."""
    said = dict(entry.said)
    matrix = said.pop("matrix", None)
    names = {word: name for name, word in PARTS.items()}
    wishes = EncodingWishes(**{names[word]: value for word, value in said.items() if word in names})
    return open_master(path or sheet.path_of(entry), wishes, matrix=matrix)


def check_master(sheet: TrimSheet, entry: MasterEntry, path: Path | None = None) -> Checked:
    """Open a master, or the file at `path` in its place, and compare it with the sheet: size, frames, first frame."""
    path = path or sheet.path_of(entry)
    try:
        found = entry_of(open_entry(sheet, entry, path), entry.name, entry.path)
    except TrimbenchError as fault:
        return Checked(entry, path, fault=str(fault))
    return Checked(entry, path, tuple(entry.differences(found)))


def relinked(sheet: TrimSheet, folder: Path) -> tuple[TrimSheet, list[Checked]]:
    """Look for the masters below a folder by their file names, and take those that are the same.

    Masters that are in their place stay. Of several files of one name the first that is the same is taken.

    Returns
    -------
    sheet : with the paths of the masters that were found
    checked : each master with the file that was found, or that differs, or is missing

    Raises
    ------
    TrimbenchError
        If the folder can't be read.
    """
    if not folder.is_dir():
        raise TrimbenchError(f"{folder}: there is no such folder; name the one that the masters are in")
    base = sheet.origin.path.parent if sheet.origin else Path()
    masters, all_checked = [], []
    for entry in sheet.masters:
        checked = check_master(sheet, entry)
        if not checked.is_same:
            places = [check_master(sheet, entry, place) for place in _places(folder, Path(entry.path).name)]
            best = next((place for place in places if place.is_same), None)
            checked = best or next(iter(places), checked)
            if best is not None:
                entry = replace(entry, path=relative_path(best.path, base))  # noqa: PLW2901
        masters.append(entry)
        all_checked.append(checked)
    return replace(sheet, masters=tuple(masters)), all_checked


def _places(folder: Path, name: str) -> Iterator[Path]:
    """Yield the places below a folder that hold a file, or a pattern's sequence, of a name; nearest first."""
    for place, folders, files in os.walk(folder):
        folders.sort()
        candidate = Path(place) / name
        if name in files or name in folders or ("#" in name and _holds(candidate)):
            yield candidate


def _holds(pattern: Path) -> bool:
    try:
        return bool(numbering_of(pattern).numbers())
    except TrimbenchError:
        return False


def unknown_operators(sheet: TrimSheet, host: Host) -> list[str]:
    """Say which renditions can't be evaluated here, in sentences: an operator that is not installed, a wrong value."""
    sentences = []
    for entry in sheet.renditions:
        try:
            entry.rendition(host)
        except TrimbenchError as fault:
            sentences.append(str(fault))
    return sentences
