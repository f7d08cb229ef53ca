"""An operator of a package that pip has installed is there in every command, and what is written is what it computes.

The expected codes are worked out here, from the operator's own NumPy function and the published formulas around it.
"""

import importlib
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import OpenImageIO as oiio
import pytest

from tonemap.colorimetry import conversion_matrix
from tonemap.encoding import Encoding
from tonemap.host import find_operators
from tonemap.lut import apply_lut
from tonemap.lut_file import read_lut
from tonemap.media.oiio_output import write_codes
from tonemap.operator import Levels, Values
from tonemap.transfer import pq_eotf

ROOT = Path(__file__).resolve().parents[2]
WORDS = ["--tone", "own_trim", "--gamut", "gamut_clip"]
PQ = Encoding("pq", "bt2020", "narrow", 10)


@pytest.fixture(autouse=True)
def installed(packaged_operator: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Put the folder that pip installed into on the path of this process and of those that it starts."""
    monkeypatch.syspath_prepend(packaged_operator)
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join([str(packaged_operator), str(ROOT)]))
    yield
    for name in [name for name in sys.modules if name.startswith("lantern_trims")]:
        del sys.modules[name]


def signal_of(pq_signal: np.ndarray, share: float = 0.4) -> np.ndarray:
    """Return BT.1886 (black 0, peak 100 cd/m2) BT.709 signal of PQ signal (..., 3), by the operator's own function."""
    operator = importlib.import_module("lantern_trims.own_trim").OwnTrim()
    values = Values(share=float(np.float32(share)), levels=Levels(0.0, 1000.0, 0.0, 100.0))
    light = operator.apply(pq_eotf(np.clip(pq_signal, 0.0, 1.0)), values)
    light = np.clip(light @ conversion_matrix("bt2020", "bt709").T, 0.0, 100.0)
    return (light / 100.0) ** (1.0 / 2.4)  # Recommendation ITU-R BT.1886, Annex 1, with Lb = 0


def narrow_10(signal: np.ndarray) -> np.ndarray:
    return np.rint(64.0 + 876.0 * signal)  # Recommendation ITU-R BT.709-6, item 5.6


def read_codes(path: Path) -> np.ndarray:
    """Return the 10-bit codes of a picture whose 16 bits hold them in the upper ones."""
    pixels = oiio.ImageBuf(str(path)).get_pixels(oiio.UINT16)
    return np.asarray(pixels)[..., :3].astype(np.int64) >> 6


def assert_codes(path: Path, codes: np.ndarray, share: float = 0.4) -> None:
    wanted = narrow_10(signal_of((codes - 64.0) / 876.0, share))
    difference = np.abs(read_codes(path) - wanted)
    assert difference.max() <= 1
    assert np.count_nonzero(difference) <= 2e-3 * difference.size  # a rounding on its edge


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["operators", "list"], r"^tone  own_trim +Own trim$"),
        (["operators", "show", "own_trim"], r"own_trim.*\n(.*\n)*.*share"),
        (["parity", "own_trim", "--pixels", "1000"], "every operator meets the bar"),
    ],
    ids=lambda words: " ".join(words[:2]) if isinstance(words, list) else "",
)
def test_an_installed_package_is_known_to_the_program(words, said):
    command = [sys.executable, "-m", "viewer", *words]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert re.search(said, done.stdout, re.MULTILINE), done.stdout


@pytest.mark.parametrize("engine", ["gpu", "reference"])
def test_render_writes_what_the_operators_own_function_computes(engine, trimbench, master, codes, tmp_path):
    output = tmp_path / "sdr.dpx"
    words = [*WORDS, "--set", "tone.share=0.25", "--engine", engine]
    outcome = trimbench("render", master, "-o", output, *words)
    assert (outcome.status, outcome.err) == (0, "")
    assert_codes(output, codes, 0.25)


