"""Code in LLVM's language that computes as many pixels side by side as a vector has lanes, one value a number of each.

A value that is known while the code is written stays out of it, so that a choice made by a constant costs nothing.
"""

import struct
from dataclasses import dataclass
from typing import Any

import numpy as np

from tonemap.errors import EngineLimit

Known = bool | int | float


class Untranslatable(EngineLimit):
    """The shader has something that this translation does not know; the message says what."""


@dataclass(frozen=True, eq=False)
class Value:
    """A number of each lane.

    Attributes
    ----------
    text : its name in the code, or the constant
    kind : 'float', 'double', 'int' or 'bool'
    known : the number, where it is a constant
    place : 'column' or 'row' for the pixel's own
    is_uniform : whether it is the same for all pixels
    """

    text: str
    kind: str
    known: Known | None = None
    place: str = ""
    is_uniform: bool = False


ELEMENTS = {"float": "float", "double": "double", "int": "i32", "bool": "i1"}


class Code:
    """Lines of a function, and of what is done once before its loops."""

    def __init__(self, lanes: int) -> None:
        self.lanes = lanes
        self.once: list[str] = []
        self.lines: list[str] = []
        self.block = ""
        self.intrinsics: set[str] = set()
        self._count = 0
        self.true, self.false = self.constant("bool", True), self.constant("bool", False)

    def vector(self, kind: str) -> str:
        """Return LLVM's name of a vector of a kind."""
        return f"<{self.lanes} x {ELEMENTS[kind]}>"

    def name(self) -> str:
        """Return a new name."""
        self._count += 1
        return f"%v{self._count}"

    def line(self, text: str) -> None:
        """Add a line without a result."""
        self.lines.append(text)

    def begin_block(self, name: str) -> None:
        """Begin a block, to which the one before has branched."""
        self.block = name
        self.lines.append(f"{name.removeprefix('%')}:")

    def made(self, text: str) -> str:
        """Add a line that makes something, and return its name."""
        name = self.name()
        self.lines.append(f"{name} = {text}")
        return name

    def made_once(self, text: str) -> str:
        """As `made`, before all loops."""
        name = self.name()
        self.once.append(f"{name} = {text}")
        return name

    def value(self, kind: str, text: str) -> Value:
        """Add a line that makes a value."""
        return Value(self.made(text), kind)

    def constant(self, kind: str, number: Known) -> Value:
        """Return a number that is the same in every lane."""
        if kind == "bool":
            text = str(bool(number)).lower()
        elif kind == "int":
            number = (int(number) + 2**31) % 2**32 - 2**31
            text = str(number)
        else:
            number = _rounded(number, kind)
            text = f"0x{struct.unpack('<Q', struct.pack('<d', number))[0]:016X}"
        return Value(f"splat ({ELEMENTS[kind]} {text})", kind, number, is_uniform=True)

    def undefined(self, kind: str) -> Value:
        """Return what has not been set."""
        return Value("undef", kind)

    def binary(self, op: str, kind: str, one: Value, other: Value) -> Value:
        """Add an instruction of two values of one kind."""
        made = self.made(f"{op} {self.vector(one.kind)} {one.text}, {other.text}")
        return Value(made, kind, is_uniform=one.is_uniform and other.is_uniform)

    def compared(self, op: str, one: Value, other: Value) -> Value:
        """Add a comparison: LLVM's own name of it, 'icmp slt' for example."""
        if one.known is not None and other.known is not None and op in COMPARISONS:
            return self.constant("bool", COMPARISONS[op](one.known, other.known))
        return self.value("bool", f"{op} {self.vector(one.kind)} {one.text}, {other.text}")

    def call(self, intrinsic: str, kind: str, *arguments: Value) -> Value:
        """Call an intrinsic function whose arguments and result are of one kind."""
        suffix = f"v{self.lanes}{ {'float': 'f32', 'double': 'f64', 'int': 'i32'}[kind] }"
        vector = self.vector(kind)
        name = f"@llvm.{intrinsic}.{suffix}"
        self.intrinsics.add(f"declare {vector} {name}({', '.join([vector] * len(arguments))})")
        return self.value(kind, f"call {vector} {name}({', '.join(f'{vector} {one.text}' for one in arguments)})")

    def select(self, condition: Value, one: Value, other: Value) -> Value:
        """Return one where the condition holds, else the other."""
        if condition.known is not None:
            return one if condition.known else other
        if one is other or (one.known is not None and one.text == other.text):
            return one
        vector = self.vector(one.kind)
        mask = f"{self.vector('bool')} {condition.text}"
        return self.value(one.kind, f"select {mask}, {vector} {one.text}, {vector} {other.text}")

    def both(self, one: Value, other: Value) -> Value:
        """Return whether both hold; where one does not, the other may be undefined."""
        if other is one or other.known:
            return one
        if other.known is False:
            return other
        return self.select(one, other, self.false)

    def either(self, one: Value, other: Value) -> Value:
        """Return whether one of two masks, or both, hold."""
        if one.known is not None:
            return one if one.known else other
        if other.known is not None:
            return other if other.known else one
        return one if one is other else self.binary("or", "bool", one, other)

    def opposite(self, one: Value) -> Value:
        """Return whether a condition does not hold."""
        if one.known is not None:
            return self.constant("bool", not one.known)
        return self.value("bool", f"xor {self.vector('bool')} {one.text}, {self.true.text}")

    def is_any(self, mask: Value) -> str:
        """Return the name of an i1: whether a mask holds in any lane."""
        vector = self.vector("bool")
        name = f"@llvm.vector.reduce.or.v{self.lanes}i1"
        self.intrinsics.add(f"declare i1 {name}({vector})")
        frozen = self.made(f"freeze {vector} {mask.text}")  # a branch by what has never been set has no meaning at all
        return self.made(f"call i1 {name}({vector} {frozen})")

    def numbers(self, numbers: Any) -> str:
        """Return a vector of i32 constants, for what is shuffled."""
        found = list(numbers)
        return f"<{len(found)} x i32> <{', '.join(f'i32 {number}' for number in found)}>"


def _rounded(number: Known, kind: str) -> float:
    if kind == "double":
        return float(number)
    with np.errstate(over="ignore"):
        return float(np.float32(number))


COMPARISONS = {
    "icmp eq": lambda one, other: one == other,
    "icmp ne": lambda one, other: one != other,
    "icmp slt": lambda one, other: one < other,
    "icmp sle": lambda one, other: one <= other,
    "icmp sgt": lambda one, other: one > other,
    "icmp sge": lambda one, other: one >= other,
}
