"""What feeds the bench: a master or a programme, opened, gone through, and read again when its file has changed.

No GL and no imgui.
"""

import math
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar

from tonemap.errors import TrimbenchError, WrongCall
from tonemap.host import Host
from tonemap.media.master import Facts, Frame
from tonemap.media.wishes import EncodingWishes
from tonemap.operator import Statistics
from tonemap.picture import Picture
from tonemap.rendition import Rendition
from tonemap.trim_sheet import TrimSheet
from tonemap.trim_sheet_text import is_trim_sheet

from . import state as actions
from .aside import Aside
from .kept import Kept, Notice
from .on_sheet import at_frame
from .opening import MASTER_SUFFIXES, Opened, Question, open_master, sequence_of
from .playback import Playback
from .reel import Reel
from .sheet_opening import said_of
from .sheet_reel import SheetReel, path_at, programme_at
from .shot_statistics import ShotStatistics, Stretch
from .source_look import SourceLook, Stamp, stamp_of
from .state import Master
from .view_file import with_view_of

Result = TypeVar("Result")


class Feed(Kept):
    """A kept state with the frames that are shown.

    Attributes
    ----------
    wishes : what the user says of the encoding of masters that are opened
    question : about the encoding of a file that can't be shown without an answer
    pointed : the picture's pixel under the pointer; None where there is none
    opening : what is being read
    reads_aside : whether reading goes on in a thread; as long as nobody waits at a window, it is waited for
    call : asks for frames of the window, from any thread
    """

    def __init__(
        self, host: Host, renditions: Sequence[Rendition], wishes: EncodingWishes, folder: Path | None = None
    ) -> None:
        super().__init__(host, renditions, folder)
        self.wishes = wishes
        self.question: Question | None = None
        self.pointed: tuple[int, int] | None = None
        self.playback: Playback | None = None
        self.opening: Aside[Any] | None = None
        self.reads_aside = False
        self.call: Callable[[], None] = lambda: None
        self.clock: Callable[[], float] = time.monotonic
        self._reel: Reel | None = None
        self._source = SourceLook(self._now)
        self._gone = ""  # what is said of the shown frame's file
        self._absent: list[Stamp] = []  # the file of a master that could not be opened, when that was tried
        self._stood: Any = None
        self._statistics = ShotStatistics(self.stir)

    def open(self, path: Path, wishes: EncodingWishes | None = None) -> None:
        """Open a master or a trim sheet; an unknown encoding is asked for, and of a bad file is said what is wrong."""
        if is_trim_sheet(path):
            self.open_sheet(path)
            return
        said, self.notice = wishes or self.wishes, None
        self._read(path.name, lambda: open_master(path, said), lambda opened: self.show_opened(opened, wishes))

    def take_drop(self, paths: Sequence[Path]) -> None:
        """Open what was dropped: the sequence that pictures are frames of, else a trim sheet, a master or the first."""
        sequence = sequence_of(paths)
        sheet = next((path for path in paths if is_trim_sheet(path)), None)
        master = next((path for path in paths if path.suffix.lower() in MASTER_SUFFIXES), None)
        chosen = sequence or sheet or master or paths[0]
        self.open(chosen)
        if len(paths) == 1:
            return
        words = f"of the {len(paths)} dropped files, {chosen.name} is opened"
        if sequence is not None:
            words = f"the {len(paths)} dropped files are frames of {chosen.name}, which is opened"
        if self.opening is not None:
            self.opening.note = words
        elif self.notice is None:
            self.notice = Notice(words)

    def _read(self, what: str, job: Callable[[], Result], then: Callable[[Result], None]) -> None:
        """Read what takes some time, aside where the window is open; what was being read is not wanted any more."""
        self.opening = Aside(what, job, then, self.stir)
        if not self.reads_aside:
            self.opening.wait()
        self.take_read()

    def take_read(self) -> None:
        """Take up what was read aside, if it is there; a bad file is one sentence."""
        if self.opening is None or not self.opening.is_done:
            return
        opening, self.opening = self.opening, None
        try:
            opening.finish()
        except TrimbenchError as fault:
            self.question = None
            self.say([str(fault)])
        if self.notice is None and opening.note is not None:
            self.notice = Notice(opening.note)

    def show_opened(self, opened: Opened | Question, wishes: EncodingWishes | None = None) -> None:
        """Put an opened master on the bench with a sheet of its own, or ask about its encoding."""
        self.question = opened if isinstance(opened, Question) else None
        if isinstance(opened, Opened):
            self._play(opened.reel)
            facts = opened.master.facts
            told = [*facts.notices, *self.begin_sheet(opened.reel, said_of(wishes or self.wishes))]
            self.state = actions.with_master(self.state, opened.master)
            self.notice = None
            self.say(told)
            self.pointed = None

    @property
    def is_moving(self) -> bool:
        """Whether frames pass, so that a picture is only there until the next one."""
        return self.playback is not None and self.playback.transport.is_playing

    @property
    def is_presented(self) -> bool:
        """Whether a client looks at the pictures in this window."""
        return False

    def show_programme(self, stood: Any) -> None:
        """Show the picture of the sheet's frame; a master that can't be read is one sentence."""
        self.question = self.pointed = None
        self.close()
        sheet, index = self.keeping.work.sheet, self.state.frame
        self._stood, absent = stood, self._absent

        def read() -> tuple[SheetReel, Frame]:
            if (path := path_at(sheet, index)) is not None:
                absent.append(stamp_of(path))
            return programme_at(sheet, index)

        name = sheet.origin.path.name if sheet.origin else "the sheet"
        self._read(f"the masters of {name}", read, lambda read: self._take_programme(read, stood))

    def _take_programme(self, read: tuple[SheetReel, Frame], stood: Any) -> None:
        reel, frame = read
        self._play(reel, frame.index)
        if self.playback is not None and isinstance(stood, dict):
            self.playback.transport.mark(stood.get("marks"))
        self.say([*reel.faults, *reel.facts_at(frame.index).notices, *filter(None, [frame.fault])])
        if frame.content is not None:
            shown = actions.with_master(self.state, Master(reel.facts_at(frame.index), frame))
            self.state = with_view_of(shown, stood)

    def standing(self) -> dict[str, Any]:
        """Return where the bench stands, with what of the frames is played."""
        transport = self.playback.transport if self.playback is not None else None
        marks = [transport.first, transport.last, transport.is_looping] if transport is not None else None
        return {**super().standing(), "marks": marks}

    def refuse_master(self, sentence: str) -> None:
        """Go back to what was on the bench before a master that can't be shown."""
        self.close()
        super().refuse_master(sentence)
        if self.state.master is not None:
            self._play(SheetReel(self.keeping.work.sheet), self.state.frame)

    def sheet_changed(self) -> None:
        """Take up what the shots take now, where the programme is gone through."""
        if self.playback is not None and isinstance(self.playback.reel, SheetReel):
            self.playback.reel.take_shots(self.state.sheet)

    def rest(self) -> bool:
        """Save what has rested, and look whether the shown file is still there; returns whether there is news."""
        is_news = super().rest()
        return self._look_at_source() or is_news

    @property
    def seconds_to_rest(self) -> float:
        """How long it is until `rest` has something to do."""
        return min(self.keeping.seconds_to_next(), self._source.seconds_to_next())

    def _now(self) -> float:
        return self.clock()  # which may be another one by now

    def _look_at_source(self) -> bool:
        """Say once that the shown frame's file is gone; read it again when it is back, or was written anew.

        What a client looks at does not change by itself, and nothing is said over it: that waits until it is over.
        """
        is_idle = not (self.is_moving or self.is_presented) and self.opening is None
        read = self._read_from() if is_idle else None
        found = self._source.changed(read)
        if found is None:
            return False
        if found.fault is not None:
            words = "put the file back there, and it is read again by itself"
            self._gone = f"{found.path}: {found.fault}; the bench goes on showing the last picture: {words}"
            self.notice = Notice(self._gone)
        else:
            was_gone = found == read or (read is not None and read.fault is not None)
            back = "is there now" if self.state.master is None else "is there again"
            self._read_again(found.path.name, back if was_gone else "was written anew")
        return True

    def _read_from(self) -> Stamp | None:
        """Return the file of the frame at hand as it was read, or of a master that could not be opened."""
        if self._reel is not None:
            return self._reel.read.get(self.playback.transport.position if self.playback else 0)
        return self._absent[0] if self._absent else None

    def _read_again(self, name: str, what: str) -> None:
        """Read what is on the bench again, at the frame where it stands, and say why; all else stays as it is."""
        again = " again" if self.state.master is not None else ""
        sheet, words = self.keeping.work.sheet, f"{name} {what}, and the bench has read it{again}"
        place = self.playback.transport.position if self.playback else self.state.frame
        self.notice = None
        if self.state.master is None:
            self._read(name, lambda: programme_at(sheet, place), lambda read: self._take_first(read, words))
        else:
            self._read(name, lambda: _read_programme(sheet, place), lambda read: self._take_again(read, words))

    def _take_first(self, read: tuple[SheetReel, Frame], words: str) -> None:
        """Take up a programme of which nothing could be shown before."""
        self._source.forget()
        self._take_programme(read, self._stood)
        self.say([words] if self.state.master is not None else [])

    def _take_again(self, read: tuple[SheetReel, Frame], words: str) -> None:
        (reel, frame), before = read, self.playback
        self._play(reel, frame.index)
        if self.playback is not None and before is not None:
            self.playback.transport.take_marks(before.transport)
        self._source.forget()
        if frame.content is None or self.state.master is None:
            self.notice = Notice(_kept_picture(frame.fault or f"{frame.name} has no picture"))
            return
        old, master = self.state.master, Master(reel.facts_at(frame.index), frame)
        is_alike = (old.facts.columns, old.facts.rows, old.encoding) == (
            master.facts.columns,
            master.facts.rows,
            master.encoding,
        )
        self.state = (actions.with_frame if is_alike else actions.with_master)(self.state, master)
        self.notice = None
        self.say([words, *reel.differences_at(frame.index), *reel.faults])

    def _play(self, reel: Reel, frame: int = 0) -> None:
        self.close()
        self._reel = reel
        if reel.count > 1:
            self.playback = Playback(reel, self.stir, self.clock)
            self.playback.transport.go(frame)

    def stir(self) -> None:
        """Ask for frames of the window; safe to call from any thread."""
        self.call()

    def take_frame(self) -> bool:
        """Show the frame that is due, where it has come; one that can't be read is said, and the last one stays.

        Returns whether there is another one than before.
        """
        is_waiting = self.playback is not None and self.playback.is_waiting
        self._statistics.hold(self.reads_aside and (self.is_moving or is_waiting))
        frame = self.playback.new_frame() if self.playback else None
        if frame is None or self.playback is None:
            return False
        if frame.content is None:
            self.notice = Notice(frame.fault or f"{frame.name} has no picture")
        else:
            self.take_back(self._gone)  # it is of another frame
            shown = actions.with_frame(self.state, Master(self.playback.reel.facts_at(frame.index), frame))
            self.state = at_frame(shown, frame.index, self.host)
        return True

    @property
    def seconds_to_next(self) -> float:
        """How long it is until another frame is due; infinite where none is."""
        return self.playback.transport.seconds_to_next() if self.playback and self.is_moving else math.inf

    def close(self) -> None:
        """End the threads that read frames."""
        if self.playback is not None:
            self.playback.close()
        self._statistics.close()
        self.playback, self._reel, self._statistics = None, None, ShotStatistics(self.stir)
        self._absent = []

    @property
    def stretch(self) -> Stretch | None:
        """The frames that are measured together with the one that is shown; None without a master."""
        return self._reel.stretch_at(self.state.frame) if self._reel is not None else None

    def statistics(self) -> Statistics | None:
        """Return the statistics of the shot that is shown, as a render takes them; None while they are measured.

        Raises
        ------
        TrimbenchError
            When no frame of it can be measured.
        """
        stretch = self.stretch
        if stretch is None:
            return None if self.state.master is None else self.state.master.picture.statistics
        found = self._statistics.of(stretch)
        if found is None and not self.reads_aside:
            self._statistics.wait()
            found = self._statistics.of(stretch)
        return found

    def measuring_words(self) -> list[str]:
        """Say from long to short how far the statistics of the shot are measured."""
        count = self.stretch.count if self.stretch is not None else 1
        done = f"measured {self._statistics.measured} of {count} frame{'s' * (count > 1)}"
        what = "the shot" if self.state.shot is not None else "the master"
        return [f"not final: {what} is being measured for its operator, {done}", f"not final, {done}", "not final"]

    @property
    def facts(self) -> Facts:
        """What is known of the master; raises WrongCall without a master."""
        if self.state.master is None:
            raise WrongCall("there is no master on the bench; open one first")
        return self.state.master.facts

    @property
    def pixels(self) -> Picture | None:
        """The samples of the frame that is shown, for figures; None while frames pass, and until they are there."""
        master = self.state.master
        if master is None or self.is_moving:
            return None
        return master.picture if self.playback is None else master.pixels  # a movie of one frame has no reading thread


def _read_programme(sheet: TrimSheet, frame: int) -> tuple[SheetReel, Frame]:
    """Read a frame of a sheet again; raises TrimbenchError that says what stays on the screen."""
    try:
        return programme_at(sheet, frame)
    except TrimbenchError as fault:
        raise TrimbenchError(_kept_picture(str(fault))) from fault


def _kept_picture(sentence: str) -> str:
    return f"{sentence}; the bench goes on showing the last picture"
