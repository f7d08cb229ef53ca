"""Composition of shader text: includes, the generated part of a rendition, one main. Text to text, no GL."""

import os
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from tonemap.encoding import TRANSFERS, Encoding
from tonemap.errors import TrimbenchError
from tonemap.host import glsl_arguments
from tonemap.operator import GAMUT, Choice, Operator, Switch, Values
from tonemap.rendition import Chain

from .glsl_limits import refusal
from .glsl_names import Edit, Renamed, column_before, defined_names, line_of_function, with_names

FRAGMENT_VERSION = "410 core"
COMPUTE_VERSION = "430 core"
INCLUDE = re.compile(r"\s*#\s*include\b")
INCLUDED = re.compile(r'\s*#\s*include\s+"([^"]+)"\s*(//.*)?')
LIBRARY_FILE = re.compile(r"lib/\w+\.glsl")

Origin = tuple[str, int]


@dataclass(frozen=True)
class OperatorText:
    """An operator's own GLSL: its file, and what it may include from its folder, under names of its own.

    Attributes
    ----------
    prefix : put before every name that these files define
    call : the signature that the host calls, for the author of another one
    """

    file: Path
    prefix: str
    function: str
    call: str


@dataclass(frozen=True)
class Composed:
    """Shader text with, for every line of it, the file and line that it came from.

    Attributes
    ----------
    edits : for the number of a line, the names in it that the author wrote otherwise
    new_names : name in the text -> name that the author wrote
    notes : for the number of a line, what to add to an error in it
    """

    text: str
    origins: tuple[Origin, ...]
    edits: Mapping[int, tuple[Edit, ...]] = field(default_factory=dict)
    new_names: Mapping[str, str] = field(default_factory=dict)
    notes: Mapping[int, str] = field(default_factory=dict)

    def origin(self, line: int) -> Origin:
        """Return file and line for a line number (from 1) that a compiler reports."""
        return self.origins[min(max(line, 1), len(self.origins)) - 1]

    def line_of(self, words: str) -> int:
        """Return the first line that has a name of an operator's that a message without a line speaks of; else 1."""
        for new in self.new_names:
            if re.search(rf"\b{new}\b", words):
                return next(
                    (number for number, line in enumerate(self.text.splitlines(), 1) if re.search(rf"\b{new}\b", line)),
                    1,
                )
        return 1

    def column(self, line: int, column: int) -> int:
        """Return the author's column for a column (from 1) that a compiler reports."""
        return column_before(self.edits.get(line, ()), column)

    def words(self, line: int, words: str) -> str:
        """Return a compiler's words with the names that the author wrote, and the note for the line."""
        for new, own in self.new_names.items():
            words = re.sub(rf"\b{new}\b", own, words)
        return words.removesuffix("; candidates are:") + self.notes.get(line, "")


def compose(
    main: str, generated: Mapping[str, str], version: str, operators: Mapping[str, OperatorText] | None = None
) -> Composed:
    """Put a program's text together.

    Parameters
    ----------
    main : the file under shaders/, for example 'main/rendition.frag'
    generated : text for includes that have no file, by the name that the shaders include
    version : what follows #version
    operators : operators' own files, by the name that generated text includes

    Raises
    ------
    TrimbenchError
        When an included file is missing or is no text, or an #include has no name; the sentence says where.
    """
    composer = _Composer(version, generated, operators or {})
    composer.add(main, ("generated", 1))
    return Composed(
        "\n".join(composer.lines) + "\n",
        tuple(composer.origins),
        composer.edits,
        composer.new_names,
        composer.notes,
    )


class _Composer:
    def __init__(self, version: str, generated: Mapping[str, str], operators: Mapping[str, OperatorText]) -> None:
        self.lines = [f"#version {version}"]
        self.origins: list[Origin] = [("generated", 1)]
        self.edits: dict[int, tuple[Edit, ...]] = {}
        self.new_names: dict[str, str] = {}
        self.notes: dict[int, str] = {}
        self._generated, self._operators = generated, operators
        self._seen: set[str] = set()

    def add(self, name: str, asked_by: Origin) -> None:
        """Add what is included under a name, once."""
        if name in self._seen:
            return
        self._seen.add(name)
        operator = self._operators.get(name)
        if operator is not None:
            self._add_operator(operator)
            return
        shown, text = _text_of(name, self._generated, asked_by)
        self._add_lines(shown, Renamed(tuple(text.splitlines()), ((),) * len(text.splitlines())), self.add)

    def _add_operator(self, operator: OperatorText) -> None:
        """Add an operator's file and those of its folder that it includes; what they define is renamed in all."""
        texts = _own_texts(operator.file)
        names = frozenset[str]().union(*map(defined_names, texts.values()))
        added: set[Path] = set()
        for file, text in texts.items():
            refused = refusal(text, names, operator.function)
            if refused is not None:
                line, column, words = refused
                raise TrimbenchError(f"{file}:{line}:{column}: {words}")
        if line_of_function(texts[operator.file], operator.function) is None:
            raise TrimbenchError(f"{operator.file}: there is no function '{operator.call}'; write it")

        def add_file(file: Path) -> None:
            if file not in added:
                added.add(file)
                self._add_lines(str(file), with_names(texts[file], names, operator.prefix), add_included)

        def add_included(name: str, asked_by: Origin) -> None:
            own = _own_file(operator.file, Path(asked_by[0]), name)
            if own is not None:
                add_file(own)
            elif LIBRARY_FILE.fullmatch(name):
                self.add(name, asked_by)
            else:
                raise _not_there(name, asked_by)

        add_file(operator.file)
        self.new_names |= {operator.prefix + name: name for name in names}

    def _add_lines(self, shown: str, renamed: Renamed, include: Callable[[str, Origin], None]) -> None:
        for number, (line, edits) in enumerate(zip(renamed.lines, renamed.edits, strict=True), start=1):
            if INCLUDE.match(line):
                included = INCLUDED.fullmatch(line)
                if included is None:
                    raise TrimbenchError(f'{shown}:{number}: {line} has no name in quotes; write #include "NAME"')
                include(included[1], (shown, number))
                continue
            self.lines.append(line)
            self.origins.append((shown, number))
            if edits:
                self.edits[len(self.lines)] = edits


