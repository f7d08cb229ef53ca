"""Readings of a monitor, from the text files that measuring programs write: CGATS.17 and CSV."""

import csv
import io
import math
import shlex
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from ..errors import TrimbenchError, WrongCall, suggestion
from ..signal_range import scale_and_offset

Triple = tuple[float, float, float]
Row = tuple[int, Mapping[str, str]]  # line number, text by column

MOST_BYTES = 16 << 20  # a file of readings has some thousand lines
CGATS_NAMES = ("CGATS", "CTI", "ISO28178")

RGB_SCALES = {
    "percent": "0..100 % of the signal",
    "unit": "0..1 of the signal",
    "8-full": "codes, 8 bits, full range",
    "8-narrow": "codes, 8 bits, narrow range",
    "10-full": "codes, 10 bits, full range",
    "10-narrow": "codes, 10 bits, narrow range",
    "12-full": "codes, 12 bits, full range",
    "12-narrow": "codes, 12 bits, narrow range",
}

# Names of columns, in the order in which they are looked for.
RGB_COLUMNS = (("RGB_R", "RGB_G", "RGB_B"), ("R", "G", "B"), ("r", "g", "b"), ("red", "green", "blue"))
XYZ_COLUMNS = (("XYZ_X", "XYZ_Y", "XYZ_Z"), ("X", "Y", "Z"))
XYY_COLUMNS = (("XYY_X", "XYY_Y", "XYY_CAPY"), ("x", "y", "Y"))
NAME_COLUMNS = ("SAMPLE_NAME", "SAMPLE_ID", "name", "patch", "id")
WINDOW_COLUMNS = ("WINDOW", "window")


@dataclass(frozen=True)
class Reading:
    """One patch that was shown and measured.

    Attributes
    ----------
    name : of the patch; 'line 7' where the file has no names
    signal : R'G'B' of the patch, 0..1
    xyz : measured, in cd/m2
    window : share of the screen that the patch filled, in percent; None when the file doesn't say
    line : of the file, counted from 1
    """

    name: str
    signal: Triple
    xyz: Triple
    window: float | None
    line: int


def read_readings(path: Path, rgb_scale: str | None = None, white_nits: float | None = None) -> tuple[Reading, ...]:
    """Read a file of readings, CGATS.17 text or CSV with a line of headings.

    Parameters
    ----------
    rgb_scale : what the patch's RGB means, a name in `RGB_SCALES`; CGATS without one is percent, CSV must have one
    white_nits : cd/m2 of Y = 100, which is 100 for readings in cd/m2. With None, CSV is in cd/m2, and a CGATS file must
        say it by its keywords: NORMALIZED_TO_Y_100 "NO", or LUMINANCE_XYZ_CDM2 with the white's XYZ.

    Raises
    ------
    TrimbenchError
        One sentence with file, line and what to do, for a file that can't be read.
    WrongCall
        For an unknown scale, or one that is missing.
    """
    if rgb_scale is not None and rgb_scale not in RGB_SCALES:
        raise WrongCall(f"RGB scale '{rgb_scale}' is not known; {suggestion(rgb_scale, list(RGB_SCALES))}")
    if white_nits is not None and not 0.0 < white_nits <= 10000.0:
        raise WrongCall(f"white = {white_nits:g} is outside 0..10000 cd/m2; give the luminance of Y = 100")
    text = _text_of(path)
    lines = text.splitlines()
    first = next((line.strip() for line in lines if line.strip()), "")
    if first.upper().startswith(CGATS_NAMES):
        rows, keywords = _cgats_rows(path, lines)
        rgb_scale = rgb_scale or "percent"
        if white_nits is None:
            white_nits = _white_of(path, keywords)
    else:
        rows = _csv_rows(path, text)
        if rgb_scale is None:
            raise WrongCall(
                f"{path.name}: a CSV file doesn't say what its RGB means; say it with --rgb-scale: "
                f"{', '.join(RGB_SCALES)}"
            )
    scale = 1.0 if white_nits is None else white_nits / 100.0
    readings = tuple(_reading(path, line, row, rgb_scale, scale) for line, row in rows)
    if not readings:
        raise TrimbenchError(f"{path.name} holds no reading; export the measurements again")
    return readings


def _text_of(path: Path) -> str:
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except OSError as fault:
        raise TrimbenchError(f"{path}: {fault.strerror or fault}; check the name and the permissions") from None
    if len(data) > MOST_BYTES:
        raise TrimbenchError(f"{path.name} is larger than {MOST_BYTES >> 20} MiB; a file of readings is small text")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    if "\0" in text:
        raise TrimbenchError(f"{path.name} is not text; export the readings as CGATS text or CSV in UTF-8")
    return text


def _cgats_rows(path: Path, lines: list[str]) -> tuple[list[Row], dict[str, str]]:
    """Return the sets of the first table and the keywords before it; CGATS.17, annex J of ISO 28178:2009."""
    keywords: dict[str, str] = {}
    fields: list[str] = []
    rows: list[Row] = []
    part = "head"
    for number, line in enumerate(lines, start=1):
        words = _words(path, number, line)
        if not words:
            continue
        word = words[0].upper()
        if word in ("BEGIN_DATA_FORMAT", "BEGIN_DATA"):
            part = word
        elif word == "END_DATA_FORMAT":
            part = "head"
        elif word == "END_DATA":
            _check_count(path, number, keywords.get("NUMBER_OF_SETS"), len(rows))
            return rows, keywords
        elif part == "BEGIN_DATA_FORMAT":
            fields += words
        elif part == "BEGIN_DATA":
            if not fields:
                raise TrimbenchError(f"{path.name}, line {number}: data come before BEGIN_DATA_FORMAT; export it again")
            if len(words) != len(fields):
                raise TrimbenchError(
                    f"{path.name}, line {number}: {len(words)} values for {len(fields)} fields; repair the line"
                )
            rows.append((number, dict(zip(fields, words, strict=True))))
        elif len(words) > 1:
            keywords[word] = words[1]
    raise TrimbenchError(f"{path.name} ends before END_DATA; the file is cut short: export it again")


