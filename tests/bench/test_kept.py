"""The bench's trim sheet: every change is a step that is undone and done again, and no kill loses one."""

import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tonemap.errors import TrimbenchError
from tonemap.host import find_operators
from tonemap.in_use import Person
from tonemap.journal import Journal
from tonemap.media.wishes import EncodingWishes
from tonemap.rendition import Rendition
from tonemap.sheet_masters import enter_master
from tonemap.sheet_work import SheetWork
from tonemap.shots import Key, Shot
from tonemap.starters import starter_renditions
from tonemap.trim_sheet import MasterEntry, TrimSheet, load, save
from viewer.bench import patch_actions, sheet_actions, sheet_keys
from viewer.bench import state as actions
from viewer.bench.bench import Bench
from viewer.bench.change_words import change_words
from viewer.bench.keeping import LOOK, REST, Keeping
from viewer.bench.layout import View
from viewer.bench.on_sheet import at_frame, with_sheet
from viewer.bench.scopes import Scopes
from viewer.bench.settings_text import paste_settings
from viewer.bench.sheet_opening import open_keeping
from viewer.bench.start import open_first

ROOT = Path(__file__).resolve().parents[2]
HOST = find_operators()
WISHES = EncodingWishes("pq", "bt2020", "full")


def programme(path: Path) -> Path:
    """Save a sheet of a master that is not there, with three shots and four renditions."""
    sheet = TrimSheet((MasterEntry("A", "a.mov", frames=100),))
    for rendition in starter_renditions():
        sheet = sheet.with_rendition(rendition, HOST)
    shots = (
        Shot("1", 0, 49),
        Shot("2", 50, 99, rendition="BT.2446 A", settings={"input.exposure": -0.5}),
        Shot("3", 100, 149, keys=(Key(110, {"input.contrast": 1.0}), Key(130, {"input.contrast": 1.2}))),
    )
    save(replace(sheet, shots=shots, default_rendition="BT.2390", extra={"house": "lantern"}), path)
    return path


