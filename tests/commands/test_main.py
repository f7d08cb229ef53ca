"""The program around its verbs: help, errors, exit statuses; and the verbs that need no picture."""

import json
import os
import re
import subprocess
import sys

import numpy as np
import pytest

from tonemap import __version__
from viewer.commands import program


def test_version_is_the_library_s(trimbench, capsys):
    with pytest.raises(SystemExit) as stop:
        trimbench("--version")
    assert stop.value.code == 0
    assert capsys.readouterr().out == f"trimbench {__version__}\n"


@pytest.mark.parametrize("verb", program.VERBS)
def test_every_verb_explains_itself(verb, trimbench, capsys):
    with pytest.raises(SystemExit) as stop:
        trimbench(verb, "--help")
    assert stop.value.code == 0
    assert program.VERBS[verb].split(":")[0][1:] in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    ("words", "takes_a_sheet"),
    [(["render"], True), (["lut"], True), (["view"], True), (["measure"], False), (["sheet", "new"], False)],
)
def test_the_help_names_every_kind_of_master_that_is_taken(words, takes_a_sheet, trimbench, capsys):
    with pytest.raises(SystemExit):
        trimbench(*words, "--help")
    said = " ".join(capsys.readouterr().out.split())
    assert "the HDR picture, movie, folder or pattern (NAME.####.exr) of numbered pictures" in said
    assert (", or a trim sheet (.trims)" in said) is takes_a_sheet


@pytest.mark.parametrize("words", [["measure"], ["compare", "-o", "out.png"]])
def test_a_trim_sheet_in_place_of_a_picture_is_told_where_it_belongs(words, trimbench, tmp_path):
    path = tmp_path / "programme.trims"
    path.write_text("{}")
    outcome = trimbench(words[0], path, *words[1:])
    assert outcome.status == 2
    assert outcome.err == (
        f"trimbench: {path}: this is a trim sheet; name the picture here, and the sheet after --sheet\n"
    )


@pytest.mark.parametrize(
    ("words", "beginning"),
    [
        ([], "trimbench: the following arguments are required: VERB; see trimbench --help"),
        (["render", "", "-o", "x"], "trimbench: the word behind render is empty; say what is meant, or leave it out"),
        ([""], "trimbench: the word behind trimbench is empty; say what is meant, or leave it out"),
        (
            ["measure", "night\udcff.png"],
            r"trimbench: night\udcff.png: this name is not in UTF-8, and can't be read or written here; rename it",
        ),
        (["rendr"], "trimbench: argument VERB: invalid choice: 'rendr' (choose from "),
        (
            ["render"],
            "trimbench: the following arguments are required: MASTER, -o/--output; see trimbench render --help",
        ),
        (["operators", "show", "bt2309"], "trimbench: operator 'bt2309' is not known; did you mean 'bt2390'?"),
        (["parity", "--pixels", "3"], "trimbench: --pixels 3 is outside 1000..20000000; choose a number in that range"),
        (
            ["operators", "list", "--operators", "nowhere"],
            "trimbench: operator folder nowhere is not a folder; give the ",
        ),
    ],
)
def test_a_wrong_call_is_one_sentence(words, beginning, trimbench):
    outcome = trimbench(*words)
    assert outcome.status == 2
    assert outcome.err.startswith(beginning)
    assert outcome.err.count("\n") == 1


def test_a_fault_of_the_program_is_one_sentence_and_a_traceback_on_demand(trimbench, monkeypatch):
    from viewer.commands import operators

    def broken(*_: object) -> None:
        raise ZeroDivisionError("by\nnothing")

    monkeypatch.setattr(operators, "_list", broken)
    outcome = trimbench("operators", "list")
    assert outcome.status == 1
    assert outcome.err == (
        "trimbench: an error in the program (ZeroDivisionError: by\\nnothing); --debug shows where\n"
    )
    assert "Traceback" in trimbench("operators", "list", "--debug").err


def test_a_terminal_without_our_signs_costs_the_sign_and_not_the_work(tmp_path, master):
    """'cd/m\u00b2' and the arrow between levels can't be said in ASCII."""
    words = [sys.executable, "-m", "viewer", "render", master, "-o", tmp_path / "sdr.tif", "--engine", "reference"]
    environment = {**os.environ, "PYTHONIOENCODING": "ascii"}
    done = subprocess.run(words, env=environment, capture_output=True, check=False)
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"peak 100 cd/m?\n" in done.stdout


def test_stopping_by_hand_is_said(trimbench, monkeypatch):
    from viewer.commands import operators

    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(operators, "_list", stopped)
    outcome = trimbench("operators", "list")
    assert (outcome.status, outcome.err) == (130, "trimbench: stopped\n")


def test_operators_are_listed_by_kind(trimbench):
    lines = trimbench("operators", "list").out.splitlines()
    assert len(lines) >= 13
    kinds = [line.split()[0] for line in lines]
    assert kinds == sorted(kinds, reverse=True)
    assert "tone  bt2390             BT.2390 EETF" in lines


def test_an_operator_shows_what_its_declaration_says(trimbench):
    shown = json.loads(trimbench("operators", "show", "bt2390", "--json").out)
    assert shown["source"].startswith("Report ITU-R BT.2390")
    offset = next(parameter for parameter in shown["parameters"] if parameter["name"] == "knee_offset")
    assert (offset["default"], offset["range"]) == (0.5, "0.5..1")
    # 203 cd/m2 of a 1000 cd/m2 master on 100 cd/m2, computed from the published formula in float64.
    white = next(row for row in shown["curve"] if row["master"] == 203.0)
    assert white["nits"] == pytest.approx(88.2436, abs=5e-5)
    page = trimbench("operators", "show", "bt2390").out
    assert "tone.adjust_knee   on | off, default off" in page
    assert "     203    88.244   94.9%" in page


