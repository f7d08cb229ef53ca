"""The work on one trim sheet: its history, its journal, its file, and the note that it is open."""

import glob
import hashlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from .errors import TrimbenchError
from .history import History
from .in_use import InUse, Person
from .journal import Journal, JournalInUse, Recovered, SheetChangedSince, journal_path, recover
from .trim_sheet import TrimSheet, digest_of, load, save, seen_from


class SheetWork:
    """A trim sheet that is being worked on; the sheet itself is a value, `sheet`, that each change replaces.

    Parameters
    ----------
    elsewhere : a folder for the journal where it can't lie beside the sheet: a folder that can't be written to, or
        another bench whose journal lies there; None where there is none

    Attributes
    ----------
    history : of the sheets
    where : plain values that are noted with every change, and come back with what is recovered: where the caller stands
    notices : sentences for the user, for example that the changes can't be noted; the caller shows and clears them
    """

    def __init__(self, sheet: TrimSheet, elsewhere: Path | None = None) -> None:
        self.notices: list[str] = []
        self.where: Any = None
        self.history = History.of(sheet)
        self._saved, self._origin = sheet, sheet.origin
        self._elsewhere = elsewhere
        self._journal: Journal | None = None
        self._in_use: InUse | None = None
        self._begin()

    @classmethod
    def open(cls, path: Path, elsewhere: Path | None = None) -> "SheetWork":
        """Open a sheet; raises TrimbenchError as `load` does.

        What an earlier program left unsaved is not brought back by itself: ask with `unsaved_changes` first, and pass
        what it gave to `recovered`, or call `journal.forget`.
        """
        return cls(load(path), elsewhere)

    @classmethod
    def recovered(cls, found: Recovered, elsewhere: Path | None = None) -> "SheetWork":
        """Go on where an earlier program was cut off; nothing is saved yet, and an undo leads to the saved sheet.

        The journal stays on the disk throughout, so that another kill loses nothing.
        """
        if found.sheet.origin is None:
            raise TrimbenchError("the recovered sheet has no file")
        saved = load(found.sheet.origin.path)
        if not found.changes:
            found.path.unlink(missing_ok=True)
            return cls(saved, elsewhere)
        what = f"{len(found.changes)} changes recovered"
        journal = Journal.taken_over(found, saved, what)
        work = cls(saved, elsewhere)
        work._journal = journal
        work.notices, work.where = list(found.notices), found.where
        work.history = work.history.changed(found.sheet, what)
        return work

    @property
    def sheet(self) -> TrimSheet:
        """The sheet now."""
        return replace(self.history.state, origin=self._origin)

    @property
    def path(self) -> Path | None:
        """The sheet's file; None before the first save."""
        return self._origin.path if self._origin else None

    @property
    def is_saved(self) -> bool:
        """Whether the file holds the sheet as it is now."""
        return self._origin is not None and self.history.state == self._saved

    def others(self) -> tuple[Person, ...]:
        """Return who else has the sheet open now."""
        return self._in_use.others() if self._in_use else ()

    def change(self, sheet: TrimSheet, what: str) -> None:
        """Replace the sheet by a changed one; `what` names the change in a menu: 'exposure of shot 12'."""
        self.history = self.history.changed(sheet, what)
        self._note(what)

    def amend(self, change: Callable[[TrimSheet], TrimSheet]) -> None:
        """Change every state of the sheet in the same way, for what is found out and no step of anybody's."""
        self.history = self.history.mapped(change)

    def undo(self) -> None:
        """Take the last change back."""
        what, self.history = self.history.undo_what, self.history.undone()
        if what is not None:
            self._note(f"undo {what}")

    def redo(self) -> None:
        """Bring the last undone change again."""
        what, self.history = self.history.redo_what, self.history.redone()
        if what is not None:
            self._note(f"redo {what}")

    def save(self, path: Path | None = None, *, overwrite: bool = False) -> None:
        """Save the sheet and end its journal; raises TrimbenchError as `trim_sheet.save` does, and then keeps both."""
        if path is None and self._journal is not None:
            self._mark_saving()
        saved = save(self.sheet, path, overwrite=overwrite)
        if path is not None:  # the masters' paths change with the folder, also in what an undo brings back
            origin = self._origin
            self.history = self.history.mapped(lambda sheet: seen_from(replace(sheet, origin=origin), path.parent))
        is_elsewhere = self._origin is None or saved.origin is None or saved.origin.path != self._origin.path
        if is_elsewhere:
            self._end()
        else:
            self._end_journal()
        self._saved, self._origin = self.history.state, saved.origin
        self._begin()

    def close(self) -> None:
        """End the work; what has not been saved is lost, so ask the user first."""
        self._end()

    def leave(self) -> None:
        """End the work and keep the journal, for a sheet that could not be saved: it is recovered when it is opened."""
        self._journal = None
        self._end()

    def _mark_saving(self) -> None:
        try:
            self._journal.saving(digest_of(self.sheet))  # type: ignore[union-attr]
        except TrimbenchError as fault:
            self.notices.append(str(fault))

    def _begin(self) -> None:
        if self._origin is None:
            return
        if self._in_use is None:
            self._leave_note(self._origin.path)
        try:
            self._journal = Journal.begin(self.sheet)
        except TrimbenchError as fault:
            self._journal_elsewhere(fault)

    def _leave_note(self, path: Path) -> None:
        try:
            self._in_use = InUse.leave(path)
        except TrimbenchError as fault:
            self.notices.append(str(fault))

    def _journal_elsewhere(self, fault: TrimbenchError) -> None:
        """Begin the journal in the other folder, or say why there is none."""
        self._journal = None
        if self._origin is None or self._elsewhere is None:
            self.notices.append(str(fault))
            return
        saved = replace(self._saved, origin=self._origin)
        try:
            self._journal = Journal.begin(saved, free_journal(self._elsewhere, self._origin.path))
        except TrimbenchError as other:
            self.notices += [str(fault), str(other)]

    def _end(self) -> None:
        self._end_journal()
        if self._in_use:
            self._in_use.close()
        self._in_use = None

    def _end_journal(self) -> None:
        if self._journal:
            self._journal.discard()
        self._journal = None

    def _note(self, what: str) -> None:
        if self._journal is None:
            return
        try:
            self._journal.note(self.sheet, what, self.where)
        except TrimbenchError as fault:
            self._note_elsewhere(what, fault)

    def _note_elsewhere(self, what: str, fault: TrimbenchError) -> None:
        """Note all unsaved changes in the other folder, once the disk beside the sheet has refused one."""
        refused = self._journal
        if self._elsewhere is None or refused is None or refused.path.parent == self._elsewhere:
            self.notices.append(str(fault))
            return
        self._journal_elsewhere(fault)
        if self._journal is None:
            self._journal = refused
            return
        try:
            self._journal.note(self.sheet, what, self.where)
            self.notices.append(f"{fault}; it is kept in {self._journal.path}")
        except TrimbenchError:  # neither place takes it: what the first one says is what matters
            self._journal = refused
            self.notices.append(str(fault))


