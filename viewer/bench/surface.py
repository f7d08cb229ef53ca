"""What the bench is drawn on: a window, or a picture in memory for tests and screenshots."""

import ctypes
import sys
from collections.abc import Mapping
from itertools import product
from typing import Any, Protocol

import numpy as np

from tonemap.errors import TrimbenchError

from ..gl.context import OffscreenContext
from ..gl.texture import Framebuffer, Texture
from .screens import Screen
from .toolkit import glfw, imgui

NO_WINDOW = (
    "no window can be opened: there is no display, or its driver has no OpenGL 4.1; run this on the machine with the "
    "screen, or use 'trimbench compare', which needs none"
)


GUEST_SIZE = (1280, 720)


class Surface(Protocol):
    """A framebuffer with a size in its own pixels; `scale` is how many of them one unit of the interface has."""

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels of the framebuffer."""

    @property
    def scale(self) -> float:
        """Framebuffer pixels for one unit of imgui's coordinates."""

    @property
    def bits(self) -> int:
        """Bits a channel that the framebuffer really has."""

    def begin(self) -> None:
        """Tell imgui of the surface and of what the hands did."""

    def bind(self) -> None:
        """Make this the framebuffer that is drawn to."""

    def end(self) -> None:
        """Show what was drawn."""

    def close(self) -> None:
        """Give the surface back."""


