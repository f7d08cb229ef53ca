"""Journal: what has been changed in a trim sheet since it was saved, kept beside it until the next save.

A file of lines of JSON, each appended and forced to the disk by itself, so that a kill costs at most the change in
hand. The first line holds the sheet that was saved, and says whose the changes are; each other one holds a JSON Patch
(RFC 6902), or says that the sheet is about to be saved, so that a kill between the save and the end of the journal is
known for what it is.
"""

import json
import os
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from .errors import TrimbenchError
from .in_use import Person
from .trim_sheet import PARTS, TrimSheet, load

VERSION = 1


class JournalInUse(TrimbenchError):
    """A journal is of a bench that still runs."""


class SheetChangedSince(TrimbenchError):
    """A journal is of another state of the sheet.

    Attributes
    ----------
    sheet : as the journal leaves it; None where that is unknown
    changes : what was done since the sheet was saved, as far as the journal's own lines tell
    """

    def __init__(self, sentence: str, sheet: TrimSheet | None, changes: tuple[str, ...]) -> None:
        super().__init__(sentence)
        self.sheet, self.changes = sheet, changes


def journal_path(sheet_path: Path) -> Path:
    """Return the name of a sheet's journal: 'NAME.trims.journal'."""
    return sheet_path.with_name(f"{sheet_path.name}.journal")


@dataclass(frozen=True)
class Recovered:
    """A sheet as it was when the work on it was cut off.

    Attributes
    ----------
    changes : what was done, in the order in which it was done; none where all of it had been saved
    path : of the journal
    notices : sentences about what could not be brought back
    where : what was given to `Journal.note` with the last change
    """

    sheet: TrimSheet
    changes: tuple[str, ...]
    person: Person
    path: Path
    notices: tuple[str, ...] = ()
    where: Any = None


class Journal:
    """Appends the changes of one sheet; made by `begin`, ended by `discard`."""

    def __init__(self, path: Path, sheet: TrimSheet) -> None:
        self.path = path
        self._noted = sheet
        self._size = 0
        self._person = Person.here()

    @classmethod
    def begin(cls, sheet: TrimSheet, path: Path | None = None) -> "Journal":
        """Begin the journal of a sheet as it was loaded or saved; nothing is written before the first change.

        Parameters
        ----------
        path : where it is to lie when it can't lie beside the sheet

        Raises
        ------
        TrimbenchError
            If there is a journal already: another bench writes it, or an earlier one was cut off (see `recover`).
        """
        if sheet.origin is None:
            raise TrimbenchError("a sheet that has no file yet has no journal; save it first")
        path = path or journal_path(sheet.origin.path)
        if path.exists():
            raise TrimbenchError(
                f"{path}: there is a journal of this sheet already; recover its changes or discard them first"
            )
        return cls(path, sheet)

    @classmethod
    def taken_over(cls, found: "Recovered", saved: TrimSheet, what: str) -> "Journal":
        """Put a journal of the recovered changes, from the saved sheet on, in the place of the one that was recovered.

        Raises
        ------
        TrimbenchError
            If the system refuses; the old journal then stays as it is.
        """
        from .media.whole_file import whole_file

        journal = cls(found.path, saved)
        change = {"at": _now(), "what": what, "patch": _patch(saved, found.sheet), "where": found.where}
        lines = [journal._head(), change]
        with whole_file(found.path, overwrite=True) as part:
            part.write_bytes(_encoded(lines))
        journal._noted, journal._size = found.sheet, found.path.stat().st_size
        return journal

    def note(self, sheet: TrimSheet, what: str, where: Any = None) -> None:
        """Append the change from the last noted sheet to this one; on return it is on the disk.

        Parameters
        ----------
        where : plain values of the caller's own, which `recover` gives back: where it stood

        Raises
        ------
        TrimbenchError
            If the system refuses; the journal then still holds all changes before.
        """
        line = {"at": _now(), "what": what, "patch": _patch(self._noted, sheet)}
        line |= {} if where is None else {"where": where}
        if not line["patch"]:
            return
        self._add([line] if self._size else [self._head(), line])
        self._noted = sheet

    def _head(self) -> dict[str, Any]:
        """Return the first line: what was noted last is then the sheet as it was saved."""
        digest = self._noted.origin and self._noted.origin.digest
        return {"journal": VERSION, "sheet": digest, **self._person.to_dict(), "saved": self._noted.to_dict()}

    def saving(self, digest: str) -> None:
        """Note that the sheet is about to be saved, and what its file will hold; raises as `note` does."""
        if self._size:
            self._add([{"at": _now(), "saving": digest}])

    def _add(self, lines: list[dict[str, Any]]) -> None:
        try:
            self._append(_encoded(lines))
        except OSError as error:
            raise TrimbenchError(
                f"{self.path}: the change can't be noted: {error.strerror}; save the sheet, or make room"
            ) from error

    def discard(self) -> None:
        """Take the journal away: the sheet has been saved, or its changes are not wanted."""
        if self._size:
            self._size = 0
            self.path.unlink(missing_ok=True)

    def _append(self, content: bytes) -> None:
        with self.path.open("ab" if self._size else "xb") as file:
            try:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            except OSError:
                os.truncate(file.fileno(), self._size)  # half a line would spoil those after it
                if not self._size:
                    self.path.unlink()
                raise
            self._size = file.tell()


