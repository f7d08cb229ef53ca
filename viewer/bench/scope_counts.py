"""Counting pixels for scopes with GL: by a compute shader, or by blended points where there is none."""

from dataclasses import dataclass

import numpy as np

from tonemap.colorimetry import PRIMARIES, conversion_matrix, matrix_to_xyz
from tonemap.encoding import Encoding
from tonemap.measure.gamut_share import FLOOR_NITS
from tonemap.measure.legality import LUMA_WEIGHTS
from tonemap.scopes import BINS, CHROMA_SCALE, SIGNAL_SCALE, UV_SCALE, Scale

from ..compose import COMPUTE_VERSION, FRAGMENT_VERSION, compose
from ..gl.context import is_software, renderer_name
from ..gl.counts import Counts
from ..gl.program import Program
from ..gl.texture import Texture
from .scopes import HISTOGRAM, KINDS, Form
from .uniforms import set_shown

RUNS = {"scope": 8, "scope_histogram": 32}
"""Samples that an invocation of a compute main counts, as its file has it."""


@dataclass(frozen=True)
class Grid:
    """Which pixels of the picture are counted: every stride-th of a region, in the middle of its square.

    Attributes
    ----------
    left, top, width, height : of the region, in pixels of the picture
    """

    left: int
    top: int
    width: int
    height: int
    stride: int = 1

    @property
    def columns(self) -> int:
        """How many samples there are across."""
        return _samples(self.width, self.stride)

    @property
    def rows(self) -> int:
        """How many samples there are one below the other."""
        return _samples(self.height, self.stride)


@dataclass(frozen=True)
class Subject:
    """The samples that are counted.

    Attributes
    ----------
    light : of the master, with its texel for the first sample, and texels a sample
    signal : of a rendition, a texel a sample; None where the master is counted
    shown : how the signal becomes light, and whose luma it has
    mask : of the region, in its size; None for all of it
    """

    light: tuple[Texture, tuple[int, int], int]
    signal: Texture | None = None
    shown: Encoding | None = None
    mask: Texture | None = None


class Counter:
    """Adds samples to counts; needs a current context.

    Parameters
    ----------
    has_compute : whether to count by compute mains, which need GL 4.3
    shares : whether a histogram is counted in the shared memory of groups first; None for yes on a card
    """

    def __init__(self, has_compute: bool, shares: bool | None = None) -> None:
        self.has_compute = has_compute
        self._shares = has_compute and (not is_software(renderer_name()) if shares is None else shares)
        self._made: dict[str, Program] = {}

    def make_counts(self, form: Form) -> Counts:
        """Return a texture for the counts of a form, all 0."""
        counts = Counts(*form.size, are_integers=self.has_compute)
        counts.clear()
        return counts

    def add(self, form: Form, subject: Subject, grid: Grid, rows: tuple[int, int], counts: Counts) -> None:
        """Count some rows of the samples of a grid, from the first up to one that is not counted."""
        main = "scope_histogram" if self._shares and form.kind == HISTOGRAM else "scope"
        program = self._program(main)
        program.use()
        _set_axes(program, form)
        program.set("shown.is_light", subject.signal is None)
        encoding = subject.shown or Encoding("pq", "bt2020")
        program.set("shown.encoding.to_bt2020", conversion_matrix(encoding.primaries, "bt2020"))
        set_shown(program, "shown.transfer", "shown.encoding.display", encoding)
        light, first, stride = subject.light
        program.set("light_first", np.array(first))
        program.set("light_stride", stride)
        weights = LUMA_WEIGHTS["bt2020" if encoding.primaries == "bt2020" else "bt709"]
        program.set("luma_weights", np.array(weights) / 10000.0)
        for unit, (name, texture) in enumerate(
            (("master_light", light), ("signal", subject.signal), ("mask", subject.mask))
        ):
            program.set(name, unit)
            (texture or light).bind(unit)  # never what others left there: a software rasteriser compiles for its format
        program.set("has_mask", subject.mask is not None)
        program.set("region", np.array([grid.width, grid.height]))
        program.set("stride", grid.stride)
        size = grid.columns, rows[1] - rows[0]
        program.set("samples", np.array(size))
        program.set("first_row", rows[0])
        if self.has_compute:
            _dispatch(counts, *size, RUNS[main])
        else:
            _scatter(program, counts, size[0] * size[1], form.channels)

    def delete(self) -> None:
        """Free the program."""
        for program in self._made.values():
            program.delete()
        self._made = {}

    def _program(self, main: str) -> Program:
        if main not in self._made and self.has_compute:
            self._made[main] = Program(compute=compose(f"main/{main}.comp", {}, COMPUTE_VERSION))
        elif main not in self._made:
            stages = {name: compose(f"main/scope.{name[:4]}", {}, FRAGMENT_VERSION) for name in ("vertex", "fragment")}
            self._made[main] = Program(**stages)
        return self._made[main]


def _samples(size: int, stride: int) -> int:
    return max(-(-(size - stride // 2) // stride), 1)


def _set_axes(program: Program, form: Form) -> None:
    program.set("scope", KINDS.index(form.kind))
    program.set("is_nits", form.is_nits)
    program.set("bins", BINS)
    program.set("columns", form.columns)
    program.set("first_channel", form.first_channel)
    program.set("channels", form.channels)
    scales: dict[str, Scale] = {"signal_axis": SIGNAL_SCALE, "chroma_axis": CHROMA_SCALE, "uv_axis": UV_SCALE}
    for name, scale in scales.items():
        program.set(name, np.array([scale.low, scale.high]))
    program.set("to_xyz", matrix_to_xyz(PRIMARIES["bt2020"]))
    program.set("floor_nits", FLOOR_NITS)


def _dispatch(counts: Counts, columns: int, rows: int, run: int) -> None:
    from OpenGL import GL

    texture = counts.texture
    GL.glMemoryBarrier(GL.GL_FRAMEBUFFER_BARRIER_BIT | GL.GL_SHADER_IMAGE_ACCESS_BARRIER_BIT)
    GL.glBindImageTexture(0, texture.handle, 0, GL.GL_FALSE, 0, GL.GL_READ_WRITE, texture.internal_format)
    GL.glDispatchCompute(-(-columns // 16), -(-rows // (16 * run)), 1)
    GL.glMemoryBarrier(
        GL.GL_TEXTURE_FETCH_BARRIER_BIT | GL.GL_FRAMEBUFFER_BARRIER_BIT | GL.GL_SHADER_IMAGE_ACCESS_BARRIER_BIT
    )


def _scatter(program: Program, counts: Counts, points: int, channels: int) -> None:
    from OpenGL import GL

    columns, rows = counts.texture.columns, counts.texture.rows
    program.set("cells_size", np.array([columns, rows]))
    counts.framebuffer.bind()
    GL.glViewport(0, 0, columns, rows)
    GL.glEnable(GL.GL_PROGRAM_POINT_SIZE)
    GL.glEnable(GL.GL_BLEND)
    GL.glBlendEquation(GL.GL_FUNC_ADD)
    GL.glBlendFunc(GL.GL_ONE, GL.GL_ONE)
    GL.glDrawArraysInstanced(GL.GL_POINTS, 0, points, channels)
    GL.glDisable(GL.GL_BLEND)