class OffscreenSurface:
    """A framebuffer in memory at 8 or 10 bits; the hands are events that the caller gives to imgui."""

    scale = 1.0

    def __init__(self, width: int, height: int, bits: int = 8) -> None:
        from OpenGL import GL

        self.context = OffscreenContext()
        self.bits = bits
        self._format = {8: GL.GL_RGBA8, 10: GL.GL_RGB10_A2}[bits]
        self.resize(width, height)

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels."""
        return self._framebuffer.texture.columns, self._framebuffer.texture.rows

    def resize(self, width: int, height: int) -> None:
        """Take another size, as a window does when it is dragged."""
        self._framebuffer = Framebuffer(Texture(self._format, width, height))

    def begin(self) -> None:
        """Tell imgui the size, and that a sixtieth of a second has passed."""
        io = imgui.get_io()
        io.display_size, io.delta_time = self.size, 1.0 / 60.0

    def bind(self) -> None:
        """Make this the framebuffer that is drawn to."""
        self._framebuffer.bind()

    def end(self) -> None:
        """Nothing is shown."""

    def codes(self) -> np.ndarray:
        """Read back the code values, (rows, columns, 3), the upper row first."""
        width, height = self.size
        return np.rint(self._framebuffer.read(width, height)[::-1] * (2**self.bits - 1)).astype(np.uint16)

    def close(self) -> None:
        """Give the context back."""
        self.context.close()


class WindowSurface:
    """A window of the system, at 10 bits a channel where the system offers it; seen as soon as something is drawn."""

    def __init__(self, title: str, width: int, height: int) -> None:
        self.window = _make_window(title, width, height)
        self.bits = _framebuffer_bits()
        self._title = title
        self._windowed: tuple[int, int, int, int] | None = None
        self.wakes = 3
        self.is_stirred = True
        self.is_called = False
        self.dropped: list[str] = []
        self._is_lost = self._is_seen = False
        self._screen = self._screen_now()
        self._wake_on_events()
        address = ctypes.cast(self.window, ctypes.c_void_p).value
        imgui.backends.glfw_init_for_opengl(address, True)

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels of the framebuffer."""
        width, height = glfw.get_framebuffer_size(self.window)
        return max(width, 1), max(height, 1)

    @property
    def scale(self) -> float:
        """Framebuffer pixels for one unit of the window's coordinates."""
        return self.size[0] / max(glfw.get_window_size(self.window)[0], 1)

    @property
    def content_scale(self) -> float:
        """How much larger than usual the system wants things, in framebuffer pixels."""
        return max(*glfw.get_window_content_scale(self.window), 0.5)

    @property
    def is_lost(self) -> bool:
        """Whether the card or its driver was reset, as far as the driver tells; then nothing can be drawn any more."""
        from OpenGL import GL

        if not self._is_lost and GL.glGetGraphicsResetStatus:
            self._is_lost = GL.glGetGraphicsResetStatus() != GL.GL_NO_ERROR
        return self._is_lost

    def screen_change(self) -> tuple[Screen, Screen, bool] | None:
        """Return which screen was under the window and which is now, and whether the former is gone; else None."""
        now, former = self._screen_now(), self._screen
        if now == former:
            return None
        self._screen = now
        there = [(screen.name, screen.place) for screen in map(_screen_of, glfw.get_monitors())]
        is_gone = (former.name, former.place) not in there
        if is_gone and monitor_under(self.window) is None and (left := glfw.get_primary_monitor()):
            glfw.set_window_pos(self.window, *glfw.get_monitor_workarea(left)[:2])  # where the system does not
        return former, now, is_gone

    def _screen_now(self) -> Screen:
        monitor = monitor_of(self.window)
        return _screen_of(monitor) if monitor else Screen("no screen")

    def call(self) -> None:
        """Ask for frames from another thread."""
        self.is_called = True
        glfw.post_empty_event()

    def set_title(self, title: str) -> None:
        """Title the window; the system is told only of another title."""
        if title != self._title:
            self._title = title
            glfw.set_window_title(self.window, title)

    def set_full_screen(self, is_full: bool) -> None:
        """Fill the screen on which most of the window is, or go back to where it was.

        A screen that is unplugged while it is filled leaves a window behind, which fills the one where it is then.
        """
        is_left = self._windowed is not None and not glfw.get_window_monitor(self.window)
        if is_full and is_left and (monitor := monitor_of(self.window)):
            fill_monitor(self.window, monitor)
            self.wakes = 3
        if is_full == (self._windowed is not None):
            return
        if self._windowed is not None:
            glfw.set_window_monitor(self.window, None, *self._windowed, glfw.DONT_CARE)
            self._windowed = None
        elif monitor := monitor_of(self.window):
            self._windowed = *glfw.get_window_pos(self.window), *glfw.get_window_size(self.window)
            fill_monitor(self.window, monitor)
        self.wakes = 3

    def begin(self) -> None:
        """Tell imgui of the window and of what the hands did."""
        imgui.backends.glfw_new_frame()

    def bind(self) -> None:
        """Make this the framebuffer that is drawn to."""
        from OpenGL import GL

        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, 0)

    def end(self) -> None:
        """Show what was drawn."""
        if not self._is_seen:
            glfw.show_window(self.window)
            self._is_seen = True
        glfw.swap_buffers(self.window)

    def close(self) -> None:
        """Close the window."""
        imgui.backends.glfw_shutdown()
        glfw.destroy_window(self.window)
        glfw.terminate()

    def _wake_on_events(self) -> None:
        """Ask for a few frames after every event: the interface settles in two. Set before imgui chains its own."""

        def wake(*_: Any) -> None:
            self.wakes, self.is_stirred = 3, True

        def drop(_: Any, paths: list[str]) -> None:
            self.dropped += paths
            wake()

        setters = (
            glfw.set_cursor_pos_callback,
            glfw.set_cursor_enter_callback,
            glfw.set_mouse_button_callback,
            glfw.set_scroll_callback,
            glfw.set_key_callback,
            glfw.set_char_callback,
            glfw.set_window_focus_callback,
            glfw.set_window_refresh_callback,
            glfw.set_framebuffer_size_callback,
            glfw.set_window_content_scale_callback,
            glfw.set_window_close_callback,
            glfw.set_window_pos_callback,
        )
        for setter in setters:
            setter(self.window, wake)
        glfw.set_drop_callback(self.window, drop)
        glfw.set_monitor_callback(wake)


