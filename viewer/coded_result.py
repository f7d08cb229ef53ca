"""A movie's planes as a rendition's result on the card: what it is drawn into, the filter of chroma, the way back."""

from collections.abc import Callable

import numpy as np

from tonemap.media.planes import SITINGS, Coding, Planes

from .compose import FRAGMENT_VERSION, Composed, compose
from .engine import Settable, fullscreen_vertex
from .gl.program import Program
from .gl.texture import Framebuffer, Texture
from .samples import set_coding

Draw = Callable[[Program, Framebuffer, int, int], None]


class CodedResult:
    """The planes of one coding and size; pair of `tonemap/media/coded_planes.py`."""

    def __init__(self, coding: Coding, columns: int, rows: int) -> None:
        from OpenGL import GL

        self.kind = coding, columns, rows
        if coding.matrix is None:
            self.framebuffer = Framebuffer(*(Texture(GL.GL_R16UI, columns, rows) for _ in range(3)))
            return
        self.framebuffer = Framebuffer(Texture(GL.GL_R16UI, columns, rows), Texture(GL.GL_RG32F, columns, rows))
        size = chroma_size(coding, columns, rows)
        self._chroma = Framebuffer(*(Texture(GL.GL_R16UI, *size) for _ in range(2)))
        self._filter = Program(vertex=fullscreen_vertex(), fragment=chroma_fragment(coding))
        self._chroma_size = size

    def set_uniforms(self, program: Program) -> None:
        """Set what `main/rendition.frag` needs beside the chain, on the program in use."""
        set_result_coding(program, self.kind[0])

    def read(self, draw: Draw) -> Planes:
        """Return the planes of what has been drawn."""
        coding, columns, rows = self.kind
        if coding.matrix is None:
            red, green, blue = (self.framebuffer.read_plane(columns, rows, place) for place in range(3))
            return Planes((red, green, blue), coding)
        self._filter.use()
        self.framebuffer.textures[1].bind(0)
        self._filter.set("chroma", 0)
        set_chroma_filter(self._filter, coding, columns, rows)
        draw(self._filter, self._chroma, *self._chroma_size)
        luma = self.framebuffer.read_plane(columns, rows)
        blue, red = (self._chroma.read_plane(*self._chroma_size, place) for place in range(2))
        return Planes((luma, blue, red), coding)

    def delete(self) -> None:
        """Free the card's memory."""
        for framebuffer in (self.framebuffer, *([] if self.kind[0].matrix is None else [self._chroma])):
            framebuffer.delete()
            for texture in framebuffer.textures:
                texture.delete()
        if self.kind[0].matrix is not None:
            self._filter.delete()


def chroma_size(coding: Coding, columns: int, rows: int) -> tuple[int, int]:
    """Return columns and rows of the planes of chroma."""
    across, down = coding.subsampling
    return -(-columns // across), -(-rows // down)


def chroma_fragment(coding: Coding) -> Composed:
    """Compose the filter that makes samples of chroma of every pixel's."""
    across, down = coding.subsampling
    place = SITINGS[coding.siting]
    text = f"const ivec2 STEPS = ivec2({across}, {down});\n"
    text += f"const vec2 PLACE = vec2({place[0] * (across - 1)}, {place[1] * (down - 1)});"
    return compose("main/chroma.frag", {"generated/coding.glsl": text}, FRAGMENT_VERSION)


def set_result_coding(program: Settable, coding: Coding) -> None:
    """Set what `main/rendition.frag` needs beside the chain for planes, on the program in use."""
    if coding.matrix is not None:
        set_coding(program, "result_coding", coding)
        program.set("top_code", 2.0**coding.bits - 1.0)


def set_chroma_filter(program: Settable, coding: Coding, columns: int, rows: int) -> None:
    """Set what `main/chroma.frag` needs beside chroma itself, on the program in use."""
    program.set("size", np.array((columns, rows)))
    program.set("chroma_scale", np.array(coding.chroma_scale, np.float32))
    program.set("top_code", 2.0**coding.bits - 1.0)
