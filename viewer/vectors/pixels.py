"""The pixels of rows as vector code: what a shader reads and writes, and the loops around it."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from .code import Code, Untranslatable, Value
from .spirv import Composite, Scalar, Type

UNIFORMS, IMAGES, RESULTS = "%uniforms", "%images", "%results"
IMAGE_CELLS = 4
"""Of 8 bytes: address, columns, rows, elements from line to line."""
ADDRESS, COLUMNS, ROWS, LINE = range(IMAGE_CELLS)
RESULT_CELLS = 2
"""Address, elements from line to line."""

ELEMENTS = {"u1": "i8", "u2": "i16", "u4": "i32", "f4": "float"}


@dataclass(frozen=True)
class Format:
    """How samples lie: a NumPy kind of number, and how many a pixel."""

    dtype: str
    channels: int

    @classmethod
    def of(cls, array: np.ndarray) -> "Format":
        """Return that of an array (rows, columns) or (rows, columns, channels)."""
        return cls(array.dtype.str[1:], array.shape[2] if array.ndim == 3 else 1)

    @property
    def element(self) -> str:
        """LLVM's name of the number."""
        return ELEMENTS[self.dtype]

    @property
    def kind(self) -> str:
        """The kind of value that a shader makes of it."""
        return "float" if self.dtype == "f4" else "int"

    @property
    def is_pair(self) -> bool:
        """Whether a pixel's two numbers can be read as one of 16 or 32 bits."""
        return self.channels == 2 and self.dtype in ("u1", "u2")


