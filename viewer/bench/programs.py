"""The programs of the bench: those of its own mains, and one for every sort of rendition."""

from collections.abc import Iterable
from typing import Any

from tonemap.errors import TrimbenchError
from tonemap.rendition import Chain

from ..compose import COMPUTE_VERSION, FRAGMENT_VERSION, compose, program_key, rendition_program
from ..engine import Tables, fullscreen_vertex
from ..gl.context import gl_version
from ..gl.program import Program, compile_side_by_side


class Programs:
    """Programs, made when they are first asked for and kept, and the tables of operators.

    Attributes
    ----------
    tables : those on the card
    has_compute : whether renditions are drawn by the compute main, which is far faster on cards made for computing, and
        made in half the time by a software rasteriser
    """

    def __init__(self) -> None:
        from OpenGL import GL

        self.tables = Tables()
        self.has_compute = gl_version() >= (4, 3)
        compile_side_by_side()
        self._vertex_array = GL.glGenVertexArrays(1)
        self._fixed: dict[tuple[Any, ...], Program] = {}
        self._renditions: dict[tuple[Any, ...], Program | TrimbenchError] = {}
        self._texts: dict[Program, str] = {}
        self._replaced: dict[str, Program] = {}

    def prepare(self) -> None:
        """Set the state that every drawing of pictures needs, whatever the interface left."""
        from OpenGL import GL

        for capability in (GL.GL_BLEND, GL.GL_SCISSOR_TEST, GL.GL_DEPTH_TEST, GL.GL_CULL_FACE, GL.GL_DITHER):
            GL.glDisable(capability)
        GL.glDisable(GL.GL_FRAMEBUFFER_SRGB)
        GL.glBindVertexArray(self._vertex_array)

    def fixed(self, name: str, **constants: int) -> Program:
        """Return a main of the bench by its file's stem, in use.

        Parameters
        ----------
        constants : what the main includes as generated/constants.glsl; every set of them is a program of its own,
            without the branches that it does not take, which a software rasteriser would compute all the same
        """
        key = name, *sorted(constants.items())
        if key not in self._fixed:
            lines = "\n".join(f"#define {constant.upper()} {value}" for constant, value in constants.items())
            fragment = compose(f"main/{name}.frag", {"generated/constants.glsl": lines}, FRAGMENT_VERSION)
            self._fixed[key] = Program(vertex=fullscreen_vertex(), fragment=fragment)
        program = self._fixed[key]
        program.use()
        return program

    def begin(self, chains: Iterable[Chain]) -> None:
        """Begin with the programs of renditions that are asked for next, so that a driver makes them side by side."""
        for chain in chains:
            self._begin(program_key(chain), chain)

    def of_rendition(self, chain: Chain) -> Program | TrimbenchError:
        """Return the program of a rendition, made once for all that is not a uniform, or what is wrong with it."""
        key = program_key(chain)
        self._begin(key, chain)
        program = self._renditions[key]
        if isinstance(program, Program):
            try:
                program.check()
            except TrimbenchError as fault:
                del self._texts[program]
                self._renditions[key] = fault
        return self._renditions[key]

    def _begin(self, key: tuple[Any, ...], chain: Chain) -> None:
        if key not in self._renditions:
            self._replace_versions_before(key)
            try:
                self._renditions[key] = self._begun(chain)
            except TrimbenchError as fault:
                self._renditions[key] = fault

    def _begun(self, chain: Chain) -> Program:
        main, version = (
            ("main/tile.comp", COMPUTE_VERSION) if self.has_compute else ("main/tile.frag", FRAGMENT_VERSION)
        )
        composed = rendition_program(chain, main, version)
        program = self._replaced.pop(composed.text, None)
        if program is None:
            program = (
                Program.begun(compute=composed)
                if self.has_compute
                else Program.begun(vertex=fullscreen_vertex(), fragment=composed)
            )
            self._texts[program] = composed.text
        return program

    def _replace_versions_before(self, key: tuple[Any, ...]) -> None:
        """Set aside the programs of an operator as it was before it was saved; those before them are freed.

        One whose text is still the same is taken up again: an edit of the Python file often compiles nothing.
        """
        now = {installed.operator.name: installed for installed, *_ in key[-2:]}
        before = [
            old for old in self._renditions if any(now.get(item.operator.name, item) != item for item, *_ in old[-2:])
        ]
        if before:
            self._free_replaced()
        for old in before:
            program = self._renditions.pop(old)
            if isinstance(program, Program):
                text = self._texts[program]
                if text in self._replaced:
                    self._free(self._replaced[text])
                self._replaced[text] = program

    def _free_replaced(self) -> None:
        for program in self._replaced.values():
            self._free(program)
        self._replaced = {}

    def _free(self, program: Program) -> None:
        del self._texts[program]
        program.delete()

    def count(self) -> int:
        """Return how many programs of renditions there are."""
        return len(self._texts)

    def delete(self) -> None:
        """Free them."""
        from OpenGL import GL

        GL.glDeleteVertexArrays(1, [self._vertex_array])
        self._free_replaced()
        for program in (*self._fixed.values(), *self._renditions.values()):
            if isinstance(program, Program):
                program.delete()
        self._fixed, self._renditions, self._texts = {}, {}, {}
        self.tables.delete()
