"""The gpu engine: one program a rendition, the same call as the reference engine."""

from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from tonemap.arrays import Array, Codes
from tonemap.colorimetry import conversion_matrix
from tonemap.declaration import MOST_TABLES
from tonemap.encoding import Encoding
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.host import glsl_arguments
from tonemap.media.dpx import WORD, WordsPicture
from tonemap.media.planes import Coding, Planes
from tonemap.operator import GAMUT, TONE
from tonemap.picture import Picture
from tonemap.render.forms import CODES, SIGNAL, WORDS, Form, PictureForm
from tonemap.rendition import Chain
from tonemap.signal_range import scale_and_offset
from tonemap.transfer import bt1886_gain_and_lift, hlg_black_lift, hlg_system_gamma

from .compose import (
    COMPUTE_VERSION,
    FRAGMENT_VERSION,
    PLANES_OF_RGB,
    PLANES_OF_YCBCR,
    Composed,
    Variant,
    compose,
    program_key,
    rendition_program,
    uniform_name,
)
from .gl.context import OffscreenContext, gl_version, is_software, renderer_name, version_text
from .gl.program import Program, UniformValue
from .gl.texture import Framebuffer, Texture
from .light_of_codes import LightOfCodes

if TYPE_CHECKING:
    from .coded_result import CodedResult
    from .samples import Samples

MAIN_FRAGMENT = "fragment"
MAIN_COMPUTE = "compute"
FIRST_TABLE_UNIT = {"tone": 1, "gamut": 1 + MOST_TABLES}
"""Texture unit 0 is the picture's."""

CHANNELS = 3
KINDS: dict[str, np.dtype[Any]] = {SIGNAL: np.dtype(np.float32), CODES: np.dtype(np.uint16), WORDS: WORD}
WORDS_IN = 2
"""SOURCE_LAYOUT of `lib/source.glsl`."""
LIGHT_AFTER = {TONE: 1, GAMUT: 2}
"""RESULT_LIGHT of `lib/chain.glsl`."""

BLOCK = 4096  # pixels a side at most of what is on the card at once, so that memory does not grow with the picture


