"""Draws a small fragment main by vector code and by the GL driver, for tests of the one against the other."""

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from viewer.compose import FRAGMENT_VERSION, Composed, compose
from viewer.engine import fullscreen_vertex
from viewer.gl.context import OffscreenContext
from viewer.gl.program import Program
from viewer.gl.texture import Framebuffer, Texture
from viewer.vectors.program import VectorProgram

MAIN = """
uniform sampler2D numbers;
uniform usampler2D codes;
uniform int seven;
out uvec4 result;
{functions}
void main()
{{
    ivec2 at = ivec2(gl_FragCoord.xy);
    vec4 x = texelFetch(numbers, at, 0);
    uvec4 u = texelFetch(codes, at, 0);
    ivec4 i = ivec4(u);
{body}
}}
"""
"""`x` is four floats of the pixel, `u` four whole numbers and `i` the same as signed; `seven` is 7."""

RESULT_CHANNELS = 4
Images = Mapping[str, np.ndarray]


def composed(body: str, functions: str = "") -> Composed:
    """Return a main of a body, which sets the four numbers of `result`."""
    return of_text(MAIN.format(body=body, functions=functions))


def of_text(text: str) -> Composed:
    """Return a whole fragment stage."""
    return compose("generated/main", {"generated/main": text}, FRAGMENT_VERSION)


def pixels(columns: int = 33, rows: int = 3, seed: int = 1) -> dict[str, np.ndarray]:
    """Return random floats of both signs, and whole numbers of which half are small."""
    random = np.random.default_rng(seed)
    numbers = random.uniform(-4, 4, (rows, columns, 4)).astype(np.float32)
    codes = random.integers(0, 2**32, (rows, columns, 4), np.uint32)
    codes[:, ::2] %= 16
    return {"numbers": numbers, "codes": codes}


def by_vectors(fragment: Composed, images: Images, shape: tuple[int, int]) -> np.ndarray:
    """Return `result` of every pixel, (rows, columns, 4) of uint32, drawn on the processor."""
    program = VectorProgram(fragment)
    program.set("seven", 7)
    for name, array in images.items():
        program.set_image(name, array)
    result = np.zeros((*shape, RESULT_CHANNELS), np.uint32)
    program.draw({"result": result})
    return result


class Driver:
    """The GL driver, which compiles the same text by a compiler of its own."""

    def __init__(self) -> None:
        from OpenGL import GL

        self.context = OffscreenContext()
        self._vertex_array = GL.glGenVertexArrays(1)

    def close(self) -> None:
        """Give the context back."""
        self.context.close()

    def drawn(self, fragment: Composed, images: Images, shape: tuple[int, int]) -> np.ndarray:
        """Return `result` of every pixel, as `by_vectors` does."""
        return next(self.drawn_in_turn([fragment], images, shape))

    def drawn_in_turn(self, fragments: list[Composed], images: Images, shape: tuple[int, int]) -> Iterator[np.ndarray]:
        """Draw several of the same images."""
        from OpenGL import GL

        self.context.make_current()
        rows, columns = shape
        target = Texture(GL.GL_RGBA16UI, columns, rows)
        _upload(target, np.zeros((rows, columns, RESULT_CHANNELS), np.uint32))
        framebuffer = Framebuffer(target)
        textures = {name: Texture(GL.GL_RGBA16UI, *array.shape[1::-1]) for name, array in images.items()}
        for name, array in images.items():
            _upload(textures[name], array)
        result = np.empty((rows, columns, RESULT_CHANNELS), np.uint32)
        for fragment in fragments:
            program = Program(vertex=fullscreen_vertex(), fragment=fragment)
            program.use()
            program.set("seven", 7)
            for unit, (name, texture) in enumerate(textures.items()):
                texture.bind(unit)
                program.set(name, unit)
            framebuffer.bind()
            GL.glViewport(0, 0, columns, rows)
            GL.glBindVertexArray(self._vertex_array)
            GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)
            GL.glReadPixels(0, 0, columns, rows, GL.GL_RGBA_INTEGER, GL.GL_UNSIGNED_INT, result)
            program.delete()
            yield result.copy()
        framebuffer.delete()
        for texture in (target, *textures.values()):
            texture.delete()


def _upload(texture: Texture, array: np.ndarray) -> None:
    """Fill a texture with an array (rows, columns, channels) of any numbers, in a format of just these."""
    from OpenGL import GL

    rows, columns, channels = array.shape
    kinds: dict[str, tuple[str, Any]] = {
        "u1": ("8UI", GL.GL_UNSIGNED_BYTE),
        "u2": ("16UI", GL.GL_UNSIGNED_SHORT),
        "u4": ("32UI", GL.GL_UNSIGNED_INT),
        "f4": ("32F", GL.GL_FLOAT),
    }
    bits, kind = kinds[array.dtype.str[1:]]
    letters = ("R", "RG", "RGB", "RGBA")[channels - 1]
    order = letters.replace("R", "RED", 1) if channels == 1 else letters
    form = getattr(GL, order if bits == "32F" else f"{order}_INTEGER", None) or getattr(
        GL, f"GL_{order}" if bits == "32F" else f"GL_{order}_INTEGER"
    )
    GL.glBindTexture(GL.GL_TEXTURE_2D, texture.handle)
    GL.glPixelStorei(GL.GL_UNPACK_ALIGNMENT, 1)
    internal = getattr(GL, f"GL_{letters}{bits}")
    GL.glTexImage2D(GL.GL_TEXTURE_2D, 0, internal, columns, rows, 0, form, kind, np.ascontiguousarray(array))
    texture.internal_format = internal
