"""The pictures of the tiles, drawn with GL.

Light of the present view is made once for all tiles; each rendition is computed from it when it or the view has
changed, and kept; every redraw of the window only copies. So a slider costs one rendition at the size of its tile.
Below 1:1 that is a mean of the master's light, and so an approximation. While nothing changes, `refine` computes the
rendition of every pixel of the picture, some rows at a time, and puts the mean of its display light in place.
"""

import math
import time
from collections.abc import Sequence

import numpy as np

from tonemap.colorimetry import conversion_matrix
from tonemap.errors import TrimbenchError
from tonemap.heat import heat_colours
from tonemap.picture import Picture
from tonemap.picture_colours import PictureColours
from tonemap.rendition import Chain

from ..engine import set_chain_uniforms, set_display
from ..gl.texture import Texture
from .canvas import Canvas, Drawing, Sheet, ViewKey
from .colouring import Colouring, set_shown
from .encoding_of_screen import screen_signal
from .layout import Placement, Rect
from .programs import Programs
from .pyramid import LightPyramid, draw_triangle
from .showing import Key
from .state import SCREEN

BAND = 1 << 17
"""Pixels of the picture at a time on the way to an exact mean: a few milliseconds on the software rasteriser."""

EVERYWHERE = (0.0, 0.0, -1.0)


