"""The tiles' captions and readings, and the hands on the pictures."""

from collections.abc import Callable, Sequence

from tonemap.encoding import sdr_target

from .. import input as hands
from .. import theme
from ..bench import Bench
from ..layout import Rect, Tile
from ..panes import Caption, Pane
from ..samples import take_sample
from ..showing import Key
from ..state import Slot, select
from ..toolkit import imgui
from ..widgets import Widgets, dragged, gone, packed
from ..wording import (
    all_anchors,
    anchor_words,
    common_wording,
    master_patch_words,
    master_readings,
    patch_words,
    rendition_readings,
    window_words,
)

FLAGS = imgui.WindowFlags_.no_background | imgui.WindowFlags_.no_scrollbar | imgui.WindowFlags_.no_scroll_with_mouse

# In units of the type: beside a caption, the side of the mark at its end, the room of the light at its beginning.
MARGIN, MARK, LIGHT = 0.1, 0.9, 1.1


def draw(
    bench: Bench,
    ui: Widgets,
    area: Rect,
    panes: Sequence[Pane],
    scale: float,
    over: Sequence[Callable[[Bench, Widgets, Pane], None]],
) -> None:
    """Draw what is around the pictures and over them; the pictures themselves are drawn beneath.

    Parameters
    ----------
    scale : framebuffer pixels a unit
    over : what draws over a pane, the first on top
    """
    with ui.window("tiles", area, FLAGS, padding=(0.0, 0.0)):
        bench.pointed = None
        sheet = imgui.get_window_draw_list()
        sheet.channels_split(len(over))
        for pane in panes:
            for depth, draw_over in enumerate(over):  # the first of what lies there takes the hand
                sheet.channels_set_current(len(over) - 1 - depth)
                draw_over(bench, ui, pane)
            take_hand(bench, ui, pane, scale)
        sheet.channels_merge()
        captions = [caption for pane in panes for caption in pane.captions]
        width = captions[0].tile.frame.width - 2.0 * MARGIN * ui.em
        slots = [bench.state.slot(caption.key) for caption in captions if caption.key is not None]
        anchors = {slot.key: _anchors(bench, slot) for slot in slots}
        readings = {slot.key: _readings(bench, slot) for slot in slots}
        chosen = [
            common_wording([text for text in texts.values() if len(text) > 1], lambda text: ui.width_of(text) <= width)
            for texts in (anchors, readings)
        ]
        for caption in captions:
            if caption.key is None:
                _master(bench, ui, caption)
            else:
                slot = bench.state.slot(caption.key)
                _rendition(bench, ui, slot, caption, anchors[slot.key][chosen[0] :], readings[slot.key][chosen[1] :])


def _caption_button(bench: Bench, ui: Widgets, slot: Slot, tile: Tile) -> None:
    imgui.set_cursor_screen_pos((tile.caption.left, tile.caption.top))
    if imgui.invisible_button(f"caption {slot.key}", (tile.caption.width, tile.caption.height)):
        bench.do(select, slot.key)
    ui.place(f"caption {slot.key}")
    working = bench.working(slot)
    ui.help("\n".join([slot.rendition.name, _titles(bench, slot)[0], all_anchors(working) if working else ""]).strip())


def take_hand(bench: Bench, ui: Widgets, pane: Pane, scale: float) -> None:
    """Take the hand on a picture, which what lies over it has not taken already."""
    tile, only = pane.tile, pane.pictures[0] if len(pane.pictures) == 1 else None
    slot = bench.state.slot(only) if only is not None else None
    name = picture_name(pane.pictures)
    imgui.set_cursor_screen_pos((tile.picture.left, tile.picture.top))
    is_released = imgui.invisible_button(name, (tile.picture.width, tile.picture.height))
    ui.place(name)
    io = imgui.get_io()
    size = round(tile.picture.width * scale), round(tile.picture.height * scale)
    at = (io.mouse_pos.x - tile.picture.left) * scale, (io.mouse_pos.y - tile.picture.top) * scale
    is_click = is_released and gone() == (0.0, 0.0)
    if is_click and slot is not None:
        bench.do(select, slot.key)
    if (by := dragged()) != (0.0, 0.0):
        hands.pan(bench, size, by[0] * scale, by[1] * scale)
    if imgui.is_item_hovered():
        if io.mouse_wheel:
            hands.turn_wheel(bench, size, io.mouse_wheel, at)
        bench.pointed = _pixel(bench, at)
    if is_click:
        take_sample(bench)


def _pixel(bench: Bench, at: tuple[float, float]) -> tuple[int, int] | None:
    """Return the picture's pixel under a point of a tile: of the middle of the screen pixel there."""
    if bench.state.master is None:
        return None
    facts = bench.state.master.facts
    x, y = bench.placement.to_picture(int(at[0]) + 0.5, int(at[1]) + 0.5)
    return (int(x), int(y)) if 0.0 <= x < facts.columns and 0.0 <= y < facts.rows else None


def picture_name(keys: Sequence[Key]) -> str:
    """Return the widget's name of a pane."""
    return " ".join(["picture", *("master" if key is None else str(key) for key in keys)])


def _master(bench: Bench, ui: Widgets, caption: Caption) -> None:
    master, tile = bench.state.master, caption.tile
    if master is None:
        what = bench.opening.what if bench.opening is not None else ""
        words = (f"Reading {what}", "") if what else ("No master yet", "drop a file here, or press O to choose one")
        _words(ui, tile, *words, theme.TEXT_DIM)
        return
    reading = bench.master_reading()
    readings = master_readings(reading) if reading else _patch_of_master(bench)
    is_hdr = master.encoding.peak > sdr_target().peak
    title = "HDR master" if is_hdr else "Master"
    _caption(ui, caption, title, [master.path.name], window_words(bench.state), readings)


