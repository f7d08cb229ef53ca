"""Thumbnails on the card, for the interface to draw."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from .layout import Rect
from .toolkit import imgui


class ThumbnailTextures:
    """One texture for each thumbnail that there is; needs the context that the interface is drawn with."""

    def __init__(self) -> None:
        self._held: dict[int, tuple[np.ndarray, int]] = {}

    def take(self, thumbnails: Mapping[int, np.ndarray | None]) -> None:
        """Put on the card what is new, and free what is gone."""
        now = {index: pixels for index, pixels in dict(thumbnails).items() if pixels is not None}
        for index, (pixels, texture) in list(self._held.items()):
            if now.get(index) is not pixels:
                self._free(texture)
                del self._held[index]
        for index, pixels in now.items():
            if index not in self._held:
                self._held[index] = pixels, _texture(pixels)

    def draw(self, draw: Any, index: int, rect: Rect) -> None:
        """Draw a thumbnail so that it fills a rectangle, cut where the shapes differ; nothing where there is none."""
        if index not in self._held or rect.width < 1:
            return
        pixels, texture = self._held[index]
        shape = (pixels.shape[1] / pixels.shape[0]) / (rect.width / rect.height)
        across, down = (0.5 / shape, 0.5) if shape > 1.0 else (0.5, 0.5 * shape)
        draw.add_image(
            imgui.ImTextureRef(texture),
            (rect.left, rect.top),
            (rect.right, rect.bottom),
            (0.5 - across, 0.5 - down),
            (0.5 + across, 0.5 + down),
        )

    def delete(self) -> None:
        """Free the card's memory."""
        self.take({})

    def _free(self, texture: int) -> None:
        from OpenGL import GL

        GL.glDeleteTextures(1, [texture])


def _texture(pixels: np.ndarray) -> int:
    from OpenGL import GL

    rows, columns, _ = pixels.shape
    texture = int(GL.glGenTextures(1))
    GL.glBindTexture(GL.GL_TEXTURE_2D, texture)
    for parameter in (GL.GL_TEXTURE_MIN_FILTER, GL.GL_TEXTURE_MAG_FILTER):
        GL.glTexParameteri(GL.GL_TEXTURE_2D, parameter, GL.GL_LINEAR)
    for parameter in (GL.GL_TEXTURE_WRAP_S, GL.GL_TEXTURE_WRAP_T):
        GL.glTexParameteri(GL.GL_TEXTURE_2D, parameter, GL.GL_CLAMP_TO_EDGE)
    GL.glPixelStorei(GL.GL_UNPACK_ALIGNMENT, 1)
    GL.glTexImage2D(
        GL.GL_TEXTURE_2D, 0, GL.GL_RGB8, columns, rows, 0, GL.GL_RGB, GL.GL_UNSIGNED_BYTE, np.ascontiguousarray(pixels)
    )
    return texture
