"""The settings file: its place, what survives in it, what it refuses."""

import subprocess
import sys
from pathlib import Path

import pytest

from tonemap.errors import TrimbenchError
from viewer.bench.places import settings_path, state_folder
from viewer.settings_file import SettingsFile


def test_comments_and_unknown_settings_stay(tmp_path):
    path = tmp_path / "settings.toml"
    path.write_text(
        '# mine\n[monitor]\nsignal = "sdr"  # for now\nfuture = 3\nsdr_white = 203.0\n\n[other]\nx = [1, 2]\n'
    )
    SettingsFile(path).keep("monitor", {"signal": "pq", "peak": 1000.0, "sdr_white": None})
    text = path.read_text()
    assert "# mine" in text
    assert "# for now" in text
    assert SettingsFile(path).table("monitor") == {"signal": "pq", "future": 3, "peak": 1000.0}
    assert SettingsFile(path).table("other") == {"x": [1, 2]}
    assert list(tmp_path.iterdir()) == [path]


def test_a_file_that_is_not_there_is_empty_and_is_made_in_the_platforms_place(tmp_path):
    """The XDG Base Directory Specification 0.8: settings of a user lie in $XDG_CONFIG_HOME."""
    settings = SettingsFile(settings_path({"XDG_CONFIG_HOME": str(tmp_path / "deep")}, "linux"))
    assert settings.table("monitor") == {}
    assert not settings.path.exists()
    settings.keep("interface", {"size": 1.5})
    assert settings.path == tmp_path / "deep" / "trimbench" / "settings.toml"
    assert settings.path.read_text() == "[interface]\nsize = 1.5\n"


def test_every_system_has_its_place_for_settings_and_for_unsaved_work(monkeypatch, tmp_path):
    """The XDG Base Directory Specification 0.8; of macOS and Windows their own folders, from memory."""
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    given = {"XDG_CONFIG_HOME": "relative", "APPDATA": "/roam", "LOCALAPPDATA": "/local"}
    assert settings_path(given, "linux") == tmp_path / ".config/trimbench/settings.toml"  # a relative one is ignored
    assert settings_path({}, "linux") == tmp_path / ".config/trimbench/settings.toml"
    assert state_folder({}, "linux") == tmp_path / ".local/state/trimbench"
    assert settings_path(given, "darwin") == tmp_path / "Library/Application Support/trimbench/settings.toml"
    assert state_folder(given, "darwin") == tmp_path / "Library/Application Support/trimbench"
    assert settings_path(given, "win32") == Path("/roam/trimbench/settings.toml")
    assert state_folder(given, "win32") == Path("/local/trimbench")
    assert settings_path({}, "win32") == tmp_path / "AppData/Roaming/trimbench/settings.toml"


@pytest.mark.parametrize("text", [b"monitor = [", b"\xff\xfe\x00", b'monitor = "big"\n'])
def test_a_broken_file_is_said_and_never_written_over(tmp_path, text):
    path = tmp_path / "settings.toml"
    path.write_bytes(text)
    for act in (lambda file: file.table("monitor"), lambda file: file.keep("monitor", {"peak": 1.0})):
        with pytest.raises(TrimbenchError) as caught:
            act(SettingsFile(path))
        assert str(caught.value).startswith(f"{path}: ")
        assert "\n" not in str(caught.value)
    assert path.read_bytes() == text


def test_a_place_that_can_not_be_written_is_said(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(TrimbenchError, match=r"settings.toml: .*; "):
        SettingsFile(tmp_path / "file" / "settings.toml").keep("monitor", {"peak": 1.0})


def test_the_tests_have_folders_of_their_own(homes):
    code = "from viewer.bench.places import *; print(settings_path(), state_folder(), sep='\\n')"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    for path in (*map(Path, done.stdout.splitlines()), settings_path(), state_folder()):
        assert path.is_relative_to(homes)
        assert not path.exists()
