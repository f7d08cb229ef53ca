"""Names of an operator's GLSL: what its files define at file scope gets a name of its own in the program. Text only.

A file is read as tokens: directives, names, brackets. What is defined outside all brackets (functions, constants,
structs) and by #define is renamed wherever it stands in the files, except after a dot and as a member of a struct. A
name that a file defines hides the shader library's in that file.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

TOKEN = re.compile(
    r"(?P<comment>//[^\n]*|/\*.*?\*/)"
    r"|(?P<number>\.?\d(?:[eE][+-]|[\w.])*)"
    r"|(?P<name>[A-Za-z_]\w*)"
    r"|(?P<newline>\n)"
    r"|(?P<space>[^\S\n]+|\\\n)"
    r"|(?P<sign>.)",
    re.DOTALL | re.ASCII,
)
QUALIFIERS = {
    "const",
    "uniform",
    "in",
    "out",
    "inout",
    "precise",
    "highp",
    "mediump",
    "lowp",
    "invariant",
    "flat",
    "smooth",
}

Edit = tuple[int, int, int]
"""Of one line: the column (from 1) where a new name begins, its length, and by how much it is longer than the old."""


@dataclass(frozen=True)
class Token:
    """A piece of a file: a name, a number or a sign (else a comment or a space), and where it begins."""

    kind: str
    text: str
    start: int
    in_directive: bool


@dataclass(frozen=True)
class Renamed:
    """The lines of a file with new names, and what was changed in each."""

    lines: tuple[str, ...]
    edits: tuple[tuple[Edit, ...], ...]


@lru_cache(maxsize=256)
def defined_names(text: str) -> frozenset[str]:
    """Return the names that a file defines at file scope: functions, constants, structs, macros."""
    found = list(tokens(text))
    names = {
        two.text for one, two in pairwise(found) if one.in_directive and one.text == "define" and two.kind == "name"
    }
    for statement in statements(found):
        names |= _defined_by(statement)
    return frozenset(names)


@lru_cache(maxsize=256)
def line_of_function(text: str, name: str) -> int | None:
    """Return the line (from 1) where a file defines a function; None when it does not."""
    for statement in statements(list(tokens(text))):
        for one, two in pairwise(statement[1:]):
            if one.text == name and two.text == "(" and "=" not in [token.text for token in statement]:
                return text.count("\n", 0, one.start) + 1
    return None


@lru_cache(maxsize=256)
def with_names(text: str, names: frozenset[str], prefix: str) -> Renamed:
    """Put a prefix before the names wherever they stand for what the file defines."""
    lines, edits = [""], [list[Edit]()]
    for token, is_own in _resolved(list(tokens(text, with_spaces=True)), names):
        if is_own:
            edits[-1].append((len(lines[-1]) + 1, len(prefix) + len(token.text), len(prefix)))
            lines[-1] += prefix
        first, *rest = token.text.split("\n")
        lines[-1] += first
        for line in rest:
            lines.append(line)
            edits.append([])
    if text.endswith("\n"):
        lines, edits = lines[:-1], edits[:-1]
    return Renamed(tuple(lines), tuple(map(tuple, edits)))


def column_before(edits: Sequence[Edit], column: int) -> int:
    """Return the column in the author's line for one in the line with new names."""
    shift = 0
    for start, length, added in edits:
        if column < start:
            break
        if column < start + length:
            return start - shift
        shift += added
    return column - shift


def _resolved(found: list[Token], names: frozenset[str]) -> Iterator[tuple[Token, bool]]:
    """Yield every token, and whether it is one of the names: not after a dot, not a member that a struct declares.

    Nor in the name of a file that is included.
    """
    members = _members(found)
    before, is_include = "", False
    for index, token in enumerate(found):
        is_named = token.kind == "name" and token.text in names and before != "." and index not in members
        yield token, is_named and not is_include
        if token.kind == "newline":
            is_include = False
        elif token.in_directive and before == "#" and token.text == "include":
            is_include = True
        if token.kind not in ("space", "newline", "comment"):
            before = token.text


