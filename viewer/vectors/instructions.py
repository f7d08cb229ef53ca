"""What SPIR-V's instructions on numbers are in LLVM's language, by their numbers in its specification, section 3.49."""

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


def each_of(work: Callable[..., Value], *trees: Any) -> Any:
    """Work on each number of trees of one form."""
    if isinstance(trees[0], list):
        return [each_of(work, *parts) for parts in zip(*trees, strict=True)]
    return work(*trees)


def component(kind: Type | None) -> str:
    """Return the kind of number that a type is made of."""
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
                return given.code.constant("int", fold(int(one.known), int(other.known)))
            return given.code.binary(op, "int", one, other)

        return each_of(each, *given.arguments)

    return work


def floats(code: Code, op: str, is_exact: bool, one: Value, other: Value) -> Value:
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

    return each_of(each, *given.arguments)


def _of_floats(op: str) -> Work:
    def work(given: Given) -> Any:
        return each_of(partial(floats, given.code, op, given.is_exact), *given.arguments)

    return work


def _divided(op: str) -> Work:
    """Signed integers; a lane whose divisor is 0 has an undefined result, but must not stop the others."""

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
            negative = given.code.binary("sub", "int", zero, one) if op == "sdiv" else zero
            return given.code.select(given.code.compared("icmp eq", other, minus), negative, quotient)

        return each_of(each, *given.arguments)

    return work


def _unsigned_divided(op: str) -> Work:
    def work(given: Given) -> Any:
        def each(one: Value, other: Value) -> Value:
            divisor = Value(given.code.made(f"freeze {given.code.vector('int')} {other.text}"), "int", other.known)
            is_zero = given.code.compared("icmp eq", divisor, given.code.constant("int", 0))
            return given.code.binary(op, "int", one, given.code.select(is_zero, given.code.constant("int", 1), divisor))

        return each_of(each, *given.arguments)

    return work


def _shifted(op: str) -> Work:
    def work(given: Given) -> Any:
        def each(one: Value, other: Value) -> Value:
            return given.code.binary(
                op, "int", one, given.code.binary("and", "int", other, given.code.constant("int", 31))
            )

        return each_of(each, *given.arguments)

    return work


def _compared(op: str) -> Work:
    def work(given: Given) -> Any:
        return each_of(partial(given.code.compared, op), *given.arguments)

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
        return each_of(works[join], *given.arguments)

    return work


def modulo(given: Given) -> Any:
    """Return what GLSL's mod says: x - y * floor(x / y)."""

    def each(one: Value, other: Value) -> Value:
        wholes = given.code.call("floor", one.kind, given.code.binary("fdiv", one.kind, one, other))
        return floats(
            given.code, "fsub", given.is_exact, one, floats(given.code, "fmul", given.is_exact, other, wholes)
        )

    return each_of(each, *given.arguments)


def called(intrinsic: str) -> Work:
    """Return what calls an intrinsic function of LLVM's for each number."""

    def work(given: Given) -> Any:
        return each_of(lambda *values: given.code.call(intrinsic, values[0].kind, *values), *given.arguments)

    return work


# --- one number


def _converted(op: str) -> Work:
    def work(given: Given) -> Any:
        wanted = component(given.kind)

        def each(value: Value) -> Value:
            if value.known is not None:
                number = value.known if op != "uitofp" or value.known >= 0 else int(value.known) + 2**32
                return given.code.constant(wanted, number)
            if op == "fpext" and wanted == "float":
                return given.code.value(
                    wanted, f"fptrunc {given.code.vector(value.kind)} {value.text} to {given.code.vector(wanted)}"
                )
            return given.code.value(
                wanted, f"{op} {given.code.vector(value.kind)} {value.text} to {given.code.vector(wanted)}"
            )

        return each_of(each, given.arguments[0])

    return work


