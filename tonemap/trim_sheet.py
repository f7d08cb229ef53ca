"""Trim sheet: the project file. Masters, renditions, shots, and which rendition each shot takes."""

import hashlib
import os
from collections import Counter
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

from .entries import Entries, without
from .errors import TrimbenchError, WrongCall, suggestion
from .host import Host, find_operators
from .master_entry import MasterEntry
from .measure.patches import Patch
from .rendition import Rendition
from .rendition_entry import RenditionEntry
from .shots import Shot
from .trim_sheet_text import VERSION, entries_of, refuse_violations, text_of

__all__ = ["MasterEntry", "Origin", "Piece", "RenditionEntry", "Shot", "TrimSheet", "load", "save"]

PARTS = ("masters", "renditions", "shots")


@dataclass(frozen=True)
class Origin:
    """The file that a sheet was read from or saved to: where, what was in it (SHA-256), and of which version."""

    path: Path
    digest: str
    version: int = VERSION


@dataclass(frozen=True)
class Piece:
    """Frames of the programme that belong together: a shot, what lies between two, or a gap.

    Attributes
    ----------
    first, last : frames of the programme
    shot : None between shots
    master : None in a gap, where there is no picture
    source : the frame of the master that is the first
    """

    first: int
    last: int
    shot: Shot | None
    master: MasterEntry | None
    source: int


