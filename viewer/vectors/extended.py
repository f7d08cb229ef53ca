"""What the functions of "SPIR-V Extended Instructions for GLSL" are in LLVM's language, by their numbers there."""

import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any

from .code import Code, Value
from .instructions import Given, Work, called, dot, each_of, floats


def _lower(code: Code, compare: str, one: Value, other: Value) -> Value:
    return code.select(code.compared(compare, other, one), other, one)


def _higher(code: Code, compare: str, one: Value, other: Value) -> Value:
    return code.select(code.compared(compare, one, other), other, one)


def _extreme(pick: Callable[[Code, str, Value, Value], Value], compare: str) -> Work:
    """Pick by a comparison, which has it that the first stays where the second is no number."""

    def work(given: Given) -> Any:
        return each_of(partial(pick, given.code, compare), *given.arguments)

    return work


def _clamped(compare: str) -> Work:
    def work(given: Given) -> Any:
        def each(value: Value, low: Value, high: Value) -> Value:
            return _lower(given.code, compare, _higher(given.code, compare, value, low), high)

        return each_of(each, *given.arguments)

    return work


def _fract(given: Given) -> Any:
    return each_of(
        lambda value: given.code.binary("fsub", value.kind, value, given.code.call("floor", value.kind, value)),
        given.arguments[0],
    )


def _sign(given: Given) -> Any:
    def each(value: Value) -> Value:
        zero, one, minus = (given.code.constant(value.kind, number) for number in (0, 1, -1))
        low, high = ("icmp slt", "icmp sgt") if value.kind == "int" else ("fcmp olt", "fcmp ogt")
        below = given.code.select(given.code.compared(low, value, zero), minus, zero)
        return given.code.select(given.code.compared(high, value, zero), one, below)

    return each_of(each, given.arguments[0])


def _of_absolute_int(given: Given) -> Any:
    def each(value: Value) -> Value:
        zero = given.code.constant("int", 0)
        return given.code.select(
            given.code.compared("icmp slt", value, zero), given.code.binary("sub", "int", zero, value), value
        )

    return each_of(each, given.arguments[0])


def _mixed(given: Given) -> Any:
    def each(one: Value, other: Value, share: Value) -> Value:
        difference = floats(given.code, "fsub", given.is_exact, other, one)
        return floats(
            given.code, "fadd", given.is_exact, one, floats(given.code, "fmul", given.is_exact, difference, share)
        )

    return each_of(each, *given.arguments)


def _step(given: Given) -> Any:
    def each(edge: Value, value: Value) -> Value:
        zero, one = (given.code.constant(value.kind, number) for number in (0, 1))
        return given.code.select(given.code.compared("fcmp olt", value, edge), zero, one)

    return each_of(each, *given.arguments)


def _smoothstep(given: Given) -> Any:
    def each(low: Value, high: Value, value: Value) -> Value:
        zero, one, two, three = (given.code.constant(value.kind, number) for number in (0, 1, 2, 3))
        share = given.code.binary(
            "fdiv",
            value.kind,
            given.code.binary("fsub", value.kind, value, low),
            given.code.binary("fsub", value.kind, high, low),
        )
        share = _lower(given.code, "fcmp olt", _higher(given.code, "fcmp olt", share, zero), one)
        slope = given.code.binary("fsub", value.kind, three, given.code.binary("fmul", value.kind, two, share))
        return given.code.binary("fmul", value.kind, given.code.binary("fmul", value.kind, share, share), slope)

    return each_of(each, *given.arguments)


def _over_root(given: Given) -> Any:
    def each(value: Value) -> Value:
        return given.code.binary(
            "fdiv", value.kind, given.code.constant(value.kind, 1.0), given.code.call("sqrt", value.kind, value)
        )

    return each_of(each, given.arguments[0])


def _length(given: Given) -> Any:
    if not isinstance(given.arguments[0], list):
        return given.code.call("fabs", given.arguments[0].kind, given.arguments[0])
    square = dot(replace(given, arguments=(given.arguments[0], given.arguments[0])))
    return given.code.call("sqrt", square.kind, square)


