"""A plate: the code values of a pattern that is being drawn, with the boxes, lines and words that it is drawn of."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import Array, Codes
from ..encoding import Encoding, light_to_signal, quantise_signal
from ..errors import WrongCall

SetType = Callable[[str, float, bool], Array]
"""Sets a text: (text, size in pixels, whether it is semi-bold) -> coverage 0..1, (rows, columns), as wide as the text.

The baseline lies `size` rows below the first.
"""

LEAST = (640, 360)
LARGEST = 8192

GROUND, INK, QUIET, DIM = 2.0, 60.0, 28.0, 6.0
"""cd/m2: around what is looked at (the background of BT.2100-3, Table 3, is 5); of words; of quiet and of dim words."""


@dataclass(frozen=True)
class Box:
    """A rectangle of whole pixels, from the upper left."""

    left: int
    top: int
    width: int
    height: int

    @property
    def right(self) -> int:
        """The first column that is not inside."""
        return self.left + self.width

    @property
    def bottom(self) -> int:
        """The first row that is not inside."""
        return self.top + self.height

    @property
    def pixels(self) -> tuple[slice, slice]:
        """The rows and columns inside."""
        return slice(self.top, self.bottom), slice(self.left, self.right)

    def inset(self, by: int) -> "Box":
        """Return the box without a margin."""
        return Box(self.left + by, self.top + by, self.width - 2 * by, self.height - 2 * by)

    def columns(self, count: int, gap: int = 0) -> list["Box"]:
        """Divide it into boxes side by side; the widths differ by one pixel at most."""
        room = self.width - gap * (count - 1)
        edges = [self.left + index * gap + round(index * room / count) for index in range(count)]
        return [
            Box(edge, self.top, round((index + 1) * room / count) - round(index * room / count), self.height)
            for index, edge in enumerate(edges)
        ]


class Plate:
    """A picture of code values for one encoding.

    Parameters
    ----------
    encoding : what the screen is believed to be, with bits
    columns, rows : of the picture, 640 x 360 at least
    set_type : sets words
    ground : cd/m2 that it begins with

    Attributes
    ----------
    codes : ndarray of uint16 (rows, columns, 3)
    em : size of the words, in pixels
    """

    def __init__(self, encoding: Encoding, columns: int, rows: int, set_type: SetType, ground: float = GROUND) -> None:
        if not (LEAST[0] <= columns <= LARGEST and LEAST[1] <= rows <= LARGEST):
            raise WrongCall(
                f"a pattern of {columns} x {rows} is not possible; choose from {LEAST[0]} x {LEAST[1]} "
                f"to {LARGEST} x {LARGEST} pixels"
            )
        self.encoding = encoding
        self.set_type = set_type
        self.columns, self.rows = columns, rows
        self.codes: Codes = np.full((rows, columns, 3), self.grey(ground), np.uint16)
        self.em = max(round(min(rows / 45.0, columns / 80.0)), 9)
        self.margin = 2 * self.em

    def code(self, signal: float) -> int:
        """Return the code of a signal, also below black and above white where such codes exist."""
        return int(quantise_signal(np.array(signal), self.encoding))

    def grey(self, nits: float) -> int:
        """Return the code of a grey of so many cd/m2."""
        return self.code(signal_of_grey(nits, self.encoding))

    def colour(self, light: Array) -> tuple[int, int, int]:
        """Return the codes of light (3,) in the encoding's own primaries, cd/m2."""
        red, green, blue = (int(code) for code in quantise_signal(light_to_signal(light, self.encoding), self.encoding))
        return red, green, blue

    def fill(self, box: Box, codes: int | Sequence[int]) -> None:
        """Fill a box with a grey code or with codes of red, green and blue."""
        self.codes[box.pixels] = codes

    def lines(self, box: Box, bright: int, dark: int) -> None:
        """Fill a box with lines one pixel high, by turns; the even rows of the picture are the bright ones."""
        self.codes[box.pixels] = dark
        self.codes[box.top + box.top % 2 : box.bottom : 2, box.left : box.right] = bright

    def write(
        self,
        text: str,
        x: float,
        baseline: float,
        nits: float = INK,
        *,
        is_bold: bool = False,
        size: float = 1.0,
        align: float = 0.0,
    ) -> None:
        """Write a text; `size` in units of the type, `align` 0 from the left, 0.5 about the middle, 1 to the right."""
        pixels = size * self.em
        coverage = self.set_type(text, pixels, is_bold)
        left = round(x - align * coverage.shape[1])
        top = round(baseline) - round(pixels)
        rows = slice(max(top, 0), max(min(top + coverage.shape[0], self.rows), 0))
        columns = slice(max(left, 0), max(min(left + coverage.shape[1], self.columns), 0))
        part = coverage[rows.start - top : rows.stop - top, columns.start - left : columns.stop - left, np.newaxis]
        under = self.codes[rows, columns]
        self.codes[rows, columns] = np.floor(under + part * (self.grey(nits) - under.astype(np.float64)) + 0.5)

    def heading(self, title: str, nits: float = INK) -> None:
        """Write what the plate is, and for which screen."""
        baseline = self.margin + self.em
        self.write(title, self.margin, baseline, nits, is_bold=True, size=1.3)
        self.write(self.encoding.title, self.columns - self.margin, baseline, min(nits, QUIET), align=1.0)

    def footing(self, *lines: str, nits: float = INK) -> None:
        """Write at the bottom what is to be seen."""
        for index, line in enumerate(lines):
            baseline = self.rows - self.margin - 1.5 * self.em * (len(lines) - 1 - index)
            self.write(line, self.margin, baseline, nits)

    def write_note(self, text: str) -> None:
        """Write at the lower right, as bright against its ground as words need."""
        ground = int(self.codes[-1, -1, 1])
        on_dark = QUIET if ground >= self.grey(GROUND) else DIM
        nits = 0.02 * self.encoding.peak if ground >= self.grey(INK) else on_dark
        self.write(text, self.columns - self.margin, self.rows - self.margin, nits, align=1.0)

    def body(self, lines_below: int) -> Box:
        """Return the room between the heading and the footing."""
        top = self.margin + 3 * self.em
        bottom = self.rows - self.margin - round((1.5 * lines_below + 1.5) * self.em)
        return Box(self.margin, top, self.columns - 2 * self.margin, bottom - top)


def signal_of_grey(nits: float, encoding: Encoding) -> float:
    """Return the signal of a grey; below the display's own black it is that black."""
    return float(light_to_signal(np.full(3, max(nits, encoding.black)), encoding)[1])


def is_relative(encoding: Encoding) -> bool:
    """Say whether levels are parts of a white, and not absolute."""
    return encoding.transfer != "pq"
