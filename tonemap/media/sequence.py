"""Image sequences: numbered pictures, with the holes in their numbering named."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from math import gcd
from pathlib import Path

from ..errors import TrimbenchError, WrongCall
from .header import header_facts
from .master import SEQUENCE, Facts, Frame, Master, coding_of
from .oiio import ReadPicture, read_picture
from .wishes import EncodingWishes

PLACEHOLDER = re.compile(r"%0?(\d*)d|(#+)")
NUMBERED = re.compile(r"^(?P<before>.*?)(?P<number>\d+)(?P<after>\.[A-Za-z][A-Za-z0-9]*)$")


def is_pattern(name: str) -> bool:
    """Say whether a name stands for numbered ones: 'shot.%04d.exr', 'shot.####.exr'."""
    return PLACEHOLDER.search(name) is not None


def spoken_name(path: Path) -> str:
    """Return what a person calls a master: its file's name without the ending, and without the place of a number."""
    place = PLACEHOLDER.search(path.name)
    name = path.name[: place.start()] if place else path.stem
    return name.rstrip("._-") or path.absolute().parent.name or path.name


@dataclass(frozen=True)
class Numbering:
    """How the files of a sequence are named: what stands before and after the number, and how many digits it has."""

    folder: Path
    before: str
    after: str
    digits: int

    @property
    def pattern(self) -> Path:
        """The pattern, for messages."""
        return self.folder / f"{self.before}{'#' * self.digits}{self.after}"

    def path(self, number: int) -> Path:
        """Return the file with this number."""
        return self.folder / f"{self.before}{number:0{self.digits}d}{self.after}"

    def numbers(self) -> list[int]:
        """Return the numbers of the files that there are."""
        return self.numbers_in(_names(self.folder))

    def numbers_in(self, names: Iterable[str]) -> list[int]:
        """Return the numbers of those among some names that are named like this."""
        found = set()
        for name in names:
            text = name[len(self.before) : len(name) - len(self.after)]
            if name.startswith(self.before) and name.endswith(self.after) and text.isdecimal() and text.isascii():
                number = int(text)
                if f"{number:0{self.digits}d}" == text:
                    found.add(number)
        return sorted(found)


def _names(folder: Path) -> list[str]:
    try:
        return [entry.name for entry in folder.iterdir()]
    except OSError as error:
        raise TrimbenchError(
            f"{folder}: can't be read: {error.strerror}; check the name and its permissions"
        ) from error


def numbering_of(path: Path) -> Numbering:
    """Find out how a sequence is named: from a pattern, a folder that holds one, or one of its files.

    Raises
    ------
    TrimbenchError
        If there is no numbered picture, or several sequences are in the folder.
    WrongCall
        If the pattern or the file's name has no single number.
    """
    if path.is_dir():
        return _only_numbering_in(path)
    placeholders = list(PLACEHOLDER.finditer(path.name))
    if len(placeholders) > 1:
        raise WrongCall(f"{path}: the pattern has {len(placeholders)} places for a number; leave one of them")
    if placeholders:
        place = placeholders[0]
        digits = len(place[2]) if place[2] else int(place[1] or 1)
        return Numbering(path.parent, path.name[: place.start()], path.name[place.end() :], digits)
    found = _last_number(path.name)
    if found is None:
        raise WrongCall(f"{path}: the name has no number, so it stands for no sequence; leave out --sequence")
    before, number, after = found
    return Numbering(path.parent, before, after, len(number) if number[0] == "0" else 1)


def _last_number(name: str) -> tuple[str, str, str] | None:
    found = NUMBERED.match(name)
    return (found["before"], found["number"], found["after"]) if found else None


def _only_numbering_in(folder: Path) -> Numbering:
    import OpenImageIO as oiio

    endings = {
        ending
        for entry in oiio.get_string_attribute("extension_list").split(";")
        for ending in entry.split(":")[1].split(",")
    }
    pictures = [
        name
        for name in _names(folder)
        if not name.startswith(".") and name.rpartition(".")[2].lower() in endings  # each ending without its dot
    ]
    numberings = numberings_in(folder, pictures)
    if not numberings:
        raise TrimbenchError(f"{folder}: there are no numbered pictures in this folder; name a file")
    if len(numberings) > 1:
        names = ", ".join(numbering.pattern.name for numbering in numberings)
        raise TrimbenchError(f"{folder}: there are several sequences in this folder ({names}); name one of them")
    return numberings[0]


