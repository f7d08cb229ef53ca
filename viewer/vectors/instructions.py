"""What SPIR-V's instructions on numbers are in LLVM's language, by their numbers in the specification.

Instructions are those of section 3.49, extended ones those of "SPIR-V Extended Instructions for GLSL".
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial, reduce
from typing import Any

from .code import Code, Untranslatable, Value
from .spirv import Composite, Scalar, Type


@dataclass(frozen=True)
class Given:
    """What an instruction is given: trees of values, the type of its result, and whether it says 'precise'."""

    code: Code
    kind: Type | None
    arguments: Sequence[Any]
    is_exact: bool = False


Work = Callable[[Given], Any]


def _each(work: Callable[..., Value], *trees: Any) -> Any:
    if isinstance(trees[0], list):
        return [_each(work, *parts) for parts in zip(*trees, strict=True)]
    return work(*trees)


def _component(kind: Type | None) -> str:
    while isinstance(kind, Composite):
        kind = kind.members[0]
    if not isinstance(kind, Scalar):
        raise Untranslatable("a result that is no number")
    return kind.kind


# --- two numbers of one kind


def _of_ints(op: str, fold: Callable[[int, int], int]) -> Work:
    def work(given: Given) -> Any:
        def each(one: Value, other: Value) -> Value:
            if isinstance(one.known, int) and isinstance(other.known, int):
                return given.code.constant("int", _signed(fold(int(one.known), int(other.known))))
            return given.code.binary(op, "int", one, other)

        return _each(each, *given.arguments)

    return work


def _signed(number: int) -> int:
    return (number + 2**31) % 2**32 - 2**31


def _floats(code: Code, op: str, is_exact: bool, one: Value, other: Value) -> Value:
    """Two numbers whose operation may become one with the next, where the shader does not say 'precise'."""
    return code.binary(op if is_exact else f"{op} contract", one.kind, one, other)


def _quotient(given: Given) -> Any:
    """Divide; by what is the same for all pixels by its reciprocal and what that leaves, in a third of the time.

    Where that is not a finite number, neither is the quotient, and it may be no number where it would be infinite.
    """
    code = given.code

    def each(one: Value, other: Value) -> Value:
        if given.is_exact or one.kind != "float" or not other.is_uniform or one.is_uniform:
            return code.binary("fdiv", one.kind, one, other)
        reciprocal = code.binary("fdiv", "float", code.constant("float", 1.0), other)
        near = code.binary("fmul", "float", one, reciprocal)
        opposite = code.value("float", f"fneg {code.vector('float')} {near.text}")
        rest = code.call("fma", "float", opposite, other, one)
        return code.call("fma", "float", rest, reciprocal, near)

    return _each(each, *given.arguments)


def _of_floats(op: str) -> Work:
    def work(given: Given) -> Any:
        return _each(partial(_floats, given.code, op, given.is_exact), *given.arguments)

    return work


def _divided(op: str) -> Work:
    """Integers; a lane whose divisor is 0 has an undefined result, but must not stop the others."""

    def work(given: Given) -> Any:
        def each(one: Value, other: Value) -> Value:
            one, other = (
                Value(given.code.made(f"freeze {given.code.vector('int')} {item.text}"), "int", item.known)
                for item in (one, other)
            )
            zero, minus = given.code.constant("int", 0), given.code.constant("int", -1)
            is_bad = given.code.either(
                given.code.compared("icmp eq", other, zero), given.code.compared("icmp eq", other, minus)
            )
            safe = given.code.select(is_bad, given.code.constant("int", 1), other)
            quotient = given.code.binary(op, "int", one, safe)
            if op in ("udiv", "urem"):
                return quotient
            negative = given.code.binary("sub", "int", zero, one) if op == "sdiv" else zero
            return given.code.select(given.code.compared("icmp eq", other, minus), negative, quotient)

        return _each(each, *given.arguments)

    return work


def _unsigned_divided(op: str) -> Work:
    def work(given: Given) -> Any:
        def each(one: Value, other: Value) -> Value:
            divisor = Value(given.code.made(f"freeze {given.code.vector('int')} {other.text}"), "int", other.known)
            is_zero = given.code.compared("icmp eq", divisor, given.code.constant("int", 0))
            return given.code.binary(op, "int", one, given.code.select(is_zero, given.code.constant("int", 1), divisor))

        return _each(each, *given.arguments)

    return work


def _shifted(op: str) -> Work:
    def work(given: Given) -> Any:
        def each(one: Value, other: Value) -> Value:
            return given.code.binary(
                op, "int", one, given.code.binary("and", "int", other, given.code.constant("int", 31))
            )

        return _each(each, *given.arguments)

    return work


def _compared(op: str) -> Work:
    def work(given: Given) -> Any:
        return _each(partial(given.code.compared, op), *given.arguments)

    return work


def _logical(join: str) -> Work:
    def work(given: Given) -> Any:
        works: dict[str, Callable[[Value, Value], Value]] = {
            "and": given.code.both,
            "or": lambda one, other: given.code.opposite(
                given.code.both(given.code.opposite(one), given.code.opposite(other))
            ),
            "equal": lambda one, other: given.code.opposite(given.code.binary("xor", "bool", one, other)),
            "unequal": lambda one, other: given.code.binary("xor", "bool", one, other),
        }
        return _each(works[join], *given.arguments)

    return work


# --- one number


def _converted(op: str) -> Work:
    def work(given: Given) -> Any:
        wanted = _component(given.kind)

        def each(value: Value) -> Value:
            if value.known is not None:
                number = value.known if op != "uitofp" or value.known >= 0 else int(value.known) + 2**32
                return given.code.constant(wanted, _rounded(number, wanted))
            if op == "fpext" and wanted == "float":
                return given.code.value(
                    wanted, f"fptrunc {given.code.vector(value.kind)} {value.text} to {given.code.vector(wanted)}"
                )
            return given.code.value(
                wanted, f"{op} {given.code.vector(value.kind)} {value.text} to {given.code.vector(wanted)}"
            )

        return _each(each, given.arguments[0])

    return work


def _rounded(number: float, kind: str) -> float:
    import numpy as np

    return float(np.float32(number)) if kind == "float" else float(number)


def _bitcast(given: Given) -> Any:
    wanted = _component(given.kind)

    def each(value: Value) -> Value:
        if value.kind == wanted:
            return value
        return given.code.value(
            wanted, f"bitcast {given.code.vector(value.kind)} {value.text} to {given.code.vector(wanted)}"
        )

    return _each(each, given.arguments[0])


def _negated(given: Given) -> Any:
    def each(value: Value) -> Value:
        if value.kind == "int":
            return given.code.binary("sub", "int", given.code.constant("int", 0), value)
        return given.code.value(value.kind, f"fneg {given.code.vector(value.kind)} {value.text}")

    return _each(each, given.arguments[0])


def _inverted(given: Given) -> Any:
    return _each(
        lambda value: given.code.binary("xor", "int", value, given.code.constant("int", -1)), given.arguments[0]
    )


def _not(given: Given) -> Any:
    return _each(given.code.opposite, given.arguments[0])


def _is_nan(given: Given) -> Any:
    return _each(lambda value: given.code.compared("fcmp uno", value, value), given.arguments[0])


def _is_infinite(given: Given) -> Any:
    def each(value: Value) -> Value:
        return given.code.compared("fcmp oeq", given.code.call("fabs", value.kind, value), _infinity(value.kind))

    return _each(each, given.arguments[0])


def _infinity(kind: str) -> Value:
    return Value(f"splat ({kind} 0x7FF0000000000000)", kind)


def _copied(given: Given) -> Any:
    return given.arguments[0]


# --- vectors and matrices, which are lists of their components and columns


def _selected(given: Given) -> Any:
    condition, one, other = given.arguments
    if isinstance(condition, list):
        return _each(given.code.select, condition, one, other)
    return _each(partial(given.code.select, condition), one, other)


def _constructed(given: Given) -> Any:
    if isinstance(given.kind, Composite) and len(given.arguments) != len(
        given.kind.members
    ):  # a vector of shorter ones
        return [part for one in given.arguments for part in (one if isinstance(one, list) else [one])]
    if isinstance(given.kind, Composite) and not isinstance(given.kind.members[0], Composite):
        return [part for one in given.arguments for part in (one if isinstance(one, list) else [one])]
    return list(given.arguments)


def _sum(code: Code, parts: list[Any], is_exact: bool) -> Any:
    return reduce(lambda one, other: _each(partial(_floats, code, "fadd", is_exact), one, other), parts)


def _scaled(code: Code, tree: Any, factor: Value, is_exact: bool) -> Any:
    return _each(lambda part: _floats(code, "fmul", is_exact, part, factor), tree)


def _times_scalar(given: Given) -> Any:
    return _scaled(given.code, given.arguments[0], given.arguments[1], given.is_exact)


def _matrix_times_vector(given: Given) -> Any:
    columns, vector = given.arguments
    return _sum(
        given.code,
        [_scaled(given.code, one, part, given.is_exact) for one, part in zip(columns, vector, strict=True)],
        given.is_exact,
    )


def _dot(given: Given) -> Any:
    return _sum(
        given.code, _each(partial(_floats, given.code, "fmul", given.is_exact), *given.arguments), given.is_exact
    )


def _vector_times_matrix(given: Given) -> Any:
    vector, columns = given.arguments
    return [_dot(replace(given, arguments=(vector, column))) for column in columns]


def _matrix_times_matrix(given: Given) -> Any:
    return [
        _matrix_times_vector(replace(given, arguments=(given.arguments[0], column))) for column in given.arguments[1]
    ]


def _transposed(given: Given) -> Any:
    return [list(row) for row in zip(*given.arguments[0], strict=True)]


def _any(given: Given) -> Any:
    return given.code.opposite(reduce(given.code.both, map(given.code.opposite, given.arguments[0])))


def _all(given: Given) -> Any:
    return reduce(given.code.both, given.arguments[0])


def _extracted_at(given: Given) -> Any:
    parts, place = given.arguments
    result = parts[0]
    for number, part in enumerate(parts[1:], start=1):
        result = given.code.select(
            given.code.compared("icmp eq", place, given.code.constant("int", number)), part, result
        )
    return result


ARITHMETIC: dict[int, Work] = {
    77: _extracted_at,  # OpVectorExtractDynamic
    80: _constructed,  # OpCompositeConstruct
    83: _copied,  # OpCopyObject
    84: _transposed,
    111: _converted("sitofp"),  # OpConvertSToF
    112: _converted("uitofp"),  # OpConvertUToF
    115: _converted("fpext"),  # OpFConvert
    124: _bitcast,
    126: _negated,  # OpSNegate
    127: _negated,  # OpFNegate
    128: _of_ints("add", lambda one, other: one + other),
    129: _of_floats("fadd"),
    130: _of_ints("sub", lambda one, other: one - other),
    131: _of_floats("fsub"),
    132: _of_ints("mul", lambda one, other: one * other),
    133: _of_floats("fmul"),
    134: _unsigned_divided("udiv"),
    135: _divided("sdiv"),
    136: _quotient,  # OpFDiv
    137: _unsigned_divided("urem"),
    138: _divided("srem"),
    139: _divided("srem"),  # OpSMod: GLSL leaves the remainder of negative numbers undefined
    142: _times_scalar,  # OpVectorTimesScalar
    143: _times_scalar,  # OpMatrixTimesScalar
    144: _vector_times_matrix,
    145: _matrix_times_vector,
    146: _matrix_times_matrix,
    148: _dot,
    154: _any,
    155: _all,
    156: _is_nan,
    157: _is_infinite,
    164: _logical("equal"),
    165: _logical("unequal"),
    166: _logical("or"),
    167: _logical("and"),
    168: _not,
    169: _selected,
    170: _compared("icmp eq"),
    171: _compared("icmp ne"),
    172: _compared("icmp ugt"),
    173: _compared("icmp sgt"),
    174: _compared("icmp uge"),
    175: _compared("icmp sge"),
    176: _compared("icmp ult"),
    177: _compared("icmp slt"),
    178: _compared("icmp ule"),
    179: _compared("icmp sle"),
    180: _compared("fcmp oeq"),
    181: _compared("fcmp ueq"),
    182: _compared("fcmp one"),
    183: _compared("fcmp une"),
    184: _compared("fcmp olt"),
    185: _compared("fcmp ult"),
    186: _compared("fcmp ogt"),
    187: _compared("fcmp ugt"),
    188: _compared("fcmp ole"),
    189: _compared("fcmp ule"),
    190: _compared("fcmp oge"),
    191: _compared("fcmp uge"),
    194: _shifted("lshr"),
    195: _shifted("ashr"),
    196: _shifted("shl"),
    197: _of_ints("or", lambda one, other: one | other),
    198: _of_ints("xor", lambda one, other: one ^ other),
    199: _of_ints("and", lambda one, other: one & other),
    200: _inverted,
}


# --- extended instructions


def _called(intrinsic: str) -> Work:
    def work(given: Given) -> Any:
        return _each(lambda *values: given.code.call(intrinsic, values[0].kind, *values), *given.arguments)

    return work


def _lower(code: Code, compare: str, one: Value, other: Value) -> Value:
    return code.select(code.compared(compare, other, one), other, one)


def _higher(code: Code, compare: str, one: Value, other: Value) -> Value:
    return code.select(code.compared(compare, one, other), other, one)


def _extreme(pick: Callable[[Code, str, Value, Value], Value], compare: str) -> Work:
    """Pick by a comparison, which has it that the first stays where the second is no number."""

    def work(given: Given) -> Any:
        return _each(partial(pick, given.code, compare), *given.arguments)

    return work


def _clamped(compare: str) -> Work:
    def work(given: Given) -> Any:
        def each(value: Value, low: Value, high: Value) -> Value:
            return _lower(given.code, compare, _higher(given.code, compare, value, low), high)

        return _each(each, *given.arguments)

    return work


def _fract(given: Given) -> Any:
    return _each(
        lambda value: given.code.binary("fsub", value.kind, value, given.code.call("floor", value.kind, value)),
        given.arguments[0],
    )


def _sign(given: Given) -> Any:
    def each(value: Value) -> Value:
        zero, one, minus = (given.code.constant(value.kind, number) for number in (0, 1, -1))
        low, high = ("icmp slt", "icmp sgt") if value.kind == "int" else ("fcmp olt", "fcmp ogt")
        below = given.code.select(given.code.compared(low, value, zero), minus, zero)
        return given.code.select(given.code.compared(high, value, zero), one, below)

    return _each(each, given.arguments[0])


def _of_absolute_int(given: Given) -> Any:
    def each(value: Value) -> Value:
        zero = given.code.constant("int", 0)
        return given.code.select(
            given.code.compared("icmp slt", value, zero), given.code.binary("sub", "int", zero, value), value
        )

    return _each(each, given.arguments[0])


def _mixed(given: Given) -> Any:
    def each(one: Value, other: Value, share: Value) -> Value:
        difference = _floats(given.code, "fsub", given.is_exact, other, one)
        return _floats(
            given.code, "fadd", given.is_exact, one, _floats(given.code, "fmul", given.is_exact, difference, share)
        )

    return _each(each, *given.arguments)


def _step(given: Given) -> Any:
    def each(edge: Value, value: Value) -> Value:
        zero, one = (given.code.constant(value.kind, number) for number in (0, 1))
        return given.code.select(given.code.compared("fcmp olt", value, edge), zero, one)

    return _each(each, *given.arguments)


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

    return _each(each, *given.arguments)


def _over_root(given: Given) -> Any:
    def each(value: Value) -> Value:
        return given.code.binary(
            "fdiv", value.kind, given.code.constant(value.kind, 1.0), given.code.call("sqrt", value.kind, value)
        )

    return _each(each, given.arguments[0])


def _length(given: Given) -> Any:
    if not isinstance(given.arguments[0], list):
        return given.code.call("fabs", given.arguments[0].kind, given.arguments[0])
    square = _dot(replace(given, arguments=(given.arguments[0], given.arguments[0])))
    return given.code.call("sqrt", square.kind, square)


def _distance(given: Given) -> Any:
    return _length(
        replace(given, arguments=[_each(partial(_floats, given.code, "fsub", given.is_exact), *given.arguments)])
    )


def _normalised(given: Given) -> Any:
    length = _length(given)
    return _each(lambda part: given.code.binary("fdiv", part.kind, part, length), given.arguments[0])


def _cross(given: Given) -> Any:
    one, other = given.arguments

    def part(first: int, second: int) -> Value:
        forth = _floats(given.code, "fmul", given.is_exact, one[first], other[second])
        return _floats(
            given.code,
            "fsub",
            given.is_exact,
            forth,
            _floats(given.code, "fmul", given.is_exact, one[second], other[first]),
        )

    return [part(1, 2), part(2, 0), part(0, 1)]


def _in_turns(factor: float) -> Work:
    """Radians and degrees."""

    def work(given: Given) -> Any:
        return _each(
            lambda value: given.code.binary("fmul", value.kind, value, given.code.constant(value.kind, factor)),
            given.arguments[0],
        )

    return work


EXTENDED: dict[int, Work] = {
    1: _called("rint"),  # Round: the half either way
    2: _called("rint"),  # RoundEven
    3: _called("trunc"),
    4: _called("fabs"),
    5: _of_absolute_int,
    6: _sign,
    7: _sign,
    8: _called("floor"),
    9: _called("ceil"),
    10: _fract,
    11: _in_turns(math.pi / 180.0),
    12: _in_turns(180.0 / math.pi),
    13: _called("sin"),
    14: _called("cos"),
    26: _called("pow"),
    27: _called("exp"),
    28: _called("log"),
    29: _called("exp2"),
    30: _called("log2"),
    31: _called("sqrt"),
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
    50: _called("fma"),
    66: _length,
    67: _distance,
    68: _cross,
    69: _normalised,
}
