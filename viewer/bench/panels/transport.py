"""The row of the timeline with what moves the playhead, and where it is."""

from collections.abc import Sequence

import numpy as np

from .. import theme
from .. import transport_actions as playing
from ..background import Background
from ..bench import Bench
from ..layout import Rect
from ..playback import Playback
from ..toolkit import imgui
from ..widgets import Widgets, packed

Word = tuple[str, float, bool]
"""Words, their grey, and whether they are bold."""


def draw(bench: Bench, ui: Widgets, playback: Playback, area: Rect, background: Background | None) -> None:
    """Draw the buttons from the left, the words from the right."""
    transport = playback.transport
    pause = transport.is_playing
    rows: tuple[tuple[str, str, playing.Action, list[list[tuple[float, float]]]], ...] = (
        ("start", "The first frame (Home)", playing.go_to_start, [_bar(-0.8), _arrow(0.7, -0.5)]),
        ("back", "The frame before (<)", playing.frame_before, [_arrow(0.5, -0.5)]),
        ("play", "Stand on this frame (Enter)" if pause else "Play at the master's rate (Enter)",
         playing.play_or_stand, [_bar(-0.45), _bar(0.25)] if pause else [_arrow(-0.6, 0.8)]),
        ("on", "The next frame (>)", playing.next_frame, [_arrow(-0.5, 0.5)]),
        ("finish", "The last frame (End)", playing.go_to_end, [_bar(0.6), _arrow(-0.7, 0.5)]),
    )  # fmt: skip
    for name, help_text, action, polygons in rows:
        if _button(ui, name, help_text, polygons):
            action(bench, (0, 0))
        imgui.same_line(0.0, 0.25 * ui.em)
    imgui.same_line(0.0, 0.8 * ui.em)
    _marks_and_loop(bench, ui, playback)
    words = [*position_words(playback), *level_words(playback, background)]
    _words(ui, words, imgui.get_item_rect_max().x + ui.em, area)


def _marks_and_loop(bench: Bench, ui: Widgets, playback: Playback) -> None:
    transport = playback.transport
    is_first, is_last = transport.first > 0, transport.last < playback.reel.count - 1
    if ui.button("mark first", "From", "Play from this frame on; once more: from the first. Key (", is_on=is_first):
        playing.mark_first(bench, (0, 0))
    imgui.same_line(0.0, 0.25 * ui.em)
    if ui.button("mark last", "To", "Play up to this frame; once more: to the last. Key )", is_on=is_last):
        playing.mark_last(bench, (0, 0))
    imgui.same_line(0.0, 0.25 * ui.em)
    if ui.button("loop", "Loop", "Play round and round (R)", is_on=transport.is_looping):
        playing.loop_or_not(bench, (0, 0))


def _words(ui: Widgets, said: Sequence[Word], left: float, area: Rect) -> None:
    """Say which frame is shown, at what rate, how many were dropped, and how bright it is."""
    y = area.top + 0.45 * ui.em
    right = area.right - 0.8 * ui.em
    for words, colour, is_bold in said:
        width = ui.width_of(words, is_bold)
        if not words or right - width < left:
            continue
        ui.write(right - width, y, words, theme.grey(colour), is_bold=is_bold)
        right -= width + 1.2 * ui.em


def position_words(playback: Playback) -> list[Word]:
    """Return what is said of the playhead, the most important first."""
    reel, transport = playback.reel, playback.transport
    position = transport.position
    number, last = reel.number(position), reel.number(reel.count - 1)
    timecode = reel.timecode_at(position)
    where = f"frame {number} of {reel.number(0)}\u2013{last}"
    rate = f"{float(reel.rate):.5g} frames/s" + ("" if reel.is_rate_known else ", assumed")
    told = [(timecode or where, theme.TEXT, True)]
    if position in playback.faults:
        told.append(("no picture", theme.TEXT, True))
    if transport.shown + transport.dropped:
        told.append((f"dropped {transport.dropped} of {transport.shown + transport.dropped}", 0.72, False))
    if timecode:
        told.append((where, 0.68, False))
    return [*told, (rate, theme.TEXT_DIM, False)]


def level_words(playback: Playback, background: Background | None) -> list[Word]:
    """Return what is said of the light of the frame that is shown: maximum and average of max(R, G, B)."""
    position = playback.transport.position
    if background is None or np.isnan(background.maximum[position]):
        return []
    maximum, average = background.maximum[position], background.average[position]
    return [(f"max {maximum:.4g}  average {average:.3g} cd/m\u00b2", 0.68, False)]


def _button(ui: Widgets, name: str, help_text: str, polygons: list[list[tuple[float, float]]]) -> bool:
    """Draw a button with a shape on it."""
    side = imgui.get_frame_height()
    is_pressed = imgui.button(f"##{name}", (1.5 * side, side))
    ui.place(name)
    low, high = imgui.get_item_rect_min(), imgui.get_item_rect_max()
    x, y, size = 0.5 * (low.x + high.x), 0.5 * (low.y + high.y), 0.55 * ui.em
    for polygon in polygons:
        points = [imgui.ImVec2(round(x + size * across), round(y + size * down)) for across, down in polygon]
        imgui.get_window_draw_list().add_convex_poly_filled(points, packed(theme.grey(theme.TEXT)))
    ui.help(help_text)
    return bool(is_pressed)


def _arrow(foot: float, tip: float) -> list[tuple[float, float]]:
    """Return a triangle from a foot to a tip, in units of the button's shape."""
    return [(foot, -0.75), (tip, 0.0), (foot, 0.75)]


def _bar(left: float) -> list[tuple[float, float]]:
    return [(left, -0.75), (left + 0.25, -0.75), (left + 0.25, 0.75), (left, 0.75)]