class Clock:
    """A clock that a test moves."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def bench_on(path: Path, folder: Path | None = None, clock: Clock | None = None) -> Bench:
    bench = Bench(HOST, starter_renditions(), WISHES, folder)
    keeping, notices = open_keeping(path, folder)
    if clock is not None:
        keeping = Keeping(keeping.work, folder, clock=clock)
    bench.show_sheet(keeping, notices)
    bench.notice = None  # of the master that is not there
    return bench


def look(bench: Bench, clock: Clock) -> bool:
    """Let the bench look who else has the sheet open; returns whether there is something new to show."""
    clock.now += LOOK
    bench.rest()
    assert bench.keeping.looking is not None
    bench.keeping.looking.wait()
    return bench.rest()


def exposures(bench: Bench) -> dict[str, float]:
    return {slot.rendition.name: slot.rendition.input.exposure for slot in bench.state.slots}


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return bench_on(programme(tmp_path / "programme.trims"))


def key_of(bench: Bench, name: str) -> int:
    return next(slot.key for slot in bench.state.slots if slot.rendition.name == name)


def go(bench: Bench, frame: int) -> None:
    bench.state = at_frame(bench.state, frame, HOST)


def test_a_sheet_is_shown_as_each_shot_takes_it(bench):
    assert [slot.rendition.name for slot in bench.state.slots] == [item.name for item in starter_renditions()]
    assert bench.state.taken == key_of(bench, "BT.2390")
    assert set(exposures(bench).values()) == {0.0}
    go(bench, 60)
    assert bench.state.taken == key_of(bench, "BT.2446 A")
    assert exposures(bench) == {"BT.2390": 0.0, "BT.2446 A": -0.5, "BT.2446 C": 0.0, "Log roll-off": 0.0}
    go(bench, 120)
    contrast = bench.state.slot(bench.state.taken).rendition.input.contrast
    assert contrast == pytest.approx(1.1)
    assert load(bench.keeping.path) == bench.keeping.work.sheet
    assert bench.keeping.work.is_saved


def test_a_change_of_the_taken_rendition_is_everybodys_or_the_shots_own(bench):
    bench.do(actions.set_setting, key_of(bench, "BT.2390"), "input.exposure", 0.25, HOST)
    assert bench.state.sheet.rendition_entry("BT.2390").settings["input.exposure"] == 0.25
    assert bench.state.sheet.shot("1").settings == {}
    bench.do(sheet_actions.only_here, True)
    bench.do(actions.set_setting, key_of(bench, "BT.2390"), "input.saturation", 0.9, HOST)
    bench.do(actions.set_setting, key_of(bench, "BT.2390"), "output.slope", (1.0, 0.9, 1.0), HOST)
    assert bench.state.sheet.shot("1").settings == {"input.saturation": 0.9, "output.slope": [1.0, 0.9, 1.0]}
    assert bench.state.sheet.rendition_entry("BT.2390").settings["input.saturation"] == 1.0
    bench.do(actions.set_setting, key_of(bench, "BT.2390"), "target.peak", 203.0, HOST)
    assert bench.state.sheet.rendition_entry("BT.2390").settings["target.peak"] == 203.0
    bench.do(actions.set_setting, key_of(bench, "BT.2446 C"), "input.exposure", 1.0, HOST)  # which nobody takes
    assert bench.state.sheet.rendition_entry("BT.2446 C").settings["input.exposure"] == 1.0
    bench.do(sheet_actions.only_here, False)
    bench.do(actions.set_setting, key_of(bench, "BT.2390"), "input.saturation", 0.8, HOST)  # its own stays its own
    assert bench.state.sheet.shot("1").settings["input.saturation"] == 0.8
    bench.do(sheet_actions.drop_own, "input.saturation", HOST)
    assert bench.state.slot(key_of(bench, "BT.2390")).rendition.input.saturation == 1.0
    assert bench.keeping.work.history.undo_what == "input.saturation of shot 1"


def test_what_is_seen_is_what_the_shot_takes(bench):
    go(bench, 60)
    seen = bench.state.slot(key_of(bench, "BT.2446 C")).rendition
    bench.do(actions.select, key_of(bench, "BT.2446 C"))
    sheet_keys.take(bench)
    assert bench.state.sheet.rendition_at(60, HOST) == seen
    assert bench.state.sheet.shot("2").settings == {}
    assert bench.said == "shot 2 had a value of its own on the other rendition; Ctrl Z brings it all back"
    bench.undo()
    assert bench.said == "undone: shot 2 takes 'BT.2446 C', input.exposure of shot 2"
    assert bench.state.sheet.shot("2").settings == {"input.exposure": -0.5}
    bench.do(sheet_actions.take_default, HOST)
    assert (bench.state.sheet.shot("2").rendition, bench.state.taken) == (None, key_of(bench, "BT.2390"))


def test_a_key_is_set_where_a_setting_has_keys(bench):
    go(bench, 120)
    bench.do(actions.set_setting, bench.state.taken, "input.contrast", 1.15, HOST)
    shot = bench.state.sheet.shot("3")
    assert [(key.frame, key.settings) for key in shot.keys] == [
        (110, {"input.contrast": 1.0}),
        (120, {"input.contrast": 1.15}),
        (130, {"input.contrast": 1.2}),
    ]
    assert bench.state.slot(bench.state.taken).rendition.input.contrast == 1.15


def test_a_rendition_that_a_shot_takes_stays_and_renaming_reaches_the_shots(bench):
    assert not bench.do(actions.remove, key_of(bench, "BT.2446 A"))
    assert bench.notice.text == "'BT.2446 A' is what shot 2 takes; choose another one there"
    assert not bench.do(actions.remove, key_of(bench, "BT.2390"))
    assert bench.notice.text == "'BT.2390' is what shots 1, 3 take; choose another one there"
    bench.do(actions.rename, key_of(bench, "BT.2446 A"), "Soft")
    bench.do(actions.rename, key_of(bench, "BT.2390"), "House")
    assert (bench.state.sheet.shot("2").rendition, bench.state.sheet.default_rendition) == ("Soft", "House")
    assert bench.keeping.work.history.undo_what == "'BT.2390' renamed 'House'"


def test_another_operator_drops_only_what_it_does_not_have_in_every_shot(tmp_path):
    path = programme(tmp_path / "programme.trims")
    own = {"tone.start": 30.0, "input.exposure": 0.5}
    sheet = load(path).with_rendition(Rendition("Knee", "knee"), HOST)
    for name in ("1", "2"):
        sheet = sheet.with_shot(replace(sheet.shot(name), rendition="Knee", settings=own))
    save(sheet)
    bench = bench_on(path)
    bench.do(actions.choose_operator, key_of(bench, "Knee"), "tone", "bt2390", HOST)
    assert [shot.settings for shot in bench.state.sheet.shots[:2]] == [{"input.exposure": 0.5}] * 2
    bench.undo()
    assert [shot.settings for shot in bench.state.sheet.shots[:2]] == [own] * 2


def test_patches_are_those_of_the_shot(bench):
    bench.do(patch_actions.add_patch, ((0.1, 0.1), (0.4, 0.1), (0.4, 0.4)), "skin")
    go(bench, 60)
    assert bench.state.patches == ()
    go(bench, 10)
    assert [patch.name for patch in bench.state.patches] == ["Patch 1"]
    assert bench.state.sheet.shot("1").patches == bench.state.patches
    bench.undo()
    assert bench.state.patches == ()


def test_keys_of_renditions_come_back_with_an_undo(bench):
    key = key_of(bench, "Log roll-off")
    bench.do(actions.remove, key)
    bench.do(actions.add, Rendition("New", "knee"))
    bench.undo()
    bench.undo()
    assert key_of(bench, "Log roll-off") == key
    bench.redo()
    assert [slot.rendition.name for slot in bench.state.slots] == ["BT.2390", "BT.2446 A", "BT.2446 C"]


STEPS = ["expose", "own", "all", "add", "duplicate", "remove", "rename", "move", "take", "default", "patch", "frame"]
STEPS += ["operator", "drop", "undo", "redo", "rest", "key", "hold", "let go", "paste"]
STEPS += ["move patch", "rename patch", "kind of patch", "remove patch"]


def step(bench: Bench, name: str, number: int) -> None:
    """Do one thing as a hand would; what is refused changes nothing."""
    if name == "frame":
        go(bench, (37 * number) % 150)
    elif name in ("undo", "redo"):
        getattr(bench, name)()
    elif name == "rest":
        bench.keeping.save()
    elif name in ("own", "all"):
        bench.do(sheet_actions.only_here, name == "own")
    elif name == "add":
        bench.do(actions.add, Rendition("R", "knee"))
    elif name == "key":
        bench.do(sheet_actions.set_keys, ["input.exposure", "output.slope"], HOST)
    elif name in ("hold", "let go"):
        bench.do(sheet_actions.hold_own if name == "hold" else sheet_actions.let_go_of_own, HOST)
    elif name.endswith("patch") and name != "patch":
        bench.do(patch_actions.choose_next_patch)
        made: dict[str, Any] = {
            "move patch": lambda state: patch_actions.move_patch(state, 0.01 * number, 0.02),
            "rename patch": lambda state: patch_actions.rename_patch(state, f"P{number}"),
            "kind of patch": patch_actions.next_kind,
            "remove patch": patch_actions.remove_patch,
        }
        bench.do(made[name])
    elif name == "drop":
        bench.do(sheet_actions.drop_own, "input.exposure", HOST)
    elif name == "patch":
        if bench.state.shot is not None:
            bench.do(patch_actions.add_patch, ((0.1, 0.1), (0.4, 0.1), (0.4, 0.11 + 0.01 * number)))
    elif bench.state.slots:
        step_of_rendition(bench, name, bench.state.slots[number % len(bench.state.slots)].key, number)


def step_of_rendition(bench: Bench, name: str, key: int, number: int) -> None:
    tones = ("bt2390", "knee", "logarithmic")
    made: dict[str, tuple[Any, ...]] = {
        "expose": (actions.set_setting, "input.exposure", 0.125 * (number - 8), HOST),
        "duplicate": (actions.duplicate,),
        "remove": (actions.remove,),
        "rename": (actions.rename, f"N{number}"),
        "move": (sheet_actions.move, 1 if number % 2 else -1),
        "take": (sheet_actions.take, HOST),
        "default": (sheet_actions.with_default, HOST),
        "paste": (paste_settings, f'tone = "knee"\ngamut = "gamut_clip"\ninput.saturation = 0.{number + 1}', HOST),
        "operator": (actions.choose_operator, "tone", tones[number % 3], HOST),
    }
    action, *arguments = made[name]
    bench.do(action, key, *arguments)


HANDS = st.lists(st.tuples(st.sampled_from(STEPS), st.integers(0, 15)), min_size=1, max_size=25)


def assert_whole(bench: Bench) -> None:
    """Assert that the renditions on the bench are those of the sheet, as it stands in its file or journal."""
    again = with_sheet(replace(bench.state, slots=()), bench.state.sheet, HOST)
    assert [slot.rendition.name for slot in again.slots] == [slot.rendition.name for slot in bench.state.slots]
    for one, other in zip(again.slots, bench.state.slots, strict=True):
        assert change_words(*(_entered(slot.rendition) for slot in (one, other))) == "the sheet"
    assert bench.state.patches == (bench.state.shot.patches if bench.state.shot else ())


def _entered(rendition: Rendition) -> TrimSheet:
    return TrimSheet().with_rendition(rendition, HOST)


@settings(max_examples=40)
@given(HANDS)
def test_undoing_everything_is_the_start_and_redoing_everything_the_end(hands):
    with tempfile.TemporaryDirectory() as folder:
        bench = bench_on(programme(Path(folder) / "programme.trims"))
        start = bench.keeping.work.sheet
        for name, number in hands:
            step(bench, name, number)
            assert_whole(bench)
        while bench.keeping.work.history.redo_what is not None:
            bench.redo()
        end = bench.keeping.work.sheet
        for _ in range(len(hands) + 1):
            bench.undo()
        assert_whole(bench)
        assert bench.state.sheet == start
        for _ in range(len(hands) + 1):
            bench.redo()
        assert_whole(bench)
        assert bench.state.sheet == end
        bench.end()
        assert load(Path(folder) / "programme.trims") == end


@settings(max_examples=25)
@given(HANDS)
def test_after_a_kill_at_any_point_the_last_state_is_back(hands):
    with tempfile.TemporaryDirectory() as folder:
        path = programme(Path(folder) / "work" / "programme.trims") if (Path(folder) / "work").mkdir() is None else None
        bench = bench_on(path)
        for number, (name, value) in enumerate(hands):
            step(bench, name, value)
            copy = Path(folder) / f"killed {number}"
            shutil.copytree(path.parent, copy)  # what is on the disk when the process ends here
            keeping, _ = open_keeping(copy / path.name, None)
            assert keeping.work.sheet == bench.state.sheet
            keeping.close()
        bench.end()


def test_the_sheet_saves_itself_when_the_hand_rests_and_only_then(tmp_path):
    clock = Clock()
    path = programme(tmp_path / "programme.trims")
    bench = bench_on(path, clock=clock)
    before = path.read_bytes()
    for count in range(5):
        clock.now = 0.1 * count
        bench.do(actions.set_setting, 1, "input.exposure", 0.1 * count + 0.1, HOST)
        bench.rest()
    assert path.read_bytes() == before
    assert bench.keeping.words() == "programme.trims"
    clock.now += 0.9 * REST
    bench.rest()
    assert path.read_bytes() == before
    clock.now += 0.2 * REST
    assert bench.rest()
    assert load(path).rendition_entry("BT.2390").settings["input.exposure"] == 0.5
    assert bench.keeping.words() == "programme.trims, saved"
    assert load(path).extra == {"house": "lantern"}


def test_a_drag_is_one_step_made_when_the_hand_lets_go(bench):
    bench.is_held = True
    for count in range(20):
        bench.do(actions.set_setting, 1, "input.exposure", 0.05 * count, HOST)
        bench.rest()
    assert bench.keeping.work.history.undo_what is None
    bench.is_held = False
    bench.rest()
    assert bench.keeping.work.history.undo_what == "input.exposure of 'BT.2390'"
    bench.undo()
    assert exposures(bench)["BT.2390"] == 0.0
    assert bench.keeping.work.history.undo_what is None


def test_two_benches_on_one_sheet_warn_each_other_as_long_as_they_are_open(tmp_path):
    clock = Clock()
    path = programme(tmp_path / "programme.trims")
    bench = bench_on(path, clock=clock)
    assert bench.keeping.warnings() == []
    other = Person("ada", Person.here().host, os.getppid(), "2026-01-02T03:04:05+00:00")
    note = path.with_name(f".{path.name}.{other.host}.{other.pid}.open")
    note.write_text(json.dumps(other.to_dict()))
    assert look(bench, clock)
    rule = "who saves first is kept, the other is asked for another name"
    assert bench.keeping.warnings() == [
        f"also open by ada on {other.host} (since 2026-01-02 03:04:05 UTC): {rule}",
        f"also open by ada on {other.host}: {rule}",
        f"also open by ada on {other.host}",
    ]
    note.unlink()
    assert look(bench, clock)
    assert bench.keeping.warnings() == []


def test_what_the_other_bench_saved_is_never_overwritten_and_the_own_work_stays(tmp_path):
    path = programme(tmp_path / "programme.trims")
    bench = bench_on(path, tmp_path / "state")
    save(replace(load(path), note="theirs"))
    theirs = path.read_bytes()
    bench.do(actions.set_setting, 1, "input.exposure", 0.5, HOST)
    bench.keeping.save()
    assert bench.keeping.words() == (
        f"not saved: {path}: somebody else has changed this sheet since it was read; save under another name, or open "
        "it again"
    )
    bench.save_as(tmp_path / "mine.trims")
    assert bench.keeping.words() == "mine.trims, saved"
    assert load(tmp_path / "mine.trims").rendition_entry("BT.2390").settings["input.exposure"] == 0.5
    assert path.read_bytes() == theirs
    bench.end()
    assert sorted(item.name for item in tmp_path.iterdir()) == ["mine.trims", "programme.trims", "state"]


REFUSED = "{}: somebody else has changed this sheet since it was read"


def test_trims_that_somebody_elses_are_in_the_way_of_are_saved_beside_them_when_the_bench_is_closed(tmp_path):
    path = programme(tmp_path / "programme.trims")
    for number, exposure in ((1, 0.5), (2, 0.75)):
        bench = bench_on(path, tmp_path / "state")
        bench.do(actions.set_setting, 1, "input.exposure", exposure, HOST)
        save(replace(load(path), note=f"theirs {number}"))
        theirs, mine = path.read_bytes(), tmp_path / f"programme-unsaved-{number}.trims"
        assert bench.end() == [f"{REFUSED.format(path)}; the trims of this bench are saved in {mine}"]
        assert path.read_bytes() == theirs
        assert load(mine).rendition_entry("BT.2390").settings["input.exposure"] == exposure
        assert [item.name for item in tmp_path.iterdir() if "journal" in item.name] == []
    again = bench_on(tmp_path / "programme-unsaved-2.trims", tmp_path / "state")
    assert exposures(again)["BT.2390"] == 0.75
    again.end()


def test_work_that_can_be_saved_nowhere_stays_in_the_journal_when_the_bench_is_closed(tmp_path, monkeypatch):
    path = programme(tmp_path / "programme.trims")
    bench = bench_on(path, tmp_path / "state")
    bench.do(actions.set_setting, 1, "input.exposure", 0.5, HOST)

    def full(*_given, **_said):
        raise TrimbenchError(f"{path}: can't be written: No space left on device")

    monkeypatch.setattr(SheetWork, "save", full)
    assert bench.end() == [f"the trims could not be saved: {path}: can't be written: No space left on device"]
    _, notices = open_keeping(path, tmp_path / "state")
    assert notices[0].startswith("programme.trims: a change is back that the last bench was cut off from")


def test_a_full_disk_is_said_and_the_work_goes_on_in_memory(tmp_path, monkeypatch):
    path = programme(tmp_path / "programme.trims")
    bench = bench_on(path, tmp_path / "state")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Journal, "_append", full)
    monkeypatch.setattr("os.fsync", full)
    bench.do(actions.set_setting, 1, "input.exposure", 0.5, HOST)
    assert bench.notice.text == (
        f"{path}.journal: the change can't be noted: No space left on device; save the sheet, or make room"
    )
    bench.keeping.save()
    assert bench.keeping.words() == (
        f"not saved: {path}: can't be written: No space left on device; nothing of it is kept; choose another place, "
        "or make room"
    )
    bench.do(actions.set_setting, 1, "input.exposure", 0.75, HOST)
    assert exposures(bench)["BT.2390"] == 0.75
    monkeypatch.undo()
    bench.keeping.save()
    assert bench.keeping.words() == "programme.trims, saved"
    assert load(path).rendition_entry("BT.2390").settings["input.exposure"] == 0.75


def test_a_sheet_of_a_newer_version_is_refused_and_the_one_now_stays(tmp_path):
    bench = bench_on(programme(tmp_path / "programme.trims"))
    newer = tmp_path / "newer.trims"
    newer.write_text(json.dumps({**json.loads((tmp_path / "programme.trims").read_text()), "version": 99}))
    before = bench.state
    bench.open(newer)
    assert bench.state is before
    assert "99" in bench.notice.text
    with pytest.raises(TrimbenchError, match="99"):
        open_first(bench, newer)


def test_where_the_bench_stood_is_kept_apart_from_the_sheet(tmp_path):
    path = programme(tmp_path / "programme.trims")
    content = path.read_bytes()
    bench = bench_on(path, tmp_path / "state")
    go(bench, 60)
    bench.do(actions.select, key_of(bench, "BT.2446 C"))
    bench.do(actions.with_view, View(4.0, (10.0, 20.0)))
    bench.show(layout="wipe", first=key_of(bench, "BT.2390"), second=key_of(bench, "Log roll-off"))
    scopes = Scopes(("transfer", "waveform"), "parade", key_of(bench, "Log roll-off"), None, True, 2.0, 0.5)
    bench.shown.scopes = scopes
    bench.end()
    assert path.read_bytes() == content
    again = bench_on(path, tmp_path / "state")
    assert (again.state.frame, again.state.shot.name, again.state.view) == (60, "2", View(4.0, (10.0, 20.0)))
    assert again.state.selected_slot.rendition.name == "BT.2446 C"
    assert again.shown.scopes == replace(scopes, first=key_of(again, "Log roll-off"))
    pair = again.state.showing.pair(again.state.keys)
    assert [again.state.slot(key).rendition.name for key in pair] == ["BT.2390", "Log roll-off"]
    for wrong in ('{"zoom": "far", "scopes": {"open": 3}}', '{"scopes": {"first": [7], "second": 9}}', "[1]"):
        for place in (tmp_path / "state" / "views").iterdir():
            place.write_text(wrong)
        damaged = bench_on(path, tmp_path / "state")
        assert (damaged.state.frame, damaged.state.view.zoom) == (0, None)
        assert damaged.shown.scopes == Scopes()


def test_the_chosen_patch_is_chosen_again(tmp_path):
    path = programme(tmp_path / "programme.trims")
    bench = bench_on(path, tmp_path / "state")
    for x in (0.1, 0.4):
        bench.do(patch_actions.add_patch, ((x, 0.1), (x + 0.2, 0.1), (x + 0.2, 0.3)))
    bench.do(patch_actions.choose_patch, 0)
    bench.end()
    again = bench_on(path, tmp_path / "state")
    assert again.state.chosen_patch == bench.state.chosen_patch
    assert again.state.chosen_patch.name == "Patch 1"


def test_trims_of_a_master_without_a_sheet_are_kept_and_come_back_until_they_have_a_name(tmp_path, pictures):
    folder = tmp_path / "state"
    master = Path(shutil.copy(pictures / "master.dpx", tmp_path))
    bench = Bench(HOST, starter_renditions(), WISHES, folder)
    open_first(bench, master)
    assert bench.keeping.words() == "unnamed trims, no change yet"
    assert bench.end() == []
    assert not folder.exists()

    bench = Bench(HOST, starter_renditions(), WISHES, folder)
    open_first(bench, master)
    bench.do(actions.set_setting, 1, "input.exposure", 0.5, HOST)
    assert bench.keeping.words() == "unnamed trims, kept"
    (sentence,) = bench.end()
    assert sentence.startswith(f"the trims have no name yet and are kept in {folder / 'unnamed' / 'master-'}")

    bench = Bench(HOST, starter_renditions(), WISHES, folder)
    open_first(bench, master)
    assert bench.notice.text == "the trims of master.dpx are back; Ctrl S gives them a name"
    assert exposures(bench)["BT.2390"] == 0.5
    assert bench.state.master.path == master
    bench.save_as(tmp_path / "master.trims")
    assert list((folder / "unnamed").iterdir()) == []
    bench.do(actions.set_setting, 1, "input.exposure", 0.75, HOST)
    bench.undo()
    assert bench.end() == []
    sheet = load(tmp_path / "master.trims")
    assert (sheet.masters[0].path, sheet.masters[0].said["transfer"]) == ("master.dpx", "pq")
    assert sheet.rendition_entry("BT.2390").settings["input.exposure"] == 0.5

    while sheet.masters[0].first_frame is None:  # it is read aside
        bench = Bench(HOST, starter_renditions(), WISHES, folder)
        open_first(bench, master, has_renditions=True)
        bench.do(actions.set_setting, 1, "input.exposure", 0.5, HOST)
        while bench.state.sheet.masters[0].first_frame is None:
            bench.rest()
        assert bench.keeping.work.history.undo_what == "input.exposure of 'BT.2390'"
        bench.undo()
        assert bench.keeping.work.history.undo_what is None
        bench.end()
        (kept,) = (folder / "unnamed").iterdir()
        sheet = load(kept)
        kept.unlink()
    assert sheet.masters[0].first_frame == enter_master(master, tmp_path, WISHES).first_frame

    bench = Bench(HOST, (Rendition("Other", "knee"),), WISHES, folder)
    open_first(bench, master, has_renditions=True)
    bench.do(actions.set_setting, 1, "input.exposure", 0.1, HOST)
    bench.end()
    bench = Bench(HOST, (Rendition("Third", "knee"),), WISHES, folder)
    open_first(bench, master, has_renditions=True)
    kept = bench.notice.text.removeprefix("earlier trims of master.dpx without a name are kept in ")
    assert load(kept).renditions[0].name == "Other"


def test_another_master_on_the_bench_gets_a_sheet_of_its_own_and_the_first_is_saved(tmp_path, pictures):
    path = programme(tmp_path / "programme.trims")
    bench = bench_on(path, tmp_path / "state")
    bench.do(actions.set_setting, 1, "input.exposure", 0.5, HOST)
    bench.open(pictures / "master.dpx")
    assert bench.notice.text == "programme.trims is saved; the trims for master.dpx have no name yet"
    assert load(path).rendition_entry("BT.2390").settings["input.exposure"] == 0.5
    bench.do(actions.set_setting, 1, "input.exposure", 1.0, HOST)
    assert load(path).rendition_entry("BT.2390").settings["input.exposure"] == 0.5
    bench.end()


def test_a_rendition_whose_operator_is_not_here_survives(tmp_path):
    path = programme(tmp_path / "programme.trims")
    entries = json.loads(path.read_text())
    strange = {"name": "Strange", "tone": "their_own", "settings": {"tone.size": 3, "input.exposure": 0.5}, "tag": 7}
    entries["renditions"].append(strange)
    path.write_text(json.dumps(entries))
    bench = bench_on(path)
    bench.do(actions.rename, key_of(bench, "Strange"), "Theirs")
    bench.do(actions.set_setting, 1, "input.exposure", 0.25, HOST)
    bench.end()
    assert load(path).rendition_entry("Theirs").to_dict() == {**strange, "name": "Theirs", "gamut": "gamut_hue"}


def test_a_killed_bench_without_a_sheet_finds_its_trims_again(tmp_path, pictures):
    folder = tmp_path / "state"
    bench = Bench(HOST, starter_renditions(), WISHES, folder)
    open_first(bench, pictures / "master.dpx")
    bench.do(actions.set_setting, 1, "input.exposure", 0.5, HOST)
    bench.do(actions.set_setting, 1, "input.exposure", 0.75, HOST)
    again = Bench(HOST, starter_renditions(), WISHES, folder)  # the first one has not ended: it was killed
    open_first(again, pictures / "master.dpx")
    assert exposures(again)["BT.2390"] == 0.75
    assert re.fullmatch(
        r"master-\w+\.trims: a change is back that the last bench was cut off from: input.exposure of 'BT.2390'\n"
        r"the trims of master.dpx are back; Ctrl S gives them a name",
        again.notice.text,
    )
    again.end()


def test_a_sheet_that_is_open_is_not_opened_again(tmp_path):
    path = programme(tmp_path / "programme.trims")
    bench = bench_on(path, tmp_path / "state")
    bench.do(actions.set_setting, 1, "input.exposure", 0.5, HOST)
    keeping = bench.keeping
    bench.open(path)
    assert bench.keeping is keeping
    assert bench.said == "programme.trims is open here already"
    bench.undo()
    assert exposures(bench)["BT.2390"] == 0.0
    bench.end()


def test_a_sheet_that_can_not_be_saved_when_another_is_opened_is_saved_beside_it(tmp_path):
    path = programme(tmp_path / "programme.trims")
    other = programme(tmp_path / "other.trims")
    bench = bench_on(path, tmp_path / "state")
    bench.do(actions.set_setting, 1, "input.exposure", 0.5, HOST)
    save(replace(load(path), note="theirs"))
    bench.open(other)
    mine = tmp_path / "programme-unsaved-1.trims"
    assert bench.notice.text.startswith(f"{REFUSED.format(path)}; the trims of this bench are saved in {mine}")
    assert load(mine).rendition_entry("BT.2390").settings["input.exposure"] == 0.5
    bench.end()


def test_a_shot_that_there_is_not_is_said_before_anything_is_opened(tmp_path):
    path = programme(tmp_path / "programme.trims")
    bench = Bench(HOST, starter_renditions(), WISHES, tmp_path / "state")
    with pytest.raises(TrimbenchError, match="shot '9' is not in the sheet"):
        open_first(bench, path, shot="9")
    assert [item.name for item in tmp_path.iterdir()] == ["programme.trims"]
    open_first(bench, path, shot="2")
    assert bench.state.shot.name == "2"
    bench.end()


def test_what_is_put_back_comes_with_all_that_the_removal_took_along(tmp_path):
    path = programme(tmp_path / "programme.trims")
    save(replace(load(path), shots=()))
    bench = bench_on(path)
    before = bench.state.sheet
    bench.remove(key_of(bench, "BT.2390"))
    assert bench.state.sheet.default_rendition is None
    bench.put_back()
    assert (bench.state.sheet, bench.notice) == (before, None)
    bench.remove(key_of(bench, "BT.2390"))
    bench.do(actions.set_setting, key_of(bench, "BT.2446 A"), "input.exposure", 1.0, HOST)
    bench.put_back()
    assert [slot.rendition.name for slot in bench.state.slots] == [item.name for item in starter_renditions()]
    assert exposures(bench)["BT.2446 A"] == 1.0


OTHER = """
import sys
from pathlib import Path
from tonemap.sheet_work import SheetWork
work = SheetWork.open(Path(sys.argv[1]))
print("open", flush=True)
sys.stdin.readline()
work.close()
"""


def test_two_programs_on_one_sheet_see_each_other(tmp_path):
    clock = Clock()
    path = programme(tmp_path / "programme.trims")
    bench = bench_on(path, clock=clock)
    command = [sys.executable, "-c", OTHER, str(path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT) as other:
        assert other.stdout is not None
        assert other.stdin is not None
        assert other.stdout.readline() == "open\n"
        look(bench, clock)
        assert [person.pid for person in bench.keeping.people] == [other.pid]
        other.stdin.write("\n")
        other.stdin.flush()
        other.wait(timeout=300)
    look(bench, clock)
    assert bench.keeping.people == ()
    bench.end()


def test_nothing_is_written_while_frames_pass_or_a_hand_holds_the_picture(tmp_path, monkeypatch):
    clock = Clock()
    folder = tmp_path / "state"
    bench = bench_on(programme(tmp_path / "programme.trims"), folder)
    bench.keeping = Keeping(bench.keeping.work, folder, clock=clock)
    monkeypatch.setattr(Bench, "is_moving", property(lambda _: True))
    for frame in range(1, 60):
        go(bench, frame)
        clock.now += 0.04
        bench.rest()
    assert not folder.exists()
    monkeypatch.undo()
    bench.rest()
    clock.now += REST
    bench.rest()
    assert len(list((folder / "views").iterdir())) == 1
    bench.end()
