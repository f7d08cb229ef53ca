"""The timeline under the tiles: transport, thumbnails with the shots and the playhead, the history of light levels."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tonemap.transfer import pq_eotf_inverse

from ...plots.axis import spread
from .. import theme
from ..background import Background
from ..bench import Bench
from ..layout import Rect
from ..playback import Playback
from ..thumbnail_textures import ThumbnailTextures
from ..toolkit import imgui
from ..widgets import Widgets, dragged, packed
from .transport import draw as draw_transport

FLAGS = imgui.WindowFlags_.no_scrollbar | imgui.WindowFlags_.no_scroll_with_mouse

# Heights in units of the type; a low window goes without the history, a lower one without the thumbnails.
TRANSPORT, NAMES, THUMBNAILS, HISTORY, MARGIN = 2.2, 1.3, 3.2, 3.4, 0.4
LEAST_FOR_HISTORY, LEAST_FOR_THUMBNAILS = 34.0, 24.0

LEVELS = (100.0, 1000.0, 10.0, 4000.0, 203.0, 1.0)
"""cd/m2 that are drawn as lines in the history, those first whose labels are missed most."""

LINE, FIGURE = 1.25, 1.05
"""Height of a line of type, and of a figure on its plate, in units of the type."""

HEADROOM = 1.5
"""How far above the master's peak the history reaches."""


@dataclass(frozen=True)
class Cell:
    """A place for a thumbnail: its left and right edge, and the frame."""

    left: float
    right: float
    frame: int


def height(bench: Bench, em: float, window_height: int) -> int:
    """Return how high the timeline is; 0 where there is nothing to go through."""
    if bench.playback is None or not bench.shown.timeline:
        return 0
    rows = [TRANSPORT, MARGIN]
    if window_height >= LEAST_FOR_THUMBNAILS * em:
        rows += [NAMES, THUMBNAILS, MARGIN]
    if window_height >= LEAST_FOR_HISTORY * em:
        rows += [HISTORY, MARGIN]
    return round(sum(rows) * em)


def draw(bench: Bench, ui: Widgets, area: Rect, background: Background | None, textures: ThumbnailTextures) -> None:
    """Draw the timeline, and take the hand on it."""
    playback = bench.playback
    if playback is None or area.height <= 0:
        return
    with ui.window("timeline", area, FLAGS, padding=(0.5 * ui.em, 0.25 * ui.em)):
        draw_transport(bench, ui, playback, area, background)
        band = _band(ui, area)
        if band.height <= 0:
            return
        _hand(ui, playback, band)
        top = band.top
        if band.height >= (NAMES + THUMBNAILS) * ui.em:
            strip = Rect(band.left, round(top + NAMES * ui.em), band.width, round(THUMBNAILS * ui.em))
            _thumbnails(ui, playback, strip, background, textures)
            _shots(ui, playback, strip)
            _keys(ui, playback, strip)
            top = strip.bottom + round(MARGIN * ui.em)
        if band.bottom - top >= 0.9 * HISTORY * ui.em and background is not None:
            _history(ui, playback, Rect(band.left, top, band.width, band.bottom - top), background)
        _marks(ui, playback, band)
        _playhead(ui, playback, band)


def _band(ui: Widgets, area: Rect) -> Rect:
    """Return what the frames lie over: thumbnails and history."""
    margin = round(0.8 * ui.em)
    top = round(area.top + TRANSPORT * ui.em)
    return Rect(area.left + margin, top, max(area.width - 2 * margin, 1), round(area.bottom - MARGIN * ui.em) - top)


def _x(playback: Playback, band: Rect, frame: float) -> float:
    """Return where a frame begins."""
    return band.left + band.width * frame / playback.reel.count


def _hand(ui: Widgets, playback: Playback, band: Rect) -> None:
    """Take the playhead along with the hand."""
    imgui.set_cursor_screen_pos((band.left, band.top))
    imgui.invisible_button("frames", (band.width, band.height))
    ui.place("frames")
    if imgui.is_item_active() or dragged() != (0.0, 0.0):
        share = (imgui.get_io().mouse_pos.x - band.left) / band.width
        playback.transport.go(int(share * playback.reel.count))


def _shots(ui: Widgets, playback: Playback, strip: Rect) -> None:
    """Write above the thumbnails what the shots are called and what they take, the one that is shown in full."""
    y = strip.top - 1.2 * ui.em
    position = playback.transport.position
    here = next((shot for shot in playback.reel.shots if shot.first <= position <= shot.last), None)
    taken = (float(strip.right), float(strip.left))
    for shot in [*([here] if here else []), *(shot for shot in playback.reel.shots if shot is not here)]:
        left, right = _x(playback, strip, shot.first), _x(playback, strip, shot.last + 1)
        is_here = shot is here
        if is_here:
            wanted = ui.width_of(shot.name, is_bold=True) + 0.8 * ui.em
            right = max(right, min(left + wanted, strip.right))
            left = max(min(left, right - wanted), strip.left)
            taken = left, right
        elif taken[0] <= left < taken[1]:
            continue
        elif left < taken[0]:
            right = min(right, taken[0])
        room = right - left - 0.6 * ui.em
        if room < ui.em:
            continue
        shown = ui.fitting([shot.name], room, is_bold=is_here)
        end = ui.write(left + 0.2 * ui.em, y, shown, theme.grey(theme.TEXT if is_here else 0.68), is_bold=is_here)
        rest = right - end - 0.9 * ui.em
        if shot.trim and rest > 2.0 * ui.em:
            ui.write(end + 0.5 * ui.em, y, ui.fitting([shot.trim], rest), theme.grey(theme.TEXT_DIM))