def _words(path: Path, number: int, line: str) -> list[str]:
    try:
        words = shlex.shlex(line, posix=True, punctuation_chars=False)
        words.quotes, words.escape, words.commenters, words.whitespace_split = '"', "", "#", True
        return list(words)
    except ValueError:
        raise TrimbenchError(f"{path.name}, line {number}: a quotation mark is not closed; repair the line") from None


def _check_count(path: Path, number: int, stated: str | None, found: int) -> None:
    if stated is not None and stated != str(found):
        raise TrimbenchError(
            f"{path.name}, line {number}: NUMBER_OF_SETS says {stated}, but {found} sets are there; export it again"
        )


def _white_of(path: Path, keywords: Mapping[str, str]) -> float:
    """Return the cd/m2 of Y = 100 by the file's keywords."""
    if keywords.get("NORMALIZED_TO_Y_100", "").upper() == "NO":
        return 100.0
    try:
        return float(keywords["LUMINANCE_XYZ_CDM2"].split()[1])
    except (KeyError, IndexError, ValueError):
        raise WrongCall(
            f"{path.name} doesn't say how many cd/m2 its Y = 100 is; give the luminance of the white "
            "with --white, or --white 100 when the readings are in cd/m2"
        ) from None


def _csv_rows(path: Path, text: str) -> list[Row]:
    """Return the rows of a CSV file; with semicolons or tabs between the values, a decimal comma is understood."""
    lines = [(number, line) for number, line in enumerate(text.splitlines(), start=1) if line.strip()]
    lines = [(number, line) for number, line in lines if not line.lstrip().startswith("#")]
    if not lines:
        raise TrimbenchError(f"{path.name} is empty; export the readings again")
    delimiter = next((mark for mark in ";\t" if mark in lines[0][1]), ",")

    def cells(line: str) -> list[str]:
        return [cell.strip() for cell in next(csv.reader(io.StringIO(line), delimiter=delimiter))]

    headings = cells(lines[0][1])
    rows: list[Row] = []
    for number, line in lines[1:]:
        values = cells(line)
        if len(values) != len(headings):
            raise TrimbenchError(
                f"{path.name}, line {number}: {len(values)} values for {len(headings)} columns; repair the line"
            )
        if delimiter != ",":
            values = [value.replace(",", ".") for value in values]
        rows.append((number, dict(zip(headings, values, strict=True))))
    return rows


def _reading(path: Path, line: int, row: Mapping[str, str], rgb_scale: str, scale: float) -> Reading:
    def number(column: str) -> float:
        try:
            value = float(row[column])
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            raise TrimbenchError(
                f"{path.name}, line {line}: {column} = '{row[column]}' is not a number; repair the line"
            )
        return value

    rgb = _triple(row, RGB_COLUMNS, number)
    if rgb is None:
        raise TrimbenchError(
            f"{path.name} has no columns for the patch's RGB; name them RGB_R, RGB_G, RGB_B or R, G, B"
        )
    xyz = _triple(row, XYZ_COLUMNS, number)
    if xyz is None:
        xyy = _triple(row, XYY_COLUMNS, number)
        if xyy is None:
            raise TrimbenchError(f"{path.name} has no columns for the measured colour; name them X, Y, Z or x, y, Y")
        x, y, luminance = xyy
        if y <= 0.0:
            if luminance != 0.0:
                raise TrimbenchError(f"{path.name}, line {line}: y = {y:g} is no chromaticity; measure the patch again")
            x, y = 0.3127, 0.3290  # black has none
        xyz = (x / y * luminance, luminance, (1.0 - x - y) / y * luminance)
    signal = _signal(path, line, rgb, rgb_scale)
    name = next((row[column] for column in NAME_COLUMNS if column in row), f"line {line}")
    window = next((number(column) for column in WINDOW_COLUMNS if row.get(column)), None)
    if window is not None and not 0.0 < window <= 100.0:
        raise TrimbenchError(f"{path.name}, line {line}: window = {window:g} is outside 0..100 %; repair the line")
    return Reading(name, signal, (scale * xyz[0], scale * xyz[1], scale * xyz[2]), window, line)


def _triple(
    row: Mapping[str, str], choices: tuple[tuple[str, str, str], ...], number: Callable[[str], float]
) -> Triple | None:
    columns = next((columns for columns in choices if all(column in row for column in columns)), None)
    return None if columns is None else (number(columns[0]), number(columns[1]), number(columns[2]))


def _signal(path: Path, line: int, rgb: Triple, rgb_scale: str) -> Triple:
    if rgb_scale in ("percent", "unit"):
        scale, offset = (100.0 if rgb_scale == "percent" else 1.0), 0.0
    else:
        bits, _, signal_range = rgb_scale.partition("-")
        scale, offset = scale_and_offset(int(bits), signal_range)
    red, green, blue = ((value - offset) / scale for value in rgb)
    if not -0.08 <= min(red, green, blue) <= max(red, green, blue) <= 1.1:
        raise TrimbenchError(
            f"{path.name}, line {line}: RGB {rgb[0]:g} {rgb[1]:g} {rgb[2]:g} doesn't fit {RGB_SCALES[rgb_scale]}; "
            "give the scale of the patches"
        )
    return red, green, blue
