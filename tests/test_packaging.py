"""What a user installs: a built wheel holds every shader and font, and the package finds them there."""

import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGES = ("tonemap", "shaders", "viewer")


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build a wheel from a copy of the sources, and unpack it as an installer does."""
    folder = tmp_path_factory.mktemp("wheel")
    source = folder / "source"
    for package in PACKAGES:
        shutil.copytree(ROOT / package, source / package, ignore=shutil.ignore_patterns("__pycache__"))
    for path in ROOT.iterdir():
        if path.suffix in (".toml", ".md") or path.name == "LICENSE":
            shutil.copy(path, source)
    build = [sys.executable, "-m", "pip", "wheel", "--no-build-isolation", "--no-deps", "--no-index"]
    done = subprocess.run([*build, "-w", folder, source], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    with zipfile.ZipFile(next(folder.glob("*.whl"))) as wheel:
        wheel.extractall(folder / "installed")
    return folder / "installed"


@pytest.mark.parametrize("package", PACKAGES)
def test_wheel_holds_every_file_of_the_packages(installed, package):
    def held(root: Path) -> set[str]:
        files = (path for path in (root / package).rglob("*") if path.is_file() and "__pycache__" not in path.parts)
        return {str(path.relative_to(root)) for path in files}

    assert held(ROOT)
    assert held(installed) == held(ROOT)


def test_wheel_holds_the_licences(installed):
    held = {path.name for path in installed.glob("*.dist-info/licenses/**/*") if path.is_file()}
    assert held == {"LICENSE", "OFL.txt"}


def test_installed_packages_find_their_shaders_fonts_and_operators(installed):
    code = """
import importlib.resources, pathlib, sys
place = pathlib.Path(sys.argv[1])
sys.path.insert(0, str(place))
import tonemap
shaders, viewer = importlib.resources.files("shaders"), importlib.resources.files("viewer")
assert (shaders / "lib" / "transfer.glsl").is_file()
assert (shaders / "main" / "rendition.frag").is_file()
assert list((viewer / "fonts").iterdir())
host = tonemap.find_operators()
assert not host.refused, host.refused
assert {place} == {item.glsl_file.parents[2] for item in host.operators.values()}
"""
    command = [sys.executable, "-c", code, installed]
    done = subprocess.run(command, cwd=installed, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