def _thumbnails(
    ui: Widgets, playback: Playback, strip: Rect, background: Background | None, textures: ThumbnailTextures
) -> None:
    draw = imgui.get_window_draw_list()
    draw.add_rect_filled((strip.left, strip.top), (strip.right, strip.bottom), packed(theme.grey(0.10)))
    facts = playback.reel.facts_at(0)
    cells = thumbnail_cells(playback, strip, facts.columns / facts.rows)
    if background is not None:
        background.want_thumbnails([cell.frame for cell in cells])
        textures.take(background.thumbnails)
        for cell in cells:
            left, right = round(cell.left), round(cell.right)
            textures.draw(draw, cell.frame, Rect(left, strip.top, right - left, strip.height))
    for shot in playback.reel.shots:
        for frame in (shot.first, shot.last + 1):
            x = round(_x(playback, strip, frame)) + 0.5
            draw.add_line((x, strip.top - 1.0 * ui.em), (x, strip.bottom), packed(theme.grey(theme.PANEL)), 2.0)


def _keys(ui: Widgets, playback: Playback, strip: Rect) -> None:
    """Draw a post at the foot of the thumbnails for every frame at which a shot has keys."""
    draw, half = imgui.get_window_draw_list(), max(round(0.08 * ui.em), 1)
    for frame in (frame for shot in playback.reel.shots for frame in shot.keys):
        x = round(_x(playback, strip, frame + 0.5))
        edge = x - half - 1, strip.bottom - 0.8 * ui.em - 1
        draw.add_rect_filled(edge, (x + half + 1, strip.bottom), packed(theme.grey(theme.PANEL)))
        draw.add_rect_filled((x - half, edge[1] + 1), (x + half, strip.bottom), packed(theme.accent()))


def thumbnail_cells(playback: Playback, strip: Rect, aspect: float) -> list[Cell]:
    """Return the places of thumbnails: in every shot as many as fit, each of a frame of that shot.

    A shot's only thumbnail is of its middle frame, or of a key frame before it in the shot; what lies between shots has
    thumbnails too.
    """
    reel = playback.reel
    edges = sorted({0, reel.count, *(shot.first for shot in reel.shots), *(shot.last + 1 for shot in reel.shots)})
    cells = []
    for first, end in pairwise(edges):
        left, right = _x(playback, strip, first), _x(playback, strip, end)
        count = max(1, int((right - left) / (strip.height * aspect)))
        for number in range(count):
            frame = first + int((number + 0.5) / count * (end - first))
            begins = reel.start_before(frame)
            x0, x1 = (left + (right - left) * place / count for place in (number, number + 1))
            if x1 - x0 >= 2.0:
                cells.append(Cell(x0, x1, begins if begins >= first else frame))
    return cells


def _history(ui: Widgets, playback: Playback, rect: Rect, background: Background) -> None:
    """Draw maximum and average of every frame's light over the frames, spaced as PQ."""
    draw = imgui.get_window_draw_list()
    draw.add_rect_filled((rect.left, rect.top), (rect.right, rect.bottom), packed(theme.grey(0.10)))
    peak = max(playback.reel.facts_at(0).encoding.peak, 203.0)
    top = float(pq_eotf_inverse(np.array(min(HEADROOM * peak, 10000.0))))

    def y(nits: np.ndarray) -> np.ndarray:
        places = rect.bottom - rect.height * np.clip(pq_eotf_inverse(nits) / top, 0.0, 1.0)
        return np.asarray(places)

    thickness = max(round(0.09 * ui.em), 1)
    for values, body, edge in ((background.maximum, 0.20, 0.78), (background.average, 0.32, 0.60)):
        for left, right, nits in _columns(values, rect, playback.reel.count):
            at = float(y(np.array(nits)))
            draw.add_rect_filled((left, at), (right, rect.bottom), packed(theme.grey(body)))
            draw.add_rect_filled((left, at), (right, at + thickness), packed(theme.grey(edge)))
    _graticule(ui, rect, [nits for nits in LEVELS if nits <= HEADROOM * peak], y)
    if not background.is_measured:
        words = f"measured {background.measured} of {playback.reel.count} frames"
        left = rect.left + 0.3 * ui.em
        _figure(ui, left, left + ui.width_of(words), rect.top + 0.1 * ui.em, words)


