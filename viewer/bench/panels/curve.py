"""The curve of the selected rendition over the histogram of the master's luminance; both axes spaced as PQ."""

import numpy as np

from tonemap.arrays import Array
from tonemap.transfer import pq_eotf_inverse

from .. import theme
from ..bench import Bench
from ..layout import Rect
from ..toolkit import imgui
from ..widgets import Widgets, packed
from ..workings import AXIS_FLOOR, Working

MASTER_MARKS = (0.1, 1.0, 10.0, 26.0, 100.0, 203.0, 1000.0, 4000.0)
RESULT_MARKS = (0.1, 1.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 400.0)
HEIGHT = 13.5  # in units of the type


class Axis:
    """Nits to screen coordinates, spaced as PQ between two levels."""

    def __init__(self, low: float, high: float, start: float, end: float) -> None:
        self.low, self.high, self.start, self.end = low, high, start, end
        self._ends = pq_eotf_inverse(np.array([low, high]))

    def at(self, nits: Array | float) -> Array:
        """Return where levels are; what is outside lies on the ends."""
        signal = pq_eotf_inverse(np.clip(np.asarray(nits, np.float64), self.low, self.high))
        share = (signal - self._ends[0]) / (self._ends[1] - self._ends[0])
        return self.start + share * (self.end - self.start)


def draw(bench: Bench, ui: Widgets) -> None:
    """Draw in the flow of the panel."""
    corner, width = imgui.get_cursor_screen_pos(), imgui.get_content_region_avail().x
    imgui.dummy((width, HEIGHT * ui.em))
    ui.place("curve")
    slot, master = bench.state.selected_slot, bench.state.master
    working = bench.working(slot) if slot else None
    if master is None or working is None or working.curve is None or working.chain is None:
        words = "the curve needs a master" if master is None else "no curve"
        ui.write(corner.x, corner.y + 0.5 * HEIGHT * ui.em, words, theme.grey(theme.TEXT_DIM))
        return
    em = ui.em
    frame = Rect(
        round(corner.x + 2.3 * em), round(corner.y + 0.2 * em), round(width - 2.6 * em), round((HEIGHT - 2.9) * em)
    )
    across = Axis(AXIS_FLOOR, max(master.encoding.peak, 2.0 * AXIS_FLOOR), frame.left, frame.right)
    target_peak = working.chain.rendition.target.peak
    up = Axis(AXIS_FLOOR, max(target_peak, 2.0 * AXIS_FLOOR), frame.bottom, frame.top)
    drawing = imgui.get_window_draw_list()
    drawing.add_rect_filled((frame.left, frame.top), (frame.right, frame.bottom), packed(theme.grey(0.095)))
    _histogram(bench, frame, across)
    _marks(ui, frame, across, up)
    _anchors(ui, working, frame, across, up)
    points = [
        imgui.ImVec2(float(x), float(y))
        for x, y in zip(across.at(working.curve.master), up.at(working.curve.result), strict=True)
    ]
    drawing.add_polyline(points, packed(theme.accent()), max(0.12 * em, 1.5), 0)
    ui.write(frame.left, frame.bottom + 1.35 * em, "across master, up rendition, cd/m²", theme.grey(theme.TEXT_DIM))
    _rule_of_counting(bench, ui, frame)


def _histogram(bench: Bench, frame: Rect, across: Axis) -> None:
    """Fill the bins: the share of pixels, as a square root so that small highlights are seen too."""
    histogram = bench.histogram
    if histogram is None:
        return
    edges = np.linspace(0.0, 1.0, len(histogram.counts) + 1)
    low, high = pq_eotf_inverse(np.array([across.low, across.high]))
    x = np.round(across.start + (edges - low) / (high - low) * (across.end - across.start))  # no seams between bins
    inside = (x[1:] > frame.left) & (x[:-1] < frame.right)
    most = histogram.counts[inside].max(initial=0.0)
    if most == 0.0:
        return
    top = frame.bottom - 0.86 * frame.height * np.sqrt(histogram.counts / most)
    drawing, colour = imgui.get_window_draw_list(), packed(theme.grey(0.25))
    for index in np.flatnonzero(inside & (histogram.counts > 0.0)):
        left, right = max(x[index], frame.left), min(x[index + 1], frame.right)
        drawing.add_rect_filled((float(left), float(top[index])), (float(right), frame.bottom), colour)


