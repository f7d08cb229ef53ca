"""What is rendered: the frames of a master or of a trim sheet, each with its chain."""

import hashlib
import json
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

from ..encoding import Encoding
from ..errors import TrimbenchError, WrongCall
from ..host import Host
from ..measure.metadata import MasteringDisplay
from ..media.master import MOVIE, Frame, Master
from ..media.sequence import Sequence as Numbered
from ..media.sequence import spoken_name
from ..media.wishes import sdr_caution
from ..operator import Statistics
from ..rendition import Chain, Rendition, chain_of, chain_over, needs_of
from ..settings import settings_of
from ..sheet_masters import open_entry
from ..statistics import measure_frames
from ..timecode import frames_of, is_drop, text_of
from ..trim_sheet import Piece, TrimSheet
from .hdr import hdr_rendition, hdr_target

DIGITS = 6  # of a frame's number, where no master says them


class Programme(ABC):
    """Frames in order, and how each is rendered.

    Attributes
    ----------
    count : number of frames
    rows, columns : of every frame
    rate : frames a second, None where nothing says
    timecode : of the first frame, None where nothing says
    target : the encoding of every frame that is rendered
    is_hdr : whether it is the HDR output, the masters with the input adjustments alone
    stem : what numbered pictures of it are called where nobody says, with the place of the number, without an ending
    caption : burns words into a rendered frame, by its place; None for none
    masters : by their names
    """

    count: int
    rows: int
    columns: int
    rate: Fraction | None
    timecode: str | None
    target: Encoding
    stem: str
    is_hdr: bool = False
    caption: Callable[[int, Any], Any] | None = None
    masters: dict[str, Master]

    @abstractmethod
    def frames(self, wanted: Sequence[int]) -> Iterator[Frame]:
        """Yield frames by their place in the programme, in rising order; one without a picture has its fault."""

    @abstractmethod
    def chain_at(self, index: int) -> Chain:
        """Return the chain of a frame."""

    @abstractmethod
    def spans(self) -> list[tuple[int, int]]:
        """Return first and last of the frames that share a trim: of each shot."""

    @abstractmethod
    def number(self, index: int) -> int:
        """Return what the user calls a frame."""

    @abstractmethod
    def identity(self) -> dict[str, Any]:
        """Return what decides the result, so that a render that was stopped goes on with the same alone."""

    def job(self) -> dict[str, Any]:
        """Return what a manifest says of the frames that are handed on."""
        rate = None if self.rate is None else str(self.rate)
        place = {"rate": rate, "timecode": self.timecode}
        return {**self.identity(), **place, "captions": self.caption is not None}

    def finished(self, index: int, rendered: Any) -> Any:
        """Return a rendered frame as it is handed on: with its caption, where there are any."""
        return rendered if self.caption is None else self.caption(index, rendered)

    @abstractmethod
    def names_at(self, index: int) -> tuple[str, str]:
        """Return the names of a frame's shot, or of its master, and of its rendition."""

    def notices(self) -> list[str]:
        """Return what there is to say of the masters: what was left out, assumed, or may be meant otherwise."""
        said = [
            (name, sentence)
            for name, master in self.masters.items()
            for facts in (master.facts,)
            for sentence in (*facts.notices, *sdr_caution(facts.stored, facts.origins))
        ]
        return [sentence if len(self.masters) == 1 else f"{name}: {sentence}" for name, sentence in said]

    @property
    def is_cut_short(self) -> bool:
        """Whether a master says that there were more frames behind the last one."""
        return False

    def files(self) -> list[Path]:
        """Return the files of all masters."""
        return [path for master in self.masters.values() for path in master.files()]

    @abstractmethod
    def file_at(self, index: int) -> Path | None:
        """Return the file that a frame is read from, whether it is there or not; None in a gap."""

    def source_of(self, frames: Iterable[int]) -> str:
        """Return what tells the files that frames are read from: the SHA-256 of their sizes and times of change."""
        told = []
        for path in dict.fromkeys(map(self.file_at, frames)):
            status = path.stat() if path is not None and path.exists() else None
            told.append(None if status is None else [status.st_size, status.st_mtime_ns])
        return hashlib.sha256(json.dumps(told).encode()).hexdigest()

    def sound(self) -> tuple[Path, Fraction] | None:
        """Return the file with the sound, and the time in it of the first frame; None where there is no one file."""
        return None

    def mastering_display(self) -> MasteringDisplay | None:
        """Return the display on which the masters were graded; None where they don't say, or say different ones."""
        first, *others = [master.facts.mastering_display for master in self.masters.values()]
        return first if all(other == first for other in others) else None

    def timecode_at(self, index: int) -> str | None:
        """Return the timecode of a frame, None where it is not known."""
        if self.timecode is None or self.rate is None:
            return None
        drop = is_drop(self.timecode)
        return text_of(frames_of(self.timecode, self.rate, drop) + index, self.rate, drop)


