"""Pictures of a tile's size on the card."""

from dataclasses import dataclass
from typing import Any

from tonemap.encoding import Encoding
from tonemap.monitor import Monitor
from tonemap.picture_colours import PictureColours
from tonemap.rendition import Chain

from ..gl.texture import Framebuffer, Texture
from .interface_encoding import interface_on
from .layout import Placement


@dataclass(frozen=True)
class ViewKey:
    """What the light of a view depends on."""

    picture: int
    placement: Placement
    columns: int
    rows: int


@dataclass(frozen=True)
class Drawing:
    """What is drawn on a tile: a rendition, or the master as the monitor can show it.

    Attributes
    ----------
    window : cd/m2 of the master that an SDR monitor's white stands for
    colours : drawn in place of the picture; None for the picture itself
    """

    view: ViewKey
    monitor: Monitor
    chain: Chain | None
    window: float = 0.0
    colours: PictureColours | None = None

    @property
    def encoding(self) -> Encoding:
        """What the signal on the tile is encoded for."""
        if self.colours is not None:
            return interface_on(self.monitor)
        return self.monitor.encoding if self.chain is None else self.chain.rendition.target

    @property
    def shown(self) -> Encoding:
        """The display whose light is shown of that signal."""
        is_sdr = self.chain is not None and self.colours is None
        return self.monitor.display_of(self.encoding) if is_sdr else self.encoding


class Canvas:
    """A picture of a tile's size, with the key of what is drawn on it; RGBA32F unless another format is asked for."""

    def __init__(self, internal_format: Any = None) -> None:
        self._format = internal_format
        self.key: object = None
        self.framebuffer: Framebuffer | None = None

    def begin(self, key: object, columns: int, rows: int, stride: int = 1) -> bool:
        """Prepare for drawing; returns False when the same thing is there already."""
        if self.key == key:
            return False
        self.bind(columns, rows, stride)
        self.key = key
        return True

    def bind(self, columns: int, rows: int, stride: int = 1) -> Framebuffer:
        """Make this what is drawn to, at a size in pixels of the tile, of which every stride-th is drawn."""
        from OpenGL import GL

        columns, rows = -(-columns // stride), -(-rows // stride)
        texture = self.framebuffer.texture if self.framebuffer else None
        if self.framebuffer is None or texture is None or (texture.columns, texture.rows) != (columns, rows):
            self.delete()
            self.framebuffer = Framebuffer(Texture(self._format or GL.GL_RGBA32F, columns, rows, varies=True))
        self.framebuffer.bind()
        return self.framebuffer

    def delete(self) -> None:
        """Free the card's memory."""
        if self.framebuffer is not None:
            self.framebuffer.texture.delete()
            self.framebuffer.delete()
        self.framebuffer, self.key = None, None


class Sheet:
    """A tile's picture: a quick one at once, then every pixel of the tile, and below 1:1 the exact one.

    The better picture is drawn some rows at a time and then takes the place of the one that is shown.

    Attributes
    ----------
    stride : pixels of the tile a pixel of what is shown
    row : up to which row the coming picture is drawn
    """

    def __init__(self) -> None:
        self.drawing: Drawing | None = None
        self.wanted: Drawing | None = None
        self.stride = 1
        self.is_exact = False
        self.row = 0
        self.shown, self.coming = Canvas(), Canvas()

    @property
    def is_stale(self) -> bool:
        """Whether something else is wanted than what is drawn."""
        return self.wanted is not None and (self.drawing != self.wanted or self.shown.framebuffer is None)

    def begin(self, drawing: Drawing, stride: int) -> None:
        """Prepare for a quick drawing, at every stride-th pixel of the tile."""
        self.drawing, self.row, self.stride = drawing, 0, stride
        self.is_exact = stride == 1 and drawing.view.placement.zoom >= 1.0
        self.shown.bind(drawing.view.columns, drawing.view.rows, stride)

    def finish(self) -> None:
        """Show the better picture instead of the present one."""
        self.shown, self.coming = self.coming, self.shown
        self.coming.delete()
        is_averaged = self.stride == 1
        self.row, self.stride = 0, 1
        self.is_exact = is_averaged or (self.drawing is not None and self.drawing.view.placement.zoom >= 1.0)

    def delete(self) -> None:
        """Free the card's memory."""
        self.shown.delete()
        self.coming.delete()
        self.drawing = self.wanted = None
