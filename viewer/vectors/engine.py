"""The cpu engine: the shaders of the gpu engine as vector code of the processor, for machines without a card."""

from collections.abc import Callable
from typing import Any

import numpy as np

from tonemap.arrays import Array, Codes
from tonemap.encoding import Encoding, has_light_of_codes, light_of_codes
from tonemap.errors import WrongCall
from tonemap.media.dpx import WORD, WordsPicture
from tonemap.media.planes import Coding, Planes
from tonemap.parity import Engine
from tonemap.picture import Picture
from tonemap.render.forms import CODES, SIGNAL, WORDS, Form, FormEngine, in_form
from tonemap.rendition import Chain

from ..coded_result import chroma_fragment, chroma_size, set_chroma_filter, set_result_coding
from ..compose import FRAGMENT_VERSION, program_key, rendition_program, uniform_name
from ..engine import CHANNELS, LIGHT_AFTER, WORDS_IN, set_chain_uniforms, variant_of
from ..samples import NAMES, sample_planes, set_source
from .code import Untranslatable
from .program import VectorProgram, processor_name

MOST_CODES = 4096
"""Up to as many codes their light is looked up: a table beyond the nearest cache is slower than the curve."""


def _in_silence(sentence: str) -> None:
    pass


class VectorEngine:
    """Evaluates renditions by the same GLSL as the gpu engine, on every core of the processor.

    Parameters
    ----------
    otherwise : makes the engine for renditions whose GLSL has what can't be translated; without it they are refused
    tell : told so, once for each kind of rendition; from then on the title says it too
    """

    name = "cpu"

    def __init__(
        self, otherwise: Callable[[], Engine] | None = None, tell: Callable[[str], None] = _in_silence
    ) -> None:
        self.title = f"cpu ({processor_name()})"
        self._make_other, self._tell = otherwise, tell
        self._other: Engine | None = None
        self._programs: dict[Any, VectorProgram] = {}
        self._refused: dict[Any, Engine] = {}
        self._filters: dict[Coding, VectorProgram] = {}
        self._chroma = np.empty((0, 0, 2), np.float32)

    def signal(self, picture: Picture, chain: Chain) -> Array:
        """Return the R'G'B' signal of the target, (rows, columns, 3), 0..1, float32, not quantised."""
        return self.rendered(picture, chain, SIGNAL)

    def light(self, picture: Picture, chain: Chain, kind: str) -> Array:
        """Return light as the tone or the gamut operator leaves it, (rows, columns, 3), float32, finite or not.

        Raises
        ------
        Untranslatable
            When the operators' GLSL has what can't be translated.
        """
        return self._drawn(picture, chain, SIGNAL, LIGHT_AFTER[kind])

    def codes(self, picture: Picture, chain: Chain) -> Codes:
        """Return the code values of the target, (rows, columns, 3), at its bits and range."""
        if chain.rendition.target.bits is None:
            raise WrongCall("code values need a bit depth; give the target 8, 10, 12 or 16 bits")
        return self.rendered(picture, chain, CODES)

    def takes(self, content: Picture | Planes, form: Form) -> bool:
        """Say whether `rendered` takes a frame of this size: it does of any."""
        return True

    def rendered(self, content: Picture | Planes, chain: Chain, form: Form) -> Any:
        """Return a picture or a movie's planes in any form."""
        key = program_key(chain)
        if key in self._refused:
            return self._rendered_otherwise(self._refused[key], content, chain, form)
        try:
            return self._drawn(content, chain, form)
        except Untranslatable as reason:
            if self._make_other is None:
                raise
            self._refused[key] = self._other = self._other or self._make_other()
            names = f"'{chain.tone.name}' with '{chain.gamut.name}'"
            self._tell(f"the cpu engine can't run {names}: {reason}; {self._other.title} takes its place for them")
            self.title += f"; for {names}, {self._other.title}"
            return self._rendered_otherwise(self._other, content, chain, form)

    def _rendered_otherwise(self, other: Engine, content: Picture | Planes, chain: Chain, form: Form) -> Any:
        if isinstance(other, FormEngine) and other.takes(content, form):
            return other.rendered(content, chain, form)
        return in_form(other, content if isinstance(content, Picture) else content.picture(chain.master), chain, form)

    def close(self) -> None:
        """Give back what stands in for this engine, where something does."""
        close = getattr(self._other, "close", None)
        if close is not None:
            close()

    def _program_for(self, content: Picture | Planes, chain: Chain, form: Form, result_light: int = 0) -> VectorProgram:
        table = _codes_in_table(content, chain.master)
        variant = variant_of(content, chain, form, WORDS_IN * isinstance(content, WordsPicture), table, result_light)
        key = (*program_key(chain), variant)
        if key not in self._programs:
            composed = rendition_program(chain, "main/rendition.frag", FRAGMENT_VERSION, variant)
            self._programs[key] = VectorProgram(composed)
        return self._programs[key]

    def _drawn(self, content: Picture | Planes, chain: Chain, form: Form, result_light: int = 0) -> Any:
        program = self._program_for(content, chain, form, result_light)
        coding = content.coding if isinstance(content, Planes) else None
        set_chain_uniforms(program, chain, _Tables(program))
        set_source(program, chain.master, coding)
        arrays = (content.words.view(np.uint32),) if isinstance(content, WordsPicture) else sample_planes(content)
        for name, array in zip(NAMES, arrays, strict=False):
            program.set_image(name, array)
        table = _codes_in_table(content, chain.master)
        if table:
            program.set_image("Source_light", light_of_codes(chain.master)[:table].astype(np.float32)[None])
        shape = content.rows, content.columns
        if isinstance(form, Coding):
            set_result_coding(program, form)
            return self._planes(program, form, *shape)
        result = np.empty(
            shape if form == WORDS else (*shape, CHANNELS),
            {SIGNAL: np.float32, CODES: np.uint16, WORDS: np.uint32}[form],
        )
        program.draw({"result": result})
        return result.view(WORD) if form == WORDS else result

    def _planes(self, program: VectorProgram, coding: Coding, rows: int, columns: int) -> Planes:
        if coding.matrix is None:
            planes = {name: np.empty((rows, columns), np.uint16) for name in ("red", "green", "blue")}
            program.draw(planes)
            return Planes((planes["red"], planes["green"], planes["blue"]), coding)
        luma = np.empty((rows, columns), np.uint16)
        if self._chroma.shape[:2] != (rows, columns):
            self._chroma = np.empty((rows, columns, 2), np.float32)
        chroma = self._chroma  # never handed on, so it is made once: new memory costs more than what is computed
        program.draw({"luma": luma, "chroma": chroma})
        if coding not in self._filters:
            self._filters[coding] = VectorProgram(chroma_fragment(coding))
        chroma_filter = self._filters[coding]
        set_chroma_filter(chroma_filter, coding, columns, rows)
        chroma_filter.set_image("chroma", chroma)
        blue, red = (np.empty(chroma_size(coding, columns, rows)[::-1], np.uint16) for _ in range(2))
        chroma_filter.draw({"blue": blue, "red": red})
        return Planes((luma, blue, red), coding)


class _Tables:
    """Operators' tables as images of a program."""

    def __init__(self, program: VectorProgram) -> None:
        self._program = program

    def bind(self, unit: int, stage: str, name: str, values: np.ndarray) -> None:
        """Set a table as what its sampler reads; units are of a card."""
        self._program.set_image(uniform_name(stage, name), np.asarray(values, np.float32)[None])


def _codes_in_table(content: Picture | Planes, master: Encoding) -> int:
    """Return the number of codes whose light is looked up; 0 where it is computed."""
    if not isinstance(content, Picture) or content.encoding.bits is None or not has_light_of_codes(master):
        return 0
    codes = 2 ** (master.bits or 0)
    return codes if codes <= MOST_CODES else 0