def _distance(given: Given) -> Any:
    return _length(
        replace(given, arguments=[each_of(partial(floats, given.code, "fsub", given.is_exact), *given.arguments)])
    )


def _normalised(given: Given) -> Any:
    length = _length(given)
    return each_of(lambda part: given.code.binary("fdiv", part.kind, part, length), given.arguments[0])


def _cross(given: Given) -> Any:
    one, other = given.arguments

    def part(first: int, second: int) -> Value:
        forth = floats(given.code, "fmul", given.is_exact, one[first], other[second])
        return floats(
            given.code,
            "fsub",
            given.is_exact,
            forth,
            floats(given.code, "fmul", given.is_exact, one[second], other[first]),
        )

    return [part(1, 2), part(2, 0), part(0, 1)]


def _faced_forward(given: Given) -> Any:
    normal, incident, reference = given.arguments
    side = dot(replace(given, arguments=(reference, incident)))
    is_seen = given.code.compared("fcmp olt", side, given.code.constant(side.kind, 0))
    turned = each_of(
        lambda part: given.code.binary("fsub", part.kind, given.code.constant(part.kind, -0.0), part), normal
    )
    return each_of(partial(given.code.select, is_seen), normal, turned)


def _reflected(given: Given) -> Any:
    incident, normal = given.arguments
    side = dot(replace(given, arguments=(normal, incident)))
    twice = given.code.binary("fmul", side.kind, side, given.code.constant(side.kind, 2))

    def each(one: Value, other: Value) -> Value:
        return floats(given.code, "fsub", given.is_exact, one, floats(given.code, "fmul", given.is_exact, twice, other))

    return each_of(each, incident, normal)


def _lowest_bit(given: Given) -> Any:
    """Return the number of trailing zeros; -1 where there is no 1."""

    def each(value: Value) -> Value:
        code, none = given.code, given.code.constant("int", -1)
        below = code.binary(
            "and", "int", code.binary("xor", "int", value, none), code.binary("add", "int", value, none)
        )
        count = code.call("ctpop", "int", below)
        return code.select(code.compared("icmp eq", value, code.constant("int", 0)), none, count)

    return each_of(each, given.arguments[0])


def _in_turns(factor: float) -> Work:
    """Radians and degrees."""

    def work(given: Given) -> Any:
        return each_of(
            lambda value: given.code.binary("fmul", value.kind, value, given.code.constant(value.kind, factor)),
            given.arguments[0],
        )

    return work


EXTENDED: dict[int, Work] = {
    1: called("rint"),  # Round: the half either way
    2: called("rint"),  # RoundEven
    3: called("trunc"),
    4: called("fabs"),
    5: _of_absolute_int,
    6: _sign,
    7: _sign,
    8: called("floor"),
    9: called("ceil"),
    10: _fract,
    11: _in_turns(math.pi / 180.0),
    12: _in_turns(180.0 / math.pi),
    13: called("sin"),
    14: called("cos"),
    15: called("tan"),
    16: called("asin"),
    17: called("acos"),
    18: called("atan"),
    19: called("sinh"),
    20: called("cosh"),
    21: called("tanh"),
    25: called("atan2"),
    26: called("pow"),
    27: called("exp"),
    28: called("log"),
    29: called("exp2"),
    30: called("log2"),
    31: called("sqrt"),
    32: _over_root,
    37: _extreme(_lower, "fcmp olt"),
    38: _extreme(_lower, "icmp ult"),
    39: _extreme(_lower, "icmp slt"),
    40: _extreme(_higher, "fcmp olt"),
    41: _extreme(_higher, "icmp ult"),
    42: _extreme(_higher, "icmp slt"),
    43: _clamped("fcmp olt"),
    44: _clamped("icmp ult"),
    45: _clamped("icmp slt"),
    46: _mixed,
    48: _step,
    49: _smoothstep,
    50: called("fma"),
    66: _length,
    67: _distance,
    68: _cross,
    69: _normalised,
    70: _faced_forward,
    71: _reflected,
    73: _lowest_bit,
}
