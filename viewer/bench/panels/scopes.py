"""The scopes below the tiles: a bar that says what they show, and the plots."""

from collections.abc import Callable, Sequence
from dataclasses import replace

from tonemap.operator import Parameter

from .. import theme
from ..bench import Bench
from ..layout import Rect
from ..scope_plots import BAR, Plot
from ..scopes import (
    BRIGHTEST,
    DARKEST,
    FORM_TITLES,
    KINDS,
    LARGEST_SHARE,
    LEAST_SHARE,
    NOTHING,
    SELECTED,
    SHORT_TITLES,
    TITLES,
    WAVEFORM,
    Source,
)
from ..showing import Key
from ..toolkit import imgui
from ..widgets import RESET, Widgets, dragged
from . import graticules
from .showing_bar import name_of

FLAGS = imgui.WindowFlags_.no_scrollbar | imgui.WindowFlags_.no_scroll_with_mouse
MASTER = "master"
BRIGHTNESS = Parameter(
    name="brightness",
    unit="",
    default=1.0,
    minimum=DARKEST,
    maximum=BRIGHTEST,
    scale="log",
    help="How bright the traces are.",
)
LABEL = "Brightness"
NARROW = 50.0
"""Units of the type; in a narrower bar the lists are narrower too."""

NUMBERS = {kind: str(number) for number, kind in enumerate(KINDS, start=2)}
"""The keys of the scopes."""

UNITS = {"waveform": "", "vectorscope": "", "histogram": "cd/m²", "chromaticity": "u'v'", "transfer": "cd/m²"}


def draw(
    bench: Bench,
    ui: Widgets,
    area: Rect,
    plots: Sequence[Plot],
    scale: float,
    picture: Callable[[str, int, int], int],
    sampled: Callable[[Plot], int],
) -> None:
    """Draw the bar and the plots; above each stand the pictures that it measures, the second in its traces' colour.

    Parameters
    ----------
    scale : pixels a unit
    picture : gives the texture of a scope's trace at a size in pixels
    sampled : says of how many pixels one is counted
    """
    with ui.window("scopes", area, FLAGS, padding=(0.0, 0.0)):
        _divider(bench, ui, area)
        _bar(bench, ui, area)
        for plot in plots:
            _plot(bench, ui, plot, scale, picture, sampled)
        if bench.shown.scopes.is_of_patch and bench.state.chosen_patch is None:
            ui.write(
                area.left + 0.6 * ui.em, area.bottom - 1.4 * ui.em, "no patch is chosen: all of the picture", _dim()
            )


def plots_area(area: Rect, em: float) -> Rect:
    """Return where the plots lie, below the bar."""
    bar = round(BAR * em)
    return Rect(area.left, area.top + bar, area.width, max(area.height - bar - round(0.3 * em), 0))


def _dim() -> theme.Colour:
    return theme.grey(theme.TEXT_DIM)


def _divider(bench: Bench, ui: Widgets, area: Rect) -> None:
    """Take the hand on the edge above the scopes."""
    imgui.set_cursor_screen_pos((area.left, area.top))
    imgui.invisible_button("scopes edge", (area.width, max(round(0.35 * ui.em), 3)))
    ui.place("scopes edge")
    ui.help("Drag to make the scopes larger or smaller")
    if imgui.is_item_active() or imgui.is_item_hovered():
        imgui.set_mouse_cursor(imgui.MouseCursor_.resize_ns)
    scopes, moved = bench.shown.scopes, dragged()[1]
    if moved:
        share = scopes.share - moved * scopes.share / max(area.height, 1)
        bench.shown.scopes = replace(scopes, share=min(max(share, LEAST_SHARE), LARGEST_SHARE))


