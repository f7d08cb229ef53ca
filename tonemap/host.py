"""The host: finds operators, checks their declarations, and turns wishes into checked parameter values."""

import importlib
import importlib.metadata
import importlib.util
import pkgutil
import re
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np

from .errors import TrimbenchError, WrongCall, suggestion
from .operator import (
    GAMUT,
    INTERFACE_VERSION,
    TONE,
    AnyParameter,
    Choice,
    Levels,
    Operator,
    Parameter,
    ParameterValue,
    Switch,
    Values,
    Volume,
)

ENTRY_POINT_GROUP = "trimbench.operators"
IDENTIFIER = re.compile(r"[a-z][a-z0-9_]*\Z")


@dataclass(frozen=True)
class Installed:
    """An operator with where it came from: its Python file and, beside or in shaders/, its GLSL file."""

    operator: Operator
    python_file: Path
    glsl_file: Path


@dataclass
class Host:
    """The operators that were found, by name, and the sentences about those that were refused."""

    operators: dict[str, Installed] = field(default_factory=dict)
    refused: list[str] = field(default_factory=list)

    def get(self, name: str, kind: str | None = None) -> Operator:
        """Return an operator by name; raises WrongCall with the near names when there is none of that kind."""
        return self.installed(name, kind).operator

    def installed(self, name: str, kind: str | None = None) -> Installed:
        """Return an operator with its files; raises WrongCall as `get` does."""
        found = self.operators.get(name)
        if found is None or (kind is not None and found.operator.kind != kind):
            known = [item for item in self.operators if kind is None or self.operators[item].operator.kind == kind]
            sort = f"{kind} operator" if kind else "operator"
            raise WrongCall(f"{sort} '{name}' is not known; {suggestion(name, known)}")
        return found

    def of_kind(self, kind: str) -> list[Operator]:
        """Return the operators of one kind, by title."""
        found = (item.operator for item in self.operators.values() if item.operator.kind == kind)
        return sorted(found, key=lambda operator: operator.title)

    def add(self, operator_class: type[Operator], python_file: Path, glsl_folders: list[Path]) -> None:
        """Check one declaration and take the operator in, or note why it is refused."""
        label = getattr(operator_class, "name", None) or getattr(operator_class, "__name__", repr(operator_class))
        try:
            operator = operator_class()
            check_declaration(operator)
            glsl_file = next(
                (
                    folder / f"{operator.name}.glsl"
                    for folder in glsl_folders
                    if (folder / f"{operator.name}.glsl").is_file()
                ),
                None,
            )
            if glsl_file is None:
                raise TrimbenchError(f"its GLSL twin {operator.name}.glsl is not in {glsl_folders[0]}")
            clash = self.operators.get(operator.name)
            if clash is not None:
                raise TrimbenchError(f"the name is already taken by {clash.python_file}")
        except Exception as fault:  # one broken plugin costs only itself
            self.refused.append(f"operator '{label}' in {python_file} is refused: {fault}")
            return
        self.operators[operator.name] = Installed(operator, python_file, glsl_file)


def find_operators(folders: list[Path] | None = None) -> Host:
    """Find the built-in operators, those of installed packages, and those in folders that the user names.

    Parameters
    ----------
    folders : each holds NAME.py with an Operator subclass, and NAME.glsl beside it
    """
    host = Host()
    for module in _built_in_modules():
        _add_module(host, module, [_shader_folder() / "operators"])
    for entry in importlib.metadata.entry_points(group=ENTRY_POINT_GROUP):
        try:
            loaded = entry.load()
            python_file = Path(importlib.import_module(loaded.__module__).__file__ or "")
        except Exception as fault:  # a package that fails to import costs only itself
            host.refused.append(f"operator entry point '{entry.name}' is refused: {type(fault).__name__}: {fault}")
            continue
        host.add(loaded, python_file, [python_file.parent])
    for folder in folders or []:
        _add_folder(host, folder)
    return host


def check_declaration(operator: Operator) -> None:
    """Check what an author declared; raises TrimbenchError with the first fault."""
    if operator.interface_version != INTERFACE_VERSION:
        raise TrimbenchError(
            f"it was made for operator interface {operator.interface_version}, and this program has "
            f"{INTERFACE_VERSION}; update the operator or the program"
        )
    for attribute in ("name", "title", "kind", "source"):
        if not isinstance(getattr(operator, attribute, None), str):
            raise TrimbenchError(f"its declaration has no {attribute}")
    if operator.kind not in (TONE, GAMUT):
        raise TrimbenchError(f"its kind '{operator.kind}' is neither '{TONE}' nor '{GAMUT}'")
    if type(operator).apply is Operator.apply:
        raise TrimbenchError("it has no apply method")
    names = [parameter.name for parameter in operator.parameters] + list(operator.derived)
    for name in [operator.name, *names]:
        if not IDENTIFIER.match(name) or "__" in name or name.startswith("gl_"):
            raise TrimbenchError(
                f"'{name}' can't be a GLSL name; use lower-case letters, digits and single underscores"
            )
    if len(set(names)) != len(names) or {"light", "levels", "volume"} & set(names):
        raise TrimbenchError("its parameter and derived names are not distinct (light, levels and volume are taken)")
    for parameter in operator.parameters:
        if isinstance(parameter, Parameter) and not parameter.minimum < parameter.maximum:
            raise TrimbenchError(f"parameter '{parameter.name}' has no range")
        if isinstance(parameter, Parameter) and parameter.scale == "log" and parameter.minimum <= 0.0:
            raise TrimbenchError(f"parameter '{parameter.name}' has a log scale that reaches 0")
        if isinstance(parameter, Choice) and not all(IDENTIFIER.match(option) for option in parameter.options):
            raise TrimbenchError(
                f"the options of '{parameter.name}' can't be GLSL names; use lower-case letters, digits and underscores"
            )
        parameter.checked(parameter.default)


