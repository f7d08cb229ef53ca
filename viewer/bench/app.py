"""The bench wired together: surface, interface and pictures, and the loop that draws when there is a reason."""

import math
import time
from collections import deque
from collections.abc import Sequence
from contextlib import nullcontext, suppress
from pathlib import Path

from tonemap.errors import TrimbenchError
from tonemap.host import Host, find_operators
from tonemap.media.wishes import EncodingWishes
from tonemap.rendition import Rendition
from tonemap.starters import starter_renditions

from .. import gl as _platform_is_set  # noqa: F401 - before anything that imports OpenGL
from ..gl.context import renderer_name
from ..settings_file import SettingsFile
from ..stops import stop_asked
from . import line_up, theme
from .aside import Aside
from .bench import Bench
from .guest import GuestRoom
from .held_keys import HeldKeys, counts_as_held
from .input import GOES_ON, HOLD, KEYS, press
from .layout import Areas, Rect, window_areas
from .panels import (
    bar,
    captions,
    help_sheet,
    legend,
    line_up_caution,
    patch_outlines,
    presented,
    rendition,
    samples_sheet,
    scopes,
    showing_bar,
    status,
    strip,
    timeline,
    wipe_line,
)
from .panels.files import FileList
from .panels.handing import HandingSheet
from .panels.monitor_sheet import MonitorSheet
from .panels.question import QuestionSheet
from .panels.saving import SavingSheet
from .panes import Pane
from .places import settings_path, state_folder
from .preferences import tell_bits, tell_reset, tell_screen, use_settings
from .scope_plots import Plot, plots_of
from .scope_room import ScopeRoom
from .scopes import split
from .settings_text import paste_settings, text_of
from .sheet_keys import CONTROL_KEYS, press_with_control
from .stage import REFINING, Stage
from .start import open_first
from .state import Master
from .surface import Surface, WindowSurface, drawn_codes
from .timeline import Timeline
from .toolkit import glfw, imgui
from .watching import FolderWatch
from .widgets import Widgets

TITLE = "Trimbench"
PATIENCE = 60.0
"""Seconds to wait for an event when nothing moves."""

DOUBLE_CLICK = 0.3
"""Seconds between the presses of a double click, drawing apart. Common practice, no source."""

BLINK = 0.4
HELP_DELAY = 0.7
NARROW = 46.0
"""Units of the type; a narrower window starts without the panel."""

