"""The page: the pictures and the interface over them, as what the monitor is sent.

On a screen like the one that the interface is made for, everything is drawn on the surface itself and codes stay as
they are. On any other the interface has a layer of its own, and one pass mixes the two in the monitor's light.
"""

import numpy as np

from tonemap.monitor import Monitor

from .canvas import Canvas
from .interface_encoding import grey_on, interface_on
from .programs import Programs
from .pyramid import draw_triangle
from .surface import Surface
from .toolkit import imgui
from .uniforms import set_encoding, set_monitor, transfer_number


class Page:
    """Draws on a surface for a monitor: `begin`, then pictures wherever `bind` says, then `finish`."""

    def __init__(self, programs: Programs, surface: Surface) -> None:
        from OpenGL import GL

        self._programs = programs
        self._surface = surface
        self._monitor = Monitor()
        self._pictures, self._layer = Canvas(GL.GL_RGB10_A2), Canvas(GL.GL_RGBA8)

    def begin(self, monitor: Monitor, ground: float) -> None:
        """Start with an empty page; `ground` is the interface's grey where there is nothing."""
        from OpenGL import GL

        self._monitor = monitor
        if self._is_direct:
            self._pictures.delete()
            self._layer.delete()
        self.bind()
        GL.glDisable(GL.GL_SCISSOR_TEST)
        GL.glViewport(0, 0, *self._surface.size)
        top = 2.0**self._surface.bits - 1.0
        GL.glClearColor(*np.rint(grey_on(monitor, ground) * top) / top, 1.0)
        GL.glClear(GL.GL_COLOR_BUFFER_BIT)

    def bind(self) -> None:
        """Make the page what pictures are drawn to, as the monitor's signal."""
        if self._is_direct:
            self._surface.bind()
        else:
            self._pictures.bind(*self._surface.size)

    def finish(self) -> None:
        """Put the interface over the pictures."""
        from OpenGL import GL

        if self._is_direct:
            self._surface.bind()
            imgui.backends.opengl3_render_draw_data(imgui.get_draw_data())
            return
        layer = self._layer.bind(*self._surface.size)
        GL.glClearColor(0.0, 0.0, 0.0, 0.0)
        GL.glClear(GL.GL_COLOR_BUFFER_BIT)
        imgui.backends.opengl3_render_draw_data(imgui.get_draw_data())
        pictures = self._pictures.bind(*self._surface.size)
        self._surface.bind()
        self._programs.prepare()
        self._use_program()
        pictures.texture.bind(0)
        layer.texture.bind(1)
        draw_triangle(*self._surface.size)

    def delete(self) -> None:
        """Free the card's memory."""
        self._pictures.delete()
        self._layer.delete()

    @property
    def _is_direct(self) -> bool:
        return self._monitor.passes(interface_on(self._monitor))

    def _use_program(self) -> None:
        encoding = interface_on(self._monitor)
        transfer = transfer_number(self._monitor.encoding)
        program = self._programs.fixed("compose", monitor_transfer=transfer)
        program.set("pictures", 0)
        program.set("interface_layer", 1)
        set_encoding(program, "interface_encoding", encoding)
        program.set("gain", self._monitor.gain_for(encoding))
        program.set("top_code", 2.0**self._surface.bits - 1.0)
        set_monitor(program, self._monitor)
