"""The layers of the house: who may import whom, and what importing costs."""

import ast
import os
import re
import statistics
import subprocess
import sys
import sysconfig
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SCREEN = {"OpenGL", "glfw", "imgui_bundle"}
HEAVY = {*SCREEN, "OpenImageIO", "av", "matplotlib", "scipy", "jsonschema", "jsonpatch", "opentimelineio", "numba"}
ROOM_LIBRARIES = {"media": {"OpenImageIO", "av"}, "kernels": {"numba"}}
DOCUMENT_LIBRARIES = {"trim_sheet_text": {"jsonschema"}, "journal": {"jsonpatch"}, "edit_list": {"opentimelineio"}}
RUNS = 5


def files(folder: str, pattern: str = "*.py") -> list[Path]:
    """Return the files below a folder of the checkout; a test over none of them would prove nothing."""
    found = sorted((ROOT / folder).rglob(pattern))
    assert found, f"{folder} has no {pattern}"
    return found


def module_name(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def imports(path: Path, *, at_import_time_only: bool = False) -> set[str]:
    """Return the full names of the modules (and of the names taken from them) that a file imports."""
    names: set[str] = set()
    parts = module_name(path).split(".")
    package = parts if path.stem == "__init__" else parts[:-1]
    for node in statements(ast.parse(path.read_text(encoding="utf-8")), at_import_time_only):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            above = package[: len(package) - node.level + 1] if node.level else []
            source = ".".join([*above, *([node.module] if node.module else [])])
            names.update({source, *(f"{source}.{alias.name}" for alias in node.names)})
    return names


def statements(node: ast.AST, at_import_time_only: bool) -> Iterator[ast.AST]:
    yield node
    if at_import_time_only and isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
        return
    for child in ast.iter_child_nodes(node):
        yield from statements(child, at_import_time_only)


def packages(names: set[str]) -> set[str]:
    return {name.partition(".")[0] for name in names}


def fresh_interpreter(code: str) -> str:
    """Run code in a new interpreter that stands in the checkout, and return what it printed."""
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def loaded_after(code: str) -> set[str]:
    """Return the modules that are loaded in a new interpreter after some code."""
    printed = fresh_interpreter(f"import sys\n{code}\nprint('modules:', *sys.modules)")
    return set(printed.rpartition("modules:")[2].split())


def test_the_import_reader_sees_every_form_of_import(tmp_path, monkeypatch):
    monkeypatch.setattr(sys.modules[__name__], "ROOT", tmp_path)
    path = tmp_path / "viewer" / "bench" / "example.py"
    path.parent.mkdir(parents=True)
    path.write_text(
        "import a.b\nfrom . import c\nfrom ..d import e\nclass F:\n    import g\ndef h():\n    from i import j\n"
    )
    at_import_time = {"a.b", "viewer.bench", "viewer.bench.c", "viewer.d", "viewer.d.e", "g"}
    assert imports(path, at_import_time_only=True) == at_import_time
    assert imports(path) == at_import_time | {"i", "i.j"}


@pytest.mark.parametrize(
    "code",
    [
        "import tonemap",
        "import tonemap\nfor name in tonemap.__all__: getattr(tonemap, name)",
        "import tonemap\ntonemap.find_operators()",
    ],
    ids=["package", "every public name", "operators found"],
)
def test_tonemap_loads_no_window_no_file_library_and_no_viewer(code):
    loaded = packages(loaded_after(code))
    assert "tonemap" in loaded
    assert not loaded & {*HEAVY, "viewer"}


def test_tonemap_adds_at_most_50_ms_of_processor_time_to_numpy():
    code = "import time, numpy\nstart = time.process_time()\nimport tonemap\nprint(time.process_time() - start)"
    seconds = [float(fresh_interpreter(code)) for _ in range(RUNS)]
    assert statistics.median(seconds) <= 0.05


@pytest.mark.parametrize("path", files("tonemap"), ids=module_name)
def test_tonemap_sources_import_only_numpy_and_themselves(path):
    used = packages(imports(path)) - sys.stdlib_module_names - {"numpy", "tonemap"}
    libraries = ROOM_LIBRARIES.get(path.parent.name, DOCUMENT_LIBRARIES.get(path.stem, set()))
    assert used <= libraries
    at_import_time = imports(path, at_import_time_only=True)
    if path.parent.name != "kernels" or path.stem == "__init__":
        assert not packages(at_import_time) & libraries, "import it inside the function"
        assert not {name for name in at_import_time if ".kernels." in name and "compiled_rows" not in name}


@pytest.mark.parametrize("path", files("tonemap/operators"), ids=module_name)
def test_no_operator_imports_another(path):
    assert not {name for name in imports(path) if name.startswith("tonemap.operators")}


def test_every_operator_is_a_pair_of_python_and_glsl():
    python = {path.stem for path in files("tonemap/operators")} - {"__init__"}
    glsl = {path.stem for path in files("shaders/operators", "*.glsl")}
    assert python
    assert python == glsl


@pytest.mark.parametrize("path", files("shaders", "*.glsl"), ids=lambda path: f"{path.parent.name}/{path.name}")
def test_glsl_operators_and_library_include_only_the_library(path):
    folders = ("lib/",) if path.parent.name == "operators" else ("lib/", "generated/")
    included = re.findall(r'^\s*#\s*include\s+"([^"]+)"', path.read_text(encoding="utf-8"), re.MULTILINE)
    assert not [name for name in included if not name.startswith(folders)]
    assert not [name for name in included if name.startswith("lib/") and not (ROOT / "shaders" / name).is_file()]


@pytest.mark.parametrize("module", ["viewer.compose", "viewer.bench.state", "viewer.bench.layout"])
def test_plain_parts_of_the_viewer_see_neither_gl_nor_imgui(module):
    path = ROOT.joinpath(*module.split(".")).with_suffix(".py")
    assert path.is_file()
    assert not packages(imports(path)) & SCREEN
    assert not packages(loaded_after(f"import {module}")) & SCREEN


@pytest.mark.parametrize(("room", "other"), [("viewer/gl", "viewer.bench"), ("viewer/bench/panels", "viewer.gl")])
def test_panels_and_gl_do_not_see_each_other(room, other):
    seen = {path.name: [name for name in imports(path) if name.startswith(other)] for path in files(room)}
    assert not {name: found for name, found in seen.items() if found}


def test_help_loads_no_heavy_package():
    code = "import sys\nsys.argv = ['trimbench', '--help']\nfrom viewer.commands import main\n"
    loaded = packages(loaded_after(code + "try:\n    main()\nexcept SystemExit as ended:\n    assert not ended.code"))
    assert "viewer" in loaded
    assert not loaded & HEAVY


def test_help_takes_less_than_300_ms_of_processor_time():
    program = Path(sysconfig.get_path("scripts")) / "trimbench"

    def seconds() -> float:
        before = os.times()
        done = subprocess.run([program, "--help"], cwd=ROOT, capture_output=True, check=False)
        after = os.times()
        assert done.returncode == 0, done.stderr
        return after.children_user + after.children_system - before.children_user - before.children_system

    assert statistics.median(seconds() for _ in range(RUNS)) < 0.3
