"""The second bar: the layout, the two pictures that it compares, and at the right what else there is to look with."""

from collections.abc import Callable
from dataclasses import dataclass

from .. import input as hands
from ..bench import Bench
from ..layout import Rect
from ..showing import COLOURS, DIFFERENCE, FLIP, HEAT_TOPS, LAYOUTS, SIDE_BY_SIDE, WIPE, Key
from ..toolkit import imgui
from ..widgets import Widgets

FLAGS = imgui.WindowFlags_.no_scrollbar | imgui.WindowFlags_.no_scroll_with_mouse
KEYS = {SIDE_BY_SIDE: "S", WIPE: "L", FLIP: "F", DIFFERENCE: "E"}
BETWEEN = {WIPE: "to", FLIP: "then", DIFFERENCE: "from"}
MASTER = "master"
SCALE, LEAST_FOR_SCALE = 6.0, 18.0
"""Width of the list of scales, and of the room for it and the two lists before it, in units of the type."""


@dataclass(frozen=True)
class Tool:
    """A button at the right, with the key that does the same; `is_on` says whether it is marked."""

    name: str
    title: str
    help: str
    key: str
    is_on: Callable[[Bench], bool]


def _is_open(bench: Bench) -> bool:
    return bool(bench.shown.scopes.open)


TOOLS = (
    Tool("scopes", "Scopes", "The scopes, below the pictures; 2 to 6 open each of them", "", _is_open),
    Tool(
        "mark",
        "Mark",
        "Mark a patch: drag a rectangle on a picture, or click the corners of a polygon (M)",
        "m",
        lambda bench: bench.shown.is_marking,
    ),
    Tool(
        "samples", "Samples", "The last clicks on a picture, as a table (F3)", "f3", lambda bench: bench.shown.samples
    ),
    Tool("present", "Present", "The pictures alone on the whole screen; Esc comes back (F11)", "f11", lambda _: False),
)


def draw(bench: Bench, ui: Widgets, area: Rect) -> None:
    """Draw the bar."""
    if area.height <= 0:
        return
    with ui.window("showing", area, FLAGS, padding=(0.5 * ui.em, 0.15 * ui.em)):
        showing = bench.state.showing
        for layout, (title, help_text) in LAYOUTS.items():
            if ui.button(f"layout {layout}", title, f"{help_text} ({KEYS[layout]})", is_on=showing.layout == layout):
                hands.choose_layout(layout)(bench, (0, 0))
            imgui.same_line()
        imgui.same_line(0.0, 0.8 * ui.em)
        titles = {view: (title, help_text) for view, (title, help_text) in COLOURS.items()}
        chosen = ui.combo("view", titles, showing.view, 7.0 * ui.em)
        words = "itself, or in colours its luminance, its gamut, its clipping, what the monitor can't show"
        ui.help(f"What is shown of every picture: {words} (V)")
        if chosen is not None:
            bench.show(view=chosen)
        if showing.layout != SIDE_BY_SIDE and len(bench.state.keys) > 1:
            _pair(bench, ui, area)
        _tools(bench, ui, area)


def _tools(bench: Bench, ui: Widgets, area: Rect) -> None:
    """Draw as many of the buttons at the right as there is room for."""
    padding, gap = imgui.get_style().frame_padding.x, imgui.get_style().item_spacing.x
    room = area.width - (imgui.get_item_rect_max().x - area.left) - 1.5 * ui.em
    tools = list(TOOLS)
    while tools and sum(ui.width_of(tool.title) + 2.0 * padding + gap for tool in tools) > room:
        tools.pop()
    width = sum(ui.width_of(tool.title) + 2.0 * padding + gap for tool in tools) - gap
    for index, tool in enumerate(tools):
        imgui.same_line(0.0 if index else area.width - width - 0.7 * ui.em, gap if index else -1.0)
        if ui.button(tool.name, tool.title, tool.help, is_on=tool.is_on(bench)):
            if tool.key:
                hands.press(bench, tool.key, (0, 0))
            else:
                bench.shown.scopes = bench.shown.scopes.opened_or_closed()


def name_of(bench: Bench, key: Key) -> str:
    """Return what a picture is called."""
    return "Master" if key is None else bench.state.slot(key).rendition.name


def _pair(bench: Bench, ui: Widgets, area: Rect) -> None:
    """Draw the two choices, and the button between them that exchanges them."""
    showing, keys = bench.state.showing, bench.state.keys
    options = {MASTER if key is None else str(key): (name_of(bench, key), "") for key in keys}
    pair = showing.pair(keys)
    imgui.same_line(0.0, 1.2 * ui.em)
    room = area.right - imgui.get_cursor_screen_pos().x - 6.5 * ui.em
    has_scale = showing.layout == DIFFERENCE and room > LEAST_FOR_SCALE * ui.em
    room -= (SCALE + 0.5) * ui.em * has_scale
    width = min(max(0.5 * room, 3.0 * ui.em), 13.0 * ui.em)
    for index, key in enumerate(pair):
        chosen = ui.combo(f"pair {index}", options, MASTER if key is None else str(key), width)
        if chosen is not None:
            picked = None if chosen == MASTER else int(chosen)
            bench.show(**vars(showing.with_picture(index, picked, keys)))
        imgui.same_line()
        if index == 0:
            words = BETWEEN[showing.layout]
            if ui.button("exchange", words, "Exchange the two (Space)", width=3.2 * ui.em):
                hands.exchange(bench)
            imgui.same_line()
    if has_scale:
        tops = {f"{top:g}": (f"up to {top:g}", "") for top in sorted({*HEAT_TOPS, showing.heat_top})}
        chosen = ui.combo("scale top", tops, f"{showing.heat_top:g}", SCALE * ui.em)
        ui.help("Delta E ITP at the end of the colours' scale")
        if chosen is not None:
            bench.show(heat_top=float(chosen))
