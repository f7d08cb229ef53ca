"""Patches over the pictures: their outlines in every tile, drawing a new one, moving the chosen one."""

import itertools
import math

from tonemap.measure.patches import KINDS, Patch

from .. import theme
from ..bench import Bench
from ..layout import Rect
from ..panes import Pane
from ..patch_actions import add_patch, choose_patch, is_inside, move_patch, rename_patch, with_kind
from ..toolkit import imgui
from ..widgets import Widgets, dragged, gone, packed

LEAST = 4.0  # pixels a side that a hand must draw for a patch

NAME, KIND, LEAST_NAME = 8.0, 8.0, 4.2  # widths of the fields beside the chosen patch, in units of the type

Place = tuple[float, float]


def draw(bench: Bench, ui: Widgets, pane: Pane, scale: float) -> None:
    """Draw the outlines on a pane, and take the hand that draws or moves one. `scale`: framebuffer pixels a unit."""
    if bench.state.master is None:
        return
    rect = pane.tile.picture
    sheet = imgui.get_window_draw_list()
    sheet.push_clip_rect((rect.left, rect.top), (rect.right, rect.bottom), True)
    outlines = [[_on_screen(bench, rect, corner, scale) for corner in patch.corners] for patch in bench.state.patches]
    for index, points in enumerate(outlines):
        _outline(ui, sheet, points, index == bench.state.patch)
    chosen = bench.state.chosen_patch
    if chosen is not None and bench.state.patch is not None:
        is_first = pane.pictures[0] is None or len(pane.captions) > 1
        points = outlines[bench.state.patch]
        _label(bench, ui, rect, points, chosen, is_editable=is_first and not bench.shown.is_marking)
    sheet.pop_clip_rect()
    if bench.shown.is_marking:
        _mark(bench, ui, pane, scale)
        return
    for index in reversed(range(len(outlines))):  # of two, the one on top
        _take(bench, ui, rect, index, outlines[index], scale)


def _label(bench: Bench, ui: Widgets, rect: Rect, points: list[Place], patch: Patch, *, is_editable: bool) -> None:
    """Write the chosen patch's name beside it; in the first tile it is typed there, and the kind chosen."""
    em, line = ui.em, imgui.get_frame_height() + 0.2 * ui.em
    is_narrow = rect.width < (LEAST_NAME + KIND + 0.9) * em  # then the kind stands below the name
    kind_room = min(KIND * em, rect.width - 0.4 * em)
    name_room = kind_room if is_narrow else min(NAME * em, rect.width - 0.9 * em - kind_room)
    width = 0.4 * em + kind_room + (0.0 if is_narrow else name_room + 0.5 * em)
    height = (2.0 if is_narrow else 1.0) * line + 0.2 * em
    if not is_editable:
        width, height = ui.width_of(patch.name) + 0.4 * em, 1.3 * em
    x, y = min(x for x, _ in points), min(y for _, y in points) - height - 0.2 * em
    if y < rect.top:
        y = max(y for _, y in points) + 0.2 * em
    x = max(min(x, rect.right - width), rect.left)
    y = max(min(y, rect.bottom - height), rect.top)
    imgui.get_window_draw_list().add_rect_filled(
        (x, y), (x + width, y + height), packed(theme.grey(theme.PANEL)), 0.2 * em
    )
    if not is_editable:
        ui.write(x + 0.2 * em, y, patch.name, theme.accent())
        return
    imgui.set_cursor_screen_pos((x + 0.2 * em, y + 0.2 * em))
    typed = ui.typed("patch name", patch.name, name_room)
    if typed is not None:
        bench.do(rename_patch, typed)
    place = (x + 0.2 * em, y + line + 0.2 * em) if is_narrow else (x + 0.7 * em + name_room, y + 0.2 * em)
    imgui.set_cursor_screen_pos(place)
    kind = ui.combo("patch kind", {name: (words, "") for name, words in KINDS.items()}, patch.kind, kind_room)
    if kind is not None:
        bench.do(with_kind, kind)


def _outline(ui: Widgets, sheet: imgui.ImDrawList, points: list[Place], is_chosen: bool) -> None:
    corners = [imgui.ImVec2(*point) for point in points]
    closed = imgui.ImDrawFlags_.closed
    sheet.add_polyline(corners, packed(theme.grey(0.05)), max(0.19 * ui.em, 3.0), closed)
    ink = theme.accent() if is_chosen else theme.grey(0.78)
    sheet.add_polyline(corners, packed(ink), max(0.07 * ui.em, 1.0), closed)


