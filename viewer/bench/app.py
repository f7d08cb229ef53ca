"""The bench wired together: surface, interface and pictures, and the loop that draws when there is a reason."""

import math
import time
from collections.abc import Sequence
from pathlib import Path

from tonemap.encoding import Encoding
from tonemap.errors import TrimbenchError
from tonemap.host import Host, find_operators
from tonemap.media.wishes import EncodingWishes
from tonemap.rendition import Rendition
from tonemap.starters import starter_renditions

from .. import gl as _platform_is_set  # noqa: F401 - before anything that imports OpenGL
from ..gl.context import renderer_name
from ..settings_file import SettingsFile
from . import line_up, theme
from .bench import Bench
from .input import HOLD, KEYS, press
from .kept import Notice
from .layout import Areas, Rect, place, window_areas
from .page import Page
from .panels import (
    bar,
    captions,
    difference_scale,
    help_sheet,
    legend,
    line_up_caution,
    patch_outlines,
    presented,
    rendition,
    showing_bar,
    status,
    strip,
    timeline,
    wipe_line,
)
from .panels.files import FileList
from .panels.monitor_sheet import MonitorSheet
from .panels.question import QuestionSheet
from .panels.saving import SavingSheet
from .panes import Pane, panes
from .pattern import PatternPicture
from .places import settings_path, state_folder
from .preferences import tell_bits, use_settings
from .settings_text import paste_settings, text_of
from .sheet_keys import CONTROL_KEYS, press_with_control
from .showing import Key
from .start import open_first
from .state import Master
from .surface import Surface, WindowSurface
from .tiles import Tiles
from .timeline import Timeline
from .toolkit import glfw, imgui
from .watching import FolderWatch
from .widgets import Widgets

TITLE = "Trimbench"
PATIENCE = 60.0
"""Seconds to wait for an event when nothing moves."""

BLINK = 0.4
HELP_DELAY = 0.7
NARROW = 46.0
"""Units of the type; a narrower window starts without the panel."""

EMPTY_ASPECT = 16.0 / 9.0

REFINING = 0.025
"""Seconds of a frame that go to exact means while nothing changes."""


