"""Drawing a comparison: words, curves, histograms and pictures on one Axes whose units are pixels."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np

from tonemap.arrays import Array
from tonemap.transfer import pq_eotf_inverse

from .captions import Curve, Landing, number
from .layout import MARKS, Box, Cell
from .type_setting import FIRST, GROUND, HAIRLINE, QUIET, SECOND, SMALL, Word, font, text_width

ACCENT = (226 / 255, 178 / 255, 104 / 255)
HISTOGRAM = 54
GRID = 46


@contextmanager
def plain_settings() -> Iterator[None]:
    """Draw by matplotlib's own defaults, whatever the user has set, and leave the user's settings as they were."""
    import matplotlib

    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams["text.hinting"] = "none"  # as the words are measured
        yield


class Sheet:
    """A figure in pixels: x to the right, y down, from the top left corner."""

    def __init__(self, width: int, height: int) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        self.width, self.height = width, height
        self.figure = Figure(figsize=(width / 72.0, height / 72.0), dpi=72.0, facecolor=shade(GROUND))
        FigureCanvasAgg(self.figure)
        self.axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set(xlim=(0.0, width), ylim=(height, 0.0))
        self.axes.set_axis_off()

    def picture(self, codes: Any, box: Box) -> None:
        """Place a picture pixel for pixel."""
        self.figure.figimage(codes, xo=int(box.x), yo=int(self.height - box.y - box.height), origin="upper")

    def word(self, word: Word) -> None:
        """Set one word."""
        self.axes.text(
            word.left,
            word.baseline,
            word.text,
            fontproperties=font(word.text, word.weight),
            fontsize=word.size,
            color=shade(word.shade),
            ha="left",
            va="baseline",
            parse_math=False,
            fontfeatures=("tnum",) if word.is_figure else None,
        )

    def line(self, xs: Any, ys: Any, width: float, color: Any, **look: Any) -> None:
        """Draw a line through points."""
        self.axes.plot(xs, ys, linewidth=width, color=color, scalex=False, scaley=False, **look)

    def rule(self, box: Box, code: int = HAIRLINE) -> None:
        """Draw a horizontal hairline along the top of a box."""
        self.axes.fill_between(
            [box.x, box.x + box.width], box.y, box.y + box.height, color=shade(code), linewidth=0.0, antialiased=False
        )

    def mark(self, name: str, x: float, y: float, em: float) -> None:
        """Draw the dot of an anchor."""
        fill, edge = MARKS[name]
        self.axes.plot(
            [x],
            [y],
            marker="o",
            markersize=0.5 * em,
            markerfacecolor=shade(GROUND if fill is None else fill),
            markeredgecolor=shade(edge or FIRST),
            markeredgewidth=0.11 * em,
            zorder=5,
            scalex=False,
            scaley=False,
        )

    def cell_words(self, cell: Cell, em: float) -> None:
        """Set all words of a cell, and the marks of its table."""
        for word in cell.words:
            self.word(word)
        for dot in cell.dots:
            self.mark(dot.name, dot.x, dot.y, em)


class PqPlot:
    """A plot with nits on both axes, spaced as PQ spaces them."""

    def __init__(self, sheet: Sheet, box: Box, em: float, highest: float, peak: float) -> None:
        self.sheet, self.em = sheet, em
        self.small = SMALL * em
        self.highest, self.peak = highest, peak
        labels = max(text_width(number(tick), self.small) for tick in (100.0, peak))
        left, top, below = labels + 0.6 * em, 1.7 * em, 1.5 * em
        self.area = Box(
            round(box.x + left), round(box.y + top), round(box.width - left), round(box.height - top - below)
        )
        self._x_end, self._y_end = float(pq(highest)), float(pq(peak)) * 1.05

    def x(self, nits: Any) -> Any:
        """Return where a level of the master stands."""
        return self.area.x + pq(nits) / self._x_end * self.area.width

    def y(self, nits: Any) -> Any:
        """Return where a level of the target stands."""
        return self.area.y + self.area.height * (1.0 - pq(nits) / self._y_end)

    def draw(self, curve: Curve, histogram: Array, landings: tuple[Landing, ...]) -> None:
        """Draw everything, from the back to the front."""
        em, area, sheet = self.em, self.area, self.sheet
        base = area.y + area.height
        draw_histogram(sheet, area, histogram, self._x_end)
        for tick in self._ticks(self.highest, self.x, horizontal=True):
            sheet.line([self.x(tick)] * 2, [area.y, base], 1.0, shade(GRID), zorder=1.5)
            sheet.word(Word(number(tick), *self._x_label(tick), self.small, shade=QUIET, align="center"))
        for tick in self._ticks(self.peak, self.y, horizontal=False):
            sheet.line([area.x, area.x + area.width], [self.y(tick)] * 2, 1.0, shade(GRID), zorder=1.5)
            label = Word(
                number(tick), area.x - 0.5 * em, self.y(tick) + 0.28 * em, self.small, shade=QUIET, align="right"
            )
            sheet.word(label)
        end = min(self.highest, self.peak)
        sheet.line(
            [self.x(0.0), self.x(end)], [self.y(0.0), self.y(end)], 0.085 * em, shade(QUIET), linestyle=(0, (1, 2))
        )
        sheet.line(self.x(curve.master), self.y(curve.target), 0.15 * em, ACCENT, solid_joinstyle="round", zorder=4)
        for landing in (each for each in landings if each.master <= self.highest):
            sheet.mark(landing.name, float(self.x(landing.master)), float(self.y(landing.nits)), em)
        title = Word("cd/m\u00b2 shown", area.x, area.y - 0.6 * em, self.small, shade=SECOND)
        sheet.word(title)
        against = "against the master\u2019s"
        sheet.word(
            Word(
                against, title.x + text_width("cd/m\u00b2 shown ", self.small), title.baseline, self.small, shade=QUIET
            )
        )

    def _x_label(self, tick: float) -> tuple[float, float]:
        half = 0.5 * text_width(number(tick), self.small)
        right = self.area.x + self.area.width
        return min(float(self.x(tick)), right - half), self.area.y + self.area.height + 1.15 * self.em

    def _ticks(self, end: float, place: Any, *, horizontal: bool) -> list[float]:
        """Return the round levels that have room, the end before all others."""
        kept: list[float] = []
        for tick in (end, 0.0, 100.0, 1.0, 10.0, 1000.0, 0.1, 4000.0, 10000.0):
            room = 1.5 * self.em + (text_width(number(tick), self.small) if horizontal else 0.0)
            if tick <= end and all(abs(float(place(tick) - place(other))) >= room for other in kept):
                kept.append(tick)
        return kept


def draw_histogram(sheet: Sheet, area: Box, histogram: Array, x_end: float, code: int = HISTOGRAM) -> None:
    """Fill the shape of a luminance histogram from the bottom of an area."""
    points = max(32, int(area.width / 2.0))
    edges = np.linspace(0.0, x_end * len(histogram), points + 1)
    total = np.concatenate([[0.0], np.cumsum(histogram)])
    counts = np.diff(np.interp(edges, np.arange(len(total)), total))
    kernel = np.array([1.0, 2.0, 3.0, 2.0, 1.0]) / 9.0
    smooth = np.sqrt(np.convolve(counts, kernel, mode="same"))
    height = 0.8 * area.height * smooth / max(float(smooth.max()), 1e-12)
    base = area.y + area.height
    xs = np.repeat(area.x + np.linspace(0.0, area.width, points + 1), 2)[1:-1]
    sheet.axes.fill_between(xs, base - np.repeat(height, 2), base, color=shade(code), linewidth=0.0, zorder=1)


def pq(nits: Any) -> Any:
    """Return the PQ signal of a level, 0..1."""
    return pq_eotf_inverse(np.minimum(np.asarray(nits, np.float64), 10000.0)) - pq_eotf_inverse(np.array(0.0))


def shade(code: int) -> tuple[float, float, float]:
    """Return a neutral colour by its 8-bit code."""
    return (code / 255.0,) * 3