LEAST_WIDTH, LEAST_HEIGHT = 30.0, 17.0
"""Units of the type; in a smaller window, where buttons would lie over each other, the pictures are shown alone."""


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
        self.stage = Stage(bench, surface, bench.refuse_master)
        self.tiles = self.stage.tiles
        self.scopes = ScopeRoom(self.stage.tiles)
        self._plots: tuple[Plot, ...] = ()
        self._renderer = renderer_name()
        self._files, self._question, self._saving = FileList(), QuestionSheet(), SavingSheet()
        self._handing = HandingSheet()
        self._monitor = MonitorSheet()
        self._held_keys = HeldKeys()
        self._frame_times: deque[float] = deque(maxlen=3)  # seconds; a double click's first events take as many frames
        self.timeline = Timeline()
        self.watch: FolderWatch | None = None
        self.guest_room = GuestRoom()
        self.is_too_small = False
        """Whether the surface has no room for the interface, so that the pictures are shown alone."""
        self.is_settled = True
        """Whether what was just drawn is all there is to say; else another frame follows."""

    def frame(self) -> None:
        """Take what the hands did, draw everything once."""
        if self.watch is not None and (changed := self.watch.changed()):
            self.bench.take_operators(changed)
        start = self.bench.clock()
        self.bench.moving.tick(start)
        self.bench.take_read()
        is_another = self.bench.take_frame()
        self.timeline.follow(self.bench)
        imgui.backends.opengl3_new_frame()
        self.surface.begin()
        width, height = self.surface.size
        unit = self.surface.scale
        scale = self.content_scale * self.bench.shown.size / unit
        theme.apply(scale)
        self.ui.em = theme.TYPE_SIZE * scale
        self._wait_for_double_clicks()
        imgui.new_frame()
        self.bench.is_held = imgui.is_mouse_down(0)
        try:
            laid = self._interface(round(width / unit), round(height / unit), unit)
        finally:
            imgui.render()
        self._draw(laid, unit)
        self.bench.jobs.tick()
        if self._handing.is_layout_due and self.is_settled and laid:
            frames = [pane.tile.frame.scaled(unit) for pane in laid]
            self._handing.write_layout(self.bench, drawn_codes(self.surface), self.surface.bits, frames)
        if self.bench.rest() or imgui.get_current_context().input_events_queue:  # quick hands are taken frame by frame
            self.is_settled = False
        if is_another and self.bench.playback is not None:
            self.bench.playback.drew(self.bench.clock() - start)
        self.surface.end()
        self._frame_times.append(self.bench.clock() - start)

    def close(self, *, is_lost: bool = False) -> None:
        """End the threads, and free what is on the card; when that is lost the bench goes on, frames and all."""
        from OpenGL.error import GLError

        ends = [self.guest_room.close, self.timeline.close]
        ends += [self.watch.close] if self.watch is not None else []
        ends += [] if is_lost else [self.bench.close]
        for end in (*ends, self.scopes.delete, self.stage.delete, imgui.backends.opengl3_shutdown):
            with suppress(GLError) if is_lost else nullcontext():
                end()

    def _wait_for_double_clicks(self) -> None:
        """Let a double click be one on a slow card too, where each press and release takes a long frame of its own."""
        io = imgui.get_io()
        io.mouse_double_click_time = DOUBLE_CLICK + sum(self._frame_times)
        io.mouse_single_click_delay = io.mouse_double_click_time + DOUBLE_CLICK  # which imgui wants to be longer

    def _interface(self, width: int, height: int, unit: float) -> tuple[Pane, ...]:
        bench, ui = self.bench, self.ui
        if ui.places is not None:
            ui.places.clear()
        self._keys()
        self._plots = ()
        if bench.line_up.is_on:
            line_up_caution.draw(bench, ui, self.stage.screen)
            return ()
        self.is_too_small = width < LEAST_WIDTH * ui.em or height < LEAST_HEIGHT * ui.em
        if bench.presenting.is_on or self.is_too_small:
            return self._presented(Rect(0, 0, width, height), unit)
        areas = window_areas(width, height, ui.em, bench.shown.panel)
        strip_height = min(strip.height(bench, ui, areas.tiles.width), areas.tiles.height)
        over = areas.tiles
        band_height = timeline.height(bench, ui.em, height)
        below = Rect(over.left, over.top + strip_height, over.width, over.height - strip_height - band_height)
        self.timeline.draw(bench, ui, Rect(over.left, below.bottom, over.width, band_height))
        bar.draw(bench, ui, areas.bar, self.stage.picture_size)
        strip.draw(bench, ui, Rect(over.left, over.top, over.width, strip_height))
        showing_bar.draw(bench, ui, areas.showing)
        pictures, scopes_area = split(below, bench.shown.scopes, ui.em)
        below, legend_room = legend.below(bench, ui, pictures)
        laid = self._lay_out(below, unit)
        if below.width > 2.0 * ui.em and below.height > 2.0 * ui.em:
            drawing_over = (
                wipe_line.draw,
                lambda bench, ui, pane: patch_outlines.draw(bench, ui, pane, unit),
            )
            captions.draw(bench, ui, below, laid, unit, drawing_over)
            legend.draw(bench, ui, legend_room)
        if scopes_area is not None:
            self._plots = plots_of(bench, scopes.plots_area(scopes_area, ui.em), ui.em, unit)
            scopes.draw(bench, ui, scopes_area, self._plots, unit, self.scopes.traces.picture, self.scopes.sampled)
        self._rest(areas)
        return self._lay_out(below, unit)  # again: the panel may have changed what there is

    def _presented(self, whole: Rect, unit: float) -> tuple[Pane, ...]:
        """Draw what stands over the pictures alone, and below them."""
        area, legend_room = presented.pictures_area(self.bench, self.ui, whole)
        laid = self._lay_out(area, unit, is_bare=True)
        presented.draw(self.bench, self.ui, area, laid, unit, has_hands=True)
        legend.draw(self.bench, self.ui, legend_room)
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
        self._handing.draw(bench, ui)
        self._monitor.draw(bench, ui)
        samples_sheet.draw(bench, ui)

    def _lay_out(self, area: Rect, unit: float, is_bare: bool = False) -> tuple[Pane, ...]:
        laid = self.stage.lay_out(area, 0.0 if is_bare else self.ui.em, unit)
        self.bench.placement = self.stage.placement
        return laid

    def _keys(self) -> None:
        io = imgui.get_io()
        is_held = imgui.is_key_down(getattr(imgui.Key, HOLD)) and not io.want_text_input
        self.bench.shown.is_other = is_held != self.bench.moving.is_turned(self.bench.state.showing)
        if self.bench.line_up.is_on:
            for name in _pressed(line_up.NAMED, repeats=False):  # bright patterns may not change quickly
                self.bench.line_up.press(name, self.stage.screen)
            return
        self._held_keys.look()
        if io.want_text_input or imgui.is_popup_open("", imgui.PopupFlags_.any_popup):
            return
        if counts_as_held(imgui.Key.mod_ctrl):
            self._copy_or_paste()
            for key in CONTROL_KEYS:
                if imgui.is_key_pressed(getattr(imgui.Key, key.name)):
                    press_with_control(self.bench, key.name, shift=counts_as_held(imgui.Key.mod_shift))
                    break
            return
        typed = [chr(character) for character in io.input_queue_characters]
        if self._held_keys.are_repeating():
            typed = [character for character in typed if character.lower() in GOES_ON]
        named = [name for key in KEYS for name in key.names if len(name) > 1]
        if self.bench.presenting.is_on and imgui.is_key_pressed(imgui.Key.escape):
            self.bench.presenting.is_on = False
        going_on = _pressed([name for name in named if name in GOES_ON])
        for name in (*typed, *_pressed([name for name in named if name not in GOES_ON], repeats=False), *going_on):
            press(self.bench, name, self.stage.picture_size)

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
        drawn = self.stage.render(laid)
        self.bench.drawing_faults = self.stage.faults if laid else self.bench.drawing_faults
        line = max(round(0.09 * self.ui.em * unit), 1)
        is_counted = self.scopes.draw(self.bench, self._plots, line, REFINING)
        self.stage.show(laid, drawn, unit)
        self.is_settled = self.stage.is_settled and is_counted


