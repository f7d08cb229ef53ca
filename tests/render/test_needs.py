"""An operator that needs statistics gets those of the frames or of the shot: by NumPy from the codes, in every verb."""

import json
import sys
from pathlib import Path

import numpy as np
import pytest

from tests.render.conftest import FRAMES, PQ, decoded
from tests.render.conftest import still as plain_still
from tonemap.encoding import decode
from tonemap.errors import TrimbenchError
from tonemap.host import Host, find_operators
from tonemap.lut import apply_lut
from tonemap.lut_file import read_lut
from tonemap.media.master import open_master
from tonemap.media.movie_output import codec_for
from tonemap.operator import Statistics
from tonemap.picture import Picture
from tonemap.reference import ReferenceEngine
from tonemap.render.job import render
from tonemap.render.movie_output import MovieOutput
from tonemap.render.programme import MasterProgramme, SheetProgramme
from tonemap.render.sequence_output import SequenceOutput
from tonemap.rendition import Rendition, chain_of
from tonemap.rendition_entry import RenditionEntry
from tonemap.sheet_masters import enter_master
from tonemap.shots import Shot
from tonemap.trim_sheet import TrimSheet, load, save

PYTHON = '''
from tonemap.operator import Operator


class Measured(Operator):
    """The peak that was measured lands on the target's."""

    interface_version = 1
    name = "measured"
    title = "Measured"
    kind = "tone"
    source = "a test"
    needs = ("peak_nits", "average_nits")

    def apply(self, light, p):
        place, low = light / p.peak_nits, p.average_nits / p.peak_nits
        return p.levels.target_peak * place * (1.0 + low) / (place + low)
'''
GLSL = """
#include "lib/levels.glsl"
vec3 measured(vec3 light, Levels levels, float peak_nits, float average_nits)
{
    vec3 place = light / peak_nits;
    float low = average_nits / peak_nits;
    return levels.target_peak * place * (1.0 + low) / (place + low);
}
"""
MINE = Rendition("Mine", "measured", "gamut_clip")
ENGINE = ReferenceEngine()


def still(frame: int) -> np.ndarray:
    """Return the codes of a frame; each is brighter than the one before."""
    return np.rint(plain_still(frame) * (0.6 + 0.03 * frame)).clip(64, 940).astype(np.uint16)


@pytest.fixture(autouse=True)
def brightening(monkeypatch) -> None:
    """Make the movie and the sequence of these frames."""
    file = Path(__file__).with_name("conftest.py")
    for module in list(sys.modules.values()):
        if getattr(module, "__file__", None) == str(file):
            monkeypatch.setattr(module, "still", still)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = tmp_path / "measured"
    folder.mkdir()
    (folder / "measured.py").write_text(PYTHON)
    (folder / "measured.glsl").write_text(GLSL)
    return folder


@pytest.fixture
def host(folder: Path) -> Host:
    return find_operators([folder])


def statistics(frames) -> Statistics:
    """Compute the needs of some frames together, by NumPy alone; what this operator does not need is 1."""
    largest = np.stack([decode(still(frame), PQ).max(axis=-1) for frame in frames])
    return Statistics(float(largest.max()), 1.0, 1.0, float(largest.mean()))


def expected(frame: int, over, host: Host) -> np.ndarray:
    return ENGINE.codes(Picture(still(frame), PQ), chain_of(MINE, PQ, host, statistics(over)))


def assert_codes(found: np.ndarray, wanted: np.ndarray) -> None:
    """Statistics are right to float32, so a value that lies on the edge of a code may rarely fall beyond it."""
    steps = np.abs(found.astype(int) - wanted.astype(int))
    assert steps.max() <= 1
    assert np.count_nonzero(steps) <= 1e-4 * steps.size


def frame_of(frames: list[list[np.ndarray]], number: int) -> np.ndarray:
    green, blue, red = frames[number]
    return np.stack([red, green, blue], axis=-1)