def numberings_in(folder: Path, names: Iterable[str]) -> list[Numbering]:
    """Return how the numbered ones among the names in a folder are named, in the order of the names."""
    groups: dict[tuple[str, str], list[str]] = {}
    for name in names:
        found = _last_number(name)
        if found:
            groups.setdefault((found[0], found[2]), []).append(found[1])
    return [Numbering(folder, before, after, _digits(numbers)) for (before, after), numbers in sorted(groups.items())]


def _digits(numbers: list[str]) -> int:
    """Return how many digits numbers have at least: as many as the shortest, but where they just grow longer."""
    lengths = {len(number) for number in numbers}
    is_filled = len(lengths) == 1 or any(number[0] == "0" for number in numbers)
    return min(lengths) if is_filled else 1


def open_sequence(path: Path, wishes: EncodingWishes) -> "Sequence":
    """Open an image sequence; the first picture that can be read says what all of them are.

    Raises
    ------
    TrimbenchError
        If there are no pictures, or none that can be read.
    WrongCall
        If the encoding can't be known from the picture, or is not possible as it was said.
    """
    numbering = numbering_of(path)
    numbers = numbering.numbers()
    if not numbers:
        own = " (a file of this very name is not meant: rename it)" if path.exists() else ""
        raise TrimbenchError(f"{path}: there are no files of this pattern{own}; check the name and the digits")
    first_fault: TrimbenchError | None = None
    for number in numbers:
        try:
            read = read_picture(numbering.path(number), wishes)
            break
        except WrongCall:
            raise
        except TrimbenchError as fault:
            first_fault = first_fault or fault
    else:
        raise first_fault or TrimbenchError(f"{path}: no picture can be read")
    step = _step_of(numbers)
    notices = list(read.notices)
    if step > 1:
        notices.append(f"the numbers go up in steps of {step}")
    header = header_facts(numbering.path(number))
    if number != numbers[0]:
        header = replace(header, timecode=None)  # it is not that of the first frame
    facts = Facts(
        path=path,
        kind=SEQUENCE,
        format=read.file_format,
        encoding=read.picture.encoding,
        stored=read.picture.encoding,
        coding=coding_of(read.picture.encoding),
        origins=read.origins,
        notices=tuple(notices),
        rows=read.picture.rows,
        columns=read.picture.columns,
        count=(numbers[-1] - numbers[0]) // step + 1,
        first_number=numbers[0],
        number_step=step,
        **vars(header),
    )
    return Sequence(facts, numbering, wishes)


def _step_of(numbers: list[int]) -> int:
    """Return the step in which the numbers go up; one that two differences agree on, else 1."""
    differences = [later - earlier for earlier, later in pairwise(numbers)]
    return gcd(*differences) if len(differences) > 1 else 1


class Sequence(Master):
    """Numbered pictures of one size and one encoding; `numbering` says how they are named."""

    def __init__(self, facts: Facts, numbering: Numbering, wishes: EncodingWishes) -> None:
        super().__init__(facts)
        self.numbering = numbering
        self._wishes = wishes

    def files(self) -> list[Path]:
        """Return the pictures that there are."""
        return [self.numbering.path(number) for number in self.numbering.numbers()]

    def file_at(self, index: int) -> Path:
        """Return the picture of a frame, whether it is there or not."""
        return self.numbering.path(self.number(index))

    def _frames(self, wanted: range) -> Iterator[Frame]:
        for index in wanted:
            yield self._frame(index, self.file_at(index))

    def _frame(self, index: int, path: Path) -> Frame:
        frame = Frame(index, path.name, self.facts.encoding)
        if not path.exists():
            return replace(frame, fault=f"{path}: the frame is missing")
        try:
            read = read_picture(path, self._wishes)
        except TrimbenchError as fault:
            return replace(frame, fault=str(fault))
        difference = self._difference(read)
        return replace(frame, fault=f"{path}: {difference}") if difference else replace(frame, content=read.picture)

    def _difference(self, read: ReadPicture) -> str | None:
        """Say how a picture differs from the sequence in what all of them must share."""
        size, expected = (read.picture.columns, read.picture.rows), (self.facts.columns, self.facts.rows)
        if size != expected:
            return "the picture is {} x {}, and the sequence {} x {}".format(*size, *expected)
        if read.picture.encoding != self.facts.encoding:
            return f"the encoding is {read.picture.encoding.title}, and the sequence's {self.facts.encoding.title}"
        return None
