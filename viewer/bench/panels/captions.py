"""The tiles' captions and readings, and the hands on the pictures."""

from .. import input as hands
from .. import theme
from ..bench import Bench
from ..layout import Rect, Tile
from ..probe import MasterReading, RenditionReading
from ..state import SCREEN, Slot, select
from ..toolkit import imgui
from ..widgets import Widgets, packed
from ..workings import Working

FLAGS = imgui.WindowFlags_.no_background | imgui.WindowFlags_.no_scrollbar | imgui.WindowFlags_.no_scroll_with_mouse
NITS = "cd/m²"
ANCHOR_NAMES = {"grey": "18 % grey", "white": "white", "peak": "peak"}


def draw(bench: Bench, ui: Widgets, area: Rect, tiles: tuple[Tile, ...], scale: float) -> None:
    """Draw what is around the pictures; the pictures themselves are drawn beneath. `scale`: pixels a unit."""
    with ui.window("tiles", area, FLAGS, padding=(0.0, 0.0)):
        bench.pointed = None
        slots: tuple[Slot | None, ...] = (None, *bench.state.slots)
        for slot, tile in zip(slots, tiles, strict=True):
            _picture(bench, ui, slot, tile, scale)
        for slot, tile in zip(slots, tiles, strict=True):
            if slot is None:
                _master(bench, ui, tile)
            else:
                _rendition(bench, ui, slot, tile)


def _picture(bench: Bench, ui: Widgets, slot: Slot | None, tile: Tile, scale: float) -> None:
    name = f"picture {slot.key}" if slot else "picture master"
    if slot is not None:
        imgui.set_cursor_screen_pos((tile.caption.left, tile.caption.top))
        if imgui.invisible_button(f"caption {slot.key}", (tile.caption.width, tile.caption.height)):
            bench.do(select, slot.key)
        ui.place(f"caption {slot.key}")
        ui.help(_full_caption(bench, slot))
    imgui.set_cursor_screen_pos((tile.picture.left, tile.picture.top))
    is_released = imgui.invisible_button(name, (tile.picture.width, tile.picture.height))
    ui.place(name)
    io = imgui.get_io()
    size = round(tile.picture.width * scale), round(tile.picture.height * scale)
    at = (io.mouse_pos.x - tile.picture.left) * scale, (io.mouse_pos.y - tile.picture.top) * scale
    moved = imgui.get_mouse_drag_delta(0, hands.CLICK_SLACK)
    if is_released and slot is not None and (moved.x, moved.y) == (0.0, 0.0):
        bench.do(select, slot.key)
    if imgui.is_item_active() and (io.mouse_delta.x or io.mouse_delta.y):
        hands.pan(bench, size, io.mouse_delta.x * scale, io.mouse_delta.y * scale)
    if imgui.is_item_hovered():
        if io.mouse_wheel:
            hands.zoom_step(bench, size, io.mouse_wheel, at)
        bench.pointed = _pixel(bench, at)


def _pixel(bench: Bench, at: tuple[float, float]) -> tuple[int, int] | None:
    """Return the picture's pixel under a point of a tile: of the middle of the screen pixel there."""
    if bench.state.master is None:
        return None
    picture = bench.state.master.picture
    x, y = bench.placement.to_picture(int(at[0]) + 0.5, int(at[1]) + 0.5)
    return (int(x), int(y)) if 0.0 <= x < picture.columns and 0.0 <= y < picture.rows else None


def _master(bench: Bench, ui: Widgets, tile: Tile) -> None:
    master = bench.state.master
    if master is None:
        _words(ui, tile, "No master yet", "drop a file here, or press O to choose one", theme.TEXT_DIM)
        return
    reading = bench.master_reading()
    readings = _master_readings(reading) if reading else ()
    is_hdr = master.picture.encoding.peak > SCREEN.peak
    _caption(ui, tile, "HDR master" if is_hdr else "Master", master.path.name, _window_words(bench), readings)


def _window_words(bench: Bench) -> list[str]:
    """Say what the SDR screen shows of the master."""
    window = bench.state.window
    master = bench.state.master
    if master is not None and master.picture.encoding.peak <= SCREEN.peak:
        return ["all of its light, as is", "as is"]
    if window == SCREEN.peak:
        return [f"light up to {window:g} {NITS} as is, clipped above", f"as is to {window:g} {NITS}, then clipped"]
    share = f"{SCREEN.peak / window * 100.0:.3g} %"
    return [
        f"light up to {window:.4g} {NITS}, shown at {share}, clipped above",
        f"to {window:.4g} {NITS}, at {share}, then clipped",
    ]


def _rendition(bench: Bench, ui: Widgets, slot: Slot, tile: Tile) -> None:
    rendition = slot.rendition
    is_selected = slot.key == bench.state.selected
    if is_selected:
        thickness = max(round(0.13 * ui.em), 1)
        top = tile.picture.top - thickness
        imgui.get_window_draw_list().add_rect_filled(
            (tile.frame.left, top), (tile.frame.right, tile.picture.top), packed(theme.accent())
        )
    working, fault = bench.working(slot), bench.fault(slot)
    titles = _titles(bench, slot)
    if fault is not None:
        _caption(ui, tile, rendition.name, titles, ["can't be shown"], ())
        _fault(ui, tile, fault)
        ui.place(f"fault {slot.key}")
        return
    reading = bench.reading(slot)
    anchors = _anchor_words(working) if working else [""]
    _caption(ui, tile, rendition.name, titles, anchors, _rendition_readings(reading) if reading else ())


