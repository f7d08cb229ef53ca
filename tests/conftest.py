"""What every test run shares: where it ran, folders that are not the user's, an operator that is installed for real."""

import itertools
import platform
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, settings

# A found example may take as long as it does: how long is a matter of what else the machine does.
settings.register_profile("patient", settings(), deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("patient")

OWN_TRIM = """
import numpy as np

from tonemap.operator import Operator, Parameter


class OwnTrim(Operator):
    interface_version = 1
    name = "own_trim"
    title = "Own trim"
    kind = "tone"
    source = "a test"
    parameters = (Parameter(name="share", unit="", default=0.4, minimum=0.1, maximum=1.0, help="Of the light."),)

    def apply(self, light, p):
        return np.minimum(p.share * light, p.levels.target_peak)
"""
OWN_TRIM_GLSL = """
#include "lib/levels.glsl"

vec3 own_trim(vec3 light, Levels levels, float share)
{
    return min(share * light, vec3(levels.target_peak));
}
"""
PYPROJECT = """
[build-system]
requires = ["setuptools"]
build-backend = "setuptools.build_meta"
[project]
name = "lantern-trims"
version = "1.2"
[project.entry-points."trimbench.operators"]
own_trim = "lantern_trims.own_trim:OwnTrim"
[tool.setuptools]
packages = ["lantern_trims"]
[tool.setuptools.package-data]
lantern_trims = ["*.glsl"]
"""


NUMBERS = itertools.count()


@pytest.fixture(scope="session")
def homes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder below which every test has folders of its own for the program's settings and unsaved work."""
    return tmp_path_factory.mktemp("homes")


@pytest.fixture(autouse=True)
def home(homes: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep a test, and every process that it starts, away from the user's settings and unsaved work."""
    own = homes / str(next(NUMBERS))  # it is made by whoever writes there
    monkeypatch.setenv("XDG_CONFIG_HOME", str(own / "config"))
    monkeypatch.setenv("XDG_STATE_HOME", str(own / "state"))


@pytest.fixture(scope="session")
def packaged_operator(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Install a package with the entry point 'own_trim' by pip, into a folder of its own; returns the folder."""
    source, target = tmp_path_factory.mktemp("source"), tmp_path_factory.mktemp("installed")
    package = source / "lantern_trims"
    package.mkdir()
    (package / "__init__.py").write_text("")
    (package / "own_trim.py").write_text(OWN_TRIM)
    (package / "own_trim.glsl").write_text(OWN_TRIM_GLSL)
    (source / "pyproject.toml").write_text(PYPROJECT)
    options = ["--no-deps", "--no-build-isolation", "--quiet", "--disable-pip-version-check", "--target", str(target)]
    command = [sys.executable, "-m", "pip", "install", *options, str(source)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return target


def pytest_report_header() -> str:
    """Name the system and the NumPy that the figures of this run belong to."""
    return f"system: {platform.platform()}, NumPy {np.__version__}"