class Tiles:
    """Draws the master and the renditions; needs a current context, and leaves the framebuffer to the caller."""

    def __init__(self) -> None:
        from OpenGL import GL

        self._vertex_array = GL.glGenVertexArrays(1)
        self.programs = Programs()
        self._picture: Picture | None = None
        self._pyramid: LightPyramid | None = None
        self._view, self._band, self._stage, self._difference = Canvas(), Canvas(), Canvas(), Canvas()
        self._colouring = Colouring(self.programs)
        self._sheets: dict[Key, Sheet] = {}
        self._heat: Texture | None = None
        self._has_painted = False

    def show(self, picture: Picture) -> None:
        """Put a picture on the card instead of the present one; raises TrimbenchError, and then the old one stays."""
        if self._picture is picture:
            return
        self._prepare()
        pyramid = LightPyramid(picture)
        if self._pyramid is not None:
            self._pyramid.delete()
        self._picture, self._pyramid = picture, pyramid

    def render_master(
        self, placement: Placement, columns: int, rows: int, window: float, colours: PictureColours | None = None
    ) -> None:
        """Draw the master's tile: what of its light the screen can show."""
        self._draw(None, Drawing(self._view_key(placement, columns, rows), None, float(window), colours))

    def render(
        self,
        key: int,
        chain: Chain,
        placement: Placement,
        columns: int,
        rows: int,
        colours: PictureColours | None = None,
    ) -> str | None:
        """Draw a rendition on its tile; returns the sentence about why it can't be drawn."""
        program = self.programs.of_rendition(chain)
        if isinstance(program, TrimbenchError):
            self._sheets.setdefault(key, Sheet()).delete()
            return str(program)
        self._draw(key, Drawing(self._view_key(placement, columns, rows), chain, colours=colours))
        return None

    def render_difference(self, pair: Sequence[Key], top: float) -> bool:
        """Draw the difference of two tiles that are drawn; returns False when one of them is not."""
        sheets = [self._sheets.get(key, Sheet()) for key in pair]
        view = sheets[0].drawing.view if sheets[0].drawing else None
        if view is None or sheets[1].drawing is None:
            return False
        self._prepare()
        self._light_of(view)  # before the canvas is bound: the master is compared as it is
        states = tuple((sheet.drawing, sheet.is_exact) for sheet in sheets)
        if not self._difference.begin((states, top), view.columns, view.rows):
            return True
        heat = self._heat_texture()  # made before the others are bound
        program = self.programs.fixed("difference")
        program.set("top", float(top))
        for unit, (name, sheet) in enumerate(zip(("first", "second"), sheets, strict=True)):
            drawing = sheet.drawing
            chain = drawing.chain if drawing else None
            target = chain.rendition.target if chain else SCREEN
            canvas = sheet.shown if chain else self._view
            if canvas.framebuffer is not None:
                canvas.framebuffer.texture.bind(unit)
            program.set(f"{name}_picture", unit)
            program.set(f"{name}.is_light", chain is None)
            program.set(f"{name}.encoding.to_bt2020", conversion_matrix(target.primaries, "bt2020"))
            set_shown(program, f"{name}.transfer", f"{name}.encoding.display", target)
        heat.bind(2)
        program.set("heat", 2)
        draw_triangle(view.columns, view.rows)
        return True

    def refine(self, seconds: float) -> bool:
        """Work for some time towards exact means, unless something was drawn since; returns whether all are exact."""
        from OpenGL import GL

        if self._has_painted:
            self._has_painted = False
            return self.is_exact
        self._prepare()
        end = time.monotonic() + seconds
        for sheet in self._sheets.values():
            while sheet.drawing is not None and not sheet.is_exact:
                self._refine_rows(sheet, sheet.drawing)
                GL.glFinish()
                if time.monotonic() > end:
                    return self.is_exact
        return True

    @property
    def is_exact(self) -> bool:
        """Whether every tile shows exact means."""
        return all(sheet.is_exact or sheet.drawing is None for sheet in self._sheets.values())

    def present(
        self,
        key: Key,
        rect: Rect,
        window_rows: int,
        surround: float,
        bits: int,
        side: tuple[float, float, float] = EVERYWHERE,
    ) -> None:
        """Copy a tile to the bound framebuffer, `rect` in its pixels from the upper left, as far as a line lets it."""
        sheet = self._sheets.get(key)
        if sheet is not None:
            self._present(sheet.shown, rect, window_rows, surround, bits, side)

    def present_difference(self, rect: Rect, window_rows: int, surround: float, bits: int) -> None:
        """Copy the difference to the bound framebuffer."""
        self._present(self._difference, rect, window_rows, surround, bits, EVERYWHERE)

    def keep_only(self, keys: set[Key]) -> None:
        """Free the tiles of pictures that are not shown."""
        for key in [key for key in self._sheets if key not in keys]:
            self._sheets.pop(key).delete()

    def delete(self) -> None:
        """Free all that is on the card."""
        from OpenGL import GL

        self.programs.delete()
        for canvas in (self._view, self._band, self._stage, self._difference):
            canvas.delete()
        self.keep_only(set())
        self._colouring.delete()
        for held in (self._pyramid, self._heat):
            if held is not None:
                held.delete()
        GL.glDeleteVertexArrays(1, [self._vertex_array])

    def _draw(self, key: Key, drawing: Drawing) -> None:
        sheet = self._sheets.setdefault(key, Sheet())
        self._prepare()
        self._light_of(drawing.view)
        if sheet.begin(drawing) and self._view.framebuffer is not None:
            self._has_painted = True
            self._paint(
                drawing, self._view.framebuffer.texture, (0, 0), sheet.shown, drawing.view.columns, drawing.view.rows
            )

    def _paint(
        self, drawing: Drawing, light: Texture, first: tuple[int, int], canvas: Canvas, columns: int, rows: int
    ) -> None:
        """Draw what a tile shows from light, pixel by pixel; `first` is the light's texel for the first pixel."""
        colours, chain = drawing.colours, drawing.chain
        if colours is None:
            canvas.bind(columns, rows)
            self._paint_picture(drawing, light, first, columns, rows)
        elif chain is None:
            if self._picture is not None:
                canvas.bind(columns, rows)
                self._colouring.draw(colours, light, first, self._picture.encoding, True, columns, rows)
        else:
            stage = self._stage.bind(columns, rows)
            self._paint_picture(drawing, light, first, columns, rows)
            canvas.bind(columns, rows)
            self._colouring.draw(colours, stage.texture, (0, 0), chain.rendition.target, False, columns, rows)

    def _paint_picture(self, drawing: Drawing, light: Texture, first: tuple[int, int], columns: int, rows: int) -> None:
        """Draw the master or a rendition from light to the bound framebuffer."""
        if drawing.chain is None:
            program = self.programs.fixed("master")
            program.set("to_screen", conversion_matrix("bt2020", SCREEN.primaries))
            program.set("window", drawing.window)
            set_display(program, "screen", SCREEN)
        else:
            made = self.programs.of_rendition(drawing.chain)
            if isinstance(made, TrimbenchError):
                return
            program = made
            program.use()
            set_chain_uniforms(program, drawing.chain, self.programs.tables)
            program.set("has_codes", drawing.chain.rendition.target.bits is not None)
        program.set("view_light", 0)
        program.set("first", np.array(first))
        light.bind(0)
        draw_triangle(columns, rows)

    def _refine_rows(self, sheet: Sheet, drawing: Drawing) -> None:
        """Draw some rows of the exact picture: every pixel of the picture under them, then their mean."""
        from OpenGL import GL

        view, pyramid = drawing.view, self._pyramid
        if pyramid is None:
            return
        zoom, left, top = view.placement.zoom, view.placement.left, view.placement.top
        x0, x1 = _span(0, view.columns, left, zoom, pyramid.columns)
        height = max(1, math.floor(BAND / max(x1 - x0, 1) * zoom))
        low, high = sheet.row, min(sheet.row + height, view.rows)
        y0, y1 = _span(low, high, top, zoom, pyramid.rows)
        if x1 > x0 and y1 > y0:
            self._paint(drawing, pyramid.levels[0].texture, (x0, y0), self._band, x1 - x0, y1 - y0)
        band = self._band.framebuffer or self._band.bind(1, 1)
        program = self.programs.fixed("average")
        program.set("signal", 0)
        program.set("first", np.array([x0, y0]))
        program.set("picture_size", np.array([pyramid.columns, pyramid.rows], np.float32))
        program.set("origin", np.array([left, top], np.float32))
        program.set("zoom", float(zoom))
        set_shown(program, "transfer", "display", drawing.encoding)
        sheet.coming.bind(view.columns, view.rows)
        band.texture.bind(0)
        GL.glViewport(0, low, view.columns, high - low)
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)
        sheet.row = high
        if high == view.rows:
            sheet.finish()

    def _present(
        self, canvas: Canvas, rect: Rect, window_rows: int, surround: float, bits: int, side: tuple[float, float, float]
    ) -> None:
        from OpenGL import GL

        if canvas.framebuffer is None:
            return
        self._prepare()
        program = self.programs.fixed("present")
        bottom = window_rows - rect.bottom
        program.set("tile", 0)
        program.set("corner", np.array([rect.left, bottom]))
        program.set("rows", rect.height)
        program.set("surround", np.full(3, surround, np.float32))
        program.set("side", np.array(side, np.float32))
        program.set("top_code", 2.0**bits - 1.0)
        canvas.framebuffer.texture.bind(0)
        GL.glViewport(rect.left, bottom, rect.width, rect.height)
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)

    def _prepare(self) -> None:
        """Set the state that every drawing here needs, whatever the interface left."""
        from OpenGL import GL

        for capability in (GL.GL_BLEND, GL.GL_SCISSOR_TEST, GL.GL_DEPTH_TEST, GL.GL_CULL_FACE, GL.GL_DITHER):
            GL.glDisable(capability)
        GL.glDisable(GL.GL_FRAMEBUFFER_SRGB)
        GL.glBindVertexArray(self._vertex_array)

    def _view_key(self, placement: Placement, columns: int, rows: int) -> ViewKey:
        return ViewKey(id(self._pyramid), placement, columns, rows)

    def _light_of(self, view: ViewKey) -> None:
        if self._pyramid is None or not self._view.begin(view, view.columns, view.rows):
            return
        placement = view.placement
        level = self._pyramid.level_for(placement.zoom)
        texture = self._pyramid.levels[level].texture
        program = self.programs.fixed("view")
        program.set("light", 0)
        program.set("level_size", np.array([texture.columns, texture.rows]))
        program.set("texel", float(2**level))
        program.set("picture_size", np.array([self._pyramid.columns, self._pyramid.rows], np.float32))
        program.set("origin", np.array([placement.left, placement.top], np.float32))
        program.set("zoom", float(placement.zoom))
        texture.bind(0)
        draw_triangle(view.columns, view.rows)

    def _heat_texture(self) -> Texture:
        """Return the colours of the difference's scale as the screen's signal."""
        from OpenGL import GL

        if self._heat is None:
            signal = screen_signal(heat_colours(1.0)).astype(np.float32)
            self._heat = Texture(GL.GL_RGB32F, len(signal), 1)
            self._heat.upload(signal[np.newaxis])
        return self._heat


def _span(low: int, high: int, origin: int, zoom: float, size: int) -> tuple[int, int]:
    """Return the first pixel of the picture under some pixels of the tile, and the first one after them."""
    first = min(max(math.floor((low - origin) / zoom - 1e-4), 0), size)
    return first, min(max(math.ceil((high - origin) / zoom + 1e-4), first), size)
