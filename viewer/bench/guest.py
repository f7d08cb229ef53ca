"""A window for a guest: the present pictures without the interface, on the second monitor where there is one."""

from typing import Any

from tonemap.errors import TrimbenchError

from . import theme
from .bench import Bench
from .kept import Notice
from .layout import Rect
from .panels import legend, presented
from .panes import Pane
from .stage import Stage
from .surface import GuestSurface, WindowSurface
from .toolkit import glfw, imgui
from .widgets import Widgets

TITLE = "Trimbench, for the guest"


class Guest:
    """The guest's window with a context and a stage of its own; it has no hands but its close button and Esc."""

    def __init__(self, bench: Bench, beside: WindowSurface, places: dict[str, Rect] | None = None) -> None:
        self.bench = bench
        self._own: Any = imgui.get_current_context()
        self._beside = beside
        self.monitor_count = len(glfw.get_monitors())
        self.surface = GuestSurface(TITLE, beside)
        self.imgui_context = imgui.create_context()
        self._enter()
        try:
            imgui.get_io().set_ini_filename("")
            imgui.backends.opengl3_init("#version 410 core")
            self.ui = Widgets(theme.load_fonts(), places)
            self.stage = Stage(bench, self.surface, self._refuse)
        finally:
            self._leave()

    @property
    def is_settled(self) -> bool:
        """Whether what was drawn last is all there is to say."""
        return self.stage.is_settled

    @property
    def is_over(self) -> bool:
        """Whether the window is to go: closed by a hand, or other monitors are there now."""
        return self.surface.is_closed or len(glfw.get_monitors()) != self.monitor_count

    def frame(self) -> None:
        """Draw everything once."""
        self._enter()
        try:
            self._frame()
        finally:
            self._leave()

    def close(self) -> None:
        """Close the window."""
        self._enter()
        self.stage.delete()
        imgui.backends.opengl3_shutdown()
        self._leave()
        imgui.destroy_context(self.imgui_context)
        imgui.set_current_context(self._own)
        self.surface.close()

    def _frame(self) -> None:
        imgui.backends.opengl3_new_frame()
        self.surface.begin()
        width, height = self.surface.size
        scale = self.surface.content_scale * self.bench.shown.size
        theme.apply(scale)
        self.ui.em = theme.TYPE_SIZE * scale
        if self.ui.places is not None:
            self.ui.places.clear()
        imgui.new_frame()
        laid: tuple[Pane, ...] = ()
        try:
            if not self.bench.line_up.is_on:
                area, legend_room = presented.pictures_area(self.bench, self.ui, Rect(0, 0, width, height))
                laid = self.stage.lay_out(area, 0.0, 1.0)
                presented.draw(self.bench, self.ui, area, laid, 1.0, has_hands=False)
                legend.draw(self.bench, self.ui, legend_room)
        finally:
            imgui.render()
        self.stage.show(laid, self.stage.render(laid), 1.0)
        self.surface.end()

    def _refuse(self, sentence: str) -> None:
        self.bench.notice = Notice(f"the guest's window: {sentence}")

    def _enter(self) -> None:
        glfw.make_context_current(self.surface.window)
        imgui.set_current_context(self.imgui_context)

    def _leave(self) -> None:
        glfw.make_context_current(self._beside.window)
        imgui.set_current_context(self._own)


class GuestRoom:
    """The guest's window while it is wanted."""

    def __init__(self) -> None:
        self.guest: Guest | None = None
        self._told = ""  # where the window is

    def turn(self, bench: Bench, beside: WindowSurface) -> None:
        """Open it, draw it or close it; what was closed by a hand stays closed, what lost its screen is opened anew."""
        is_left = False
        if self.guest is not None and self.guest.is_over:
            is_left = not self.guest.surface.is_closed
            bench.presenting.has_guest &= is_left
            self.close()
        if bench.presenting.has_guest and self.guest is None:
            self._open(bench, beside)
            if is_left:
                self._tell_screen(bench)
        if not bench.presenting.has_guest:
            self.close()
            bench.take_back(self._told)
        if self.guest is not None:
            self.guest.frame()
            if not self.guest.is_settled:
                beside.wakes = max(beside.wakes, 1)

    def close(self) -> None:
        """Close the window, if it is open."""
        if self.guest is not None:
            self.guest.close()
        self.guest = None

    def _tell_screen(self, bench: Bench) -> None:
        if self.guest is not None:
            bench.take_back(self._told)
            self._told = f"the screens have changed; the guest's window is on {self.guest.surface.screen} now"
            bench.say([self._told])

    def _open(self, bench: Bench, beside: WindowSurface) -> None:
        try:
            self.guest = Guest(bench, beside)
        except TrimbenchError as fault:
            bench.presenting.has_guest = False
            bench.notice = Notice(str(fault))