class MasterProgramme(Programme):
    """A master, or a part of it, with one rendition; statistics that it needs are those of the frames together.

    Parameters
    ----------
    hdr : None, or the encoding of the HDR output in words, as `hdr_target` reads them
    """

    def __init__(
        self,
        master: Master,
        rendition: Rendition,
        host: Host,
        first: int = 0,
        last: int | None = None,
        *,
        hdr: str | None = None,
    ) -> None:
        facts = master.facts
        last = facts.count - 1 if last is None else last
        master.frames(first, last)  # says here what is wrong with the numbers
        self.master, self.first, self.count = master, first, last - first + 1
        self.masters = {facts.path.name: master}
        self.rows, self.columns, self.rate = facts.rows, facts.columns, facts.rate
        target = hdr_target(hdr, [facts.stored]) if hdr else rendition.target
        self.is_hdr, self.target = hdr is not None, target
        self.chain = chain_over(hdr_rendition(rendition, target) if hdr else rendition, master, first, last, host)
        self.timecode = facts.timecode
        self.timecode = self.timecode_at(first)
        self.stem = f"{facts.path.stem}.{_place(DIGITS)}"
        if isinstance(master, Numbered):
            self.stem = f"{master.numbering.before}{_place(master.numbering.digits)}"

    def frames(self, wanted: Sequence[int]) -> Iterator[Frame]:
        """Yield frames of the master."""
        for first, last in runs(wanted):
            for frame in self.master.frames(self.first + first, self.first + last):
                yield frame.at(frame.index - self.first)

    def chain_at(self, index: int) -> Chain:
        """Return the one chain."""
        return self.chain

    def spans(self) -> list[tuple[int, int]]:
        """Return all frames as one."""
        return [(0, self.count - 1)]

    def file_at(self, index: int) -> Path:
        """Return the master's file of a frame."""
        return self.master.file_at(self.first + index)

    def names_at(self, index: int) -> tuple[str, str]:
        """Return the names of the master, without the place of a number, and of the rendition."""
        return spoken_name(self.master.facts.path), self.chain.rendition.name

    def number(self, index: int) -> int:
        """Return the master's own number."""
        return self.master.number(self.first + index)

    @property
    def is_cut_short(self) -> bool:
        """Whether the master is, and all of what there is was asked for."""
        return self.master.facts.is_cut_short and self.first + self.count == self.master.count

    def sound(self) -> tuple[Path, Fraction] | None:
        """Return the movie itself."""
        facts = self.master.facts
        if facts.kind != MOVIE or facts.rate is None:
            return None
        return facts.path, self.first / facts.rate

    def identity(self) -> dict[str, Any]:
        """Return master, frames and rendition."""
        return {
            **statistics_identity(self.chain.statistics),
            "master": str(self.master.facts.path.resolve()),
            "encoding": self.master.encoding.title,
            "frames": [self.first, self.first + self.count - 1],
            "size": [self.columns, self.rows],
            "rendition": rendition_identity(self.chain.rendition, self.chain.host),
        }


