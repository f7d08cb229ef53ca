"""Opening a master: read its first frame, or find out whether its encoding has to be asked for. Plain Python."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from tonemap.errors import TrimbenchError, WrongCall
from tonemap.media import master as media
from tonemap.media.sequence import Numbering, is_pattern, numbering_of, numberings_in
from tonemap.media.wishes import EncodingWishes, UnknownEncoding

from .reel import Reel
from .state import Master

PICTURE_SUFFIXES = (
    *(".exr", ".dpx", ".tif", ".tiff", ".png", ".hdr", ".cin", ".tga", ".bmp", ".psd", ".sgi", ".pfm"),
    *(".jpg", ".jpeg", ".jp2", ".j2k", ".jxl", ".avif", ".heic", ".webp"),
)

MASTER_SUFFIXES = (*PICTURE_SUFFIXES, *media.MOVIE_ENDINGS)

COMPLETE = EncodingWishes("pq", "bt2020", "full", unit=1.0)
"""Wishes with which a file can be read if only its encoding is unknown."""


@dataclass(frozen=True)
class Question:
    """A file whose encoding is not known, what was said of it so far, and the sentence about what is missing.

    Attributes
    ----------
    missing, by_file : the parts that nobody says, and those that the file says; see `UnknownEncoding`
    """

    path: Path
    wishes: EncodingWishes
    sentence: str
    missing: tuple[str, ...]
    by_file: dict[str, Any]


@dataclass(frozen=True)
class Opened:
    """A master with the frame of it that is shown first."""

    reel: Reel
    master: Master


def open_master(path: Path, wishes: EncodingWishes, *, as_sequence: bool = False) -> Opened | Question:
    """Open a still, a sequence or a movie, or return the question to ask.

    Raises
    ------
    TrimbenchError
        For one that can't be read, whatever is said of its encoding.
    """
    try:
        reel = Reel(media.open_master(path, wishes, as_sequence=as_sequence))
    except UnknownEncoding as fault:
        if not _would_be_readable(path, wishes, as_sequence):
            raise
        return Question(path, wishes, _without_options(str(fault)), fault.missing, fault.by_file)
    first = reel.first_frame()
    if first.content is None:
        raise TrimbenchError(first.fault or f"{path}: no frame can be read")
    return Opened(reel, Master(reel.facts_at(first.index), first))


def sequence_of(paths: Sequence[Path]) -> Path | None:
    """Return the pattern of the sequence that several pictures are frames of; None where they are not."""
    if len(paths) < 2 or any(path.suffix.lower() not in PICTURE_SUFFIXES for path in paths):
        return None
    try:
        numberings = [numbering_of(path) for path in paths]
    except TrimbenchError:
        return None
    longest = max(numberings, key=lambda numbering: numbering.digits)  # a name such as 1000 does not say that 0999 is
    is_one = len({(numbering.folder, numbering.before, numbering.after) for numbering in numberings}) == 1
    return longest.pattern if is_one else None


def sequences_among(folder: Path, names: Sequence[str]) -> list[tuple[Numbering, list[int]]]:
    """Return the sequences of two pictures and more among the names in a folder, with the numbers that there are."""
    pictures = [name for name in names if Path(name).suffix.lower() in PICTURE_SUFFIXES]
    found = [(numbering, numbering.numbers_in(pictures)) for numbering in numberings_in(folder, pictures)]
    return [
        (numbering, numbers)
        for numbering, numbers in found
        if len(numbers) > 1 and not is_pattern(numbering.before + numbering.after)
    ]


def _would_be_readable(path: Path, wishes: EncodingWishes, as_sequence: bool) -> bool:
    """Say whether the file reads once the parts that nobody has said are said."""
    transfers = [wishes.transfer] if wishes.transfer else ["pq", "linear"]
    for transfer in transfers:
        complete = replace(COMPLETE, transfer=transfer, unit=1.0 if transfer == "linear" else None)
        missing = {field.name: getattr(complete, field.name) for field in fields(wishes)}
        said = {name: value for name, value in vars(wishes).items() if value is not None}
        try:
            media.open_master(path, EncodingWishes(**{**missing, **said}), as_sequence=as_sequence)
        except WrongCall:
            continue
        return True
    return False


def _without_options(sentence: str) -> str:
    """Leave out how the command line says it; the bench has its own way."""
    return sentence.partition("; say ")[0]