class GpuEngine:
    """Evaluates renditions in GLSL, by a fragment main (GL 4.1) or a compute main (GL 4.3).

    Parameters
    ----------
    main : 'fragment', 'compute', or None for what is faster here, as `faster_main` says
    context : the context to use, which must be current; None makes one without a screen

    Raises
    ------
    TrimbenchError
        When there is no GL 4.1, or the driver has no compute shaders and they are asked for.
    """

    name = "gpu"

    def __init__(self, main: str | None = None, context: OffscreenContext | None = None) -> None:
        self.context = context or OffscreenContext()
        if main == MAIN_COMPUTE and gl_version() < (4, 3):
            raise TrimbenchError(f"compute shaders need GL 4.3, and this driver has {version_text()}; use fragment")
        self.main = main or faster_main()
        self.title = f"gpu ({self.main}, {renderer_name()})"
        self.has_card = not is_software(renderer_name())
        self._programs: dict[Any, Program] = {}
        self._textures: dict[Any, Texture] = {}
        self._framebuffers: dict[Any, Framebuffer] = {}
        self._tables = Tables()
        self._light_of_codes = LightOfCodes()
        self._samples: Samples | None = None
        self._coded: CodedResult | None = None
        self._vertex_array = _vertex_array()
        self._block = min(BLOCK, _largest_texture() // CHANNELS)

    def signal(self, picture: Picture, chain: Chain) -> Array:
        """Return the R'G'B' signal of the target, (rows, columns, 3), 0..1, float32, not quantised."""
        return self._in_blocks(picture, chain, SIGNAL)

    def light(self, picture: Picture, chain: Chain, kind: str) -> Array:
        """Return light as the tone or the gamut operator leaves it, (rows, columns, 3), float32, finite or not."""
        return self._in_blocks(picture, chain, SIGNAL, result_light=LIGHT_AFTER[kind])

    def codes(self, picture: Picture, chain: Chain) -> Codes:
        """Return the code values of the target, (rows, columns, 3), at its bits and range."""
        if chain.rendition.target.bits is None:
            raise WrongCall("code values need a bit depth; give the target 8, 10, 12 or 16 bits")
        return self._in_blocks(picture, chain, CODES)

    def rendered(self, content: Picture | Planes, chain: Chain, form: Form) -> Any:
        """Return a picture or a movie's planes, whose chroma the card brings to every pixel, in any form.

        Raises
        ------
        WrongCall
            When planes go in or out that are larger than a block: then there is a picture to make of them first.
        """
        if not self.takes(content, form):
            raise WrongCall(f"planes of {content.columns} x {content.rows} are too large for the card at once")
        if isinstance(content, Picture) and not isinstance(form, Coding):
            return self._in_blocks(content, chain, form)
        return self._block_result(content, self._begun(content, chain, form), chain, form)

    def takes(self, content: Picture | Planes, form: Form) -> bool:
        """Say whether `rendered` takes a frame of this size."""
        is_whole = isinstance(content, Planes) or isinstance(form, Coding)
        return not is_whole or max(content.rows, content.columns) <= self._block

    def close(self) -> None:
        """Free what the engine holds on the card, and its context."""
        self.context.make_current()
        for given in (self._samples, self._coded):
            if given is not None:
                given.delete()
        held: list[Program | Framebuffer | Texture] = [*self._programs.values(), *self._framebuffers.values()]
        for item in [*held, *self._textures.values()]:
            item.delete()
        self._tables.delete()
        self._light_of_codes.delete()
        self.context.close()

    def _in_blocks(self, picture: Picture, chain: Chain, form: PictureForm, result_light: int = 0) -> Any:
        if max(picture.rows, picture.columns) <= self._block:
            return self._block_result(picture, self._begun(picture, chain, form, result_light), chain, form)
        picture = Picture(picture.samples, picture.encoding)  # no longer in words
        program = self._begun(picture, chain, form, result_light)
        shape = picture.rows, picture.columns, *(() if form == WORDS else (CHANNELS,))
        result = np.empty(shape, KINDS[form])
        for top in range(0, picture.rows, self._block):
            for left in range(0, picture.columns, self._block):
                part = np.s_[top : top + self._block, left : left + self._block]
                block = Picture(picture.samples[part], picture.encoding)
                result[part] = self._block_result(block, program, chain, form)
        return result

    def _begun(self, content: Picture | Planes, chain: Chain, form: Form, result_light: int = 0) -> Program:
        """Return the program for a frame, in use, with the chain's numbers."""
        self.context.make_current()
        program = self._program_for(content, chain, form, result_light)
        program.use()
        set_chain_uniforms(program, chain, self._tables)
        return program

    def _block_result(self, content: Picture | Planes, program: Program, chain: Chain, form: Form) -> Any:
        columns, rows = content.columns, content.rows
        coded = self._coded_result(form, columns, rows) if isinstance(form, Coding) else None
        framebuffer = coded.framebuffer if coded else self._framebuffer_for(form, columns, rows)
        self._bind_source(content, program, chain)  # after the result's texture, which may have taken a unit
        if coded is not None:
            coded.set_uniforms(program)
        self._draw(program, framebuffer, columns, rows)
        return coded.read(self._draw) if coded else self._read(framebuffer, form, columns, rows)

    def _bind_source(self, content: Picture | Planes, program: Program, chain: Chain) -> None:
        """Put a frame on the card, for the program in use to read."""
        from OpenGL import GL

        if isinstance(content, Planes):
            from .samples import Samples

            self._samples = self._samples or Samples()
            self._samples.upload(content, chain.master)
            self._samples.bind(program)
            return
        rows, columns = content.rows, content.columns
        if isinstance(content, WordsPicture):
            source = self._texture("source", GL.GL_R32UI, columns, rows)
            source.upload_plane(content.words.view(np.uint32))
        elif content.encoding.bits is None:
            source = self._texture("source", GL.GL_RGB32F, columns, rows)
            source.upload(content.samples.astype(np.float32))
        elif self._is_wide:
            source = self._texture("source", GL.GL_R16UI, CHANNELS * columns, rows)
            source.upload_plane(np.ascontiguousarray(content.samples).reshape(rows, CHANNELS * columns))
        else:
            source = self._texture("source", GL.GL_RGB16UI, columns, rows)
            source.upload(content.samples)
        source.bind(0)
        program.set("source_texture", 0)

    @property
    def _is_wide(self) -> bool:
        """Whether code values lie on the card as in memory, so that a card's driver moves them without a change."""
        return self.main == MAIN_COMPUTE

    def _read(self, framebuffer: Framebuffer, form: Form, columns: int, rows: int) -> np.ndarray:
        if form == WORDS:
            return framebuffer.read_plane(columns, rows).view(WORD)
        if form == CODES and self._is_wide:
            return framebuffer.read_plane(CHANNELS * columns, rows).reshape(rows, columns, CHANNELS)
        return framebuffer.read(columns, rows)

    def _framebuffer_for(self, form: Any, columns: int, rows: int) -> Framebuffer:
        from OpenGL import GL

        if form == CODES and self._is_wide:
            return self._framebuffer(GL.GL_R16UI, CHANNELS * columns, rows)
        formats = {SIGNAL: GL.GL_RGBA32F, CODES: GL.GL_RGBA16UI, WORDS: GL.GL_R32UI}
        return self._framebuffer(formats[form], columns, rows)

    def _coded_result(self, coding: Coding, columns: int, rows: int) -> "CodedResult":
        from .coded_result import CodedResult

        if self._coded is None or self._coded.kind != (coding, columns, rows):
            if self._coded is not None:
                self._coded.delete()
            self._coded = CodedResult(coding, columns, rows)
        return self._coded

    def _draw(self, program: Program, framebuffer: Framebuffer, columns: int, rows: int) -> None:
        from OpenGL import GL

        if program.is_compute:
            program.dispatch(framebuffer.texture, (0, 0), (columns, rows), *framebuffer.textures[1:])
        else:
            framebuffer.bind()
            GL.glViewport(0, 0, columns, rows)
            GL.glBindVertexArray(self._vertex_array)
            GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)

    def _program_for(self, content: Picture | Planes, chain: Chain, form: Form, result_light: int = 0) -> Program:
        """Return the program for a frame's samples, with the light of their codes bound, where it reads that."""
        are_codes = isinstance(content, Picture) and content.encoding.bits is not None
        layout = WORDS_IN if isinstance(content, WordsPicture) else int(self._is_wide and are_codes)
        table = self._light_of_codes.bind(chain.master) if are_codes else 0
        variant = variant_of(content, chain, form, layout, table, result_light)
        key = (*program_key(chain), variant)
        if key not in self._programs:
            self._programs[key] = self._made_program(chain, variant)
        return self._programs[key]

    def _made_program(self, chain: Chain, variant: Variant) -> Program:
        if self.main == MAIN_COMPUTE:
            return Program(compute=rendition_program(chain, "main/rendition.comp", COMPUTE_VERSION, variant))
        return Program(
            vertex=fullscreen_vertex(),
            fragment=rendition_program(chain, "main/rendition.frag", FRAGMENT_VERSION, variant),
        )

    def _texture(self, role: str, internal_format: Any, columns: int, rows: int) -> Texture:
        key = (role, internal_format)
        texture = self._textures.get(key)
        if texture is None or texture.columns < columns or texture.rows < rows:
            if texture is not None:
                texture.delete()
                columns, rows = max(columns, texture.columns), max(rows, texture.rows)
            texture = self._textures[key] = Texture(internal_format, columns, rows)
        return texture

    def _framebuffer(self, internal_format: Any, columns: int, rows: int) -> Framebuffer:
        texture = self._texture("result", internal_format, columns, rows)
        framebuffer = self._framebuffers.get(internal_format)
        if framebuffer is None or framebuffer.texture is not texture:
            if framebuffer is not None:
                framebuffer.delete()
            framebuffer = self._framebuffers[internal_format] = Framebuffer(texture)
        return framebuffer


