"""The work on one trim sheet: its history, its journal, its file, and the note that it is open."""

from dataclasses import replace
from pathlib import Path

from .errors import TrimbenchError
from .history import History
from .in_use import InUse, Person
from .journal import Journal, Recovered, forget
from .trim_sheet import TrimSheet, load, save


class SheetWork:
    """A trim sheet that is being worked on; the sheet itself is a value, `sheet`, that each change replaces.

    Attributes
    ----------
    history : of the sheets
    notices : sentences for the user, for example that the changes can't be noted; the caller shows and clears them
    """

    def __init__(self, sheet: TrimSheet) -> None:
        self.notices: list[str] = []
        self.history = History.of(sheet)
        self._saved, self._origin = sheet, sheet.origin
        self._journal: Journal | None = None
        self._in_use: InUse | None = None
        self._begin()

    @classmethod
    def open(cls, path: Path) -> "SheetWork":
        """Open a sheet; raises TrimbenchError as `load` does.

        What an earlier program left unsaved is not brought back by itself: ask with `journal.recover` first, and pass
        what it gave to `recovered`, or call `journal.forget`.
        """
        return cls(load(path))

    @classmethod
    def recovered(cls, found: Recovered) -> "SheetWork":
        """Go on where an earlier program was cut off; nothing is saved yet, and an undo leads to the saved sheet."""
        if found.sheet.origin is None:
            raise TrimbenchError("the recovered sheet has no file")
        path = found.sheet.origin.path
        saved = load(path)
        forget(path)
        work = cls(saved)
        work.notices += found.notices
        work.change(found.sheet, f"{len(found.changes)} changes recovered")
        return work

    @property
    def sheet(self) -> TrimSheet:
        """The sheet now."""
        return replace(self.history.state, origin=self._origin)

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
        saved = save(self.sheet, path, overwrite=overwrite)
        if path is not None:  # the masters' paths may have changed with the folder, and an undo keeps the new ones
            self.history = self.history.merged(saved)
        self._end()
        self._saved, self._origin = self.history.state, saved.origin
        self._begin()

    def close(self) -> None:
        """End the work; what has not been saved is lost, so ask the user first."""
        self._end()

    def _begin(self) -> None:
        if self._origin is None:
            return
        try:
            self._in_use = InUse.leave(self._origin.path)
            self._journal = Journal.begin(self.sheet)
        except TrimbenchError as fault:
            self.notices.append(str(fault))

    def _end(self) -> None:
        if self._journal:
            self._journal.discard()
        if self._in_use:
            self._in_use.close()
        self._journal = self._in_use = None

    def _note(self, what: str) -> None:
        if self._journal is None:
            return
        try:
            self._journal.note(self.sheet, what)
        except TrimbenchError as fault:
            self.notices.append(str(fault))
