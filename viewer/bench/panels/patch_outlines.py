"""Patches over the pictures: their outlines in every tile, drawing a new one, moving the chosen one."""

from .. import theme
from ..bench import Bench
from ..layout import Rect
from ..panes import Pane
from ..patch_actions import add_patch, choose_patch, move_patch
from ..toolkit import imgui
from ..widgets import Widgets, packed

LEAST = 4.0  # pixels a side that a hand must draw for a patch

Place = tuple[float, float]


def draw(bench: Bench, ui: Widgets, pane: Pane, scale: float) -> None:
    """Draw the outlines on a pane, and take the hand that draws or moves one. `scale`: framebuffer pixels a unit."""
    if bench.state.master is None:
        return
    rect = pane.tile.picture
    sheet = imgui.get_window_draw_list()
    sheet.push_clip_rect((rect.left, rect.top), (rect.right, rect.bottom), True)
    for index, patch in enumerate(bench.state.patches):
        points = [_on_screen(bench, rect, corner, scale) for corner in patch.corners]
        _outline(ui, sheet, points, index == bench.state.patch)
        name = patch.name if index == bench.state.patch else ""
        if name:
            x, y = points[0][0], points[0][1] - 1.45 * ui.em
            end = (x + ui.width_of(name) + 0.4 * ui.em, y + 1.3 * ui.em)
            sheet.add_rect_filled((x, y), end, packed(theme.grey(theme.PANEL)))
            ui.write(x + 0.2 * ui.em, y, name, theme.accent())
        if not bench.shown.is_marking:
            _take(bench, ui, rect, index, points, scale)
    sheet.pop_clip_rect()
    if bench.shown.is_marking:
        _mark(bench, ui, pane, scale)


def _outline(ui: Widgets, sheet: imgui.ImDrawList, points: list[Place], is_chosen: bool) -> None:
    corners = [imgui.ImVec2(*point) for point in points]
    closed = imgui.ImDrawFlags_.closed
    sheet.add_polyline(corners, packed(theme.grey(0.05)), max(0.19 * ui.em, 3.0), closed)
    ink = theme.accent() if is_chosen else theme.grey(0.78)
    sheet.add_polyline(corners, packed(ink), max(0.07 * ui.em, 1.0), closed)


def _take(bench: Bench, ui: Widgets, rect: Rect, index: int, points: list[Place], scale: float) -> None:
    """Let a hand choose a patch by a click inside its outline, and move it by a drag."""
    x, y = zip(*points, strict=True)
    low = max(min(x), rect.left), max(min(y), rect.top)
    high = min(max(x), rect.right), min(max(y), rect.bottom)
    if high[0] - low[0] < 1.0 or high[1] - low[1] < 1.0:
        return
    imgui.set_next_item_allow_overlap()
    imgui.set_cursor_screen_pos(low)
    if imgui.invisible_button(f"patch {index} {rect.left} {rect.top}", (high[0] - low[0], high[1] - low[1])):
        bench.do(choose_patch, index)
    ui.place(f"patch {index}")
    io, master = imgui.get_io(), bench.state.master
    if master is not None and imgui.is_item_active() and bench.state.patch == index:
        zoom = bench.placement.zoom / scale
        dx, dy = io.mouse_delta.x / zoom / master.facts.columns, io.mouse_delta.y / zoom / master.facts.rows
        if dx or dy:
            bench.do(move_patch, dx, dy)


def _mark(bench: Bench, ui: Widgets, pane: Pane, scale: float) -> None:
    """Take the drag that draws a rectangle."""
    rect = pane.tile.picture
    imgui.set_cursor_screen_pos((rect.left, rect.top))
    is_released = imgui.invisible_button(f"mark {rect.left} {rect.top}", (rect.width, rect.height))
    io = imgui.get_io()
    if not (imgui.is_item_active() or is_released):
        return
    end, gone = io.mouse_pos, imgui.get_mouse_drag_delta(0, 0.0)
    (x0, x1), (y0, y1) = sorted((end.x - gone.x, end.x)), sorted((end.y - gone.y, end.y))
    corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    if not is_released:
        _outline(ui, imgui.get_window_draw_list(), corners, is_chosen=True)
        return
    bench.shown.is_marking = False
    if min(x1 - x0, y1 - y0) >= LEAST:
        bench.do(add_patch, tuple(_in_picture(bench, rect, corner, scale) for corner in corners))


def _on_screen(bench: Bench, rect: Rect, corner: Place, scale: float) -> Place:
    x, y = bench.placement.to_tile(corner[0] * bench.facts.columns, corner[1] * bench.facts.rows)
    return rect.left + x / scale, rect.top + y / scale


def _in_picture(bench: Bench, rect: Rect, point: Place, scale: float) -> Place:
    x, y = bench.placement.to_picture((point[0] - rect.left) * scale, (point[1] - rect.top) * scale)
    return x / bench.facts.columns, y / bench.facts.rows
