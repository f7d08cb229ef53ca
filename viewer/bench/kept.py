"""The state of the bench with the trim sheet that it is kept in: every change of the sheet is a step.

No GL and no imgui.
"""

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from tonemap.errors import TrimbenchError
from tonemap.host import Host
from tonemap.master_entry import frame_hash
from tonemap.rendition import Rendition
from tonemap.sheet_work import SheetWork
from tonemap.trim_sheet import TrimSheet

from . import state as actions
from .aside import Aside
from .keeping import Keeping
from .on_sheet import entry_of, folded, misfit, with_sheet
from .reel import Reel
from .sheet_opening import entry_for, new_keeping, open_keeping
from .state import BenchState
from .view_file import frame_in, view_of, with_view_of


@dataclass(frozen=True)
class Notice:
    """What stands in the strip, a sentence a line; `before` is the state that 'Put back' returns to."""

    text: str
    before: BenchState | None = None


class Kept:
    """A state whose renditions, patches and choices are those of a trim sheet.

    Attributes
    ----------
    is_held : whether a hand still holds what it changes; the step is made when it lets go
    folder : the program's own, where sheets without a name and where the bench stood are kept; None to keep nothing
        but sheets that have a name
    said : a few words in the line of status on what was undone
    """

    def __init__(self, host: Host, renditions: Sequence[Rendition], folder: Path | None = None) -> None:
        self.host, self.folder = host, folder
        self.notice: Notice | None = Notice(host.refused[0]) if host.refused else None
        self.state = actions.with_renditions(BenchState(), tuple(renditions))
        self.state = replace(self.state, sheet=_sheet_of(renditions, host))
        self.keeping = Keeping(SheetWork(self.state.sheet), folder)
        self.is_held = False
        self.said = ""
        self._look: Aside[str | None] | None = None
        self._former: tuple[BenchState, Keeping] | None = None
        self._keys: dict[str, int] = {}
        self._remember_keys()

    @property
    def is_moving(self) -> bool:
        """Whether frames pass; where the bench stands is then not written down."""
        return False

    def do(self, action: Callable[..., BenchState], *arguments: Any) -> bool:
        """Do an action of `state`, and return whether it was done; a wrong value is said in the strip."""
        try:
            after = action(self.state, *arguments)
            self.state = folded(self.state, after, self.host)
        except TrimbenchError as fault:
            self.notice = Notice(str(fault))
            return False
        if not self.is_held:
            self.settle()
        return True

    def settle(self) -> None:
        """Make a step of what has changed in the sheet since the last one."""
        if self.state.sheet is self.keeping.work.history.state:
            return
        self._let_go_of_former()
        self.keeping.stand(self.standing())
        self.keeping.change(self.state.sheet)
        self.state = replace(self.state, sheet=self.keeping.work.history.state)
        self._remember_keys()
        self.sheet_changed()
        self.said = ""
        self.say(self.keeping.work.notices)
        self.keeping.work.notices.clear()

    def save_as(self, path: Path, *, overwrite: bool = False) -> None:
        """Save the sheet under a name of the user's; raises TrimbenchError as `SheetWork.save` does."""
        self.settle()
        self.keeping.save_as(path, overwrite=overwrite)
        self.state = replace(self.state, sheet=self.keeping.work.history.state)
        self.said = f"saved as {path}"

    def undo(self) -> None:
        """Take the last step back, and say which."""
        self.settle()
        self._walk(self.keeping.undo(), "undone", "there is nothing to undo")

    def redo(self) -> None:
        """Bring the last undone step again, and say which."""
        self.settle()
        self._walk(self.keeping.redo(), "done again", "there is nothing to do again")

    def rest(self) -> bool:
        """Save what has rested; returns whether there is something new to show."""
        if not self.is_held:
            self.settle()
            self._take_look()
        if not (self.is_held or self.is_moving):
            self.keeping.stand(self.standing())
        return self.keeping.rest()

    def show_sheet(self, keeping: Keeping, notices: Sequence[str] = (), *, frame: int | None = None) -> None:
        """Put a sheet on the bench that was opened, at a frame, or where the bench stood on it."""
        self.settle()
        self.notice = None
        self._let_go_of_former()
        self._let_go(self.keeping)
        self.keeping, stood = keeping, keeping.stood()
        self._keys, self.said = {}, ""
        now = self.state
        bare = replace(BenchState(), showing=now.showing, monitor=now.monitor, window=now.monitor.peak)
        frame = frame_in(stood) if frame is None else frame
        self.state = with_sheet(bare, keeping.work.history.state, self.host, frame=frame)
        self._remember_keys()
        told = [*notices, *keeping.work.notices, *filter(None, [misfit(self.state, self.host)])]
        keeping.work.notices.clear()
        self.say(told)
        self.state = with_view_of(self.state, stood)
        self.stand_again(stood)
        self.show_programme(stood)

    def open_sheet(self, path: Path) -> None:
        """Open a sheet in the place of the one now, which is saved; one that can't be read is one sentence."""
        self.settle()
        self.keeping.save()
        if self.keeping.path is not None and path.exists() and path.samefile(self.keeping.path):
            self.said = f"{path.name} is open here already"
            return
        try:
            keeping, notices = open_keeping(path, self.folder)
        except TrimbenchError as fault:
            self.notice = Notice(str(fault))
            return
        self.show_sheet(keeping, notices)

    def begin_sheet(self, reel: Reel, said: dict[str, Any]) -> list[str]:
        """Begin a sheet for a master, with the renditions on the bench; returns sentences.

        The sheet before is saved, and let go of when the new one changes: until then `refuse_master` leads back to it.
        """
        self.settle()
        self._let_go_of_former()
        self.keeping.save()
        entries = tuple(entry_of(slot.rendition, self.host) for slot in self.state.slots)
        old = self.state.sheet
        default = old.default_rendition
        path = reel.master.facts.path
        sheet = TrimSheet((entry_for(reel.master, said),), entries, default_rendition=default)
        keeping, told = new_keeping(sheet, path, self.folder)
        self._former = self.state, self.keeping
        self.keeping = keeping
        self._look = Aside(
            "the first frame",
            lambda: frame_hash(next(reel.master.frames(0, 0))),
            lambda mark: self._recognise(keeping, mark),
            lambda: None,
        )
        self.state = with_sheet(replace(self.state, patches=(), patch=None), sheet, self.host, frame=0)
        if self._former[1].is_named and self._former[1].path is not None:
            told.insert(0, f"{self._former[1].path.name} is saved; the trims for {path.name} have no name yet")
        return told

    def refuse_master(self, sentence: str) -> None:
        """Go back to what was on the bench before a master that can't be shown."""
        if self._former is not None:
            self.keeping.close()
            (self.state, self.keeping), self._former = self._former, None
        else:
            self.state = replace(self.state, master=None)
        self.notice = Notice(sentence)

    def standing(self) -> dict[str, Any]:
        """Return where the bench stands, as plain values."""
        return view_of(self.state)

    def stand_again(self, stood: Any) -> None:
        """Take up where the bench stood, apart from its state."""

    def show_programme(self, stood: Any) -> None:
        """Show the picture of the sheet's frame, and of it what was shown where the bench stood."""

    def sheet_changed(self) -> None:
        """Take up a change of the sheet in what goes through its programme."""

    def end(self) -> list[str]:
        """Save, and end the work on the sheet; returns sentences for whoever called the bench."""
        self.settle()
        self._let_go_of_former()
        self.keeping.stand(self.standing())
        refused = self.keeping.close()
        if refused is not None:
            return [refused]
        if self.keeping.unsaved is not None and self.keeping.path is not None:
            return [f"the trims have no name yet and are kept in {self.keeping.path}; open the same master to go on"]
        return []

    def _remember_keys(self) -> None:
        """Note the key of every name, for what an undo brings back."""
        self._keys |= {slot.rendition.name: slot.key for slot in self.state.slots}

    def _take_look(self) -> None:
        """Take up the mark of the master's first frame, once it is known."""
        look = self._look
        if look is None or not look.is_done:
            return
        self._look = None
        with suppress(TrimbenchError):  # a first frame that can't be read is said when the bench comes to it
            look.finish()

    def _recognise(self, keeping: Keeping, mark: str | None) -> None:
        if mark is not None and keeping is self.keeping:
            keeping.recognise(mark)
            self.state = replace(self.state, sheet=keeping.work.history.state)

    def _walk(self, what: str | None, done: str, nothing: str) -> None:
        if what is None:
            self.said = nothing
            return
        were = {patch.name for patch in self.state.patches}
        self.state = with_sheet(self.state, self.keeping.work.history.state, self.host, self._keys)
        back = [index for index, patch in enumerate(self.state.patches) if patch.name not in were]
        if back:
            self.state = replace(self.state, patch=back[-1])
        self.said = f"{done}: {what}"
        self.sheet_changed()
        self.say(self.keeping.work.notices)
        self.keeping.work.notices.clear()

    def _let_go_of_former(self) -> None:
        if self._former is not None:
            self._let_go(self._former[1])
            self._former = None

    def _let_go(self, keeping: Keeping) -> None:
        """End the work on a sheet; that one can't be saved is said, and where it is instead."""
        refused = keeping.close()
        self.say([refused] if refused is not None else [])

    def say(self, sentences: Sequence[str]) -> None:
        """Say sentences in the strip, each on a line of its own below what is said there."""
        if sentences:
            former = self.notice or Notice("")
            lines = dict.fromkeys(filter(None, [*former.text.splitlines(), *sentences]))
            self.notice = replace(former, text="\n".join(lines))

    def take_back(self, sentence: str) -> None:
        """Take a sentence out of the strip that is not true any more, where it still stands there."""
        lines = self.notice.text.splitlines() if self.notice is not None else []
        if self.notice is not None and sentence in lines:
            lines.remove(sentence)
            self.notice = replace(self.notice, text="\n".join(lines)) if lines else None


def _sheet_of(renditions: Sequence[Rendition], host: Host) -> TrimSheet:
    return TrimSheet(renditions=tuple(entry_of(rendition, host) for rendition in renditions))
