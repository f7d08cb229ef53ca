"""Composition of shader text: includes, the generated part of a rendition, one main. Text to text, no GL."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path

from tonemap.encoding import TRANSFERS, Encoding
from tonemap.errors import TrimbenchError
from tonemap.host import Installed, glsl_arguments
from tonemap.operator import GAMUT, Choice, Values
from tonemap.rendition import Chain

FRAGMENT_VERSION = "410 core"
COMPUTE_VERSION = "430 core"

Origin = tuple[str, int]


@dataclass(frozen=True)
class Composed:
    """Shader text with, for every line of it, the file and line that it came from."""

    text: str
    origins: tuple[Origin, ...]

    def origin(self, line: int) -> Origin:
        """Return file and line for a line number (from 1) that a compiler reports."""
        return self.origins[min(max(line, 1), len(self.origins)) - 1]


def compose(
    main: str, generated: Mapping[str, str], version: str, includes: Mapping[str, Path] | None = None
) -> Composed:
    """Put a program's text together.

    Parameters
    ----------
    main : the file under shaders/, for example 'main/rendition.frag'
    generated : text for includes that have no file, by the name that the shaders include
    version : what follows #version
    includes : files outside the shader library, by the name that generated text includes

    Raises
    ------
    TrimbenchError
        When an included file is missing or is no text, or an #include has no name; the sentence says where.
    """
    lines: list[str] = [f"#version {version}"]
    origins: list[Origin] = [("generated", 1)]
    seen: set[str] = set()

    def add(name: str, asked_by: Origin) -> None:
        if name in seen:
            return
        seen.add(name)
        shown, text = _text_of(name, generated, includes or {}, asked_by)
        for number, line in enumerate(text.splitlines(), start=1):
            if line.startswith("#include"):
                included = re.fullmatch(r'#include\s+"([^"]+)"\s*(//.*)?', line)
                if included is None:
                    raise TrimbenchError(f'{shown}:{number}: {line} has no name in quotes; write #include "NAME"')
                add(included[1], (shown, number))
            else:
                lines.append(line)
                origins.append((shown, number))

    add(main, ("generated", 1))
    return Composed("\n".join(lines) + "\n", tuple(origins))


def rendition_program(chain: Chain, main: str, version: str, result_codes: bool = False) -> Composed:
    """Compose the program of one rendition: transfers, operators and choices are text, the rest is uniform."""
    tone, gamut = chain.host.installed(chain.tone.name), chain.host.installed(chain.gamut.name)
    generated = "\n".join(
        [
            f"#define SOURCE_CODES {int(chain.master.bits is not None)}",
            f"#define RESULT_CODES {int(result_codes)}",
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
            _operator_text("tone", tone, chain.tone_values),
            _operator_text("gamut", gamut, chain.gamut_values),
        ]
    )
    includes = {f"operator/{item.operator.name}.glsl": item.glsl_file for item in (tone, gamut)}
    return compose(main, {"generated/rendition.glsl": generated}, version, includes)


def uniform_name(stage: str, name: str) -> str:
    """Return the uniform that holds a parameter of the tone or gamut stage."""
    return f"{stage}_{name}"


def _operator_text(stage: str, installed: Installed, values: Values) -> str:
    operator = installed.operator
    defines = [
        f"{parameter.name}_{option}".upper() + f" {number}"
        for parameter in operator.parameters
        if isinstance(parameter, Choice)
        for number, option in enumerate(parameter.options)
    ]
    uniforms, arguments = [], ["light", "levels"] + (["volume"] if operator.kind == GAMUT else [])
    for name, (glsl_type, value) in glsl_arguments(operator, values).items():
        if glsl_type == "float":
            uniforms.append(f"uniform float {uniform_name(stage, name)};")
            arguments.append(uniform_name(stage, name))
        else:
            arguments.append(str(value).lower())
    return "\n".join(
        [
            *(f"#define {define}" for define in defines),
            f'#include "operator/{operator.name}.glsl"',
            *(f"#undef {define.split()[0]}" for define in defines),
            *uniforms,
            f"vec3 {stage}(vec3 light) {{ return {operator.name}({', '.join(arguments)}); }}",
        ]
    )


def _transfer_number(encoding: Encoding) -> int:
    return list(TRANSFERS).index(encoding.transfer)


def _text_of(
    name: str, generated: Mapping[str, str], includes: Mapping[str, Path], asked_by: Origin
) -> tuple[str, str]:
    if name in generated:
        return name, generated[name]
    try:
        if name in includes:
            return str(includes[name]), includes[name].read_text(encoding="utf-8")
        return f"shaders/{name}", _library_text(name)
    except OSError:
        file, line = asked_by
        raise TrimbenchError(f"{file}:{line}: the included file '{name}' is not there; correct the #include") from None
    except UnicodeDecodeError:
        raise TrimbenchError(f"{includes.get(name, name)}: this is not UTF-8 text; save it as UTF-8") from None


@cache
def _library_text(name: str) -> str:
    return files("shaders").joinpath(name).read_text(encoding="utf-8")