def test_a_movie_is_rendered_with_the_statistics_of_the_frames_that_are_rendered(film, host, tmp_path):
    for first, last in ((0, FRAMES - 1), (2, 5)):
        programme = MasterProgramme(open_master(film.path), MINE, host, first, last)
        path = tmp_path / f"{first}.mkv"
        render(programme, MovieOutput(path, codec_for(path, None), programme), ENGINE)
        frames = decoded(path)
        over = range(first, last + 1)
        for frame in (first, last):
            assert_codes(frame_of(frames, frame - first), expected(frame, over, host))
    assert np.any(expected(2, range(2, 6), host) != expected(2, range(FRAMES), host))
    assert np.any(expected(2, [2], host) != expected(2, range(2, 6), host))


def test_in_a_sheet_each_shot_has_its_own(film, host, tmp_path):
    path = tmp_path / "o.mkv"
    shots = (Shot("1", 0, 2), Shot("2", 8, FRAMES - 1))
    programme = SheetProgramme(sheet_of(film.path, host, *shots), host)
    render(programme, MovieOutput(path, codec_for(path, None), programme), ENGINE)
    frames = decoded(path)
    for frame, over in ((0, range(3)), (2, range(3)), (5, range(3, 8)), (19, range(8, FRAMES))):
        assert_codes(frame_of(frames, frame), expected(frame, over, host))


def sheet_of(film: Path, host: Host, *shots: Shot) -> TrimSheet:
    entries = (RenditionEntry.of(MINE, host),)
    sheet = TrimSheet((enter_master(film, film.parent),), entries, shots, "Mine")
    return load(save(sheet, film.with_suffix(".trims")).origin.path)  # type: ignore[union-attr]


def test_statistics_are_part_of_what_a_render_goes_on_with(scans, host, tmp_path):
    """A picture of the sequence is another one: the frames that are whole belong to other statistics."""
    master = open_master(scans)
    programme = MasterProgramme(master, MINE, host)
    found = programme.identity()["statistics"]
    assert found["peak_nits"] == pytest.approx(statistics(range(6)).peak_nits, rel=1e-6)
    assert found["average_nits"] == pytest.approx(statistics(range(6)).average_nits, rel=1e-6)
    assert "statistics" not in MasterProgramme(master, Rendition("x", "bt2390"), host).identity()
    SequenceOutput(tmp_path / "o/s.%04d.dpx", programme).manifest.begin()
    SequenceOutput(tmp_path / "o/s.%04d.dpx", MasterProgramme(open_master(scans), MINE, host))
    from tonemap.media.oiio_output import write_codes

    write_codes(scans.parent / "a.1004.dpx", np.full_like(still(0), 900), PQ, overwrite=True)
    with pytest.raises(TrimbenchError, match=r"another render was begun here, which differs in its statistics;"):
        SequenceOutput(tmp_path / "o/s.%04d.dpx", MasterProgramme(open_master(scans), MINE, host))


def test_both_engines_get_the_same(scans, host):
    from viewer.engine import GpuEngine

    chain = MasterProgramme(open_master(scans), MINE, host).chain_at(0)
    engine = GpuEngine()
    difference = np.abs(engine.signal(Picture(still(0), PQ), chain) - ENGINE.signal(Picture(still(0), PQ), chain))
    engine.close()
    assert difference.max() < 2e-6


def test_a_broken_frame_is_left_out_of_the_statistics_and_all_broken_is_one_sentence(scans, host):
    (scans.parent / "a.1002.dpx").write_bytes(b"torn")
    found = MasterProgramme(open_master(scans), MINE, host).chain_at(0).statistics
    assert found is not None
    assert found.average_nits == pytest.approx(statistics([0, 2, 3, 4, 5]).average_nits, rel=1e-6)
    with pytest.raises(TrimbenchError, match=r"no frame can be measured for the operator that .*a\.1002\.dpx"):
        MasterProgramme(open_master(scans), MINE, host, 1, 1)


# The verbs.

WORDS = ["--tone", "measured", "--gamut", "gamut_clip", "--name", "Mine", "--engine", "reference"]


def run(*words: object) -> int:
    from viewer.commands import main

    return main([str(word) for word in words])