def recover(sheet_path: Path, path: Path | None = None) -> Recovered | None:
    """Return the sheet with the changes of its journal; None where there is no journal.

    The files stay as they are; after a save of what is recovered, or when the user doesn't want it, `forget` removes
    the journal.

    Parameters
    ----------
    path : of a journal that does not lie beside the sheet

    Raises
    ------
    TrimbenchError
        If the journal can't be read; a SheetChangedSince if it belongs to another state of the sheet, a JournalInUse if
        it is of a bench that still runs.
    """
    path = path or journal_path(sheet_path)
    try:
        lines = path.read_bytes().split(b"\n")
    except FileNotFoundError:
        return None
    except OSError as error:
        raise TrimbenchError(f"{path}: can't be read: {error.strerror}; check its permissions") from error
    whole = lines[:-1]  # what has no end of line was being written when the work was cut off
    notices = [f"{path}: the last change was not written to its end and is left out"] if lines[-1] else []
    sheet = load(sheet_path)
    head = _parsed(whole[0]) if whole else None
    try:
        if head is None or head["journal"] != VERSION:
            raise ValueError
        person = Person.from_dict(head)
    except (KeyError, ValueError, TypeError):
        raise TrimbenchError(
            f"{path}: this is no journal of version {VERSION}; move it away to go on without it"
        ) from None
    if person.is_at_work():
        raise JournalInUse(f"{path}: {person.sentence} is at work on this sheet; wait until it is closed there")
    noted = [_parsed(line) for line in whole[1:]]
    begun = _begin_of_unsaved(head, noted, sheet)
    if begun is None:
        raise SheetChangedSince(
            f"{path}: the sheet has been changed since this journal was begun, so its changes don't fit; "
            "move the journal away to go on without it",
            _left_by(head, noted, sheet),
            tuple(str(line["what"]) for line in noted if line and "what" in line),
        )
    changes = [(number, line) for number, line in enumerate(noted[begun:], begun + 2) if not _is_saving(line)]
    recovered, count = _replayed(sheet, [change for _, change in changes])
    if count < len(changes):
        notices.append(f"{path}: line {changes[count][0]} is damaged; the changes from there on are left out")
    words = tuple(str(change.get("what", "")) for _, change in changes[:count] if change)
    last = changes[count - 1][1] if count else None
    return Recovered(recovered, words, person, path, tuple(notices), last.get("where") if last else None)


def _begin_of_unsaved(head: dict[str, Any], noted: list[dict[str, Any] | None], sheet: TrimSheet) -> int | None:
    """Return the first noted line that is not in the sheet's file; None where the file is of neither state."""
    digest = sheet.origin and sheet.origin.digest
    saves = [index for index, line in enumerate(noted) if line and _is_saving(line) and line["saving"] == digest]
    if saves:
        return saves[-1] + 1
    return 0 if head.get("sheet") == digest else None


def _left_by(head: dict[str, Any], noted: list[dict[str, Any] | None], sheet: TrimSheet) -> TrimSheet | None:
    """Return the sheet that a journal began with, after its changes; it has the file of the sheet that is there now."""
    try:
        saved = TrimSheet.from_dict(head["saved"], sheet.origin)
    except (TrimbenchError, KeyError, TypeError, AttributeError):
        return None
    return _replayed(saved, [line for line in noted if not _is_saving(line)])[0]


def _is_saving(line: dict[str, Any] | None) -> bool:
    return line is not None and "saving" in line


def forget(sheet_path: Path) -> None:
    """Remove a journal that was recovered or is not wanted."""
    journal_path(sheet_path).unlink(missing_ok=True)


def _patch(before: TrimSheet, after: TrimSheet) -> list[dict[str, Any]]:
    """Return the operations that lead from one sheet to the other: single parts where their number stays the same."""
    old, new = before.head(), after.head()
    operations: list[dict[str, Any]] = []
    for key in dict.fromkeys((*old, *new)):
        path = "/" + key.replace("~", "~0").replace("/", "~1")
        if key not in new:
            operations.append({"op": "remove", "path": path})
        elif key not in old or json.dumps(old[key]) != json.dumps(new[key]):
            operations.append({"op": "add", "path": path, "value": new[key]})
    for part in PARTS:
        ones, others = getattr(before, part), getattr(after, part)
        if len(ones) != len(others):
            operations.append({"op": "add", "path": f"/{part}", "value": [item.to_dict() for item in others]})
            continue
        for index, (one, other) in enumerate(zip(ones, others, strict=True)):
            if one is not other and json.dumps(one.to_dict()) != json.dumps(other.to_dict()):
                operations.append({"op": "replace", "path": f"/{part}/{index}", "value": other.to_dict()})
    return operations


def _replayed(sheet: TrimSheet, changes: list[dict[str, Any] | None]) -> tuple[TrimSheet, int]:
    """Return the sheet after all changes up to the first that can't be made, and how many were made."""
    import jsonpatch

    entries: Any = sheet.to_dict()
    for count, change in enumerate(changes):
        try:
            jsonpatch.apply_patch(entries, change["patch"], in_place=True)  # type: ignore[index]
        except (jsonpatch.JsonPatchException, jsonpatch.JsonPointerException, KeyError, TypeError):
            return _replayed(sheet, changes[:count])  # the damaged change may have been made in part
    try:
        return replace(TrimSheet.from_dict(entries), origin=sheet.origin), len(changes)
    except (TrimbenchError, KeyError, TypeError, AttributeError):
        return _replayed(sheet, changes[:-1])


def _encoded(lines: list[dict[str, Any]]) -> bytes:
    return "".join(json.dumps(item, ensure_ascii=False) + "\n" for item in lines).encode()


def _parsed(line: bytes) -> dict[str, Any] | None:
    try:
        entries = json.loads(line)
    except ValueError:
        return None
    return entries if isinstance(entries, dict) else None


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
