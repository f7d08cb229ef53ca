"""What stands around the tiles of a comparison: the header with the master's light, and the footer."""

from .captions import number, share
from .drawing import GRID, Sheet, draw_histogram, pq, shade
from .layout import Box, Measures
from .pictures import MasterFigures
from .type_setting import FIRST, HAIRLINE, QUIET, SECOND, SEMIBOLD, SMALL, Word, paragraph, text_width

READING = (
    "This is an SDR picture: BT.709 primaries, gamma 2.4, full range, 8 bits. It can\u2019t show the HDR master; the "
    "two master tiles are windows on it. Curves: neutral light, both axes spaced as PQ; dotted: unchanged light; "
    "behind: how the master\u2019s luminance is spread (height: square root of the share)."
)


class Header:
    """Title and encoding on the left; on the right the histogram of the master and its light in figures."""

    def __init__(self, title: str, lines: list[str], figures: MasterFigures, highest: float, size: Measures) -> None:
        em = size.em
        self._figures, self._highest, self._size = figures, highest, size
        self._plot_width = max(15.0 * em, 0.3 * size.inner)
        self._table_width = 13.0 * em
        left_width = size.inner - self._plot_width - self._table_width - 4.0 * em
        self.words, height = paragraph(title, left_width, 2.2 * em, 2.65 * em, weight=SEMIBOLD, most_lines=2)
        for line, shade_code in zip(lines, (FIRST, SECOND, SECOND), strict=False):
            more, taken = paragraph(line, left_width, 1.1 * em, 1.6 * em, shade=shade_code, most_lines=2)
            self.words += [word.moved(0.0, height + 0.2 * em) for word in more]
            height += taken
        self.height = max(height + 0.2 * em, 8.6 * em)
        self.bottom = size.margin + self.height + 1.6 * em

    def draw(self, sheet: Sheet) -> None:
        """Draw it on a sheet."""
        size, em = self._size, self._size.em
        for word in self.words:
            sheet.word(word.moved(size.margin, size.margin))
        right = size.width - size.margin
        plot = Box(right - self._plot_width - self._table_width - 2.0 * em, size.margin, self._plot_width, 8.6 * em)
        self._draw_plot(sheet, plot)
        for word in _shares(self._figures, self._table_width, em):
            sheet.word(word.moved(right - self._table_width, size.margin))

    def _draw_plot(self, sheet: Sheet, box: Box) -> None:
        em = self._size.em
        x_end = float(pq(self._highest))
        area = Box(round(box.x), round(box.y + 1.6 * em), round(box.width), round(box.height - 3.0 * em))
        base = area.y + area.height
        sheet.word(Word("Master\u2019s luminance in cd/m\u00b2", box.x, box.y + 1.0 * em, em, shade=SECOND))
        draw_histogram(sheet, area, self._figures.histogram, x_end, code=120)
        sheet.rule(Box(area.x, base, area.width, 1.0), HAIRLINE)
        taken: list[tuple[float, float]] = []
        small = SMALL * em
        for tick in (203.0, 1000.0, 100.0, self._highest, 10.0, 1.0, 0.0, 4000.0):
            if tick > self._highest:
                continue
            label = f"{tick:.0f}"
            half = 0.5 * text_width(label, small)
            x = area.x + float(pq(tick)) / x_end * area.width
            centre = min(max(x, area.x + half), area.x + area.width - half)
            if any(abs(centre - other) < half + width + 0.5 * em for other, width in taken):
                continue
            taken.append((centre, half))
            is_level = tick in self._figures.shares
            if is_level:
                sheet.line([x, x], [area.y, base], 1.0, shade(GRID + 40), zorder=3)
            sheet.word(
                Word(label, centre, base + 1.15 * em, small, shade=SECOND if is_level else QUIET, align="center")
            )


class Footer:
    """How to read the picture on the left, where it comes from on the right."""

    def __init__(self, origin: list[str], size: Measures) -> None:
        em = size.em
        self._size = size
        width = 0.5 * (size.inner - 3.0 * em)
        self.left, height = paragraph(READING, width, SMALL * em, 1.3 * em, shade=QUIET)
        self.right, taken = [], 0.0
        for line in origin:
            words, more = paragraph(line, width, SMALL * em, 1.3 * em, shade=QUIET)
            self.right += [word.moved(width + 3.0 * em, taken) for word in words]
            taken += more
        self.height = max(height, taken) + 1.2 * em

    def draw(self, sheet: Sheet, top: float) -> None:
        """Draw it below `top`."""
        size = self._size
        sheet.rule(Box(size.margin, round(top), size.inner, max(1.0, round(0.05 * size.em))))
        for word in (*self.left, *self.right):
            sheet.word(word.moved(size.margin, top + 0.8 * size.em))


def _shares(figures: MasterFigures, width: float, em: float) -> list[Word]:
    words = [Word("Share of the picture", width, 1.0 * em, em, shade=SECOND, align="right")]
    for row, (level, part) in enumerate(figures.shares.items()):
        baseline = 2.95 * em + row * 1.6 * em
        words.append(Word(f"above {number(level)} cd/m\u00b2", 0.0, baseline, em, shade=SECOND))
        words.append(Word(share(part), width, baseline, em, shade=FIRST, align="right", is_figure=True))
    return words
