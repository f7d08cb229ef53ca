"""Shots: which frame has which rendition, ramps between keys, and how the pieces cover the programme."""

import pytest

from tonemap import Encoding, Rendition, WrongCall, find_operators, sdr_target
from tonemap.shots import Key, Shot
from tonemap.trim_sheet import MasterEntry, RenditionEntry, TrimSheet

HOST = find_operators()
SOFT = RenditionEntry("soft", "logarithmic")
HARD = RenditionEntry("hard", "hard_clip", settings={"input.exposure": -1.0})


def sheet(*shots: Shot, masters: tuple[MasterEntry, ...] = (MasterEntry("A", "a.mov", frames=100),)) -> TrimSheet:
    return TrimSheet(masters, (SOFT, HARD), shots, "soft")


def exposures(shot: Shot, *frames: int) -> list[float]:
    return [sheet(shot).rendition_at(frame, HOST).input.exposure for frame in frames]


def test_a_shot_has_its_rendition_with_its_own_settings_and_others_have_the_default():
    two = sheet(Shot("1", 10, 19, rendition="hard", settings={"input.exposure": -2.0}), Shot("2", 20, 29))
    assert [two.shot_at(frame) and two.shot_at(frame).name for frame in (9, 10, 19, 20, 29, 30)] == [
        None, "1", "1", "2", "2", None,
    ]  # fmt: skip
    assert [two.rendition_at(frame, HOST).tone for frame in (9, 10, 20)] == ["logarithmic", "hard_clip", "logarithmic"]
    assert two.rendition_at(19, HOST).input.exposure == -2.0


def test_without_keys_nothing_changes_inside_a_shot():
    shot = Shot("1", 0, 99, settings={"input.exposure": 0.5})
    assert not shot.changes_inside
    assert len({str(sheet(shot).rendition_at(frame, HOST)) for frame in range(100)}) == 1


def test_exposure_runs_in_equal_steps_of_stops_between_two_keys():
    shot = Shot("1", 0, 40, keys=(Key(10, {"input.exposure": -1.0}), Key(20, {"input.exposure": 1.0})))
    assert shot.changes_inside
    assert exposures(shot, 0, 10, 11, 15, 20, 40) == pytest.approx([-1.0, -1.0, -0.8, 0.0, 1.0, 1.0], abs=1e-12)


def test_a_parameter_on_a_logarithmic_scale_runs_in_equal_ratios():
    shot = Shot("1", 0, 40, keys=(Key(0, {"input.pivot": 10.0}), Key(40, {"input.pivot": 1000.0})))
    values = [sheet(shot).rendition_at(frame, HOST).input.pivot for frame in (0, 10, 20, 40)]
    assert values == pytest.approx([10.0, 10.0**1.5, 100.0, 1000.0], rel=1e-12)


def test_each_setting_runs_between_the_keys_that_have_it():
    keys = (
        Key(0, {"input.exposure": 0.0, "output.slope": [1.0, 1.0, 1.0]}),
        Key(10, {"gamut.reach": 2.0}),
        Key(20, {"input.exposure": 1.0, "output.slope": [1.0, 2.0, 3.0]}),
    )
    rendition = sheet(Shot("1", 0, 40, keys=keys)).rendition_at(10, HOST)
    assert rendition.input.exposure == pytest.approx(0.5)
    assert rendition.output.slope == pytest.approx((1.0, 1.5, 2.0))
    assert rendition.gamut_settings["reach"] == 2.0


def test_one_key_holds_for_the_whole_shot():
    shot = Shot("1", 0, 40, keys=(Key(10, {"input.exposure": -1.0}),))
    assert exposures(shot, 0, 40) == [-1.0, -1.0]
    assert not shot.changes_inside


@pytest.mark.parametrize(
    ("path", "value", "sentence"),
    [
        (
            "tone.application",
            1.0,
            "shot '1': tone.application is no number and can't have keys; set it for the whole shot",
        ),
        ("gamut.reech", 1.0, "shot '1': operator 'gamut_hue' has no parameter 'reech'; did you mean 'reach'?"),
        ("input.exposure", 99.0, "shot '1': input.exposure = 99 is outside -8..8 stops; choose a value in that range"),
    ],
)  # fmt: skip
def test_a_key_that_can_not_be_is_one_sentence(path, value, sentence):
    with pytest.raises(WrongCall) as fault:
        sheet(Shot("1", 0, 40, keys=(Key(10, {path: value}),))).rendition_at(3, HOST)
    assert str(fault.value) == sentence


