"""What is drawn over the traces of scopes: axes, targets, triangles, curves, with figures that can be read."""

import math
from functools import cache

import numpy as np

from tonemap.anchors import WHITE_NITS
from tonemap.colorimetry import PRIMARIES
from tonemap.scopes import BINS, CHROMA_SCALE, PQ_SCALE, SIGNAL_SCALE, UV_SCALE, Scale, bar_targets, skin_angle
from tonemap.transfer import pq_eotf

from ...plots.axis import NITS_TICKS, nits, ticks
from ...plots.chromaticity import rounded, uv
from ...plots.locus import LOCUS
from ...plots.vectorscope import SKIN_REACH
from .. import theme
from ..bench import Bench
from ..scope_plots import MASTER_SIGNAL, Plot, bars_of, encoding_of
from ..scopes import CHROMATICITY, DECADES, HISTOGRAM, TRANSFER, VECTORSCOPE, WAVEFORM, cell_at, panels_of
from ..showing import Key
from ..toolkit import imgui
from ..widgets import Widgets, packed

LINE, STRONG = theme.grey(0.86, 0.16), theme.grey(0.86, 0.34)
MARK = theme.grey(0.86, 0.62)
FIGURE = theme.grey(0.66)
EDGE = theme.grey(0.05, 0.8)
SHORT_NAMES = {"red": "R", "yellow": "Yl", "green": "G", "cyan": "Cy", "blue": "B", "magenta": "Mg"}
TRIANGLES = {"bt2020": (0.86, 0.0, "2020"), "p3-d65": (0.86, 0.22, "P3"), "bt709": (0.60, 0.0, "709")}
"""Grey of the lines, gap between their dashes in units of the type, and a short name."""

DASH = 0.35  # in units of the type
SAMPLE, BESIDE, LEAST_FOR_LEGEND = 0.92, 0.3, 8.0
"""Of a line in the legend its length, and from it to its name; how high the plot must be for one; likewise."""

Point = tuple[float, float]


class Sheet:
    """Draws on one plot, in cells."""

    def __init__(self, ui: Widgets, plot: Plot) -> None:
        self.ui, self.plot = ui, plot
        self.drawing = imgui.get_window_draw_list()
        self.thin = max(round(0.06 * ui.em), 1)

    def x(self, cell: float) -> float:
        """Return where a cell of the level axis lies on the screen."""
        rect, window = self.plot.rect, self.plot.window
        return rect.left + (cell - window.left) / (window.right - window.left) * rect.width

    def y(self, cell: float) -> float:
        """Return where a cell of the upright axis lies on the screen."""
        rect, window = self.plot.rect, self.plot.window
        return rect.bottom - (cell - window.bottom) / (window.top - window.bottom) * rect.height

    def across(self, y: float, colour: theme.Colour = LINE) -> None:
        """Draw a line from left to right."""
        at = round(y) + 0.5 * (self.thin % 2)
        self.drawing.add_line((self.plot.rect.left, at), (self.plot.rect.right, at), packed(colour), self.thin)

    def upright(self, x: float, colour: theme.Colour = LINE) -> None:
        """Draw a line from top to bottom."""
        at = round(x) + 0.5 * (self.thin % 2)
        self.drawing.add_line((at, self.plot.rect.top), (at, self.plot.rect.bottom), packed(colour), self.thin)

    def line(self, points: list[Point], colour: theme.Colour, width: float = 1.0) -> None:
        """Draw a line through points of the screen."""
        found = [imgui.ImVec2(float(x), float(y)) for x, y in points]
        self.drawing.add_polyline(found, packed(colour), width * self.thin, 0)

    def dashes(self, start: Point, end: Point, colour: theme.Colour, gap: float) -> None:
        """Draw a line with gaps of a length; 0 for none."""
        length = math.dist(start, end)
        step = DASH * self.ui.em + gap if gap else max(length, 1.0)
        for index in range(int(length / step) + 1):
            low, high = index * step, min(index * step + step - gap, length)
            if high > low:
                points = [
                    tuple(a + at / length * (b - a) for a, b in zip(start, end, strict=True)) for at in (low, high)
                ]
                self.drawing.add_line(points[0], points[1], packed(colour), self.thin)

    def beside(self, y: float, text: str) -> None:
        """Write a figure at the left of the plot."""
        rect, em = self.plot.rect, self.ui.em
        at = min(max(y - 0.62 * em, rect.top - 0.5 * em), rect.bottom - 0.8 * em)
        self.ui.write(rect.left - self.ui.width_of(text) - 0.35 * em, at, text, FIGURE)

    def below(self, x: float, text: str) -> float:
        """Write a figure below the plot, within its width; returns where it begins."""
        rect = self.plot.rect
        width = self.ui.width_of(text)
        at = min(max(x - 0.5 * width, rect.left - 1.0 * self.ui.em), rect.right - width)
        self.ui.write(at, rect.bottom + 0.05 * self.ui.em, text, FIGURE)
        return at


