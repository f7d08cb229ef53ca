"""A page for one plot: a figure in pixels with a heading, boxes for what is drawn, and notes below."""

from typing import Any

import numpy as np

from tonemap.arrays import Array
from tonemap.errors import WrongCall

from ..comparison.drawing import plain_settings
from ..comparison.layout import Box
from ..comparison.type_setting import (
    GROUND,
    HAIRLINE,
    QUIET,
    SECOND,
    SEMIBOLD,
    SMALL,
    Word,
    font,
    one_line,
    paragraph,
    text_width,
)
from .look import GRID, PLATE, Colour, Look

NARROWEST, WIDEST = 600, 8192  # pixels
EMS = 75.0  # of the type, across a page of the usual breadth


class Page:
    """A figure in pixels, at 72 dots an inch: x to the right, y down, from the top left corner.

    Parameters
    ----------
    ems : of the type, across the page

    Attributes
    ----------
    em : size of the type in pixels; every distance on a page is a multiple of it
    top : where the plot may begin, below the heading
    margin, inner : ground at the left, and the width between the margins
    """

    def __init__(self, width: int, look: Look, title: str, about: str, ems: float = EMS) -> None:
        if not NARROWEST <= width <= WIDEST:
            raise WrongCall(f"width = {width} is outside {NARROWEST}..{WIDEST} pixels; choose a width in that range")
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        self.width, self.look, self.em = width, look, width / ems
        self.margin = 2.0 * self.em
        self.inner = width - 2.0 * self.margin
        self._plates: list[Box] = []
        self._pictures: list[tuple[Array, Box]] = []
        with plain_settings():
            self.figure = Figure(figsize=(width / 72.0, 1.0), dpi=72.0, facecolor=look.shade(GROUND))
            FigureCanvasAgg(self.figure)
            self.axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set_axis_off()
        size = 1.5 * self.em
        words, height = paragraph(one_line(title), self.inner, size, 1.35 * size, weight=SEMIBOLD, most_lines=1)
        lines, more = paragraph(about, self.inner, self.em, 1.45 * self.em, shade=SECOND, most_lines=3)
        for word in (*words, *(line.moved(0.0, height) for line in lines)):
            self.word(word.moved(self.margin, 1.2 * self.em))
        self.top = 1.2 * self.em + height + more + 1.4 * self.em

    def plate(self, box: Box) -> Box:
        """Lay the ground of a plot, which a picture may cover; returns the box on whole pixels."""
        left, top = round(box.x), round(box.y)
        box = Box(left, top, round(box.x + box.width) - left, round(box.y + box.height) - top)
        self._plates.append(box)
        return box

    def fill(self, box: Box, colour: Colour, **look: Any) -> None:
        """Fill a box with a colour."""
        self.axes.fill_between(
            [box.x, box.x + box.width], box.y, box.y + box.height, color=colour, linewidth=0, antialiased=False, **look
        )

    def picture(self, picture: Array, box: Box) -> None:
        """Place a picture (rows, columns, 3), 0..1, pixel for pixel, behind all lines and words."""
        if picture.shape[:2] != box.shape:
            raise ValueError(f"a picture of {picture.shape[:2]} does not fill a box of {box.shape}")
        self._pictures.append((picture, box))

    def word(self, word: Word) -> None:
        """Set one word; its shade is one of the type's."""
        self.axes.text(
            word.left,
            word.baseline,
            word.text,
            fontproperties=font(word.text, word.weight),
            fontsize=word.size,
            color=self.look.shade(word.shade),
            ha="left",
            va="baseline",
            parse_math=False,
            fontfeatures=("tnum",) if word.is_figure else None,
            zorder=6,
        )

    def label(self, text: str, x: float, y: float, align: str = "left", shade: int = QUIET, **look: Any) -> Word:
        """Set a small word whose middle stands at y; returns it."""
        size = SMALL * self.em
        word = Word(text, x, y + 0.33 * size, size, shade=shade, align=align, **look)
        self.word(word)
        return word

    def label_width(self, text: str) -> float:
        """Return the width of a small word."""
        return text_width(text, SMALL * self.em)

    def line(self, xs: Any, ys: Any, colour: Colour, width: float = 0.1, **look: Any) -> None:
        """Draw a line of a width in em."""
        self.axes.plot(xs, ys, color=colour, linewidth=width * self.em, scalex=False, scaley=False, **look)

    def grid_line(self, xs: Any, ys: Any, strong: bool = False, **look: Any) -> None:
        """Draw a line of the graticule: thin, and translucent so that the trace shows through."""
        colour, alpha = (QUIET, 0.9) if strong else (GRID, 0.42)
        self.line(xs, ys, self.look.shade(colour), 0.065, alpha=alpha, solid_capstyle="butt", zorder=2, **look)

    def frame(self, box: Box) -> None:
        """Draw the outline of a plot."""
        xs = [box.x, box.x + box.width, box.x + box.width, box.x, box.x]
        ys = [box.y, box.y, box.y + box.height, box.y + box.height, box.y]
        self.line(xs, ys, self.look.shade(HAIRLINE), 0.065, solid_joinstyle="miter", zorder=2.5)

    def dot(self, x: float, y: float, colour: Colour, size: float = 0.55, *, hollow: bool = False) -> None:
        """Draw a round mark of a size in em."""
        self.axes.plot(
            [x],
            [y],
            marker="o",
            markersize=size * self.em,
            markerfacecolor=self.look.shade(PLATE) if hollow else colour,
            markeredgecolor=colour if hollow else self.look.shade(PLATE),
            markeredgewidth=0.11 * self.em,
            zorder=5,
            scalex=False,
            scaley=False,
        )

    def key(self, items: list[tuple[str, Colour]], x: float, y: float) -> None:
        """Set a row of names, each behind a swatch of its colour."""
        em = self.em
        for name, colour in items:
            self.fill(Box(x, y - 0.3 * em, 0.9 * em, 0.6 * em), colour, zorder=3)
            word = self.label(name, x + 1.3 * em, y, shade=SECOND)
            x = word.left + self.label_width(name) + 1.6 * em

    def finish(self, bottom: float, *notes: str) -> Any:
        """Set the notes below the plot, give the figure its height, and return it."""
        y = bottom + 0.9 * self.em
        for note in notes:
            words, height = paragraph(note, self.inner, SMALL * self.em, 1.3 * self.em, shade=QUIET)
            for word in words:
                self.word(word.moved(self.margin, y))
            y += height
        height_px = round(y + 1.1 * self.em)
        self.figure.set_size_inches(self.width / 72.0, height_px / 72.0)
        self.axes.set(xlim=(0.0, self.width), ylim=(height_px, 0.0))
        covered = [box for _, box in self._pictures]
        for box in (plate for plate in self._plates if plate not in covered):
            self.fill(box, self.look.shade(PLATE), zorder=-3)
        for picture, box in self._pictures:
            codes = np.floor(np.clip(picture, 0.0, 1.0) * 255.0 + 0.5).astype(np.uint8)
            self.figure.figimage(
                codes, xo=int(box.x), yo=int(height_px - box.y - box.height), origin="upper", zorder=-1
            )
        self.axes.set_zorder(1)
        return self.figure


def panel_heading(text: str, x: float, baseline: float, size: float) -> Word:
    """Return the heading of a panel."""
    return Word(text, x, baseline, size, SEMIBOLD, SECOND)