class App:
    """Draws a bench on a surface; needs the surface's context to be current.

    Parameters
    ----------
    places : a dict that is filled with the places of all widgets, for tests
    """

    def __init__(
        self, bench: Bench, surface: Surface, content_scale: float = 1.0, places: dict[str, Rect] | None = None
    ) -> None:
        imgui.get_io().set_ini_filename("")
        imgui.backends.opengl3_init("#version 410 core")
        self.bench = bench
        self.bench.framebuffer_bits = surface.bits
        self.surface = surface
        self.content_scale = content_scale
        self.ui = Widgets(theme.load_fonts(), places)
        self.tiles = Tiles()
        self.pattern = PatternPicture(self.tiles.programs)
        self.page = Page(self.tiles.programs, surface)
        self._renderer = renderer_name()
        self._files, self._question, self._saving = FileList(), QuestionSheet(), SavingSheet()
        self._monitor = MonitorSheet()
        self._picture_size = (1, 1)
        self._master: Master | None = None
        self.timeline = Timeline()
        self.watch: FolderWatch | None = None
        self.is_settled = True
        """Whether what was just drawn is all there is to say; else another frame follows."""

    def frame(self) -> None:
        """Take what the hands did, draw everything once."""
        if self.watch is not None and (changed := self.watch.changed()):
            self.bench.take_operators(changed)
        self.bench.moving.tick(self.bench.clock())
        self.bench.take_read()
        self.bench.take_frame()
        self.timeline.follow(self.bench)
        imgui.backends.opengl3_new_frame()
        self.surface.begin()
        width, height = self.surface.size
        unit = self.surface.scale
        scale = self.content_scale * self.bench.shown.size / unit
        theme.apply(scale)
        self.ui.em = theme.TYPE_SIZE * scale
        imgui.new_frame()
        try:
            laid = self._interface(round(width / unit), round(height / unit), unit)
        finally:
            imgui.render()
        self._draw(laid, unit)
        if self.bench.rest(is_held=imgui.is_mouse_down(0)):
            self.is_settled = False
        self.surface.end()

    def close(self) -> None:
        """End the threads, and free what is on the card."""
        self.bench.close()
        self.timeline.close()
        if self.watch is not None:
            self.watch.close()
        self.pattern.delete()
        self.page.delete()
        self.tiles.delete()
        imgui.backends.opengl3_shutdown()

    def _interface(self, width: int, height: int, unit: float) -> tuple[Pane, ...]:
        bench, ui = self.bench, self.ui
        if ui.places is not None:
            ui.places.clear()
        self._keys()
        if bench.line_up.is_on:
            line_up_caution.draw(bench, ui, self._screen)
            return ()
        if bench.presenting.is_on:
            return self._presented(Rect(0, 0, width, height), unit)
        areas = window_areas(width, height, ui.em, bench.shown.panel)
        strip_height = min(strip.height(bench, ui, areas.tiles.width), areas.tiles.height)
        over = areas.tiles
        band_height = timeline.height(bench, ui.em, height)
        below = Rect(over.left, over.top + strip_height, over.width, over.height - strip_height - band_height)
        self.timeline.draw(bench, ui, Rect(over.left, below.bottom, over.width, band_height))
        bar.draw(bench, ui, areas.bar, self._picture_size)
        strip.draw(bench, ui, Rect(over.left, over.top, over.width, strip_height))
        showing_bar.draw(bench, ui, areas.showing)
        laid = self._lay_out(below, unit)
        if below.width > 2.0 * ui.em and below.height > 2.0 * ui.em:
            captions.draw(
                bench,
                ui,
                below,
                laid,
                unit,
                over=(
                    lambda bench, ui, pane: patch_outlines.draw(bench, ui, pane, unit),
                    legend.draw,
                    wipe_line.draw,
                    difference_scale.draw,
                ),
            )
        self._rest(areas)
        return self._lay_out(below, unit)  # again: the panel may have changed what there is

    def _presented(self, area: Rect, unit: float) -> tuple[Pane, ...]:
        """Draw what stands over the pictures alone."""
        laid = self._lay_out(area, unit, is_bare=True)
        presented.draw(self.bench, self.ui, area, laid, unit, has_hands=True)
        return self._lay_out(area, unit, is_bare=True)

    def _rest(self, areas: Areas) -> None:
        bench, ui = self.bench, self.ui
        if areas.panel is not None:
            rendition.draw(bench, ui, areas.panel)
        status.draw(bench, ui, areas.status, self._renderer, self.surface.bits)
        help_sheet.draw(bench, ui)
        self._files.draw(bench, ui)
        self._question.draw(bench, ui)
        self._saving.draw(bench, ui)
        self._monitor.draw(bench, ui)

    def _lay_out(self, area: Rect, unit: float, is_bare: bool = False) -> tuple[Pane, ...]:
        """Place the tiles, and the view on them."""
        master = self.bench.state.master
        aspect = master.facts.columns / master.facts.rows if master else EMPTY_ASPECT
        state, is_other = self.bench.state, self.bench.shown.is_other
        laid = panes(
            state.showing, state.keys, is_other, area, 0.0 if is_bare else self.ui.em, min(max(aspect, 0.2), 5.0)
        )
        picture = laid[0].tile.picture.scaled(unit)  # all have the same size
        self._picture_size = picture.width, picture.height
        if master is not None:
            self.bench.placement = place(
                self.bench.state.view, master.facts.columns, master.facts.rows, *self._picture_size
            )
        return laid

    def _keys(self) -> None:
        io = imgui.get_io()
        is_held = imgui.is_key_down(getattr(imgui.Key, HOLD)) and not io.want_text_input
        self.bench.shown.is_other = is_held != self.bench.moving.is_turned(self.bench.state.showing)
        if self.bench.line_up.is_on:
            for name in _pressed(line_up.NAMED):
                self.bench.line_up.press(name, self._screen)
            return
        if io.want_text_input or imgui.is_popup_open("", imgui.PopupFlags_.any_popup):
            return
        if io.key_ctrl:
            self._copy_or_paste()
            for key in CONTROL_KEYS:
                if imgui.is_key_pressed(getattr(imgui.Key, key.name)):
                    press_with_control(self.bench, key.name, shift=io.key_shift)
                    break
            return
        typed = [chr(character) for character in io.input_queue_characters]
        named = [name for key in KEYS for name in key.names if len(name) > 1]
        if self.bench.presenting.is_on and imgui.is_key_pressed(imgui.Key.escape):
            self.bench.presenting.is_on = False
        for name in (*typed, *_pressed(named)):
            press(self.bench, name, self._picture_size)

    def _copy_or_paste(self) -> None:
        """Give the selected rendition's settings to the system's clipboard, or take them from it."""
        slot = self.bench.state.selected_slot
        if slot is None:
            return
        if imgui.is_key_pressed(imgui.Key.c):
            imgui.set_clipboard_text(text_of(slot.rendition, self.bench.host))
        elif imgui.is_key_pressed(imgui.Key.v):
            self.bench.do(paste_settings, slot.key, imgui.get_clipboard_text() or "", self.bench.host)

    def _draw(self, laid: tuple[Pane, ...], unit: float) -> None:
        self.is_settled = True
        self.tiles.monitor = self.bench.state.monitor
        drawn = self._render(laid) if laid else set()
        self.page.begin(self.bench.state.monitor, theme.SURROUND)
        self._draw_pattern()
        for pane in laid:
            if drawn.issuperset(pane.pictures):
                self._present(pane, pane.tile.picture.scaled(unit), self.surface.size[1])
        self.page.finish()

    @property
    def _screen(self) -> Encoding:
        """What the monitor's signal is encoded for."""
        return self.bench.state.monitor.encoding

    def _draw_pattern(self) -> None:
        """Draw the line-up's pattern over the whole surface, unless a caution stands before it."""
        showing, screen = self.bench.line_up, line_up.with_codes(self._screen, self.surface.bits)
        if showing.name is None or showing.asks(screen):
            return
        try:
            self.pattern.prepare(showing.name, screen, *self.surface.size)
        except TrimbenchError as fault:
            showing.close()
            self.bench.notice, self.is_settled = Notice(str(fault)), False
            return
        self.page.bind()
        self.pattern.draw()

    def _present(self, pane: Pane, rect: Rect, height: int) -> None:
        """Copy what is on a pane to the page."""
        target = rect, height, theme.SURROUND, self.surface.bits
        if pane.is_difference:
            if self.tiles.render_difference(pane.pictures, self.bench.state.showing.heat_top):
                self.page.bind()
                self.tiles.present_difference(*target)
            return
        self.tiles.present(pane.pictures[0], *target)
        if len(pane.pictures) == 2:
            side = self.bench.line.side(rect.width, rect.height)
            self.tiles.present(pane.pictures[1], *target, side)

    def _render(self, laid: tuple[Pane, ...]) -> set[Key]:
        """Draw the pictures that are shown where something changed; returns the keys of those that there are."""
        bench = self.bench
        if not self._show_master() or bench.state.master is None:
            return set()
        wanted: set[Key] = {key for pane in laid for key in pane.pictures}
        self.tiles.keep_only(wanted)
        drawn: set[Key] = set()
        if None in wanted:
            self.tiles.render_master(bench.placement, *self._picture_size, bench.state.window, bench.colours(None))
            drawn.add(None)
        faults = {}
        for slot in bench.state.slots:
            working = bench.working(slot)
            if working is None or working.chain is None or slot.key not in wanted:
                continue
            fault = self.tiles.render(
                slot.key, working.chain, bench.placement, *self._picture_size, bench.colours(slot.key)
            )
            if fault is None:
                drawn.add(slot.key)
            else:
                faults[slot.key] = fault
        self.tiles.draw()
        self.is_settled = faults == bench.drawing_faults
        bench.drawing_faults = faults
        self.is_settled &= self.tiles.refine(REFINING)
        return drawn

    def _show_master(self) -> bool:
        """Put the master on the card; one that the card can't take is said, and the old one comes back."""
        bench = self.bench
        master = bench.state.master
        self.tiles.is_moving = bench.is_moving
        if master is None or master is self._master:
            return master is not None
        try:
            is_passing = bench.playback is not None
            self.tiles.show(master.frame.content or master.picture, master.encoding, is_passing)
        except TrimbenchError as fault:
            self.is_settled = False
            bench.refuse_master(f"{master.path}: {fault}")
            return bench.state.master is not None and bench.state.master is self._master
        self._master = master
        return True


