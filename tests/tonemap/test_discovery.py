"""Discovery: a folder is listed and not run; packages are found by their entry points, installed for real."""

import statistics
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tonemap.host import find_operators

ROOT = Path(__file__).resolve().parents[2]
PAIR = """
import sys
sys.was_run = getattr(sys, "was_run", ()) + (__name__,)

from tonemap.operator import Operator


class Any(Operator):
    interface_version = 1
    name = title = "{name}"
    kind = "tone"
    source = "a test"

    def apply(self, light, p):
        return light * 0.5
"""
GLSL = '#include "lib/levels.glsl"\nvec3 {name}(vec3 light, Levels levels) {{ return light * 0.5; }}\n'


def write_pairs(folder: Path, count: int) -> None:
    for number in range(count):
        (folder / f"own_{number}.py").write_text(PAIR.format(name=f"own_{number}"))
        (folder / f"own_{number}.glsl").write_text(GLSL.format(name=f"own_{number}"))


def test_nothing_of_a_folder_runs_before_it_is_asked_for(tmp_path, monkeypatch):
    write_pairs(tmp_path, 3)
    monkeypatch.setattr(sys, "was_run", (), raising=False)
    host = find_operators([tmp_path])
    assert {"own_0", "own_1", "own_2"} <= set(host.names)
    assert sys.was_run == ()
    host.get("own_1")
    assert [name.rpartition(".")[2] for name in sys.was_run] == ["own_1"]
    assert not (tmp_path / "__pycache__").exists()


def test_a_hundred_operators_add_at_most_50_ms_to_the_start(tmp_path):
    """The bar of issue 5."""
    write_pairs(tmp_path, 100)

    def seconds(folders: list[Path]) -> float:
        start = time.process_time()
        assert len(find_operators(folders).names) > 100 * len(folders)
        return time.process_time() - start

    added = statistics.median(seconds([tmp_path]) - seconds([]) for _ in range(9))
    assert added < 0.05, added


@pytest.fixture(scope="module")
def installed(tmp_path_factory):
    """Install a tiny package with an entry point into a folder of its own."""
    source, target = tmp_path_factory.mktemp("source"), tmp_path_factory.mktemp("installed")
    package = source / "lantern_trims"
    package.mkdir()
    (package / "__init__.py").write_text("")
    (package / "own_trim.py").write_text(PAIR.format(name="own_trim"))
    (package / "own_trim.glsl").write_text(GLSL.format(name="own_trim"))
    (source / "pyproject.toml").write_text(
        '[build-system]\nrequires = ["setuptools"]\nbuild-backend = "setuptools.build_meta"\n'
        '[project]\nname = "lantern-trims"\nversion = "1.2"\n'
        '[project.entry-points."trimbench.operators"]\nown_trim = "lantern_trims.own_trim:Any"\n'
        '[tool.setuptools]\npackages = ["lantern_trims"]\n[tool.setuptools.package-data]\nlantern_trims = ["*.glsl"]\n'
    )
    options = ["--no-deps", "--no-build-isolation", "--quiet", "--disable-pip-version-check", "--target", str(target)]
    command = [sys.executable, "-m", "pip", "install", *options, str(source)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return target


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["operators", "list"], "own_trim"),
        (["operators", "show", "own_trim"], "own_trim"),
        (["parity", "own_trim", "--pixels", "1000"], "every operator meets the bar"),
    ],
    ids=lambda words: " ".join(words[:2]) if isinstance(words, list) else "",
)
def test_an_installed_package_is_available_in_every_command(installed, words, said):
    from os import environ

    done = subprocess.run(
        [sys.executable, "-m", "viewer", *words],
        env={**environ, "PYTHONPATH": f"{ROOT}:{installed}"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert said in done.stdout