@pytest.mark.parametrize(
    ("shots", "sentence"),
    [
        (
            lambda: [Shot("1", 0, 9, keys=(Key(10, {}),))],
            "shot '1': the key at frame 10 is outside its frames 0 to 9; move it in",
        ),
        (
            lambda: [Shot("1", 0, 9, keys=(Key(5, {}), Key(5, {})))],
            "shot '1': the keys at frames 5 and 5 are not in order; sort them",
        ),
        (
            lambda: [Shot("1", 0, 9, keys=(Key(5, {"target.peak": 100.0}),))],
            "shot '1': 'target.peak' can't have keys; choose a number of input, tone, gamut or output",
        ),
        (lambda: [Shot("1", 0, 9), Shot("1", 10, 19)], "two shots have the name '1'; rename one"),
        (
            lambda: [Shot("2", 9, 19), Shot("1", 0, 9)],
            "shot '2' begins at frame 9, inside shot '1' (0 to 9); move one of them",
        ),
        (
            lambda: [Shot("1", 0, 9, rendition="hart")],
            "shot '1': rendition 'hart' is not in the sheet; did you mean 'hard'?",
        ),
        (lambda: [Shot("1", 0, 9, "B")], "shot '1': master 'B' is not in the sheet; choose one of A"),
    ],
)
def test_shots_that_contradict_each_other_are_refused_in_one_sentence(shots, sentence):
    with pytest.raises(WrongCall) as fault:
        sheet(*shots())
    assert str(fault.value) == sentence


def test_the_pieces_of_one_master_cover_it_with_what_lies_between_shots():
    pieces = sheet(Shot("1", 10, 19), Shot("2", 20, 29)).pieces()
    assert [(piece.first, piece.last, piece.shot and piece.shot.name, piece.source) for piece in pieces] == [
        (0, 9, None, 0), (10, 19, "1", 10), (20, 29, "2", 20), (30, 99, None, 30),
    ]  # fmt: skip
    assert all(piece.master.name == "A" for piece in pieces)


def test_between_shots_of_several_masters_there_is_a_gap():
    two = (MasterEntry("A", "a.mov", frames=100), MasterEntry("B", "b.mov", frames=100))
    pieces = sheet(Shot("1", 0, 9, "B", 40), Shot("2", 20, 29, "A", 0), masters=two).pieces()
    assert [(piece.first, piece.last, piece.master and piece.master.name, piece.source) for piece in pieces] == [
        (0, 9, "B", 40), (10, 19, None, 10), (20, 29, "A", 0),
    ]  # fmt: skip


def test_a_shot_moves_with_its_keys_and_keeps_its_pictures():
    moved = Shot("1", 10, 19, keys=(Key(12, {}),)).shifted(5)
    assert (moved.first, moved.last, moved.source_first, moved.keys[0].frame) == (15, 24, 10, 17)


def test_a_sheet_without_a_choice_says_so():
    with pytest.raises(WrongCall, match="frame 3 has no rendition, and the sheet no default; choose one"):
        TrimSheet((MasterEntry("A", "a.mov"),)).rendition_at(3, HOST)


@pytest.mark.parametrize(
    "target", [sdr_target(203.0, 0.1), Encoding("hlg", bits=12, signal_range="narrow"), Encoding("srgb", "p3-d65")]
)
def test_a_rendition_of_the_user_enters_and_comes_out_the_same(target):
    rendition = Rendition("mine", "knee", "gamut_clip", {"start": 40.0}, {}, target=target)
    out = TrimSheet().with_rendition(rendition, HOST).rendition_entry("mine").rendition(HOST)
    assert (out.tone, out.gamut, out.tone_settings["start"], out.target) == (
        "knee", "gamut_clip", 40.0, rendition.target,
    )  # fmt: skip
