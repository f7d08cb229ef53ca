"""What an operator's GLSL may not hold, found in its text: so that every driver's user reads the same sentence."""

from collections.abc import Iterator
from functools import lru_cache
from itertools import pairwise

from tonemap.glsl_words import FUNCTIONS

from .glsl_names import Token, statements, tokens

PIXEL_WORDS = {"discard", "dFdx", "dFdy", "fwidth", "barrier"}
HOST_DIRECTIVES = {"version", "extension", "line"}
STORAGE = {"uniform", "in", "out", "inout", "buffer", "shared", "layout"}
CONDITIONS = {"if", "ifdef", "ifndef", "error"}
"""Where these are, brackets may stand twice or not at all, and are left to the compiler."""


@lru_cache(maxsize=256)
def refusal(text: str, own_names: frozenset[str], operator: str) -> tuple[int, int, str] | None:
    """Return line and column (from 1) of what a file may not hold, with the words about it; None when all is well.

    Parameters
    ----------
    own_names : what the operator's files define
    operator : the operator's name
    """
    found = min((*_refused(text, own_names), *_hidden(text, operator)), default=None)
    if found is None:
        return None
    start, words = found
    return text.count("\n", 0, start) + 1, start - (text.rfind("\n", 0, start) + 1) + 1, words


def _refused(text: str, own_names: frozenset[str]) -> Iterator[tuple[int, str]]:
    found = list(tokens(text))
    if text.rstrip("\n").endswith("\\"):
        yield len(text.rstrip("\n")) - 1, "the last line ends with a \\, and no line follows; take it out"
    for token in found:
        if token.kind == "sign" and text.startswith("/*", token.start):
            yield token.start, "this comment is not closed; close it with */"
            return  # what follows is its text
        if token.kind == "sign" and not (token.text.isascii() and token.text.isprintable()):
            yield token.start, f"{token.text!r} stands outside a comment; GLSL is written in ASCII"
        elif token.kind == "name" and (token.text in PIXEL_WORDS or token.text.startswith("gl_")):
            yield token.start, f"'{token.text}' can't be used: an operator knows the light of one pixel, and no pixel"
    yield from _directives(found, own_names)
    for statement in statements(found):
        if statement and statement[0].text in STORAGE:
            first = statement[0]
            yield first.start, f"'{first.text}' can't stand here: an operator gets all that it needs as arguments"
    if not any(one.text == "#" and two.text in CONDITIONS for one, two in pairwise(found) if two.in_directive):
        yield from _braces(found)


def _hidden(text: str, operator: str) -> Iterator[tuple[int, str]]:
    """Yield the calls of a function of GLSL's own that has the operator's name, which can't call itself."""
    if operator not in FUNCTIONS:
        return
    depth = 0
    for one, two in pairwise(tokens(text)):
        depth += {"{": 1, "}": -1}.get(one.text, 0)
        if depth > 0 and (one.text, two.text) == (operator, "("):
            yield (
                one.start,
                f"'{operator}' is GLSL's own function, and this operator's name; give it another name",
            )


def _directives(found: list[Token], own_names: frozenset[str]) -> Iterator[tuple[int, str]]:
    directives = [token for token in found if token.in_directive]
    for one, two in pairwise(directives):
        if one.text == "#" and two.text in HOST_DIRECTIVES:
            yield one.start, f"#{two.text} can't be used: the host writes the head of the program; take it out"
        elif one.text == "undef" and two.kind == "name" and two.text not in own_names:
            yield two.start, f"#undef of '{two.text}', which this operator does not define; take it out"


def _braces(found: list[Token]) -> Iterator[tuple[int, str]]:
    opened: list[int] = []
    for token in found:
        if token.text == "{" and not token.in_directive:
            opened.append(token.start)
        elif token.text == "}" and not token.in_directive:
            if not opened:
                yield token.start, "this '}' closes nothing; take it out"
                return
            opened.pop()
    if opened:
        yield opened[-1], "this '{' is not closed; close it with }"
