"""Which engine does the work: a card's where there is one, else the processor's; what is said where one is lacking."""

import shutil

import numpy as np
import pytest

from tonemap.errors import TrimbenchError
from tonemap.media.oiio import read_picture
from viewer.commands import options
from viewer.engine import GpuEngine
from viewer.gl.context import NO_GL, OffscreenContext
from viewer.vectors.program import COMPILER

PYTHON = '''
"""Halves the light."""

import numpy as np

from tonemap.operator import Array, Operator, Values


class Halved(Operator):
    """Half of it."""

    interface_version = 1
    name = "halved"
    title = "Halved"
    kind = "tone"
    source = "a test"

    def apply(self, light: Array, p: Values) -> Array:
        """Return half, within the peak."""
        result: Array = np.minimum(0.5 * light, p.levels.target_peak)
        return result
'''
WITH_A_GLOBAL = """
#include "lib/levels.glsl"

float share;

void set_share() { share = 0.5; }

vec3 halved(vec3 light, Levels levels)
{
    set_share();
    return min(share * light, levels.target_peak);
}
"""


@pytest.fixture
def no_gl(monkeypatch):
    def refuse(self: OffscreenContext) -> None:
        raise TrimbenchError(NO_GL)

    monkeypatch.setattr(OffscreenContext, "__init__", refuse)


@pytest.fixture
def no_compiler(monkeypatch):
    found = shutil.which
    monkeypatch.setattr(shutil, "which", lambda name, *words: None if name == COMPILER else found(name, *words))


def engine_name(wish: str | None = None) -> str:
    engine = options.engine_of(wish)
    if hasattr(engine, "close"):
        engine.close()
    return engine.name


def test_a_card_does_the_work_where_there_is_one(monkeypatch):
    monkeypatch.setattr("viewer.engine.is_software", lambda renderer: False)
    assert engine_name() == "gpu"


def test_without_a_card_the_processor_does(trimbench, master, tmp_path):
    outcome = trimbench("render", master, "-o", tmp_path / "sdr.tif")
    assert (outcome.status, outcome.err) == (0, "")
    assert "engine: cpu (" in outcome.out
    assert engine_name("gpu") == "gpu"
    assert engine_name("reference") == "reference"


def test_without_gl_the_processor_does(no_gl):
    assert engine_name() == engine_name("cpu") == "cpu"


def test_without_glslang_a_software_rasteriser_does(no_compiler):
    assert engine_name() == "gpu"


def test_without_both_the_reference_does_and_the_result_says_so(trimbench, master, tmp_path, no_gl, no_compiler):
    outcome = trimbench("render", master, "-o", tmp_path / "sdr.tif")
    assert outcome.status == 0
    assert "engine: reference (NumPy float64)" in outcome.out


def test_asking_for_what_is_not_there_is_one_sentence(trimbench, master, tmp_path, no_gl, no_compiler):
    for engine, sentence in (
        ("gpu", NO_GL),
        (
            "cpu",
            "the cpu engine needs glslang, and there is no glslangValidator here; install it (on Debian: "
            "glslang-tools), or use --engine gpu or reference",
        ),
    ):
        outcome = trimbench("render", master, "-o", tmp_path / "sdr.tif", "--engine", engine)
        assert (outcome.status, outcome.err) == (1, f"trimbench: {sentence}\n")
        assert not (tmp_path / "sdr.tif").exists()
    assert "libegl1-mesa" not in NO_GL
    assert "--engine cpu or reference" in NO_GL


@pytest.fixture
def halved(tmp_path):
    (tmp_path / "own").mkdir()
    (tmp_path / "own/halved.py").write_text(PYTHON)
    (tmp_path / "own/halved.glsl").write_text(WITH_A_GLOBAL)
    return tmp_path / "own"


def test_another_engine_takes_the_place_of_the_processor_for_what_it_does_not_know(trimbench, master, tmp_path, halved):
    words = ["--tone", "halved", "--gamut", "gamut_clip", "--operators", halved]
    outcome = trimbench("render", master, "-o", tmp_path / "cpu.tif", *words)
    assert outcome.status == 0
    start = "trimbench: the cpu engine can't run 'halved' with 'gamut_clip': a store into a global variable"
    assert outcome.err.startswith(start)
    assert outcome.err.count("\n") == 1
    assert "; for 'halved' with 'gamut_clip', gpu (fragment, " in outcome.out  # the result says what did the work
    trimbench("render", master, "-o", tmp_path / "gpu.tif", *words, "--engine", "gpu")
    one, other = (read_picture(tmp_path / f"{name}.tif").picture.samples for name in ("cpu", "gpu"))
    assert np.array_equal(one, other)