def _bitcast(given: Given) -> Any:
    wanted = component(given.kind)

    def each(value: Value) -> Value:
        if value.kind == wanted:
            return value
        return given.code.value(
            wanted, f"bitcast {given.code.vector(value.kind)} {value.text} to {given.code.vector(wanted)}"
        )

    return each_of(each, given.arguments[0])


def _negated(given: Given) -> Any:
    def each(value: Value) -> Value:
        if value.kind == "int":
            return given.code.binary("sub", "int", given.code.constant("int", 0), value)
        return given.code.value(value.kind, f"fneg {given.code.vector(value.kind)} {value.text}")

    return each_of(each, given.arguments[0])


def _inverted(given: Given) -> Any:
    return each_of(
        lambda value: given.code.binary("xor", "int", value, given.code.constant("int", -1)), given.arguments[0]
    )


def _not(given: Given) -> Any:
    return each_of(given.code.opposite, given.arguments[0])


def _is_nan(given: Given) -> Any:
    return each_of(lambda value: given.code.compared("fcmp uno", value, value), given.arguments[0])


def _is_infinite(given: Given) -> Any:
    def each(value: Value) -> Value:
        return given.code.compared("fcmp oeq", given.code.call("fabs", value.kind, value), _infinity(value.kind))

    return each_of(each, given.arguments[0])


def _infinity(kind: str) -> Value:
    return Value(f"splat ({kind} 0x7FF0000000000000)", kind)


def _copied(given: Given) -> Any:
    return given.arguments[0]


# --- vectors and matrices, which are lists of their components and columns


def _selected(given: Given) -> Any:
    condition, one, other = given.arguments
    if isinstance(condition, list):
        return each_of(given.code.select, condition, one, other)
    return each_of(partial(given.code.select, condition), one, other)


def _constructed(given: Given) -> Any:
    if isinstance(given.kind, Composite) and all(isinstance(member, Scalar) for member in given.kind.members):
        return [part for one in given.arguments for part in (one if isinstance(one, list) else [one])]
    return list(given.arguments)


def _sum(code: Code, parts: list[Any], is_exact: bool) -> Any:
    return reduce(lambda one, other: each_of(partial(floats, code, "fadd", is_exact), one, other), parts)


def _scaled(code: Code, tree: Any, factor: Value, is_exact: bool) -> Any:
    return each_of(lambda part: floats(code, "fmul", is_exact, part, factor), tree)


def _times_scalar(given: Given) -> Any:
    return _scaled(given.code, given.arguments[0], given.arguments[1], given.is_exact)


def _matrix_times_vector(given: Given) -> Any:
    columns, vector = given.arguments
    return _sum(
        given.code,
        [_scaled(given.code, one, part, given.is_exact) for one, part in zip(columns, vector, strict=True)],
        given.is_exact,
    )


def dot(given: Given) -> Any:
    """Return the sum of products."""
    return _sum(
        given.code, each_of(partial(floats, given.code, "fmul", given.is_exact), *given.arguments), given.is_exact
    )


def _vector_times_matrix(given: Given) -> Any:
    vector, columns = given.arguments
    return [dot(replace(given, arguments=(vector, column))) for column in columns]


def _matrix_times_matrix(given: Given) -> Any:
    return [
        _matrix_times_vector(replace(given, arguments=(given.arguments[0], column))) for column in given.arguments[1]
    ]


def _transposed(given: Given) -> Any:
    return [list(row) for row in zip(*given.arguments[0], strict=True)]


def _outer_product(given: Given) -> Any:
    column, row = given.arguments
    return [_scaled(given.code, column, factor, given.is_exact) for factor in row]


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
    141: modulo,  # OpFMod
    142: _times_scalar,  # OpVectorTimesScalar
    143: _times_scalar,  # OpMatrixTimesScalar
    144: _vector_times_matrix,
    145: _matrix_times_vector,
    146: _matrix_times_matrix,
    147: _outer_product,
    148: dot,
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
    204: called("bitreverse"),
    205: called("ctpop"),  # OpBitCount
}