def unsaved_changes(path: Path, elsewhere: Path | None = None) -> tuple[Recovered | None, tuple[str, ...]]:
    """Return what an earlier program left unsaved of a sheet, beside it or in the other folder, and sentences.

    What a journal leaves is saved beside the sheet where somebody else has changed that since; a journal that can't be
    read gets another name, so that the work can go on; that of a bench that still runs is left alone.
    """
    places = [journal_path(path)]
    if elsewhere is not None:
        places += sorted(elsewhere.glob(f"{glob.escape(mark_of(path))}*.journal"))
    sentences = []
    for place in places:
        try:
            found = recover(path, place)
        except JournalInUse:
            continue
        except SheetChangedSince as fault:
            sentences.append(_saved_beside(path, place, fault))
            continue
        except TrimbenchError as fault:
            sentences.append(_put_aside(place, str(fault).rpartition(";")[0]))
            continue
        if found is not None:
            return found, tuple(sentences)
    return None, tuple(sentences)


def place_beside(path: Path) -> Path:
    """Return a free name beside a sheet, for trims that it refuses."""
    number = 1
    while (place := path.with_name(f"{path.stem}-unsaved-{number}{path.suffix}")).exists():
        number += 1
    return place


def _saved_beside(path: Path, journal: Path, fault: SheetChangedSince) -> str:
    """Save what a journal leaves beside a sheet that it doesn't fit, and end it; return the sentence about it."""
    since = f"{path}: somebody else has changed this sheet since a bench was cut off"
    if fault.sheet is None:
        done = ", ".join(dict.fromkeys(reversed(fault.changes)))
        return _put_aside(
            journal, f"{since}, and what that bench had changed does not fit any more and is to be done again ({done})"
        )
    place = place_beside(path)
    try:
        save(fault.sheet, place)
        journal.unlink(missing_ok=True)
    except (TrimbenchError, OSError) as refused:
        return f"{since}; its trims stay in {journal} until they can be saved beside the sheet: {refused}"
    return f"{since}; the trims of that bench are saved in {place.name}"


def _put_aside(journal: Path, words: str) -> str:
    """Give a journal a name under which it is in nobody's way; return the words with where it is."""
    number = 1
    while (aside := journal.with_name(f"{journal.name}.{number}")).exists():
        number += 1
    try:
        journal.rename(aside)
    except OSError as refused:
        return f"{words}; {journal} stays in the way: {refused.strerror}; move it away"
    return f"{words}; it is kept in {aside}, as text"


def free_journal(folder: Path, sheet_path: Path) -> Path:
    """Return a free name in a folder for the journal of a sheet that lies elsewhere; the folder is made.

    Raises
    ------
    TrimbenchError
        If the folder can't be made.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise TrimbenchError(
            f"{folder}: can't be made: {error.strerror}; unsaved changes are in memory only"
        ) from error
    mark = mark_of(sheet_path)
    number = 1
    while (place := folder / f"{mark}{f'-{number}' if number > 1 else ''}.journal").exists():
        number += 1
    return place


def mark_of(sheet_path: Path) -> str:
    """Return the sheet's name with a mark of its folder."""
    return f"{sheet_path.name}-{hashlib.sha256(str(sheet_path.resolve()).encode()).hexdigest()[:12]}"