def _pressed(names: Sequence[str]) -> list[str]:
    """Return those of some keys that type nothing that are pressed."""
    return [name for name in names if imgui.is_key_pressed(getattr(imgui.Key, name))]


def run_bench(
    master_path: Path | None = None,
    wishes: EncodingWishes | None = None,
    renditions: Sequence[Rendition] = (),
    host: Host | None = None,
    size: tuple[int, int] = (1600, 940),
    shot: str | None = None,
) -> list[str]:
    """Open the bench in a window, and return when it is closed, with sentences on where the work is kept.

    Parameters
    ----------
    master_path : the master or the trim sheet to begin with; an unknown encoding is asked for in the window
    wishes : what the user says of the encoding of masters that are opened
    renditions : those to begin with; without any, the starters
    host : the operators
    shot : of the trim sheet, to begin with

    Raises
    ------
    TrimbenchError
        When the master can't be read, or no window can be opened; nothing has appeared then.
    """
    wishes = wishes or EncodingWishes()
    bench = Bench(host or find_operators(), tuple(renditions) or starter_renditions(), wishes, state_folder())
    use_settings(bench, SettingsFile(settings_path()))
    if master_path is not None:
        open_first(bench, master_path, has_renditions=bool(renditions), shot=shot)
    imgui.create_context()
    surface: WindowSurface | None = None
    app: App | None = None
    told: list[str] = []
    try:
        surface = WindowSurface(TITLE, *size)
        app = App(bench, surface, surface.content_scale)
        tell_bits(bench)
        app.watch = FolderWatch(bench.host.folders, surface.call)
        bench.call = surface.call
        app.timeline.looks_through = bench.reads_aside = True
        bench.shown.panel = surface.size[0] >= NARROW * theme.TYPE_SIZE * surface.content_scale
        while not glfw.window_should_close(surface.window):
            turn(app, surface)
    finally:
        told += bench.end()
        if app is not None:
            app.close()
        if surface is not None:
            surface.close()
        imgui.destroy_context()
    return told


