"""Where everything in a comparison stands: a grid of cells, each with picture, words and curve. No drawing."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from .captions import ANCHOR_TITLES, Caption, Landing, number
from .pictures import tile_shape
from .type_setting import FIRST, QUIET, SECOND, SEMIBOLD, SMALL, Word, flow, paragraph

TALL, TALLEST = 0.9, 1.15  # height, in widths, from which a screen shows the whole smaller, and only by scrolling
TALLEST_PICTURE = 0.42  # in widths of the whole
NARROWEST, WIDE = 21.0, 42.0  # widths of a cell in em; from the second on, the curve stands beside the words
MARKS = {"grey": (150, 150), "white": (240, 240), "peak": (None, 240)}
"""Fill and edge of the dots that stand for the anchors, in the table and on the curve."""


@dataclass(frozen=True)
class Box:
    """A rectangle in pixels from the top left corner."""

    x: float
    y: float
    width: float
    height: float

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return int(self.height), int(self.width)


@dataclass(frozen=True)
class Dot:
    """The mark of an anchor in a table."""

    name: str
    x: float
    y: float


@dataclass
class Cell:
    """One tile with its words and its curve."""

    caption: Caption
    picture: Box
    curve: Box
    words: list[Word]
    dots: list[Dot]


@dataclass(frozen=True)
class Measures:
    """Sizes in pixels that follow from the width of the whole."""

    width: int
    em: float

    @property
    def margin(self) -> float:
        """Ground around everything."""
        return round(self.width * 0.022)

    @property
    def gutter(self) -> float:
        """Ground between columns."""
        return max(round(self.width * 0.013), round(1.3 * self.em))

    @property
    def inner(self) -> float:
        """Width between the margins."""
        return self.width - 2.0 * self.margin


def measures_of(width: int, columns: int) -> Measures:
    """Return the measures for a number of columns: type as large as they allow, within what can be read."""
    smallest, largest = max(13.0, width / 150.0), max(13.0, width / 110.0)
    one = Measures(width, largest)
    cell = (one.inner - (columns - 1) * one.gutter) / columns
    return Measures(width, min(largest, max(smallest, cell / NARROWEST)))


@dataclass(frozen=True)
class Grid:
    """Rows and columns, and the place (row, column) of each caption: the master's two windows, then the renditions."""

    rows: int
    columns: int
    places: tuple[tuple[int, int], ...]


def grids(renditions: int) -> Iterator[Grid]:
    """Yield the grids for a number of renditions: the master's windows lead the rows, or head the columns."""
    count = renditions + 2
    for columns in range(1, count + 1):
        rows = math.ceil(count / columns)
        places = [(row, column) for row in range(rows) for column in range(columns)]
        if rows > 1 and columns > 2:
            places.remove((1, 0))
            places.insert(1, (1, 0))
        yield Grid(rows, columns, tuple(places[:count]))


@dataclass(frozen=True)
class Layout:
    """The chosen grid with every cell set: the master's two windows, then the renditions."""

    size: Measures
    cells: list[Cell]
    bottom: float


def compose(captions: list[Caption], shape: tuple[int, int], width: int, top_of: Callable[[Measures], float]) -> Layout:
    """Choose the grid that shows the pictures largest on a screen, and set every cell below the header.

    Parameters
    ----------
    shape : rows and columns of the master
    top_of : returns where the cells begin, for the measures of a grid
    """
    best: tuple[float, Layout] | None = None
    for grid in grids(len(captions) - 2):
        size = measures_of(width, grid.columns)
        cell_width = math.floor((size.inner - (grid.columns - 1) * size.gutter) / grid.columns)
        if grid.columns > 1 and cell_width < math.floor(NARROWEST * size.em):
            continue
        layout = _fill(grid, captions, shape, size, top_of(size), cell_width)
        picture = layout.cells[0].picture
        too_tall = max(1.0, layout.bottom / width / TALL) ** 3 * max(1.0, layout.bottom / width / TALLEST) ** 8
        filled = len(captions) / (grid.rows * grid.columns)
        score = picture.width * picture.height / too_tall * filled**4
        if best is None or score > best[0]:
            best = score, layout
    assert best is not None  # a single column is always tried
    return best[1]


def _fill(
    grid: Grid, captions: list[Caption], shape: tuple[int, int], size: Measures, top: float, width: int
) -> Layout:
    picture = tile_shape(shape, width, math.floor(TALLEST_PICTURE * size.width))
    cells: dict[int, Cell] = {}
    y = top
    for row in range(grid.rows):
        members = [(i, column) for i, (at_row, column) in enumerate(grid.places) if at_row == row]
        parts = {i: _Parts(captions[i], width, size) for i, _ in members}
        heights = _Heights(list(parts.values()), size)
        for i, column in members:
            x = size.margin + column * (width + size.gutter)
            cells[i] = parts[i].placed(x, y, picture, heights)
        y += picture[0] + heights.total + 2.2 * size.em
    return Layout(size, [cells[i] for i in range(len(captions))], y - 2.2 * size.em)