def _pressed(names: Sequence[str], *, repeats: bool = True) -> list[str]:
    """Return those of some keys that type nothing that are pressed, or held so long that they repeat themselves."""
    return [name for name in names if imgui.is_key_pressed(getattr(imgui.Key, name), repeats)]


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
    reading: Aside[None] | None = None
    if master_path is not None:
        path = master_path
        reading = Aside(
            path.name,
            lambda: open_first(bench, path, has_renditions=bool(renditions), shot=shot),
            lambda _: None,
            lambda: None,
        )
    told: list[str] = []
    resets = 0
    try:
        while _show(bench, size, resets, reading):
            resets += 1
    finally:
        told += [*bench.jobs.close(), *bench.end()]
    return told


def _show(bench: Bench, size: tuple[int, int], resets: int, reading: Aside[None] | None) -> bool:
    """Show a bench in a window until it is closed, or until the card was reset; returns whether that was it.

    What the bench begins with is read while the window is made, and until then nobody else touches the bench.
    """
    from OpenGL.error import GLError

    imgui.create_context()
    surface: WindowSurface | None = None
    app: App | None = None
    is_lost = False
    try:
        with stop_asked() as is_stopped:  # what is made by half can't be taken down
            try:
                surface = WindowSurface(TITLE, *size)
            finally:
                if reading is not None:
                    reading.wait()
                    reading.finish()  # a master that can't be read is said before a window that can't be opened
            app = App(bench, surface, surface.content_scale)
        if is_stopped():
            raise KeyboardInterrupt
        tell_bits(bench)
        if resets:
            tell_reset(bench, resets)
        app.watch = FolderWatch(bench.host.folders, surface.call)
        bench.call = surface.call
        app.timeline.looks_through = bench.reads_aside = True
        bench.shown.panel = surface.size[0] >= NARROW * theme.TYPE_SIZE * surface.content_scale
        while not is_lost and not glfw.window_should_close(surface.window):
            try:
                turn(app, surface)
            except (GLError, TrimbenchError):
                if not surface.is_lost:
                    raise
            is_lost = surface.is_lost
    finally:
        if app is not None:
            app.close(is_lost=is_lost)
        if surface is not None:
            surface.close()
        imgui.destroy_context()
    return is_lost


def turn(app: App, surface: WindowSurface) -> None:
    """Draw one frame, or rest until there is a reason: an event, a help text that is due, a caret's blink."""
    if surface.wakes > 0 or app.bench.seconds_to_next <= 0.0:
        glfw.poll_events()
        surface.wakes = max(surface.wakes, 1)
    else:
        _rest(surface, app.bench)
    surface.wakes -= 1
    if surface.dropped:
        paths, surface.dropped = surface.dropped, []
        app.bench.take_drop([Path(path) for path in paths])
    app.content_scale = surface.content_scale
    app.frame()
    if not app.is_settled:
        surface.wakes = max(surface.wakes, 1)
    surface.set_full_screen(app.bench.presenting.is_on)
    if (change := surface.screen_change()) is not None:
        tell_screen(app.bench, *change)
    app.guest_room.turn(app.bench, surface)
    surface.set_title(title(app))


def _rest(surface: WindowSurface, bench: Bench) -> None:
    is_typing = imgui.get_io().want_text_input
    was_stirred, surface.is_stirred = surface.is_stirred, False
    rest = BLINK if is_typing else HELP_DELAY if was_stirred else PATIENCE
    until = time.monotonic() + min(rest, bench.seconds_to_next)
    while surface.wakes <= 0 and not surface.is_called and (left := until - time.monotonic()) > 0.0:
        glfw.wait_events_timeout(min(left, bench.seconds_to_rest))  # also returns for events of no meaning
        if bench.rest():
            break
    surface.is_called = False
    # A help text is measured in one frame and shown in the next; while frames play, there is always a next one.
    surface.wakes = max(surface.wakes, 2 if math.isinf(bench.seconds_to_next) else 1)


def title(app: App) -> str:
    """Return what the window is called; in one without room for a sentence, why it shows the pictures alone."""
    master = app.bench.state.master
    name = f"{master.path.name} - {TITLE}" if isinstance(master, Master) else TITLE
    return f"Too small for the panel - {name}" if app.is_too_small and not app.bench.presenting.is_on else name
