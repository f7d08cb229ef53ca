"""Variables of a shader: trees of values, what points into them, and what is loaded and stored under a mask.

A tree is a value, or a list of trees: a vector, a matrix, a struct or an array.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from .code import Untranslatable, Value
from .pixels import Pixels, part_name
from .spirv import Composite, GlobalVariable, Scalar, Type

LONGEST_TABLE = 64
"""Elements of a variable that may be read at a place that differs from lane to lane."""


class Variable:
    """Numbers that are stored, and the lanes in which they count.

    Attributes
    ----------
    home : the mask of the lanes that its function is called for; what others hold is read by nobody
    scope : the mask of all lanes that have stored in it, if they are those of one mask, else None
    is_set : whether any has
    """

    def __init__(self, tree: Any, home: Value) -> None:
        self.tree, self.home = tree, home
        self.scope: Value | None = home
        self.is_set = False


@dataclass(frozen=True)
class Pointer:
    """Where something lies: a variable, and the places that lead to a part of it."""

    base: "Variable | Sampler | GlobalVariable | None"
    path: tuple[Any, ...] = ()
    kind: Type | None = None


@dataclass(frozen=True)
class Sampler:
    """A sampler, or a block of one array, by its name."""

    name: str


class Variables:
    """Loads and stores."""

    def __init__(self, pixels: Pixels) -> None:
        self.pixels, self.code = pixels, pixels.code

    def undefined(self, kind: Type) -> Any:
        """Return numbers of a type that have not been set; None for what is no number."""
        if isinstance(kind, Composite):
            return [self.undefined(member) for member in kind.members]
        return self.code.undefined(kind.kind) if isinstance(kind, Scalar) else None

    def access(self, pointer: Pointer, places: Sequence[Value]) -> Pointer:
        """Return a pointer to a part of what one points to."""
        path, kind = list(pointer.path), pointer.kind
        for place in places:
            if isinstance(kind, Composite):
                last = len(kind.members) - 1  # a lane that does not come here may be beyond it
                path.append(place if place.known is None else min(max(int(place.known), 0), last))
                kind = kind.members[0 if place.known is None else path[-1]]
            else:
                path.append(place if place.known is None else place.known)
        return Pointer(pointer.base, tuple(path), kind)

    def load(self, pointer: Pointer) -> Any:
        """Return what is there: a tree of values, or a sampler."""
        base, path = pointer.base, pointer.path
        if isinstance(base, Variable):
            return copied(self._at(base.tree, path))
        if isinstance(base, Sampler) and path:  # a block of one array
            return self.pixels.element(
                base.name, self.code.constant("int", path[-1]) if isinstance(path[-1], int) else path[-1]
            )
        if isinstance(base, Sampler):
            return base
        if base is None:
            raise Untranslatable("a global variable that main or a function sets, or an input of main")
        name, kind = base.name, base.kind
        for place in path:
            if not isinstance(kind, Composite) or not isinstance(place, int):
                raise Untranslatable(f"a place in the uniform {name} that is no constant")
            name, kind = part_name(name, kind, place), kind.members[place]
        return copied(self.pixels.uniform(name, kind))

    def store(self, variable: Any, path: tuple[Any, ...], new: Any, mask: Value) -> None:
        """Store in the lanes of a mask; in all, where the others do not count."""
        if not isinstance(variable, Variable):
            raise Untranslatable("a store into a global variable, or into a result that is not asked for")
        is_direct = mask is variable.home or mask is variable.scope or not variable.is_set or bool(mask.known)
        if is_direct:
            variable.scope = variable.home if mask is variable.home or mask.known else mask
        else:
            variable.scope = None
        variable.is_set = True
        condition = self.code.true if is_direct else mask
        variable.tree = self.replaced(variable.tree, path, new, condition)

    def replaced(self, tree: Any, path: tuple[Any, ...], new: Any, condition: Value) -> Any:
        """Return a tree with another part at a path, where a condition holds."""
        if not path:
            return joined(partial(self.code.select, condition), new, tree)
        if isinstance(path[0], int):
            parts = list(tree)
            parts[path[0]] = self.replaced(tree[path[0]], path[1:], new, condition)
            return parts
        parts = []
        for place, part in enumerate(tree):
            is_here = self.code.compared("icmp eq", path[0], self.code.constant("int", place))
            parts.append(self.replaced(part, path[1:], new, self.code.both(condition, is_here)))
        return parts

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
            result = joined(partial(self.code.select, is_here), self._at(tree[place], path[1:]), result)
        return result


def joined(join: Callable[[Value, Value], Value], one: Any, other: Any) -> Any:
    """Join each value of a tree with that of another."""
    if isinstance(one, list):
        return [joined(join, *parts) for parts in zip(one, other, strict=True)]
    return join(one, other)


def mapped(tree: Any, change: Callable[[Value], Value]) -> Any:
    """Change each value of a tree."""
    return [mapped(part, change) for part in tree] if isinstance(tree, list) else tree and change(tree)


def copied(tree: Any) -> Any:
    """Return a tree whose lists are its own."""
    return [copied(part) for part in tree] if isinstance(tree, list) else tree


def leaves(tree: Any) -> list[Value]:
    """Return the values of a tree, in order."""
    if isinstance(tree, list):
        return [leaf for part in tree for leaf in leaves(part)]
    return [] if tree is None else [tree]
