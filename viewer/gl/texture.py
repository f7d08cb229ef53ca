"""Textures of samples, and framebuffers to draw into and read back from."""

import ctypes
import itertools
from collections.abc import Iterable
from typing import Any

import numpy as np

from tonemap.errors import TrimbenchError


class Texture:
    """A 2D texture without filtering; integer code values or floating-point samples, row 0 first.

    Parameters
    ----------
    varies : whether one of another size soon takes its place, as where a hand moves. Mesa's software rasteriser has
        machine code of its own for textures with a side of a power of two, and makes it when the first one comes up;
        so no side is one here, and a shader is to be told how many texels count

    Attributes
    ----------
    columns, rows : of what it holds
    has_unseen : whether a compute program wrote what GL does not promise yet to show to those that read it
    """

    def __init__(self, internal_format: Any, columns: int, rows: int, *, varies: bool = False) -> None:
        from OpenGL import GL

        self.columns, self.rows = columns, rows
        self.internal_format = internal_format
        self.has_unseen = False
        self.handle = GL.glGenTextures(1)
        GL.glBindTexture(GL.GL_TEXTURE_2D, self.handle)
        for parameter in (GL.GL_TEXTURE_MIN_FILTER, GL.GL_TEXTURE_MAG_FILTER):
            GL.glTexParameteri(GL.GL_TEXTURE_2D, parameter, GL.GL_NEAREST)
        for parameter in (GL.GL_TEXTURE_WRAP_S, GL.GL_TEXTURE_WRAP_T):
            GL.glTexParameteri(GL.GL_TEXTURE_2D, parameter, GL.GL_CLAMP_TO_EDGE)
        is_integer = internal_format in (
            *(GL.GL_R8UI, GL.GL_R16UI, GL.GL_R32UI, GL.GL_RG8UI, GL.GL_RG16UI),
            *(GL.GL_RGB16UI, GL.GL_RGBA16UI),
        )
        pixel_format = GL.GL_RGBA_INTEGER if is_integer else GL.GL_RGBA
        pixel_type = GL.GL_UNSIGNED_SHORT if is_integer else GL.GL_FLOAT
        size = [_no_power_of_two(side) if varies else side for side in (columns, rows)]
        GL.glTexImage2D(GL.GL_TEXTURE_2D, 0, internal_format, *size, 0, pixel_format, pixel_type, None)

    def upload(self, samples: np.ndarray) -> None:
        """Fill the lower left part with samples (rows, columns, 2 or 3): uint16, float32, or two channels of uint8."""
        from OpenGL import GL

        rows, columns, channels = samples.shape
        kinds: dict[Any, Any] = {np.uint8: GL.GL_UNSIGNED_BYTE, np.uint16: GL.GL_UNSIGNED_SHORT}
        kind = kinds.get(samples.dtype.type, GL.GL_FLOAT)
        orders = {2: GL.GL_RG_INTEGER, 3: GL.GL_RGB_INTEGER if kind != GL.GL_FLOAT else GL.GL_RGB}
        GL.glBindTexture(GL.GL_TEXTURE_2D, self.handle)
        GL.glPixelStorei(GL.GL_UNPACK_ALIGNMENT, 1)
        GL.glTexSubImage2D(
            GL.GL_TEXTURE_2D,
            0,
            0,
            0,
            columns,
            rows,
            orders[channels],
            kind,
            np.ascontiguousarray(samples),
        )

    def upload_plane(self, plane: np.ndarray) -> None:
        """Fill it with one plane (rows, columns) of uint8, 16 or 32; lines may be longer in memory than the picture."""
        from OpenGL import GL

        if plane.strides[1] != plane.itemsize or plane.strides[0] % plane.itemsize:
            plane = np.ascontiguousarray(plane)
        rows, columns = plane.shape
        GL.glBindTexture(GL.GL_TEXTURE_2D, self.handle)
        GL.glPixelStorei(GL.GL_UNPACK_ALIGNMENT, 1)
        GL.glPixelStorei(GL.GL_UNPACK_ROW_LENGTH, plane.strides[0] // plane.itemsize)
        kinds = {np.uint8: GL.GL_UNSIGNED_BYTE, np.uint16: GL.GL_UNSIGNED_SHORT, np.uint32: GL.GL_UNSIGNED_INT}
        kind = kinds[plane.dtype.type]
        start = ctypes.c_void_p(plane.ctypes.data)  # the array itself would be copied where its lines are longer
        GL.glTexSubImage2D(GL.GL_TEXTURE_2D, 0, 0, 0, columns, rows, GL.GL_RED_INTEGER, kind, start)
        GL.glPixelStorei(GL.GL_UNPACK_ROW_LENGTH, 0)

    def upload_row(self, values: np.ndarray) -> None:
        """Fill the first row with single values (columns,), float32."""
        from OpenGL import GL

        GL.glBindTexture(GL.GL_TEXTURE_2D, self.handle)
        GL.glPixelStorei(GL.GL_UNPACK_ALIGNMENT, 4)
        GL.glTexSubImage2D(
            GL.GL_TEXTURE_2D, 0, 0, 0, len(values), 1, GL.GL_RED, GL.GL_FLOAT, np.ascontiguousarray(values, np.float32)
        )

    def bind(self, unit: int) -> None:
        """Bind to a texture unit."""
        from OpenGL import GL

        settle([self])
        GL.glActiveTexture(GL.GL_TEXTURE0 + unit)
        GL.glBindTexture(GL.GL_TEXTURE_2D, self.handle)

    def delete(self) -> None:
        """Free the texture."""
        from OpenGL import GL

        GL.glDeleteTextures(1, [self.handle])


def _no_power_of_two(side: int) -> int:
    return next(number for number in itertools.count(side) if number & (number - 1))


def settle(textures: Iterable[Texture]) -> None:
    """Let commands that follow see what compute programs wrote to textures, with one wait for all of them."""
    from OpenGL import GL

    unseen = [texture for texture in textures if texture.has_unseen]
    if unseen:
        barriers: Any = (
            GL.GL_TEXTURE_FETCH_BARRIER_BIT | GL.GL_FRAMEBUFFER_BARRIER_BIT | GL.GL_TEXTURE_UPDATE_BARRIER_BIT
        )
        GL.glMemoryBarrier(barriers)
    for texture in unseen:
        texture.has_unseen = False


class Framebuffer:
    """A framebuffer object around a texture, or around several of one size for as many results of a main."""

    def __init__(self, texture: Texture, *others: Texture) -> None:
        from OpenGL import GL

        self.texture = texture
        self.textures = texture, *others
        self.handle = GL.glGenFramebuffers(1)
        self.bind()
        places = [GL.GL_COLOR_ATTACHMENT0 + place for place in range(len(self.textures))]
        for place, one in zip(places, self.textures, strict=True):
            GL.glFramebufferTexture2D(GL.GL_FRAMEBUFFER, place, GL.GL_TEXTURE_2D, one.handle, 0)
        GL.glDrawBuffers(len(places), places)
        if GL.glCheckFramebufferStatus(GL.GL_FRAMEBUFFER) != GL.GL_FRAMEBUFFER_COMPLETE:
            raise TrimbenchError("the GL driver can't draw into this kind of texture; use --engine reference")

    def bind(self) -> None:
        """Make this the framebuffer that is drawn to and read from."""
        from OpenGL import GL

        settle(self.textures)
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self.handle)

    def read(self, columns: int, rows: int) -> np.ndarray:
        """Read the lower left part back as (rows, columns, 3), uint16 or float32 as the texture holds."""
        from OpenGL import GL

        is_integer = self.texture.internal_format == GL.GL_RGBA16UI
        result = np.empty((rows, columns, 3), np.uint16 if is_integer else np.float32)
        self.bind()
        GL.glPixelStorei(GL.GL_PACK_ALIGNMENT, 1)
        GL.glReadPixels(
            0,
            0,
            columns,
            rows,
            GL.GL_RGB_INTEGER if is_integer else GL.GL_RGB,
            GL.GL_UNSIGNED_SHORT if is_integer else GL.GL_FLOAT,
            result,
        )
        return result

    def read_plane(self, columns: int, rows: int, place: int = 0) -> np.ndarray:
        """Read the lower left part of integers of one channel, by the texture's place, as (rows, columns)."""
        from OpenGL import GL

        is_wide = self.textures[place].internal_format == GL.GL_R32UI
        result = np.empty((rows, columns), np.uint32 if is_wide else np.uint16)
        kind = GL.GL_UNSIGNED_INT if is_wide else GL.GL_UNSIGNED_SHORT
        self.bind()
        GL.glReadBuffer(GL.GL_COLOR_ATTACHMENT0 + place)
        GL.glPixelStorei(GL.GL_PACK_ALIGNMENT, 1)
        GL.glReadPixels(0, 0, columns, rows, GL.GL_RED_INTEGER, kind, result)
        return result

    def delete(self) -> None:
        """Free the framebuffer; its texture stays."""
        from OpenGL import GL

        GL.glDeleteFramebuffers(1, [self.handle])
