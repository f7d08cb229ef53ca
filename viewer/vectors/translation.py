"""A fragment shader in SPIR-V as a function of LLVM's that goes over the pixels of rows.

Lanes of a vector are pixels side by side. Where they part, both ways of a branch are computed, and what is stored is
stored under the mask of those that went it; a loop goes on while any lane does. Functions are written where they are
called, so that what a constant decides is decided here.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial, reduce
from itertools import pairwise
from typing import Any

from .code import Untranslatable, Value
from .pixels import Format, Pixels
from .spirv import (
    BRANCH,
    BRANCH_CONDITIONAL,
    SELECTION_MERGE,
    SWITCH,
    VARIABLE,
    Block,
    Function,
    Instruction,
    Module,
)
from .values import ACCESS_CHAIN, LOAD, Frame, Values
from .variables import Pointer, Variable, Variables, copied, joined, leaves, mapped

LONGEST_UNROLLED = 16
LONGEST_TEXT = 10_000
"""Rounds, and lines, up to which a loop is written out."""
WORTH_A_BRANCH = 12
"""Instructions from which a side of a branch is jumped over where no lane goes it; a call counts as so many."""

STORE, CALL, PHI = 62, 57, 245
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


class _Translation:
    def __init__(self, module: Module, pixels: Pixels) -> None:
        self.module, self.pixels, self.code = module, pixels, pixels.code
        self.variables = Variables(pixels)
        self.values = Values(module, self.variables)

    def translated(self) -> Translated:
        """Translate main and what it calls."""
        self._run_function(self.module.functions[self.module.main], [], self.code.true)
        for number, variable in self.module.variables.items():
            base = self.values.globals[number].base
            if variable.name in self.pixels.results and isinstance(base, Variable):
                self.pixels.store(variable.name, base.tree)
        pixels = self.pixels
        return Translated(pixels.text(), pixels.cells, tuple(pixels.images), frozenset(pixels.read_here))

    # --- functions, blocks and loops

    def _run_function(self, function: Function, arguments: Sequence[Any], mask: Value) -> Any:
        kind = self.module.types[function.result_type]
        frame = Frame(function, mask, Variable(self.variables.undefined(kind), mask))
        frame.values.update(zip(function.parameters, arguments, strict=True))
        frame.edges[function.blocks[0].label] = [(mask, 0)]
        self._run_blocks(frame, 0, len(function.blocks))
        return frame.result.tree

    def _run_blocks(self, frame: Frame, begin: int, end: int) -> None:
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

    def _joint_mask(self, frame: Frame, label: int, edges: list[tuple[Value, int]]) -> Value:
        """Return the mask of all that come to a block: the one before a branch, where all are there again."""
        whole, sides = frame.parted.get(label, (None, ()))
        if whole is not None and {id(mask) for mask, _ in edges} == {id(side) for side in sides}:
            return whole
        return reduce(self.code.either, (mask for mask, _ in edges))

    def _is_worth_a_branch(self, frame: Frame, begin: int, end: int) -> bool:
        blocks = frame.function.blocks
        items = [item for block in blocks[begin:end] for item in block.instructions]
        weight = sum(WORTH_A_BRANCH if item.op == CALL else item.op not in LIGHT for item in items)
        reads_ways = any(item.op == PHI for item in blocks[end].instructions)  # a value of the side, behind it
        return weight >= WORTH_A_BRANCH and not reads_ways

    def _run_side(self, frame: Frame, begin: int, end: int, mask: Value) -> None:
        """Write a side of a branch so that it is jumped over where no lane goes it."""
        code, before = self.code, self.code.block
        blocks = frame.function.blocks[begin:end]
        inside = {block.label for block in blocks}
        affected = self._affected(frame, blocks)
        trees, values = [copied(item.tree) for item in affected], dict(frame.values)
        outside = {label: edges for label, edges in frame.edges.items() if label not in inside}
        frame.edges = {blocks[0].label: frame.edges[blocks[0].label]}
        within, behind = code.name(), code.name()
        code.line(f"br i1 {code.is_any(mask)}, label {within}, label {behind}")
        code.begin_block(within)
        self._run_blocks(frame, begin, end)
        bottom = code.block
        code.line(f"br label {behind}")
        code.begin_block(behind)

        def either_way(new: Value, old: Value) -> Value:
            if new is old or new is mask:
                return new
            return code.value(
                new.kind, f"phi {code.vector(new.kind)} [ {new.text}, {bottom} ], [ {old.text}, {before} ]"
            )

        leaving = {label: edges for label, edges in frame.edges.items() if label not in inside}
        frame.edges, frame.values = outside, values
        for label, edges in leaving.items():
            joined_edges = [(either_way(edge, code.false), source) for edge, source in edges]
            frame.edges.setdefault(label, []).extend(joined_edges)
        for item, tree in zip(affected, trees, strict=True):
            item.tree = joined(either_way, item.tree, tree)

    def _place_of(self, frame: Frame, label: int) -> int:
        return next(place for place, block in enumerate(frame.function.blocks) if block.label == label)

    def _run_block(self, frame: Frame, block: Block, mask: Value) -> None:
        for item in block.instructions:
            if item.op in _CONTROL:
                _CONTROL[item.op](self, frame, block, item, mask)
            else:
                frame.values[item.result] = self._made(frame, item, mask)

    def _edge(self, frame: Frame, block: Block, target: int, mask: Value) -> None:
        if mask.known is not False:
            frame.edges.setdefault(target, []).append((mask, block.label))

    def _run_loop(self, frame: Frame, begin: int, end: int, mask: Value) -> None:
        blocks = frame.function.blocks[begin:end]
        header = blocks[0].label
        frame.open_headers.add(header)
        affected = self._affected(frame, blocks)
        if not self._unrolled(frame, begin, end, mask, affected):
            self._looped(frame, begin, end, mask, affected)
        frame.open_headers.discard(header)

    def _affected(self, frame: Frame, blocks: list[Block]) -> list[Variable]:
        """Return the variables that a loop may change."""
        found: dict[int, Variable] = {id(frame.result): frame.result}
        for pointer in self.values.globals.values():
            if isinstance(pointer.base, Variable):  # a result of main, which functions may set too
                found[id(pointer.base)] = pointer.base
        for block in blocks:
            for item in block.instructions:
                numbers = item.operands[:1] if item.op == STORE else item.operands[1:] if item.op == CALL else ()
                for number in numbers:
                    base = self._base(frame, number, blocks)
                    if isinstance(base, Variable):
                        found[id(base)] = base
        return list(found.values())

    def _base(self, frame: Frame, number: int, blocks: list[Block]) -> Any:
        """Return what a pointer points into, also where it will only be made in the loop."""
        known = frame.values.get(number) or self.values.globals.get(number)
        if isinstance(known, Pointer):
            return known.base
        for block in blocks:
            for item in block.instructions:
                if item.result == number and item.op == ACCESS_CHAIN:
                    return self._base(frame, item.operands[0], blocks)
        return None

    def _one_round(self, frame: Frame, begin: int, end: int, mask: Value) -> tuple[Value, dict[int, list[Any]]]:
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

    def _unrolled(self, frame: Frame, begin: int, end: int, mask: Value, affected: list[Variable]) -> bool:
        """Write a loop out, if constants alone say how often it goes round; else leave everything as it was."""
        kept = [(item, copied(item.tree), item.scope, item.is_set) for item in affected]
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

    def _looped(self, frame: Frame, begin: int, end: int, mask: Value, affected: list[Variable]) -> None:
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
            item.tree = mapped(tree, opened)
            item.scope, item.is_set = None, True  # also what is first set inside: lanes that have left keep theirs
        values = dict(frame.values)
        back, leaving = self._one_round(frame, begin, end, live)
        frame.values = values  # what a round makes is of the last one only
        after = [back]
        for target, gone in left.items():
            after.append(reduce(code.either, (edge for edge, _ in leaving.get(target, [])), gone))
        for item in affected:
            after += leaves(item.tree)
        bottom = code.block
        for (line, made, value), later in zip(phis, after, strict=True):
            code.lines[line] = (
                f"{made.text} = phi {code.vector(made.kind)} [ {value.text}, {before} ], [ {later.text}, {bottom} ]"
            )
        code.line(f"br i1 {code.is_any(back)}, label {top}, label {behind}")
        code.begin_block(behind)
        for place, target in enumerate(left):
            frame.edges.setdefault(target, []).append((after[1 + place], 0))

    # --- what depends on the way

    def _made(self, frame: Frame, item: Instruction, mask: Value) -> Any:
        if item.op == CALL:
            return self._call(frame, item, mask)
        return self._phi(frame, item) if item.op == PHI else self.values.made(frame, item)

    def _store(self, frame: Frame, block: Block, item: Instruction, mask: Value) -> None:
        pointer, new = self.values.value(frame, item.operands[0]), self.values.value(frame, item.operands[1])
        self.variables.store(pointer.base, pointer.path, new, mask)

    def _call(self, frame: Frame, item: Instruction, mask: Value) -> Any:
        arguments = [self.values.value(frame, number) for number in item.operands[1:]]
        return self._run_function(self.module.functions[item.operands[0]], arguments, mask)

    def _phi(self, frame: Frame, item: Instruction) -> Any:
        sources = dict(zip(item.operands[1::2], item.operands[::2], strict=True))
        label = next(block.label for block in frame.function.blocks if any(one is item for one in block.instructions))
        result: Any = None
        for edge, source in frame.edges[label]:
            if source not in sources:
                raise Untranslatable("a value that depends on the way into a loop")
            value = self.values.value(frame, sources[source])
            result = value if result is None else joined(partial(self.code.select, edge), value, result)
        return result

    # --- the ends of blocks

    def _branch(self, frame: Frame, block: Block, item: Instruction, mask: Value) -> None:
        self._edge(frame, block, item.operands[0], mask)

    def _branch_conditional(self, frame: Frame, block: Block, item: Instruction, mask: Value) -> None:
        condition = self.values.value(frame, item.operands[0])
        yes, no = self.code.both(mask, condition), self.code.both(mask, self.code.opposite(condition))
        self._edge(frame, block, item.operands[1], yes)
        self._edge(frame, block, item.operands[2], no)
        merge = next((one.operands[0] for one in block.instructions if one.op == SELECTION_MERGE), 0)
        if merge and condition.known is None:
            frame.parted[merge] = mask, (yes, no)
            sides = sorted({*item.operands[1:3], merge}, key=partial(self._place_of, frame))
            frame.sides.update(pairwise(sides))

    def _switch(self, frame: Frame, block: Block, item: Instruction, mask: Value) -> None:
        selector, rest = self.values.value(frame, item.operands[0]), mask
        for number, target in zip(item.operands[2::2], item.operands[3::2], strict=True):
            signed = number - 2**32 if number >= 2**31 else number
            is_it = self.code.compared("icmp eq", selector, self.code.constant("int", signed))
            self._edge(frame, block, target, self.code.both(mask, is_it))
            rest = self.code.both(rest, self.code.opposite(is_it))
        self._edge(frame, block, item.operands[1], rest)

    def _return(self, frame: Frame, block: Block, item: Instruction, mask: Value) -> None:
        if item.operands:
            self.variables.store(frame.result, (), self.values.value(frame, item.operands[0]), mask)

    def _nothing(self, frame: Frame, block: Block, item: Instruction, mask: Value) -> None:
        pass


_CONTROL: dict[int, Callable[[_Translation, Frame, Block, Instruction, Value], None]] = {
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