def draw(bench: Bench, ui: Widgets, plot: Plot) -> None:
    """Draw the graticule of a plot over its trace."""
    sheet, rect = Sheet(ui, plot), plot.rect
    sheet.drawing.push_clip_rect((rect.left, rect.top), (rect.right, rect.bottom), True)
    if plot.kind == TRANSFER:
        _curves(bench, sheet)
    elif plot.kind == CHROMATICITY:
        _triangles(sheet)
    sheet.drawing.pop_clip_rect()
    for index, key in enumerate(plot.keys if plot.kind == VECTORSCOPE else ()):
        _targets(bench, sheet, key, index)
    if plot.kind == WAVEFORM:
        _levels(bench, sheet)
    elif plot.kind == HISTOGRAM:
        _light_below(sheet)
        _decades(sheet)
    elif plot.kind == TRANSFER:
        _light_below(sheet)
        _light_beside(sheet)
    elif plot.kind == CHROMATICITY:
        _uv_figures(sheet)


def reading(plot: Plot, x: float, y: float) -> str:
    """Return what a point of a plot stands for."""
    rect, window = plot.rect, plot.window
    across = window.left + (x - rect.left) / rect.width * (window.right - window.left)
    up = window.bottom + (rect.bottom - y) / rect.height * (window.top - window.bottom)
    if plot.kind == WAVEFORM:
        return f"{_nits_at(up):.3g} cd/m²" if plot.form.is_nits else f"{100.0 * _value(SIGNAL_SCALE, up):.1f} %"
    if plot.kind == HISTOGRAM:
        return f"{_nits_at(across):.3g} cd/m²"
    if plot.kind == TRANSFER:
        return f"{_nits_at(across):.3g} to {_nits_at(up):.3g} cd/m²"
    scale, names = (UV_SCALE, ("u'", "v'")) if plot.kind == CHROMATICITY else (CHROMA_SCALE, ("Cb", "Cr"))
    return f"{names[0]} {_value(scale, across):.3f}  {names[1]} {_value(scale, up):.3f}"


def _value(scale: Scale, cell: float) -> float:
    return scale.low + (cell - 0.5) / (BINS - 1) * (scale.high - scale.low)


def _nits_at(cell: float) -> float:
    return float(pq_eotf(np.array(min(max((cell - 0.5) / (BINS - 1), 0.0), 1.0))))


def _nits_ticks(high: float, length: float, room: float) -> list[float]:
    """Return levels with room between them, the reference white of BT.2408 among the first."""
    return ticks(Scale("pq", 0.0, high), length, room, (0.0, WHITE_NITS, *NITS_TICKS))


