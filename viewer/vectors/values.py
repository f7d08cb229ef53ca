"""The values that instructions make, all but those of calls and of the ways to a block."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from .code import Untranslatable, Value
from .extended import EXTENDED
from .instructions import ARITHMETIC, Given
from .refusals import EXTENDED_INSTRUCTION, refusal
from .spirv import (
    VARIABLE,
    Composite,
    Function,
    GlobalVariable,
    Instruction,
    Module,
    Opaque,
    Scalar,
    Tree,
    Type,
)
from .variables import Pointer, Sampler, Variable, Variables, copied, mapped

LEVEL, TO_UNSIGNED = 2, 109
LOAD, ACCESS_CHAIN = 61, 65


@dataclass
class Frame:
    """A function where it is called.

    Attributes
    ----------
    home : the mask of the lanes that it is called for
    result : what it returns
    values : by their numbers
    edges : for the label of a block the masks of those that come to it, with the blocks that they come from
    open_headers : the labels at which loops begin that are being written
    parted : for the label where the sides of a branch meet the mask before it, and theirs
    sides : for the label of a branch's side the label behind it
    """

    function: Function
    home: Value
    result: Variable
    values: dict[int, Any] = field(default_factory=dict)
    edges: dict[int, list[tuple[Value, int]]] = field(default_factory=dict)
    open_headers: set[int] = field(default_factory=set)
    parted: dict[int, tuple[Value, tuple[Value, ...]]] = field(default_factory=dict)
    sides: dict[int, int] = field(default_factory=dict)


class Values:
    """The values of functions where they are called.

    Attributes
    ----------
    globals : pointers to the variables outside all functions, by their numbers
    """

    def __init__(self, module: Module, variables: Variables) -> None:
        self.module, self.variables = module, variables
        self.pixels, self.code = variables.pixels, variables.code
        self._pixel_centres: dict[str, Value] = {}
        self._constants: dict[int, Any] = {}
        self.globals = {
            number: Pointer(self._global(variable), (), variable.kind) for number, variable in module.variables.items()
        }

    def value(self, frame: Frame, number: int) -> Any:
        """Return a value, or a tree of them, by its number."""
        if number in frame.values:
            return frame.values[number]
        if number in self.globals:
            return self.globals[number]
        if number in self._constants:
            return self._constants[number]
        if number not in self.module.constants:
            raise Untranslatable("a value that a loop makes and something behind it reads")
        kind = self.module.types[self.module.constant_types[number]]
        self._constants[number] = self._constant(self.module.constants[number], kind)
        return self._constants[number]

    def made(self, frame: Frame, item: Instruction) -> Any:
        """Return what an instruction makes."""
        if item.op in _MAKING:
            return _MAKING[item.op](self, frame, item)
        if item.op == EXTENDED_INSTRUCTION:
            function, operands = EXTENDED.get(item.operands[1]), item.operands[2:]
        else:
            function, operands = ARITHMETIC.get(item.op), item.operands
        if function is None:
            raise Untranslatable(refusal(item))
        arguments = [self.value(frame, number) for number in operands]
        kind = self.module.types.get(item.result_type)
        return function(Given(self.code, kind, arguments, item.result in self.module.exact))

    def _global(self, variable: GlobalVariable) -> Any:
        """Return what a pointer to a variable outside all functions points into; None for what is not known here."""
        code, name = self.code, variable.name
        if name == "gl_FragCoord":
            half = code.constant("float", 0.5)
            places = self.pixels.column, self.pixels.row
            x, y = (code.binary("fadd", "float", self.pixels.to_float(at), half) for at in places)
            self._pixel_centres = {x.text: places[0], y.text: places[1]}
            return Variable([x, y, code.constant("float", 0.5), code.constant("float", 1.0)], code.true)
        if name in self.pixels.results:
            return Variable(self.variables.undefined(variable.kind), code.true)
        if name in self.pixels.formats:
            if isinstance(variable.kind, Opaque) and not variable.kind.is_plane:
                raise Untranslatable(f"{name}, which is no sampler2D")
            return Sampler(name)
        return variable if variable.is_uniform else None

    def _constant(self, tree: Tree, kind: Type) -> Any:
        if isinstance(tree, list) and isinstance(kind, Composite):
            return [self._constant(part, member) for part, member in zip(tree, kind.members, strict=True)]
        if isinstance(tree, list) or not isinstance(kind, Scalar):
            raise Untranslatable("a constant of an unknown type")
        return self.code.constant(kind.kind, tree)

    def _variable(self, frame: Frame, item: Instruction) -> Any:
        kind = self.module.types[self.module.pointed[item.result_type]]
        variable = Variable(self.variables.undefined(kind), frame.home)
        variable.scope = None
        if len(item.operands) > 1:
            variable.tree, variable.is_set = copied(self.value(frame, item.operands[1])), True
            variable.scope = frame.home
        return Pointer(variable, (), kind)

    def _access(self, frame: Frame, item: Instruction) -> Any:
        pointer, *places = (self.value(frame, number) for number in item.operands)
        return self.variables.access(pointer, places)

    def _load(self, frame: Frame, item: Instruction) -> Any:
        return self.variables.load(self.value(frame, item.operands[0]))

    def _image(self, frame: Frame, item: Instruction) -> Any:
        return self.value(frame, item.operands[0])

    def _fetch(self, frame: Frame, item: Instruction) -> Any:
        level = self.value(frame, item.operands[3]) if item.operands[2:3] == (LEVEL,) else None
        if level is None or level.known != 0:
            raise Untranslatable("a texel with an offset, or of a level that is not the constant 0")
        return self.pixels.fetched(self.value(frame, item.operands[0]).name, self.value(frame, item.operands[1]))

    def _gather(self, frame: Frame, item: Instruction) -> Any:
        component = self.value(frame, item.operands[2])
        if component.known is None or len(item.operands) > 3:
            raise Untranslatable("a gather with offsets, or of a component that is no constant")
        sampler, place = self.value(frame, item.operands[0]), self.value(frame, item.operands[1])
        return self.pixels.gathered_four(sampler.name, place, int(component.known))

    def _size(self, frame: Frame, item: Instruction) -> Any:
        return self.pixels.sizes(self.value(frame, item.operands[0]).name)

    def _extract(self, frame: Frame, item: Instruction) -> Any:
        tree = self.value(frame, item.operands[0])
        for place in item.operands[1:]:
            tree = tree[place]
        return tree

    def _insert(self, frame: Frame, item: Instruction) -> Any:
        new, tree = self.value(frame, item.operands[0]), self.value(frame, item.operands[1])
        return self.variables.replaced(tree, item.operands[2:], new, self.code.true)

    def _shuffle(self, frame: Frame, item: Instruction) -> Any:
        parts = [*self.value(frame, item.operands[0]), *self.value(frame, item.operands[1])]
        return [parts[place] for place in item.operands[2:]]

    def _to_int(self, frame: Frame, item: Instruction) -> Any:
        """Convert to integers; the middle of a pixel is its column and row."""

        def converted(value: Value) -> Value:
            if value.text in self._pixel_centres:
                return self._pixel_centres[value.text]
            if value.known is not None:
                return self.code.constant("int", int(value.known) if math.isfinite(value.known) else 0)
            return self._to_unsigned(value) if item.op == TO_UNSIGNED else self.pixels.to_int(value)

        return mapped(self.value(frame, item.operands[0]), converted)

    def _to_unsigned(self, value: Value) -> Value:
        made = self.code.made(f"fptoui {self.code.vector(value.kind)} {value.text} to {self.code.vector('int')}")
        return self.code.value("int", f"freeze {self.code.vector('int')} {made}")

    def _unset(self, frame: Frame, item: Instruction) -> Any:
        return self.variables.undefined(self.module.types[item.result_type])


_MAKING: dict[int, Callable[[Values, Frame, Instruction], Any]] = {
    1: Values._unset,  # OpUndef
    VARIABLE: Values._variable,
    LOAD: Values._load,
    ACCESS_CHAIN: Values._access,
    79: Values._shuffle,  # OpVectorShuffle
    81: Values._extract,  # OpCompositeExtract
    82: Values._insert,  # OpCompositeInsert
    95: Values._fetch,
    96: Values._gather,
    100: Values._image,
    103: Values._size,
    TO_UNSIGNED: Values._to_int,  # OpConvertFToU
    110: Values._to_int,  # OpConvertFToS
}