def _anchors(bench: Bench, slot: Slot) -> Sequence[str]:
    working = bench.working(slot)
    if working is None or working.chain is None or working.is_measuring:
        return ()
    return anchor_words(working)


def _readings(bench: Bench, slot: Slot) -> Sequence[str]:
    reading = bench.reading(slot)
    if isinstance(reading, str):
        return ()
    if reading is not None:
        selected = bench.state.selected_slot
        chosen = None if selected is None or selected.key == slot.key else bench.reading(selected)
        return rendition_readings(reading, None if isinstance(chosen, str) else chosen)
    found = bench.patch_of_rendition(slot)
    return () if found is None else (found,) if isinstance(found, str) else patch_words(found)


def _patch_of_master(bench: Bench) -> Sequence[str]:
    found, patch = bench.patch_of_master(), bench.state.chosen_patch
    if found is None or patch is None:
        return ()
    return (found,) if isinstance(found, str) else master_patch_words(patch, found)


def _rendition(
    bench: Bench, ui: Widgets, slot: Slot, caption: Caption, anchors: Sequence[str], readings: Sequence[str]
) -> None:
    tile = caption.tile
    _caption_button(bench, ui, slot, tile)
    if slot.key == bench.state.selected:
        thickness = max(round(0.13 * ui.em), 1)
        top = tile.picture.top - thickness
        imgui.get_window_draw_list().add_rect_filled(
            (tile.frame.left, top), (tile.frame.right, tile.picture.top), packed(theme.accent())
        )
    taken = slot.key == bench.state.taken
    if taken:
        _taken_mark(ui, tile)
    fault, reading, working = bench.fault(slot), bench.reading(slot), bench.working(slot)
    if working is not None and working.is_measuring:
        anchors = bench.measuring_words()
    if isinstance(reading, str):
        readings = [reading]
    if fault is None:
        _caption(ui, caption, slot.rendition.name, _titles(bench, slot), anchors or [""], readings, taken)
        return
    _caption(ui, caption, slot.rendition.name, _titles(bench, slot), ["can't be shown"], (), taken)
    if caption.is_on:
        _fault(ui, tile, fault)
        ui.place(f"fault {slot.key}")


def _taken_mark(ui: Widgets, tile: Tile) -> None:
    """Draw the mark of the rendition that the shot takes: a corner in the accent, over the caption's right end."""
    side = round(MARK * ui.em)
    right, top = tile.frame.right, tile.frame.top
    imgui.get_window_draw_list().add_triangle_filled(
        (right - side, top), (right, top), (right, top + side), packed(theme.accent())
    )


def _titles(bench: Bench, slot: Slot) -> list[str]:
    """Return the titles of the operators, and where both do not fit that of the tone operator; a name may have it."""
    tone, gamut = (bench.host.title(name) for name in (slot.rendition.tone, slot.rendition.gamut))
    return [f"{tone} + {gamut}", tone]


def _caption(
    ui: Widgets,
    caption: Caption,
    name: str,
    dim: Sequence[str],
    second: Sequence[str],
    readings: Sequence[str],
    is_taken: bool = False,
) -> None:
    """Write two lines above the picture and the reading below it, or over the second line where there is no room."""
    tile = caption.tile
    left, width = tile.frame.left + MARGIN * ui.em, tile.frame.width - 2.0 * MARGIN * ui.em
    top = tile.frame.top
    start = left + LIGHT * ui.em * caption.has_light
    shown = ui.fitting([name], left + width - start - MARK * ui.em * is_taken, is_bold=True)
    level = theme.TEXT if caption.is_on else theme.TEXT_DIM
    if caption.has_light:
        ui.light((left + 0.4 * ui.em, top + 0.6 * ui.em), is_on=caption.is_on)
    end = ui.write(start, top, shown, theme.grey(level), is_bold=True)
    rest = left + width - end - (1.8 if is_taken else 0.8) * ui.em
    if rest > 3.0 * ui.em:
        ui.write(end + 0.8 * ui.em, top, ui.fitting(dim, rest), theme.grey(min(theme.TEXT_DIM, level)))
    if tile.reading is None and readings:
        second = readings
    ui.write(left, top + 1.2 * ui.em, ui.fitting(second, width), theme.grey(min(0.68, level)))
    if tile.reading is not None and readings:
        y = tile.reading.top + 0.05 * ui.em
        ui.write(left, y, ui.fitting(readings, width), theme.grey(theme.TEXT))


def _fault(ui: Widgets, tile: Tile, sentence: str) -> None:
    """Write on the tile what is wrong, where the picture would be; of two in one place, below its own caption."""
    margin, frame = ui.em, tile.frame
    left, top, width = frame.left + margin, tile.picture.top + margin, frame.width - 2.0 * margin
    imgui.push_clip_rect((frame.left, tile.picture.top), (frame.right, tile.picture.bottom), True)
    size, around = imgui.calc_text_size(sentence, False, width), 0.4 * ui.em
    low, high = (left - around, top - around), (left + size.x + around, top + size.y + around)
    imgui.get_window_draw_list().add_rect_filled(low, high, packed(theme.grey(theme.SURROUND)))
    imgui.set_cursor_screen_pos((left, top))
    imgui.push_text_wrap_pos(left + width - imgui.get_window_pos().x)
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
