"""trimbench line-up: files that say what they are, the caution first, and nothing very bright unasked."""

import json

import numpy as np
import pytest

from tonemap.encoding import Encoding, sdr_target
from tonemap.line_up.patterns import CAUTION, PATTERNS, draw_pattern
from tonemap.media.oiio import read_picture
from viewer.line_up import set_type

SMALL = ("--size", "640x360")


@pytest.mark.parametrize("file_format", ["dpx", "tif", "png"])
def test_files_hold_the_patterns_codes_and_their_encoding(trimbench, tmp_path, file_format):
    done = trimbench("line-up", "--write", tmp_path, *SMALL, "--format", file_format, "--pattern", "mode-check")
    assert (done.status, done.err) == (0, "")
    bits, signal_range = (10, "narrow") if file_format == "dpx" else (16, "full")
    for signal, encoding in {
        "pq": Encoding("pq", "bt2020", signal_range, bits),
        "sdr": Encoding("bt1886", "bt709", signal_range, bits, 100.0),
    }.items():
        read = read_picture(tmp_path / f"mode-check.{signal}.{file_format}")
        assert read.picture.encoding == encoding
        assert not read.notices
        expected = draw_pattern("mode-check", encoding, 640, 360, set_type)
        np.testing.assert_array_equal(read.picture.samples, expected)


def test_the_caution_comes_before_the_first_file_and_very_bright_windows_are_left_out(trimbench, tmp_path):
    done = trimbench("line-up", "--write", tmp_path, *SMALL, "--signal", "pq")
    assert done.status == 0
    assert done.out.splitlines()[0] == f"caution: {CAUTION}"
    assert done.out.splitlines()[-1] == (
        "left out, for they are very bright: window-25.pq.png, window-50.pq.png, window-100.pq.png; "
        "--bright writes them too"
    )
    (steps,) = [line for line in done.out.splitlines() if "steps.pq.png" in line]
    assert steps.endswith("; very bright: up to 4000 cd/m², more than 1000 on 4.5 % of the area, mean 178")
    assert done.out.count("very bright: up to") == 1
    written = {path.name for path in tmp_path.iterdir()}
    assert written == {f"{name}.pq.png" for name in PATTERNS} - {f"window-{n}.pq.png" for n in (25, 50, 100)}


def test_bright_windows_are_written_when_they_are_asked_for(trimbench, tmp_path):
    words = ["line-up", "--write", tmp_path, *SMALL, "--signal", "pq", "--pattern", "window-100", "--bright", "--json"]
    report = json.loads(trimbench(*words).out)
    assert report["caution"] == CAUTION
    assert [each["pattern"] for each in report["written"]] == ["window-100"]
    assert report["left out"] == []


def test_what_exists_stays(trimbench, tmp_path):
    path = tmp_path / "steps.pq.dpx"
    path.write_bytes(b"mine")
    words = ["line-up", "--write", tmp_path, *SMALL, "--signal", "pq", "--format", "dpx"]
    done = trimbench(*words)
    assert done.status == 1
    assert done.err == (f"trimbench: {path}: the file exists; choose another name, or give --overwrite to replace it\n")
    assert [each.name for each in tmp_path.iterdir()] == ["steps.pq.dpx"]
    assert path.read_bytes() == b"mine"
    assert trimbench(*words, "--pattern", "steps", "--overwrite").status == 0
    assert read_picture(path).picture.encoding.transfer == "pq"


def test_the_monitor_of_the_call_is_that_of_the_files(trimbench, tmp_path):
    words = ["--pattern", "black-level", "--format", "dpx", "--peak", 600, "--primaries", "p3-d65", "--black", 0.05]
    assert trimbench("line-up", "--write", tmp_path / "new" / "folder", *SMALL, *words).status == 0
    pq, sdr = (read_picture(tmp_path / "new" / "folder" / f"black-level.{each}.dpx") for each in ("pq", "sdr"))
    assert pq.picture.encoding == Encoding("pq", "p3-d65", "narrow", 10, 600.0)
    assert sdr.picture.encoding == Encoding("bt1886", "p3-d65", "narrow", 10, 100.0, 0.05)
    assert sdr.picture.encoding != sdr_target()


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--size", "12x"], "--size '12x' is no size; give it as 3840x2160"),
        (["--pattern", "wall"], "pattern 'wall' is not known; choose one of "),
        (["--peak", "0.1"], "peak = 0.1 is outside 1..10000 cd/m2; give the display's peak luminance"),
    ],
)
def test_a_wrong_call_is_one_sentence_and_writes_nothing(trimbench, tmp_path, words, sentence):
    done = trimbench("line-up", "--write", tmp_path / "out", *words)
    assert done.status == 2
    assert sentence in done.err
    assert done.err.count("\n") == 1
    assert not (tmp_path / "out").exists()
