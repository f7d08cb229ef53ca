"""Unsaved work: the journal that outlives a kill, undo and redo, and the notes by which two benches warn each other."""

import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from tonemap import TrimbenchError, find_operators
from tonemap.history import LONGEST, History
from tonemap.in_use import InUse, Person, open_elsewhere
from tonemap.journal import Journal, journal_path, recover
from tonemap.sheet_work import SheetWork, unsaved_changes
from tonemap.shots import Key, Shot
from tonemap.starters import starter_renditions
from tonemap.trim_sheet import MasterEntry, TrimSheet, load, save

ROOT = Path(__file__).resolve().parents[2]
HOST = find_operators()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Save a sheet with two shots."""
    sheet = TrimSheet((MasterEntry("A", "a.mov", frames=100),))
    for rendition in starter_renditions():
        sheet = sheet.with_rendition(rendition, HOST)
    sheet = replace(sheet, shots=(Shot("1", 0, 49), Shot("2", 50, 99)), default_rendition="BT.2390")
    save(sheet, tmp_path / "programme.trims")
    return tmp_path / "programme.trims"


def exposed(sheet: TrimSheet, stops: float) -> TrimSheet:
    return sheet.with_shot(replace(sheet.shot("1"), settings={"input.exposure": stops}))


KILLED = """
import os, signal, sys
from pathlib import Path
from dataclasses import replace
from tonemap.sheet_work import SheetWork
work = SheetWork.open(Path(sys.argv[1]))
for stops in (0.25, 0.5):
    shot = replace(work.sheet.shot("1"), settings={"input.exposure": stops})
    work.change(work.sheet.with_shot(shot), f"exposure {stops}")