PLANES_OF_RGB, PLANES_OF_YCBCR = "planes of R'G'B'", "planes of Y'CbCr"
RESULTS = ("signal", "codes", "words", PLANES_OF_RGB, PLANES_OF_YCBCR)
"""RESULT_FORM of `main/rendition.frag`, in its order."""


@dataclass(frozen=True)
class Variant:
    """What a rendition's program is made for, beside the rendition.

    Attributes
    ----------
    result : what is asked for, a name in `RESULTS`
    source_planes : SOURCE_PLANES of `lib/source.glsl`: 0 for a picture, 1 for planes of Y'CbCr, 2 for those of R'G'B'
    source_layout : SOURCE_LAYOUT of `lib/source.glsl`, how a picture's code values lie
    source_is_bt2020 : whether the light of code values needs no other primaries
    source_table : the number of codes of a picture whose light is uploaded; 0 where it is computed
    adjusts_input, adjusts_output : whether the adjustments are there; they may be left out where they are neutral
    result_light : 1 and 2 for light as the tone or the gamut operator leaves it; 0 for what the target gets
    """

    result: str = "signal"
    source_planes: int = 0
    source_layout: int = 0
    source_is_bt2020: bool = False
    source_table: int = 0
    adjusts_input: bool = True
    adjusts_output: bool = True
    result_light: int = 0


EVERYTHING = Variant()
"""Light or a signal in, a signal out, by every slider's way: nothing is compiled when one leaves neutral."""


def rendition_program(chain: Chain, main: str, version: str, variant: Variant = EVERYTHING) -> Composed:
    """Compose the program of one rendition: transfers, operators and choices are text, the rest is uniform."""
    tone, gamut = chain.host.installed(chain.tone.name), chain.host.installed(chain.gamut.name)
    stages = (("tone", tone, chain.tone_values), ("gamut", gamut, chain.gamut_values))
    generated = "\n".join(
        [
            *(_operator_include(stage, item.operator) for stage, item, _ in stages),  # so that they see nothing below
            f"#define SOURCE_CODES {int(variant.source_planes > 0 or chain.master.bits is not None)}",
            f"#define RESULT_FORM {RESULTS.index(variant.result)}",
            f"#define SOURCE_PLANES {variant.source_planes}",
            "#define SOURCE_IS_NEAR 0",
            f"#define SOURCE_LAYOUT {variant.source_layout}",
            f"#define SOURCE_IS_BT2020 {int(variant.source_is_bt2020)}",
            f"#define SOURCE_TABLE {variant.source_table}",
            f"#define ADJUSTS_INPUT {int(variant.adjusts_input)}",
            f"#define ADJUSTS_OUTPUT {int(variant.adjusts_output)}",
            f"#define RESULT_LIGHT {variant.result_light}",
            f"const int SOURCE_TRANSFER = {_transfer_number(chain.master)};",
            f"const int TARGET_TRANSFER = {_transfer_number(chain.rendition.target)};",
            "uniform Encoding source;",
            "uniform float source_scale, source_offset;",
            "uniform InputAdjustments adjustments;",
            "uniform Levels levels;",
            "uniform Volume volume;",
            "uniform Display target_display;",
            "uniform Cdl cdl;",
            "uniform float code_scale, code_offset, top_code;",
            *(_operator_call(stage, item.operator, values) for stage, item, values in stages),
        ]
    )
    operators = {
        f"operator/{stage}.glsl": OperatorText(
            item.glsl_file, _prefix(stage), item.operator.name, _signature(item.operator, values)
        )
        for stage, item, values in stages
    }
    composed = compose(main, {"generated/rendition.glsl": generated}, version, operators)
    return _with_calls(composed, operators)


