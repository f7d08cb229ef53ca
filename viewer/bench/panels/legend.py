"""The legend of the colours that stand in place of pictures: below the tiles, once for all that have the same.

Where a difference is shown, its scale stands there.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tonemap.picture_colours import LUMINANCE, Mark

from .. import theme
from ..bench import Bench
from ..interface_encoding import interface_signal
from ..layout import Rect
from ..showing import DIFFERENCE, Key
from ..toolkit import imgui
from ..widgets import Widgets, packed
from ..wording import NITS
from . import difference_scale
from .captions import FLAGS
from .showing_bar import name_of

# In units of the type: height of a line, side of a colour, from it to its words, between two, around all.
LINE, SIDE, BESIDE, GAP, MARGIN = 1.3, 0.85, 0.4, 1.1, 0.5
LARGEST_SHARE = 0.25
"""Of the height that tiles and legend have together; where words need more, the colours stand alone."""

UNMARKED = 0.35
"""The grey that stands for pixels without a colour, as the interface's code."""


@dataclass(frozen=True)
class Group:
    """Marks that some pictures have in common; the title names the pictures, '' where all have them."""

    title: str
    marks: tuple[Mark, ...]


@dataclass(frozen=True)
class Item:
    """A mark, or a group's title (then `mark` is None), at a place in the lines; without words a colour alone."""

    x: float
    line: int
    words: str
    mark: Mark | None = None


def below(bench: Bench, ui: Widgets, area: Rect) -> tuple[Rect, Rect]:
    """Divide what is there for tiles: the upper part for them, the lower one for the legend, 0 high without one."""
    groups = groups_of(bench)
    if area.height <= 1 or not (groups or _is_difference(bench)):
        return area, Rect(area.left, area.bottom, area.width, 0)
    if not groups:
        return _divided(area, round(difference_scale.ROOM * ui.em))
    height = round((LINE * (_laid(ui, groups, area.width)[-1].line + 1) + MARGIN) * ui.em)
    if height > LARGEST_SHARE * area.height:
        height = round(_row_height(ui))
    return _divided(area, height)


def draw(bench: Bench, ui: Widgets, room: Rect) -> None:
    """Draw the legend in the room that `below` gave: with words, or the colours alone where it is one line high."""
    groups = groups_of(bench)
    if room.height <= 0:
        return
    with ui.window("legend", room, FLAGS, padding=(0.0, 0.0)):
        if not groups:
            difference_scale.draw(bench, ui, room)
            return
        items = _laid(ui, groups, room.width)
        if items[-1].line > 0 and room.height <= round(_row_height(ui)):
            items = _row(ui, groups, room.width)
        em, sheet = ui.em, imgui.get_window_draw_list()
        for index, item in enumerate(items):
            x, y = room.left + item.x, room.top + item.line * LINE * em
            if item.mark is None:
                ui.write(x, y, item.words, theme.grey(theme.TEXT))
                continue
            top = y + 0.2 * em
            sheet.add_rect_filled((x, top), (x + SIDE * em, top + SIDE * em), packed(_colour(item.mark)))
            if item.words:
                ui.write(x + (SIDE + BESIDE) * em, y, item.words, theme.grey(0.72))
                continue
            imgui.set_cursor_screen_pos((x, top))
            imgui.invisible_button(f"legend {index}", (SIDE * em, SIDE * em))
            ui.place(f"legend {index}")
            ui.help(item.mark.title)
    if ui.places is not None:
        ui.places["legend"] = room


def groups_of(bench: Bench) -> list[Group]:
    """Return what the legend says of the pictures that the layout compares, from dark to bright."""
    keys = bench.state.showing.compared(bench.state.keys)
    found: dict[tuple[Mark, ...], list[Key]] = {}
    for key in keys:
        colours = bench.colours(key)
        if colours is not None:
            found.setdefault(tuple(mark for mark in colours.marks if mark.title), []).append(key)
    unit = NITS if bench.state.showing.view == LUMINANCE else ""
    if len(found) == 1 and (not unit or None in keys):
        return [Group(unit, marks) for marks in found]
    renditions = [key for key in keys if key is not None]

    def named(having: Sequence[Key]) -> str:
        is_all = having == renditions and len(having) > 1
        return "Renditions" if is_all else ", ".join(name_of(bench, key) for key in having)

    return [Group(", ".join(filter(None, (named(having), unit))), marks) for marks, having in found.items()]


def _is_difference(bench: Bench) -> bool:
    return bench.state.showing.layout == DIFFERENCE and bench.state.master is not None and len(bench.state.keys) > 1


def _divided(area: Rect, height: int) -> tuple[Rect, Rect]:
    height = min(height, area.height - 1)
    tiles = Rect(area.left, area.top, area.width, area.height - height)
    return tiles, Rect(area.left, tiles.bottom, area.width, height)


def _row_height(ui: Widgets) -> float:
    return (LINE + MARGIN) * ui.em


def _laid(ui: Widgets, groups: Sequence[Group], width: float) -> list[Item]:
    """Lay the marks of each group side by side, in as many lines as they take, behind the groups' titles."""
    em = ui.em
    titles = [ui.fitting([group.title], 0.3 * width) for group in groups]
    first = MARGIN * em + max(ui.width_of(title) + GAP * em if title else 0.0 for title in titles)
    items: list[Item] = []
    line = -1
    for group, title in zip(groups, titles, strict=True):
        line += 1
        x = first
        items += [Item(MARGIN * em, line, title)] if title else []
        for mark in group.marks:
            taken = (SIDE + BESIDE) * em + ui.width_of(mark.title)
            if x > first and x + taken > width - MARGIN * em:
                x, line = first, line + 1
            items.append(Item(x, line, mark.title, mark))
            x += taken + GAP * em
    return items


def _row(ui: Widgets, groups: Sequence[Group], width: float) -> list[Item]:
    """Lay the colours alone in one line; the words are help texts."""
    em = ui.em
    colours = sum(len(group.marks) for group in groups) * SIDE + len(groups) * (GAP + BESIDE)
    room = max((width - (2.0 * MARGIN + colours) * em) / len(groups), 0.0)
    items: list[Item] = []
    x = MARGIN * em
    for group in groups:
        title = ui.fitting([group.title, group.title.removesuffix(f", {NITS}")], room) if group.title else ""
        if title:
            items.append(Item(x, 0, title))
            x += ui.width_of(title) + BESIDE * em
        for mark in group.marks:
            items.append(Item(x, 0, "", mark))
            x += SIDE * em
        x += GAP * em
    return items


def _colour(mark: Mark) -> theme.Colour:
    if mark.light is None:
        return theme.grey(UNMARKED)
    red, green, blue = (float(value) for value in interface_signal(np.array(mark.light)))
    return red, green, blue, 1.0
