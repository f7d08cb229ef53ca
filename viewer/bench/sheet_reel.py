"""The programme of a trim sheet, frame by frame: its shots, and the masters that they come from. Plain Python."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from tonemap.errors import TrimbenchError
from tonemap.master_entry import entry_of
from tonemap.media.master import Facts, Frame, Master
from tonemap.sheet_masters import open_entry
from tonemap.trim_sheet import Piece, TrimSheet

from .reel import Reel, Shot
from .shot_statistics import Stretch


class SheetReel(Reel):
    """The frames of a trim sheet's programme in order.

    Attributes
    ----------
    faults : sentences about masters that can't be opened

    Raises
    ------
    TrimbenchError
        When there is no frame, or no master can be opened.
    """

    def __init__(self, sheet: TrimSheet) -> None:
        self._pieces = sheet.pieces()
        self._masters: dict[str, Master] = {}
        self._paths = {entry.name: sheet.path_of(entry) for entry in sheet.masters}
        self.faults: list[str] = []
        for entry in sheet.masters:
            try:
                self._masters[entry.name] = open_entry(sheet, entry)
            except TrimbenchError as fault:
                self.faults.append(str(fault))
        if not self._masters:
            raise TrimbenchError("; ".join(self.faults) or "the sheet has no master, so that there is nothing to show")
        if not self._pieces:
            raise TrimbenchError("the sheet has neither shots nor a master whose length is known")
        super().__init__(next(iter(self._masters.values())))
        self.count = sheet.frames
        self.rate = sheet.rate or self.rate
        self.is_rate_known = self.is_rate_known or sheet.rate is not None
        self.timecode = sheet.timecode or (self.timecode if self._pieces[0].source == 0 else None)
        self.take_shots(sheet)

    def take_shots(self, sheet: TrimSheet) -> None:
        """Take up what the shots are called, and what they take."""
        self.shots = tuple(
            Shot(
                shot.first,
                shot.last,
                shot.name,
                sheet.taken_at(shot.first) or "",
                tuple(key.frame for key in shot.keys),
            )
            for shot in sheet.shots
        )

    def files(self) -> list[Path]:
        """Return the files of all masters that could be opened."""
        return [path for master in self._masters.values() for path in master.files()]

    def file_at(self, index: int) -> Path | None:
        """Return the file that a frame is read from, or the master that can't be opened; None in a gap."""
        piece = self._piece(index)
        if piece.master is None:
            return None
        master = self._masters.get(piece.master.name)
        if master is None:
            return self._paths[piece.master.name]
        return master.file_at(index - piece.first + piece.source)

    def stretch_at(self, index: int) -> Stretch | None:
        """Return a shot's frames, or those between two; None in a gap, and where the master can't be opened."""
        piece = self._piece(index)
        master = self._masters.get(piece.master.name) if piece.master else None
        if master is None or piece.source >= master.count:
            return None
        return Stretch(master, piece.source, piece.source + piece.last - piece.first)

    def differences_at(self, index: int) -> list[str]:
        """Say in what a frame's master is another than the sheet says, its pictures aside."""
        entry, stretch = self._piece(index).master, self.stretch_at(index)
        if entry is None or stretch is None:
            return []
        found = entry_of(stretch.master, entry.name, entry.path, entry.said, has_hash=False)
        return replace(entry, first_frame=None).differences(found)

    def facts_at(self, index: int) -> Facts:
        """Return what is known of the master that a frame comes from; in a gap, of the first."""
        return self._master_of(self._piece(index)).facts

    def frames(self, first: int, step: int = 1) -> Iterator[Frame]:
        """Yield the frames first, first + step, ...; one without a picture has its fault."""
        return self._noted(self._in_order(first, step), first, step)

    def _in_order(self, first: int, step: int) -> Iterator[Frame]:
        upcoming = first
        for piece in self._pieces:
            if upcoming <= piece.last:
                for frame in self._of_piece(piece, upcoming, step):
                    yield frame
                    upcoming = frame.index + step

    def start_before(self, index: int) -> int:
        """Return the frame at `index`, or one before it in the same piece at which reading must begin."""
        piece = self._piece(index)
        if piece.master is None or piece.master.name not in self._masters:
            return index
        shift = piece.source - piece.first
        return max(self._masters[piece.master.name].nearest_start(index + shift) - shift, piece.first)

    def number(self, index: int) -> int:
        """Return the place in the programme."""
        return index

    def _of_piece(self, piece: Piece, first: int, step: int) -> Iterator[Frame]:
        master = self._masters.get(piece.master.name) if piece.master else None
        shift = piece.source - piece.first
        last = piece.last if master is None else min(piece.last, master.count - 1 - shift)
        if master is not None and first <= last:
            for frame in master.frames(first + shift, last + shift, step):
                yield frame.at(frame.index - shift)
            first += (last - first) // step * step + step
        what = "lies in a gap between shots" if piece.master is None else f"is not in master '{piece.master.name}'"
        for index in range(first, piece.last + 1, step):
            encoding = self._master_of(piece).encoding
            yield Frame(index, f"frame {index}", encoding, fault=f"frame {index} of the programme {what}")

    def _piece(self, index: int) -> Piece:
        return next((piece for piece in self._pieces if piece.first <= index <= piece.last), self._pieces[-1])

    def _master_of(self, piece: Piece) -> Master:
        master = self._masters.get(piece.master.name) if piece.master else None
        return master or self.master


def path_at(sheet: TrimSheet, index: int) -> Path | None:
    """Return where the master of a frame of the programme, or of its first frame, should be; None without one."""
    masters = [piece.master for piece in sheet.pieces() if piece.master is not None and index <= piece.last]
    entry = next(iter([*masters, *sheet.masters]), None)
    return None if entry is None else sheet.path_of(entry)


def programme_at(sheet: TrimSheet, index: int) -> tuple[SheetReel, Frame]:
    """Open the masters of a sheet and read a frame of its programme, or the last one; raises as `SheetReel` does."""
    reel = SheetReel(sheet)
    return reel, next(reel.frames(min(index, reel.count - 1)))
