"""LUT files by their endings: written whole, and read again before they get their names."""

from pathlib import Path

import numpy as np

from .clf import Notes, clf_text, lut_in_clf_text
from .cube import cube_text, lut_in_cube_text
from .errors import TrimbenchError, WrongCall
from .lut import TETRAHEDRAL, Lut
from .media.whole_file import whole_file

CLF, CUBE = ".clf", ".cube"
ENDINGS = (CLF, CUBE)


def ending_of(path: Path) -> str:
    """Return the format that the ending of a name asks for; raises WrongCall for another one."""
    if path.suffix.lower() not in ENDINGS:
        raise WrongCall(f"{path}: LUTs are written to files that end in .clf or .cube; change the name")
    return path.suffix.lower()


def lut_text(ending: str, lut: Lut, notes: Notes) -> str:
    """Return the text of a LUT file."""
    return clf_text(lut, notes) if ending == CLF else cube_text(lut, notes.all)


def lut_in_text(ending: str, text: str) -> tuple[Lut, str]:
    """Read the text of a LUT file; returns the LUT and its interpolation, which cube text leaves open: tetrahedral."""
    return lut_in_clf_text(text) if ending == CLF else (lut_in_cube_text(text), TETRAHEDRAL)


def read_lut(path: str | Path) -> tuple[Lut, str]:
    """Read a LUT file as `write_lut` writes it.

    Returns
    -------
    lut : Lut
    interpolation : 'tetrahedral' or 'trilinear'

    Raises
    ------
    WrongCall
        For another ending.
    TrimbenchError
        If it can't be read, or is no such LUT: one sentence.
    """
    path = Path(path)
    ending = ending_of(path)
    try:
        return lut_in_text(ending, path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise TrimbenchError(f"{path}: can't be read: {error.strerror}; check the name and its permissions") from error
    except UnicodeDecodeError:
        raise TrimbenchError(f"{path}: this is not text in UTF-8, so no LUT; choose another file") from None
    except TrimbenchError as fault:
        raise TrimbenchError(f"{path}: {fault}") from None


def write_lut(path: str | Path, lut: Lut, notes: Notes, *, overwrite: bool = False) -> None:
    """Write a LUT, whole or not at all; the format follows from the ending.

    Raises
    ------
    WrongCall
        For another ending.
    TrimbenchError
        If the file exists, can't be written, or doesn't read back as the LUT; nothing is left behind.
    """
    path = Path(path)
    ending = ending_of(path)
    text = lut_text(ending, lut, notes)
    with whole_file(path, overwrite) as part:
        part.write_text(text, encoding="utf-8", newline="\n")
        found, _ = lut_in_text(ending, part.read_text(encoding="utf-8"))
        if not same_lut(found, lut):
            raise TrimbenchError(f"{path}: the file doesn't read back as what was written; nothing was kept")


def same_lut(one: Lut, other: Lut) -> bool:
    """Whether two LUTs have the same numbers."""
    if (one.shaper is None) != (other.shaper is None) or (one.low, one.high) != (other.low, other.high):
        return False
    same_shaper = one.shaper is None or other.shaper is None or np.array_equal(one.shaper, other.shaper)
    return same_shaper and np.array_equal(one.table, other.table)
