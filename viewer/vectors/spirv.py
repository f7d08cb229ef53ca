"""A SPIR-V module, as glslang writes one: its types, constants, variables and functions.

Numbers of instructions and their operands are those of the SPIR-V specification, section 3.
"""

import struct
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np

MAGIC = 0x07230203
HEADER = 5
"""Words before the first instruction."""

NAME, MEMBER_NAME, ENTRY_POINT, DECORATE = 5, 6, 15, 71
VOID, BOOL, INT, FLOAT, VECTOR, MATRIX, IMAGE, SAMPLED_IMAGE = 19, 20, 21, 22, 23, 24, 25, 27
ARRAY, STRUCT, POINTER, FUNCTION_TYPE = 28, 30, 32, 33
TRUE, FALSE, CONSTANT, COMPOSITE, NULL = 41, 42, 43, 44, 46
FUNCTION, PARAMETER, FUNCTION_END, VARIABLE = 54, 55, 56, 59
LOOP_MERGE, SELECTION_MERGE, LABEL = 246, 247, 248
BRANCH, BRANCH_CONDITIONAL, SWITCH = 249, 250, 251
NO_CONTRACTION = 42
PLANE = 1
"""Of an image's dimensions: 2D; what follows says whether there are several, and several samples a pixel."""
UNIFORM_CLASSES = (0, 2)
"""Storage classes UniformConstant and Uniform."""

LINES = (0, 8, 317)
"""Nothing, and lines of the source."""

WITHOUT_RESULT = frozenset((62, 63, 246, 247, 249, 250, 251, 252, 253, 254, 255))
"""Instructions in a function that make nothing: stores, merges, and what ends a block."""


@dataclass(frozen=True)
class Scalar:
    """A number: kind is 'float', 'double', 'int' or 'bool'."""

    kind: str


@dataclass(frozen=True)
class Composite:
    """A vector, a matrix (of columns), a struct or an array."""

    members: tuple["Type", ...]
    names: tuple[str, ...] = ()


@dataclass(frozen=True)
class Opaque:
    """What is no number: nothing, or an image, which may be a plain one of columns and rows."""

    is_plane: bool = False


Type = Scalar | Composite | Opaque
Tree = bool | int | float | list["Tree"]


@dataclass(frozen=True)
class Instruction:
    """One in a function: result_type and result are 0 where there is none."""

    op: int
    result_type: int
    result: int
    operands: tuple[int, ...]


@dataclass
class Block:
    """What runs from one label up to a branch."""

    label: int
    instructions: list[Instruction] = field(default_factory=list)

    @property
    def loop_merge(self) -> int:
        """The label behind the loop whose header this is, or 0."""
        return next((item.operands[0] for item in self.instructions if item.op == LOOP_MERGE), 0)

    @property
    def targets(self) -> list[int]:
        """The labels that it may branch to."""
        last = self.instructions[-1]
        if last.op == BRANCH:
            return [last.operands[0]]
        if last.op == BRANCH_CONDITIONAL:
            return list(last.operands[1:3])
        return [last.operands[1], *last.operands[3::2]] if last.op == SWITCH else []

    @property
    def merges(self) -> list[int]:
        """The labels behind a choice or a loop that it begins, and that of what a loop does last in a round."""
        merges = (item for item in self.instructions if item.op in (LOOP_MERGE, SELECTION_MERGE))
        return [label for item in merges for label in item.operands[: 2 if item.op == LOOP_MERGE else 1]]


@dataclass
class Function:
    """Its parameters, and its blocks: each behind all from which it is come to, a loop's side by side."""

    result_type: int
    parameters: list[int] = field(default_factory=list)
    blocks: list[Block] = field(default_factory=list)

    def put_in_order(self) -> None:
        """Order the blocks, of which the module has a switch's default first, wherever it is in the source."""
        blocks = {block.label: block for block in self.blocks}
        first = self.blocks[0].label
        seen, done, open_blocks = {first}, [], [(first, self._followers(blocks[first]))]
        while open_blocks:
            label, followers = open_blocks[-1]
            follower = next((one for one in followers if one not in seen), None)
            if follower is None:
                done.append(blocks[label])
                open_blocks.pop()
            else:
                seen.add(follower)
                open_blocks.append((follower, self._followers(blocks[follower])))
        self.blocks = done[::-1]

    def _followers(self, block: Block) -> list[int]:
        """Return the labels behind a block, those that come last first."""
        return [*block.merges, *reversed(block.targets)]


@dataclass(frozen=True)
class GlobalVariable:
    """A uniform, a sampler, or a result or an input of main."""

    name: str
    kind: Type
    is_uniform: bool


