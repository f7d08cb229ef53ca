"""A trim sheet rendered whole: each shot with its trim, ramps between keys, gaps and ends named."""

import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from tests.render.conftest import FRAMES, HOST, PQ, decoded, heard, still
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.media.movie_output import codec_for
from tonemap.media.oiio_output import write_signal
from tonemap.picture import Picture
from tonemap.reference import ReferenceEngine
from tonemap.render.job import render
from tonemap.render.movie_output import MovieOutput
from tonemap.render.programme import SheetProgramme
from tonemap.render.sequence_output import SequenceOutput
from tonemap.rendition import Rendition, chain_of
from tonemap.rendition_entry import RenditionEntry
from tonemap.settings import with_setting
from tonemap.sheet_masters import enter_master
from tonemap.shots import Key, Shot
from tonemap.trim_sheet import TrimSheet, load, save

ENGINE = ReferenceEngine()
WARM = Rendition("Warm", "knee", "gamut_clip")
COOL = Rendition("Cool", "bt2446_c", "gamut_clip")


def sheet_of(film: Path, *shots: Shot, default: str | None = "Warm") -> TrimSheet:
    """Return a sheet beside the movie, saved and loaded."""
    entries = tuple(RenditionEntry.of(rendition, HOST) for rendition in (WARM, COOL))
    sheet = TrimSheet((enter_master(film, film.parent),), entries, shots, default)
    return load(save(sheet, film.with_suffix(".trims")).origin.path)  # type: ignore[union-attr]


def codes_of(frame: int, rendition: Rendition) -> np.ndarray:
    return ENGINE.codes(Picture(still(frame), PQ), chain_of(rendition, PQ, HOST))


def test_each_shot_has_its_own_trim(film, tmp_path):
    shots = (Shot("1", 0, 7), Shot("2", 8, FRAMES - 1, rendition="Cool", settings={"input.exposure": -0.5}))
    programme = SheetProgramme(sheet_of(film.path, *shots), HOST)
    path = tmp_path / "o.mkv"
    outcome = render(programme, MovieOutput(path, codec_for(path, None), programme, sound=programme.sound()), ENGINE)
    assert (outcome.done, outcome.faults) == (FRAMES, [])
    frames = decoded(path)
    darker = with_setting(COOL, "input.exposure", -0.5, HOST)
    for frame, rendition in ((0, WARM), (7, WARM), (8, darker), (19, darker)):
        green, blue, red = frames[frame]
        np.testing.assert_array_equal(np.stack([red, green, blue], axis=-1), codes_of(frame, rendition))


def test_between_two_keys_the_trim_runs_and_nowhere_else(film, tmp_path):
    keys = (Key(4, {"input.exposure": 0.0}), Key(8, {"input.exposure": 1.0}))
    shots = (Shot("1", 0, 11, keys=keys), Shot("2", 12, FRAMES - 1))
    programme = SheetProgramme(sheet_of(film.path, *shots), HOST)
    render(programme, SequenceOutput(tmp_path / "o/s.%04d.tif", programme), ENGINE)
    import OpenImageIO as oiio

    for frame, exposure in ((0, 0.0), (4, 0.0), (6, 0.5), (8, 1.0), (11, 1.0), (12, 0.0)):
        source = oiio.ImageInput.open(str(tmp_path / f"o/s.{frame:04d}.tif"))
        codes = source.read_image(0, 0, 0, 3, "uint16") >> 6
        np.testing.assert_array_equal(codes, codes_of(frame, with_setting(WARM, "input.exposure", exposure, HOST)))


def test_a_shot_alone_is_what_it_is_in_the_whole_programme(film, tmp_path, capsys):
    """Ramp, numbers and timecode too; a movie has the sound of its own frames, as PyAV reads it."""
    from viewer.commands import main

    keys = (Key(9, {"input.exposure": 0.0}), Key(14, {"input.exposure": -1.0}))
    sheet = sheet_of(film.path, Shot("1", 0, 7), Shot("2", 8, 15, rendition="Cool", keys=keys), Shot("3", 16, 19))
    words = ["render", str(sheet.origin.path), "--engine", "reference", "-o"]
    assert main([*words, str(tmp_path / "all")]) == 0
    capsys.readouterr()
    assert main([*words, str(tmp_path / "one"), "--shot", "2"]) == 0
    assert "8 of 8 frames" in capsys.readouterr().out
    found = sorted(path.name for path in (tmp_path / "one").glob("*.dpx"))
    assert found == [f"film.{number:06d}.dpx" for number in range(8, 16)]
    for name in found:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "all" / name).read_bytes()
    assert main([*words, str(tmp_path / "one.mkv"), "--shot", "2"]) == 0
    with av.open(str(tmp_path / "one.mkv")) as movie:
        assert movie.streams.video[0].metadata["TIMECODE"] == "01:00:00:08"
    np.testing.assert_array_equal(heard(tmp_path / "one.mkv")[:1000], film.sound[8 * 2002 : 8 * 2002 + 1000])
    assert main([*words, str(tmp_path / "two"), "--shot", "4"]) == 2
    assert "shot '4' is not in the sheet; choose one of 1, 2, 3" in capsys.readouterr().err


def test_what_lies_between_shots_and_beyond_the_end_is_named(film, tmp_path):
    """Two shots of one movie laid out anew: three frames between them, and one shot longer than the movie."""
    shots = (Shot("1", 0, 4, source=10), Shot("2", 8, 12, source=17))
    programme = SheetProgramme(sheet_of(film.path, *shots), HOST)
    outcome = render(programme, SequenceOutput(tmp_path / "o/s.%04d.dpx", programme), ENGINE)
    assert [frame for frame, _ in outcome.faults] == [5, 6, 7, 11, 12]
    assert outcome.faults[0][1] == "frame 5 lies in a gap between shots; give it a shot, or a master"
    assert outcome.faults[3][1].endswith("frame 20 is beyond its end (20 frames); correct the shot")
    assert programme.sound() is None
    found = sorted(path.name for path in (tmp_path / "o").glob("*.dpx"))
    assert found == [f"s.{frame:04d}.dpx" for frame in (0, 1, 2, 3, 4, 8, 9, 10)]


