"""What hands do: keys and the mouse on a picture become actions of the bench. No GL and no imgui."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from tonemap.rendition import Rendition
from tonemap.settings import with_setting

from . import presenting_keys as presenting
from . import sheet_keys
from . import state as actions
from . import transport_actions as playing
from .bench import Bench
from .layout import WHOLE, View, panned, place, stepped_factor, whole_zoom, zoomed
from .patch_actions import add_patch, choose_next_patch, next_kind, remove_patch
from .scopes import KINDS, Scopes
from .showing import COLOURS, DIFFERENCE, FLIP, SIDE_BY_SIDE, WIPE, Line


@dataclass(frozen=True)
class Key:
    """A key with what it does; `names` are characters as typed, or names of keys that type none."""

    names: tuple[str, ...]
    shown: str
    help: str
    action: Callable[[Bench, tuple[int, int]], None]


def show_whole(bench: Bench, _size: tuple[int, int]) -> None:
    """Show the whole picture."""
    bench.do(actions.with_view, WHOLE)


def show_pixels(bench: Bench, size: tuple[int, int]) -> None:
    """Show picture pixels as screen pixels, about the middle, or the whole picture when they are so already."""
    is_there = bench.state.view.zoom == 1.0
    _zoom_to(bench, size, None if is_there else 1.0, (size[0] / 2, size[1] / 2))


def zoom_step(bench: Bench, size: tuple[int, int], steps: float, at: tuple[float, float] | None = None) -> None:
    """Zoom by steps about a point of the tile, or about its middle."""
    placement = bench.placement
    _zoom_to(bench, size, placement.zoom * stepped_factor(placement.zoom, steps), at or (size[0] / 2, size[1] / 2))


def turn_wheel(bench: Bench, size: tuple[int, int], turned: float, at: tuple[float, float]) -> None:
    """Zoom about a point by the whole steps of a wheel, which may turn in small parts of one."""
    turned += bench.shown.turned
    steps = math.trunc(turned + math.copysign(1e-6, turned))
    bench.shown.turned = turned - steps
    if steps:
        zoom_step(bench, size, steps, at)


def pan(bench: Bench, size: tuple[int, int], dx: float, dy: float) -> None:
    """Move the picture by screen pixels."""
    if bench.state.master is not None:
        facts = bench.state.master.facts
        bench.do(actions.with_view, panned(bench.state.view, dx, dy, facts.columns, facts.rows, *size))


def add_rendition(bench: Bench, _size: tuple[int, int] = (0, 0)) -> None:
    """Put a rendition on the bench: the operators of the selected one with their defaults, or the first there are."""
    slot = bench.state.selected_slot
    tone = slot.rendition.tone if slot else bench.host.of_kind("tone")[0].name
    gamut = slot.rendition.gamut if slot else bench.host.of_kind("gamut")[0].name
    bench.do(actions.add, Rendition(bench.host.get(tone).title, tone, gamut))


def duplicate_rendition(bench: Bench, _size: tuple[int, int] = (0, 0)) -> None:
    """Copy the selected rendition."""
    if bench.state.selected is not None:
        bench.do(actions.duplicate, bench.state.selected)


def remove_rendition(bench: Bench, _size: tuple[int, int] = (0, 0)) -> None:
    """Take the selected rendition off the bench."""
    if bench.state.selected is not None:
        bench.remove(bench.state.selected)


def name_rendition(bench: Bench, _size: tuple[int, int] = (0, 0)) -> None:
    """Put the keyboard into the selected rendition's name."""
    if bench.state.selected is not None:
        bench.shown = replace(bench.shown, panel=True, is_naming=True)


def nudge_exposure(bench: Bench, stops: float) -> None:
    """Move the selected rendition's exposure."""
    slot = bench.state.selected_slot
    if slot is not None:
        exposure = round(slot.rendition.input.exposure + stops, 4)
        changed = with_setting(slot.rendition, "input.exposure", min(max(exposure, -8.0), 8.0), bench.host)
        bench.do(actions.with_rendition, slot.key, changed)


def _show_files(bench: Bench, _size: tuple[int, int]) -> None:
    bench.shown = replace(bench.shown, files=True)


def _show_help(bench: Bench, _size: tuple[int, int]) -> None:
    bench.shown = replace(bench.shown, help=True)