class Module:
    """What a module says, by the numbers that it gives its parts."""

    def __init__(self, binary: bytes) -> None:
        """Read one; raises ValueError when it isn't SPIR-V of this machine's byte order."""
        words = np.frombuffer(binary, np.uint32)
        if len(words) < HEADER or words[0] != MAGIC:
            raise ValueError("this is no SPIR-V")
        self.types: dict[int, Type] = {}
        self.pointed: dict[int, int] = {}
        self.constants: dict[int, Tree] = {}
        self.constant_types: dict[int, int] = {}
        self.variables: dict[int, GlobalVariable] = {}
        self.functions: dict[int, Function] = {}
        self.exact: set[int] = set()
        self.main = 0
        self._names: dict[int, str] = {}
        self._member_names: dict[int, dict[int, str]] = {}
        self._open: list[Function] = []  # the function that is being read
        for op, operands in _instructions(words):
            if op in _DECLARING:
                _DECLARING[op](self, operands)
            elif op in _TYPES:
                self.types[operands[0]] = _TYPES[op](self, operands)
            elif self._open:
                self._add_to_function(self._open[-1], op, operands)

    def _add_to_function(self, function: Function, op: int, operands: tuple[int, ...]) -> None:
        if op == LABEL:
            function.blocks.append(Block(operands[0]))
        elif op in WITHOUT_RESULT:
            function.blocks[-1].instructions.append(Instruction(op, 0, 0, operands))
        elif op not in LINES:
            kind, result = operands[:2] if len(operands) > 1 else (0, 0)
            function.blocks[-1].instructions.append(Instruction(op, kind, result, operands[2:]))

    def _name(self, operands: tuple[int, ...]) -> None:
        self._names[operands[0]] = _text(operands[1:])

    def _member_name(self, operands: tuple[int, ...]) -> None:
        self._member_names.setdefault(operands[0], {})[operands[1]] = _text(operands[2:])

    def _entry_point(self, operands: tuple[int, ...]) -> None:
        self.main = operands[1]

    def _decorate(self, operands: tuple[int, ...]) -> None:
        if operands[1] == NO_CONTRACTION:
            self.exact.add(operands[0])

    def _pointer(self, operands: tuple[int, ...]) -> None:
        self.pointed[operands[0]] = operands[2]

    def _begin_function(self, operands: tuple[int, ...]) -> None:
        self.functions[operands[1]] = Function(operands[0])
        self._open = [self.functions[operands[1]]]

    def _parameter(self, operands: tuple[int, ...]) -> None:
        self._open[-1].parameters.append(operands[1])

    def _end_function(self, operands: tuple[int, ...]) -> None:
        self._open.pop().put_in_order()

    def _variable(self, operands: tuple[int, ...]) -> None:
        if self._open:
            self._add_to_function(self._open[-1], VARIABLE, operands)
            return
        pointed = self.pointed[operands[0]]
        name = self._names.get(operands[1]) or self._names.get(pointed, "")  # a block may have that of its type alone
        self.variables[operands[1]] = GlobalVariable(name, self.types[pointed], operands[2] in UNIFORM_CLASSES)

    def _true(self, operands: tuple[int, ...]) -> None:
        self._keep(operands, True)

    def _false(self, operands: tuple[int, ...]) -> None:
        self._keep(operands, False)

    def _constant(self, operands: tuple[int, ...]) -> None:
        kind, words = self.types[operands[0]], operands[2:]
        forms = {"float": "<f", "double": "<d", "int": "<i"}
        self._keep(operands, struct.unpack(forms[_kind(kind)], struct.pack(f"<{len(words)}I", *words))[0])

    def _composite(self, operands: tuple[int, ...]) -> None:
        self._keep(operands, [self.constants[part] for part in operands[2:]])

    def _null(self, operands: tuple[int, ...]) -> None:
        self._keep(operands, _zero(self.types[operands[0]]))

    def _keep(self, operands: tuple[int, ...], value: Tree) -> None:
        self.constants[operands[1]] = value
        self.constant_types[operands[1]] = operands[0]

    def _struct(self, operands: tuple[int, ...]) -> Type:
        names = self._member_names.get(operands[0], {})
        members = tuple(self.types[member] for member in operands[1:])
        return Composite(members, tuple(names.get(place, "") for place in range(len(members))))

    def _vector(self, operands: tuple[int, ...]) -> Type:
        return Composite((self.types[operands[1]],) * operands[2])

    def _array(self, operands: tuple[int, ...]) -> Type:
        length = self.constants[operands[2]]
        return Composite((self.types[operands[1]],) * (length if isinstance(length, int) else 0))


_DECLARING: dict[int, Callable[[Module, tuple[int, ...]], None]] = {
    NAME: Module._name,
    MEMBER_NAME: Module._member_name,
    ENTRY_POINT: Module._entry_point,
    DECORATE: Module._decorate,
    POINTER: Module._pointer,
    FUNCTION: Module._begin_function,
    PARAMETER: Module._parameter,
    FUNCTION_END: Module._end_function,
    VARIABLE: Module._variable,
    TRUE: Module._true,
    FALSE: Module._false,
    CONSTANT: Module._constant,
    COMPOSITE: Module._composite,
    NULL: Module._null,
}

_TYPES: dict[int, Callable[[Module, tuple[int, ...]], Type]] = {
    VOID: lambda module, operands: Opaque(),
    BOOL: lambda module, operands: Scalar("bool"),
    INT: lambda module, operands: Scalar("int"),
    FLOAT: lambda module, operands: Scalar("float" if operands[1] == 32 else "double"),
    VECTOR: Module._vector,
    MATRIX: Module._vector,
    IMAGE: lambda module, operands: Opaque(operands[2] == PLANE and not operands[4] and not operands[5]),
    SAMPLED_IMAGE: lambda module, operands: module.types[operands[1]],
    FUNCTION_TYPE: lambda module, operands: Opaque(),
    ARRAY: Module._array,
    STRUCT: Module._struct,
}


def _instructions(words: np.ndarray) -> Iterator[tuple[int, tuple[int, ...]]]:
    numbers: list[int] = words.tolist()
    place = HEADER
    while place < len(numbers):
        length, op = numbers[place] >> 16, numbers[place] & 0xFFFF
        yield op, tuple(numbers[place + 1 : place + length])
        place += length


def _text(words: tuple[int, ...]) -> str:
    return struct.pack(f"<{len(words)}I", *words).split(b"\0", 1)[0].decode()


def _kind(kind: Type) -> str:
    return kind.kind if isinstance(kind, Scalar) else ""


def _zero(kind: Type) -> Tree:
    if isinstance(kind, Composite):
        return [_zero(member) for member in kind.members]
    return {"bool": False, "int": 0}.get(_kind(kind), 0.0)