GOOD_PYTHON = '''
from tonemap.operator import Operator, Parameter

class Half(Operator):
    """Halves all light."""

    interface_version = 1
    name = "half"
    title = "Half"
    kind = "tone"
    source = "an example"
    parameters = (Parameter(name="share", unit="", default=0.5, minimum=0.0, maximum=1.0, help="Of the light."),)

    def apply(self, light, p):
        return light * p.share
'''
GOOD_GLSL = """
#include "lib/levels.glsl"
vec3 half_of_it(vec3 light, float share) { return light * share; }
vec3 half(vec3 light, Levels levels, float share) { return half_of_it(light, share); }
"""


@pytest.fixture
def folder(tmp_path):
    """Make a user's folder with one good operator and one whose GLSL does not compile."""
    operators = tmp_path / "mine"
    operators.mkdir()
    for name, glsl in (("dim", GOOD_GLSL), ("torn", GOOD_GLSL.replace("light * share;", "light * shar;"))):
        (operators / f"{name}.py").write_text(GOOD_PYTHON.replace('"half"', f'"{name}"').replace("Half", name.title()))
        (operators / f"{name}.glsl").write_text(glsl.replace("vec3 half(", f"vec3 {name}("))
    return operators


def test_an_operator_of_the_user_s_renders_like_a_built_in(trimbench, master, folder, tmp_path):
    words = ["--tone", "dim", "--gamut", "gamut_clip", "--set", "tone.share=0.25", "--operators", folder]
    for engine in ("gpu", "reference"):
        assert trimbench("render", master, "-o", tmp_path / f"{engine}.tif", *words, "--engine", engine).status == 0
    from tonemap.media.oiio import read_picture

    by_gpu, by_reference = (read_picture(tmp_path / f"{engine}.tif").picture.samples for engine in ("gpu", "reference"))
    assert np.abs(by_gpu.astype(int) - by_reference).max() <= 1
    assert by_reference.max() > 64


def test_a_glsl_error_names_the_author_s_file_and_line(trimbench, master, folder, tmp_path):
    words = ["--tone", "torn", "--operators", folder, "--engine", "gpu"]
    outcome = trimbench("render", master, "-o", tmp_path / "sdr.tif", *words)
    assert outcome.status == 1
    assert outcome.err.startswith(f"trimbench: {folder / 'torn.glsl'}:3")
    assert "shar" in outcome.err
    assert outcome.err.count("\n") == 1


@pytest.mark.parametrize("engine", ["gpu", "reference"])
@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ("light.nothing", "apply fails with AttributeError: 'numpy.ndarray' object has no attribute 'nothing'"),
        ("light * float('nan')", "apply makes (nan, nan, nan) of the light ("),
        ("light[..., 0]", "apply returns the shape ("),
        ("light.tolist()", "apply returns list instead of an array; correct apply ("),
        ("light.astype('f2')", "apply returns float16 for light of float64; correct apply ("),
        ("exit(3)", "apply fails with SystemExit: 3 ("),
    ],
)
def test_a_fault_in_apply_is_one_sentence_and_writes_nothing(trimbench, master, folder, tmp_path, wrong, words, engine):
    twin = folder / "dim.py"
    twin.write_text(twin.read_text().replace("light * p.share", wrong))
    output = tmp_path / "sdr.tif"
    outcome = trimbench("render", master, "-o", output, "--tone", "dim", "--operators", folder, "--engine", engine)
    assert outcome.status == 1
    assert outcome.err.startswith(f"trimbench: operator 'dim': {words}")
    place = r"dim\.py:15" if "fails" in words else r"dim\.py:14"
    assert re.search(rf" \({re.escape(str(folder))}/{place}\)\n$", outcome.err)
    assert outcome.err.count("\n") == 1
    assert not output.exists()


def test_parity_prints_a_line_an_operator_and_main(trimbench):
    outcome = trimbench("parity", "--pixels", 2000, "gamut_clip", "hard_clip")
    assert outcome.status == 0
    rows = [line.split() for line in outcome.out.splitlines() if line.startswith(("gamut_clip", "hard_clip"))]
    assert [row[:2] for row in rows] == [
        [name, main] for name in ("gamut_clip", "hard_clip") for main in ("fragment", "compute", "cpu")
    ]
    assert outcome.out.endswith("every operator meets the bar\n")


def test_parity_of_one_engine_alone(trimbench):
    outcome = trimbench("parity", "--pixels", 2000, "gamut_clip", "--main", "cpu")
    assert outcome.status == 0
    assert outcome.out.startswith("cpu (")
    assert [line.split()[1] for line in outcome.out.splitlines() if line.startswith("gamut_clip")] == ["cpu"]


def test_parity_fails_for_an_operator_whose_twins_differ(trimbench, folder):
    twin = folder / "dim.glsl"
    twin.write_text(twin.read_text().replace("light * share", "light * share * 1.0001"))
    outcome = trimbench("parity", "--pixels", 2000, "--operators", folder, "dim")
    assert outcome.status == 1
    assert "FAILS" in outcome.out
    assert outcome.out.endswith("the bar is missed; the lines above say where\n")
