"""Set up what a checkout needs to run: Debian packages, and `.venv` with the project in it. Standard library only."""

from __future__ import annotations

import contextlib
import hashlib
import importlib
import importlib.util
import json
import os
import shlex
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

CHECKOUT = Path(__file__).resolve().parent.parent
VENV = CHECKOUT / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
STAMP = VENV / "trimbench-setup.json"
UNFINISHED = VENV / "trimbench-setup-unfinished"
LOG = VENV / "trimbench-setup.log"

LOWEST_PYTHON = (3, 11)
GL_PACKAGES = ("libegl1", "libgl1", "libegl-mesa0", "libgl1-mesa-dri", "libglx-mesa0", "libx11-6", "libxext6")
CPU_ENGINE_PACKAGES = ("glslang-tools",)
WINDOW_PACKAGES = (
    "libxrandr2",
    "libxinerama1",
    "libxcursor1",
    "libxi6",
    "libxrender1",
    "libxxf86vm1",
    "libx11-xcb1",
    "libxkbcommon0",
    "fonts-droid-fallback",  # names in Asian scripts
)
TEST_PACKAGES = ("xvfb", "xdotool")
VENV_PACKAGE = "python3-venv"


class SetupFailed(Exception):
    """The set-up can't go on; the message is one sentence for the user."""


@dataclass(frozen=True)
class Environment:
    """A finished set-up.

    Attributes
    ----------
    python : the interpreter that has the project and its packages
    advice : what the system may lack, as one sentence; empty when nothing is known to be missing
    """

    python: Path
    advice: str


def prepare(*, extras: Sequence[str] = (), for_tests: bool = False) -> Environment:
    """Set up the system packages and `.venv`, as far as that is not done yet.

    Parameters
    ----------
    extras : optional dependencies of the project that are needed
    for_tests : whether the packages that only the tests need are wanted as well

    Raises
    ------
    SetupFailed
        When Python is too old, or `.venv` can't be made.
    """
    if sys.version_info < LOWEST_PYTHON:
        lowest = ".".join(map(str, LOWEST_PYTHON))
        raise SetupFailed(f"Trimbench needs Python {lowest} or newer, and this is {sys.version.split()[0]}.")
    advice = _prepare_system(
        [*GL_PACKAGES, *CPU_ENGINE_PACKAGES, *WINDOW_PACKAGES, *(TEST_PACKAGES if for_tests else ())]
    )
    with _one_at_a_time():
        _prepare_venv(sorted(extras))
    return Environment(PYTHON, advice)


def _prepare_system(packages: list[str]) -> str:
    """Install the Debian packages that are missing; returns advice about those that could not be installed."""
    if importlib.util.find_spec("ensurepip") is None:
        packages = [VENV_PACKAGE, *packages]
    if shutil.which("dpkg-query") is None or shutil.which("apt-get") is None:
        return (
            "This system has no apt-get, so its packages were not checked: the window and the GPU engine need the "
            "EGL, OpenGL and X11 client libraries, and the tests need Xvfb and xdotool."
            if sys.platform.startswith("linux")
            else ""
        )
    missing = _missing(packages)
    if not missing:
        return ""
    install = ["apt-get", "install", "-y", "--no-install-recommends", *missing]
    as_root = _as_root()
    if as_root is None:
        advice = f"Debian packages are missing; install them with: sudo {shlex.join(install)}"
        print(advice, flush=True)
        return advice
    with _step(f"installing Debian packages: {' '.join(missing)}"):
        environment = [*as_root, "env", "DEBIAN_FRONTEND=noninteractive"]
        _output([*environment, "apt-get", "update"])  # lists may be absent or old; if this fails, the next says why
        status, output = _output([*environment, *install])
    if status == 0:
        return ""
    advice = f"Debian packages are missing, because this failed: {shlex.join(install)}"
    print(output, advice, sep="\n", flush=True)
    return advice


def _missing(packages: Sequence[str]) -> list[str]:
    _, output = _output(["dpkg-query", "--show", "--showformat=${Package} ${db:Status-Status}\n", *packages])
    installed = {line.split()[0] for line in output.splitlines() if line.endswith(" installed")}
    return [package for package in packages if package not in installed]


