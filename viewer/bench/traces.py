"""The traces of the scopes, drawn from their counts with GL into pictures that the interface shows."""

import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tonemap.scopes import BINS

from ..compose import FRAGMENT_VERSION, compose
from ..engine import fullscreen_vertex
from ..gl.counts import Counts
from ..gl.program import Program
from ..gl.texture import Framebuffer, Texture
from ..plots.look import SCREEN as LOOK
from . import theme
from .pyramid import draw_triangle
from .scope_plots import Plot
from .scopes import DECADES, HISTOGRAM, OVERLAY, WAVEFORM, Scopes, panels_of
from .tallies import Tallies, Tally

QUICK = 0.015
"""Seconds of a frame for traces while counts change; those that are left are drawn in the next frames, in turn."""

GROUND = 0.095
"""The plots' ground, as the interface's code."""

FULL_WAVEFORM, FULL_PLANE = 10.0, 500.0
"""How many times as dense as pixels that are spread evenly a trace is where it has full strength. Our choice."""

SECOND = theme.accent()[:3]
"""Of the traces of a second picture."""

FILLED = 0.27

Colour = tuple[float, float, float]


@dataclass
class Sheet:
    """A plot's picture, and what is drawn on it."""

    framebuffer: Framebuffer
    drawn: object = None


