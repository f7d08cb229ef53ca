"""What a tile shows, drawn from light with GL: the master, a rendition, or colours in their place."""

import numpy as np

from tonemap.encoding import Encoding
from tonemap.errors import TrimbenchError
from tonemap.rendition import Chain

from ..engine import set_chain_uniforms
from ..gl.program import Program
from ..gl.texture import Framebuffer, Texture
from .canvas import Canvas, Drawing
from .colouring import Colouring
from .programs import Programs
from .uniforms import set_monitor, transfer_number


class Painter:
    """Draws pictures from light pixel by pixel; no other pixel of the light bears on one of the picture.

    Attributes
    ----------
    master : the encoding of the master whose light it is
    """

    def __init__(self, programs: Programs) -> None:
        self.programs = programs
        self.master: Encoding | None = None
        self._colouring = Colouring(programs)
        self._stage = Canvas()

    def paint(
        self,
        drawing: Drawing,
        light: Texture,
        canvas: Canvas,
        size: tuple[int, int],
        first: tuple[int, int] = (0, 0),
        stride: int = 1,
        rows: tuple[int, int] | None = None,
    ) -> None:
        """Draw to a canvas.

        Parameters
        ----------
        size : columns and rows of the canvas
        first, stride : the light's texel for the canvas's first pixel, and how many of them a pixel
        rows : the first row that is drawn, and the first one that is not; None for all
        """
        columns = size[0]
        low, high = rows or (0, size[1])
        grid = first, stride
        if drawing.chain is not None and drawing.colours is not None:
            stage = self._stage.bind(*size)
            self._rendition(drawing.chain, light, stage, columns, (low, high), grid)
            self._target(canvas.bind(*size), columns, low, high)
            self._colouring.draw(drawing.colours, stage.texture, drawing.chain.rendition.target, False)
        elif drawing.chain is not None:
            self._rendition(drawing.chain, light, canvas.bind(*size), columns, (low, high), grid)
        else:
            self._target(canvas.bind(*size), columns, low, high)
            if drawing.colours is None:
                self._master(drawing, light, grid)
            elif self.master is not None:
                self._colouring.draw(drawing.colours, light, self.master, True, *grid)

    def delete(self) -> None:
        """Free what is on the card."""
        self._colouring.delete()
        self._stage.delete()

    def _target(self, framebuffer: Framebuffer, columns: int, low: int, high: int) -> None:
        from OpenGL import GL

        framebuffer.bind()
        GL.glViewport(0, low, columns, high - low)

    def _master(self, drawing: Drawing, light: Texture, grid: tuple[tuple[int, int], int]) -> None:
        """Draw the master as the monitor can show it to the viewport."""
        monitor = drawing.monitor
        program = self.programs.fixed("master", monitor_transfer=transfer_number(monitor.encoding))
        program.set("gain", 1.0 if monitor.is_pq else monitor.peak / drawing.window)
        set_monitor(program, monitor)
        _set_light(program, light, grid)
        _draw_viewport()

    def _rendition(
        self,
        chain: Chain,
        light: Texture,
        target: Framebuffer,
        columns: int,
        rows: tuple[int, int],
        grid: tuple[tuple[int, int], int],
    ) -> None:
        """Draw a rendition's signal, by the compute main where there is one."""
        program = self.programs.of_rendition(chain)
        if isinstance(program, TrimbenchError):
            return
        program.use()
        set_chain_uniforms(program, chain, self.programs.tables)
        program.set("has_codes", chain.rendition.target.bits is not None)
        _set_light(program, light, grid)
        if self.programs.has_compute:
            program.dispatch(target.texture, (0, rows[0]), (columns, rows[1]))
        else:
            self._target(target, columns, *rows)
            _draw_viewport()


def _set_light(program: Program, light: Texture, grid: tuple[tuple[int, int], int]) -> None:
    program.set("view_light", 0)
    program.set("first", np.array(grid[0]))
    program.set("stride", grid[1])
    program.set("texels", np.array([light.columns, light.rows]))
    light.bind(0)


def _draw_viewport() -> None:
    from OpenGL import GL

    GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)