def _open_line_up(bench: Bench, _size: tuple[int, int]) -> None:
    bench.line_up.open()


def _ask_monitor(bench: Bench, _size: tuple[int, int]) -> None:
    bench.shown = replace(bench.shown, monitor=True)


def _toggle_panel(bench: Bench, _size: tuple[int, int]) -> None:
    bench.shown = replace(bench.shown, panel=not bench.shown.panel)


def _toggle_timeline(bench: Bench, _size: tuple[int, int]) -> None:
    bench.shown = replace(bench.shown, timeline=not bench.shown.timeline)


def choose_layout(layout: str) -> Callable[[Bench, tuple[int, int]], None]:
    """Return the action that shows the pictures in a layout."""
    return lambda bench, _size: bench.show(layout=layout)


def exchange(bench: Bench, _size: tuple[int, int] = (0, 0)) -> None:
    """Exchange the two pictures that are compared."""
    bench.do(actions.with_showing, bench.state.showing.exchanged(bench.state.keys))


def step(bench: Bench, count: int) -> None:
    """Go to the next rendition: select it, or where two are compared put it in the first one's place."""
    if bench.state.showing.layout == SIDE_BY_SIDE:
        bench.do(actions.select_step, count)
        return
    bench.do(actions.with_showing, bench.state.showing.stepped(count, bench.state.keys))
    first = bench.state.showing.first
    if first is not None:
        bench.do(actions.select, first)


def next_view(bench: Bench, _size: tuple[int, int] = (0, 0)) -> None:
    """Show the next of the views: the picture, luminance, gamut, clipping."""
    views = list(COLOURS)
    bench.show(view=views[(views.index(bench.state.showing.view) + 1) % len(views)])


def mark_patch(bench: Bench, _size: tuple[int, int] = (0, 0)) -> None:
    """Let the next drag or clicks on a picture draw a patch; once more: close the polygon, or leave it."""
    if bench.shown.is_marking and len(bench.shown.corners) > 2:
        bench.do(add_patch, bench.shown.corners)
    bench.shown = replace(bench.shown, is_marking=not bench.shown.is_marking, corners=())


def _show_samples(bench: Bench, _size: tuple[int, int]) -> None:
    bench.shown.samples = True


def _doing(action: Callable[..., actions.BenchState]) -> Callable[[Bench, tuple[int, int]], None]:
    """Return the key's action that does an action of the state."""

    def do(bench: Bench, _size: tuple[int, int]) -> None:
        bench.do(action)

    return do


def turn_line(degrees: float) -> Callable[[Bench, tuple[int, int]], None]:
    """Return the action that turns the line of a wipe against the clock."""
    return lambda bench, _size: bench.show(line=bench.state.showing.line.turned(degrees))


def straighten_line(bench: Bench, _size: tuple[int, int] = (0, 0)) -> None:
    """Put the line of a wipe back upright in the middle."""
    bench.show(line=Line())


def _pan_by(x: float, y: float) -> Callable[[Bench, tuple[int, int]], None]:
    return lambda bench, size: pan(bench, size, x * size[0], y * size[1])


def toggle_scope(kind: str) -> Callable[[Bench, tuple[int, int]], None]:
    """Return the action that opens a scope or closes it."""
    return lambda bench, _size: _set_scopes(bench, bench.shown.scopes.toggled(kind))


def _set_scopes(bench: Bench, scopes: Scopes) -> None:
    bench.shown.scopes = scopes


def _measure_patch(bench: Bench, _size: tuple[int, int]) -> None:
    _set_scopes(bench, replace(bench.shown.scopes, is_of_patch=not bench.shown.scopes.is_of_patch))


HOLD = "tab"
"""The key that shows the other picture of a flip while it is down."""

