"""LUT files in cube text: a cube alone, or a shaper and a cube in one file; the forms that general libraries read."""

import unicodedata
from collections.abc import Sequence
from typing import Any

import numpy as np

from .arrays import Array
from .errors import TrimbenchError
from .lut import Lut

ROW = "%.7f %.7f %.7f\n"
WORDS = (
    "TITLE",
    "LUT_1D_SIZE",
    "LUT_1D_INPUT_RANGE",
    "LUT_3D_SIZE",
    "LUT_3D_INPUT_RANGE",
    "DOMAIN_MIN",
    "DOMAIN_MAX",
)
LARGEST_SIDE = 256
LARGEST_SHAPER = 65536


def cube_text(lut: Lut, notes: Sequence[str]) -> str:
    """Write a LUT as cube text, red fastest.

    With a shaper this is the form that has both LUT_1D_SIZE and LUT_3D_SIZE, and the input values of the first and the
    last node are LUT_1D_INPUT_RANGE; without one they are DOMAIN_MIN and DOMAIN_MAX.

    Parameters
    ----------
    notes : lines for the comments at the head; they may hold any text
    """
    lines = [f"# {_ascii(line)}" for note in notes for line in note.splitlines()]
    low, high = repr(float(lut.low)), repr(float(lut.high))
    shaper = ""
    if lut.shaper is None:
        lines += [f"LUT_3D_SIZE {lut.size}", f"DOMAIN_MIN {low} {low} {low}", f"DOMAIN_MAX {high} {high} {high}"]
    else:
        lines += [f"LUT_1D_SIZE {len(lut.shaper)}", f"LUT_1D_INPUT_RANGE {low} {high}"]
        lines += [f"LUT_3D_SIZE {lut.size}", "LUT_3D_INPUT_RANGE 0.0 1.0"]
        shaper = _rows(np.repeat(lut.shaper, 3))
    return "\n".join([*lines, shaper]) + _rows(lut.table.transpose(2, 1, 0, 3))


def lut_in_cube_text(text: str) -> Lut:
    """Read what `cube_text` writes, from whatever program it comes.

    Raises
    ------
    TrimbenchError
        For anything else: one sentence with the line, without the file's name.
    """
    lines = text.splitlines()
    words: dict[str, tuple[float, ...]] = {}
    start = len(lines)
    for number, line in enumerate(lines, 1):
        word, *rest = line.split() or ["#"]
        if word.startswith("#") or word == "TITLE":
            continue
        if word not in WORDS:
            start = number - 1
            break
        if word in words:
            raise TrimbenchError(f"line {number} says {word} a second time")
        words[word] = _numbers(rest, number)
    side, shaper_nodes = _size(words, "LUT_3D_SIZE", LARGEST_SIDE), _size(words, "LUT_1D_SIZE", LARGEST_SHAPER)
    if side is None:
        raise TrimbenchError("there is no LUT_3D_SIZE, so this is no cube text with a cube")
    values = _table(lines, start, (shaper_nodes or 0) + side**3)
    low, high = _domain(words, shaper_nodes is not None)
    shaper = None
    if shaper_nodes is not None:
        rows = values[:shaper_nodes]
        if (rows != rows[:, :1]).any():
            raise TrimbenchError("the shaper differs between the channels, which Trimbench doesn't read")
        shaper = rows[:, 0]
    table = values[shaper_nodes or 0 :].reshape(side, side, side, 3).transpose(2, 1, 0, 3)
    return Lut(np.ascontiguousarray(table), shaper, low, high)


def _ascii(text: str) -> str:
    """Write a comment in the letters that every reader takes; accents are left out, and ? stands for the rest."""
    parts = (letter for letter in unicodedata.normalize("NFKD", text) if not unicodedata.combining(letter))
    return "".join(letter if " " <= letter <= "~" else "?" for letter in parts)


def _rows(values: Array) -> str:
    flat = values.ravel()
    return (ROW * (flat.size // 3)) % tuple(flat.tolist())


def _numbers(words: Sequence[str], line: int) -> tuple[float, ...]:
    try:
        return tuple(map(float, words))
    except ValueError:
        raise TrimbenchError(f"line {line} holds something that is not a number") from None


def _size(words: dict[str, tuple[float, ...]], word: str, largest: int) -> int | None:
    if word not in words:
        return None
    numbers = words[word]
    if len(numbers) != 1 or not numbers[0].is_integer() or not 2 <= numbers[0] <= largest:
        raise TrimbenchError(f"{word} is not one whole number from 2 to {largest}")
    return int(numbers[0])


def _table(lines: Sequence[str], start: int, count: int) -> Array:
    """Return the rows of numbers; only where something is wrong are they looked at one by one."""
    words = " ".join(lines[start:]).split()
    if len(words) == 3 * count:
        try:
            return np.fromiter(map(float, words), np.float64, len(words)).reshape(count, 3)
        except ValueError:
            pass  # said below, with the line
    rows = [(number, line.split()) for number, line in enumerate(lines[start:], start + 1)]
    rows = [(number, row) for number, row in rows if row and not row[0].startswith("#")]
    for number, row in rows:
        if len(row) != 3:
            raise TrimbenchError(f"line {number} has not three numbers")
    if len(rows) != count:
        raise TrimbenchError(f"there are {len(rows)} rows of numbers where the sizes ask for {count}")
    return np.array([_numbers(row, number) for number, row in rows])


def _domain(words: dict[str, tuple[float, ...]], has_shaper: bool) -> tuple[float, float]:
    """Return the input values of the first and the last node."""
    if not has_shaper:
        low, high = words.get("DOMAIN_MIN", (0.0,) * 3), words.get("DOMAIN_MAX", (1.0,) * 3)
        if "LUT_3D_INPUT_RANGE" in words:
            low, high = (tuple([number] * 3) for number in _pair(words, "LUT_3D_INPUT_RANGE"))
        if len(set(low)) != 1 or len(set(high)) != 1:
            raise TrimbenchError("the domain differs between the channels, which Trimbench doesn't read")
        return low[0], high[0]
    if _pair(words, "LUT_3D_INPUT_RANGE") != (0.0, 1.0):
        raise TrimbenchError("the cube behind the shaper has an input range of its own, which Trimbench doesn't read")
    return _pair(words, "LUT_1D_INPUT_RANGE")


def _pair(words: dict[str, tuple[float, ...]], word: str) -> Any:
    pair = words.get(word, (0.0, 1.0))
    if len(pair) != 2:
        raise TrimbenchError(f"{word} has not two numbers")
    return pair