def _levels(bench: Bench, sheet: Sheet) -> None:
    plot, em = sheet.plot, sheet.ui.em
    if plot.form.is_nits:
        _light_beside(sheet)
    else:
        room = sheet.y(cell_at(SIGNAL_SCALE, 0.0)) - sheet.y(cell_at(SIGNAL_SCALE, 0.1))
        every = next((step for step in (1, 2, 5) if step * room >= 1.15 * em), 10)
        for step in range(11):
            at = sheet.y(cell_at(SIGNAL_SCALE, 0.1 * step))
            sheet.across(at, STRONG if step in (0, 10) else LINE)
            if step % every == 0:
                sheet.beside(at, f"{10 * step}" if step < 10 else "100 %")
    panels = panels_of(bench.shown.scopes.form)
    for panel in range(1, panels):
        sheet.upright(plot.rect.left + panel * (plot.rect.width // panels), STRONG)


def _light_beside(sheet: Sheet) -> None:
    high = _nits_at(sheet.plot.window.top)
    for tick in _nits_ticks(high, sheet.plot.rect.height, 1.15 * sheet.ui.em):
        at = sheet.y(cell_at(PQ_SCALE, tick))
        sheet.across(at, STRONG if tick in (0.0, WHITE_NITS) else LINE)
        sheet.beside(at, nits(tick))


def _light_below(sheet: Sheet) -> None:
    high = _nits_at(sheet.plot.window.right)
    for tick in _nits_ticks(high, sheet.plot.rect.width, 2.6 * sheet.ui.em):
        at = sheet.x(cell_at(PQ_SCALE, tick))
        sheet.upright(at, STRONG if tick in (0.0, WHITE_NITS) else LINE)
        sheet.below(at, nits(tick))


def _decades(sheet: Sheet) -> None:
    """Draw the axis of a histogram: shares of the pixels."""
    rect = sheet.plot.rect
    for decade in range(1, int(DECADES)):
        at = rect.bottom - rect.height * decade / DECADES
        sheet.across(at)
        if decade % 2 == 1:
            share = 100.0 * 10.0 ** (decade - DECADES)
            sheet.beside(at, f"{share:g} %" if share >= 0.01 else f"{1e4 * share:g} ppm")


def _targets(bench: Bench, sheet: Sheet, key: Key, index: int) -> None:
    """Draw the colours of bars, and the direction of skin: the patch 'light skin' of ISO 17321-1 under D65."""
    ui, encoding = sheet.ui, encoding_of(bench, key)
    colour = MARK if index == 0 else theme.accent(alpha=0.8)
    if index == 0:
        sheet.across(sheet.y(cell_at(CHROMA_SCALE, 0.0)))
        sheet.upright(sheet.x(cell_at(CHROMA_SCALE, 0.0)))
    primaries = "bt2020" if key is None else encoding.primaries

    def at(cb: float, cr: float) -> Point:
        return sheet.x(cell_at(CHROMA_SCALE, cb)), sheet.y(cell_at(CHROMA_SCALE, cr))

    half = 0.3 * ui.em
    levels = bars_of(bench, key)
    for level in levels:
        targets = {name: at(*place) for name, place in bar_targets(primaries, level).items()}
        for name, (x, y) in targets.items():
            sheet.drawing.add_rect((x - half, y - half), (x + half, y + half), packed(colour), 0.0, sheet.thin)
            if level == max(levels) and index == 0:
                middle = at(0.0, 0.0)
                away = max(math.hypot(x - middle[0], y - middle[1]), 1.0)
                text = SHORT_NAMES[name]
                left = x + 1.0 * ui.em * (x - middle[0]) / away - 0.5 * ui.width_of(text)
                top = y + 1.0 * ui.em * (y - middle[1]) / away - 0.62 * ui.em
                ui.write(left, top, text, FIGURE)
    angle = math.radians(skin_angle(MASTER_SIGNAL if key is None else encoding))
    reach = SKIN_REACH * max(levels)
    end = at(reach * math.cos(angle), reach * math.sin(angle))
    sheet.line([at(0.0, 0.0), end], colour)
    if index == 0:
        ui.write(end[0] - ui.width_of("skin") - 0.2 * ui.em, end[1] - 1.1 * ui.em, "skin", FIGURE)


@cache
def _spectrum() -> tuple[Point, ...]:
    """Return the spectrum's curve in cells."""
    places = [uv((x, y)) for _, x, y in LOCUS]
    return tuple(
        (float(x), float(y)) for x, y in rounded(np.array([[cell_at(UV_SCALE, v) for v in p] for p in places]))
    )


def _triangles(sheet: Sheet) -> None:
    """Draw the spectrum's curve (CIE 1931, 2 degrees), the triangles of primaries and the white D65."""
    ui = sheet.ui

    def at(place: Point) -> Point:
        return sheet.x(cell_at(UV_SCALE, place[0])), sheet.y(cell_at(UV_SCALE, place[1]))

    outline = [(sheet.x(x), sheet.y(y)) for x, y in _spectrum()]
    sheet.line([*outline, outline[0]], theme.grey(0.86, 0.3))
    rect, thin = sheet.plot.rect, sheet.thin
    for row, (name, (level, gap, title)) in enumerate(TRIANGLES.items()):
        primaries, colour = PRIMARIES[name], theme.grey(level, 0.9)
        corners = [at(uv(corner)) for corner in (primaries.red, primaries.green, primaries.blue)]
        for start, end in zip(corners, (*corners[1:], corners[0]), strict=True):
            sheet.dashes(start, end, colour, gap * ui.em)
        if rect.height < LEAST_FOR_LEGEND * ui.em:
            continue
        y = rect.bottom - (row + 1) * 1.05 * ui.em - 0.2 * ui.em  # the widest name below, beside the purple line
        left, middle = rect.right - (SAMPLE + 0.2) * ui.em, round(y + 0.6 * ui.em) + 0.5 * thin
        sheet.dashes((left, middle), (left + SAMPLE * ui.em, middle), colour, gap * ui.em)
        ui.write(left - BESIDE * ui.em - ui.width_of(title), y, title, FIGURE)
    x, y = at(uv(PRIMARIES["bt709"].white))
    sheet.drawing.add_circle((x, y), 0.3 * ui.em, packed(MARK), 0, sheet.thin)


def _uv_figures(sheet: Sheet) -> None:
    free = math.inf
    for step in (6, 4, 2, 0):
        x, y = (place(cell_at(UV_SCALE, 0.1 * step)) for place in (sheet.x, sheet.y))
        sheet.upright(x)
        sheet.across(y)
        sheet.beside(y, f"{0.1 * step:g}" if step < 6 else "v' 0.6")
        words = f"{0.1 * step:g}" if step < 6 else "u' 0.6"
        if x + 0.5 * sheet.ui.width_of(words) < free:
            free = sheet.below(x, words) - 0.5 * sheet.ui.em


def _curves(bench: Bench, sheet: Sheet) -> None:
    """Draw the renditions' curves of neutral light over their pixels."""
    for index, key in enumerate(sheet.plot.keys):
        working = bench.working(bench.state.slot(key)) if key is not None else None
        if working is None or working.curve is None:
            continue
        xs, ys = (PQ_SCALE.place(values) * (BINS - 1) + 0.5 for values in (working.curve.master, working.curve.result))
        points = [(sheet.x(float(x)), sheet.y(float(y))) for x, y in zip(xs, ys, strict=True)]
        colour = theme.grey(0.95) if index == 0 else theme.accent()
        sheet.line(points, EDGE, 3.0)
        sheet.line(points, colour, 1.25)
