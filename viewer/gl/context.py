"""GL contexts without a screen."""

import ctypes
import sys
from collections.abc import Iterator
from typing import Any

from tonemap.errors import TrimbenchError

from . import __name__ as _platform_is_set  # noqa: F401

NO_GL = (
    "no OpenGL 4.1 context can be made without a screen; install a driver with EGL (on Debian: libegl1 and "
    "libgl1-mesa-dri), or use --engine cpu or reference"
)
VERSIONS = ((4, 6), (4, 5), (4, 3), (4, 1))
SOFTWARE_RENDERERS = ("llvmpipe", "softpipe", "swrast")

PLATFORM_DEVICE_EXT = 0x313F
PLATFORM_SURFACELESS_MESA = 0x31DD


class OffscreenContext:
    """A core-profile GL context that draws into framebuffer objects only; current on the thread that made it.

    Raises
    ------
    TrimbenchError
        When the machine has no GL 4.1, with what to install.
    """

    def __init__(self) -> None:
        self._window: Any = None
        self._display: Any = None
        self._context: Any = None
        if sys.platform.startswith("linux"):
            self._make_egl()
        else:
            self._make_hidden_window()

    def make_current(self) -> None:
        """Make this the thread's context again."""
        if self._window is not None:
            import glfw

            glfw.make_context_current(self._window)
        else:
            from OpenGL import EGL

            EGL.eglMakeCurrent(self._display, EGL.EGL_NO_SURFACE, EGL.EGL_NO_SURFACE, self._context)

    def close(self) -> None:
        """Give the context back; the object can't be used afterwards."""
        if self._window is not None:
            import glfw

            glfw.destroy_window(self._window)
        elif self._context is not None:
            from OpenGL import EGL

            EGL.eglMakeCurrent(self._display, EGL.EGL_NO_SURFACE, EGL.EGL_NO_SURFACE, EGL.EGL_NO_CONTEXT)
            EGL.eglDestroyContext(self._display, self._context)
        self._window = self._context = None

    def _make_egl(self) -> None:
        try:
            from OpenGL import EGL
        except (ImportError, AttributeError, TypeError, OSError):  # PyOpenGL's ways to say that libEGL is missing
            raise TrimbenchError(NO_GL) from None
        software: tuple[Any, Any] | None = None
        for display in _egl_displays():
            context = _egl_context(display)
            if context is None:
                continue
            EGL.eglMakeCurrent(display, EGL.EGL_NO_SURFACE, EGL.EGL_NO_SURFACE, context)
            if not is_software(renderer_name()):
                self._display, self._context = display, context
                return
            software = software or (display, context)
        if software is None:
            raise TrimbenchError(NO_GL)
        self._display, self._context = software
        self.make_current()

    def _make_hidden_window(self) -> None:
        import glfw

        if not glfw.init():
            raise TrimbenchError(NO_GL)
        for major, minor in VERSIONS:
            glfw.default_window_hints()
            glfw.window_hint(glfw.VISIBLE, glfw.FALSE)
            glfw.window_hint(glfw.CONTEXT_VERSION_MAJOR, major)
            glfw.window_hint(glfw.CONTEXT_VERSION_MINOR, minor)
            glfw.window_hint(glfw.OPENGL_PROFILE, glfw.OPENGL_CORE_PROFILE)
            glfw.window_hint(glfw.OPENGL_FORWARD_COMPAT, glfw.TRUE)
            self._window = glfw.create_window(16, 16, "trimbench", None, None)
            if self._window:
                glfw.make_context_current(self._window)
                return
        self._window = None
        raise TrimbenchError(NO_GL)


def gl_version() -> tuple[int, int]:
    """Return the current context's version."""
    from OpenGL import GL

    return int(GL.glGetIntegerv(GL.GL_MAJOR_VERSION)), int(GL.glGetIntegerv(GL.GL_MINOR_VERSION))


def renderer_name() -> str:
    """Return the driver's own name of the card that draws."""
    from OpenGL import GL

    return str(GL.glGetString(GL.GL_RENDERER).decode())


def version_text() -> str:
    """Return the driver's own version text."""
    from OpenGL import GL

    return str(GL.glGetString(GL.GL_VERSION).decode())


def is_software(renderer: str) -> bool:
    """Say whether a renderer's name is that of a software rasteriser."""
    return any(name in renderer.lower() for name in SOFTWARE_RENDERERS)


def _egl_displays() -> Iterator[Any]:
    """Yield initialised EGL displays: every device first, so that a card is found before a software rasteriser."""
    from OpenGL import EGL

    candidates: list[tuple[int, Any]] = [(PLATFORM_DEVICE_EXT, device) for device in _egl_devices()]
    candidates.append((PLATFORM_SURFACELESS_MESA, ctypes.c_void_p(0)))
    get_display = _egl_function(
        "eglGetPlatformDisplayEXT", EGL.EGLDisplay, ctypes.c_uint, ctypes.c_void_p, ctypes.c_void_p
    )
    if get_display is None:
        return
    for platform, native in candidates:
        display = get_display(platform, native, None)
        major, minor = ctypes.c_int(), ctypes.c_int()
        try:
            if display and EGL.eglInitialize(display, major, minor):
                yield display
        except EGL.EGLError:
            continue  # this platform or device has no driver; the next one may


def _egl_devices() -> list[Any]:
    query = _egl_function("eglQueryDevicesEXT", ctypes.c_uint, ctypes.c_int, ctypes.c_void_p, ctypes.c_void_p)
    count = ctypes.c_int()
    if query is None or not query(0, None, ctypes.byref(count)) or count.value == 0:
        return []
    devices = (ctypes.c_void_p * count.value)()
    query(count.value, devices, ctypes.byref(count))
    return [ctypes.c_void_p(device) for device in devices[: count.value]]


def _egl_function(name: str, result: Any, *arguments: Any) -> Any:
    from OpenGL import EGL

    address = EGL.eglGetProcAddress(name.encode())
    pointer = ctypes.cast(address, ctypes.c_void_p).value
    return ctypes.CFUNCTYPE(result, *arguments)(pointer) if pointer else None


def _egl_context(display: Any) -> Any:
    from OpenGL import EGL

    try:
        EGL.eglBindAPI(EGL.EGL_OPENGL_API)
        configs, count = (EGL.EGLConfig * 1)(), ctypes.c_int()
        wanted = [EGL.EGL_RENDERABLE_TYPE, EGL.EGL_OPENGL_BIT, EGL.EGL_SURFACE_TYPE, 0, EGL.EGL_NONE]
        if (
            not EGL.eglChooseConfig(display, (ctypes.c_int * len(wanted))(*wanted), configs, 1, count)
            or not count.value
        ):
            return None
    except EGL.EGLError:
        return None
    for major, minor in VERSIONS:
        wanted = [
            EGL.EGL_CONTEXT_MAJOR_VERSION,
            major,
            EGL.EGL_CONTEXT_MINOR_VERSION,
            minor,
            EGL.EGL_CONTEXT_OPENGL_PROFILE_MASK,
            EGL.EGL_CONTEXT_OPENGL_CORE_PROFILE_BIT,
            EGL.EGL_NONE,
        ]
        try:
            return EGL.eglCreateContext(display, configs[0], EGL.EGL_NO_CONTEXT, (ctypes.c_int * len(wanted))(*wanted))
        except EGL.EGLError:
            continue  # the next lower version
    return None
