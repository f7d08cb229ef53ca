"""The light of a frame on the card, with box-averaged levels for views below 1:1."""

import itertools
import math
import time

import numpy as np

from tonemap.encoding import Encoding
from tonemap.errors import TrimbenchError

from ..compose import COMPUTE_VERSION, FRAGMENT_VERSION, compose
from ..engine import MAIN_COMPUTE, faster_main, fullscreen_vertex
from ..gl.program import Program
from ..gl.texture import Framebuffer, Texture
from ..samples import Content, Samples, source_kind, source_text
from .layout import Placement, span

BAND = 1 << 17
"""Pixels at a time on the way to the light of a whole frame."""

Point = tuple[int, int]
Part = tuple[int, int, int, int]
"""Left, top, right and bottom of what is decoded, in pixels."""

_serials = itertools.count(1)


class LightPyramid:
    """BT.2020 light in cd/m2, float32, in levels of half the size each; level 0 is the whole picture.

    Of a frame that was just put on the card only what is seen is decoded, below 1:1 quickly, from some samples; `go_on`
    makes it whole while nothing moves.

    Parameters
    ----------
    columns, rows : of the frames
    main : 'fragment' or 'compute', what light is decoded by; None for the faster one

    Attributes
    ----------
    serial : another number for other light
    is_whole : whether all levels are there

    Raises
    ------
    TrimbenchError
        When the frames are larger than the card's textures.
    """

    def __init__(self, columns: int, rows: int, main: str | None = None) -> None:
        from OpenGL import GL

        largest = int(GL.glGetIntegerv(GL.GL_MAX_TEXTURE_SIZE))
        if max(columns, rows) > largest:
            raise TrimbenchError(
                f"the picture is {columns} x {rows}, and this card shows at most {largest} pixels a side; "
                "scale or crop it"
            )
        self.columns, self.rows = columns, rows
        self.main = main or faster_main()
        self.serial, self.is_whole = 0, False
        self._levels: dict[int, Framebuffer] = {}
        self._samples = Samples()
        self._programs: dict[object, Program] = {}
        self._kind = ("", False, 0)
        self._seen: Part | None = None
        self._was_quick = self._is_passing = False
        self._row = 0
        self._sampled: Framebuffer | None = None

    @property
    def levels(self) -> list[Framebuffer]:
        """The levels, the largest first."""
        return [self._levels[number] for number in sorted(self._levels)]

    def show(self, content: Content, encoding: Encoding, is_passing: bool = False) -> None:
        """Put a frame on the card.

        Parameters
        ----------
        is_passing : whether another may follow soon, so that the place of its samples is kept

        Raises
        ------
        TrimbenchError
            When the card has no room for it and its light.
        """
        from OpenGL.error import GLError

        self.serial, self.is_whole, self._row = next(_serials), False, 0
        self._seen, self._was_quick, self._is_passing = None, False, is_passing
        try:
            self._samples.upload(content, encoding)
            self._kind = source_kind(content, encoding)
            for number in range(self._last_level + 1):
                self._level(number)
        except GLError as fault:
            self.delete()
            raise TrimbenchError(
                f"the card has no room for a picture of {self.columns} x {self.rows}; close other programs or scale it"
            ) from fault

    def light_for(self, placement: Placement, columns: int, rows: int) -> tuple[int, Texture]:
        """Return the level from which a view is averaged, and its texture.

        Of a frame that is not whole only views at 1:1 and above have one; what they show is decoded now.
        """
        level = self.level_for(placement.zoom)
        if not self.is_whole:
            part = self._part(placement, columns, rows)
            if self._seen is None or not _contains(self._seen, part):
                self._decode(part)
                self._seen = part
        return level, self._level(level).texture

    def draw_passing(self, placement: Placement, columns: int, rows: int) -> None:
        """Draw what a view below 1:1 shows of a frame that is not whole, quickly, to the bound framebuffer."""
        text = {"generated/source.glsl": source_text(self._kind, is_near=True)}
        program = self._program(("passing", self._kind), "main/passing.frag", text)
        program.set("picture_size", np.array([self.columns, self.rows], np.float32))
        program.set("origin", np.array([placement.left, placement.top], np.float32))
        program.set("zoom", float(placement.zoom))
        self._samples.bind(program)
        draw_triangle(columns, rows)
        self._was_quick = True

    def light_at(self, first: tuple[int, int], stride: int, columns: int, rows: int) -> tuple[Texture, Point, int]:
        """Return a texture with the light of every stride-th pixel from a first one on.

        Returns
        -------
        texture, first, stride : the light of pixel (x, y) of those columns and rows is at texel first + stride (x, y)
        """
        if self.is_whole:
            return self._levels[0].texture, first, stride
        from OpenGL import GL

        sampled = self._sampled
        if sampled is None or (sampled.texture.columns, sampled.texture.rows) != (columns, rows):
            self._free_sampled()
            sampled = self._sampled = Framebuffer(Texture(GL.GL_RGBA32F, columns, rows, varies=True))
        program = self._program(
            (*self._kind, "sample"), "main/sample.frag", {"generated/source.glsl": source_text(self._kind)}
        )
        program.set("first", np.array(first))
        program.set("stride", stride)
        program.set("texels", np.array([self.columns, self.rows]))
        self._samples.bind(program)
        sampled.bind()
        draw_triangle(columns, rows)
        return sampled.texture, (0, 0), 1

    def level_for(self, zoom: float) -> int:
        """Return the level to average from: its texels are at most half as large as a screen pixel."""
        return min(max(math.floor(math.log2(0.5 / zoom) + 1e-6), 0), self._last_level)

    def go_on(self, seconds: float) -> bool:
        """Work for some time towards the light of the whole frame; returns whether it is there."""
        from OpenGL import GL

        end = time.monotonic() + seconds
        height = max(1, BAND // self.columns) if math.isfinite(seconds) else self.rows
        while self._row < self.rows:
            bottom = min(self._row + height, self.rows)
            self._decode((0, self._row, self.columns, bottom))
            self._row = bottom
            if math.isfinite(seconds):
                GL.glFinish()
                if time.monotonic() > end:
                    return False
        if not self.is_whole:
            self._halve()
            self.is_whole = True
            if self._was_quick:
                self.serial = next(_serials)
            if not self._is_passing:
                self._samples.delete()
        return True

    def delete(self) -> None:
        """Free the card's memory."""
        for level in self._levels.values():
            level.texture.delete()
            level.delete()
        for program in self._programs.values():
            program.delete()
        self._samples.delete()
        self._free_sampled()
        self._levels, self._programs = {}, {}

    def _free_sampled(self) -> None:
        if self._sampled is not None:
            self._sampled.texture.delete()
            self._sampled.delete()
        self._sampled = None

    @property
    def _last_level(self) -> int:
        return (max(self.columns, self.rows) - 1).bit_length()

    def _part(self, placement: Placement, columns: int, rows: int) -> Part:
        """Return what a view shows."""
        left, right = span(0, columns, placement.left, placement.zoom, self.columns)
        top, bottom = span(0, rows, placement.top, placement.zoom, self.rows)
        return left, top, right, bottom

    def _level(self, number: int) -> Framebuffer:
        if number not in self._levels:
            from OpenGL import GL

            columns, rows = (-(-size // 2**number) for size in (self.columns, self.rows))
            self._levels[number] = Framebuffer(Texture(GL.GL_RGBA32F, columns, rows))
        return self._levels[number]

    def _decode(self, part: Part) -> None:
        """Draw a part of the largest level from the samples."""
        from OpenGL import GL

        framebuffer = self._level(0)
        text = {"generated/source.glsl": source_text(self._kind)}
        left, top, right, bottom = part
        if self.main == MAIN_COMPUTE:
            program = self._program(("decode", self._kind), "main/decode.comp", text)
            self._samples.bind(program)
            program.dispatch(framebuffer.texture, (left, top), (right, bottom))
            return
        program = self._program(("decode", self._kind), "main/decode.frag", text)
        self._samples.bind(program)
        framebuffer.bind()
        GL.glEnable(GL.GL_SCISSOR_TEST)
        GL.glScissor(left, top, right - left, bottom - top)
        draw_triangle(self.columns, self.rows)
        GL.glDisable(GL.GL_SCISSOR_TEST)

    def _halve(self) -> None:
        for number in range(1, self._last_level + 1):
            below, framebuffer = self._level(number - 1).texture, self._level(number)
            program = self._program("halve", "main/halve.frag", {})
            program.set("light", 0)
            program.set("texel", float(2 ** (number - 1)))
            program.set("picture_size", np.array([self.columns, self.rows], np.float32))
            framebuffer.bind()
            below.bind(0)
            draw_triangle(framebuffer.texture.columns, framebuffer.texture.rows)

    def _program(self, key: object, main: str, generated: dict[str, str]) -> Program:
        if key not in self._programs:
            self._programs[key] = (
                Program(compute=compose(main, generated, COMPUTE_VERSION))
                if main.endswith(".comp")
                else Program(vertex=fullscreen_vertex(), fragment=compose(main, generated, FRAGMENT_VERSION))
            )
        self._programs[key].use()
        return self._programs[key]


def pyramid_of(content: Content, encoding: Encoding, main: str | None = None) -> LightPyramid:
    """Return the whole light of a picture, or of a movie's planes."""
    pyramid = LightPyramid(content.columns, content.rows, main)
    pyramid.show(content, encoding)
    pyramid.go_on(math.inf)
    return pyramid


def draw_triangle(columns: int, rows: int) -> None:
    """Draw the covering triangle with the program in use."""
    from OpenGL import GL

    GL.glViewport(0, 0, columns, rows)
    GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)


def _contains(outer: Part, inner: Part) -> bool:
    return all(a <= b for a, b in zip(outer[:2], inner[:2], strict=True)) and all(
        a >= b for a, b in zip(outer[2:], inner[2:], strict=True)
    )