def _take(bench: Bench, ui: Widgets, rect: Rect, index: int, points: list[Place], scale: float) -> None:
    """Let a hand choose a patch inside its outline, and move it by a drag."""
    x, y = zip(*points, strict=True)
    low = max(min(x), rect.left), max(min(y), rect.top)
    high = min(max(x), rect.right), min(max(y), rect.bottom)
    if high[0] - low[0] < 1.0 or high[1] - low[1] < 1.0:
        return
    io = imgui.get_io()
    if ui.places is not None:
        ui.places[f"patch {index}"] = Rect(*(round(each) for each in (*low, high[0] - low[0], high[1] - low[1])))
    is_held = imgui.is_mouse_down(0) and not imgui.is_mouse_clicked(0)
    if not is_held and not imgui.is_mouse_released(0) and not is_inside(points, (io.mouse_pos.x, io.mouse_pos.y)):
        return  # the hand is beside a polygon, though within its bounds
    imgui.set_cursor_screen_pos(low)
    imgui.invisible_button(f"patch {index} {rect.left} {rect.top}", (high[0] - low[0], high[1] - low[1]))
    if imgui.is_item_activated():
        bench.do(choose_patch, index)
    by, zoom = dragged(), bench.placement.zoom / scale
    if by != (0.0, 0.0) and bench.state.patch == index:
        bench.do(move_patch, by[0] / zoom / bench.facts.columns, by[1] / zoom / bench.facts.rows)


def _mark(bench: Bench, ui: Widgets, pane: Pane, scale: float) -> None:
    """Take the drag that draws a rectangle, or the clicks on the corners of a polygon."""
    rect = pane.tile.picture
    imgui.set_cursor_screen_pos((rect.left, rect.top))
    imgui.invisible_button(f"mark {rect.left} {rect.top}", (rect.width, rect.height))
    is_released = imgui.is_item_deactivated()  # also beyond the picture, whose edge then is the patch's
    if imgui.is_key_pressed(imgui.Key.escape):
        bench.shown.is_marking, bench.shown.corners = False, ()
        return
    way = gone()
    is_click = is_released and way == (0.0, 0.0)
    if bench.shown.corners or is_click:
        _corners(bench, ui, rect, scale, is_click=is_click)
        return
    if not (imgui.is_item_active() or is_released):
        return
    end = imgui.get_mouse_pos()
    x0, x1 = sorted(min(max(x, rect.left), rect.right) for x in (end.x - way[0], end.x))
    y0, y1 = sorted(min(max(y, rect.top), rect.bottom) for y in (end.y - way[1], end.y))
    corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    if not is_released:
        _outline(ui, imgui.get_window_draw_list(), corners, is_chosen=True)
        return
    bench.shown.is_marking = False
    if min(x1 - x0, y1 - y0) >= LEAST:
        bench.do(add_patch, tuple(_in_picture(bench, rect, corner, scale) for corner in corners))


def _corners(bench: Bench, ui: Widgets, rect: Rect, scale: float, *, is_click: bool) -> None:
    """Draw the polygon that is being drawn, and take a click: a corner, or on the first one the end."""
    at = imgui.get_io().mouse_pos
    points = [_on_screen(bench, rect, corner, scale) for corner in bench.shown.corners]
    radius = 0.5 * ui.em
    is_closing = len(points) > 2 and math.dist(points[0], (at.x, at.y)) <= 1.6 * radius
    if is_click and is_closing:
        bench.do(add_patch, bench.shown.corners)
        bench.shown.is_marking, bench.shown.corners = False, ()
        return
    if is_click:
        x, y = _in_picture(bench, rect, (at.x, at.y), scale)
        corner = min(max(x, 0.0), 1.0), min(max(y, 0.0), 1.0)
        bench.shown.corners = (*bench.shown.corners, corner)
        points.append(_on_screen(bench, rect, corner, scale))
    sheet = imgui.get_window_draw_list()
    sheet.push_clip_rect((rect.left, rect.top), (rect.right, rect.bottom), True)
    ends = [*points, (at.x, at.y)] if rect.contains(at.x, at.y) else points
    for start, end in itertools.pairwise(ends):
        sheet.add_line(start, end, packed(theme.grey(0.05)), max(0.19 * ui.em, 3.0))
        sheet.add_line(start, end, packed(theme.accent()), max(0.07 * ui.em, 1.0))
    sheet.add_circle(points[0], radius, packed(theme.accent()), 0, (0.2 if is_closing else 0.07) * ui.em)
    sheet.pop_clip_rect()


def _on_screen(bench: Bench, rect: Rect, corner: Place, scale: float) -> Place:
    x, y = bench.placement.to_tile(corner[0] * bench.facts.columns, corner[1] * bench.facts.rows)
    return rect.left + x / scale, rect.top + y / scale


def _in_picture(bench: Bench, rect: Rect, point: Place, scale: float) -> Place:
    x, y = bench.placement.to_picture((point[0] - rect.left) * scale, (point[1] - rect.top) * scale)
    return x / bench.facts.columns, y / bench.facts.rows
