"""The programs of the bench: those of its own mains, and one for every sort of rendition."""

from typing import Any

from tonemap.errors import TrimbenchError
from tonemap.operator import Choice, Operator, Switch, Values
from tonemap.rendition import Chain

from ..compose import FRAGMENT_VERSION, compose, rendition_program
from ..engine import fullscreen_vertex
from ..gl.program import Program


class Programs:
    """Programs, made when they are first asked for and kept."""

    def __init__(self) -> None:
        self._fixed: dict[str, Program] = {}
        self._renditions: dict[object, Program | TrimbenchError] = {}

    def fixed(self, name: str) -> Program:
        """Return a main of the bench by its file's stem, in use."""
        if name not in self._fixed:
            fragment = compose(f"main/{name}.frag", {}, FRAGMENT_VERSION)
            self._fixed[name] = Program(vertex=fullscreen_vertex(), fragment=fragment)
        program = self._fixed[name]
        program.use()
        return program

    def of_rendition(self, chain: Chain) -> Program | TrimbenchError:
        """Return the program of a rendition, made once for all that is not a uniform, or what is wrong with it."""
        key = _program_key(chain)
        if key not in self._renditions:
            try:
                fragment = rendition_program(chain, "main/tile.frag", FRAGMENT_VERSION)
                self._renditions[key] = Program(vertex=fullscreen_vertex(), fragment=fragment)
            except TrimbenchError as fault:
                self._renditions[key] = fault
        return self._renditions[key]

    def count(self) -> int:
        """Return how many programs of renditions there are."""
        return len(self._renditions)

    def delete(self) -> None:
        """Free them."""
        for program in (*self._fixed.values(), *self._renditions.values()):
            if isinstance(program, Program):
                program.delete()
        self._fixed, self._renditions = {}, {}


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