def parameter_of(operator: Operator, name: str) -> AnyParameter:
    """Return one declared parameter; raises WrongCall with the near names when there is none."""
    for parameter in operator.parameters:
        if parameter.name == name:
            return parameter
    known = [parameter.name for parameter in operator.parameters]
    if not known:
        raise WrongCall(f"operator '{operator.name}' has no parameters")
    raise WrongCall(f"operator '{operator.name}' has no parameter '{name}'; {suggestion(name, known)}")


def checked_value(operator: Operator, name: str, value: Any) -> ParameterValue:
    """Return one parameter's value, checked; raises WrongCall that names operator, value and range."""
    try:
        return parameter_of(operator, name).checked(value)
    except WrongCall as fault:
        if str(fault).startswith("operator "):
            raise
        raise WrongCall(f"operator '{operator.name}': {fault}") from None


def evaluate_parameters(
    operator: Operator, given: Mapping[str, ParameterValue], levels: Levels, volume: Volume | None = None
) -> Values:
    """Return what `apply` gets: defaults, the given values, the derived ones.

    Numbers are rounded to float32, which is what the GPU gets, so that both engines compute with the same values.
    """
    numbers: dict[str, ParameterValue] = {parameter.name: parameter.default for parameter in operator.parameters}
    for name, value in given.items():
        numbers[name] = checked_value(operator, name, value)
    for parameter in operator.parameters:
        if isinstance(parameter, Parameter):
            numbers[parameter.name] = float(np.float32(numbers[parameter.name]))
    values = Values(**numbers, levels=levels, volume=volume)
    try:
        derived = operator.derive(values)
        for name in operator.derived:
            setattr(values, name, float(derived[name]))
    except WrongCall as fault:
        raise WrongCall(f"operator '{operator.name}': {fault}") from None
    except Exception as fault:  # an author's error costs only this operator
        raise TrimbenchError(
            f"operator '{operator.name}': derive fails with {type(fault).__name__}: {fault}"
        ) from fault
    return values


def glsl_arguments(operator: Operator, values: Values) -> dict[str, tuple[str, float | int | bool]]:
    """Return name -> (GLSL type, value) of what follows light and levels in the operator's GLSL call."""
    arguments: dict[str, tuple[str, float | int | bool]] = {}
    for parameter in operator.parameters:
        value = getattr(values, parameter.name)
        if isinstance(parameter, Choice):
            arguments[parameter.name] = ("int", list(parameter.options).index(value))
        elif isinstance(parameter, Switch):
            arguments[parameter.name] = ("bool", value)
        else:
            arguments[parameter.name] = ("float", value)
    for name in operator.derived:
        arguments[name] = ("float", getattr(values, name))
    return arguments


def _built_in_modules() -> list[ModuleType]:
    package = importlib.import_module("tonemap.operators")
    return [
        importlib.import_module(f"{package.__name__}.{info.name}") for info in pkgutil.iter_modules(package.__path__)
    ]


def _shader_folder() -> Path:
    spec = importlib.util.find_spec("shaders")
    if spec is None or spec.origin is None:
        raise TrimbenchError("the package 'shaders' is not installed; install trimbench again")
    return Path(spec.origin).parent


def _add_folder(host: Host, folder: Path) -> None:
    if not folder.is_dir():
        raise WrongCall(f"operator folder {folder} is not a folder; give the folder that holds NAME.py and NAME.glsl")
    for python_file in sorted(folder.glob("*.py")):
        spec = importlib.util.spec_from_file_location(f"trimbench_operator_{python_file.stem}", python_file)
        if spec is None or spec.loader is None:
            host.refused.append(f"operator file {python_file} is refused: it can't be read as a Python module")
            continue
        module = importlib.util.module_from_spec(spec)
        sys.modules[spec.name] = module  # as the import system does; dataclasses look their module up
        try:
            spec.loader.exec_module(module)
        except (Exception, SystemExit) as fault:  # an author's error costs only this operator
            del sys.modules[spec.name]
            host.refused.append(f"operator file {python_file} is refused: {type(fault).__name__}: {fault}")
            continue
        _add_module(host, module, [folder])


def _add_module(host: Host, module: ModuleType, glsl_folders: list[Path]) -> None:
    for item in vars(module).values():
        if isinstance(item, type) and issubclass(item, Operator) and item.__module__ == module.__name__:
            host.add(item, Path(module.__file__ or ""), glsl_folders)
