"""Discovery: which operators there are, by name, without running anything; and reading the one that is asked for."""

import importlib
import importlib.metadata
import importlib.util
import io
import os
import pkgutil
import re
import sys
import types
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

import numpy as np

from .errors import TrimbenchError, WrongCall
from .operator import Operator

ENTRY_POINT_GROUP = "trimbench.operators"
LOOKS_LIKE_AN_OPERATOR = re.compile(r"^class\s+\w+\s*\([^)]*\bOperator\b", re.MULTILINE)


@dataclass(frozen=True)
class Source:
    """Where an operator of this name is, and how its class is read; reading runs the author's Python.

    Attributes
    ----------
    origin : as sentences name it: a file, or an entry point with its package
    python_file : None where it is known only after reading
    folder : the folder that the user named, None for others
    has_twin : whether a GLSL file was seen beside the Python file; True where that is known only after reading
    """

    name: str
    origin: str
    read: Callable[[], type[Operator]]
    python_file: Path | None = None
    glsl_folders: tuple[Path, ...] = ()
    folder: Path | None = None
    has_twin: bool = True

    def looks_like_an_operator(self) -> bool:
        """Say whether a file without a twin was meant to be an operator, and not a module that others import."""
        try:
            text = self.python_file.read_text(encoding="utf-8") if self.python_file else ""
        except (OSError, UnicodeDecodeError):
            return False
        return LOOKS_LIKE_AN_OPERATOR.search(text) is not None


def built_in_sources() -> Iterator[Source]:
    """Yield the operators that come with the program."""
    package = importlib.import_module("tonemap.operators")
    shaders = importlib.util.find_spec("shaders")
    if shaders is None or shaders.origin is None:
        raise TrimbenchError("the package 'shaders' is not installed; install trimbench again")
    twins = (Path(shaders.origin).parent / "operators",)
    for info in pkgutil.iter_modules(package.__path__):
        file = Path(package.__path__[0]) / f"{info.name}.py"
        yield Source(info.name, str(file), lambda name=info.name: _built_in(name), file, twins)  # type: ignore[misc]


def packaged_sources() -> Iterator[Source]:
    """Yield the operators of installed packages, by the names of their entry points."""
    for entry in importlib.metadata.entry_points(group=ENTRY_POINT_GROUP):
        package = f" of package {entry.dist.name} {entry.dist.version}" if entry.dist else ""
        yield Source(entry.name, f"entry point '{entry.value}'{package}", entry.load)


def folder_sources(folder: Path) -> Iterator[Source]:
    """Yield the operators in a folder that the user named: NAME.py with NAME.glsl beside it or in shaders/.

    Raises
    ------
    WrongCall
        When it is no folder, or can't be read.
    """
    if not folder.is_dir():
        raise WrongCall(f"operator folder {folder} is not a folder; give the folder that holds NAME.py and NAME.glsl")
    shaders = folder / "shaders"
    try:
        files = {entry.name for entry in os.scandir(folder)}
        twins = files | (
            {entry.name for entry in os.scandir(shaders)} if "shaders" in files and shaders.is_dir() else set()
        )
    except OSError as fault:
        words = "let it be read, or name another one"
        raise WrongCall(f"operator folder {folder} can't be read: {fault.strerror}; {words}") from None
    for name in sorted(file.removesuffix(".py") for file in files if file.endswith(".py")):
        file = folder / f"{name}.py"
        yield Source(
            name,
            str(file),
            lambda file=file: read_file(file),  # type: ignore[misc]
            file,
            (folder, shaders),
            folder,
            f"{name}.glsl" in twins,
        )


def read_file(file: Path) -> type[Operator]:
    """Run an operator's file afresh, as a module of a package that is its folder, and return the operator's class."""
    package = f"trimbench_operators_{str(file.parent.resolve()).encode().hex()}"
    for known in [name for name in sys.modules if name == package or name.startswith(f"{package}.")]:
        del sys.modules[known]  # what it imports from its folder is read afresh too
    parent = types.ModuleType(package)
    parent.__path__ = [str(file.parent)]
    sys.modules[package] = parent
    importlib.invalidate_caches()
    spec = importlib.util.spec_from_file_location(f"{package}.{file.stem}", file)
    if spec is None or spec.loader is None:
        raise TrimbenchError("it can't be read as a Python module")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # as the import system does; dataclasses look their module up
    with _no_bytecode(), _surroundings_kept():
        code = compile(file.read_bytes(), file, "exec", dont_inherit=True)
        exec(code, vars(module))
    return _class_in(module, file.stem)


def _built_in(name: str) -> type[Operator]:
    return _class_in(importlib.import_module(f"tonemap.operators.{name}"), name)


def _class_in(module: ModuleType, name: str) -> type[Operator]:
    """Return the operator that a module defines: the class whose name is the file's."""
    own = [
        item
        for item in vars(module).values()
        if isinstance(item, type) and issubclass(item, Operator) and item.__module__ == module.__name__
    ]
    if not own:
        raise TrimbenchError("it defines no class that derives from Operator")
    named = [item for item in own if getattr(item, "name", None) == name]
    if named:
        return named[0]
    if not any(isinstance(getattr(item, "name", None), str) for item in own):
        raise TrimbenchError("its declaration has no name")
    wrong = next(item.name for item in own if isinstance(getattr(item, "name", None), str))
    raise TrimbenchError(f"its name is '{wrong}', and its file is {name}.py; give both the same name")


@contextmanager
def _no_bytecode() -> Iterator[None]:
    """Leave no compiled files in an author's folder: of two saves in one second they would keep the first."""
    before, sys.dont_write_bytecode = sys.dont_write_bytecode, True
    try:
        yield
    finally:
        sys.dont_write_bytecode = before


@contextmanager
def _surroundings_kept() -> Iterator[None]:
    """Keep what an author's module may upset for others: the current folder, the search path, NumPy's way with faults.

    What it prints goes to standard error: standard output is the command's.
    """
    folder, path, said = Path.cwd(), list(sys.path), io.StringIO()
    try:
        with np.errstate(), redirect_stdout(said):
            yield
    finally:
        os.chdir(folder)
        sys.path += [entry for entry in path if entry not in sys.path]
        if not said.closed and said.getvalue():
            print(said.getvalue(), end="", file=sys.stderr)