def variant_of(
    content: Picture | Planes, chain: Chain, form: Form, source_layout: int, source_table: int, result_light: int
) -> Variant:
    """Return what a program is made for that makes a form of such a frame, without what it need not compute."""
    from .samples import source_kind

    return Variant(
        form if isinstance(form, str) else PLANES_OF_RGB if form.matrix is None else PLANES_OF_YCBCR,
        source_planes=source_kind(content, chain.master)[2],
        source_layout=source_layout,
        source_is_bt2020=chain.master.primaries == "bt2020",
        source_table=source_table,
        adjusts_input=not chain.rendition.input.is_neutral,
        adjusts_output=not chain.rendition.output.is_neutral,
        result_light=result_light,
    )


def fullscreen_vertex() -> Composed:
    """Return the vertex stage that every fragment main is drawn with."""
    return compose("main/fullscreen.vert", {}, FRAGMENT_VERSION)


def faster_main() -> str:
    """Return the main by which the current context draws sooner: compute where a card has it, else fragment.

    A software rasteriser writes a fragment sooner than an image's pixel.
    """
    return MAIN_COMPUTE if gl_version() >= (4, 3) and not is_software(renderer_name()) else MAIN_FRAGMENT


class Tables:
    """The tables of operators on the card: one texture for each stage, name and size, filled when its values change."""

    def __init__(self) -> None:
        self._textures: dict[tuple[str, str, int], Texture] = {}
        self._filled: dict[tuple[str, str, int], np.ndarray] = {}

    def bind(self, unit: int, stage: str, name: str, values: np.ndarray) -> None:
        """Bind a table to a texture unit."""
        from OpenGL import GL

        key = stage, name, len(values)
        if key not in self._textures:
            self._textures[key] = Texture(GL.GL_R32F, len(values), 1)
        if not np.array_equal(self._filled.get(key, ()), values):
            self._textures[key].upload_row(values)
            self._filled[key] = values
        self._textures[key].bind(unit)
        GL.glActiveTexture(GL.GL_TEXTURE0)  # the unit of what is uploaded next

    def delete(self) -> None:
        """Free them."""
        for texture in self._textures.values():
            texture.delete()
        self._textures, self._filled = {}, {}