@pytest.mark.parametrize(
    ("words", "over"),
    [
        (["--frame", "7"], [7]),
        (["--frame", "7", "--frames", "2-5"], range(2, 6)),
        ([], range(FRAMES)),
        (["--sheet", "--shot", "2"], range(8, 12)),
        (["--sheet", "--shot", "2", "--frame", "9", "--master"], range(8, 12)),  # as the bench calls it
        (["--sheet", "--shot", "2", "--frame", "7", "--master"], [7]),  # a frame that is not the shot's
    ],
    ids=["frame", "frames", "movie", "shot", "frame of the shot", "another frame"],
)
def test_a_lut_has_those_of_its_frame_its_master_or_its_shot(film, folder, host, tmp_path, capsys, words, over):
    source = [film.path]
    if "--sheet" in words:
        sheet = sheet_of(film.path, host, Shot("1", 0, 7), Shot("2", 8, 11)).origin.path
        source = [film.path, "--sheet", sheet] if "--master" in words else [sheet]
    out, words = tmp_path / "o.cube", [word for word in words if word not in ("--sheet", "--master")]
    made = WORDS if "--shot" not in words else ["--engine", "reference"]
    status = run("lut", *source, "-o", out, *made, *words, "--operators", folder, "--size", "65", "--json")
    said = capsys.readouterr()
    assert status == 0, said.err
    told = f"trimbench: {len(over)} frames are measured first, which 'Mine' needs\n"
    assert said.err == (told if len(over) > 1 else "")
    codes = still(9).reshape(-1, 3)[::101]
    exact = ENGINE.signal(Picture(codes[np.newaxis], PQ), chain_of(MINE, PQ, host, statistics(over)))[0]
    other = ENGINE.signal(Picture(codes[np.newaxis], PQ), chain_of(MINE, PQ, host))[0]
    found = apply_lut(read_lut(out)[0], codes / 1023.0)
    assert np.median(np.abs(found - exact)) < 0.1 * np.median(np.abs(found - other))


def test_a_lut_without_a_frame_is_refused_for_an_operator_that_needs_one(film, folder, host, tmp_path, capsys):
    sheet = sheet_of(film.path, host, Shot("1", 0, 7), Shot("2", 8, 11)).origin
    for words in (["--input", "pq,bt2020,narrow"], [sheet.path]):
        made = [*WORDS, "--operators", folder]
        assert run("lut", *words, "-o", tmp_path / "o.cube", *made) == 2
        assert capsys.readouterr().err == (
            "trimbench: rendition 'Mine' needs peak_nits, average_nits of a frame or a shot, and none is named; name a "
            "master, or a shot of the trim sheet with --shot\n"
        )
    assert not (tmp_path / "o.cube").exists()


def test_measure_renders_as_render_does(film, folder, host, monkeypatch, capsys):
    from tonemap.measure.session import Session

    chains = []
    before = Session.__init__
    monkeypatch.setattr(
        Session, "__init__", lambda self, *args, **words: (chains.extend(args[2]), before(self, *args, **words))[1]
    )
    assert run("measure", film.path, "--frames", "2-5", *WORDS, "--operators", folder, "--json") == 0
    said = capsys.readouterr()
    assert said.err == "trimbench: 4 frames are measured first, which 'Mine' needs\n"
    assert json.loads(said.out)["renditions"][0]["name"] == "Mine"
    assert chains[0].statistics.average_nits == pytest.approx(statistics(range(2, 6)).average_nits, rel=1e-6)
    sheet = sheet_of(film.path, host, Shot("1", 0, 7), Shot("2", 8, 11)).origin
    assert run("measure", "--sheet", sheet.path, "--operators", folder, "--engine", "reference") == 2
    assert "needs peak_nits, average_nits of a frame or a shot, and none is named" in capsys.readouterr().err
    words = ["--shot", "2", "--frames", "9-9", "--operators", folder, "--engine", "reference"]
    assert run("measure", "--sheet", sheet.path, *words) == 0
    assert chains[-1].statistics.average_nits == pytest.approx(statistics(range(8, 12)).average_nits, rel=1e-6)


def test_render_says_that_it_measures_first(film, folder, tmp_path, capsys):
    words = ["render", film.path, "-o", tmp_path / "o", "--frames", "0-3", *WORDS, "--operators", folder]
    assert run(*words) == 0
    assert capsys.readouterr().err == "trimbench: 4 frames are measured first, which 'Mine' needs\n"
