"""trimbench sheet: a sheet from a master to shots, as a person makes one, and what it says when something is wrong."""

import json
import shutil
from dataclasses import replace
from pathlib import Path

import av
import numpy as np
import pytest

from tonemap.encoding import Encoding
from tonemap.media.oiio_output import write_codes
from tonemap.sheet_work import SheetWork
from tonemap.shots import Key, Shot
from tonemap.trim_sheet import load, save

PQ = Encoding("pq", "bt2020", "narrow", 10)
FRAMES = 12


@pytest.fixture
def reel(tmp_path: Path) -> Path:
    """Write a sequence of twelve pictures with a cut before the sixth, and return its folder."""
    random = np.random.default_rng(3)
    shots = [random.integers(64, 940, (9, 16, 3)).repeat(4, axis=0).repeat(4, axis=1).astype(np.uint16) for _ in "ab"]
    folder = tmp_path / "scans"
    folder.mkdir()
    for number in range(FRAMES):
        write_codes(folder / f"reel.{1 + number:04d}.png", shots[number >= 5], PQ)
    return folder


@pytest.fixture
def sheet(trimbench, reel, tmp_path) -> Path:
    """Make a sheet of the sequence."""
    path = tmp_path / "programme.trims"
    outcome = trimbench("sheet", "new", path, reel, "--tone", "knee", "--name", "soft", "--tone", "bt2390")
    assert outcome.status == 0, outcome.err
    return path


def test_a_new_sheet_knows_its_master_by_what_it_is(trimbench, sheet):
    made = load(sheet)
    master = made.masters[0]
    assert (master.name, master.path) == ("reel", "scans/reel.####.png")
    assert (master.columns, master.rows, master.frames, master.encoding) == (64, 36, FRAMES, PQ)
    assert (master.first_frame or "").startswith("sha256:")
    assert [entry.name for entry in made.renditions] == ["soft", "BT.2390 EETF"]
    assert made.default_rendition == "soft"
    outcome = trimbench("sheet", "check", sheet)
    assert outcome.status == 0
    assert outcome.out.splitlines()[-1] == "shots and renditions: nothing to say"


def test_an_existing_sheet_is_not_replaced_unless_asked(trimbench, sheet, reel):
    before = sheet.read_bytes()
    outcome = trimbench("sheet", "new", sheet, reel)
    assert (outcome.status, sheet.read_bytes()) == (1, before)
    assert trimbench("sheet", "new", sheet, reel, "--overwrite").status == 0
    assert len(load(sheet).renditions) == 4


def test_shots_are_typed_and_shown_as_a_table(trimbench, sheet):
    outcome = trimbench("sheet", "shots", sheet, "--cuts", "5,9")
    assert (outcome.status, outcome.out) == (0, f"{sheet}: 3 shots, frames 0 to 11\n")
    outcome = trimbench("sheet", "show", sheet)
    assert outcome.out.splitlines() == [
        "Masters",
        "  reel  scans/reel.####.png  64 x 36  12 frames  PQ (ST 2084), BT.2020, 10-bit narrow, peak 1000 cd/m\u00b2",
        "",
        "Renditions",
        "  soft          knee    gamut_hue  default",
        "  BT.2390 EETF  bt2390  gamut_hue",
        "",
        "Shots",
        "  1  0 to 4   (soft)",
        "  2  5 to 8   (soft)",
        "  3  9 to 11  (soft)",
    ]
    assert json.loads(trimbench("sheet", "show", sheet, "--json").out)["shots"][2] == {
        "name": "3",
        "first": 9,
        "last": 11,
    }


def test_shots_come_from_an_edl_with_its_rate(trimbench, sheet, tmp_path):
    edl = tmp_path / "cut.edl"
    edl.write_text(
        "001  REEL     V     C        00:00:00:00 00:00:00:05 01:00:00:00 01:00:00:05\n"
        "002  REEL     V     C        00:00:00:05 00:00:00:12 01:00:00:05 01:00:00:12\n"
        "* FROM CLIP NAME: the flame\n"
    )
    assert "an EDL does not say the rate of its timecode; give --rate" in trimbench("sheet", "shots", sheet, edl).err
    assert trimbench("sheet", "shots", sheet, edl, "--rate", "24").status == 0
    assert [(shot.first, shot.last, shot.note) for shot in load(sheet).shots] == [(0, 4, ""), (5, 11, "the flame")]


