"""Tables and needs reach both engines: an operator from a folder that reads its curve from a table, at parity."""

import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tonemap.encoding import Encoding
from tonemap.errors import TrimbenchError
from tonemap.host import Host, find_operators
from tonemap.operator import Statistics
from tonemap.parity import compare_chain, stress_pictures, trial_chains
from tonemap.picture import Picture, light_picture
from tonemap.render.forms import SIGNAL
from tonemap.rendition import Rendition, chain_of, chain_on
from viewer.engine import GpuEngine

PYTHON = '''
"""Two tables on max(R, G, B), and a peak that is measured."""

from collections.abc import Mapping

import numpy as np

from tonemap.operator import Array, Operator, Parameter, Values
from tonemap.table import table_at


class Tabled(Operator):
    """A power from a table; what passes the measured peak lands on the target's."""

    interface_version = 1
    name = "tabled"
    title = "Tabled"
    kind = "tone"
    source = "a test"
    parameters = (Parameter(name="bend", unit="", default=0.8, minimum=0.5, maximum=2.0, help="Bend.", neutral=1.0),)
    needs = ("peak_nits", "average_nits")
    derived = ("scale",)
    tables = ("curve", "lift")

    def derive(self, p: Values) -> Mapping[str, float]:
        """Return the scale."""
        return {"scale": 1.0 / p.peak_nits}

    def tabulate(self, p: Values) -> Mapping[str, Array]:
        """Return a curve of 1024 and a lift of 3 values."""
        places = np.linspace(0.0, 1.0, 1024)
        return {"curve": 0.9 * places**p.bend, "lift": np.array([0.0, 0.02, 0.1])}

    def apply(self, light: Array, p: Values) -> Array:
        """Scale each pixel by one gain."""
        level = np.max(light, axis=-1, keepdims=True)
        place = level * p.scale
        mapped = table_at(p.curve, place) + table_at(p.lift, place) * p.average_nits / (p.average_nits + 26.0)
        result: Array = light * (mapped * p.levels.target_peak / np.maximum(level, 0.01))
        return result
'''
GLSL = """
#include "lib/levels.glsl"
#include "lib/table.glsl"

vec3 tabled(vec3 light, Levels levels, float bend, float peak_nits, float average_nits, float scale, sampler2D curve,
            sampler2D lift)
{
    float level = max(max(light.r, light.g), light.b);
    float place = level * scale;
    float mapped = table_at(curve, place) + table_at(lift, place) * average_nits / (average_nits + 26.0);
    return light * (mapped * levels.target_peak / max(level, 0.01));
}
"""


@pytest.fixture(scope="module")
def tabled(tmp_path_factory: pytest.TempPathFactory) -> Host:
    folder = tmp_path_factory.mktemp("tabled")
    (folder / "tabled.py").write_text(PYTHON)
    (folder / "tabled.glsl").write_text(GLSL)
    return find_operators([folder])


def test_an_operator_with_tables_and_needs_meets_the_bar(tabled, reference, engine):
    pictures = stress_pictures(50_000)
    for label, chain in trial_chains(tabled.get("tabled"), tabled):
        agreement = compare_chain(reference, engine, pictures, chain)
        assert agreement.passes, f"{label}: {agreement}"


def test_a_slider_fills_a_table_again_and_makes_no_program(tabled, reference, engine):
    picture = Picture(stress_pictures(2000)["random"].samples, Encoding("linear"))
    program = None
    for bend in (0.6, 1.7, 0.6):
        chain = chain_of(Rendition("x", "tabled", "gamut_clip", {"bend": bend}), picture.encoding, tabled)
        difference = np.abs(engine.signal(picture, chain) - reference.signal(picture, chain))
        assert difference.max() < 1e-4
        assert program in (None, engine._program_for(picture, chain, SIGNAL))
        program = engine._program_for(picture, chain, SIGNAL)


