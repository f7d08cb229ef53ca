"""The legend of the colours that stand in place of a picture, in its lower left corner."""

from collections.abc import Sequence

import numpy as np

from .. import theme
from ..bench import Bench
from ..interface_encoding import interface_signal
from ..panes import Pane
from ..toolkit import imgui
from ..widgets import Widgets, packed

Light = tuple[float, float, float]

LINE, MARGIN, LARGEST_SHARE = 1.25, 0.6, 0.62  # in units of the type; of the tile's height


def draw(bench: Bench, ui: Widgets, pane: Pane) -> None:
    """Draw the legend of every picture on a pane: the left one's at the left, the right one's at the right."""
    for index, key in enumerate(pane.pictures):
        colours = bench.colours(key)
        if colours is not None and not pane.is_difference:
            _draw(ui, pane, f"legend {key}", [(mark.title, mark.light) for mark in colours.marks], index == 1)


def _draw(ui: Widgets, pane: Pane, name: str, marks: Sequence[tuple[str, Light | None]], is_right: bool) -> None:
    rect, em = pane.tile.picture, ui.em
    named = [(title, light) for title, light in marks if title and light is not None]
    if (len(named) * LINE + 2.0) * em > LARGEST_SHARE * rect.height or rect.width < 14.0 * em:
        _draw_row(ui, pane, name, named)
        return
    width = max(ui.width_of(title) for title, _ in named) + 1.6 * em
    height = len(named) * LINE * em
    left = rect.right - width - 3.0 * MARGIN * em if is_right else rect.left + MARGIN * em
    top = rect.bottom - height - 3.0 * MARGIN * em
    _box(ui, name, left, top, width + 2.0 * MARGIN * em, height + 2.0 * MARGIN * em)
    sheet = imgui.get_window_draw_list()
    for index, (title, light) in enumerate(reversed(named)):
        y = top + MARGIN * em + index * LINE * em
        x = left + MARGIN * em
        sheet.add_rect_filled((x, y + 0.15 * em), (x + 1.0 * em, y + 1.1 * em), packed(_colour(light)))
        ui.write(x + 1.6 * em, y, title, theme.grey(0.76))


def _draw_row(ui: Widgets, pane: Pane, name: str, named: Sequence[tuple[str, Light]]) -> None:
    """Draw the colours alone where there is no room for words, from dark to bright; the words are a help text."""
    rect, em = pane.tile.picture, ui.em
    side = min(0.9 * em, (rect.width - 2.0 * MARGIN * em) / max(len(named), 1))
    left, top = rect.left + 0.3 * em, rect.bottom - 1.4 * em
    _box(ui, name, left, top, side * len(named) + 0.4 * em, 1.2 * em)
    ui.help("\n".join(title for title, _ in reversed(named)))
    for index, (_, light) in enumerate(named):
        x = left + 0.2 * em + index * side
        imgui.get_window_draw_list().add_rect_filled(
            (x, top + 0.2 * em), (x + side, top + 1.0 * em), packed(_colour(light))
        )


def _box(ui: Widgets, name: str, left: float, top: float, width: float, height: float) -> None:
    imgui.set_cursor_screen_pos((left, top))
    imgui.invisible_button(name, (width, height))
    ui.place(name)
    imgui.get_window_draw_list().add_rect_filled(
        (left, top), (left + width, top + height), packed(theme.grey(theme.PANEL))
    )


def _colour(light: Light) -> theme.Colour:
    red, green, blue = (float(value) for value in interface_signal(np.array(light)))
    return red, green, blue, 1.0
