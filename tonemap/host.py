"""The host: the operators there are, each read when it is asked for, and wishes turned into checked values."""

import os
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from .declaration import check_declaration
from .discovery import ENTRY_POINT_GROUP, Source, built_in_sources, folder_sources, packaged_sources
from .errors import TrimbenchError, WrongCall, suggestion
from .faults import call_fault_text, fault_text, function_place, is_stop
from .operator import (
    AnyParameter,
    Choice,
    Levels,
    Operator,
    Parameter,
    ParameterValue,
    Statistics,
    Switch,
    Values,
    Volume,
)
from .statistics import stand_ins

__all__ = [
    "ENTRY_POINT_GROUP",
    "Host",
    "Installed",
    "check_declaration",
    "checked_value",
    "evaluate_parameters",
    "find_operators",
    "glsl_arguments",
    "parameter_of",
]

SLOW_READING = 1.0
"""Seconds of processor time; an operator whose file takes longer to run is named."""

SLOW_CALL, SLOW_PIXEL = 0.5, 1e-5
"""Seconds of processor time: an operator whose Python takes longer, for a call and each of its pixels, is named."""

LONGEST_TABLE = 16384
"""GL 4.1 guarantees textures of this size."""

LARGEST_FLOAT32 = float(np.finfo(np.float32).max)

GlslValue = float | int | bool | np.ndarray


@dataclass(frozen=True)
class Installed:
    """An operator with where it came from: its Python file and, beside or in shaders/, its GLSL file.

    Attributes
    ----------
    folder : the folder that the user named, None for others
    """

    operator: Operator
    python_file: Path
    glsl_file: Path
    folder: Path | None = None