def program_key(chain: Chain) -> tuple[Any, ...]:
    """Return what a rendition's program text depends on, beside main, version and variant: no number of a slider."""

    def choices(operator: Operator, values: Values) -> tuple[Any, ...]:
        chosen = (parameter for parameter in operator.parameters if isinstance(parameter, (Choice, Switch)))
        return (chain.host.installed(operator.name), *(getattr(values, parameter.name) for parameter in chosen))

    return (
        chain.master.transfer,
        chain.master.bits is not None,
        chain.rendition.target.transfer,
        choices(chain.tone, chain.tone_values),
        choices(chain.gamut, chain.gamut_values),
    )


def uniform_name(stage: str, name: str) -> str:
    """Return the uniform that holds a parameter of the tone or gamut stage."""
    return f"{stage}_{name}"


def _operator_include(stage: str, operator: Operator) -> str:
    """Return the text that includes an operator's file, with the options of its choices around it."""
    defines = [
        f"{parameter.name}_{option}".upper() + f" {number}"
        for parameter in operator.parameters
        if isinstance(parameter, Choice)
        for number, option in enumerate(parameter.options)
    ]
    return "\n".join(
        [
            *(f"#define {define}" for define in defines),
            f'#include "operator/{stage}.glsl"',
            *(f"#undef {define.split()[0]}" for define in defines),
        ]
    )


def _operator_call(stage: str, operator: Operator, values: Values) -> str:
    """Return the function of a stage, which calls its operator, with the uniforms that it hands over."""
    uniforms, arguments = [], ["light", "levels"] + (["volume"] if operator.kind == GAMUT else [])
    for name, (glsl_type, value) in glsl_arguments(operator, values).items():
        if glsl_type in ("float", "sampler2D"):
            uniforms.append(f"uniform {glsl_type} {uniform_name(stage, name)};")
            arguments.append(uniform_name(stage, name))
        else:
            arguments.append(str(value).lower())
    call = f"{_prefix(stage)}{operator.name}({', '.join(arguments)})"
    return "\n".join([*uniforms, f"vec3 {stage}(vec3 light) {{ return {call}; }}"])


def _prefix(stage: str) -> str:
    """Return what goes before the names of a stage's operator; no uniform and nothing in the library begins so."""
    return f"{stage.capitalize()}_"


def _signature(operator: Operator, values: Values) -> str:
    arguments = ["vec3 light", "Levels levels"] + (["Volume volume"] if operator.kind == GAMUT else [])
    arguments += [f"{glsl_type} {name}" for name, (glsl_type, _) in glsl_arguments(operator, values).items()]
    return f"vec3 {operator.name}({', '.join(arguments)})"


def _with_calls(composed: Composed, operators: Mapping[str, OperatorText]) -> Composed:
    """Lay the lines that call operators to the account of their authors, with the signature that is called."""
    origins, notes, lines = list(composed.origins), dict[int, str](), composed.text.splitlines()
    for item in operators.values():
        place = next(
            (number for number, line in enumerate(lines) if f"return {item.prefix}{item.function}(" in line), None
        )
        if place is not None and origins[place][0].startswith("generated"):
            own = line_of_function(_file_text(item.file), item.function)
            origins[place] = str(item.file), own or 1
            notes[place + 1] = f"; the host calls {item.call}"
    return replace(composed, origins=tuple(origins), notes=notes)


def _own_texts(file: Path) -> dict[Path, str]:
    """Return the texts of an operator's file and of those of its folder that it includes, directly or not."""
    texts: dict[Path, str] = {}
    waiting = [file]
    while waiting:
        asked = waiting.pop()
        if asked in texts:
            continue
        texts[asked] = _file_text(asked)
        for line in texts[asked].splitlines():
            included = INCLUDED.fullmatch(line)
            own = _own_file(file, asked, included[1]) if included else None
            waiting += [own] if own is not None else []
    return texts


def _own_file(operator_file: Path, asked_by: Path, name: str) -> Path | None:
    """Return the file in an operator's own folder that an #include means; the library's names come first."""
    if name.startswith("lib/"):
        return None
    path = Path(os.path.normpath(asked_by.parent / name))
    return path if path.is_relative_to(operator_file.parent) and path.is_file() else None


def _file_text(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8-sig")
    except OSError as fault:
        mending = "let it be read" if file.exists() else "put it back"
        raise TrimbenchError(f"{file}: can't be read: {fault.strerror}; {mending}") from None
    except UnicodeDecodeError:
        raise TrimbenchError(f"{file}: this is not UTF-8 text; save it as UTF-8") from None


def _transfer_number(encoding: Encoding) -> int:
    return list(TRANSFERS).index(encoding.transfer)


def _text_of(name: str, generated: Mapping[str, str], asked_by: Origin) -> tuple[str, str]:
    if name in generated:
        return name, generated[name]
    try:
        return f"shaders/{name}", _library_text(name)
    except OSError:
        raise _not_there(name, asked_by) from None


def _not_there(name: str, asked_by: Origin) -> TrimbenchError:
    file, line = asked_by
    return TrimbenchError(f"{file}:{line}: the included file '{name}' is not there; correct the #include")


@cache
def _library_text(name: str) -> str:
    return files("shaders").joinpath(name).read_text(encoding="utf-8")