work.undo()
work.change(replace(work.sheet, note="lamp"), "note")
os.kill(os.getpid(), signal.SIGKILL)
"""


def test_a_killed_bench_loses_nothing_that_was_done(path):
    before = path.read_bytes()
    done = subprocess.run([sys.executable, "-c", KILLED, path], cwd=ROOT, check=False)
    assert done.returncode == -9
    assert path.read_bytes() == before
    assert len(list(path.parent.glob(".programme.trims.*.open"))) == 1
    found = recover(path)
    assert found is not None
    assert found.changes == ("exposure 0.25", "exposure 0.5", "undo exposure 0.5", "note")
    assert (found.sheet.shot("1").settings, found.sheet.note) == ({"input.exposure": 0.25}, "lamp")
    assert found.notices == ()
    work = SheetWork.recovered(found)
    assert work.sheet == found.sheet
    assert not work.is_saved
    assert work.others() == ()
    work.save()
    assert load(path) == found.sheet
    assert not journal_path(path).exists()
    work.close()
    assert sorted(item.name for item in path.parent.iterdir()) == ["programme.trims"]


def test_a_change_that_was_cut_off_is_left_out_and_said(path):
    work = SheetWork.open(path)
    for stops in (0.25, 0.5):
        work.change(exposed(work.sheet, stops), f"exposure {stops}")
    journal = journal_path(path)
    whole = journal.read_bytes()
    journal.write_bytes(whole[:-9])
    found = recover(path)
    assert found is not None
    assert found.sheet.shot("1").settings == {"input.exposure": 0.25}
    assert found.notices == (f"{journal}: the last change was not written to its end and is left out",)
    journal.write_bytes(whole.replace(b'"patch"', b'"patsch"', 1))
    found = recover(path)
    assert found is not None
    assert (found.changes, found.sheet) == ((), load(path))
    assert found.notices == (f"{journal}: line 2 is damaged; the changes from there on are left out",)


@pytest.mark.parametrize("length", range(0, 1000, 53))
def test_a_journal_cut_at_any_place_is_read_or_refused_in_one_sentence(path, length):
    work = SheetWork.open(path)
    for stops in (0.25, 0.5, 0.75):
        work.change(exposed(work.sheet, stops), f"exposure {stops}")
    journal = journal_path(path)
    journal.write_bytes(journal.read_bytes()[:length])
    if b"\n" not in journal.read_bytes():
        with pytest.raises(TrimbenchError, match="this is no journal of version 1; move it away to go on without it"):
            recover(path)
        return
    found = recover(path)
    assert found is not None
    assert len(found.changes) == journal.read_bytes().count(b"\n") - 1
    assert found.sheet.shot("1").settings == ({"input.exposure": 0.25 * len(found.changes)} if found.changes else {})


def test_changes_of_every_kind_are_replayed(path):
    work = SheetWork.open(path)
    sheet = work.sheet
    steps = [
        replace(sheet, shots=(Shot("0", 0, 9), Shot("1", 10, 49), *sheet.shots[1:])),
        replace(sheet, shots=(), default_rendition=None, extra={"own": {"a/b~c": [1, {"d": None}]}}),
        replace(sheet, shots=tuple(Shot(str(number), number, number) for number in reversed(range(60)))),
        sheet.with_shot(Shot("2", 50, 99, keys=(Key(50, {"input.exposure": 1}), Key(60, {"input.exposure": 1.0})))),
        replace(sheet, renditions=sheet.renditions[::-1]).with_master(MasterEntry("B", "b.mov")),
    ]
    for number, step in enumerate(steps, 1):
        work.change(step, "step")
        found = recover(path)
        assert found is not None
        assert (found.sheet, len(found.changes)) == (step, number)
    work.close()


def test_nothing_is_written_before_the_first_change_nor_for_none(path):
    work = SheetWork.open(path)
    assert not journal_path(path).exists()
    work.change(work.sheet, "nothing")
    assert not journal_path(path).exists()
    assert recover(path) is None
    work.close()


def test_a_journal_of_another_state_of_the_sheet_is_refused_and_kept(path):
    work = SheetWork.open(path)
    work.change(exposed(work.sheet, 0.5), "exposure")
    save(replace(load(path), note="theirs"))
    with pytest.raises(TrimbenchError, match="the sheet has been changed since this journal was begun"):
        recover(path)
    assert journal_path(path).exists()
    with pytest.raises(TrimbenchError, match="somebody else has changed this sheet since it was read"):
        work.save()
    assert journal_path(path).exists()


def test_a_bench_at_work_keeps_its_journal_and_the_second_is_told(path):
    first = SheetWork.open(path)
    first.change(exposed(first.sheet, 0.5), "exposure")
    second = SheetWork.open(path)
    assert second.notices == [
        f"{journal_path(path)}: there is a journal of this sheet already; recover its changes or discard them first"
    ]
    lines = journal_path(path).read_text().splitlines()
    other = {**json.loads(lines[0]), "pid": os.getppid()}
    journal_path(path).write_text("\n".join([json.dumps(other), *lines[1:], ""]))
    with pytest.raises(TrimbenchError, match=r"is at work on this sheet; wait until it is closed there"):
        recover(path)
    first.close()


def test_a_full_disk_is_said_and_the_work_goes_on(path, monkeypatch):
    work = SheetWork.open(path)

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    work.change(exposed(work.sheet, 0.5), "exposure")
    assert work.notices == [
        f"{journal_path(path)}: the change can't be noted: No space left on device; save the sheet, or make room"
    ]
    assert work.sheet.shot("1").settings == {"input.exposure": 0.5}
    monkeypatch.undo()
    work.change(replace(work.sheet, note="lamp"), "note")
    found = recover(path)
    assert found is not None
    assert (found.sheet, found.notices) == (work.sheet, ())


def test_undo_and_redo_walk_through_whole_sheets_and_a_save_stays_possible(path):
    work = SheetWork.open(path)
    start = work.sheet
    work.change(exposed(work.sheet, 0.5), "exposure")
    work.save()
    work.change(exposed(work.sheet, 1.0), "more exposure")
    assert (work.history.undo_what, work.history.redo_what, work.is_saved) == ("more exposure", None, False)
    work.undo()
    assert work.is_saved
    work.undo()
    assert (work.sheet, work.is_saved) == (start, False)
    work.save()
    assert load(path) == start
    work.redo()
    assert work.sheet.shot("1").settings == {"input.exposure": 0.5}
    work.change(exposed(work.sheet, -1.0), "less")
    assert work.history.redo_what is None
    work.close()


def test_a_hand_on_a_slider_makes_one_step():
    history = History.of(0).changed(1, "slide").merged(2).merged(3)
    assert (history.state, history.undone().state, len(history.steps)) == (3, 0, 2)


def test_saved_elsewhere_the_work_goes_on_there(path, tmp_path):
    work = SheetWork.open(path)
    work.change(exposed(work.sheet, 0.5), "exposure")
    (tmp_path / "deep").mkdir()
    work.save(tmp_path / "deep" / "copy.trims")
    assert work.is_saved
    assert work.sheet.masters[0].path == "../a.mov"
    assert not journal_path(path).exists()
    work.close()


def test_two_benches_on_one_sheet_see_each_other_and_stale_notes_go(path):
    mine = InUse.leave(path)
    host = mine.person.host
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    people = {
        "running here": Person("ada", host, os.getppid(), "2026-01-02T03:04:05+00:00"),
        "elsewhere": Person("eve", "attic", 1, "2026-01-02T03:04:04+00:00"),
        "ended": Person("ada", host, ended.pid, "2026-01-02T03:04:03+00:00"),
    }
    for person in people.values():
        note = path.with_name(f".{path.name}.{person.host}.{person.pid}.open")
        note.write_text(json.dumps(person.to_dict()))
    path.with_name(f".{path.name}.broken.1.open").write_text("{")
    assert mine.others() == (people["elsewhere"], people["running here"])
    assert mine.others()[0].sentence == "eve on attic (since 2026-01-02 03:04:04 UTC)"
    assert not path.with_name(f".{path.name}.{host}.{ended.pid}.open").exists()
    mine.close()
    assert open_elsewhere(path) == (people["elsewhere"], people["running here"])


def test_a_program_that_was_killed_is_not_at_work_although_nobody_has_waited_for_it():
    program = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE)
    person = replace(Person.here(), pid=program.pid)
    assert person.is_at_work()
    program.kill()
    os.waitid(os.P_PID, program.pid, os.WEXITED | os.WNOWAIT)  # it has ended, and still has its number
    assert not person.is_at_work()
    program.communicate()


def test_a_journal_needs_a_saved_sheet():
    with pytest.raises(TrimbenchError, match="a sheet that has no file yet has no journal; save it first"):
        Journal.begin(TrimSheet())


KILLED_WHILE_SAVING = """
import os, signal, sys
from pathlib import Path
from dataclasses import replace
from tonemap.journal import Journal
from tonemap.sheet_work import SheetWork
work = SheetWork.open(Path(sys.argv[1]))
work.change(replace(work.sheet, note="first"), "first")
Journal.discard = lambda journal: os.kill(os.getpid(), signal.SIGKILL)
work.save()
"""


def test_a_kill_between_the_save_and_the_end_of_the_journal_is_no_conflict(path):
    done = subprocess.run([sys.executable, "-c", KILLED_WHILE_SAVING, path], cwd=ROOT, check=False)
    assert done.returncode == -9
    assert load(path).note == "first"
    assert journal_path(path).exists()
    found, sentences = unsaved_changes(path)
    assert found is not None
    assert (found.changes, found.sheet, sentences) == ((), load(path), ())
    work = SheetWork.recovered(found)
    assert not journal_path(path).exists()
    assert (work.is_saved, work.history.undo_what, work.notices) == (True, None, [])
    work.close()


def test_what_is_recovered_outlives_another_kill(path):
    subprocess.run([sys.executable, "-c", KILLED, path], cwd=ROOT, check=False)
    found, _ = unsaved_changes(path)
    assert found is not None
    work = SheetWork.recovered(found)
    assert work.history.undo_what == "4 changes recovered"
    work.change(exposed(work.sheet, 2.0), "more")
    again = recover(path)
    assert again is not None
    assert (again.sheet, again.changes) == (work.sheet, ("4 changes recovered", "more"))
    work.close()


def test_trims_that_a_changed_sheet_refuses_after_a_kill_are_saved_beside_it(path):
    work = SheetWork.open(path)
    work.change(exposed(work.sheet, 0.5), "exposure")
    save(replace(load(path), note="theirs"))
    with pytest.raises(TrimbenchError, match="somebody else has changed"):
        work.save()
    work.change(replace(work.sheet, note="mine"), "note")
    found, sentences = unsaved_changes(path)
    assert found is None
    assert sentences == (
        f"{path}: somebody else has changed this sheet since a bench was cut off; "
        "the trims of that bench are saved in programme-unsaved-1.trims",
    )
    mine = load(path.with_name("programme-unsaved-1.trims"))
    assert replace(mine, origin=None) == replace(work.sheet, origin=None)
    assert load(path).note == "theirs"
    assert not journal_path(path).exists()


def test_a_journal_that_fits_nothing_is_put_aside_and_said(path):
    work = SheetWork.open(path)
    work.change(exposed(work.sheet, 0.5), "exposure")
    work.change(replace(work.sheet, note="mine"), "note")
    save(replace(load(path), note="theirs"))
    head, *changes = journal_path(path).read_text().splitlines(keepends=True)
    without_sheet = {name: value for name, value in json.loads(head).items() if name != "saved"}
    journal_path(path).write_text("".join([json.dumps(without_sheet) + "\n", *changes]))
    found, sentences = unsaved_changes(path)
    aside = journal_path(path).with_name("programme.trims.journal.1")
    assert found is None
    assert sentences == (
        f"{path}: somebody else has changed this sheet since a bench was cut off, and what that bench had changed does "
        f"not fit any more and is to be done again (note, exposure); it is kept in {aside}, as text",
    )
    assert aside.exists()
    assert not journal_path(path).exists()


def test_a_journal_that_can_not_be_read_is_put_aside_and_said(path):
    journal_path(path).write_text("torn")
    assert unsaved_changes(path) == (
        None,
        (f"{journal_path(path)}: this is no journal of version 1; it is kept in {journal_path(path)}.1, as text",),
    )
    assert (path.parent / "programme.trims.journal.1").read_text() == "torn"


def test_trims_that_can_not_be_saved_beside_their_sheet_stay_where_they_are_until_they_can(path, monkeypatch):
    work = SheetWork.open(path)
    work.change(exposed(work.sheet, 0.5), "exposure")
    save(replace(load(path), note="theirs"))

    def full(*_: object) -> None:
        raise TrimbenchError(f"{path.parent}/x: can't be written: No space left on device; make room")

    with monkeypatch.context() as patched:
        patched.setattr("tonemap.sheet_work.save", full)
        found, sentences = unsaved_changes(path)
    assert (found, sentences) == (
        None,
        (
            f"{path}: somebody else has changed this sheet since a bench was cut off; its trims stay in "
            f"{journal_path(path)} until they can be saved beside the sheet: {path.parent}/x: can't be written: No "
            "space left on device; make room",
        ),
    )
    assert unsaved_changes(path)[1][0].endswith("; the trims of that bench are saved in programme-unsaved-1.trims")
    assert not journal_path(path).exists()


def test_where_the_journal_can_not_be_noted_beside_the_sheet_it_lies_elsewhere(path, tmp_path, monkeypatch):
    append = Journal._append

    def refused(journal, content):
        if journal.path.parent == path.parent:
            raise OSError(30, "Read-only file system")
        append(journal, content)

    monkeypatch.setattr(Journal, "_append", refused)
    _keeps_elsewhere(path, tmp_path / "state")


def _keeps_elsewhere(path, elsewhere):
    work = SheetWork.open(path, elsewhere)
    work.notices.clear()  # of the note that the sheet is open
    work.change(exposed(work.sheet, 0.5), "exposure")
    (journal,) = elsewhere.iterdir()
    (sentence,) = work.notices
    assert "the change can't be noted" in sentence
    assert sentence.endswith(f"; it is kept in {journal}")
    work.change(exposed(work.sheet, 0.75), "exposure")
    assert len(work.notices) == 1
    found, sentences = unsaved_changes(path, elsewhere)
    assert found is not None
    assert (found.sheet, found.changes, sentences) == (work.sheet, ("exposure", "exposure"), ())
    work.close()
    assert list(elsewhere.iterdir()) == []


def test_undo_after_a_save_in_another_folder_keeps_the_way_to_the_master(path, tmp_path):
    work = SheetWork.open(path)
    work.change(exposed(work.sheet, 0.5), "exposure")
    (tmp_path / "deep").mkdir()
    work.save(tmp_path / "deep" / "copy.trims")
    work.undo()
    assert work.sheet.masters[0].path == "../a.mov"
    work.close()


def test_the_history_is_bounded():
    history = History.of(0)
    for number in range(1, 2 * LONGEST):
        history = history.changed(number, "on")
    assert (len(history.steps), history.state, history.steps[0].state) == (LONGEST, 2 * LONGEST - 1, LONGEST)
