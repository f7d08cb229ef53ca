"""What stands over the pictures that are presented: small captions, or nothing."""

from collections.abc import Sequence

from tonemap.encoding import sdr_target
from tonemap.media.sequence import spoken_name

from .. import theme
from ..bench import Bench
from ..layout import Rect
from ..panes import Caption, Pane
from ..showing import Key
from ..toolkit import imgui
from ..widgets import Widgets, packed
from ..wording import NITS, is_coloured, window_words
from . import captions, legend, wipe_line

FAULT = "can't be shown"
GROUND = 0.08  # opaque: mixed in the light of an HDR picture, a thin plate would be lost
INSET = 0.7  # in units of the type

LEAST_WIDTH, LEAST_HEIGHT = 9.0, 7.0
"""Units of the type: the room of a caption, and the picture's height. With less the picture is seen and no caption,
which would cover more than a quarter of it."""


def pictures_area(bench: Bench, ui: Widgets, whole: Rect) -> tuple[Rect, Rect]:
    """Divide what is there: for the pictures, and below them for the legend, where captions are on."""
    if bench.presenting.has_captions:
        return legend.below(bench, ui, whole)
    return whole, Rect(whole.left, whole.bottom, whole.width, 0)


def draw(bench: Bench, ui: Widgets, area: Rect, panes: Sequence[Pane], scale: float, *, has_hands: bool) -> None:
    """Draw over the pictures.

    Parameters
    ----------
    scale : framebuffer pixels a unit
    has_hands : whether a mouse may move the pictures; a guest's may not
    """
    with ui.window("presented", area, captions.FLAGS, padding=(0.0, 0.0)):
        bench.pointed = None if has_hands else bench.pointed
        for pane in panes:
            if has_hands:
                wipe_line.draw(bench, ui, pane, is_discreet=True)
                captions.take_hand(bench, ui, pane, scale)
            if not bench.presenting.has_captions or pane.tile.picture.height < LEAST_HEIGHT * ui.em:
                continue
            for caption in pane.captions:
                if caption.tile.frame.width >= LEAST_WIDTH * ui.em:
                    _caption(bench, ui, pane, caption)


def words_of(bench: Bench, key: Key) -> tuple[str, str, str, str]:
    """Return what sort of picture it is, its name and its light; on an SDR screen also what is shown of HDR.

    A rendition has its own name, a master that of the shot at hand or its own.

    The last is what must be said of the light also where there is no room for more: '' where it is shown as it is.
    """
    master, monitor = bench.state.master, bench.state.monitor
    if key is not None:
        slot = bench.state.slot(key)
        if bench.fault(slot) is not None:
            return "SDR", slot.rendition.name, FAULT, FAULT
        working, light = bench.working(slot), f"{monitor.display_of(slot.rendition.target).peak:g} {NITS}"
        if working is not None and working.is_measuring:
            return "SDR", slot.rendition.name, f"{light}, {bench.measuring_words()[1]}", "not final"
        return "SDR", slot.rendition.name, light, ""
    if master is None:
        return "", "no master", "", ""
    light, least = f"{master.encoding.peak:g} {NITS}", ""
    if master.encoding.peak > monitor.peak and not is_coloured(bench.state):
        light, least = f"{light}, shown {window_words(bench.state)[1]}", "clipped"
    shot = bench.state.shot
    name = f"shot {shot.name}" if shot is not None else spoken_name(master.path)
    return "HDR" if master.encoding.peak > sdr_target().peak else "SDR", name, light, least


def _caption(bench: Bench, ui: Widgets, pane: Pane, caption: Caption) -> None:
    """Write a caption at the lower left of its place, or at the lower right for the second of two."""
    frame, picture = caption.tile.frame, pane.tile.picture
    is_second = caption is pane.captions[-1] and len(pane.captions) == 2
    sort, name, light, least = words_of(bench, caption.key)
    em, inset, lead = ui.em, INSET * ui.em, 0.8 * caption.has_light
    room = frame.width - 4.0 * inset - 2.0 * em
    gap = 1.2 * em if least else 0.0
    name = ui.fitting([name], room - ui.width_of(sort, is_bold=True) - ui.width_of(least) - gap)
    rest = room - ui.width_of(sort, is_bold=True) - ui.width_of(name) - 1.2 * em
    light = light if ui.width_of(light) <= rest else least
    before = 0.5 * bool(name)  # a name that has no room leaves none
    width = ui.width_of(sort, is_bold=True) + ui.width_of(name) + ui.width_of(light) + (1.9 + before + lead) * em
    height = 1.7 * em
    right_end = picture.right - inset
    left = right_end - width if is_second else picture.left + inset
    top = picture.bottom - inset - height
    sheet = imgui.get_window_draw_list()
    sheet.add_rect_filled((left, top), (left + width, top + height), packed(theme.grey(GROUND)), 0.25 * em)
    is_on = caption.is_on or pane.is_difference
    if caption.has_light:
        ui.light((left + 0.8 * em, top + 0.5 * height), is_on=is_on)
    level = theme.TEXT if is_on else theme.TEXT_DIM
    y = top + 0.5 * (height - imgui.get_font_size())
    x = ui.write(left + (0.7 + lead) * em, y, sort, theme.grey(level), is_bold=True)
    x = ui.write(x + before * em, y, name, theme.grey(level))
    ui.write(x + 0.6 * em, y, light, theme.grey(min(level, 0.68)))
    if ui.places is not None:
        key = "master" if caption.key is None else str(caption.key)
        ui.places[f"presented {key}"] = Rect(round(left), round(top), round(width), round(height))