GROUPS = {
    "Picture": (
        Key(("o",), "O", "open a master", _show_files),
        Key(("w",), "W", "the whole picture", show_whole),
        Key(("1",), "1", "picture pixels as screen pixels; once more: the whole picture", show_pixels),
        Key(("+", "="), "+  \u2212", "closer, farther", lambda bench, size: zoom_step(bench, size, 2)),
        Key(("-",), "\u2212", "", lambda bench, size: zoom_step(bench, size, -2)),
        Key(("left_arrow",), "arrows", "move over the picture", _pan_by(0.25, 0.0)),
        Key(("right_arrow",), "right", "", _pan_by(-0.25, 0.0)),
        Key(("up_arrow",), "up", "", _pan_by(0.0, 0.25)),
        Key(("down_arrow",), "down", "", _pan_by(0.0, -0.25)),
        Key(("v",), "V", "colours in place of the pictures: luminance, gamut, the monitor, clipping", next_view),
    ),
    "Compare": (
        Key(("s",), "S", "all pictures side by side", choose_layout(SIDE_BY_SIDE)),
        Key(("l",), "L", "wipe: two with a line between them", choose_layout(WIPE)),
        Key(("f",), "F", "flip: two in one place, one after the other", choose_layout(FLIP)),
        Key(("e",), "E", "the difference of two", choose_layout(DIFFERENCE)),
        Key(("space",), "Space", "exchange the two", exchange),
        Key((HOLD,), "hold Tab", "flip to the other one as long as the key is down", lambda _bench, _size: None),
        Key(("[",), "[  ]", "turn the line by 5 degrees; { } by 1", turn_line(5.0)),
        Key(("]",), "]", "", turn_line(-5.0)),
        Key(("{",), "{", "", turn_line(1.0)),
        Key(("}",), "}", "", turn_line(-1.0)),
        Key(("\\",), "\\", "the line upright in the middle", straighten_line),
    ),
    "Renditions": (
        Key(
            ("page_down",),
            "Page Down  Up",
            "the next one, the one before",
            lambda bench, _: step(bench, 1),
        ),
        Key(("page_up",), "Page Up", "", lambda bench, _: step(bench, -1)),
        Key(("a",), "A", "add one", add_rendition),
        Key(("d",), "D", "duplicate the selected one", duplicate_rendition),
        Key(("n",), "N", "name it", name_rendition),
        Key(("delete",), "Delete", "take it off the bench", remove_rendition),
        Key((",",), ",  .", "exposure an eighth of a stop down, up", lambda bench, _: nudge_exposure(bench, -0.125)),
        Key((".",), ".", "", lambda bench, _: nudge_exposure(bench, 0.125)),
    ),
    "Patches and samples": (
        Key(("m",), "M", "mark a region: a drag draws a rectangle, clicks a polygon; once more closes it", mark_patch),
        Key(("c",), "C", "choose the next patch; after the last, none", _doing(choose_next_patch)),
        Key(("k",), "K", "another kind for the chosen patch: skin, white, grey, sky", _doing(next_kind)),
        Key(("x",), "X", "take the chosen patch away", _doing(remove_patch)),
        Key(("f3",), "F3", "the last clicks on a picture as a table, to copy", _show_samples),
    ),
    "Scopes": (
        Key(
            ("2",), "2  to  6", "waveform, vectorscope, histogram, chromaticity, transfer plot", toggle_scope(KINDS[0])
        ),
        *(Key((str(number),), "", "", toggle_scope(kind)) for number, kind in enumerate(KINDS[1:], start=3)),
        Key(
            ("7",),
            "7",
            "the waveform: luma, RGB side by side, RGB over each other",
            lambda bench, _size: _set_scopes(bench, bench.shown.scopes.next_form()),
        ),
        Key(
            ("8",),
            "8",
            "the master's traces with the others",
            lambda bench, _size: _set_scopes(bench, bench.shown.scopes.with_master_over()),
        ),
        Key(("z",), "Z", "the chosen patch only", _measure_patch),
    ),
    "Frames and shots": (
        Key(("enter", "keypad_enter"), "Enter", "play at the master's rate; once more: stand", playing.play_or_stand),
        Key((">",), "<  >", "the frame before, the next one", playing.next_frame),
        Key(("<",), "<", "", playing.frame_before),
        Key(("h",), "H  J", "the shot before, the next one", playing.shot_before),
        Key(("j",), "J", "", playing.next_shot),
        Key(("home",), "Home  End", "the first frame, the last one", playing.go_to_start),
        Key(("end",), "End", "", playing.go_to_end),
        Key(
            ("(",),
            "(  )",
            "play from this frame, up to this frame; once more on it: from the first, to the last",
            playing.mark_first,
        ),
        Key((")",), ")", "", playing.mark_last),
        Key(("r",), "R", "play round and round, or not", playing.loop_or_not),
        Key(("t",), "T", "the shot takes the selected rendition; without shots, the programme", sheet_keys.take),
        Key(
            ("i",),
            "I",
            "changes of what the shot takes: in this shot only, or in all that take it",
            sheet_keys.only_here,
        ),
    ),
    "Present": (
        Key(
            ("f11",), "F11", "the pictures alone on the whole screen; once more, or Esc: the bench", presenting.present
        ),
        Key(("g",), "G", "a window for a guest, on the second screen where there is one", presenting.show_guest),
        Key(("q",), "Q", "captions of what is presented, or none", presenting.show_captions),
        Key(("y",), "Y", "the line of a wipe goes to and fro, a flip turns over; once more: stands", presenting.move),
        Key(("9",), "9  0", "it moves slower, quicker", lambda bench, _: presenting.quicken(bench, -1)),
        Key(("0",), "0", "", lambda bench, _: presenting.quicken(bench, 1)),
    ),
    "Screen and window": (
        Key(("f2",), "F2", "say what the screen is: SDR or PQ, its primaries, its peak", _ask_monitor),
        Key(("u",), "U", "line-up patterns in the whole window: arrows for another one, Esc leaves", _open_line_up),
        Key(("p",), "P", "show or hide the panel", _toggle_panel),
        Key(("b",), "B", "show or hide the band of frames", _toggle_timeline),
        Key(("?", "f1"), "?  F1", "this sheet", _show_help),
    ),
}
"""The keys by what they are for, as the help sheet shows them."""