@dataclass(frozen=True)
class TrimSheet:
    """A trim sheet; a value that is never changed, only replaced.

    Attributes
    ----------
    default_rendition : the name of the rendition of every frame that says no other
    rate, timecode : of the programme, where it is not one master from its first frame
    origin : the file, None before the first save
    """

    masters: tuple[MasterEntry, ...] = ()
    renditions: tuple[RenditionEntry, ...] = ()
    shots: tuple[Shot, ...] = ()
    default_rendition: str | None = None
    title: str = ""
    rate: Fraction | None = None
    timecode: str | None = None
    note: str = ""
    extra: Entries = field(default_factory=dict)
    origin: Origin | None = field(default=None, compare=False)

    def __post_init__(self) -> None:
        """Put the shots in order; refuse names that stand twice or for nothing, and shots that overlap (WrongCall)."""
        object.__setattr__(self, "shots", tuple(sorted(self.shots, key=lambda shot: shot.first)))
        for word, named in (("masters", self.masters), ("renditions", self.renditions), ("shots", self.shots)):
            names = [item.name for item in named]
            double = next((name for name, count in Counter(names).items() if count > 1), None)
            if double is not None:
                raise WrongCall(f"two {word} have the name '{double}'; rename one")
        for earlier, later in pairwise(self.shots):
            if later.first <= earlier.last:
                raise WrongCall(
                    f"shot '{later.name}' begins at frame {later.first}, inside shot '{earlier.name}' "
                    f"({earlier.first} to {earlier.last}); move one of them"
                )
        if self.default_rendition is not None:
            self.rendition_entry(self.default_rendition)
        renditions, masters = {item.name for item in self.renditions}, {item.name for item in self.masters}
        for shot in self.shots:
            try:
                if shot.rendition is not None and shot.rendition not in renditions:
                    self.rendition_entry(shot.rendition)
                if shot.master not in masters:
                    self.master(shot.master)
            except WrongCall as fault:
                raise WrongCall(f"shot '{shot.name}': {fault}") from None

    def master(self, name: str | None = None) -> MasterEntry:
        """Return a master by name, or the only one; raises WrongCall where there is none."""
        if name is None:
            if len(self.masters) != 1:
                raise WrongCall(f"the sheet has {len(self.masters)} masters; name one of them")
            return self.masters[0]
        return _named(self.masters, "master", name)

    def rendition_entry(self, name: str) -> RenditionEntry:
        """Return a rendition's entry by name; raises WrongCall with the near names where there is none."""
        return _named(self.renditions, "rendition", name)

    def shot(self, name: str) -> Shot:
        """Return a shot by name; raises WrongCall with the near names where there is none."""
        return _named(self.shots, "shot", name)

    def shot_at(self, frame: int) -> Shot | None:
        """Return the shot that a frame of the programme belongs to; None between shots."""
        from bisect import bisect_right

        index = bisect_right(self.shots, frame, key=lambda shot: shot.first) - 1
        return self.shots[index] if index >= 0 and frame <= self.shots[index].last else None

    def taken_at(self, frame: int) -> str | None:
        """Return the name of the rendition of a frame: that of its shot, else the sheet's default, else None."""
        shot = self.shot_at(frame)
        return (shot and shot.rendition) or self.default_rendition

    def rendition_at(self, frame: int, host: Host | None = None) -> Rendition:
        """Return the rendition of one frame of the programme: its shot's, with the shot's settings and keys.

        Raises
        ------
        WrongCall
            If no rendition is chosen for the frame, or it has an operator or a setting that there is not.
        """
        host = host or find_operators()
        shot = self.shot_at(frame)
        name = self.taken_at(frame)
        if name is None:
            where = f"shot '{shot.name}'" if shot else f"frame {frame}"
            raise WrongCall(f"{where} has no rendition, and the sheet no default; choose one")
        base = self.rendition_entry(name).rendition(host)
        return shot.rendition_at(frame, base, host) if shot else base

    @property
    def still(self) -> MasterEntry | None:
        """The master of a sheet that is of one still, and no programme; its patches are its own."""
        is_still = len(self.masters) == 1 and not self.shots and self.masters[0].frames == 1
        return self.masters[0] if is_still else None

    def patches_at(self, frame: int) -> tuple[Patch, ...]:
        """Return the marked regions of a frame of the programme: of its shot, or of the still."""
        owner = self.shot_at(frame) or self.still
        return owner.patches if owner else ()

    @property
    def frames(self) -> int:
        """The number of frames of the programme, as far as the sheet knows."""
        end = self.shots[-1].last + 1 if self.shots else 0
        return max(end, (self.masters[0].frames or 0) if self._is_one_master else 0)

    @property
    def _is_one_master(self) -> bool:
        """Whether the programme is one master from its first frame on, so that nothing between shots is a gap."""
        return len(self.masters) == 1 and all(shot.source_first == shot.first for shot in self.shots)

    def pieces(self) -> tuple[Piece, ...]:
        """Return the whole programme in order: every frame belongs to just one piece."""
        pieces: list[Piece] = []
        between = self.masters[0] if self._is_one_master else None
        frame = 0
        for shot in self.shots:
            if frame < shot.first:
                pieces.append(Piece(frame, shot.first - 1, None, between, frame))
            pieces.append(Piece(shot.first, shot.last, shot, self.master(shot.master), shot.source_first))
            frame = shot.last + 1
        if frame < self.frames:
            pieces.append(Piece(frame, self.frames - 1, None, between, frame))
        return tuple(pieces)

    def path_of(self, master: MasterEntry) -> Path:
        """Return where a master is, seen from here."""
        return (self.origin.path.parent if self.origin else Path()) / master.path

    def with_master(self, master: MasterEntry) -> "TrimSheet":
        """Return the sheet with a master added, or replacing the one of its name; shots then say which is theirs."""
        if any(item.name == master.name for item in self.masters):
            return replace(self, masters=tuple(master if item.name == master.name else item for item in self.masters))
        only = self.masters[0].name if len(self.masters) == 1 else None
        shots = tuple(replace(shot, master=shot.master or only) for shot in self.shots)
        return replace(self, masters=(*self.masters, master), shots=shots)

    def with_rendition(self, rendition: Rendition, host: Host) -> "TrimSheet":
        """Return the sheet with a rendition added, or replacing the one of its name."""
        old = next((item for item in self.renditions if item.name == rendition.name), None)
        entry = RenditionEntry.of(rendition, host, old.extra if old else None)
        if old is None:
            return replace(self, renditions=(*self.renditions, entry))
        return replace(self, renditions=tuple(entry if item is old else item for item in self.renditions))

    def with_shot(self, shot: Shot) -> "TrimSheet":
        """Return the sheet with a shot added, or replacing the one of its name."""
        return replace(self, shots=(*(item for item in self.shots if item.name != shot.name), shot))

    @classmethod
    def from_dict(cls, entries: Entries, origin: Origin | None = None) -> "TrimSheet":
        """Make a sheet from entries that are valid by the schema; raises WrongCall for what contradicts itself."""
        rate = entries.get("rate")
        known = ("version", "title", "note", "rate", "timecode", "default_rendition", "masters", "renditions", "shots")
        return cls(
            tuple(map(MasterEntry.from_dict, entries.get("masters", []))),
            tuple(map(RenditionEntry.from_dict, entries.get("renditions", []))),
            tuple(map(Shot.from_dict, entries.get("shots", []))),
            entries.get("default_rendition"),
            entries.get("title", ""),
            None if rate is None else Fraction(rate),
            entries.get("timecode"),
            entries.get("note", ""),
            without(entries, *known),
            origin,
        )

    def head(self) -> dict[str, Any]:
        """Return the entries of the sheet itself, without masters, renditions and shots."""
        entries = {
            "version": VERSION,
            "title": self.title or None,
            "note": self.note or None,
            "rate": None if self.rate is None else str(self.rate),
            "timecode": self.timecode,
            "default_rendition": self.default_rendition,
        }
        return {**{name: value for name, value in entries.items() if value is not None}, **self.extra}

    def to_dict(self) -> dict[str, Any]:
        """Return the entries of the sheet, in the order in which they are written."""
        own = {name: value for name, value in self.head().items() if name not in self.extra}
        parts = {name: [item.to_dict() for item in getattr(self, name)] for name in PARTS}
        return {**own, **parts, **self.extra}