class _Parts:
    """The sections of one cell, set but not yet placed."""

    def __init__(self, caption: Caption, width: int, size: Measures) -> None:
        em = size.em
        self.caption, self.width, self.em = caption, width, em
        self.is_wide = width >= WIDE * em
        self.text_width = math.floor(min(0.5 * (width - size.gutter), 36.0 * em)) if self.is_wide else width
        words, height = paragraph(caption.name, self.text_width, 1.5 * em, 1.85 * em, weight=SEMIBOLD, most_lines=3)
        sections = [flow(caption.operators, self.text_width, 1.1 * em, 1.6 * em)]
        sections += [paragraph(note, self.text_width, em, 1.45 * em, shade=SECOND) for note in caption.notes]
        sections.append(flow(caption.parameters, self.text_width, em, 1.45 * em))
        for more, taken in sections:
            words += [word.moved(0.0, height + 0.2 * em) for word in more]
            height += taken + (0.15 * em if taken else 0.0)
        self.body = words, height
        self.table = _anchor_table(caption.landings, min(self.text_width, math.floor(26.0 * em)), em)

    def placed(self, x: float, y: float, picture: tuple[int, int], heights: "_Heights") -> Cell:
        """Place the sections at the heights that the row's cells share."""
        rows, columns = picture
        cell = Cell(self.caption, Box(round(x), round(y), columns, rows), heights.curve_box(x, y + rows, self), [], [])
        below = y + rows + heights.gap
        for words, start in (
            (self.body[0], below),
            (self.table[0], below + heights.table_start),
        ):
            cell.words += [word.moved(x, start) for word in words]
        cell.dots = [Dot(dot.name, dot.x + x, dot.y + below + heights.table_start) for dot in self.table[1]]
        return cell


class _Heights:
    """The heights that the cells of a row share, so that like stands beside like."""

    def __init__(self, parts: list[_Parts], size: Measures) -> None:
        em = size.em
        first = parts[0]
        self.gap = 0.7 * em
        self.table_start = max(part.body[1] for part in parts) + 0.7 * em
        words = self.table_start + max(part.table[2] for part in parts)
        curve_width = first.width - first.text_width - size.gutter if first.is_wide else first.width
        self.curve = min(0.62 * curve_width, 15.0 * em)
        self.gutter = size.gutter
        if first.is_wide:
            self.curve_start = self.gap + 0.3 * em
            self.curve = max(self.curve, words - 0.3 * em)
            self.total = self.curve_start + self.curve
        else:
            self.curve_start = self.gap + words + 1.1 * em
            self.total = self.curve_start + self.curve

    def curve_box(self, x: float, y: float, part: _Parts) -> Box:
        """Return where the curve of a cell stands, with its labels."""
        left = part.text_width + self.gutter if part.is_wide else 0.0
        return Box(round(x + left), round(y + self.curve_start), round(part.width - left), round(self.curve))


def _anchor_table(landings: tuple[Landing, ...], width: float, em: float) -> tuple[list[Word], list[Dot], float]:
    """Set the anchors as a table of width `width`: mark, name, nits in the master, nits and signal on the target."""
    small, leading = SMALL * em, 1.45 * em
    ends = (width - 9.7 * em, width - 5.4 * em, width)
    words = [
        Word(head, end, 0.95 * em, small, shade=QUIET, align="right")
        for head, end in zip(("master", "here", "signal"), ends, strict=True)
    ]
    words.append(Word("cd/m\u00b2", 0.0, 0.95 * em, small, shade=QUIET))
    dots = []
    for row, landing in enumerate(landings):
        baseline = 1.35 * em + (row + 0.5) * leading + 0.33 * em
        dots.append(Dot(landing.name, 0.4 * em, baseline - 0.34 * em))
        title = ANCHOR_TITLES[landing.name]
        words.append(Word(title, 1.2 * em, baseline, em, shade=SECOND))
        values = (number(landing.master), f"{landing.nits:.1f}", f"{100.0 * landing.signal:.1f} %")
        for value, end, shade in zip(values, ends, (SECOND, FIRST, FIRST), strict=True):
            words.append(Word(value, end, baseline, em, shade=shade, align="right", is_figure=True))
    return words, dots, 1.35 * em + len(landings) * leading