@dataclass
class SheetProgramme(Programme):
    """A whole trim sheet: its shots, each with its rendition, and the masters that they come from.

    Statistics that a rendition needs are those of its whole shot, or of what lies between two shots.

    Attributes
    ----------
    hdr : None, or the encoding of the HDR output in words, as `hdr_target` reads them
    """

    sheet: TrimSheet
    host: Host
    masters: dict[str, Master] = field(default_factory=dict)
    hdr: str | None = None

    def __post_init__(self) -> None:
        """Open the masters and check every shot's rendition before any work.

        Raises
        ------
        WrongCall
            When the sheet has no frames, a frame no rendition, or the masters or targets differ in what must be one.
        """
        if self.sheet.frames == 0:
            raise WrongCall("the sheet has neither shots nor a master whose length is known; add a master")
        for entry in self.sheet.masters:
            self.masters[entry.name] = open_entry(self.sheet, entry)
        self._pieces = self.sheet.pieces()
        sizes = {(master.facts.columns, master.facts.rows) for master in self.masters.values()}
        if len(sizes) > 1:
            raise WrongCall(f"the masters have {len(sizes)} sizes, and a render has one; make a sheet for each")
        ((self.columns, self.rows),) = sizes
        first = next(iter(self.masters.values())).facts
        self.count = self.sheet.frames
        self.rate, self.timecode = self.sheet.rate or first.rate, self.sheet.timecode
        if self.timecode is None and self._pieces[0].source == 0:
            self.timecode = first.timecode
        self._chains: dict[int, tuple[Rendition, Chain]] = {}
        self._statistics: dict[int, Statistics] = {}
        self.is_hdr = self.hdr is not None
        if self.hdr is not None:
            self.target = hdr_target(self.hdr, [master.facts.stored for master in self.masters.values()])
        targets = {self.chain_at(piece.first).rendition.target for piece in self._pieces if piece.master is not None}
        if len(targets) > 1:
            raise WrongCall("the shots' renditions have different targets; a render has one: give them the same")
        if self.hdr is None:
            (self.target,) = targets
        self._one = self._one_master()
        digits = self._one.numbering.digits if isinstance(self._one, Numbered) else DIGITS
        self.stem = f"{self.sheet.origin.path.stem if self.sheet.origin else 'programme'}.{_place(digits)}"

    def _one_master(self) -> Master | None:
        """Return the master that the programme is from its first frame on, None where it is made of others."""
        names = {piece.master.name if piece.master else "" for piece in self._pieces}
        is_one = len(names) == 1 and all(piece.source == piece.first for piece in self._pieces)
        return self.masters.get(names.pop()) if is_one else None

    def frames(self, wanted: Sequence[int]) -> Iterator[Frame]:
        """Yield the frames of the pieces; in a gap there is no picture."""
        for piece in self._pieces:
            inside = [index for index in wanted if piece.first <= index <= piece.last]
            for first, last in runs(inside):
                if piece.master is None:
                    for index in range(first, last + 1):
                        fault = f"frame {index} lies in a gap between shots; give it a shot, or a master"
                        yield Frame(index, f"frame {index}", self.target, fault=fault)
                    continue
                shift = piece.source - piece.first
                for frame in self._of_master(piece.master.name, first + shift, last + shift):
                    yield frame.at(frame.index - shift)

    def _of_master(self, name: str, first: int, last: int) -> Iterator[Frame]:
        """Yield a master's frames; those beyond its end are faults."""
        master = self.masters[name]
        if first < master.count:
            yield from master.frames(first, min(last, master.count - 1))
        for index in range(max(first, master.count), last + 1):
            fault = f"{master.facts.path}: frame {index} is beyond its end ({master.count} frames); correct the shot"
            yield Frame(index, f"frame {index}", master.encoding, fault=fault)

    def chain_at(self, index: int) -> Chain:
        """Return the chain of a frame; frames of one shot without keys share theirs."""
        piece = self._piece_at(index)
        if piece.master is None:
            raise TrimbenchError(f"frame {index} lies in a gap between shots")
        at = index if piece.shot is not None and piece.shot.changes_inside else piece.first
        rendition = self._rendition_at(at)
        known = self._chains.get(piece.first)
        if known is None or known[0] != rendition:
            encoding = self.masters[piece.master.name].encoding
            chain = chain_of(rendition, encoding, self.host, self._statistics_of(piece, rendition))
            known = self._chains[piece.first] = rendition, chain
        return known[1]

    def spans(self) -> list[tuple[int, int]]:
        """Return the frames of the shots, and of what lies between them."""
        return [(piece.first, piece.last) for piece in self._pieces if piece.master is not None]

    @property
    def is_cut_short(self) -> bool:
        """Whether a master is whose last frame is in the programme."""
        return any(
            piece.source + piece.last - piece.first == self.masters[piece.master.name].count - 1
            for piece in self._pieces
            if piece.master is not None and self.masters[piece.master.name].facts.is_cut_short
        )

    def _piece_at(self, index: int) -> Piece:
        return next(item for item in self._pieces if item.first <= index <= item.last)

    def file_at(self, index: int) -> Path | None:
        """Return the file of a frame's master; None in a gap."""
        piece = self._piece_at(index)
        return (
            None
            if piece.master is None
            else self.masters[piece.master.name].file_at(piece.source + index - piece.first)
        )

    def names_at(self, index: int) -> tuple[str, str]:
        """Return the names of the shot, else of the master, and of the rendition."""
        piece = self._piece_at(index)
        place = piece.shot or piece.master
        return place.name if place else "", self.chain_at(index).rendition.name

    def _rendition_at(self, index: int) -> Rendition:
        """Return the rendition of a frame as it is rendered."""
        rendition = self.sheet.rendition_at(index, self.host)
        return rendition if self.hdr is None else hdr_rendition(rendition, self.target)

    def _statistics_of(self, piece: Piece, rendition: Rendition) -> Statistics | None:
        """Return the statistics of a piece, measured once, if its rendition needs any and it has a frame; else None."""
        if piece.master is None or not needs_of(rendition, self.host):
            return None
        master, last = self.masters[piece.master.name], piece.source + piece.last - piece.first
        if piece.first not in self._statistics and piece.source < master.count:
            self._statistics[piece.first] = measure_frames(master, piece.source, last)
        return self._statistics.get(piece.first)

    def number(self, index: int) -> int:
        """Return the master's own number where the programme is that one master, else the place in the programme."""
        return self._one.number(index) if self._one is not None else index

    def sound(self) -> tuple[Path, Fraction] | None:
        """Return the movie where the programme is that one movie from its first frame on."""
        one = self._one
        if one is None or one.facts.kind != MOVIE or one.facts.rate is None:
            return None
        return one.facts.path, Fraction(0)

    def identity(self) -> dict[str, Any]:
        """Return masters, shots and renditions."""
        return {
            "masters": {name: str(master.facts.path.resolve()) for name, master in self.masters.items()},
            "shots": [
                {
                    **statistics_identity(self._statistics.get(piece.first)),
                    "frames": [piece.first, piece.last],
                    "master": piece.master.name,
                    "source": piece.source,
                    "renditions": [
                        rendition_identity(self._rendition_at(at), self.host)
                        for at in ((piece.first, piece.last) if _changes(piece) else (piece.first,))
                    ],
                    "keys": [key.to_dict() for key in piece.shot.keys] if piece.shot else [],
                }
                for piece in self._pieces
                if piece.master is not None
            ],
            "size": [self.columns, self.rows],
        }


def _place(digits: int) -> str:
    """Return the place of a number in a name; one digit is as many as the number has."""
    return "%d" if digits == 1 else f"%0{digits}d"


def _changes(piece: Piece) -> bool:
    return piece.shot is not None and bool(piece.shot.changes_inside)


def rendition_identity(rendition: Rendition, host: Host) -> dict[str, Any]:
    """Return operators, settings and target of a rendition; its name decides nothing."""
    settings = dict(settings_of(rendition, host))
    return {"tone": rendition.tone, "gamut": rendition.gamut, "settings": settings, "target": rendition.target.title}


def statistics_identity(statistics: Statistics | None) -> dict[str, Any]:
    """Return what was measured for operators that need it; nothing where nothing was."""
    return {} if statistics is None else {"statistics": dict(vars(statistics))}


def runs(wanted: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Yield first and last of every run of neighbours in rising numbers.

    Examples
    --------
    >>> list(runs([0, 1, 2, 5, 7, 8]))
    [(0, 2), (5, 5), (7, 8)]
    """
    start = previous = None
    for number in wanted:
        if start is None or previous is None:
            start = number
        elif number != previous + 1:
            yield start, previous
            start = number
        previous = number
    if start is not None and previous is not None:
        yield start, previous