KEYS = tuple(key for keys in GROUPS.values() for key in keys)

GOES_ON = frozenset(
    (
        *("+", "=", "-", "left_arrow", "right_arrow", "up_arrow", "down_arrow", "[", "]", "{", "}"),
        *(",", ".", "<", ">", "page_down", "page_up", "h", "j"),
    )
)
"""The names of keys that go on while they are held down; every other one counts once, or pictures would flash."""

MOUSE = (
    ("wheel on a picture", "zoom about the pointer, in all tiles"),
    ("drag a picture", "move over it, in all tiles"),
    ("click a rendition", "select it for the panel"),
    ("drag a track", "change a setting; with Shift in fine steps"),
    ("double click a name or a track", "back to the default; so does the small mark"),
    ("Ctrl and click a track", "type the value; or click the number beside it"),
    ("click the post of a row", "a key at this frame; with one on another frame the value runs between them"),
    ("drag the ring on the line", "move the line of a wipe; the small ring turns it; with Shift in fine steps"),
    ("click or drag a patch", "choose it, move it; its name and kind stand beside it"),
    ("click a picture", "keep what is there in every tile as a sample (F3)"),
    ("Ctrl C, Ctrl V", "copy the selected rendition's settings as text; paste them on another"),
    ("drag over the band of frames", "go through them; the line is the frame that is shown"),
    ("drop a file", "open it: a master, a folder or several frames of a sequence, a trim sheet"),
)


def press(bench: Bench, name: str, size: tuple[int, int]) -> bool:
    """Do what a key does; returns whether it does anything."""
    key = next((key for key in KEYS if name.lower() in key.names), None)
    if key is not None:
        key.action(bench, size)
    return key is not None


def _zoom_to(bench: Bench, size: tuple[int, int], zoom: float | None, at: tuple[float, float]) -> None:
    if bench.state.master is None:
        return
    if zoom is None:
        show_whole(bench, size)
        return
    columns, rows = bench.state.master.facts.columns, bench.state.master.facts.rows
    before = place(bench.state.view, columns, rows, *size)
    view = zoomed(bench.state.view, zoom / before.zoom, at, columns, rows, *size)
    fit = whole_zoom(columns, rows, *size)
    is_whole = view.zoom is not None and zoom < before.zoom and view.zoom <= fit * (1.0 + 1e-9) and fit < 1.0
    # The factor was a quotient: what was meant is the zoom itself, 1:1 above all.
    exact = View(zoom, view.centre) if view.zoom is not None and abs(view.zoom - zoom) < 1e-6 * zoom else view
    bench.do(actions.with_view, WHOLE if is_whole else exact)
