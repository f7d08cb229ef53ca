"""The pictures of the tiles, drawn with GL.

Light of the present view is made once for all tiles; each rendition is computed from it when it or the view has
changed, and kept; every redraw of the window only copies. So a slider costs one rendition at the size of its tile.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from tonemap.colorimetry import conversion_matrix
from tonemap.errors import TrimbenchError
from tonemap.operator import Choice, Operator, Switch, Values
from tonemap.picture import Picture
from tonemap.rendition import Chain

from ..compose import FRAGMENT_VERSION, compose, rendition_program
from ..engine import fullscreen_vertex, set_chain_uniforms, set_display
from ..gl.program import Program
from ..gl.texture import Framebuffer, Texture
from .layout import Placement, Rect
from .pyramid import LightPyramid, draw_triangle
from .state import SCREEN


@dataclass(frozen=True)
class ViewKey:
    """What the light of a view depends on."""

    picture: int
    placement: Placement
    columns: int
    rows: int


class Canvas:
    """A picture of a tile's size on the card, with the key of what is drawn on it."""

    def __init__(self) -> None:
        self.key: object = None
        self.framebuffer: Framebuffer | None = None

    def begin(self, key: object, columns: int, rows: int) -> bool:
        """Prepare for drawing; returns False when the same thing is there already."""
        from OpenGL import GL

        if self.key == key:
            return False
        texture = self.framebuffer.texture if self.framebuffer else None
        if self.framebuffer is None or texture is None or (texture.columns, texture.rows) != (columns, rows):
            self.delete()
            self.framebuffer = Framebuffer(Texture(GL.GL_RGBA32F, columns, rows))
        self.framebuffer.bind()
        self.key = key
        return True

    def delete(self) -> None:
        """Free the card's memory."""
        if self.framebuffer is not None:
            self.framebuffer.texture.delete()
            self.framebuffer.delete()
        self.framebuffer, self.key = None, None


class Tiles:
    """Draws the master and the renditions; needs a current context, and leaves the framebuffer to the caller."""

    def __init__(self) -> None:
        from OpenGL import GL

        self._vertex_array = GL.glGenVertexArrays(1)
        self._fixed: dict[str, Program] = {}
        self._programs: dict[object, Program | TrimbenchError] = {}
        self._picture: Picture | None = None
        self._pyramid: LightPyramid | None = None
        self._view = Canvas()
        self._canvases: dict[int | None, Canvas] = {}

    def show(self, picture: Picture) -> None:
        """Put a picture on the card instead of the present one; raises TrimbenchError, and then the old one stays."""
        if self._picture is picture:
            return
        self._prepare()
        pyramid = LightPyramid(picture)
        if self._pyramid is not None:
            self._pyramid.delete()
        self._picture, self._pyramid = picture, pyramid

    def render_master(self, placement: Placement, columns: int, rows: int, window: float) -> None:
        """Draw the master's tile: what of its light the screen can show."""
        view = self._view_key(placement, columns, rows)
        canvas = self._canvases.setdefault(None, Canvas())
        self._prepare()
        self._light_of(view)
        if not canvas.begin((view, window), columns, rows):
            return
        program = self._fixed_program("master")
        program.set("to_screen", conversion_matrix("bt2020", SCREEN.primaries))
        program.set("window", float(window))
        set_display(program, "screen", SCREEN)
        self._draw_from_view(program, columns, rows)

    def render(self, key: int, chain: Chain, placement: Placement, columns: int, rows: int) -> str | None:
        """Draw a rendition on its tile; returns the sentence about why it can't be drawn."""
        view = self._view_key(placement, columns, rows)
        canvas = self._canvases.setdefault(key, Canvas())
        self._prepare()
        program = self._program(chain)
        if isinstance(program, TrimbenchError):
            canvas.delete()
            return str(program)
        self._light_of(view)
        if canvas.begin((view, chain), columns, rows):
            program.use()
            set_chain_uniforms(program, chain)
            program.set("has_codes", chain.rendition.target.bits is not None)
            self._draw_from_view(program, columns, rows)
        return None

    def present(self, key: int | None, rect: Rect, window_rows: int, surround: float, bits: int) -> None:
        """Copy a tile to the bound framebuffer; `rect` is in its pixels, from the upper left. None is the master."""
        from OpenGL import GL

        canvas = self._canvases.get(key)
        if canvas is None or canvas.framebuffer is None:
            return
        self._prepare()
        program = self._fixed_program("present")
        bottom = window_rows - rect.bottom
        program.set("tile", 0)
        program.set("corner", np.array([rect.left, bottom]))
        program.set("rows", rect.height)
        program.set("surround", np.full(3, surround, np.float32))
        program.set("top_code", 2.0**bits - 1.0)
        canvas.framebuffer.texture.bind(0)
        GL.glViewport(rect.left, bottom, rect.width, rect.height)
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)

    def keep_only(self, keys: set[int]) -> None:
        """Free the tiles of renditions that are gone."""
        for key in [key for key in self._canvases if key is not None and key not in keys]:
            self._canvases.pop(key).delete()

    def delete(self) -> None:
        """Free all that is on the card."""
        from OpenGL import GL

        for program in (*self._fixed.values(), *self._programs.values()):
            if isinstance(program, Program):
                program.delete()
        for canvas in (self._view, *self._canvases.values()):
            canvas.delete()
        if self._pyramid is not None:
            self._pyramid.delete()
        GL.glDeleteVertexArrays(1, [self._vertex_array])

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
        program = self._fixed_program("view")
        program.set("light", 0)
        program.set("level_size", np.array([texture.columns, texture.rows]))
        program.set("texel", float(2**level))
        program.set("picture_size", np.array([self._pyramid.columns, self._pyramid.rows], np.float32))
        program.set("origin", np.array([placement.left, placement.top], np.float32))
        program.set("zoom", float(placement.zoom))
        texture.bind(0)
        draw_triangle(view.columns, view.rows)

    def _draw_from_view(self, program: Program, columns: int, rows: int) -> None:
        if self._view.framebuffer is not None:
            program.set("view_light", 0)
            self._view.framebuffer.texture.bind(0)
            draw_triangle(columns, rows)

    def _fixed_program(self, name: str) -> Program:
        if name not in self._fixed:
            fragment = compose(f"main/{name}.frag", {}, FRAGMENT_VERSION)
            self._fixed[name] = Program(vertex=fullscreen_vertex(), fragment=fragment)
        program = self._fixed[name]
        program.use()
        return program

    def _program(self, chain: Chain) -> Program | TrimbenchError:
        """Return the program of a rendition, made once for all that is not a uniform, or what is wrong with it."""
        key = _program_key(chain)
        if key not in self._programs:
            try:
                fragment = rendition_program(chain, "main/tile.frag", FRAGMENT_VERSION)
                self._programs[key] = Program(vertex=fullscreen_vertex(), fragment=fragment)
            except TrimbenchError as fault:
                self._programs[key] = fault
        return self._programs[key]


def _program_key(chain: Chain) -> tuple[Any, ...]:
    def choices(operator: Operator, values: Values) -> tuple[Any, ...]:
        chosen = (parameter for parameter in operator.parameters if isinstance(parameter, (Choice, Switch)))
        return (operator.name, *(getattr(values, parameter.name) for parameter in chosen))

    return (
        chain.master.transfer,
        chain.master.bits is not None,
        chain.rendition.target.transfer,
        choices(chain.tone, chain.tone_values),
        choices(chain.gamut, chain.gamut_values),
    )
