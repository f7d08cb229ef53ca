"""A file appears whole or not at all."""

import os

import pytest

from tonemap.errors import TrimbenchError
from tonemap.media.whole_file import whole_file


def refusal(path, text="new", overwrite=False):
    with pytest.raises(TrimbenchError) as caught, whole_file(path, overwrite) as part:
        part.write_text(text)
    return str(caught.value)


def test_the_name_is_given_at_the_end(tmp_path):
    path = tmp_path / "a.txt"
    with whole_file(path) as part:
        part.write_text("new")
        assert part.parent == tmp_path
        assert not path.exists()
    assert path.read_text() == "new"
    assert list(tmp_path.iterdir()) == [path]


def test_an_interrupted_write_leaves_the_old_file(tmp_path):
    path = tmp_path / "a.txt"
    path.write_text("old")

    def write_half():
        with whole_file(path, overwrite=True) as part:
            part.write_text("half")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_half()
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_file_that_appears_meanwhile_is_kept(tmp_path):
    path = tmp_path / "a.txt"

    def write_too_late():
        with whole_file(path) as part:
            part.write_text("new")
            path.write_text("somebody's")

    with pytest.raises(TrimbenchError):
        write_too_late()
    assert path.read_text() == "somebody's"
    assert list(tmp_path.iterdir()) == [path]


def test_a_link_stays_a_link(tmp_path):
    (tmp_path / "real.txt").write_text("old")
    (tmp_path / "link.txt").symlink_to("real.txt")
    with whole_file(tmp_path / "link.txt", overwrite=True) as part:
        part.write_text("new")
    assert (tmp_path / "link.txt").is_symlink()
    assert (tmp_path / "real.txt").read_text() == "new"


def test_what_exists_is_refused(tmp_path):
    path = tmp_path / "a.txt"
    path.write_text("old")
    assert refusal(path) == f"{path}: the file exists; choose another name, or give --overwrite to replace it"
    assert refusal(tmp_path, overwrite=True) == f"{tmp_path}: this is a folder; give the name of a file to write"


def test_a_missing_folder_is_refused(tmp_path):
    path = tmp_path / "none" / "a.txt"
    assert refusal(path) == (
        f"{path}: can't be written: No such file or directory; nothing of it is kept; choose another place, or make "
        "room"
    )


@pytest.mark.parametrize(
    ("number", "reason"),
    [(13, "Permission denied"), (28, "No space left on device"), (30, "Read-only file system")],
)
def test_what_the_system_refuses_is_said_and_nothing_is_kept(tmp_path, monkeypatch, number, reason):
    def refuse(_):
        raise OSError(number, os.strerror(number))

    path = tmp_path / "a.txt"
    path.write_text("old")
    monkeypatch.setattr(os, "fsync", refuse)  # the tests may run as root, whom no permission stops
    assert (
        refusal(path, overwrite=True) == f"{path}: can't be written: {reason}; nothing of it is kept; "
        "choose another place, or make room"
    )
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]
