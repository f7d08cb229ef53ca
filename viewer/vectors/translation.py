"""A fragment shader in SPIR-V as a function of LLVM's that goes over the pixels of rows.

Lanes of a vector are pixels side by side. Where they part, both ways of a branch are computed, and what is stored is
stored under the mask of those that went it; a loop goes on while any lane does. Functions are written where they are
called, so that what a constant decides is decided here.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial, reduce
from itertools import pairwise
from typing import Any

from .code import Untranslatable, Value
from .extended import EXTENDED
from .instructions import ARITHMETIC, Given
from .pixels import Format, Pixels, part_name
from .refusals import refusal
from .spirv import (
    BRANCH,
    BRANCH_CONDITIONAL,
    SELECTION_MERGE,
    SWITCH,
    VARIABLE,
    Block,
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

LEVEL, TO_UNSIGNED = 2, 109
LONGEST_UNROLLED = 16
LONGEST_TEXT = 10_000
"""Rounds, and lines, up to which a loop is written out."""
WORTH_A_BRANCH = 12
"""Instructions from which a side of a branch is jumped over where no lane goes it; a call counts as so many."""
LONGEST_TABLE = 64
"""Elements of a variable that may be read at a place that differs from lane to lane."""

STORE, LOAD, CALL, ACCESS_CHAIN, EXTENDED_INSTRUCTION = 62, 61, 57, 65, 12
PHI = 245
LIGHT = frozenset(
    (VARIABLE, LOAD, STORE, ACCESS_CHAIN, 79, 80, 81, SELECTION_MERGE, BRANCH, BRANCH_CONDITIONAL, 253, 254)
)
"""Instructions that cost nothing, for they only move values."""


@dataclass(frozen=True)
class Translated:
    """The text of `draw`, as `Pixels` has it.

    Attributes
    ----------
    cells : for each number of the uniforms its place, of four bytes
    images : names of the samplers and blocks in their order
    read_here : names of the samplers that are read at the very pixels that are drawn, and must be as large
    """

    text: str
    cells: dict[str, int]
    images: tuple[str, ...]
    read_here: frozenset[str]


def translate(
    module: Module, images: dict[str, Format], results: dict[str, Format], lanes: int, are_covered: bool
) -> Translated:
    """Translate main; raises Untranslatable for what is not known here.

    Parameters
    ----------
    images : how the samples of each sampler, and of each block of one array, lie
    results : how those of each result of main lie, in which there are as many pixels as are drawn
    are_covered : whether what is read at the very pixels that are drawn is there for every lane
    """
    return _Translation(module, Pixels(images, results, lanes, are_covered)).translated()


class _Variable:
    """Numbers that are stored, and the mask of the lanes in which they count."""

    def __init__(self, tree: Any, home: Value) -> None:
        self.tree, self.home = tree, home
        self.scope: Value | None = home
        self.is_set = False


@dataclass(frozen=True)
class _Pointer:
    base: "_Variable | _Sampler | GlobalVariable | None"
    path: tuple[Any, ...] = ()
    kind: Type | None = None


@dataclass(frozen=True)
class _Sampler:
    name: str


@dataclass
class _Frame:
    """A function where it is called.

    Attributes
    ----------
    values : by their numbers
    edges : for the label of a block the masks of those that come to it, with the blocks that they come from
    parted : for the label where the sides of a branch meet the mask before it, and theirs
    sides : for the label of a branch's side the label behind it
    """

    function: Function
    home: Value
    result: _Variable
    values: dict[int, Any] = field(default_factory=dict)
    edges: dict[int, list[tuple[Value, int]]] = field(default_factory=dict)
    open_headers: set[int] = field(default_factory=set)
    parted: dict[int, tuple[Value, tuple[Value, ...]]] = field(default_factory=dict)
    sides: dict[int, int] = field(default_factory=dict)


class _Translation:
    def __init__(self, module: Module, pixels: Pixels) -> None:
        self.module, self.pixels, self.code = module, pixels, pixels.code
        self._globals: dict[int, _Pointer] = {}
        self._pixel_centres: dict[str, Value] = {}
        self._constants: dict[int, Any] = {}

    def translated(self) -> Translated:
        """Translate main and what it calls."""
        for number, variable in self.module.variables.items():
            self._globals[number] = _Pointer(self._global(variable), (), variable.kind)
        self._run_function(self.module.functions[self.module.main], [], self.code.true)
        for number, variable in self.module.variables.items():
            base = self._globals[number].base
            if variable.name in self.pixels.results and isinstance(base, _Variable):
                self.pixels.store(variable.name, base.tree)
        pixels = self.pixels
        return Translated(pixels.text(), pixels.cells, tuple(pixels.images), frozenset(pixels.read_here))

    def _global(self, variable: GlobalVariable) -> Any:
        """Return what a pointer to a variable outside all functions points into; None for what is not known here."""
        code, name = self.code, variable.name
        if name == "gl_FragCoord":
            half = code.constant("float", 0.5)
            places = self.pixels.column, self.pixels.row
            x, y = (code.binary("fadd", "float", self.pixels.to_float(at), half) for at in places)
            self._pixel_centres = {x.text: places[0], y.text: places[1]}
            return _Variable([x, y, code.constant("float", 0.5), code.constant("float", 1.0)], code.true)
        if name in self.pixels.results:
            return _Variable(self._undefined(variable.kind), code.true)
        if name in self.pixels.formats:
            if isinstance(variable.kind, Opaque) and not variable.kind.is_plane:
                raise Untranslatable(f"{name}, which is no sampler2D")
            return _Sampler(name)
        return variable if variable.is_uniform else None

    # --- functions, blocks and loops

    def _undefined(self, kind: Type) -> Any:
        if isinstance(kind, Composite):
            return [self._undefined(member) for member in kind.members]
        return self.code.undefined(kind.kind) if isinstance(kind, Scalar) else None

    def _run_function(self, function: Function, arguments: Sequence[Any], mask: Value) -> Any:
        kind = self.module.types[function.result_type]
        frame = _Frame(function, mask, _Variable(self._undefined(kind), mask))
        frame.values.update(zip(function.parameters, arguments, strict=True))
        frame.edges[function.blocks[0].label] = [(mask, 0)]
        self._run_blocks(frame, 0, len(function.blocks))
        return frame.result.tree

    def _run_blocks(self, frame: _Frame, begin: int, end: int) -> None:
        place, blocks = begin, frame.function.blocks
        while place < end:
            block = blocks[place]
            merge = block.loop_merge if block.label not in frame.open_headers else 0
            behind = self._place_of(frame, merge) if merge else place + 1
            edges = frame.edges.get(block.label, [])
            if edges:
                mask = self._joint_mask(frame, block.label, edges)
                side = frame.sides.pop(block.label, 0)
                if side and mask.known is None and self._is_worth_a_branch(frame, place, self._place_of(frame, side)):
                    behind = self._place_of(frame, side)
                    self._run_side(frame, place, behind, mask)
                elif merge:
                    self._run_loop(frame, place, behind, mask)
                else:
                    self._run_block(frame, block, mask)
            place = behind

    def _joint_mask(self, frame: _Frame, label: int, edges: list[tuple[Value, int]]) -> Value:
        """Return the mask of all that come to a block: the one before a branch, where all are there again."""
        whole, sides = frame.parted.get(label, (None, ()))
        if whole is not None and {id(mask) for mask, _ in edges} == {id(side) for side in sides}:
            return whole
        return reduce(self.code.either, (mask for mask, _ in edges))

    def _is_worth_a_branch(self, frame: _Frame, begin: int, end: int) -> bool:
        blocks = frame.function.blocks
        items = [item for block in blocks[begin:end] for item in block.instructions]
        weight = sum(WORTH_A_BRANCH if item.op == CALL else item.op not in LIGHT for item in items)
        reads_ways = any(item.op == PHI for item in blocks[end].instructions)  # a value of the side, behind it
        return weight >= WORTH_A_BRANCH and not reads_ways

    def _run_side(self, frame: _Frame, begin: int, end: int, mask: Value) -> None:
        """Write a side of a branch so that it is jumped over where no lane goes it."""
        code, before = self.code, self.code.block
        blocks = frame.function.blocks[begin:end]
        inside = {block.label for block in blocks}
        affected = self._affected(frame, blocks)
        trees, values = [_copied(item.tree) for item in affected], dict(frame.values)
        outside = {label: edges for label, edges in frame.edges.items() if label not in inside}
        frame.edges = {blocks[0].label: frame.edges[blocks[0].label]}
        within, behind = code.name(), code.name()
        code.line(f"br i1 {code.is_any(mask)}, label {within}, label {behind}")
        code.begin_block(within)
        self._run_blocks(frame, begin, end)
        bottom = code.block
        code.line(f"br label {behind}")
        code.begin_block(behind)

        def joined(new: Value, old: Value) -> Value:
            if new is old or new is mask:
                return new
            return code.value(
                new.kind, f"phi {code.vector(new.kind)} [ {new.text}, {bottom} ], [ {old.text}, {before} ]"
            )

        leaving = {label: edges for label, edges in frame.edges.items() if label not in inside}
        frame.edges, frame.values = outside, values
        for label, edges in leaving.items():
            joined_edges = [(joined(edge, code.false), source) for edge, source in edges]
            frame.edges.setdefault(label, []).extend(joined_edges)
        for item, tree in zip(affected, trees, strict=True):
            item.tree = _joined(joined, item.tree, tree)

    def _place_of(self, frame: _Frame, label: int) -> int:
        return next(place for place, block in enumerate(frame.function.blocks) if block.label == label)

    def _run_block(self, frame: _Frame, block: Block, mask: Value) -> None:
        for item in block.instructions:
            if item.op in _CONTROL:
                _CONTROL[item.op](self, frame, block, item, mask)
            else:
                frame.values[item.result] = self._made(frame, item, mask)

    def _edge(self, frame: _Frame, block: Block, target: int, mask: Value) -> None:
        if mask.known is not False:
            frame.edges.setdefault(target, []).append((mask, block.label))

    def _run_loop(self, frame: _Frame, begin: int, end: int, mask: Value) -> None:
        blocks = frame.function.blocks[begin:end]
        header = blocks[0].label
        frame.open_headers.add(header)
        affected = self._affected(frame, blocks)
        if not self._unrolled(frame, begin, end, mask, affected):
            self._looped(frame, begin, end, mask, affected)
        frame.open_headers.discard(header)

    def _affected(self, frame: _Frame, blocks: list[Block]) -> list[_Variable]:
        """Return the variables that a loop may change."""
        found: dict[int, _Variable] = {id(frame.result): frame.result}
        for pointer in self._globals.values():
            if isinstance(pointer.base, _Variable):  # a result of main, which functions may set too
                found[id(pointer.base)] = pointer.base
        for block in blocks:
            for item in block.instructions:
                numbers = item.operands[:1] if item.op == STORE else item.operands[1:] if item.op == CALL else ()
                for number in numbers:
                    base = self._base(frame, number, blocks)
                    if isinstance(base, _Variable):
                        found[id(base)] = base
        return list(found.values())

    def _base(self, frame: _Frame, number: int, blocks: list[Block]) -> Any:
        """Return what a pointer points into, also where it will only be made in the loop."""
        known = frame.values.get(number) or self._globals.get(number)
        if isinstance(known, _Pointer):
            return known.base
        for block in blocks:
            for item in block.instructions:
                if item.result == number and item.op == ACCESS_CHAIN:
                    return self._base(frame, item.operands[0], blocks)
        return None

    def _one_round(self, frame: _Frame, begin: int, end: int, mask: Value) -> tuple[Value, dict[int, list[Any]]]:
        """Run the body of a loop; return the mask of those that come back, and the edges that leave."""
        blocks = frame.function.blocks[begin:end]
        inside = {block.label for block in blocks}
        outside = {label: edges for label, edges in frame.edges.items() if label not in inside}
        frame.edges = {blocks[0].label: [(mask, 0)]}
        self._run_block(frame, blocks[0], mask)
        header_edges = frame.edges.pop(blocks[0].label)[1:]
        self._run_blocks(frame, begin + 1, end)
        header_edges += frame.edges.get(blocks[0].label, [])
        leaving = {label: edges for label, edges in frame.edges.items() if label not in inside}
        frame.edges = outside
        back = reduce(self.code.either, (edge for edge, _ in header_edges), self.code.false)
        return back, leaving

    def _unrolled(self, frame: _Frame, begin: int, end: int, mask: Value, affected: list[_Variable]) -> bool:
        """Write a loop out, if constants alone say how often it goes round; else leave everything as it was."""
        kept = [(item, _copied(item.tree), item.scope, item.is_set) for item in affected]
        lines, values, edges = len(self.code.lines), dict(frame.values), dict(frame.edges)
        block = self.code.block
        for _ in range(LONGEST_UNROLLED):
            back, leaving = self._one_round(frame, begin, end, mask)
            if back.known is False:
                for label, found in leaving.items():
                    frame.edges.setdefault(label, []).extend(found)
                return True
            if any(leaving.values()) or len(self.code.lines) - lines > LONGEST_TEXT:
                break
            mask = back
        for item, tree, scope, is_set in kept:
            item.tree, item.scope, item.is_set = tree, scope, is_set
        del self.code.lines[lines:]
        frame.values, frame.edges, self.code.block = values, edges, block
        return False

    def _looped(self, frame: _Frame, begin: int, end: int, mask: Value, affected: list[_Variable]) -> None:
        """Write a loop that goes on while any lane does."""
        code, before = self.code, self.code.block
        inside = {block.label for block in frame.function.blocks[begin:end]}
        top, behind = code.name(), code.name()
        code.line(f"br label {top}")
        code.begin_block(top)
        trees = [item.tree for item in affected]
        phis: list[tuple[int, Value, Value]] = []

        def opened(value: Value) -> Value:
            made = code.value(value.kind, "")
            phis.append((len(code.lines) - 1, made, value))
            return made

        live = opened(mask)
        targets = [
            target for block in frame.function.blocks[begin:end] for target in block.targets if target not in inside
        ]
        left = {target: opened(code.false) for target in dict.fromkeys(targets)}
        for item, tree in zip(affected, trees, strict=True):
            item.tree = _mapped(tree, opened)
            item.scope, item.is_set = None, True  # also what is first set inside: lanes that have left keep theirs
        values = dict(frame.values)
        back, leaving = self._one_round(frame, begin, end, live)
        frame.values = values  # what a round makes is of the last one only
        after = [back]
        for target, gone in left.items():
            after.append(reduce(code.either, (edge for edge, _ in leaving.get(target, [])), gone))
        for item in affected:
            after += _leaves(item.tree)
        bottom = code.block
        for (line, made, value), later in zip(phis, after, strict=True):
            code.lines[line] = (
                f"{made.text} = phi {code.vector(made.kind)} [ {value.text}, {before} ], [ {later.text}, {bottom} ]"
            )
        code.line(f"br i1 {code.is_any(back)}, label {top}, label {behind}")
        code.begin_block(behind)
        for place, target in enumerate(left):
            frame.edges.setdefault(target, []).append((after[1 + place], 0))

    # --- values

    def value(self, frame: _Frame, number: int) -> Any:
        """Return a value, or a tree of them, by its number."""
        if number in frame.values:
            return frame.values[number]
        if number in self._globals:
            return self._globals[number]
        if number in self._constants:
            return self._constants[number]
        if number not in self.module.constants:
            raise Untranslatable("a value that a loop makes and something behind it reads")
        kind = self.module.types[self.module.constant_types[number]]
        self._constants[number] = self._constant(self.module.constants[number], kind)
        return self._constants[number]

    def _constant(self, tree: Tree, kind: Type) -> Any:
        if isinstance(tree, list) and isinstance(kind, Composite):
            return [self._constant(part, member) for part, member in zip(tree, kind.members, strict=True)]
        if isinstance(tree, list) or not isinstance(kind, Scalar):
            raise Untranslatable("a constant of an unknown type")
        return self.code.constant(kind.kind, tree)

    def _made(self, frame: _Frame, item: Instruction, mask: Value) -> Any:
        if item.op in _MAKING:
            return _MAKING[item.op](self, frame, item, mask)
        if item.op == EXTENDED_INSTRUCTION:
            function, operands = EXTENDED.get(item.operands[1]), item.operands[2:]
        else:
            function, operands = ARITHMETIC.get(item.op), item.operands
        if function is None:
            raise Untranslatable(refusal(item))
        arguments = [self.value(frame, number) for number in operands]
        kind = self.module.types.get(item.result_type)
        return function(Given(self.code, kind, arguments, item.result in self.module.exact))

    def _variable(self, frame: _Frame, item: Instruction, mask: Value) -> Any:
        kind = self.module.types[self.module.pointed[item.result_type]]
        variable = _Variable(self._undefined(kind), frame.home)
        variable.scope = None
        if len(item.operands) > 1:
            variable.tree, variable.is_set = _copied(self.value(frame, item.operands[1])), True
            variable.scope = frame.home
        return _Pointer(variable, (), kind)

    def _access(self, frame: _Frame, item: Instruction, mask: Value) -> Any:
        pointer = self.value(frame, item.operands[0])
        path, kind = list(pointer.path), pointer.kind
        for number in item.operands[1:]:
            place = self.value(frame, number)
            if isinstance(kind, Composite):
                last = len(kind.members) - 1  # a lane that does not come here may be beyond it
                path.append(place if place.known is None else min(max(int(place.known), 0), last))
                kind = kind.members[0 if place.known is None else path[-1]]
            else:
                path.append(place if place.known is None else place.known)
        return _Pointer(pointer.base, tuple(path), kind)

    def _load(self, frame: _Frame, item: Instruction, mask: Value) -> Any:
        pointer = self.value(frame, item.operands[0])
        base, path = pointer.base, pointer.path
        if isinstance(base, _Variable):
            return _copied(self._at(base.tree, path))
        if isinstance(base, _Sampler) and path:  # a block of one array
            return self.pixels.element(
                base.name, self.code.constant("int", path[-1]) if isinstance(path[-1], int) else path[-1]
            )
        if isinstance(base, _Sampler):
            return base
        if base is None:
            raise Untranslatable("a global variable that main or a function sets, or an input of main")
        name, kind = base.name, base.kind
        for place in path:
            if not isinstance(kind, Composite) or not isinstance(place, int):
                raise Untranslatable(f"a place in the uniform {name} that is no constant")
            name, kind = part_name(name, kind, place), kind.members[place]
        return _copied(self.pixels.uniform(name, kind))

    def _at(self, tree: Any, path: tuple[Any, ...]) -> Any:
        if not path:
            return tree
        if isinstance(path[0], int):
            return self._at(tree[path[0]], path[1:])
        if len(tree) > LONGEST_TABLE:
            raise Untranslatable(f"a table of {len(tree)} numbers in a variable")
        result = self._at(tree[0], path[1:])
        for place in range(1, len(tree)):
            is_here = self.code.compared("icmp eq", path[0], self.code.constant("int", place))
            result = _joined(partial(self.code.select, is_here), self._at(tree[place], path[1:]), result)
        return result

    def _store(self, frame: _Frame, block: Block, item: Instruction, mask: Value) -> None:
        pointer, new = self.value(frame, item.operands[0]), self.value(frame, item.operands[1])
        self._store_in(pointer.base, pointer.path, new, mask)

    def _store_in(self, variable: Any, path: tuple[Any, ...], new: Any, mask: Value) -> None:
        if not isinstance(variable, _Variable):
            raise Untranslatable("a store into a global variable, or into a result that is not asked for")
        is_direct = mask is variable.home or mask is variable.scope or not variable.is_set or bool(mask.known)
        if is_direct:
            variable.scope = variable.home if mask is variable.home or mask.known else mask
        else:
            variable.scope = None
        variable.is_set = True
        condition = self.code.true if is_direct else mask
        variable.tree = self._replaced(variable.tree, path, new, condition)

    def _replaced(self, tree: Any, path: tuple[Any, ...], new: Any, condition: Value) -> Any:
        if not path:
            return _joined(partial(self.code.select, condition), new, tree)
        if isinstance(path[0], int):
            parts = list(tree)
            parts[path[0]] = self._replaced(tree[path[0]], path[1:], new, condition)
            return parts
        parts = []
        for place, part in enumerate(tree):
            is_here = self.code.compared("icmp eq", path[0], self.code.constant("int", place))
            parts.append(self._replaced(part, path[1:], new, self.code.both(condition, is_here)))
        return parts

    def _call(self, frame: _Frame, item: Instruction, mask: Value) -> Any:
        arguments = [self.value(frame, number) for number in item.operands[1:]]
        return self._run_function(self.module.functions[item.operands[0]], arguments, mask)

    def _phi(self, frame: _Frame, item: Instruction, mask: Value) -> Any:
        sources = dict(zip(item.operands[1::2], item.operands[::2], strict=True))
        label = next(block.label for block in frame.function.blocks if any(one is item for one in block.instructions))
        result: Any = None
        for edge, source in frame.edges[label]:
            if source not in sources:
                raise Untranslatable("a value that depends on the way into a loop")
            value = self.value(frame, sources[source])
            result = value if result is None else _joined(partial(self.code.select, edge), value, result)
        return result

    def _image(self, frame: _Frame, item: Instruction, mask: Value) -> Any:
        return self.value(frame, item.operands[0])

    def _fetch(self, frame: _Frame, item: Instruction, mask: Value) -> Any:
        level = self.value(frame, item.operands[3]) if item.operands[2:3] == (LEVEL,) else None
        if level is None or level.known != 0:
            raise Untranslatable("a texel with an offset, or of a level that is not the constant 0")
        return self.pixels.fetched(self.value(frame, item.operands[0]).name, self.value(frame, item.operands[1]))

    def _gather(self, frame: _Frame, item: Instruction, mask: Value) -> Any:
        component = self.value(frame, item.operands[2])
        if component.known is None or len(item.operands) > 3:
            raise Untranslatable("a gather with offsets, or of a component that is no constant")
        sampler, place = self.value(frame, item.operands[0]), self.value(frame, item.operands[1])
        return self.pixels.gathered_four(sampler.name, place, int(component.known))

    def _extract(self, frame: _Frame, item: Instruction, mask: Value) -> Any:
        tree = self.value(frame, item.operands[0])
        for place in item.operands[1:]:
            tree = tree[place]
        return tree

    def _insert(self, frame: _Frame, item: Instruction, mask: Value) -> Any:
        new, tree = self.value(frame, item.operands[0]), self.value(frame, item.operands[1])
        return self._replaced(tree, item.operands[2:], new, self.code.true)

    def _shuffle(self, frame: _Frame, item: Instruction, mask: Value) -> Any:
        parts = [*self.value(frame, item.operands[0]), *self.value(frame, item.operands[1])]
        return [parts[place] for place in item.operands[2:]]

    def _size(self, frame: _Frame, item: Instruction, mask: Value) -> Any:
        return self.pixels.sizes(self.value(frame, item.operands[0]).name)

    def _to_int(self, frame: _Frame, item: Instruction, mask: Value) -> Any:
        """Convert to integers; the middle of a pixel is its column and row."""

        def converted(value: Value) -> Value:
            if value.text in self._pixel_centres:
                return self._pixel_centres[value.text]
            if value.known is not None:
                return self.code.constant("int", int(value.known) if math.isfinite(value.known) else 0)
            return self._to_unsigned(value) if item.op == TO_UNSIGNED else self.pixels.to_int(value)

        return _mapped(self.value(frame, item.operands[0]), converted)

    def _to_unsigned(self, value: Value) -> Value:
        made = self.code.made(f"fptoui {self.code.vector(value.kind)} {value.text} to {self.code.vector('int')}")
        return self.code.value("int", f"freeze {self.code.vector('int')} {made}")

    def _unset(self, frame: _Frame, item: Instruction, mask: Value) -> Any:
        return self._undefined(self.module.types[item.result_type])

    # --- the ends of blocks

    def _branch(self, frame: _Frame, block: Block, item: Instruction, mask: Value) -> None:
        self._edge(frame, block, item.operands[0], mask)

    def _branch_conditional(self, frame: _Frame, block: Block, item: Instruction, mask: Value) -> None:
        condition = self.value(frame, item.operands[0])
        yes, no = self.code.both(mask, condition), self.code.both(mask, self.code.opposite(condition))
        self._edge(frame, block, item.operands[1], yes)
        self._edge(frame, block, item.operands[2], no)
        merge = next((one.operands[0] for one in block.instructions if one.op == SELECTION_MERGE), 0)
        if merge and condition.known is None:
            frame.parted[merge] = mask, (yes, no)
            sides = sorted({*item.operands[1:3], merge}, key=partial(self._place_of, frame))
            frame.sides.update(pairwise(sides))

    def _switch(self, frame: _Frame, block: Block, item: Instruction, mask: Value) -> None:
        selector, rest = self.value(frame, item.operands[0]), mask
        for number, target in zip(item.operands[2::2], item.operands[3::2], strict=True):
            signed = number - 2**32 if number >= 2**31 else number
            is_it = self.code.compared("icmp eq", selector, self.code.constant("int", signed))
            self._edge(frame, block, target, self.code.both(mask, is_it))
            rest = self.code.both(rest, self.code.opposite(is_it))
        self._edge(frame, block, item.operands[1], rest)

    def _return(self, frame: _Frame, block: Block, item: Instruction, mask: Value) -> None:
        if item.operands:
            self._store_in(frame.result, (), self.value(frame, item.operands[0]), mask)

    def _nothing(self, frame: _Frame, block: Block, item: Instruction, mask: Value) -> None:
        pass


_CONTROL: dict[int, Callable[[_Translation, _Frame, Block, Instruction, Value], None]] = {
    STORE: _Translation._store,
    246: _Translation._nothing,  # OpLoopMerge
    SELECTION_MERGE: _Translation._nothing,
    BRANCH: _Translation._branch,
    BRANCH_CONDITIONAL: _Translation._branch_conditional,
    SWITCH: _Translation._switch,
    253: _Translation._return,
    254: _Translation._return,
    255: _Translation._nothing,  # OpUnreachable
}

_MAKING: dict[int, Callable[[_Translation, _Frame, Instruction, Value], Any]] = {
    1: _Translation._unset,  # OpUndef
    VARIABLE: _Translation._variable,
    CALL: _Translation._call,
    LOAD: _Translation._load,
    ACCESS_CHAIN: _Translation._access,
    79: _Translation._shuffle,  # OpVectorShuffle
    81: _Translation._extract,  # OpCompositeExtract
    82: _Translation._insert,  # OpCompositeInsert
    95: _Translation._fetch,
    96: _Translation._gather,
    100: _Translation._image,
    103: _Translation._size,
    TO_UNSIGNED: _Translation._to_int,  # OpConvertFToU
    110: _Translation._to_int,  # OpConvertFToS
    PHI: _Translation._phi,
}


def _joined(join: Callable[[Value, Value], Value], one: Any, other: Any) -> Any:
    if isinstance(one, list):
        return [_joined(join, *parts) for parts in zip(one, other, strict=True)]
    return join(one, other)


def _mapped(tree: Any, change: Callable[[Value], Value]) -> Any:
    return [_mapped(part, change) for part in tree] if isinstance(tree, list) else tree and change(tree)


def _copied(tree: Any) -> Any:
    return [_copied(part) for part in tree] if isinstance(tree, list) else tree


def _leaves(tree: Any) -> list[Value]:
    if isinstance(tree, list):
        return [leaf for part in tree for leaf in _leaves(part)]
    return [] if tree is None else [tree]