def _columns(values: np.ndarray, rect: Rect, count: int) -> list[tuple[float, float, float]]:
    """Return the left and the right edge of every column of the screen with the greatest value of its frames.

    Where the screen has more columns than there are frames, a column is as wide as its frame.
    """
    measured = np.flatnonzero(~np.isnan(values))
    if not measured.size:
        return []
    lefts = np.floor(measured * rect.width / count)
    starts = np.flatnonzero(np.diff(lefts, prepend=-1.0))
    highest = np.maximum.reduceat(values[measured], starts)
    rights = np.maximum(np.floor((measured[starts] + 1) * rect.width / count), lefts[starts] + 1.0)
    edges = zip(rect.left + lefts[starts], rect.left + rights, highest, strict=True)
    return [(float(left), float(right), float(high)) for left, right, high in edges]


def _graticule(ui: Widgets, rect: Rect, levels: Sequence[float], y: Callable[[np.ndarray], np.ndarray]) -> None:
    """Draw the lines of the levels whose figures have room beside their ends, one below the other."""
    draw = imgui.get_window_draw_list()
    lines = [round(float(y(np.array(nits)))) + 0.5 for nits in levels]
    places = figure_places(lines, ui.em, rect.top, rect.bottom)
    right = rect.right - 0.3 * ui.em
    left = right - max(ui.width_of(f"{levels[index]:g}") for index in places) - 0.3 * ui.em
    for index, middle in places.items():
        words = f"{levels[index]:g}"
        draw.add_line((rect.left, lines[index]), (left, lines[index]), packed(theme.grey(0.22)), 1.0)
        _figure(ui, left + 0.3 * ui.em, right, middle - 0.5 * LINE * ui.em, words)


def figure_places(lines: Sequence[float], em: float, top: float, bottom: float) -> dict[int, float]:
    """Return where the middles of figures lie that stand at their lines, by the number of the line, the first first.

    A figure gives way to others as far as it still touches its line; one that can't is left out.
    """
    room, half = FIGURE * em, 0.5 * LINE * em
    low, high = top + half, bottom - half
    kept: dict[int, float] = {}
    for index in range(len(lines)):
        tried = [*kept, index]
        if (len(tried) - 1) * room > high - low:
            break
        wished = [lines[number] for number in tried]
        found = spread(wished, room, low, high)
        if all(abs(middle - line) <= half for middle, line in zip(found, wished, strict=True)):
            kept = dict(zip(tried, found, strict=True))
    return kept


def _figure(ui: Widgets, left: float, right: float, y: float, words: str) -> None:
    """Write over the history up to the right, on a plate of its ground."""
    around = 0.15 * ui.em
    corners = (left - around, y + 0.1 * ui.em), (right + around, y + 0.1 * ui.em + FIGURE * ui.em)
    imgui.get_window_draw_list().add_rect_filled(*corners, packed(theme.grey(0.10)))
    ui.write(right - ui.width_of(words), y, words, theme.grey(0.68))


def _marks(ui: Widgets, playback: Playback, band: Rect) -> None:
    """Dim what is not played, with a bracket at each mark."""
    transport = playback.transport
    if not transport.is_marked:
        return
    draw = imgui.get_window_draw_list()
    left, right = _x(playback, band, transport.first), _x(playback, band, transport.last + 1)
    top = band.top + NAMES * ui.em  # the names stay readable
    for low, high in ((float(band.left), left), (right, float(band.right))):
        if high > low:
            draw.add_rect_filled((low, top), (high, band.bottom), packed(theme.grey(theme.PANEL, 0.6)))
    thickness, foot = max(round(0.12 * ui.em), 1), 0.45 * ui.em
    for x, way in ((left, 1.0), (right, -1.0)):
        edge = round(x)
        (upright, end), (start, toe) = sorted((edge, edge + way * thickness)), sorted((edge, edge + way * foot))
        draw.add_rect_filled((upright, top), (end, band.bottom), packed(theme.grey(theme.TEXT)))
        for y in (top, band.bottom - thickness):
            draw.add_rect_filled((start, y), (toe, y + thickness), packed(theme.grey(theme.TEXT)))


def _playhead(ui: Widgets, playback: Playback, band: Rect) -> None:
    draw = imgui.get_window_draw_list()
    x = round(_x(playback, band, playback.transport.position + 0.5))
    thickness, half = max(round(0.12 * ui.em), 1), 0.38 * ui.em
    top, bottom = band.top + NAMES * ui.em, band.bottom + MARGIN * ui.em  # below the names, down to the edge
    draw.add_rect_filled((x - 0.5 * thickness, top), (x + 0.5 * thickness, bottom), packed(theme.accent()))
    corners = (x - half, bottom), (x, bottom - 0.65 * ui.em), (x + half, bottom)
    draw.add_triangle_filled(*corners, packed(theme.accent()))
