"""The line of a wipe: a ring that moves it and a smaller one that turns it.

Over the picture the line itself is drawn only while a hand is on it; at other times short marks stand at its ends.
"""

import math

from .. import input as hands
from .. import theme
from ..bench import Bench
from ..layout import Rect
from ..panes import Pane
from ..showing import WIPE, Line
from ..toolkit import imgui
from ..widgets import FINE, Widgets, dragged, packed

RING, SMALL_RING, ARM, MARK = 0.55, 0.38, 4.0, 0.9  # in units of the type
INK, EDGE = 0.86, 0.08
HELP = "Drag to move the line; click twice to reset it", "Drag to turn the line ([ and ])"


def draw(bench: Bench, ui: Widgets, pane: Pane, is_discreet: bool = False) -> None:
    """Draw the line over a pane that wipes, and take the hand on it; a discreet one is seen under the hand alone."""
    if bench.state.showing.layout != WIPE or len(pane.pictures) != 2:
        return
    rect = pane.tile.picture
    arm = min(ARM * ui.em, 0.35 * min(rect.width, rect.height))
    line = bench.line
    is_new = line == Line() and not is_discreet  # words over the pictures for a hand that has not moved it yet
    move, turn = HELP if is_new else ("", "")
    is_moved = _ring(ui, "wipe", line.point(rect, 0.0), RING * ui.em, move)
    share = FINE if imgui.get_io().key_shift else 1.0
    if imgui.is_item_hovered() and imgui.is_mouse_double_clicked(0):
        hands.straighten_line(bench)
    elif (by := dragged()) != (0.0, 0.0):
        bench.show(line=line.moved(share * by[0] / rect.width, share * by[1] / rect.height))
    is_turned = _ring(ui, "wipe turn", line.point(rect, arm), SMALL_RING * ui.em, turn)
    if (by := dragged()) != (0.0, 0.0):
        bench.show(line=line.turned(share * _turn(line.point(rect, 0.0), by)))
    if is_moved or is_turned or not is_discreet:
        _draw(bench, ui, rect, arm, is_moved or is_turned)


def _ring(ui: Widgets, name: str, at: tuple[float, float], radius: float, help_text: str) -> bool:
    """Put a round handle at a place; returns whether a hand is on it."""
    side = 2.4 * radius
    imgui.set_cursor_screen_pos((at[0] - 0.5 * side, at[1] - 0.5 * side))
    imgui.invisible_button(name, (side, side))
    ui.place(name)
    ui.help(help_text)
    return bool(imgui.is_item_hovered() or imgui.is_item_active())


def _turn(middle: tuple[float, float], by: tuple[float, float]) -> float:
    """Return how many degrees the pointer, which came `by` pixels, went about the line's middle, against the clock."""

    def angle(x: float, y: float) -> float:
        return math.degrees(math.atan2(middle[1] - y, x - middle[0]))

    x, y = imgui.get_mouse_pos()
    turn = angle(x, y) - angle(x - by[0], y - by[1])
    return (turn + 180.0) % 360.0 - 180.0


def _draw(bench: Bench, ui: Widgets, rect: Rect, arm: float, is_held: bool) -> None:
    line = bench.line
    sheet = imgui.get_window_draw_list()
    sheet.push_clip_rect((rect.left, rect.top), (rect.right, rect.bottom), True)
    ends = line.ends(rect)
    if is_held:
        _stroke(ui, sheet, ends[0], ends[1])
    else:
        crossings = _crossings(rect, *ends)
        for here, there in (crossings, crossings[::-1]):
            length = max(math.dist(here, there), 1.0)
            share = min(MARK * ui.em / length, 0.5)
            _stroke(ui, sheet, here, (here[0] + share * (there[0] - here[0]), here[1] + share * (there[1] - here[1])))
    strength = 1.0 if is_held else 0.45
    for at, radius in ((line.point(rect, 0.0), RING), (line.point(rect, arm), SMALL_RING)):
        sheet.add_circle(at, radius * ui.em, packed(theme.grey(EDGE, strength)), 0, 0.22 * ui.em)
        sheet.add_circle(at, radius * ui.em, packed(theme.grey(INK, strength)), 0, 0.1 * ui.em)
    sheet.pop_clip_rect()


def _stroke(ui: Widgets, sheet: imgui.ImDrawList, start: tuple[float, float], end: tuple[float, float]) -> None:
    sheet.add_line(start, end, packed(theme.grey(EDGE)), max(round(0.19 * ui.em), 3))
    sheet.add_line(start, end, packed(theme.grey(INK)), max(round(0.06 * ui.em), 1))


def _crossings(
    rect: Rect, start: tuple[float, float], end: tuple[float, float]
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return where a line that goes through a rectangle enters and leaves it."""
    low, high = 0.0, 1.0
    edges = ((rect.left, rect.right), (rect.top, rect.bottom))
    for (first, last), begin, finish in zip(edges, start, end, strict=True):
        step = finish - begin
        if abs(step) > 1e-9:
            near, far = sorted(((first - begin) / step, (last - begin) / step))
            low, high = max(low, near), min(high, far)

    def at(share: float) -> tuple[float, float]:
        return start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])

    return at(low), at(high)
