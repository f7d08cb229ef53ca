"""The light of a master on the card: decoded once, with box-averaged levels for views below 1:1."""

import math
from typing import Any

import numpy as np

from tonemap.colorimetry import conversion_matrix
from tonemap.encoding import TRANSFERS, Encoding
from tonemap.errors import TrimbenchError
from tonemap.picture import Picture
from tonemap.signal_range import scale_and_offset

from ..compose import FRAGMENT_VERSION, compose
from ..engine import fullscreen_vertex, set_display
from ..gl.program import Program
from ..gl.texture import Framebuffer, Texture


class LightPyramid:
    """BT.2020 light in cd/m2, float32, in levels of half the size each; level 0 is the whole picture.

    Raises
    ------
    TrimbenchError
        When the picture is larger than the card's textures, or the card has no room for it.
    """

    def __init__(self, picture: Picture) -> None:
        from OpenGL import GL
        from OpenGL.error import GLError

        self.columns, self.rows = picture.columns, picture.rows
        self.levels: list[Framebuffer] = []
        largest = int(GL.glGetIntegerv(GL.GL_MAX_TEXTURE_SIZE))
        if max(self.columns, self.rows) > largest:
            raise TrimbenchError(
                f"the picture is {self.columns} x {self.rows}, and this card shows at most {largest} pixels a side; "
                "scale or crop it"
            )
        try:
            self._decode(picture)
            self._halve()
        except GLError as fault:
            self.delete()
            raise TrimbenchError(
                f"the card has no room for a picture of {self.columns} x {self.rows}; close other programs or scale it"
            ) from fault

    def level_for(self, zoom: float) -> int:
        """Return the level to average from: its texels are at most half as large as a screen pixel."""
        return min(max(math.floor(math.log2(0.5 / zoom) + 1e-6), 0), len(self.levels) - 1)

    def delete(self) -> None:
        """Free the card's memory."""
        for level in self.levels:
            level.texture.delete()
            level.delete()
        self.levels = []

    def _decode(self, picture: Picture) -> None:
        from OpenGL import GL

        samples = picture.samples
        if samples.dtype != np.uint16:
            samples = samples.astype(np.float32, copy=False)
        program = Program(vertex=fullscreen_vertex(), fragment=_decode_text(picture.encoding))
        source = Texture(GL.GL_RGB16UI if samples.dtype == np.uint16 else GL.GL_RGB32F, self.columns, self.rows)
        source.upload(samples)
        program.use()
        program.set("source_texture", 0)
        program.set("source.to_bt2020", conversion_matrix(picture.encoding.primaries, "bt2020"))
        set_display(program, "source.display", picture.encoding)
        if picture.encoding.bits is not None:
            scale, offset = scale_and_offset(picture.encoding.bits, picture.encoding.signal_range)
            program.set("source_scale", scale)
            program.set("source_offset", offset)
        self._draw_level(source, self.columns, self.rows)
        source.delete()
        program.delete()

    def _halve(self) -> None:
        program = Program(vertex=fullscreen_vertex(), fragment=compose("main/halve.frag", {}, FRAGMENT_VERSION))
        columns, rows = self.columns, self.rows
        while max(columns, rows) > 1:
            program.use()
            program.set("light", 0)
            program.set("texel", float(2 ** (len(self.levels) - 1)))
            program.set("picture_size", np.array([self.columns, self.rows], np.float32))
            columns, rows = (columns + 1) // 2, (rows + 1) // 2
            self._draw_level(self.levels[-1].texture, columns, rows)
        program.delete()

    def _draw_level(self, source: Texture, columns: int, rows: int) -> None:
        from OpenGL import GL

        self.levels.append(Framebuffer(Texture(GL.GL_RGBA32F, columns, rows)))
        source.bind(0)
        draw_triangle(columns, rows)


def draw_triangle(columns: int, rows: int) -> None:
    """Draw the covering triangle with the program in use."""
    from OpenGL import GL

    GL.glViewport(0, 0, columns, rows)
    GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)


def _decode_text(encoding: Encoding) -> Any:
    generated = "\n".join(
        [
            f"#define SOURCE_CODES {int(encoding.bits is not None)}",
            f"const int SOURCE_TRANSFER = {list(TRANSFERS).index(encoding.transfer)};",
            "uniform Encoding source;",
            "uniform float source_scale, source_offset;",
        ]
    )
    return compose("main/decode.frag", {"generated/source.glsl": generated}, FRAGMENT_VERSION)