def _bar(bench: Bench, ui: Widgets, area: Rect) -> None:
    scopes = bench.shown.scopes
    imgui.set_cursor_screen_pos((area.left + 0.5 * ui.em, area.top + 0.4 * ui.em))
    is_wide, is_narrow = area.width > 66.0 * ui.em, area.width < NARROW * ui.em
    for kind, (title, help_text) in TITLES.items():
        words = title if is_wide else SHORT_TITLES[kind]
        if ui.button(f"scope {kind}", words, f"{title}. {help_text} ({NUMBERS[kind]})", is_on=kind in scopes.open):
            bench.shown.scopes = scopes = scopes.toggled(kind)
        imgui.same_line()
    imgui.same_line(0.0, 0.8 * ui.em)
    width = (9.5 if is_wide else 4.4 if is_narrow else 7.0) * ui.em
    options = {SELECTED: ("selected", "whichever rendition is selected")}
    options |= {_option(key): (name_of(bench, key), "") for key in bench.state.keys}
    chosen = ui.combo("scopes of", options, _present(scopes.first, options, SELECTED), width)
    ui.help("The picture that the scopes measure, at its full resolution")
    if chosen is not None:
        scopes = replace(scopes, first=_source(chosen))
    imgui.same_line()
    over = {NOTHING: ("alone", ""), **options}
    chosen = ui.combo("scopes over", over, _present(scopes.second, over, NOTHING), width)
    ui.help("A second picture, whose traces lie under those of the first, in the accent's colour (8: the master)")
    if chosen is not None:
        scopes = replace(scopes, second=_source(chosen))
    imgui.same_line()
    if WAVEFORM in scopes.open:
        forms = {form: (title, "") for form, title in FORM_TITLES.items()}
        chosen = ui.combo("scopes form", forms, scopes.form, (4.4 if is_narrow else 6.6) * ui.em)
        ui.help("The waveform's form (7)")
        if chosen is not None:
            scopes = replace(scopes, form=chosen)
        imgui.same_line()
    if ui.button("scopes patch", "Patch", "Measure the chosen patch only (Z)", is_on=scopes.is_of_patch):
        scopes = replace(scopes, is_of_patch=not scopes.is_of_patch)
    imgui.same_line()
    room = area.right - imgui.get_cursor_screen_pos().x - 0.6 * ui.em
    if room > ui.width_of(LABEL) + 6.0 * ui.em:
        imgui.align_text_to_frame_padding()
        ui.text(LABEL, theme.grey(0.68))
        imgui.same_line()
        room = area.right - imgui.get_cursor_screen_pos().x - 0.6 * ui.em
        changed = ui.track("scopes brightness", BRIGHTNESS, scopes.brightness, min(room, 8.0 * ui.em))
        ui.help("How bright the traces are; click twice to reset it")
        if changed is not None:
            scopes = replace(scopes, brightness=BRIGHTNESS.default if changed is RESET else changed)
    bench.shown.scopes = scopes


def _plot(
    bench: Bench,
    ui: Widgets,
    plot: Plot,
    scale: float,
    picture: Callable[[str, int, int], int],
    sampled: Callable[[Plot], int],
) -> None:
    rect, frame = plot.rect, plot.frame
    pixels = rect.scaled(scale)
    texture = imgui.ImTextureRef(picture(plot.kind, pixels.width, pixels.height))
    sheet = imgui.get_window_draw_list()
    sheet.add_image(texture, (rect.left, rect.top), (rect.right, rect.bottom), (0.0, 1.0), (1.0, 0.0))
    imgui.set_cursor_screen_pos((rect.left, rect.top))
    imgui.invisible_button(f"plot {plot.kind}", (rect.width, rect.height))
    ui.place(f"plot {plot.kind}")
    is_pointed = imgui.is_item_hovered()
    graticules.draw(bench, ui, plot)
    end = ui.write(frame.left, frame.top, TITLES[plot.kind][0], theme.grey(theme.TEXT))
    one_in = sampled(plot)
    words = f"sampled 1/{one_in}" if one_in > 1 else ""
    if is_pointed:
        pointer = imgui.get_io().mouse_pos
        words = graticules.reading(plot, pointer.x, pointer.y)
    unit = ("cd/m²" if plot.form.is_nits else "signal") if plot.kind == WAVEFORM else UNITS[plot.kind]
    right = frame.right - ui.width_of(words)
    if words and right > end:
        ui.write(right, frame.top, words, theme.grey(0.72))
    if end + 0.6 * ui.em + ui.width_of(unit) < right:
        end = ui.write(end + 0.6 * ui.em, frame.top, unit, _dim())
    for index, key in enumerate(plot.keys):
        room = (right - end) / (len(plot.keys) - index) - 0.9 * ui.em
        if room < 2.5 * ui.em:
            break
        colour = theme.accent() if index else theme.grey(theme.TEXT)
        end = ui.write(end + 0.9 * ui.em, frame.top, ui.fitting([name_of(bench, key)], room), colour)


def _option(key: Key) -> str:
    return MASTER if key is None else str(key)


def _source(option: str) -> Source:
    return option if option in (SELECTED, NOTHING) else None if option == MASTER else int(option)


def _present(source: Source, options: dict[str, tuple[str, str]], otherwise: str) -> str:
    """Return the option of a source; one that is gone is as if it had not been chosen."""
    option = source if isinstance(source, str) else _option(source)
    return option if option in options else otherwise