def _marks(ui: Widgets, frame: Rect, across: Axis, up: Axis) -> None:
    drawing, line = imgui.get_window_draw_list(), packed(theme.grey(0.17))
    free = frame.left - 2.0 * ui.em
    for mark in (*MASTER_MARKS, across.high):
        x = round(float(across.at(mark)))
        text = f"{mark:g}"
        half = 0.5 * ui.width_of(text)
        is_end = mark == across.high
        if mark > across.high or (
            not is_end and x + half > frame.right - ui.width_of(f"{across.high:g}") - 0.2 * ui.em
        ):
            continue
        drawing.add_line((x + 0.5, frame.top), (x + 0.5, frame.bottom), line, 1.0)
        left = min(x - half, frame.right - 2.0 * half + 0.3 * ui.em)
        if left > free:
            ui.write(left, frame.bottom + 0.15 * ui.em, text, theme.grey(theme.TEXT_DIM))
            free = left + 2.0 * half + 0.4 * ui.em
    lowest = float(frame.bottom) + ui.em
    for mark in (*(mark for mark in RESULT_MARKS if mark < 0.8 * up.high), up.high):
        y = round(float(up.at(mark)))
        drawing.add_line((frame.left, y + 0.5), (frame.right, y + 0.5), line, 1.0)
        if y + 0.5 * ui.em < lowest:
            text = f"{mark:g}"
            at = max(y - 0.62 * ui.em, frame.top - 0.2 * ui.em)
            ui.write(frame.left - ui.width_of(text) - 0.4 * ui.em, at, text, theme.grey(theme.TEXT_DIM))
            lowest = y - 0.6 * ui.em


def _anchors(ui: Widgets, working: Working, frame: Rect, across: Axis, up: Axis) -> None:
    """Dot lines from the levels of grey and white up to the curve and over to where they land, with the landing."""
    assert working.curve is not None
    drawing, colour = imgui.get_window_draw_list(), packed(theme.grey(0.62))
    curve, end = (across.at(working.curve.master), up.at(working.curve.result)), frame.right - 0.2 * ui.em
    for anchor in reversed(working.anchors):
        if anchor.master > across.high:
            continue
        x, y = float(across.at(anchor.master)), float(up.at(anchor.nits))
        _dotted(ui, (x, float(frame.bottom)), (x, y))
        _dotted(ui, (float(frame.left), y), (x, y))
        drawing.add_circle_filled((x, y), 0.2 * ui.em, colour)
        text = f"{anchor.nits:.3g}"
        width = ui.width_of(text)
        if y - 1.25 * ui.em > frame.top:  # a curve rises: there is room above it to the left, or below it to the right
            left, top = max(x - width - 0.45 * ui.em, frame.left + 0.1 * ui.em), y - 1.25 * ui.em
        else:
            left = min(x + 0.45 * ui.em, end - width)
            top = max(y, float(np.interp(left - 0.2 * ui.em, *curve))) + 0.2 * ui.em
            end = left - 0.4 * ui.em
        ui.write(left, top, text, theme.grey(theme.TEXT))


def _dotted(ui: Widgets, start: tuple[float, float], end: tuple[float, float]) -> None:
    drawing, colour = imgui.get_window_draw_list(), packed(theme.grey(0.50))
    length = max(abs(end[0] - start[0]), abs(end[1] - start[1]))
    step, size = 0.4 * ui.em, max(round(0.08 * ui.em), 1)
    for index in range(int(length / step) + 1):
        share = min(index * step / length, 1.0) if length else 0.0
        x, y = (round(a + share * (b - a)) for a, b in zip(start, end, strict=True))
        drawing.add_rect_filled((x, y), (x + size, y + size), colour)


def _rule_of_counting(bench: Bench, ui: Widgets, frame: Rect) -> None:
    histogram = bench.histogram
    if histogram is not None and histogram.step > 1:
        text = f"1 pixel in {histogram.step**2}"
        x = frame.right - ui.width_of(text)
        ui.write(x, frame.bottom + 1.35 * ui.em, text, theme.grey(theme.TEXT_DIM))