class Traces:
    """Draws traces; needs a current context."""

    def __init__(self, are_integers: bool) -> None:
        self._are_integers = are_integers
        self._programs: dict[str, Program] = {}
        self._sheets: dict[str, Sheet] = {}
        self._heights: Framebuffer | None = None
        self._turn = 0

    def picture(self, kind: str, width: int, height: int) -> int:
        """Return the texture of a scope's plot at a size, for the interface; it is drawn by `draw`."""
        from OpenGL import GL

        sheet = self._sheets.get(kind)
        size = (width, height)
        if sheet is None or (sheet.framebuffer.texture.columns, sheet.framebuffer.texture.rows) != size:
            if sheet is not None:
                _free(sheet.framebuffer)
            sheet = self._sheets[kind] = Sheet(Framebuffer(Texture(GL.GL_RGBA8, *size)))
            _clear(sheet.framebuffer)
        return int(sheet.framebuffer.texture.handle)

    def draw(self, plots: Sequence[Plot], scopes: Scopes, tallies: Tallies, line: float) -> bool:
        """Draw what has changed, as far as there is time, each in its turn; returns whether all of it is drawn.

        Parameters
        ----------
        line : width of lines in pixels
        """
        from OpenGL import GL

        end = time.monotonic() + QUICK
        start, is_all = self._turn, True
        for step in range(len(plots)):
            index = (start + step) % len(plots)
            plot = plots[index]
            sheet = self._sheets.get(plot.kind)
            found = [tallies.of(key) for key in plot.keys]
            ready = [tally for tally in found if tally is not None and plot.form in tally.shown]
            wanted = plot, scopes.brightness, scopes.form, line, tuple((id(tally), tally.version) for tally in ready)
            if sheet is None or sheet.drawn == wanted:
                continue
            if step and time.monotonic() > end:
                is_all = False
                continue
            sheet.drawn = wanted
            if ready:
                self._draw(plot, sheet.framebuffer, ready, scopes, line)
            else:
                _clear(sheet.framebuffer)
            GL.glFinish()
            self._turn = index + 1
        return is_all

    def keep_only(self, kinds: Sequence[str]) -> None:
        """Free the pictures of scopes that are closed."""
        for kind in [kind for kind in self._sheets if kind not in kinds]:
            _free(self._sheets.pop(kind).framebuffer)

    def delete(self) -> None:
        """Free what is on the card."""
        self.keep_only(())
        for program in self._programs.values():
            program.delete()
        self._programs = {}
        if self._heights is not None:
            _free(self._heights)
        self._heights = None

    def _draw(self, plot: Plot, target: Framebuffer, ready: Sequence[Tally], scopes: Scopes, line: float) -> None:
        counts = [tally.shown[plot.form] for tally in ready]
        samples = [tally.samples for tally in ready]
        if plot.kind == HISTOGRAM:
            self._draw_histogram(plot, target, counts, samples, line)
            return
        program = self._program("trace")
        _set_counts(program, counts)
        window, form = plot.window, plot.form
        is_waveform = plot.kind == WAVEFORM
        panels = panels_of(scopes.form) if is_waveform else 1
        columns = form.columns if is_waveform else 0
        cells = (window.top - window.bottom) * (1.0 if is_waveform else window.right - window.left)
        full = FULL_WAVEFORM if is_waveform else FULL_PLANE
        layers = form.channels if is_waveform and scopes.form == OVERLAY else 1
        strength = [scopes.brightness * cells * max(columns, 1) / (full * max(number, 1)) for number in samples]
        program.set("window", np.array([window.left, window.right, window.bottom, window.top]))
        program.set("size", np.array([target.texture.columns, target.texture.rows]))
        program.set("panels", panels)
        program.set("layers", layers)
        program.set("columns", columns)
        program.set("bins", BINS)
        program.set("strength", np.array([strength[0], strength[-1]]))
        program.set("power", 0.5 if is_waveform else 1.0 / 3.0)
        program.set("ground", np.full(3, GROUND))
        for index, colour in enumerate(_colours(form.channels == 3 and is_waveform)):
            program.set(f"first_colours[{index}]", np.array(colour))
        program.set("second_colour", np.array(SECOND))
        target.bind()
        draw_triangle(target.texture.columns, target.texture.rows)

    def _draw_histogram(
        self, plot: Plot, target: Framebuffer, counts: Sequence[Counts], samples: Sequence[int], line: float
    ) -> None:
        from OpenGL import GL

        width, height = target.texture.columns, target.texture.rows
        if self._heights is None or self._heights.texture.columns != width:
            if self._heights is not None:
                _free(self._heights)
            self._heights = Framebuffer(Texture(GL.GL_R32F, width, 8))
        program = self._program("heights")
        _set_counts(program, counts)
        program.set("window", np.array([plot.window.left, plot.window.right]))
        program.set("width", width)
        program.set("bins", BINS)
        program.set("share", np.array([1.0 / max(samples[0], 1), 1.0 / max(samples[-1], 1)]))
        program.set("decades", DECADES)
        self._heights.bind()
        draw_triangle(width, 8)
        program = self._program("histogram")
        program.set("heights", 0)
        self._heights.texture.bind(0)
        program.set("size", np.array([width, height]))
        program.set("line", float(line))
        program.set("has_second", len(counts) > 1)
        program.set("ground", np.full(3, GROUND))
        program.set("filled", np.full(3, FILLED))
        first = _colours(are_channels=True)
        for index, colour in enumerate((*first, LOOK.traces["Y"], *first, SECOND)):
            program.set(f"colours[{index}]", np.array(colour))
        target.bind()
        draw_triangle(width, height)

    def _program(self, name: str) -> Program:
        if name not in self._programs:
            sort = "usampler2D" if self._are_integers else "sampler2D"
            text = compose(f"main/{name}.frag", {"generated/counts.glsl": f"#define COUNTS {sort}"}, FRAGMENT_VERSION)
            self._programs[name] = Program(vertex=fullscreen_vertex(), fragment=text)
        program = self._programs[name]
        program.use()
        return program


def _colours(are_channels: bool) -> list[Colour]:
    """Return the colours of a picture's three traces."""
    return [LOOK.traces[name] for name in ("RGB" if are_channels else "YYY")]


def _set_counts(program: Program, counts: Sequence[Counts]) -> None:
    program.set("has_second", len(counts) > 1)
    for unit, (name, item) in enumerate((("first_counts", counts[0]), ("second_counts", counts[-1]))):
        program.set(name, unit)
        item.texture.bind(unit)


def _clear(framebuffer: Framebuffer) -> None:
    from OpenGL import GL

    framebuffer.bind()
    GL.glDisable(GL.GL_SCISSOR_TEST)
    GL.glClearColor(GROUND, GROUND, GROUND, 1.0)
    GL.glClear(GL.GL_COLOR_BUFFER_BIT)


def _free(framebuffer: Framebuffer) -> None:
    framebuffer.texture.delete()
    framebuffer.delete()