def _as_root() -> list[str] | None:
    """Return what to put before a command that needs root, or None when there is no way without asking."""
    if os.geteuid() == 0:
        return []
    if shutil.which("sudo") is not None and _output(["sudo", "-n", "true"])[0] == 0:
        return ["sudo", "-n"]
    return None


def _prepare_venv(extras: list[str]) -> None:
    """Bring `.venv` to what pyproject.toml asks for.

    A set-up that was interrupted leaves its marker, and is thrown away by the next one; so is one for another Python
    or another place. Otherwise the packages are brought up to date in place.
    """
    wanted = {
        "python": ".".join(map(str, sys.version_info[:2])),
        "place": str(VENV),
        "project": hashlib.sha256((CHECKOUT / "pyproject.toml").read_bytes()).hexdigest(),
    }
    made = _read_stamp()
    if made == {**wanted, "extras": sorted({*extras, *made.get("extras", ())})}:
        return
    if _is_reusable(wanted, made):
        extras = sorted({*extras, *made.get("extras", ())})
    else:
        _make_venv()
    UNFINISHED.touch()
    STAMP.unlink(missing_ok=True)
    project = f".[{','.join(extras)}]" if extras else "."
    with _step("installing the Python packages into .venv (the first time takes minutes)"):
        _run_logged([str(PYTHON), "-m", "pip", "install", "--disable-pip-version-check", "--editable", project])
    STAMP.write_text(json.dumps({**wanted, "extras": extras}), encoding="utf-8")
    UNFINISHED.unlink()


def _read_stamp() -> dict[str, Any]:
    """Return what the finished set-up noted about itself; nothing when there is none."""
    if UNFINISHED.exists() or not PYTHON.exists():
        return {}
    try:
        return dict(json.loads(STAMP.read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return {}


def _is_reusable(wanted: dict[str, str], made: dict[str, Any]) -> bool:
    """Whether an environment is there that packages can be added to; one without a stamp is a developer's own."""
    if UNFINISHED.exists() or not PYTHON.exists():
        return False
    if made and (made.get("python"), made.get("place")) != (wanted["python"], wanted["place"]):
        return False
    question = "import pip, sys; print('%d.%d' % sys.version_info[:2])"
    return _output([str(PYTHON), "-c", question]) == (0, wanted["python"] + "\n")


def _make_venv() -> None:
    importlib.invalidate_caches()  # the module may have been installed a moment ago
    if importlib.util.find_spec("ensurepip") is None:
        raise SetupFailed(f"Python can't make .venv without its module ensurepip; on Debian install {VENV_PACKAGE}.")
    with _step("making .venv"):
        shutil.rmtree(VENV, ignore_errors=True)
        VENV.mkdir()
        UNFINISHED.touch()
        base = getattr(sys, "_base_executable", sys.executable)  # this may run in the .venv that is being replaced
        _run_logged([base, "-m", "venv", str(VENV)])


def _run_logged(command: list[str]) -> None:
    """Run a command whose output matters only when it fails; then show it."""
    with LOG.open("w", encoding="utf-8") as log:
        status = subprocess.run(command, cwd=CHECKOUT, stdout=log, stderr=subprocess.STDOUT, check=False).returncode
    if status != 0:
        print(LOG.read_text(encoding="utf-8", errors="replace"), flush=True)
        raise SetupFailed(f"This command failed (its output is above): {shlex.join(command)}")


def _output(command: list[str]) -> tuple[int, str]:
    """Run a command and return its exit status and what it printed."""
    environment = {**os.environ, "LC_ALL": "C.UTF-8"}
    done = subprocess.run(
        command,
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
        check=False,
    )
    return done.returncode, done.stdout


@contextlib.contextmanager
def _step(what: str) -> Iterator[None]:
    """Say what is being done, and how long it took."""
    print(f"{what} ...", flush=True)
    start = time.monotonic()
    yield
    print(f"  done in {time.monotonic() - start:.0f} s", flush=True)


@contextlib.contextmanager
def _one_at_a_time() -> Iterator[None]:
    """Let a second set-up of this checkout wait for the first, where the system has file locks."""
    try:
        import fcntl
    except ImportError:
        yield
        return
    with (CHECKOUT / "pyproject.toml").open("rb") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield
