"""Opening a master: read it, or find out whether its encoding has to be asked for. Plain Python."""

from dataclasses import dataclass, fields, replace
from pathlib import Path

from tonemap.errors import WrongCall
from tonemap.media.oiio import read_picture
from tonemap.media.wishes import EncodingWishes

from .state import Master

PICTURE_SUFFIXES = (
    *(".exr", ".dpx", ".tif", ".tiff", ".png", ".hdr", ".cin", ".tga", ".bmp", ".psd", ".sgi", ".pfm"),
    *(".jpg", ".jpeg", ".jp2", ".j2k", ".jxl", ".avif", ".heic", ".webp"),
)

COMPLETE = EncodingWishes("pq", "bt2020", "full", unit=1.0)
"""Wishes with which a file can be read if only its encoding is unknown."""


@dataclass(frozen=True)
class Question:
    """A file whose encoding is not known, what was said of it so far, and the sentence about what is missing."""

    path: Path
    wishes: EncodingWishes
    sentence: str


def open_master(path: Path, wishes: EncodingWishes) -> Master | Question:
    """Read a master, or return the question to ask.

    Raises
    ------
    TrimbenchError
        For a file that can't be read, whatever is said of its encoding.
    """
    try:
        return Master(path, read_picture(path, wishes))
    except WrongCall as fault:
        if not _would_be_readable(path, wishes):
            raise
        return Question(path, wishes, _without_options(str(fault)))


def _would_be_readable(path: Path, wishes: EncodingWishes) -> bool:
    """Say whether the file reads once the parts that nobody has said are said."""
    transfers = [wishes.transfer] if wishes.transfer else ["pq", "linear"]
    for transfer in transfers:
        complete = replace(COMPLETE, transfer=transfer, unit=1.0 if transfer == "linear" else None)
        missing = {field.name: getattr(complete, field.name) for field in fields(wishes)}
        said = {name: value for name, value in vars(wishes).items() if value is not None}
        try:
            read_picture(path, EncodingWishes(**{**missing, **said}))
        except WrongCall:
            continue
        return True
    return False


def _without_options(sentence: str) -> str:
    """Leave out how the command line says it; the bench has its own way."""
    return sentence.partition("; say ")[0]