def test_a_shot_without_a_rendition_is_said_before_any_work(film):
    with pytest.raises(WrongCall, match="shot '1' has no rendition, and the sheet no default; choose one"):
        SheetProgramme(sheet_of(film.path, Shot("1", 0, 5), default=None), HOST)


def test_shots_on_different_targets_are_refused(film):
    sheet = sheet_of(film.path, Shot("1", 0, 5), Shot("2", 6, 19, settings={"target.peak": 203.0}))
    with pytest.raises(WrongCall, match="the shots' renditions have different targets"):
        SheetProgramme(sheet, HOST)


def test_a_trim_that_was_changed_begins_another_render(film, tmp_path):
    sheet = sheet_of(film.path, Shot("1", 0, 3))
    programme = SheetProgramme(sheet, HOST)
    render(programme, SequenceOutput(tmp_path / "o/s.%04d.dpx", programme), ENGINE)
    changed = replace(sheet, shots=(replace(sheet.shots[0], settings={"tone.start": 12.0}),))
    with pytest.raises(Exception, match="another render was begun here"):
        SequenceOutput(tmp_path / "o/s.%04d.dpx", SheetProgramme(changed, HOST))


def test_the_command_takes_a_sheet_and_says_what_it_did(film, tmp_path, capsys):
    from viewer.commands import main

    sheet = sheet_of(film.path, Shot("1", 0, 7), Shot("2", 8, 19, rendition="Cool"))
    assert sheet.origin is not None
    words = ["render", str(sheet.origin.path), "-o", str(tmp_path / "out"), "--engine", "reference", "--json"]
    assert main(words) == 0
    report = json.loads(capsys.readouterr().out)
    assert (report["frames"], report["rendered"], report["complete"]) == (FRAMES, FRAMES, True)
    assert len(list((tmp_path / "out").glob("film.*.dpx"))) == FRAMES
    assert main([*words, "--tone", "knee"]) == 2
    assert "a trim sheet says which rendition each shot takes" in capsys.readouterr().err


def test_a_sheet_takes_the_rate_that_is_said_and_no_encoding(scans, tmp_path, capsys):
    """Masters without a rate: the movie's is the one that is said, which another program reads in it."""
    from viewer.commands import main

    for path in scans.parent.iterdir():
        write_signal(path.with_suffix(".exr"), np.full((16, 32, 3), 0.5, np.float32), PQ)
        path.unlink()
    sheet = sheet_of(scans.with_suffix(".exr"), Shot("1", 0, 5))
    words = ["render", str(sheet.origin.path), "-o", str(tmp_path / "o.mov"), "--engine", "reference"]
    assert main(words) == 2
    assert capsys.readouterr().err == (
        "trimbench: the master does not say its frames a second, and a movie needs them; give --rate\n"
    )
    assert main([*words, "--rate", "25"]) == 0
    with av.open(str(tmp_path / "o.mov")) as movie:
        assert (movie.streams.video[0].average_rate, movie.streams.video[0].frames) == (25, 6)
    capsys.readouterr()
    for said in (["--transfer", "hlg"], ["--matrix", "bt709"], ["--sequence"]):
        assert main([*words, "--overwrite", *said]) == 2
        assert "a trim sheet says the encoding of its masters; leave it out, or enter" in capsys.readouterr().err


def test_a_render_says_what_its_masters_are_taken_for_and_that_one_is_cut_short(film, tmp_path, capsys):
    from viewer.commands import main

    words = ["--engine", "reference", "--tone", "knee", "--gamut", "gamut_clip"]
    short = tmp_path / "short.mkv"
    short.write_bytes(film.path.read_bytes()[: film.path.stat().st_size * 2 // 3])
    assert main(["render", str(film.path), "-o", str(tmp_path / "o/s.%04d.dpx"), *words]) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[1] == "master: PQ (ST 2084), BT.2020, 10-bit narrow, peak 1000 cd/m²"
    entries = (enter_master(film.path, tmp_path, name="A"), enter_master(short, tmp_path, name="B"))
    for last, status in ((entries[1].frames - 1, 1), (3, 0)):
        shots = (Shot("1", 0, 3, master="A", source=2), Shot("2", 4, 4 + last, master="B", source=0))
        sheet = TrimSheet(entries, (RenditionEntry.of(WARM, HOST),), shots, "Warm")
        save(sheet, tmp_path / f"{status}.trims")
        assert (
            main(["render", str(tmp_path / f"{status}.trims"), "-o", str(tmp_path / f"{status}"), *words[:2]]) == status
        )
        said = capsys.readouterr().out.splitlines()
        assert said[1:3] == [f"master {name}: PQ (ST 2084), BT.2020, 10-bit narrow, peak 1000 cd/m²" for name in "AB"]
        assert said[3].startswith("B: the file is cut short: it says 0.83 s")


def test_a_render_at_another_rate_does_not_go_on(scans, tmp_path):
    programme = SheetProgramme(sheet_of(scans, Shot("1", 0, 5)), HOST)
    SequenceOutput(tmp_path / "s.%04d.dpx", programme).manifest.begin()
    programme.rate = Fraction(25)
    with pytest.raises(TrimbenchError, match="another render was begun here, which differs in its rate;"):
        SequenceOutput(tmp_path / "s.%04d.dpx", programme)
