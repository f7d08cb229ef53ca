"""The bench's trim sheet on the disk: noted at every change, saved when the hand rests. Plain Python."""

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from tonemap.errors import TrimbenchError
from tonemap.in_use import Person
from tonemap.sheet_work import SheetWork, place_beside
from tonemap.trim_sheet import TrimSheet

from .aside import Aside
from .change_words import change_words
from .view_file import read_view, write_view

REST = 0.5
"""Seconds without a change after which the sheet is saved."""

LOOK = 2.0
"""Seconds between two looks at who else has the sheet open, and between two tries of a save that was refused."""

GLANCE = 0.1
"""Seconds between two looks whether such a look has ended."""


class Keeping:
    """Keeps one sheet; what the user does never waits for it, and is never asked about.

    Parameters
    ----------
    work : on the sheet
    folder : the program's own, for where the bench stood; None where nothing but a named sheet is written
    unsaved : the file in that folder for a sheet that the user has given no name yet; None for one that has its name,
        and where nothing is written

    Attributes
    ----------
    fault : the sentence about why the sheet is not saved, or None
    people : who else has the sheet open
    looking : the look who else has it, in a thread: the folder may hold a hundred thousand pictures
    """

    def __init__(
        self,
        work: SheetWork,
        folder: Path | None = None,
        unsaved: Path | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.work, self.unsaved = work, unsaved
        self.fault: str | None = None
        self.people: tuple[Person, ...] = work.others()
        self._folder, self._clock = folder, clock
        self._stirred: float | None = None  # when something changed last that is not on the disk
        self._looked = clock()
        self.looking: Aside[tuple[Person, ...]] | None = None
        self._view: dict[str, Any] | None = None
        self._written_view: dict[str, Any] | None = None

    @property
    def path(self) -> Path | None:
        """The sheet's file; None while there is none."""
        return self.work.path

    @property
    def is_named(self) -> bool:
        """Whether the sheet lies where the user wanted it."""
        return self.work.path is not None and self.unsaved is None

    def change(self, sheet: TrimSheet) -> None:
        """Take a changed sheet as one step; on return it is noted on the disk, or there is a sentence about why not."""
        if sheet == self.work.sheet:
            return
        self.work.change(sheet, change_words(self.work.sheet, sheet))
        self._stir()

    def recognise(self, first_frame: str) -> None:
        """Enter by what the only master is recognised, in every step; it is none itself."""

        def entered(sheet: TrimSheet) -> TrimSheet:
            return sheet.with_master(replace(sheet.masters[0], first_frame=first_frame))

        self.work.amend(entered)
        if self.work.path is not None:
            self._stir()

    def undo(self) -> str | None:
        """Take the last step back; returns what it was, None where there is none."""
        what = self.work.history.undo_what
        self.work.undo()
        if what is not None:
            self._stir()
        return what

    def redo(self) -> str | None:
        """Bring the last undone step again; returns what it is, None where there is none."""
        what = self.work.history.redo_what
        self.work.redo()
        if what is not None:
            self._stir()
        return what

    def stand(self, view: dict[str, Any]) -> None:
        """Take where the bench stands now."""
        if view != self._view:
            self._view = self.work.where = view
            if self._stirred is None and self.work.path is not None:
                self._stirred = self._clock()

    def stood(self) -> Any:
        """Return where the bench stood when it was closed or cut off, or None."""
        place = self._view_path()
        if self.work.where is not None:
            return self.work.where
        return None if place is None else read_view(place)

    def seconds_to_next(self) -> float:
        """Return how long it is until `rest` has something to do."""
        now = self._clock()
        next_look = self._looked + LOOK if self.looking is None else now + GLANCE
        due = [next_look] if self.work.path is not None else []
        if self._stirred is not None:
            due.append(self._stirred + REST)
        return max(min(due) - now, 0.0) if due else float("inf")

    def rest(self) -> bool:
        """Save what has rested, and look who else is there; returns whether there is something new to show."""
        now, before = self._clock(), (self.fault, self.people, self.work.is_saved)
        if self._stirred is not None and now >= self._stirred + REST:
            self.save()
        if self.looking is not None and self.looking.is_done:
            looking, self.looking = self.looking, None
            looking.finish()
        if now >= self._looked + LOOK and self.looking is None:
            self._looked = now
            self.looking = Aside("the note of others", self.work.others, self._meet, lambda: None)
            if self.fault is not None:
                self.save()
        return before != (self.fault, self.people, self.work.is_saved)

    def _meet(self, people: tuple[Person, ...]) -> None:
        self.people = people

    def save(self) -> None:
        """Save the sheet where it lies, and where the bench stands; what is refused is in `fault`."""
        self._stirred = None
        if self.work.path is None and (self.unsaved is None or not self._has_changes()):
            return
        try:
            if self.work.path is None:
                self._save_first()
            elif not self.work.is_saved:
                self.work.save()
            self._write_view()
            self.fault = None
        except TrimbenchError as fault:
            self.fault = str(fault)

    def make_file(self) -> None:
        """Save now, also a sheet without a name and without a change: something is to be made of its file."""
        if self.work.path is None and self.unsaved is not None:
            try:
                self._save_first()
            except TrimbenchError as fault:
                self.fault = str(fault)
                return
        self.save()

    def save_as(self, path: Path, *, overwrite: bool = False) -> None:
        """Save the sheet under a name of the user's; raises TrimbenchError as `SheetWork.save` does."""
        left, view = (self.unsaved, self._view_path()) if self.unsaved else (None, None)
        self.work.save(path, overwrite=overwrite)
        self.unsaved, self.fault, self._written_view = None, None, None
        for old in filter(None, (left, view)):
            old.unlink(missing_ok=True)
        self.save()

    def close(self) -> str | None:
        """Save, and end the work; returns the sentence about why it is not in its file, and where it is instead.

        A sheet that its file refuses, for somebody else has changed that, is saved beside it; where that fails too its
        journal stays.
        """
        self.save()
        wanted = self.path or self.unsaved
        if self.fault is None or wanted is None:
            self.work.close()
            return None
        place = place_beside(wanted)
        try:
            self.work.save(place)
        except TrimbenchError:
            self.work.leave()
            return f"the trims could not be saved: {self.fault}"
        self.work.close()
        return f"{self.fault.partition(';')[0]}; the trims of this bench are saved in {place}"

    def words(self) -> str:
        """Say what the sheet is called, and whether it is saved."""
        if self.fault is not None:
            return f"not saved: {self.fault}"
        name = self.work.path.name if self.work.path and self.is_named else "unnamed trims"
        if self.work.path is None:
            return f"{name}, no change yet" if not self._has_changes() else f"{name}, in memory"
        return f"{name}, {'kept' if self.unsaved else 'saved'}" if self.work.is_saved else name

    def warnings(self) -> list[str]:
        """Return the sentence about another bench on the same sheet, from long to short; empty where there is none."""
        if not self.people:
            return []
        first, more = self.people[0], f" and {len(self.people) - 1} more" if len(self.people) > 1 else ""
        rule = "who saves first is kept, the other is asked for another name"
        short = f"also open by {first.user} on {first.host}{more}"
        return [f"also open by {first.sentence}{more}: {rule}", f"{short}: {rule}", short]

    def _has_changes(self) -> bool:
        return len(self.work.history.steps) > 1

    def _stir(self) -> None:
        self._stirred = self._clock()
        if self.work.path is None and self.unsaved is not None:
            self.save()  # the journal needs a file

    def _save_first(self) -> None:
        """Give an unnamed sheet its file."""
        if self.unsaved is None:
            return
        try:
            self.unsaved.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise TrimbenchError(f"{self.unsaved.parent}: can't be made: {error.strerror}") from error
        self.work.save(self.unsaved)

    def _view_path(self) -> Path | None:
        from tonemap.sheet_work import mark_of

        place = self.work.path or self.unsaved
        return None if self._folder is None or place is None else self._folder / "views" / f"{mark_of(place)}.json"

    def _write_view(self) -> None:
        place = self._view_path()
        if place is None or self._view is None or self._view == self._written_view:
            return
        write_view(place, self._view)
        self._written_view = self._view