def _full_caption(bench: Bench, slot: Slot) -> str:
    """Return all that the caption says, for where it has to be cut."""
    working = bench.working(slot)
    landings = [
        f"{ANCHOR_NAMES[item.name]}: {item.master:g} to {item.nits:.4g} {NITS}, signal {100.0 * item.signal:.1f} %"
        for item in (working.anchors if working else ())
    ]
    return "\n".join([slot.rendition.name, _titles(bench, slot), *landings])


def _titles(bench: Bench, slot: Slot) -> str:
    names = (slot.rendition.tone, slot.rendition.gamut)
    operators = bench.host.operators
    return " + ".join(operators[name].operator.title if name in operators else name for name in names)


def _anchor_words(working: Working) -> list[str]:
    landings = [(ANCHOR_NAMES[item.name], item.nits, 100.0 * item.signal) for item in working.anchors]
    return [
        "     ".join(f"{name} {nits:.3g} {NITS}, {signal:.1f} %" for name, nits, signal in landings),
        "    ".join(f"{name} {nits:.3g} {NITS}, {signal:.0f} %" for name, nits, signal in landings),
        "    ".join(f"{name} {nits:.3g} · {signal:.0f} %" for name, nits, signal in landings),
        "   ".join(f"{name.split()[-1]} {nits:.3g} · {signal:.0f} %" for name, nits, signal in landings),
        "  ".join(f"{name.split()[-1]} {nits:.3g}·{signal:.0f}%" for name, nits, signal in landings),
        "   ".join(f"{name.split()[-1]} {nits:.3g} · {signal:.0f} %" for name, nits, signal in landings[:2]),
    ]


def _caption(ui: Widgets, tile: Tile, name: str, dim: str, second: list[str], readings: tuple[str, ...]) -> None:
    """Write two lines above the picture and the reading below it, or over the second line where there is no room."""
    left, width = tile.frame.left + 0.1 * ui.em, tile.frame.width - 0.2 * ui.em
    top = tile.frame.top
    shown = ui.fitting([name], width, is_bold=True)
    end = ui.write(left, top, shown, theme.grey(theme.TEXT), is_bold=True)
    rest = left + width - end - 0.8 * ui.em
    if rest > 3.0 * ui.em:
        ui.write(end + 0.8 * ui.em, top, ui.fitting([dim], rest), theme.grey(theme.TEXT_DIM))
    if tile.reading is None and readings:
        second = list(readings)
    ui.write(left, top + 1.2 * ui.em, ui.fitting(second, width), theme.grey(0.68))
    if tile.reading is not None and readings:
        y = tile.reading.top + 0.05 * ui.em
        ui.write(left, y, ui.fitting(readings, width), theme.grey(theme.TEXT))


def _master_readings(reading: MasterReading) -> tuple[str, ...]:
    red, green, blue = (_nits(value) for value in reading.light)
    level = _nits(reading.luminance)
    samples = " ".join(f"{value:.0f}" if reading.are_codes else f"{value:.4g}" for value in reading.samples)
    own = f"{'codes' if reading.are_codes else 'values'} {samples}"
    return (
        f"R {red}  G {green}  B {blue}   Y {level} {NITS}     {own}",
        f"R {red}  G {green}  B {blue}   Y {level}    {own}",
        f"R {red} G {green} B {blue}  Y {level}",
        f"Y {level} {NITS}",
    )


def _rendition_readings(reading: RenditionReading | str) -> tuple[str, ...]:
    if isinstance(reading, str):
        return (reading,)
    level = _nits(reading.luminance)
    signal = " ".join(f"{100.0 * value:.1f}" for value in reading.signal)
    codes = " ".join(f"{code}" for code in reading.codes) if reading.codes else "none"
    return (
        f"codes {codes}     signal {signal} %     Y {level} {NITS}",
        f"codes {codes}    {signal} %    Y {level} {NITS}",
        f"{codes}   {signal} %   Y {level}",
        f"{codes}   Y {level}",
        f"Y {level}",
    )


def _nits(value: float) -> str:
    return f"{value:.1f}" if value >= 100.0 else f"{value:.2f}" if value >= 1.0 else f"{value:.4f}"


def _fault(ui: Widgets, tile: Tile, sentence: str) -> None:
    """Write on the tile what is wrong, where the picture would be."""
    margin = ui.em
    imgui.set_cursor_screen_pos((tile.picture.left + margin, tile.picture.top + margin))
    imgui.push_text_wrap_pos(tile.picture.right - margin - imgui.get_window_pos().x)
    imgui.push_clip_rect((tile.picture.left, tile.picture.top), (tile.picture.right, tile.picture.bottom), True)
    ui.text(sentence, theme.grey(theme.TEXT))
    imgui.pop_clip_rect()
    imgui.pop_text_wrap_pos()


def _words(ui: Widgets, tile: Tile, first: str, second: str, level: float) -> None:
    """Write in the middle of a tile that has no picture."""
    x = tile.picture.left + 0.5 * tile.picture.width
    y = tile.picture.top + 0.5 * tile.picture.height
    for offset, text in ((-1.4, first), (0.2, second)):
        shown = ui.fitting([text], tile.picture.width)
        ui.write(x - 0.5 * ui.width_of(shown), y + offset * ui.em, shown, theme.grey(level))