def test_proposals_are_found_printed_written_and_taken(trimbench, sheet, tmp_path):
    outcome = trimbench("sheet", "propose", sheet, "-o", tmp_path / "cuts.json")
    assert outcome.status == 0, outcome.err
    heading, names, row = outcome.out.splitlines()
    assert (heading, names.split()) == ("Proposed cuts", ["frame", "kind", "difference"])
    assert row.split()[:2] == ["5", "cut"]
    assert trimbench("sheet", "shots", sheet, tmp_path / "cuts.json").status == 0
    assert [(shot.first, shot.last) for shot in load(sheet).shots] == [(0, 4), (5, 11)]


def test_a_moved_master_is_missed_found_again_and_checked(trimbench, sheet, reel, tmp_path):
    moved = tmp_path / "archive" / "deep"
    moved.parent.mkdir()
    reel.rename(moved)
    outcome = trimbench("sheet", "check", sheet)
    assert outcome.status == 1
    assert outcome.out.startswith(f"master 'reel': {reel}")
    outcome = trimbench("sheet", "relink", sheet, tmp_path / "archive")
    assert (outcome.status, outcome.out) == (0, f"master 'reel': {moved / 'reel.####.png'}: the same, 12 frames\n")
    assert load(sheet).masters[0].path == "archive/deep/reel.####.png"
    assert trimbench("sheet", "check", sheet).status == 0


def test_another_picture_under_the_old_name_is_not_taken(trimbench, sheet, reel, tmp_path):
    wrong = tmp_path / "archive" / "wrong"
    shutil.copytree(reel, wrong)
    write_codes(wrong / "reel.0001.png", np.full((36, 64, 3), 500, np.uint16), PQ, overwrite=True)
    (wrong / "reel.0012.png").unlink()
    reel.rename(tmp_path / "gone")
    before = sheet.read_bytes()
    outcome = trimbench("sheet", "relink", sheet, tmp_path / "archive")
    assert (outcome.status, sheet.read_bytes()) == (1, before)
    assert outcome.out == (
        f"master 'reel': {wrong / 'reel.####.png'}: "
        "there are 11 frames, and were 12; the first frame is another picture\n"
    )
    shutil.copytree(tmp_path / "gone", tmp_path / "archive" / "xright")
    assert trimbench("sheet", "relink", sheet, tmp_path / "archive").status == 0
    assert load(sheet).masters[0].path == "archive/xright/reel.####.png"


def test_unsaved_changes_of_a_bench_are_not_run_over_and_can_be_recovered(trimbench, sheet):
    work = SheetWork.open(sheet)
    work.change(replace(work.sheet, note="lamp"), "note")
    outcome = trimbench("sheet", "shots", sheet, "--cuts", "5")
    assert (outcome.status, outcome.err) == (
        1,
        f"trimbench: {sheet}: a bench has changes of this sheet that are not saved; save them there, "
        f"or after a crash call 'trimbench sheet recover {sheet}'\n",
    )
    assert "there are changes that have not been saved" in trimbench("sheet", "check", sheet).out
    outcome = trimbench("sheet", "recover", sheet)
    assert outcome.status == 0
    assert outcome.out.startswith(f"{sheet}: saved with what ")
    assert outcome.out.endswith(" had done: note\n")
    assert load(sheet).note == "lamp"
    assert trimbench("sheet", "recover", sheet).out == f"{sheet}: there is nothing to recover\n"
    again = SheetWork.open(sheet)
    again.change(replace(again.sheet, note="dark"), "note")
    assert trimbench("sheet", "recover", sheet, "--discard").status == 0
    assert load(sheet).note == "lamp"
    assert trimbench("sheet", "shots", sheet, "--cuts", "5").status == 0


def test_who_has_the_sheet_open_is_said(trimbench, sheet):
    note = sheet.with_name(f".{sheet.name}.attic.7.open")
    note.write_text(json.dumps({"user": "eve", "host": "attic", "pid": 7, "since": "2026-01-02T03:04:05+00:00"}))
    outcome = trimbench("sheet", "shots", sheet, "--cuts", "5")
    assert (outcome.status, outcome.err) == (
        0,
        f"trimbench: {sheet}: eve on attic (since 2026-01-02 03:04:05 UTC) has the sheet open "
        "and can't save over this change\n",
    )


def test_one_frame_is_one_frame_in_the_table(trimbench, reel, tmp_path):
    sheet = tmp_path / "still.trims"
    assert trimbench("sheet", "new", sheet, reel / "reel.0001.png").status == 0
    assert "  1 frame  " in trimbench("sheet", "show", sheet).out


