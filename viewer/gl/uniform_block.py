"""A uniform block that holds one array of numbers."""

import numpy as np
from numpy.typing import ArrayLike

BYTES_A_VALUE = 16
"""By std140 each element of an array of floats takes the place of four."""


class UniformBlock:
    """An array of floats of a `layout(std140) uniform` block, at binding point 0, where a block is unless it is moved.

    A software rasteriser reads it far sooner than a texture.

    Attributes
    ----------
    most_values : the length of the longest array that the driver takes
    """

    def __init__(self) -> None:
        from OpenGL import GL

        self.most_values = int(GL.glGetIntegerv(GL.GL_MAX_UNIFORM_BLOCK_SIZE)) // BYTES_A_VALUE
        self._handle = GL.glGenBuffers(1)

    def fill(self, values: ArrayLike) -> None:
        """Upload the array (length,)."""
        from OpenGL import GL

        given = np.asarray(values, np.float32)
        spread = np.zeros((len(given), BYTES_A_VALUE // given.itemsize), np.float32)
        spread[:, 0] = given
        GL.glBindBuffer(GL.GL_UNIFORM_BUFFER, self._handle)
        GL.glBufferData(GL.GL_UNIFORM_BUFFER, spread.nbytes, spread, GL.GL_STATIC_DRAW)

    def bind(self) -> None:
        """Make it what programs read."""
        from OpenGL import GL

        GL.glBindBufferBase(GL.GL_UNIFORM_BUFFER, 0, self._handle)

    def delete(self) -> None:
        """Free it."""
        from OpenGL import GL

        GL.glDeleteBuffers(1, [self._handle])
