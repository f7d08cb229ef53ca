"""The set-up of a checkout: done once, redone when it was interrupted or no longer fits, never half used."""

import sys
from pathlib import Path

import pytest

from demo import environment


@pytest.fixture
def commands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Give a checkout of its own, where the slow commands are only noted: 'venv', or what pip was asked for."""
    noted: list[str] = []

    def note(command: list[str]) -> None:
        noted.append("venv" if "venv" in command else command[-1])
        if "venv" in command:
            make_python()

    venv = tmp_path / ".venv"
    monkeypatch.setattr(environment, "CHECKOUT", tmp_path)
    monkeypatch.setattr(environment, "VENV", venv)
    for name in ("PYTHON", "STAMP", "UNFINISHED", "LOG"):
        place = getattr(environment, name)
        monkeypatch.setattr(
            environment, name, venv / place.relative_to(Path(environment.__file__).parents[1] / ".venv")
        )
    monkeypatch.setattr(environment, "_prepare_system", lambda packages: "")
    monkeypatch.setattr(environment, "_run_logged", note)
    version = ".".join(map(str, sys.version_info[:2]))
    monkeypatch.setattr(environment, "_output", lambda command: (0, f"{version}\n"))  # what make_python's would answer
    (tmp_path / "pyproject.toml").write_text("[project]")
    return noted


def make_python() -> None:
    environment.PYTHON.parent.mkdir(parents=True)
    environment.PYTHON.touch()


def fail_at(monkeypatch: pytest.MonkeyPatch, word: str) -> None:
    note = environment._run_logged

    def failing(command: list[str]) -> None:
        if word in command:
            raise environment.SetupFailed("it failed")
        note(command)

    monkeypatch.setattr(environment, "_run_logged", failing)


def test_a_second_set_up_has_nothing_to_do(commands):
    environment.prepare()
    environment.prepare()
    assert commands == ["venv", "."]


def test_extras_are_added_and_stay(commands):
    environment.prepare()
    environment.prepare(extras=["test"])
    environment.prepare()
    (environment.CHECKOUT / "pyproject.toml").write_text("[project] # changed")
    environment.prepare()
    assert commands == ["venv", ".", ".[test]", ".[test]"]


def test_an_environment_that_a_developer_made_is_used(commands):
    make_python()
    environment.prepare()
    assert commands == ["."]


@pytest.mark.parametrize("word", ["venv", "pip"])
def test_a_set_up_that_failed_is_done_again_from_the_start(commands, monkeypatch, word):
    with monkeypatch.context() as patch:
        fail_at(patch, word)
        with pytest.raises(environment.SetupFailed):
            environment.prepare()
    del commands[:]
    environment.prepare()
    assert commands == ["venv", "."]


def test_an_update_that_failed_is_done_again_from_the_start(commands, monkeypatch):
    environment.prepare()
    with monkeypatch.context() as patch:
        fail_at(patch, "pip")
        with pytest.raises(environment.SetupFailed):
            environment.prepare(extras=["test"])
    del commands[:]
    environment.prepare()
    assert commands == ["venv", "."]


def test_an_environment_for_another_place_or_python_is_made_again(commands):
    environment.prepare()
    for key in ("place", "python"):
        stamp = environment.STAMP.read_text()
        environment.STAMP.write_text(stamp.replace(f'"{key}": "', f'"{key}": "other'))
        del commands[:]
        environment.prepare()
        assert commands == ["venv", "."]


def test_an_old_python_is_refused_in_one_sentence(commands, monkeypatch):
    monkeypatch.setattr(sys, "version_info", (3, 9, 2))
    monkeypatch.setattr(sys, "version", "3.9.2 (main)")
    with pytest.raises(
        environment.SetupFailed, match=r"^Trimbench needs Python 3\.11 or newer, and this is 3\.9\.2\.$"
    ):
        environment.prepare()
    assert not commands


def test_missing_packages_without_root_are_named_with_the_command(monkeypatch, capsys):
    monkeypatch.setattr("shutil.which", lambda name: name)
    monkeypatch.setattr(environment, "_missing", lambda packages: ["libegl1", "xvfb"])
    monkeypatch.setattr(environment, "_as_root", lambda: None)
    advice = (
        "Debian packages are missing; install them with: sudo apt-get install -y --no-install-recommends libegl1 xvfb"
    )
    assert environment._prepare_system([]) == advice
    assert capsys.readouterr().out == advice + "\n"
