"""The pictures of the tiles, drawn with GL.

Light of the present view is made once for all tiles; each rendition is computed from it when it or the view has
changed, and kept; every redraw of the window only copies. So a slider costs one rendition at the size of its tile; on
a slow card every second, third, ... pixel of it, so that a hand on a slider sees an answer within `QUICK`. While
nothing changes, `refine` draws every pixel of the tile, some rows at a time. Below 1:1 that is a mean of the master's
light, and so an approximation: `refine` then computes the rendition of every pixel of the picture, and puts the mean
of its display light in place.
"""

import math
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager

import numpy as np

from tonemap.encoding import Encoding
from tonemap.errors import TrimbenchError
from tonemap.heat import heat_colours
from tonemap.monitor import Monitor
from tonemap.picture_colours import PictureColours
from tonemap.rendition import Chain

from ..compose import program_key
from ..engine import set_display
from ..gl.texture import Texture, settle
from ..samples import Content
from .canvas import Canvas, Drawing, Sheet, ViewKey
from .interface_encoding import grey_on, interface_on, interface_signal
from .layout import Placement, Rect, span
from .painter import Painter
from .programs import Programs
from .pyramid import LightPyramid, draw_triangle
from .showing import Key
from .uniforms import set_encoding, set_monitor, transfer_number

BAND = 1 << 17
"""Pixels of the picture at a time on the way to an exact mean: a few milliseconds on the software rasteriser."""

QUICK = 0.025
"""Seconds of a frame for drawing what has changed, before the tiles that have changed are drawn at fewer pixels."""

COARSEST = 6
"""Pixels of the tile a side that one pixel of the quickest picture stands for, at most."""

EVERYWHERE = (0.0, 0.0, -1.0)


class Tiles:
    """Draws the master and the renditions; needs a current context, and leaves the framebuffer to the caller.

    Attributes
    ----------
    monitor : what is drawn for; set before every frame
    """

    def __init__(self) -> None:
        self.monitor = Monitor()
        self.programs = Programs()
        self._content: Content | None = None
        self.is_moving = False
        self._pyramid: LightPyramid | None = None
        self.painter = Painter(self.programs)
        self._view, self._band, self._difference = Canvas(), Canvas(), Canvas()
        self._sheets: dict[Key, Sheet] = {}
        self._pace: dict[object, float | None] = {}
        self._difference_stride = 1
        self._heat: Texture | None = None
        self._is_drawn_now = False

    def show(self, content: Content, encoding: Encoding, is_passing: bool = False) -> None:
        """Put a frame on the card instead of the present one; raises TrimbenchError, and then the old one stays.

        Parameters
        ----------
        is_passing : whether another one may follow soon
        """
        if self._content is content:
            return
        self.programs.prepare()
        pyramid = self._pyramid
        if pyramid is None or not is_passing or (pyramid.columns, pyramid.rows) != (content.columns, content.rows):
            pyramid = LightPyramid(content.columns, content.rows)
        pyramid.show(content, encoding, is_passing)
        if self._pyramid is not None and self._pyramid is not pyramid:
            self._pyramid.delete()
        self._content, self._pyramid = content, pyramid
        self.painter.master = encoding

    def render_master(
        self, placement: Placement, columns: int, rows: int, window: float, colours: PictureColours | None = None
    ) -> None:
        """Want the master's tile: what of its light the monitor can show."""
        view = self._view_key(placement, columns, rows)
        self._want(None, Drawing(view, self.monitor, None, float(window), colours))

    def render(
        self,
        key: int,
        chain: Chain,
        placement: Placement,
        columns: int,
        rows: int,
        colours: PictureColours | None = None,
    ) -> str | None:
        """Want a rendition on its tile; returns the sentence about why it can't be drawn."""
        program = self.programs.of_rendition(chain)
        if isinstance(program, TrimbenchError):
            self._sheets.setdefault(key, Sheet()).delete()
            return str(program)
        self._want(key, Drawing(self._view_key(placement, columns, rows), self.monitor, chain, colours=colours))
        return None

    def draw(self) -> None:
        """Draw all that is wanted and not there, quickly."""
        stale = [
            (sheet, sheet.wanted) for sheet in self._sheets.values() if sheet.wanted is not None and sheet.is_stale
        ]
        self._is_drawn_now = bool(stale)
        self.programs.prepare()
        stride = self._stride((_work_of(drawing), drawing.view) for _, drawing in stale)
        for sheet, drawing in stale:
            sheet.begin(drawing, stride)
            self._light_of(drawing.view)
            with self._timed(_work_of(drawing), drawing.view, stride):
                self._paint(sheet.shown, drawing, stride)
        settle(sheet.shown.framebuffer.texture for sheet, _ in stale if sheet.shown.framebuffer is not None)

    def render_difference(self, pair: Sequence[Key], top: float) -> bool:
        """Draw the difference of two tiles that are drawn; returns False when one of them is not."""
        sheets = [self._sheets.get(key, Sheet()) for key in pair]
        view = sheets[0].drawing.view if sheets[0].drawing else None
        if view is None or sheets[1].drawing is None:
            return False
        self.programs.prepare()
        self._light_of(view)  # before the canvas is bound: the master is compared as it is
        stride = max(sheet.stride for sheet in sheets)
        if stride > 1 or self._is_drawn_now:
            stride = max(stride, self._stride([("difference", view)]))
        states = tuple((sheet.drawing, sheet.is_exact) for sheet in sheets)
        if not self._difference.begin((states, top, stride), view.columns, view.rows, stride):
            return True
        self._difference_stride = stride
        heat = self._heat_texture()  # made before the others are bound
        chains = [sheet.drawing.chain if sheet.drawing else None for sheet in sheets]
        targets = [
            self.monitor.display_of(chain.rendition.target) if chain else self.monitor.encoding for chain in chains
        ]
        program = self.programs.fixed(
            "difference",
            first_is_light=int(chains[0] is None),
            first_transfer=transfer_number(targets[0]),
            second_is_light=int(chains[1] is None),
            second_transfer=transfer_number(targets[1]),
        )
        program.set("top", float(top))
        program.set("stride", stride)
        for unit, name in enumerate(("first", "second")):
            sheet, chain = sheets[unit], chains[unit]
            canvas = sheet.shown if chain else self._view
            if canvas.framebuffer is not None:
                texture = canvas.framebuffer.texture
                texture.bind(unit)
                program.set(f"{name}_texels", np.array([texture.columns, texture.rows]))
            program.set(f"{name}_picture", unit)
            program.set(f"{name}_stride", sheet.stride if chain else 1)
            set_encoding(program, name, targets[unit])
        heat.bind(2)
        program.set("heat", 2)
        with self._timed("difference", view, stride):
            draw_triangle(-(-view.columns // stride), -(-view.rows // stride))
        return True

    def refine(self, seconds: float) -> bool:
        """Work for some time towards exact pictures, unless something was drawn now; returns whether all are exact."""
        from OpenGL import GL

        if self.is_moving:
            return True
        if self._is_drawn_now:
            return False
        self.programs.prepare()
        end = time.monotonic() + seconds
        if self._pyramid is not None and not self._pyramid.is_whole:
            self._pyramid.go_on(seconds)
            return False
        while (sheet := self._next_sheet()) is not None and sheet.drawing is not None:
            if sheet.stride > 1:
                self._fill_rows(sheet, sheet.drawing)
            else:
                self._refine_rows(sheet, sheet.drawing)
            GL.glFinish()
            if time.monotonic() > end:
                break
        return self.is_exact

    @property
    def pyramid(self) -> LightPyramid | None:
        """The master's light on the card."""
        return self._pyramid

    @property
    def is_exact(self) -> bool:
        """Whether every tile shows exact means."""
        return self._next_sheet() is None

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
        if sheet is not None and sheet.drawing is not None:
            self._present(sheet.shown, sheet.drawing.shown, sheet.stride, rect, window_rows, surround, bits, side)

    def present_difference(self, rect: Rect, window_rows: int, surround: float, bits: int) -> None:
        """Copy the difference to the bound framebuffer."""
        shown, stride = interface_on(self.monitor), self._difference_stride
        self._present(self._difference, shown, stride, rect, window_rows, surround, bits, EVERYWHERE)

    def keep_only(self, keys: set[Key]) -> None:
        """Free the tiles of pictures that are not shown."""
        for key in [key for key in self._sheets if key not in keys]:
            self._sheets.pop(key).delete()

    def delete(self) -> None:
        """Free all that is on the card."""
        self.programs.delete()
        for canvas in (self._view, self._band, self._difference, self.painter):
            canvas.delete()
        self.keep_only(set())
        for held in (self._pyramid, self._heat):
            if held is not None:
                held.delete()

    def _want(self, key: Key, drawing: Drawing) -> None:
        self._sheets.setdefault(key, Sheet()).wanted = drawing

    def _next_sheet(self) -> Sheet | None:
        """Return the tile to work on next: one whose pixels are not all there before one whose means are not exact."""
        left = (sheet for sheet in self._sheets.values() if sheet.drawing is not None and not sheet.is_exact)
        return max(left, key=lambda sheet: sheet.stride, default=None)

    def _stride(self, works: Iterable[tuple[object, ViewKey]]) -> int:
        """Return at every which pixel works can be done quickly, by how long a pixel took each when last done.

        One that was never timed, as an operator that was just saved, is taken for as slow as the slowest.
        """
        slowest = max((pace for pace in self._pace.values() if pace), default=0.0)
        seconds = sum((self._pace.get(work) or slowest) * view.columns * view.rows for work, view in works)
        return min(max(math.ceil(math.sqrt(seconds / QUICK)), 1), COARSEST)

    @contextmanager
    def _timed(self, work: object, view: ViewKey, stride: int) -> Iterator[None]:
        """Note how long a pixel takes a sort of work; not of the first time, in which the driver compiles."""
        from OpenGL import GL

        GL.glFinish()
        start = time.perf_counter()
        yield
        GL.glFinish()
        taken = (time.perf_counter() - start) * stride**2 / (view.columns * view.rows)
        self._pace[work] = taken if work in self._pace else None

    def _paint(self, canvas: Canvas, drawing: Drawing, stride: int, rows: tuple[int, int] | None = None) -> None:
        """Draw a tile from the light of the view."""
        if self._view.framebuffer is not None:
            size = -(-drawing.view.columns // stride), -(-drawing.view.rows // stride)
            first = stride // 2, stride // 2
            self.painter.paint(drawing, self._view.framebuffer.texture, canvas, size, first, stride, rows)

    def _fill_rows(self, sheet: Sheet, drawing: Drawing) -> None:
        """Draw some rows of every pixel of a tile of which fewer are shown."""
        view = drawing.view
        high = min(sheet.row + max(1, BAND // (4 * view.columns)), view.rows)
        self._light_of(view)
        self._paint(sheet.coming, drawing, 1, (sheet.row, high))
        sheet.row = high
        if high == view.rows:
            sheet.finish()

    def _refine_rows(self, sheet: Sheet, drawing: Drawing) -> None:
        """Draw some rows of the exact picture: every pixel of the picture under them, then their mean."""
        from OpenGL import GL

        view, pyramid = drawing.view, self._pyramid
        if pyramid is None:
            return
        zoom, left, top = view.placement.zoom, view.placement.left, view.placement.top
        x0, x1 = span(0, view.columns, left, zoom, pyramid.columns)
        height = max(1, math.floor(BAND / max(x1 - x0, 1) * zoom))
        low, high = sheet.row, min(sheet.row + height, view.rows)
        y0, y1 = span(low, high, top, zoom, pyramid.rows)
        if x1 > x0 and y1 > y0:
            self.painter.paint(drawing, pyramid.levels[0].texture, self._band, (x1 - x0, y1 - y0), (x0, y0))
        band = self._band.framebuffer or self._band.bind(1, 1)
        program = self.programs.fixed("average", shown_transfer=transfer_number(drawing.encoding))
        program.set("signal", 0)
        program.set("first", np.array([x0, y0]))
        program.set("texels", np.array([band.texture.columns, band.texture.rows]))
        program.set("picture_size", np.array([pyramid.columns, pyramid.rows], np.float32))
        program.set("origin", np.array([left, top], np.float32))
        program.set("zoom", float(zoom))
        set_display(program, "display", drawing.encoding)
        sheet.coming.bind(view.columns, view.rows)
        band.texture.bind(0)
        GL.glViewport(0, low, view.columns, high - low)
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)
        sheet.row = high
        if high == view.rows:
            sheet.finish()

    def _present(
        self,
        canvas: Canvas,
        shown: Encoding,
        stride: int,
        rect: Rect,
        window_rows: int,
        surround: float,
        bits: int,
        side: tuple[float, float, float],
    ) -> None:
        from OpenGL import GL

        if canvas.framebuffer is None:
            return
        self.programs.prepare()
        program = self.programs.fixed(
            "present",
            passes=int(self.monitor.passes(shown)),
            shown_transfer=transfer_number(shown),
            monitor_transfer=transfer_number(self.monitor.encoding),
        )
        bottom = window_rows - rect.bottom
        program.set("tile", 0)
        program.set("corner", np.array([rect.left, bottom]))
        program.set("rows", rect.height)
        program.set("stride", stride)
        program.set("texels", np.array([canvas.framebuffer.texture.columns, canvas.framebuffer.texture.rows]))
        program.set("surround", grey_on(self.monitor, surround).astype(np.float32))
        program.set("side", np.array(side, np.float32))
        program.set("top_code", 2.0**bits - 1.0)
        set_encoding(program, "shown", shown)
        program.set("gain", self.monitor.gain_for(shown))
        set_monitor(program, self.monitor)
        canvas.framebuffer.texture.bind(0)
        GL.glViewport(rect.left, bottom, rect.width, rect.height)
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)

    def _view_key(self, placement: Placement, columns: int, rows: int) -> ViewKey:
        return ViewKey(self._pyramid.serial if self._pyramid else 0, placement, columns, rows)

    def _light_of(self, view: ViewKey) -> None:
        if self._pyramid is None or self._view.key == view:
            return
        placement = view.placement
        if not self._pyramid.is_whole and placement.zoom < 1.0:
            self._view.begin(view, view.columns, view.rows)
            self._pyramid.draw_passing(placement, view.columns, view.rows)
            return
        level, texture = self._pyramid.light_for(placement, view.columns, view.rows)
        self._view.begin(view, view.columns, view.rows)
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
        """Return the colours of the difference's scale as the interface's signal."""
        from OpenGL import GL

        if self._heat is None:
            signal = interface_signal(heat_colours(1.0)).astype(np.float32)
            self._heat = Texture(GL.GL_RGB32F, len(signal), 1)
            self._heat.upload(signal[np.newaxis])
        return self._heat


def _work_of(drawing: Drawing) -> object:
    """Return what the time that a pixel takes depends on."""
    return program_key(drawing.chain) if drawing.chain else None, drawing.colours.view if drawing.colours else None