def test_two_stages_with_tables_do_not_take_each_others_units(tabled, engine, reference, tmp_path):
    text = PYTHON.replace("tabled", "gamut_tabled").replace("Tabled", "GamutTabled").replace('"tone"', '"gamut"')
    (tmp_path / "gamut_tabled.py").write_text(text.replace("0.9 * places", "0.4 * places"))
    twin = GLSL.replace("vec3 tabled(", "vec3 gamut_tabled(").replace(
        "Levels levels, ", "Levels levels, Volume volume, "
    )
    (tmp_path / "gamut_tabled.glsl").write_text(twin)
    both = find_operators([tabled.folders[0], tmp_path])
    picture = light_picture(np.linspace(0.0, 1000.0, 3000, dtype=np.float32).reshape(10, 100, 3))
    chain = chain_of(Rendition("x", "tabled", "gamut_tabled"), picture.encoding, both)
    assert np.abs(engine.signal(picture, chain) - reference.signal(picture, chain)).max() < 2e-6


def test_statistics_are_measured_for_the_operators_that_need_them(tabled, engine: GpuEngine, reference):
    light = np.full((40, 50, 3), 10.0, np.float32)
    light[0, 0] = 400.0, 800.0, 1.0
    picture = light_picture(light)
    chain = chain_on(Rendition("x", "tabled"), picture, tabled)
    average = (1999 * 10.0 + 800.0) / 2000
    assert chain.tone_values.peak_nits == 800.0
    assert chain.tone_values.average_nits == pytest.approx(average, rel=1e-6)
    assert np.abs(engine.signal(picture, chain) - reference.signal(picture, chain)).max() < 2e-6
    assert chain_on(Rendition("x", "bt2390"), picture, tabled).statistics is None
    assert "statistics" not in vars(light_picture(light))


def test_where_nothing_is_measured_levels_stand_in(tabled):
    chain = chain_of(Rendition("x", "tabled"), Encoding("linear", peak=4000.0), tabled)
    assert (chain.tone_values.peak_nits, chain.tone_values.average_nits) == (4000.0, 26.0)
    black = light_picture(np.zeros((2, 2, 3), np.float32)).statistics
    assert set(vars(black).values()) == {float(np.float32(0.001))}
    percentiles = light_picture(np.repeat(np.arange(1.0, 1001.0, dtype=np.float32), 3).reshape(20, 50, 3)).statistics
    assert percentiles == Statistics(1000.0, pytest.approx(999.0, rel=1.5e-3), pytest.approx(500.0, rel=5e-4), 500.5)


TABLES = {
    "too short": "np.zeros(1)",
    "not a row": "np.zeros((2, 2))",
    "not finite": "np.array([0.0, np.nan])",
    "too long": "np.zeros(16385)",
    "no numbers": '"curve"',
    "rows of two lengths": "[[0.0], [0.0, 1.0]]",
    "beyond float32": "np.array([0.0, 1e39])",
    "complex": "np.array([0.0, 1j])",
}


@pytest.mark.parametrize("fault", TABLES)
def test_a_bad_table_is_one_sentence(tmp_path: Path, fault):
    (tmp_path / "tabled.py").write_text(PYTHON.replace("0.9 * places**p.bend", TABLES[fault]))
    (tmp_path / "tabled.glsl").write_text(GLSL)
    host = find_operators([tmp_path])
    words = "operator 'tabled': tabulate gives a table 'curve' that is not a row of 2 to 16384 finite numbers"
    with pytest.raises(TrimbenchError, match=words) as told:
        chain_of(Rendition("x", "tabled"), Encoding("linear"), host)
    line = PYTHON.splitlines().index("    def tabulate(self, p: Values) -> Mapping[str, Array]:") + 1
    assert str(told.value).endswith(f"correct tabulate ({tmp_path / 'tabled.py'}:{line})")


def test_a_file_of_an_author_passes_mypy_strict(tmp_path: Path):
    import subprocess
    import sys

    (tmp_path / "tabled.py").write_text(PYTHON)
    command = [sys.executable, "-m", "mypy", "--strict", "--cache-dir", str(tmp_path / "cache"), "tabled.py"]
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run(
        command,
        cwd=tmp_path,
        env={"MYPYPATH": str(root), "PATH": os.environ["PATH"]},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout


def test_the_chain_with_other_statistics_is_another_chain(tabled):
    chain = chain_of(Rendition("x", "tabled"), Encoding("linear"), tabled)
    assert replace(chain, statistics=Statistics(1.0, 1.0, 1.0, 1.0)) != chain