class GuestSurface:
    """A second window: on a monitor on which the first is not, filling it, or else one that can be moved about.

    Raises
    ------
    TrimbenchError
        When the system gives no second window; the first stays as it is.
    """

    scale = 1.0

    def __init__(self, title: str, beside: WindowSurface) -> None:
        window = _window_with(title, *GUEST_SIZE, hints={glfw.FOCUSED: glfw.FALSE, glfw.FOCUS_ON_SHOW: glfw.FALSE})
        if window is None:
            raise TrimbenchError("a second window can't be opened; close other programs, or present in this one")
        self.window = window
        self._beside = beside
        glfw.make_context_current(window)
        glfw.swap_interval(0)  # the first window keeps the time
        self.bits = _framebuffer_bits()
        other = monitor_beside(beside.window)
        if other is not None:
            fill_monitor(window, other)
        glfw.set_window_refresh_callback(window, self._stir)
        glfw.set_framebuffer_size_callback(window, self._stir)
        glfw.set_window_close_callback(window, self._stir)
        glfw.set_key_callback(window, self._key)

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels of the framebuffer."""
        width, height = glfw.get_framebuffer_size(self.window)
        return max(width, 1), max(height, 1)

    @property
    def content_scale(self) -> float:
        """How much larger than usual the system wants things, in framebuffer pixels."""
        return max(*glfw.get_window_content_scale(self.window), 0.5)

    @property
    def screen(self) -> str:
        """The name of the screen on which it is."""
        monitor = monitor_of(self.window)
        return _screen_of(monitor).name if monitor else "no screen"

    @property
    def is_closed(self) -> bool:
        """Whether a hand closed it."""
        return bool(glfw.window_should_close(self.window))

    def begin(self) -> None:
        """Tell imgui the size; there are no hands."""
        io = imgui.get_io()
        io.display_size, io.delta_time = self.size, 1.0 / 60.0

    def bind(self) -> None:
        """Make this the framebuffer that is drawn to."""
        from OpenGL import GL

        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, 0)

    def end(self) -> None:
        """Show what was drawn."""
        glfw.swap_buffers(self.window)

    def close(self) -> None:
        """Close the window; the first one goes on."""
        glfw.make_context_current(self._beside.window)
        glfw.destroy_window(self.window)

    def _stir(self, *_: Any) -> None:
        self._beside.wakes = 3

    def _key(self, _window: Any, key: int, _code: int, action: int, _mods: int) -> None:
        if key == glfw.KEY_ESCAPE and action == glfw.PRESS:
            glfw.set_window_should_close(self.window, True)
            self._stir()


def drawn_codes(surface: Surface) -> np.ndarray:
    """Read back the code values that were drawn on a surface, (rows, columns, 3), upper row first; before `end`."""
    from OpenGL import GL

    width, height = surface.size
    surface.bind()
    GL.glPixelStorei(GL.GL_PACK_ALIGNMENT, 4)
    values = np.empty((height, width, 4), np.float32)
    GL.glReadPixels(0, 0, width, height, GL.GL_RGBA, GL.GL_FLOAT, values)
    return np.rint(values[::-1, :, :3] * (2**surface.bits - 1)).astype(np.uint16)


def monitor_of(window: Any) -> Any:
    """Return the system's monitor on which the middle of a window is, or the first; None where there is none."""
    return monitor_under(window) or glfw.get_primary_monitor()


def monitor_under(window: Any) -> Any:
    """Return the system's monitor on which the middle of a window is; None where it lies outside all of them."""
    x, y = glfw.get_window_pos(window)
    width, height = glfw.get_window_size(window)
    for monitor in glfw.get_monitors():
        left, top = glfw.get_monitor_pos(monitor)
        size = glfw.get_video_mode(monitor).size
        if 0 <= x + width / 2 - left < size.width and 0 <= y + height / 2 - top < size.height:
            return monitor
    return None