def _members(tokens: list[Token]) -> set[int]:
    """Return the places of the names that structs declare as members: each before a comma, a semicolon or a bracket."""
    found: set[int] = set()
    solid = [
        index
        for index, token in enumerate(tokens)
        if token.kind not in ("space", "newline", "comment") and not token.in_directive
    ]
    is_struct, depth, brackets = False, 0, 0
    for place, index in enumerate(solid):
        text = tokens[index].text
        if text == "struct":
            is_struct, depth, brackets = True, 0, 0
        elif is_struct and text in "{}":
            depth += 1 if text == "{" else -1
            is_struct = depth > 0
        elif is_struct and text in "[]":
            brackets += 1 if text == "[" else -1
        elif is_struct and depth == 1 and not brackets and tokens[index].kind == "name":
            after = tokens[solid[place + 1]].text if place + 1 < len(solid) else ""
            if after in (",", ";", "[") and tokens[solid[place - 1]].text not in ("{", ";"):
                found.add(index)
    return found


def tokens(text: str, with_spaces: bool = False) -> Iterator[Token]:
    """Yield the tokens of a file; comments, spaces and ends of lines when they are asked for."""
    in_directive, is_line_start = False, True
    for match in TOKEN.finditer(text):
        kind = str(match.lastgroup)
        if kind == "newline":
            in_directive, is_line_start = False, True
        elif match[0] == "#" and is_line_start:
            in_directive = True
        if kind not in ("newline", "space"):
            is_line_start = False
        if with_spaces or kind in ("name", "number", "sign"):
            yield Token(kind, match[0], match.start(), in_directive)


def statements(found: list[Token]) -> Iterator[list[Token]]:
    """Yield what stands at file scope, statement by statement, without directives; what is in braces is left out.

    Variants, between #if and #endif, open and close the same braces: where one is left out, so are its braces.
    """
    statement: list[Token] = []
    depth, before = 0, ""
    variants: list[tuple[int, bool]] = []  # the depth before each #if, and whether there was an #else
    for token in found:
        if token.in_directive:
            if before == "#" and token.text in ("if", "ifdef", "ifndef"):
                variants.append((depth, False))
            elif before == "#" and token.text in ("elif", "else") and variants:
                depth = variants[-1][0]
                variants[-1] = depth, token.text == "else"
            elif before == "#" and token.text == "endif" and variants:
                outside, is_complete = variants.pop()
                depth = depth if is_complete else outside
        elif token.text in "{}":
            depth += 1 if token.text == "{" else -1
            is_function_end = depth == 0 and any(item.text == "(" for item in statement) and not _is_value(statement)
            if is_function_end:
                yield statement
                statement = []
        elif token.text == ";" and depth == 0:
            yield statement
            statement = []
        elif depth == 0:
            statement.append(token)
        before = token.text
    if statement:
        yield statement


def _is_value(statement: list[Token]) -> bool:
    return any(token.text == "=" for token in statement)


def _defined_by(statement: list[Token]) -> set[str]:
    """Return what a statement defines: a struct, a function, or constants with a comma between them."""
    words = [token for token in statement if token.text not in QUALIFIERS]
    names: set[str] = set()
    if words and words[0].text == "struct" and len(words) > 1:
        names.add(words[1].text)
        words = words[1:]
    if len(words) < 2 or words[0].kind != "name" or words[0].text == "layout":
        return names
    if len(words) > 2 and words[1].kind == "name" and words[2].text == "(":
        return names | {words[1].text}
    depth, is_next = 0, True
    for token in words[1:]:
        if token.text in "([":
            depth += 1
        elif token.text in ")]":
            depth -= 1
        elif depth == 0 and token.text == ",":
            is_next = True
        elif depth == 0 and token.kind == "name" and is_next:
            names.add(token.text)
            is_next = False
    return names
