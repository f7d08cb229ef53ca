"""The check of a declaration: what an author may declare, and the sentence about what may not be."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from .errors import TrimbenchError
from .glsl_words import KEYWORDS, RESERVED
from .operator import GAMUT, INTERFACE_VERSION, TONE, Choice, Operator, Parameter, Statistics, Switch

IDENTIFIER = re.compile(r"[a-z][a-z0-9_]*\Z")
STATISTICS = tuple(Statistics.__dataclass_fields__)
MOST_TABLES = 4
MOST_LETTERS = 500
LARGEST = 1e30
"""Of a parameter, so that float32 holds it and what is computed of it."""


def check_declaration(operator: Operator) -> None:
    """Check what an author declared; raises TrimbenchError with the first fault."""
    _check_version(operator)
    for attribute in ("name", "title", "kind", "source"):
        if not isinstance(getattr(operator, attribute, None), str):
            raise TrimbenchError(f"its declaration has no {attribute}")
    if operator.kind not in (TONE, GAMUT):
        raise TrimbenchError(f"its kind '{operator.kind}' is neither '{TONE}' nor '{GAMUT}'")
    _check_words("title", operator.title, MOST_LETTERS)
    _check_words("source", operator.source, MOST_LETTERS)
    if type(operator).apply is Operator.apply:
        raise TrimbenchError("it has no apply method")
    for method in ("apply", "derive", "tabulate"):
        if not hasattr(getattr(operator, method), "__code__"):  # where it is, is said of its faults
            raise TrimbenchError(f"its {method} is no function of the class; write it with def")
    for group in ("parameters", "needs", "derived", "tables"):
        items = getattr(operator, group)
        sort = Parameter | Choice | Switch if group == "parameters" else str
        if not isinstance(items, tuple) or not all(isinstance(item, sort) for item in items):
            what = "Parameter, Choice and Switch" if group == "parameters" else "names"
            raise TrimbenchError(f"its {group} are not a tuple of {what}; mind the comma after a single one")
    names = [*(item.name for item in operator.parameters), *operator.needs, *operator.derived, *operator.tables]
    _check_names(operator.name, names)
    _check_computed(operator)
    for parameter in operator.parameters:
        _check_parameter(parameter)
    choices = [parameter for parameter in operator.parameters if isinstance(parameter, Choice)]
    constants = [f"{choice.name}_{option}" for choice in choices for option in choice.options]
    if len(set(constants)) != len(constants):
        raise TrimbenchError("two options have one name in GLSL, that of the choice and of the option; rename one")


def _check_version(operator: Operator) -> None:
    version = getattr(operator, "interface_version", None)
    if version is None:
        raise TrimbenchError(
            "it doesn't say for which operator interface it was made; add "
            f"'interface_version = {INTERFACE_VERSION}' to its class"
        )
    if type(version) is not int:
        raise TrimbenchError(f"its interface_version is {version!r}; write a whole number")
    if version != INTERFACE_VERSION:
        raise TrimbenchError(
            f"it was made for operator interface {version}, and this program has {INTERFACE_VERSION}; update the "
            "operator or the program"
        )


def _check_words(what: str, words: Any, most: int) -> None:
    """Refuse what a list or a page can't show."""
    if not isinstance(words, str) or not words.strip() or not words.isprintable() or len(words) > most:
        raise TrimbenchError(f"its {what} is not one line of 1 to {most} letters")


def check_name(name: Any) -> None:
    """Check that GLSL takes an operator's name; raises TrimbenchError."""
    if not isinstance(name, str) or not IDENTIFIER.match(name) or "__" in name or name.startswith("gl_"):
        raise TrimbenchError(f"'{name}' can't be a GLSL name; use lower-case letters, digits and single underscores")
    if name in KEYWORDS:
        raise TrimbenchError(f"'{name}' is a word of GLSL's own; choose another name")


def _check_names(own: str, names: Sequence[Any]) -> None:
    check_name(own)
    for name in names:
        check_name(name)
        if name in RESERVED:
            raise TrimbenchError(f"'{name}' is a word of GLSL's own; choose another name")
    if len(set(names)) != len(names) or {"light", "levels", "volume"} & set(names):
        raise TrimbenchError(
            "the names of its parameters, needs, derived values and tables are not distinct (light, levels and volume "
            "are taken)"
        )


def _check_computed(operator: Operator) -> None:
    for need in operator.needs:
        if need not in STATISTICS:
            raise TrimbenchError(f"it needs '{need}', which is not measured; choose from {', '.join(STATISTICS)}")
    for group, method in (("derived", "derive"), ("tables", "tabulate")):
        if getattr(operator, group) and getattr(type(operator), method) is getattr(Operator, method):
            raise TrimbenchError(f"it declares {group} and has no {method} method")
    if len(operator.tables) > MOST_TABLES:
        raise TrimbenchError(f"it declares {len(operator.tables)} tables, and at most {MOST_TABLES} are possible")


def _check_parameter(parameter: Parameter | Choice | Switch) -> None:
    _check_words(f"help of '{parameter.name}'", parameter.help, MOST_LETTERS)
    if isinstance(parameter, Parameter):
        _check_number(parameter)
    elif isinstance(parameter, Choice):
        _check_options(parameter)
    elif not isinstance(parameter.default, bool):
        raise TrimbenchError(f"switch '{parameter.name}' has the default {parameter.default!r}; write True or False")
    parameter.checked(parameter.default)


def _check_number(parameter: Parameter) -> None:
    its = f"parameter '{parameter.name}'"
    if not isinstance(parameter.unit, str) or not parameter.unit.isprintable():
        raise TrimbenchError(f"{its} has the unit {parameter.unit!r}; write a word, or '' for a plain number")
    for role in ("default", "minimum", "maximum", "neutral"):
        value = getattr(parameter, role)
        is_left_out = role == "neutral" and value is None
        if not is_left_out and (isinstance(value, bool) or not isinstance(value, (int, float))):
            raise TrimbenchError(f"{its} has the {role} {value!r}; write a plain number")
    if max(abs(parameter.minimum), abs(parameter.maximum)) > LARGEST:
        raise TrimbenchError(f"{its} goes beyond {LARGEST:g}; measure it in another unit")
    if not parameter.minimum < parameter.maximum:
        raise TrimbenchError(f"{its} has no range")
    if parameter.scale not in ("linear", "log", "stops"):
        raise TrimbenchError(f"{its} has the scale '{parameter.scale}'; choose linear, log or stops")
    if parameter.scale == "log" and parameter.minimum <= 0.0:
        raise TrimbenchError(f"{its} has a log scale that reaches 0")
    if parameter.neutral is not None:
        parameter.checked(parameter.neutral)


def _check_options(choice: Choice) -> None:
    if not isinstance(choice.options, Mapping) or not choice.options:
        words = "are no names with their meanings; write {NAME: MEANING}"
        raise TrimbenchError(f"the options of '{choice.name}' {words}")
    for option, meaning in choice.options.items():
        if not isinstance(option, str) or not IDENTIFIER.match(option) or "__" in f"{choice.name}_{option}":
            raise TrimbenchError(
                f"the options of '{choice.name}' can't be GLSL names; use lower-case letters, digits and single "
                "underscores"
            )
        _check_words(f"meaning of '{option}' of '{choice.name}'", meaning, MOST_LETTERS)