def _screen_of(monitor: Any) -> Screen:
    name = glfw.get_monitor_name(monitor).decode(errors="replace")
    mode = glfw.get_video_mode(monitor)
    size = mode.size.width, mode.size.height
    return Screen(name, tuple(glfw.get_monitor_pos(monitor)), (*size, mode.bits.red, mode.refresh_rate))


def monitor_beside(window: Any) -> Any:
    """Return the first of the system's monitors on which a window is not; None where there is none."""

    def address(monitor: Any) -> Any:
        return ctypes.cast(monitor, ctypes.c_void_p).value

    own = address(monitor_of(window))
    return next((each for each in glfw.get_monitors() if address(each) != own), None)


def fill_monitor(window: Any, monitor: Any) -> None:
    """Let a window fill a monitor in the mode that it is in."""
    mode = glfw.get_video_mode(monitor)
    glfw.set_window_monitor(window, monitor, 0, 0, mode.size.width, mode.size.height, mode.refresh_rate)


def _make_window(title: str, width: int, height: int) -> Any:
    """Open a window with GL 4.1, or raise TrimbenchError; the context comes from EGL on Linux, as PyOpenGL expects."""
    glfw.ERROR_REPORTING = "ignore"  # what fails is said once, below
    if not glfw.init():
        raise TrimbenchError(NO_WINDOW)
    monitor = glfw.get_primary_monitor()
    if monitor:
        _, _, room_width, room_height = glfw.get_monitor_workarea(monitor)
        width, height = min(width, room_width or width), min(height, room_height or height)
    window = _window_with(title, width, height, hints={glfw.VISIBLE: glfw.FALSE})
    if window is None:
        glfw.terminate()
        raise TrimbenchError(NO_WINDOW)
    glfw.make_context_current(window)
    glfw.swap_interval(1)
    return window


def _window_with(title: str, width: int, height: int, hints: Mapping[int, int] | None = None) -> Any:
    """Open a window at as many bits as there are, or return None; the library is at work."""
    base = {
        glfw.CONTEXT_VERSION_MAJOR: 4,
        glfw.CONTEXT_VERSION_MINOR: 1,
        glfw.OPENGL_PROFILE: glfw.OPENGL_CORE_PROFILE,
        glfw.OPENGL_FORWARD_COMPAT: glfw.TRUE,
        glfw.DOUBLEBUFFER: glfw.TRUE,
        glfw.DEPTH_BITS: 0,
        glfw.STENCIL_BITS: 0,
        glfw.SAMPLES: 0,
        glfw.SRGB_CAPABLE: glfw.FALSE,
    }
    if sys.platform.startswith("linux"):
        base[glfw.CONTEXT_CREATION_API] = glfw.EGL_CONTEXT_API
    tells = glfw.LOSE_CONTEXT_ON_RESET, glfw.NO_ROBUSTNESS  # of a reset; a driver that can't may draw all the same
    for robustness, (bits, alpha) in product(tells, ((10, 0), (10, 2), (8, 0))):
        glfw.default_window_hints()
        base[glfw.CONTEXT_ROBUSTNESS] = robustness
        colours = {glfw.RED_BITS: bits, glfw.GREEN_BITS: bits, glfw.BLUE_BITS: bits, glfw.ALPHA_BITS: alpha}
        for hint, value in {**base, **colours, **(hints or {})}.items():
            glfw.window_hint(hint, value)
        window = glfw.create_window(width, height, title, None, None)
        if window:
            return window
    return None


def _framebuffer_bits() -> int:
    """Ask the framebuffer itself: the bits that were wished for are not always those that were given."""
    from OpenGL import GL

    GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, 0)
    return int(
        GL.glGetFramebufferAttachmentParameteriv(
            GL.GL_FRAMEBUFFER, GL.GL_BACK_LEFT, GL.GL_FRAMEBUFFER_ATTACHMENT_RED_SIZE
        )
    )
