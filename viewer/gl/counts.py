"""Counts on the card: one number a cell, exact up to 2^24 in floats and 2^32 in integers."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from .texture import Framebuffer, Texture


class Counts:
    """A texture of counts, integers for compute shaders or floats for blending, with a framebuffer around it."""

    def __init__(self, columns: int, rows: int, are_integers: bool) -> None:
        from OpenGL import GL

        self.are_integers = are_integers
        self.texture = Texture(GL.GL_R32UI if are_integers else GL.GL_R32F, columns, rows)
        self.framebuffer = Framebuffer(self.texture)

    def clear(self) -> None:
        """Set every count to 0."""
        from OpenGL import GL

        self.framebuffer.bind()
        if self.are_integers:
            GL.glClearBufferuiv(GL.GL_COLOR, 0, np.zeros(4, np.uint32))
        else:
            GL.glClearBufferfv(GL.GL_COLOR, 0, np.zeros(4, np.float32))

    def read(self) -> NDArray[np.int64]:
        """Read the counts back, (rows, columns), row 0 first."""
        from OpenGL import GL

        sort: Any = np.uint32 if self.are_integers else np.float32
        result = np.empty((self.texture.rows, self.texture.columns), sort)
        self.framebuffer.bind()
        GL.glPixelStorei(GL.GL_PACK_ALIGNMENT, 4)
        GL.glReadPixels(
            0,
            0,
            self.texture.columns,
            self.texture.rows,
            GL.GL_RED_INTEGER if self.are_integers else GL.GL_RED,
            GL.GL_UNSIGNED_INT if self.are_integers else GL.GL_FLOAT,
            result,
        )
        return result.astype(np.int64)

    def delete(self) -> None:
        """Free the card's memory."""
        self.framebuffer.delete()
        self.texture.delete()