def test_the_table_shows_what_lies_between_shots_settings_and_ramps(trimbench, sheet):
    keys = (Key(6, {"input.exposure": 0.0}), Key(9, {"input.exposure": -0.5}))
    made = load(sheet).with_shot(
        Shot("7", 5, 9, rendition="soft", settings={"gamut.reach": 2.0}, keys=keys, note="lamp")
    )
    save(made)
    assert trimbench("sheet", "show", sheet).out.splitlines()[-4:] == [
        "Shots",
        "  \u2013  0 to 4    (soft)",
        "  7  5 to 9    soft    gamut.reach 2, input.exposure 0 at 6 \u2192 -0.5 at 9  lamp",
        "  \u2013  10 to 11  (soft)",
    ]


def test_check_says_what_can_not_be_rendered(trimbench, sheet):
    trimbench("sheet", "shots", sheet, "--cuts", "5")
    text = sheet.read_text().replace('"knee"', '"lantern_glow"').replace('"last": 11', '"last": 14')
    sheet.write_text(text)
    outcome = trimbench("sheet", "check", sheet)
    assert outcome.status == 1
    assert "rendition 'soft': tone operator 'lantern_glow' is not" in outcome.out
    assert "shot '2' ends at frame 14 of master 'reel', which has 12 frames, the last of them 11" in outcome.out


def test_what_the_user_said_of_a_movie_is_kept_and_used_again(trimbench, tmp_path):
    path = tmp_path / "plain.mkv"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("ffv1", rate=25)
        stream.width, stream.height, stream.pix_fmt = 32, 16, "yuv422p10le"
        for level in (200, 210):
            frame = av.VideoFrame.from_ndarray(np.full((16, 32), level, np.uint16), format="gray10le")
            container.mux(stream.encode(frame.reformat(format="yuv422p10le")))
        container.mux(stream.encode(None))
    sheet = tmp_path / "programme.trims"
    words = ["--transfer", "pq", "--primaries", "bt2020", "--range", "narrow", "--matrix", "bt2020"]
    outcome = trimbench("sheet", "new", sheet, path, *words)
    assert outcome.status == 0, outcome.err
    master = load(sheet).masters[0]
    assert master.said == {"transfer": "pq", "primaries": "bt2020", "range": "narrow", "matrix": "bt2020"}
    assert (master.frames, master.rate) == (2, 25)
    assert trimbench("sheet", "check", sheet).status == 0
    assert trimbench("sheet", "propose", sheet).out.startswith("no cut found: one shot")


def test_one_more_master_gives_the_shots_their_own(trimbench, sheet, reel, tmp_path):
    trimbench("sheet", "shots", sheet, "--cuts", "5")
    outcome = trimbench("sheet", "add", sheet, reel / "reel.0003.png", "--as", "still")
    assert (outcome.status, outcome.out) == (
        0, f"{sheet}: master 'still' added, scans/reel.0003.png, 1 frame\n",
    )  # fmt: skip
    assert {shot.master for shot in load(sheet).shots} == {"reel"}
    assert "there is a master 'still' already" in trimbench("sheet", "add", sheet, reel, "--as", "still").err


@pytest.mark.parametrize(
    ("words", "status", "sentence"),
    [
        (["shots", "SHEET"], 2, "shots come from a list or from --cuts; name one of them"),
        (
            ["shots", "SHEET", "--cuts", "5,x"],
            2,
            "--cuts: 'x' is neither a frame's number nor a timecode; write 48 or 01:00:02:00",
        ),
        (["shots", "SHEET", "--cuts", "40"], 2, "there is no frame 40 to cut at; the master's frames are 0 to 11"),
        (
            ["shots", "SHEET", "--cuts", "00:00:01:00"],
            2,
            "--cuts: the master has no timecode or rate, so 00:00:01:00 is no frame of it; give frame numbers",
        ),
        (["relink", "SHEET", "nowhere"], 1, "nowhere: there is no such folder; name the one that the masters are in"),
        (
            ["propose", "SHEET", "--frames", "a"],
            2,
            "--frames a is not understood; write A-B, for example 0-47, or one number",
        ),
    ],
)  # fmt: skip
def test_a_wrong_call_is_one_sentence(trimbench, sheet, words, status, sentence):
    outcome = trimbench("sheet", *[sheet if word == "SHEET" else word for word in words])
    assert (outcome.status, outcome.err) == (status, f"trimbench: {sentence}\n")


def test_a_sheet_of_another_name_is_refused(trimbench, master, tmp_path):
    outcome = trimbench("sheet", "new", tmp_path / "x.txt", master)
    assert (outcome.status, outcome.err) == (
        2,
        f"trimbench: {tmp_path / 'x.txt'}: the name of a trim sheet ends in .trims; change it\n",
    )
    assert list(tmp_path.iterdir()) == [master]