def load(path: str | Path) -> TrimSheet:
    """Read a trim sheet; one of an older version is raised to this program's, in memory.

    Raises
    ------
    TrimbenchError
        If it can't be read, is no trim sheet, or is of a newer version: one sentence with the line or the place.
    """
    path = Path(path)
    content = _content(path)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = content[: fault.start].count(b"\n") + 1
        raise TrimbenchError(f"{path}: line {line} is not UTF-8; save the sheet as UTF-8") from None
    entries, version = entries_of(text, str(path))
    try:
        return TrimSheet.from_dict(entries, Origin(path, _digest(content), version))
    except WrongCall as fault:
        raise TrimbenchError(f"{path}: {fault}") from None


def save(sheet: TrimSheet, path: str | Path | None = None, *, overwrite: bool = False) -> TrimSheet:
    """Write a trim sheet, whole or not at all, and return it with its new origin.

    A file that was read in an older version is kept beside it as 'NAME.version-N.trims'. In another folder, the
    masters' paths are written as seen from there.

    Parameters
    ----------
    path : None for the file that the sheet was read from
    overwrite : whether another file, or one that somebody has changed since it was read, may be replaced

    Raises
    ------
    TrimbenchError
        If the file has been changed since it was read, another file is there, or the system refuses.
    """
    from .media.whole_file import whole_file

    if path is None and sheet.origin is None:
        raise WrongCall("the sheet has no file yet; give a name to save it under")
    target = Path(path) if path is not None else sheet.origin.path  # type: ignore[union-attr]
    is_own = sheet.origin is not None and _same_file(target, sheet.origin.path)
    sheet = seen_from(sheet, target.parent)
    content = _written(sheet, target)
    _refuse_changed(sheet, target, is_own, overwrite)
    if is_own and sheet.origin is not None and sheet.origin.version < VERSION and target.exists():
        _keep_copy(target, sheet.origin.version)
    with whole_file(target, overwrite=overwrite or is_own) as part:
        part.write_bytes(content)
        _refuse_changed(sheet, target, is_own, overwrite)
    return replace(sheet, origin=Origin(target, _digest(content)))


def _named(items: tuple[Any, ...], kind: str, name: str) -> Any:
    for item in items:
        if item.name == name:
            return item
    names = [item.name for item in items]
    hint = suggestion(name, names) if names else f"the sheet has no {kind}s"
    raise WrongCall(f"{kind} '{name}' is not in the sheet; {hint}")


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise TrimbenchError(f"{path}: can't be read: {error.strerror}; check the name and its permissions") from error


def digest_of(sheet: TrimSheet) -> str:
    """Return what `Origin.digest` will be when the sheet is saved where it is from; raises as `save` does."""
    return _digest(_written(sheet, sheet.origin.path if sheet.origin else Path("sheet")))


def _written(sheet: TrimSheet, target: Path) -> bytes:
    entries = sheet.to_dict()
    refuse_violations(entries, str(target))
    return text_of(entries).encode()


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _same_file(one: Path, other: Path) -> bool:
    return os.path.realpath(one) == os.path.realpath(other)


def _refuse_changed(sheet: TrimSheet, target: Path, is_own: bool, overwrite: bool) -> None:
    if overwrite or not is_own or sheet.origin is None or not target.exists():
        return
    if _digest(_content(target)) != sheet.origin.digest:
        raise TrimbenchError(
            f"{target}: somebody else has changed this sheet since it was read; "
            "save under another name, or open it again"
        )


def _keep_copy(path: Path, version: int) -> None:
    from .media.whole_file import whole_file

    content = _content(path)
    copy = path.with_name(f"{path.stem}.version-{version}{path.suffix}")
    number = 1
    while copy.exists():
        if _content(copy) == content:
            return
        number += 1
        copy = path.with_name(f"{path.stem}.version-{version}-{number}{path.suffix}")
    with whole_file(copy) as part:
        part.write_bytes(content)


def seen_from(sheet: TrimSheet, folder: Path) -> TrimSheet:
    """Return the sheet with the paths of its masters as seen from another folder."""
    if sheet.origin is None or _same_file(sheet.origin.path.parent, folder):
        return sheet
    masters = tuple(replace(item, path=relative_path(sheet.path_of(item), folder)) for item in sheet.masters)
    return replace(sheet, masters=masters)


def relative_path(path: Path, folder: Path) -> str:
    """Return a path as a sheet in a folder has it: relative, with '/'."""
    return Path(os.path.relpath(path.absolute(), folder.absolute())).as_posix()