def test_every_result_says_what_did_the_work(trimbench, master, tmp_path, halved):
    words = [master, "--tone", "halved", "--gamut", "gamut_clip", "--operators", halved]
    (tmp_path / "reel").mkdir()
    shutil.copy(master, tmp_path / "reel" / f"a.0001{master.suffix}")
    shutil.copy(master, tmp_path / "reel" / f"a.0002{master.suffix}")
    for verb in (
        ["compare", *words, "-o", tmp_path / "compare.png"],
        ["lut", *words, "-o", tmp_path / "shot.cube", "--size", "17"],
        ["render", tmp_path / "reel", *words[1:], "-o", tmp_path / "sdr"],
    ):
        outcome = trimbench(*verb)
        assert outcome.status == 0, outcome.err
        assert "; for 'halved' with 'gamut_clip', gpu (fragment, " in outcome.out


@pytest.mark.parametrize(
    ("program", "reason"),
    [
        ("#!/bin/sh\nexit 7\n", f"{COMPILER} makes nothing of it and says nothing (exit status 7)"),
        ("#!/bin/sh\nexit 0\n", f"{COMPILER} makes nothing of it and says nothing (exit status 0)"),
        ("#!/bin/sh\necho one\necho two\nexit 1\n", "one two"),
        ("#!/nowhere\n", f"{COMPILER} can't be run: [Errno 2] No such file or directory: '{COMPILER}'"),
    ],
)
def test_a_broken_glslang_is_one_sentence_and_the_work_is_done(
    trimbench, master, tmp_path, monkeypatch, program, reason
):
    (tmp_path / "bin").mkdir()
    (tmp_path / "bin" / COMPILER).write_text(program)
    (tmp_path / "bin" / COMPILER).chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path / 'bin'}")
    outcome = trimbench("render", master, "-o", tmp_path / "sdr.tif")
    assert outcome.status == 0, outcome.err
    start = f"trimbench: the cpu engine can't run 'bt2390' with 'gamut_hue': {reason}; gpu (fragment, "
    assert outcome.err.startswith(start)
    assert outcome.err.count("\n") == 1


def test_parity_says_what_the_processor_does_not_know_and_measures_the_rest(trimbench, halved):
    words = ["parity", "halved", "--operators", halved, "--pixels", "1000"]
    outcome = trimbench(*words)
    assert outcome.status == 0, outcome.err
    fragment, compute, cpu, verdict = outcome.out.splitlines()[-4:]
    assert fragment.startswith("halved              fragment      2 ")
    assert compute.startswith("halved              compute       2 ")
    assert cpu.startswith("halved              cpu       not measured: a store into a global variable")
    assert verdict == "every operator meets the bar, where it was measured"
    alone = trimbench(*words, "--main", "cpu")
    assert (alone.status, alone.out.splitlines()[-1]) == (1, "nothing was measured")


def test_parity_without_gl_is_the_processors_alone(trimbench, no_gl):
    outcome = trimbench("parity", "knee", "--pixels", "1000")
    assert outcome.status == 0, outcome.err
    assert outcome.out.startswith(f"no gpu engine: {NO_GL}\ncpu (")
    assert trimbench("parity", "knee", "--pixels", "1000", "--main", "fragment").status == 1


def test_a_check_says_what_the_processor_does_not_know_and_passes(trimbench, halved):
    outcome = trimbench("operators", "check", "halved", "--operators", halved, "--pixels", "1000")
    assert outcome.status == 0, outcome.out
    assert "        parity, cpu           not measured: a store into a global variable" in outcome.out
    assert "  pass  parity, compute" in outcome.out
    assert "  pass  finite in GLSL" in outcome.out


def test_a_gpu_engine_says_whether_a_card_draws():
    engine = GpuEngine()
    assert not engine.has_card  # the tests run on a software rasteriser, or this says which card is known
    engine.close()