class Pixels:
    """The code of `draw(uniforms, images, results, first row, end row, columns)`; lanes are pixels side by side.

    Attributes
    ----------
    column, row : of each lane's pixel
    cells : for each number of the uniforms its place, of four bytes
    images : names of the samplers and blocks in their order
    read_here : names of the samplers that are read at the very pixels that are drawn, and must be as large
    """

    def __init__(self, formats: dict[str, Format], results: dict[str, Format], lanes: int, are_covered: bool) -> None:
        """Begin; formats are those of samplers and of blocks of one array, `are_covered` as `translate` has it."""
        self.code = code = Code(lanes)
        self.formats, self.results = formats, results
        self.cells: dict[str, int] = {}
        self.images: list[str] = []
        self.read_here: set[str] = set()
        self._are_covered = are_covered
        self._loaded: dict[str, Value] = {}
        self._kept: dict[tuple[str, int, str], str] = {}
        code.begin_block("%pixels")
        numbers = code.numbers(range(lanes)).split("> ", 1)[1]
        self.column = Value(
            code.made(f"add {code.vector('int')} {self._splat('%x', 'i32')}, {numbers}"), "int", None, "column"
        )
        self.row = Value(self._splat("%y", "i32"), "int", None, "row")

    def text(self) -> str:
        """Return the whole, once the pixels' own code is written. The last pixels of a row may be drawn twice."""
        lanes = self.code.lanes
        pointer = "ptr noalias readonly"
        lines = [
            *sorted(self.code.intrinsics),
            "declare i32 @llvm.smin.i32(i32, i32)",
            f"define void @draw({pointer} {UNIFORMS}, {pointer} {IMAGES}, {pointer} {RESULTS}, i32 %first, i32 %end, "
            "i32 %columns) {",
            "entry:",
            *self.code.once,
            f"%last = sub i32 %columns, {lanes}",
            "br label %rows",
            "rows:",
            "%y = phi i32 [ %first, %entry ], [ %y_next, %row_end ]",
            "%is_more = icmp slt i32 %y, %end",
            "br i1 %is_more, label %row, label %done",
            "row:",
            "br label %columns_of_row",
            "columns_of_row:",
            "%at = phi i32 [ 0, %row ], [ %at_next, %next_pixels ]",
            "%x = call i32 @llvm.smin.i32(i32 %at, i32 %last)",
            "br label %pixels",
            *self.code.lines,
            "br label %next_pixels",
            "next_pixels:",
            f"%at_next = add i32 %at, {lanes}",
            "%again = icmp slt i32 %at_next, %columns",
            "br i1 %again, label %columns_of_row, label %row_end",
            "row_end:",
            "%y_next = add i32 %y, 1",
            "br label %rows",
            "done:",
            "ret void",
            "}",
        ]
        return "\n".join(lines) + "\n"

    def uniform(self, name: str, kind: Type) -> Any:
        """Return the numbers of a uniform, each loaded once before all loops."""
        if isinstance(kind, Composite):
            return [self.uniform(part_name(name, kind, place), part) for place, part in enumerate(kind.members)]
        if not isinstance(kind, Scalar) or kind.kind == "double":
            raise Untranslatable(f"the uniform {name}")
        if name not in self._loaded:
            code = self.code
            cell = self.cells.setdefault(name, len(self.cells))
            element = "float" if kind.kind == "float" else "i32"
            place = code.made_once(f"getelementptr i32, ptr {UNIFORMS}, i32 {cell}")
            text = self._splat(code.made_once(f"load {element}, ptr {place}"), element, is_once=True)
            if kind.kind == "bool":
                text = code.made_once(f"icmp ne {code.vector('int')} {text}, zeroinitializer")
            self._loaded[name] = Value(text, kind.kind, is_uniform=True)
        return self._loaded[name]

    def store(self, name: str, tree: Any) -> None:
        """Store a result of main."""
        code, form, lanes = self.code, self.results[name], self.code.lanes
        cell = RESULT_CELLS * list(self.results).index(name)
        address = code.made_once(f"load ptr, ptr {code.made_once(f'getelementptr i64, ptr {RESULTS}, i32 {cell}')}")
        line = code.made_once(f"load i64, ptr {code.made_once(f'getelementptr i64, ptr {RESULTS}, i32 {cell + 1}')}")
        values = (tree if isinstance(tree, list) else [tree])[: form.channels]
        texts = [value.text for value in values]
        if form.dtype in ("u1", "u2"):
            texts = [code.made(f"trunc {code.vector('int')} {text} to <{lanes} x {form.element}>") for text in texts]
        stored = self._interleaved(texts, form.element)
        whole = f"<{form.channels * lanes} x {form.element}>"
        code.line(f"store {whole} {stored}, ptr {self._first_pixel(address, line, form)}, align 1")

    def fetched(self, name: str, place: list[Value]) -> list[Value]:
        """Return the texel at columns and rows; of one beyond an edge the outermost."""
        code, form = self.code, self.formats[name]
        if self._are_covered and (place[0].place, place[1].place) == ("column", "row"):
            return self._fetched_here(name, form)
        x, y = self._within(place[0], name, COLUMNS), self._within(place[1], name, ROWS)
        line = code.binary("mul", "int", y, self._size(name, LINE))
        if form.is_pair:
            return self._pair(name, form, x, line)
        first = code.binary("add", "int", line, code.binary("mul", "int", x, code.constant("int", form.channels)))
        places = [code.binary("add", "int", first, code.constant("int", channel)) for channel in range(form.channels)]
        return self._four([self._gathered(name, form.element, at) for at in places], form)

    def gathered_four(self, name: str, place: list[Value], component: int) -> list[Value]:
        """Return a component of the four texels that a place between 0 and 1 lies between, in the order of GLSL."""
        code = self.code
        firsts = []
        for at, cell in zip(place[:2], (COLUMNS, ROWS), strict=True):
            texels = code.binary("fmul", "float", at, self.to_float(self._size(name, cell)))
            low = code.call("floor", "float", code.binary("fsub", "float", texels, code.constant("float", 0.5)))
            firsts.append(self.to_int(low))
        nexts = [code.binary("add", "int", first, code.constant("int", 1)) for first in firsts]
        corners = ([firsts[0], nexts[1]], nexts, [nexts[0], firsts[1]], firsts)
        return [self.fetched(name, corner)[component] for corner in corners]

    def element(self, name: str, place: Value) -> Value:
        """Return an element of a block of one array."""
        return self._gathered(name, self.formats[name].element, self._within(place, name, COLUMNS))

    def sizes(self, name: str) -> list[Value]:
        """Return columns and rows."""
        return [self._size(name, COLUMNS), self._size(name, ROWS)]

    def to_float(self, value: Value) -> Value:
        """Return integers as floats."""
        return self.code.value("float", f"sitofp {self.code.vector('int')} {value.text} to {self.code.vector('float')}")

    def to_int(self, value: Value) -> Value:
        """Return floats without their fractions; what an integer can't say is some integer."""
        code = self.code
        made = code.made(f"fptosi {code.vector(value.kind)} {value.text} to {code.vector('int')}")
        return code.value("int", f"freeze {code.vector('int')} {made}")

    def _splat(self, scalar: str, element: str, is_once: bool = False) -> str:
        lanes = self.code.lanes
        make = self.code.made_once if is_once else self.code.made
        vector = f"<{lanes} x {element}>"
        first = make(f"insertelement {vector} poison, {element} {scalar}, i32 0")
        return make(f"shufflevector {vector} {first}, {vector} poison, <{lanes} x i32> zeroinitializer")

    def _cell(self, name: str, place: int) -> str:
        """Return a cell of an image, loaded once: its address, or an i64."""
        key = name, place, ""
        if key not in self._kept:
            if name not in self.images:
                self.images.append(name)
            cell = IMAGE_CELLS * self.images.index(name) + place
            at = self.code.made_once(f"getelementptr i64, ptr {IMAGES}, i32 {cell}")
            self._kept[key] = self.code.made_once(f"load {'ptr' if place == ADDRESS else 'i64'}, ptr {at}")
        return self._kept[key]

    def _size(self, name: str, place: int) -> Value:
        """Return a cell of an image in every lane."""
        key = name, place, "lanes"
        if key not in self._kept:
            narrow = self.code.made_once(f"trunc i64 {self._cell(name, place)} to i32")
            self._kept[key] = self._splat(narrow, "i32", is_once=True)
        return Value(self._kept[key], "int")

    def _within(self, at: Value, name: str, place: int) -> Value:
        """Return the nearest column or row that there is."""
        code = self.code
        last = code.binary("sub", "int", self._size(name, place), code.constant("int", 1))
        frozen = code.value("int", f"freeze {code.vector('int')} {at.text}")
        return code.call("smin", "int", code.call("smax", "int", frozen, code.constant("int", 0)), last)

    def _fetched_here(self, name: str, form: Format) -> list[Value]:
        """Return the texels of the very pixels that are drawn, which lie side by side."""
        code, lanes = self.code, self.code.lanes
        self.read_here.add(name)
        whole = f"<{form.channels * lanes} x {form.element}>"
        start = self._first_pixel(self._cell(name, ADDRESS), self._cell(name, LINE), form)
        loaded = code.made(f"load {whole}, ptr {start}, align 1")
        channels = [loaded]
        if form.channels > 1:
            orders = (range(channel, form.channels * lanes, form.channels) for channel in range(form.channels))
            channels = [
                code.made(f"shufflevector {whole} {loaded}, {whole} poison, {code.numbers(order)}") for order in orders
            ]
        return self._four([self._widened(text, form.element) for text in channels], form)

    def _first_pixel(self, address: str, line: str, form: Format) -> str:
        """Return where the samples of the first lane lie; `line` is an i64."""
        code = self.code
        row, column = (code.made(f"sext i32 {at} to i64") for at in ("%y", "%x"))
        rows, columns = code.made(f"mul i64 {row}, {line}"), code.made(f"mul i64 {column}, {form.channels}")
        return code.made(f"getelementptr {form.element}, ptr {address}, i64 {code.made(f'add i64 {rows}, {columns}')}")

    def _pair(self, name: str, form: Format, x: Value, line: Value) -> list[Value]:
        """Return two channels of a texel, read as one number of twice the bits; lines have a whole number of them."""
        code = self.code
        bits = 8 * int(form.dtype[1:])
        index = code.binary("add", "int", code.binary("ashr", "int", line, code.constant("int", 1)), x)
        both = self._gathered(name, f"i{2 * bits}", index)
        low = code.binary("and", "int", both, code.constant("int", 2**bits - 1))
        return self._four([low, code.binary("lshr", "int", both, code.constant("int", bits))], form)

    def _gathered(self, name: str, element: str, index: Value) -> Value:
        """Return an element of each lane's own place, which must be there."""
        code, lanes = self.code, self.code.lanes
        wide = code.made(f"sext {code.vector('int')} {index.text} to <{lanes} x i64>")
        base = self._cell(name, ADDRESS)
        places = code.made(f"getelementptr {element}, ptr {base}, <{lanes} x i64> {wide}")
        vector, pointers, masks = f"<{lanes} x {element}>", f"<{lanes} x ptr>", code.vector("bool")
        function = f"@llvm.masked.gather.v{lanes}{'f32' if element == 'float' else element}.v{lanes}p0"
        code.intrinsics.add(f"declare {vector} {function}({pointers}, {masks}, {vector})")
        arguments = f"{pointers} align 1 {places}, {masks} {code.true.text}, {vector} poison"
        return self._widened(code.made(f"call {vector} {function}({arguments})"), element)

    def _widened(self, text: str, element: str) -> Value:
        if element in ("i8", "i16"):
            narrow = f"<{self.code.lanes} x {element}>"
            return self.code.value("int", f"zext {narrow} {text} to {self.code.vector('int')}")
        return Value(text, "float" if element == "float" else "int")

    def _four(self, channels: list[Value], form: Format) -> list[Value]:
        rest = [0, 0, 0, 1][len(channels) :]
        return [*channels, *(self.code.constant(form.kind, number) for number in rest)]

    def _interleaved(self, texts: list[str], element: str) -> str:
        """Return one vector with a number of each of several by turns."""
        code, lanes, channels = self.code, self.code.lanes, len(texts)
        if channels == 1:
            return texts[0]
        narrow, wide = f"<{lanes} x {element}>", f"<{2 * lanes} x {element}>"
        texts = [*texts, *["poison"] * (channels % 2)]
        both = code.numbers(range(2 * lanes))
        pairs = [
            code.made(f"shufflevector {narrow} {one}, {narrow} {other}, {both}")
            for one, other in zip(texts[::2], texts[1::2], strict=True)
        ]
        other = pairs[1] if len(pairs) > 1 else "poison"
        order = code.numbers(channel * lanes + lane for lane in range(lanes) for channel in range(channels))
        return code.made(f"shufflevector {wide} {pairs[0]}, {wide} {other}, {order}")


def part_name(name: str, kind: Composite, place: int) -> str:
    """Return the name of a part of a uniform: a member of a struct, or a component or column in brackets."""
    return f"{name}.{kind.names[place]}" if kind.names else f"{name}[{place}]"