def test_compare_shows_what_the_operators_own_function_computes(trimbench, tmp_path):
    """A master of one colour: its tile is one colour too, at 8 bits of an SDR screen."""
    codes = np.empty((200, 300, 3), np.uint16)
    codes[:] = (480, 520, 500)
    write_codes(tmp_path / "plain.png", codes, PQ)
    outcome = trimbench("compare", tmp_path / "plain.png", "-o", tmp_path / "compare.png", *WORDS)
    assert (outcome.status, outcome.err) == (0, "")
    pixels = np.asarray(oiio.ImageBuf(str(tmp_path / "compare.png")).get_pixels(oiio.UINT8))[..., :3].reshape(-1, 3)
    wanted = np.rint(255.0 * (narrow_10(signal_of((codes[0, 0] - 64.0) / 876.0)) - 64.0) / 876.0)
    near = np.abs(pixels.astype(float) - wanted).max(axis=1) <= 1.0
    assert near.mean() > 0.05, "no tile has the operator's colour"


@pytest.mark.parametrize("ending", ["cube", "clf"])
def test_a_lut_holds_what_the_operators_own_function_computes(ending, trimbench, tmp_path):
    output = tmp_path / f"own.{ending}"
    outcome = trimbench("lut", "--input", "pq,bt2020,full,10", *WORDS, "-o", output, "--size", "17")
    assert (outcome.status, outcome.err) == (0, "")
    lut = read_lut(output)[0]
    places = np.linspace(0.0, 0.75, 5) if ending == "cube" else np.array([0.0])
    grid = np.stack(np.meshgrid(places, places, places), axis=-1).reshape(-1, 3)
    np.testing.assert_allclose(apply_lut(lut, grid), signal_of(grid), atol=2e-6)
    greys = np.repeat(np.linspace(0.05, 0.55, 60)[:, np.newaxis], 3, axis=1)
    assert np.abs(apply_lut(lut, greys) - signal_of(greys)).max() < 0.02  # 17 nodes, below the cut


def test_a_trim_sheet_carries_it_into_render_and_measure(trimbench, master, codes, tmp_path):
    sheet, output = tmp_path / "programme.trims", tmp_path / "sdr.dpx"
    words = ["--tone", "own_trim", "--gamut", "gamut_clip", "--set", "tone.share=0.3", "--name", "own"]
    assert trimbench("sheet", "new", sheet, master, *words).status == 0
    assert '"own_trim"' in sheet.read_text()
    shown = trimbench("sheet", "show", sheet)
    assert (shown.status, "own_trim" in shown.out) == (0, True)
    outcome = trimbench("render", master, "-o", output, "--sheet", sheet, "--rendition", "own")
    assert (outcome.status, outcome.err) == (0, "")
    assert_codes(output, codes, 0.3)
    assert "own" in trimbench("measure", master, "--sheet", sheet).out


def test_a_sheet_says_what_is_missing_where_the_package_is_not_installed(trimbench, master, tmp_path, monkeypatch):
    sheet = tmp_path / "programme.trims"
    assert trimbench("sheet", "new", sheet, master, *WORDS, "--name", "own").status == 0
    monkeypatch.setattr("importlib.metadata.entry_points", lambda *, group: [])
    outcome = trimbench("render", master, "-o", tmp_path / "sdr.dpx", "--sheet", sheet, "--rendition", "own")
    assert outcome.status != 0
    assert "own_trim" in outcome.err
    assert not (tmp_path / "sdr.dpx").exists()


@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::DeprecationWarning", "ignore::UserWarning")
def test_a_worker_of_a_cluster_has_it_too(trimbench, codes, tmp_path):
    from distributed import LocalCluster

    for number in range(3):
        write_codes(tmp_path / f"scan.{number:04d}.dpx", codes + number, PQ)
    words = [*WORDS, "--engine", "reference", "--transfer", "pq", "--primaries", "bt2020", "--range", "narrow"]
    cluster = LocalCluster(n_workers=1, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50)
    with cluster:
        words += ["--scheduler", cluster.scheduler_address]
        outcome = trimbench("render", tmp_path / "scan.0000.dpx", "--sequence", "-o", tmp_path / "o/s.%04d.dpx", *words)
    assert outcome.status == 0, outcome.err
    for number in range(3):
        assert_codes(tmp_path / f"o/s.{number:04d}.dpx", codes + number)


def test_it_is_found_by_its_entry_point_alone():
    assert "entry point 'lantern_trims.own_trim:OwnTrim' of package lantern-trims 1.2" in (
        find_operators()._sources["own_trim"].origin
    )