class Host:
    """Operators by name, from the places that were found; each is read once, when it is asked for.

    An operator that can't be used costs only itself: it is one sentence in `refused`, and in the fault of whoever asks
    for it.

    Attributes
    ----------
    folders : those that the user named
    refused : the sentences so far; after `operators`, all of them
    notices : sentences about operators that work and are slow to read
    tell : called with each of these, and with those about operators that are slow at work
    """

    def __init__(self, sources: Iterable[Source] = (), folders: Iterable[Path] = ()) -> None:
        self.folders = list(folders)
        self.refused: list[str] = []
        self.notices: list[str] = []
        self.tell: Callable[[str], None] = lambda sentence: None
        self._slow: dict[str, object] = {}
        self._sources: dict[str, Source] = {}
        self._alone: dict[str, Source] = {}
        self._read: dict[str, Installed | TrimbenchError] = {}
        for source in sources:
            known = self._sources.get(source.name)
            if not source.has_twin:
                self._alone.setdefault(source.name, source)
            elif known is not None:
                words = f"the name is already taken by {known.origin}"
                self.refused.append(f"operator '{source.name}' in {source.origin} is refused: {words}")
            else:
                self._sources[source.name] = source

    @property
    def names(self) -> list[str]:
        """The names that were found; nothing is read for them."""
        return list(self._sources)

    @property
    def operators(self) -> dict[str, Installed]:
        """All operators by name, read now if they were not yet."""
        for name, source in self._alone.items():
            if name not in self._read and name not in self._sources and source.looks_like_an_operator():
                self._refuse(source, _no_twin(source, source.glsl_folders))
        found = {name: self.found(name) for name in self._sources}
        return {name: item for name, item in found.items() if isinstance(item, Installed)}

    def refused_in(self, folder: Path) -> list[str]:
        """Return the sentences about operators in a folder that the user named, in whichever way."""
        place = os.path.realpath(folder)
        named = next((known for known in self.folders if os.path.realpath(known) == place), folder)
        return [sentence for sentence in self.refused if f"' in {named}{os.sep}" in sentence]

    def get(self, name: str, kind: str | None = None) -> Operator:
        """Return an operator by name; raises as `installed` does."""
        return self.installed(name, kind).operator

    def installed(self, name: str, kind: str | None = None) -> Installed:
        """Return an operator with its files.

        Raises
        ------
        TrimbenchError
            When the operator is there and can't be used: the sentence in `refused`.
        WrongCall
            When there is none of this name and kind, with the near names.
        """
        found = self.found(name)
        if isinstance(found, TrimbenchError):
            raise type(found)(str(found))
        if found is None or (kind is not None and found.operator.kind != kind):
            known = [other for other, item in self.operators.items() if kind is None or item.operator.kind == kind]
            sort = f"{kind} operator" if kind else "operator"
            raise WrongCall(f"{sort} '{name}' is not known; {suggestion(name, known)}")
        return found

    def of_kind(self, kind: str) -> list[Operator]:
        """Return the operators of one kind, by title."""
        found = (item.operator for item in self.operators.values() if item.operator.kind == kind)
        return sorted(found, key=lambda operator: operator.title)

    def title(self, name: str) -> str:
        """Return an operator's title, or its name where it can't be used; reads no other."""
        found = self.found(name)
        return found.operator.title if isinstance(found, Installed) else name

    @contextmanager
    def timed(self, operator: Operator, method: str, pixels: int = 0) -> Iterator[None]:
        """Tell, once for an operator, that a method of its author's is slow, here for some pixels."""
        start = time.thread_time()
        yield
        taken = time.thread_time() - start
        if taken > SLOW_CALL + SLOW_PIXEL * pixels and self._is_first(operator.name):
            work = f"{taken:.1f} s of Python" + (f" for {pixels} pixels" if pixels else "")
            place = function_place(getattr(operator, method))
            self.tell(f"operator '{operator.name}': {method} takes {work} ({place}); compute with whole arrays")

    def _is_first(self, name: str) -> bool:
        mine = object()
        return self._slow.setdefault(name, mine) is mine  # one step, also where bands run in threads

    def refreshed(self, changed: Iterable[Path]) -> "Host":
        """Return a host that looks into its folders again, and reads again what the changed files belong to.

        A file belongs to the operator of its name, or, when there is none, to all that are in its folder. The others
        stay as they were read.
        """
        sources, unread = [source for source in self._sources.values() if source.folder is None], []
        for folder in self.folders:
            try:
                sources += folder_sources(folder)
            except WrongCall as fault:  # it may be back with the next change
                unread.append(str(fault))
        host = Host(sources, self.folders)
        host.refused += unread
        files = [file.resolve() for file in changed]
        host._read = {name: item for name, item in self._read.items() if not host._is_stale(name, files)}
        host.refused += [str(item) for item in host._read.values() if isinstance(item, TrimbenchError)]
        return host

    def _is_stale(self, name: str, changed: list[Path]) -> bool:
        source = self._sources.get(name)
        if source is None or source.folder is None:
            return source is None
        folder = source.folder.resolve()
        return any(
            file.stem == name or file.stem not in self._sources for file in changed if file.is_relative_to(folder)
        )

    def with_operator(self, operator: Operator, python_file: Path, glsl_file: Path) -> "Host":
        """Return a host that has one operator more, made by a program and not found in a place."""
        host = Host(self._sources.values(), self.folders)
        host._read = dict(self._read)
        host._sources[operator.name] = Source(operator.name, str(python_file), lambda: type(operator), python_file)
        host._read[operator.name] = Installed(operator, python_file, glsl_file)
        return host

    def found(self, name: str) -> Installed | TrimbenchError | None:
        """Return an operator, or the sentence why it is refused, or None; the same object until it is read again."""
        source = self._sources.get(name)
        if source is None:
            alone = self._alone.get(name)
            if alone is not None and name not in self._read and alone.looks_like_an_operator():
                self._refuse(alone, _no_twin(alone, alone.glsl_folders))
            return self._read.get(name)
        if name not in self._read:
            start = time.thread_time()
            try:
                self._read[name] = _read(source)
            except BaseException as fault:  # one broken plugin costs only itself
                if is_stop(fault):
                    raise
                is_told = isinstance(fault, TrimbenchError)
                self._refuse(source, str(fault) if is_told else fault_text(fault, source.python_file))
            taken = time.thread_time() - start
            if taken > SLOW_READING:
                sentence = f"operator '{name}' in {source.origin} took {taken:.1f} s to read; import less"
                self.notices.append(sentence)
                self.tell(sentence)
        return self._read[name]

    def _refuse(self, source: Source, words: str) -> None:
        sentence = f"operator '{source.name}' in {source.origin} is refused: {words}"
        self._read[source.name] = TrimbenchError(sentence)
        self.refused.append(sentence)


def find_operators(folders: list[Path] | None = None) -> Host:
    """Find the built-in operators, those of installed packages, and those in folders that the user names.

    Nothing of theirs is run yet; where two have the same name, the first of this order has it.

    Parameters
    ----------
    folders : each holds NAME.py with an Operator subclass, and NAME.glsl beside it or in its folder shaders

    Raises
    ------
    WrongCall
        When a folder is not there, or can't be read.
    """
    sources = [*built_in_sources(), *packaged_sources()]
    named: dict[str, Path] = {}
    for folder in folders or []:
        named.setdefault(os.path.realpath(folder), Path(folder))
    for folder in named.values():
        sources += folder_sources(folder)
    return Host(sources, named.values())


def _read(source: Source) -> Installed:
    """Run an operator's module, check its declaration, find its twin."""
    operator_class = source.read()
    if not (isinstance(operator_class, type) and issubclass(operator_class, Operator)):
        raise TrimbenchError("it is not a class that derives from Operator")
    python_file = source.python_file or Path(function_place(operator_class.apply).rpartition(":")[0])
    operator = operator_class()
    check_declaration(operator)
    if operator.name != source.name:
        raise TrimbenchError(
            f"its name is '{operator.name}', and its entry point is '{source.name}'; give both the same name"
        )
    folders = source.glsl_folders or (python_file.parent, python_file.parent / "shaders")
    twins = (folder / f"{operator.name}.glsl" for folder in folders)
    glsl_file = next((file for file in twins if file.is_file()), None)
    if glsl_file is None:
        raise TrimbenchError(_no_twin(source, folders))
    return Installed(operator, python_file, glsl_file, source.folder)


