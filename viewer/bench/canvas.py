"""Pictures of a tile's size on the card."""

from dataclasses import dataclass

from tonemap.encoding import Encoding
from tonemap.picture_colours import PictureColours
from tonemap.rendition import Chain

from ..gl.texture import Framebuffer, Texture
from .layout import Placement
from .state import SCREEN


@dataclass(frozen=True)
class ViewKey:
    """What the light of a view depends on."""

    picture: int
    placement: Placement
    columns: int
    rows: int


@dataclass(frozen=True)
class Drawing:
    """What is drawn on a tile: a rendition, or the master with the nits that the screen's white stands for.

    Attributes
    ----------
    colours : drawn in place of the picture; None for the picture itself
    """

    view: ViewKey
    chain: Chain | None
    window: float = 0.0
    colours: PictureColours | None = None

    @property
    def encoding(self) -> Encoding:
        """What the signal on the tile is encoded for."""
        return SCREEN if self.chain is None or self.colours is not None else self.chain.rendition.target


class Canvas:
    """A picture of a tile's size, with the key of what is drawn on it."""

    def __init__(self) -> None:
        self.key: object = None
        self.framebuffer: Framebuffer | None = None

    def begin(self, key: object, columns: int, rows: int) -> bool:
        """Prepare for drawing; returns False when the same thing is there already."""
        if self.key == key:
            return False
        self.bind(columns, rows)
        self.key = key
        return True

    def bind(self, columns: int, rows: int) -> Framebuffer:
        """Make this what is drawn to, at a size."""
        from OpenGL import GL

        texture = self.framebuffer.texture if self.framebuffer else None
        if self.framebuffer is None or texture is None or (texture.columns, texture.rows) != (columns, rows):
            self.delete()
            self.framebuffer = Framebuffer(Texture(GL.GL_RGBA32F, columns, rows))
        self.framebuffer.bind()
        return self.framebuffer

    def delete(self) -> None:
        """Free the card's memory."""
        if self.framebuffer is not None:
            self.framebuffer.texture.delete()
            self.framebuffer.delete()
        self.framebuffer, self.key = None, None


class Sheet:
    """A tile's picture: a quick one at once, and below 1:1 the exact one that takes its place, some rows at a time."""

    def __init__(self) -> None:
        self.drawing: Drawing | None = None
        self.is_exact = False
        self.row = 0
        self.shown, self.coming = Canvas(), Canvas()

    def begin(self, drawing: Drawing) -> bool:
        """Prepare for the quick drawing; returns False when the same thing is there already."""
        if self.drawing == drawing and self.shown.framebuffer is not None:
            return False
        self.drawing, self.row = drawing, 0
        self.is_exact = drawing.view.placement.zoom >= 1.0
        self.shown.bind(drawing.view.columns, drawing.view.rows)
        return True

    def finish(self) -> None:
        """Show the exact picture instead of the quick one."""
        self.shown, self.coming = self.coming, self.shown
        self.coming.delete()
        self.is_exact = True

    def delete(self) -> None:
        """Free the card's memory."""
        self.shown.delete()
        self.coming.delete()
        self.drawing = None