def turn(app: App, surface: WindowSurface) -> None:
    """Draw one frame, or rest until there is a reason: an event, a help text that is due, a caret's blink."""
    if surface.wakes > 0:
        glfw.poll_events()
    else:
        _rest(surface, app.bench)
    surface.wakes -= 1
    if surface.dropped:
        _take_drop(app.bench, surface)
    app.content_scale = surface.content_scale
    app.frame()
    if not app.is_settled:
        surface.wakes = max(surface.wakes, 1)
    surface.set_full_screen(app.bench.presenting.is_on)
    surface.set_title(_title(app.bench))


def _rest(surface: WindowSurface, bench: Bench) -> None:
    is_typing = imgui.get_io().want_text_input
    was_stirred, surface.is_stirred = surface.is_stirred, False
    rest = BLINK if is_typing else HELP_DELAY if was_stirred else PATIENCE
    until = time.monotonic() + min(rest, bench.seconds_to_next)
    while surface.wakes <= 0 and not surface.is_called and (left := until - time.monotonic()) > 0.0:
        glfw.wait_events_timeout(min(left, bench.keeping.seconds_to_next()))  # also returns for events of no meaning
        if bench.rest(is_held=bench.is_held):
            break
    surface.is_called = False
    # A help text is measured in one frame and shown in the next; while frames play, there is always a next one.
    surface.wakes = max(surface.wakes, 2 if math.isinf(bench.seconds_to_next) else 1)


def _take_drop(bench: Bench, surface: WindowSurface) -> None:
    paths, surface.dropped = surface.dropped, []
    bench.open(Path(paths[0]))
    words = f"of the {len(paths)} dropped files, the first is opened"
    if len(paths) > 1 and bench.opening is not None:
        bench.opening.note = words
    elif len(paths) > 1 and bench.notice is None:
        bench.notice = Notice(words)


def _title(bench: Bench) -> str:
    master = bench.state.master
    return f"{master.path.name} - {TITLE}" if isinstance(master, Master) else TITLE
