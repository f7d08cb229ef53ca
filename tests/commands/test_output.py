"""Standard output that can't be written: one sentence, exit status 1; a reader that has gone: not a word."""

import os
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SENTENCE = "trimbench: standard output can't be written: No space left on device; make room, or send it elsewhere\n"
SAYING = [["operators", "list"], ["operators", "list", "--json"], ["operators", "show", "knee"], ["--help"]]


def run(words: list[str], output: int | None, is_buffered: bool) -> subprocess.CompletedProcess[str]:
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONUNBUFFERED"}
    environment = {**kept, "PYTHONPATH": str(ROOT), **({} if is_buffered else {"PYTHONUNBUFFERED": "1"})}
    command = [sys.executable, "-m", "viewer", *words]
    return subprocess.run(
        command, stdout=output, stderr=subprocess.PIPE, text=True, env=environment, check=False, timeout=300
    )


@pytest.mark.parametrize("is_buffered", [True, False], ids=["buffered", "unbuffered"])
@pytest.mark.parametrize("words", SAYING, ids=" ".join)
def test_a_full_device_is_one_sentence(words, is_buffered):
    with Path("/dev/full").open("w") as full:
        done = run(words, full.fileno(), is_buffered)
    assert (done.returncode, done.stderr) == (1, SENTENCE)


def test_work_that_is_done_before_stays(master, tmp_path):
    with Path("/dev/full").open("w") as full:
        done = run(["render", str(master), "-o", str(tmp_path / "o.tif"), "--engine", "reference"], full.fileno(), True)
    assert (done.returncode, done.stderr) == (1, SENTENCE)
    assert (tmp_path / "o.tif").is_file()


@pytest.mark.parametrize(("words", "status"), [(["operators", "list", "--operators", "."], 0), (["lut"], 2)])
def test_words_that_can_not_be_said_do_not_stop_the_work(words, status, tmp_path):
    """A device that is full of messages: a notice of an operator that is refused, and the sentence of a wrong call."""
    (tmp_path / "mine.py").write_text("import nothing_of_that_name")
    (tmp_path / "mine.glsl").write_text("")
    command = [sys.executable, "-m", "viewer", *words]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            command, stdout=subprocess.PIPE, stderr=full, env=environment, cwd=tmp_path, check=False, timeout=300
        )
    assert done.returncode == status
    assert (b"gamut_hue" in done.stdout) == (status == 0)


@pytest.mark.parametrize("is_buffered", [True, False], ids=["buffered", "unbuffered"])
@pytest.mark.parametrize("words", SAYING, ids=" ".join)
def test_a_reader_that_has_gone_is_not_a_word(words, is_buffered):
    read_end, write_end = os.pipe()
    os.close(read_end)
    done = run(words, write_end, is_buffered)
    os.close(write_end)
    assert (done.returncode, done.stderr) == (1, "")


@pytest.mark.parametrize("closed", ["<&-", "2>&-", "<&- 2>&-", "<&- >&- 2>&-"])
def test_what_the_caller_has_closed_is_nobody_s(closed, master, tmp_path):
    """No file of ours gets its number, and no word goes elsewhere."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    wrong = ["measure", str(tmp_path / "absent.png")]
    one = master.rename(tmp_path / "x.0001.png")
    words = ["render", str(one), "--sequence", "-o", str(tmp_path / "o/x.%04d.png"), "--engine", "reference"]
    for call, status in ((words, 0), (wrong, 1)):
        line = shlex.join([sys.executable, "-m", "viewer", *call])
        done = subprocess.run(
            ["sh", "-c", f"{line} {closed}"], capture_output=True, text=True, env=environment, check=False, timeout=300
        )
        assert done.returncode == status
        assert ("absent" in done.stderr) == (status == 1 and "2>" not in closed)
        assert ("x.%04d.png" in done.stdout) == (status == 0 and " >" not in closed)
        assert "absent" not in done.stdout
    assert (tmp_path / "o/x.0001.png").is_file()