class Settable(Protocol):
    """What has uniforms: a program of the card, in use, or of the processor."""

    def set(self, name: str, value: UniformValue) -> None:
        """Set one by its name."""
        ...


class TableBinder(Protocol):
    """What lays operators' tables where their samplers read them."""

    def bind(self, unit: int, stage: str, name: str, values: np.ndarray) -> None:
        """Bind a table to a texture unit."""
        ...


def set_chain_uniforms(program: Settable, chain: Chain, tables: TableBinder) -> None:
    """Set every uniform of a rendition on the program in use, and bind its tables; compiles nothing."""
    rendition, master = chain.rendition, chain.master
    program.set("source.to_bt2020", conversion_matrix(master.primaries, "bt2020"))
    set_display(program, "source.display", master)
    if master.bits is not None:
        scale, offset = scale_and_offset(master.bits, master.signal_range)
        program.set("source_scale", scale)
        program.set("source_offset", offset)
    for group, members in (("adjustments", rendition.input), ("levels", chain.levels)):
        for name, value in vars(members).items():
            program.set(f"{group}.{name}", float(value))
    program.set("adjustments.is_neutral", rendition.input.is_neutral)
    program.set("volume.to_target", chain.volume.to_target)
    program.set("volume.from_target", chain.volume.from_target)
    set_display(program, "target_display", rendition.target)
    program.set("cdl.is_neutral", rendition.output.is_neutral)
    for name in ("slope", "offset", "power"):
        program.set(f"cdl.{name}", np.array(getattr(rendition.output, name), np.float32))
    program.set("cdl.saturation", float(rendition.output.saturation))
    if rendition.target.bits is not None:
        scale, offset = scale_and_offset(rendition.target.bits, rendition.target.signal_range)
        program.set("code_scale", scale)
        program.set("code_offset", offset)
        program.set("top_code", 2.0**rendition.target.bits - 1.0)
    for stage, operator, values in (
        ("tone", chain.tone, chain.tone_values),
        ("gamut", chain.gamut, chain.gamut_values),
    ):
        for name, (glsl_type, value) in glsl_arguments(operator, values).items():
            if glsl_type == "float":
                program.set(uniform_name(stage, name), float(value))
            elif isinstance(value, np.ndarray):
                unit = FIRST_TABLE_UNIT[stage] + operator.tables.index(name)
                tables.bind(unit, stage, name, value)
                program.set(uniform_name(stage, name), unit)


def set_display(program: Settable, name: str, encoding: Encoding) -> None:
    """Set a Display of the shaders from an encoding, on the program in use."""
    gain, lift = bt1886_gain_and_lift(encoding.peak, encoding.black)
    if encoding.transfer == "hlg":
        lift = hlg_black_lift(encoding.peak, encoding.black)
    values = {
        "peak": encoding.peak,
        "gamma": hlg_system_gamma(encoding.peak),
        "gain": gain,
        "lift": lift,
        "unit": encoding.unit,
    }
    for key, value in values.items():
        program.set(f"{name}.{key}", float(value))


def _vertex_array() -> Any:
    from OpenGL import GL

    return GL.glGenVertexArrays(1)


def _largest_texture() -> int:
    from OpenGL import GL

    return int(GL.glGetIntegerv(GL.GL_MAX_TEXTURE_SIZE))
