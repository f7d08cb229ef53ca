"""Every kind of fault of an operator is one sentence, exit status 1 and nothing written; the other operators work."""

import json
import re
import sys
from pathlib import Path

import numpy as np
import pytest

from tests.broken_operators import FAULTS, HARMLESS, write_broken, write_changed, write_clash, write_harmless


@pytest.mark.parametrize("kind", FAULTS)
def test_a_fault_is_one_sentence_and_nothing_is_written(kind, trimbench, master, tmp_path):
    sentence = write_broken(tmp_path, kind)
    output = tmp_path / "sdr.tif"
    words = ["--operators", tmp_path, "--gamut", "gamut_clip", "--engine", "gpu"]
    outcome = trimbench("render", master, "-o", output, "--tone", "bad", *words)
    assert outcome.status == 1
    assert re.fullmatch(rf"trimbench: {sentence}\n", outcome.err), outcome.err
    assert not output.exists()
    assert trimbench("render", master, "-o", output, "--tone", "knee", *words).status == 0


@pytest.mark.parametrize("kind", FAULTS)
def test_the_check_says_it_and_fails(kind, trimbench, tmp_path):
    sentence = write_broken(tmp_path, kind)
    outcome = trimbench("operators", "check", f"{tmp_path}/", "--pixels", "1000")
    assert outcome.status == 1
    assert re.search(sentence, outcome.out + outcome.err), outcome


def test_a_name_that_is_taken_is_said_with_both_origins(trimbench, master, tmp_path):
    sentence = write_clash(tmp_path)
    outcome = trimbench("render", master, "-o", tmp_path / "sdr.tif", "--tone", "knee", "--operators", tmp_path)
    assert outcome.status == 0
    assert outcome.err.startswith(f"trimbench: {sentence}")
    assert outcome.err.endswith("tonemap/operators/knee.py\n")


def test_a_twin_that_alone_makes_nan_is_named_by_the_check(trimbench, tmp_path):
    """The Python is finite; the chain would cut the NaN, each driver in its own way."""
    write_changed(tmp_path, "return light * share;", "return light * share * (light / light);")
    outcome = trimbench("operators", "check", f"{tmp_path}/", "--pixels", "1000")
    assert outcome.status == 1
    sentence = rf"the GLSL makes \(nan, nan, nan\) of the light \(0, 0, 0\) cd/m2; correct {tmp_path}/bad\.glsl"
    assert re.search(rf"FAIL  finite in GLSL +{sentence}", outcome.out), outcome.out


@pytest.mark.parametrize("kind", HARMLESS)
def test_what_is_no_fault_is_drawn(kind, trimbench, master, tmp_path):
    write_harmless(tmp_path, kind)
    words = ["--tone", "bad", "--operators", tmp_path, "--gamut", "gamut_clip", "--engine", "gpu"]
    outcome = trimbench("render", master, "-o", tmp_path / "sdr.tif", *words)
    assert (outcome.status, outcome.err) == (0, "")


def test_a_file_may_have_the_name_of_the_function_that_it_holds(trimbench, master, tmp_path):
    write_changed(tmp_path, "vec3 bad(", '#include "curve.glsl"\nvec3 bad(')
    (tmp_path / "curve.glsl").write_text("vec3 curve(vec3 light) { return light; }\n")
    glsl = tmp_path / "bad.glsl"
    glsl.write_text(glsl.read_text().replace("light * share", "curve(light) * share"))
    words = ["--tone", "bad", "--operators", tmp_path, "--gamut", "gamut_clip", "--engine", "gpu"]
    assert trimbench("render", master, "-o", tmp_path / "sdr.tif", *words).status == 0


def test_what_a_module_prints_or_upsets_is_kept_from_others(trimbench, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    upset = "import os, sys\nimport numpy\nprint('hello')\nos.chdir('/')\nsys.path.clear()\nnumpy.seterr(all='raise')\n"
    write_changed(tmp_path, "from tonemap", f"{upset}from tonemap")
    outcome = trimbench("operators", "show", "bad", "--operators", ".", "--json")
    assert outcome.status == 0
    assert json.loads(outcome.out)["name"] == "bad"
    assert outcome.err == "hello\n"
    assert Path.cwd() == tmp_path
    assert sys.path
    assert np.geterr()["under"] == "ignore"