def _no_twin(source: Source, folders: tuple[Path, ...]) -> str:
    return f"its GLSL twin {source.name}.glsl is not in {folders[0]}"


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
    operator: Operator,
    given: Mapping[str, ParameterValue],
    levels: Levels,
    volume: Volume | None = None,
    statistics: Statistics | None = None,
) -> Values:
    """Return what `apply` gets: defaults, the given values, the needs, the derived values and the tables.

    Numbers and tables are rounded to float32, which is what the GPU gets, so that both engines compute with the same
    values.

    Parameters
    ----------
    statistics : None where nothing is measured; what stands for them follows from the levels
    """
    numbers: dict[str, ParameterValue] = {parameter.name: parameter.default for parameter in operator.parameters}
    for name, value in given.items():
        numbers[name] = checked_value(operator, name, value)
    for parameter in operator.parameters:
        if isinstance(parameter, Parameter):
            numbers[parameter.name] = float(np.float32(numbers[parameter.name]))
    measured = statistics or stand_ins(levels)
    needs = {name: getattr(measured, name) for name in operator.needs}
    values = Values(**numbers, **needs, levels=levels, volume=volume)
    for name, item in _computed(operator, "derive", operator.derived, values).items():
        vars(values)[name] = _derived(operator, name, item)
    for name, item in _computed(operator, "tabulate", operator.tables, values).items():
        vars(values)[name] = _table(operator, name, item)
    return values


def _computed(operator: Operator, method: str, names: tuple[str, ...], values: Values) -> dict[str, Any]:
    """Call a method of the author's, and return what was declared of its result, in the declared order."""
    if not names:
        return {}
    function = getattr(operator, method)
    try:
        computed = function(values)
    except WrongCall as fault:
        raise WrongCall(f"operator '{operator.name}': {fault}") from None
    except BaseException as fault:  # an author's error costs only this operator
        if is_stop(fault):
            raise
        raise TrimbenchError(f"operator '{operator.name}': {call_fault_text(fault, method, function)}") from fault
    if not isinstance(computed, Mapping):
        raise _faulty(operator, method, f"gives {type(computed).__name__} instead of values by name")
    for name in names:
        if name not in computed:
            raise _faulty(operator, method, f"gives no '{name}'")
    return {name: computed[name] for name in names}


def _derived(operator: Operator, name: str, value: Any) -> float:
    try:
        number = float(value)
    except (TypeError, ValueError):
        number = float("nan")
    if not abs(number) <= LARGEST_FLOAT32:
        raise _faulty(operator, "derive", f"gives {name} = {value!r}, which is no finite number that float32 holds")
    return number


def _table(operator: Operator, name: str, values: Any) -> np.ndarray:
    try:
        table = np.asarray(values)
    except ValueError:  # rows of several lengths
        table = np.empty(0)
    is_row = table.ndim == 1 and 2 <= len(table) <= LONGEST_TABLE and table.dtype.kind in "iuf"
    if not is_row or not (np.abs(table) <= LARGEST_FLOAT32).all():
        words = f"gives a table '{name}' that is not a row of 2 to {LONGEST_TABLE} finite numbers that float32 holds"
        raise _faulty(operator, "tabulate", words)
    rounded = table.astype(np.float32).astype(np.float64)
    rounded.flags.writeable = False
    return rounded


def _faulty(operator: Operator, method: str, words: str) -> TrimbenchError:
    """Return the sentence about what a method of an author's gives."""
    place = function_place(getattr(operator, method))
    return TrimbenchError(f"operator '{operator.name}': {method} {words}; correct {method} ({place})")


def glsl_arguments(operator: Operator, values: Values) -> dict[str, tuple[str, GlslValue]]:
    """Return name -> (GLSL type, value) of what follows light, levels and volume in the operator's GLSL call."""
    arguments: dict[str, tuple[str, GlslValue]] = {}
    for parameter in operator.parameters:
        value = getattr(values, parameter.name)
        if isinstance(parameter, Choice):
            arguments[parameter.name] = ("int", list(parameter.options).index(value))
        elif isinstance(parameter, Switch):
            arguments[parameter.name] = ("bool", value)
        else:
            arguments[parameter.name] = ("float", value)
    for name in (*operator.needs, *operator.derived):
        arguments[name] = ("float", getattr(values, name))
    for name in operator.tables:
        arguments[name] = ("sampler2D", getattr(values, name))
    return arguments
