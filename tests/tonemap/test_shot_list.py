"""Shots from an edit list or typed cuts: where they lie, their frames of a master, and what becomes of old trims."""

from fractions import Fraction

import pytest

from tonemap import WrongCall
from tonemap.edit_list import parse_edl
from tonemap.measure.patches import Patch
from tonemap.shot_list import with_cuts, with_edit_list
from tonemap.shots import Key, Shot
from tonemap.trim_sheet import MasterEntry, RenditionEntry, TrimSheet

PAL = Fraction(25)
EDL = """TITLE: X
001  LAMP01   V     C        00:00:10:00 00:00:12:00 01:00:00:00 01:00:02:00
* FROM CLIP NAME: wide
002  LAMP02   V     C        00:01:00:00 00:01:04:00 01:00:02:00 01:00:06:00
003  LAMP01   V     C        00:00:20:00 00:00:21:00 01:00:08:00 01:00:09:00
"""
FACE = Patch.rectangle("face", "skin", 0.1, 0.1, 0.2, 0.2)


def programme(timecode: str | None = None, *shots: Shot) -> TrimSheet:
    master = MasterEntry("A", "a.mov", frames=250, rate=PAL, timecode=timecode)
    return TrimSheet((master,), (RenditionEntry("soft", "knee"),), shots)


@pytest.mark.parametrize(("timecode", "shift"), [(None, 0), ("01:00:00:00", 0), ("00:59:58:00", 50)])
def test_shots_of_a_finished_programme_lie_by_its_timecode(timecode, shift):
    sheet, sentences = with_edit_list(programme(timecode), parse_edl(EDL, PAL))
    assert [(shot.name, shot.first - shift, shot.last - shift, shot.source_first) for shot in sheet.shots] == [
        ("1", 0, 49, shift), ("2", 50, 149, shift + 50), ("3", 200, 224, shift + 200),
    ]  # fmt: skip
    assert sheet.shots[0].note == "wide"
    assert sheet.timecode == (None if timecode else "01:00:00:00")
    past_the_end = ["shot '3' ends at frame 274 of master 'A', which has 250 frames, the last of them 249"]
    assert sentences == (past_the_end if shift else [])
    assert sum(piece.last - piece.first + 1 for piece in sheet.pieces()) == max(250, 225 + shift)


def test_shots_of_several_masters_take_their_frames_by_reel_and_source_timecode():
    masters = (
        MasterEntry("lamp01", "x.mov", frames=1000, rate=PAL, timecode="00:00:05:00"),
        MasterEntry("B", "scans/LAMP02.####.dpx", frames=2000, rate=PAL),
    )
    sheet, _ = with_edit_list(TrimSheet(masters), parse_edl(EDL, PAL))
    assert [(shot.master, shot.source, shot.count) for shot in sheet.shots] == [
        ("lamp01", 125, 50), ("B", 1500, 100), ("lamp01", 375, 25),
    ]  # fmt: skip
    assert (sheet.rate, sheet.timecode) == (PAL, "01:00:00:00")
    assert [(piece.first, piece.last) for piece in sheet.pieces() if piece.master is None] == [(150, 199)]


@pytest.mark.parametrize(
    ("masters", "sentence"),
    [
        (
            (MasterEntry("lamp01", "x.mov"), MasterEntry("B", "b.mov")),
            "shot '2': 0 masters have the name of its reel 'LAMP02' or clip ''; name just one master like it",
        ),
        (
            (MasterEntry("lamp01", "x.mov", frames=260), MasterEntry("B", "lamp02.mov")),
            "shot '1' takes frames 250 to 299 of master 'lamp01', which has 260; check its timecode (none)",
        ),
        (
            (MasterEntry("A", "a.mov", rate=PAL, timecode="01:00:01:00"),),
            "shot '1' begins 25 frames before the master's timecode 01:00:01:00; "
            "name the programme that the list is of",
        ),
    ],
)
def test_a_shot_without_a_picture_is_one_sentence(masters, sentence):
    with pytest.raises(WrongCall) as fault:
        with_edit_list(TrimSheet(masters), parse_edl(EDL, PAL))
    assert str(fault.value) == sentence


def test_typed_cuts_make_shots_of_the_whole_master():
    sheet, _ = with_cuts(programme(), [100, 30])
    assert [(shot.name, shot.first, shot.last) for shot in sheet.shots] == [
        ("1", 0, 29),
        ("2", 30, 99),
        ("3", 100, 249),
    ]
    with pytest.raises(WrongCall, match="there is no frame 250 to cut at; the master's frames are 0 to 249"):
        with_cuts(programme(), [250])


def test_a_new_cut_keeps_the_trims_of_the_shots_and_says_what_is_lost():
    old = (
        Shot("a", 0, 39, rendition="soft", patches=(FACE,), note="lamp", extra={"own": 1}),
        Shot("b", 40, 59, settings={"input.exposure": 1.0}),
        Shot("c", 60, 249, keys=(Key(70, {"input.exposure": 0.0}), Key(240, {"input.exposure": 1.0}))),
    )
    sheet, sentences = with_cuts(programme(None, *old), [36, 200])
    first, second, third = sheet.shots
    assert (first.rendition, first.patches, first.note, first.extra) == ("soft", (FACE,), "lamp", {"own": 1})
    assert [key.frame for key in second.keys] == [70]
    assert [key.frame for key in third.keys] == [240]
    assert sentences == [
        "shot '2': 1 of 2 keys of old shot 'c' lies outside it and is left out",
        "shot '3': 1 of 2 keys of old shot 'c' lies outside it and is left out",
        "the trim of old shot 'b' fits no new shot and is not in the sheet any more",
    ]


def test_a_trim_follows_its_pictures_to_another_place_of_the_programme():
    masters = (MasterEntry("lamp01", "x.mov", frames=1000), MasterEntry("lamp02", "y.mov", frames=2000))
    keys = (Key(505, {"input.exposure": 1.0}),)
    old = Shot("z", 500, 549, "lamp01", 255, settings={"input.exposure": 0.5}, keys=keys)
    sheet, _ = with_edit_list(TrimSheet(masters, shots=(old,)), parse_edl(EDL, PAL))
    assert sheet.shot("1").settings == {"input.exposure": 0.5}
    assert [key.frame for key in sheet.shot("1").keys] == [10], "frame 260 of the master, which is now frame 10"
    assert sheet.shot("2").settings == {}
