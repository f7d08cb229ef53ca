"""A master whose file vanishes, comes back or is written anew while it is open: what the bench shows and says."""

import os
import shutil
import time

import numpy as np
import pytest

from tests.bench import numbered
from tests.bench.conftest import WISHES, sample_light, write_picture
from tests.bench.programme import write_programme
from tests.bench.test_timeline_on_screen import wait_for
from tonemap.sheet_masters import enter_master
from tonemap.shots import Shot
from tonemap.signal_range import quantise
from tonemap.transfer import pq_eotf_inverse
from tonemap.trim_sheet import load, save
from viewer.bench import source_look
from viewer.bench.source_look import SourceLook, Stamp, stamp_of
from viewer.bench.start import open_first

STAYS = "the bench goes on showing the last picture"
BACK = "put the file back there, and it is read again by itself"


@pytest.fixture(autouse=True)
def looks_often(monkeypatch):
    monkeypatch.setattr(source_look, "LOOK", 0.0)


def write_master(path, share, columns=120):
    codes = quantise(pq_eotf_inverse(sample_light(columns) * share), 10, "full")
    return write_picture(path, codes << 6, "uint16", oiio__BitsPerSample=10)


def notice(hand):
    return "" if hand.bench.notice is None else hand.bench.notice.text


def is_said(hand, words):
    wait_for(hand, lambda: words in notice(hand))
    hand.settle()


def rests(hand, looks=3):
    """Let the bench look at its file so many times, where it does so now, and count how often there was news."""
    news, source = 0, hand.bench._source
    for _ in range(looks):
        news += hand.bench._look_at_source()
        if source._looking is not None:
            source._looking.wait()
        news += hand.bench._look_at_source()
    return news


@pytest.fixture
def still(hand, tmp_path):
    path = write_master(tmp_path / "night.dpx", 1.0)
    hand.bench.open(path)
    hand.click("pixels")
    hand.settle()
    rests(hand)
    return path


def test_a_still_that_vanishes_is_said_once_and_read_again_when_it_is_back(hand, still, tmp_path):
    hand.bench.notice = None
    tile = hand.tile(1)
    still.rename(tmp_path / "away.dpx")
    is_said(hand, f"{still}: No such file or directory; {STAYS}: {BACK}")
    np.testing.assert_array_equal(hand.tile(1), tile)
    hand.click("dismiss")
    assert rests(hand) == 0, "it is said again and again"
    assert hand.bench.notice is None
    hand.bench.set("input.exposure", -1.0)  # the work goes on
    hand.assert_tile_is_exact(1)
    (tmp_path / "away.dpx").rename(still)
    is_said(hand, "night.dpx is there again, and the bench has read it again")
    assert hand.bench.state.slot(1).rendition.input.exposure == -1.0
    hand.assert_tile_is_exact(1)
    hand.click("dismiss")
    assert rests(hand) == 0


def test_a_still_that_is_written_anew_is_read_again_and_the_work_stays(hand, still):
    hand.bench.set("input.exposure", -0.5)
    view, sheet = hand.bench.state.view, hand.bench.state.sheet
    before = hand.picture.samples
    write_master(still, 0.5)
    is_said(hand, "night.dpx was written anew, and the bench has read it again")
    assert "\n" not in notice(hand)
    assert (hand.bench.state.view, hand.bench.state.sheet) == (view, sheet)
    assert (hand.picture.samples < before).mean() > 0.9
    hand.assert_tile_is_exact(1)
    hand.bench.undo()
    assert hand.bench.state.slot(1).rendition.input.exposure == 0.0
    hand.assert_tile_is_exact(1)
    write_master(still, 1.0, columns=90)  # another size
    wait_for(hand, lambda: hand.picture.columns == 90)
    assert notice(hand).endswith("has read it again\nthe picture is 90 x 67, and was 120 x 67")
    hand.click("pixels")
    hand.assert_tile_is_exact(1)


def test_a_still_that_becomes_unreadable_is_said_and_tried_again_only_when_it_changes(hand, still):
    whole = still.read_bytes()
    tile = hand.tile(1)
    still.write_bytes(whole[: len(whole) // 3])
    is_said(hand, f"{still}: the file is damaged or cut short; copy or export it again; {STAYS}")
    np.testing.assert_array_equal(hand.tile(1), tile)
    hand.click("dismiss")
    assert rests(hand) == 0
    still.unlink()
    still.mkdir()  # in the place of the file
    is_said(hand, f"{still}: Is a directory; {STAYS}: {BACK}")
    still.rmdir()
    still.write_bytes(whole)
    is_said(hand, "night.dpx was written anew, and the bench has read it again")
    hand.assert_tile_is_exact(1)


def test_a_frame_of_a_sequence_is_read_again_and_the_playhead_stays(hand, host, tmp_path):
    open_first(hand.bench, write_programme(tmp_path, host))
    hand.frames(3)
    hand.click("pixels")
    playback = hand.bench.playback
    playback.transport.go(2)
    wait_for(hand, lambda: not playback.is_waiting)
    hand.key("(")
    hand.settle()
    rests(hand)
    shot = tmp_path / "reel.0002.dpx"
    shot.rename(tmp_path / "away.dpx")
    is_said(hand, f"{shot}: No such file or directory; {STAYS}")
    (tmp_path / "reel.0003.dpx").unlink()  # another one, which is in the ring: it was read before
    write_master(shot, 0.1)
    is_said(hand, "reel.0002.dpx was written anew, and the bench has read it again")
    assert hand.bench.playback is not playback
    assert (hand.bench.playback.transport.position, hand.bench.playback.transport.first) == (2, 2)
    assert hand.bench.state.frame == 2
    wait_for(hand, lambda: not hand.bench.playback.is_waiting)
    key = hand.bench.state.taken
    hand.assert_tile_is_exact(key)
    hand.key(">")
    wait_for(hand, lambda: not hand.bench.playback.is_waiting)
    assert notice(hand) == f"{tmp_path / 'reel.0003.dpx'}: the frame is missing"
    write_master(tmp_path / "reel.0003.dpx", 0.2)
    is_said(hand, "reel.0003.dpx is there again, and the bench has read it again")
    wait_for(hand, lambda: hand.bench.state.master.frame.index == 3)
    hand.assert_tile_is_exact(key)


def test_what_is_said_of_a_file_that_vanished_goes_with_its_frame(hand, host, tmp_path):
    open_first(hand.bench, write_programme(tmp_path, host))
    playback = hand.bench.playback
    playback.transport.go(2)
    wait_for(hand, lambda: not playback.is_waiting)
    rests(hand)
    (tmp_path / "reel.0002.dpx").rename(tmp_path / "away.dpx")
    is_said(hand, STAYS)
    hand.key("<")
    wait_for(hand, lambda: not playback.is_waiting)
    rests(hand)
    assert (hand.bench.state.frame, notice(hand)) == (1, "")
    hand.key(">")
    is_said(hand, STAYS)


def test_a_movie_that_is_written_anew_is_read_again(hand, tmp_path):
    path = numbered.write_movie(tmp_path / "numbers.mkv", 8)
    hand.bench.open(path)
    hand.click("pixels")
    hand.key(">")
    wait_for(hand, lambda: not hand.bench.playback.is_waiting)
    hand.settle()
    rests(hand)
    away = tmp_path / "away.mkv"
    shutil.move(path, away)
    is_said(hand, f"{path}: No such file or directory; {STAYS}")
    shutil.move(away, path)
    is_said(hand, "numbers.mkv is there again, and the bench has read it again")
    assert hand.bench.playback.transport.position == 1
    hand.key("end")
    wait_for(hand, lambda: not hand.bench.playback.is_waiting)
    assert hand.bench.state.master.frame.index == 7
    hand.settle()
    hand.assert_tile_is_exact(1)


def test_a_file_that_is_still_being_written_is_waited_for(tmp_path):
    path, now = tmp_path / "file", [0.0]
    path.write_bytes(b"one")
    read, look = stamp_of(path), SourceLook(lambda: now[0])

    def looked() -> Stamp | None:
        look.changed(read)
        while look._looking is not None and not look._looking.is_done:
            time.sleep(0.001)
        return look.changed(read)

    assert looked() is None
    for size in range(4, 7):
        path.write_bytes(b"x" * size)
        os.utime(path, ns=(size, size))
        assert looked() is None
    assert looked() == stamp_of(path)
    assert looked() is None, "it is told twice"


def test_the_only_master_of_a_sheet_that_was_missing_is_read_when_it_comes(hand, host, tmp_path):
    hand.bench.folder = tmp_path / "state"
    open_first(hand.bench, write_programme(tmp_path, host))
    hand.frames(3)
    hand.click("pixels")
    hand.key("j")
    wait_for(hand, lambda: not hand.bench.playback.is_waiting)
    hand.key("(")
    hand.settle()
    hand.bench.open(write_master(tmp_path / "other.dpx", 1.0))  # and where it stood is kept
    away = tmp_path / "away"
    away.mkdir()
    for path in tmp_path.glob("reel.*.dpx"):
        path.rename(away / path.name)
    open_first(hand.bench, tmp_path / "reel.trims")
    hand.frames(3)
    assert hand.bench.state.master is None
    assert str(tmp_path / "reel.####.dpx") in notice(hand)
    hand.bench.notice = None
    assert rests(hand) == 0
    assert hand.bench.notice is None
    hand.bench.set("input.exposure", -1.0)  # the work goes on meanwhile
    for path in sorted(away.iterdir()):
        path.rename(tmp_path / path.name)
    is_said(hand, "reel.####.dpx is there now, and the bench has read it")
    assert hand.bench.state.frame == 2
    assert hand.bench.playback.transport.first == 2
    assert hand.bench.placement.zoom == 1.0
    hand.bench.notice = None
    hand.settle()
    for slot in hand.bench.state.slots[:2]:
        hand.assert_tile_is_exact(slot.key)
    assert rests(hand) == 0
    hand.bench.end()


def test_one_of_several_masters_that_was_missing_is_read_when_it_comes(hand, host, tmp_path):
    sheet = load(write_programme(tmp_path, host))
    write_master(tmp_path / "late.dpx", 0.5)
    sheet = sheet.with_master(enter_master(tmp_path / "late.dpx", tmp_path, WISHES))
    save(sheet.with_shot(Shot("40", 6, 6, master="late", source=0)))
    (tmp_path / "late.dpx").rename(tmp_path / "away.dpx")
    open_first(hand.bench, tmp_path / "reel.trims")
    hand.frames(3)
    hand.key("end")
    wait_for(hand, lambda: not hand.bench.playback.is_waiting)
    assert notice(hand) == "frame 6 of the programme is not in master 'late'"
    assert rests(hand) == 0
    (tmp_path / "away.dpx").rename(tmp_path / "late.dpx")
    is_said(hand, "late.dpx is there again, and the bench has read it again")
    wait_for(hand, lambda: hand.bench.state.master.path.name == "late.dpx")
    hand.click("pixels")
    hand.assert_tile_is_exact(1)


def test_the_looks_at_a_file_go_by_the_clock_of_the_bench(hand, still, monkeypatch):
    monkeypatch.setattr(source_look, "LOOK", 1.0)
    now = [1e6]
    monkeypatch.setattr(hand.bench, "clock", lambda: now[0])
    rests(hand)
    still.unlink()
    rests(hand)
    assert hand.bench.notice is None
    now[0] += 1.0
    rests(hand)
    assert "No such file" in notice(hand)


def test_while_a_client_looks_nothing_is_said_on_the_picture_and_it_does_not_change_by_itself(hand, still, said):
    hand.key("f11")
    hand.settle()
    picture = hand.surface.codes().copy()
    away = still.with_name("away.dpx")
    still.rename(away)
    rests(hand)
    said.clear()
    hand.settle()
    assert hand.bench.notice is None
    assert not [words for words in said if "No such file" in words]
    np.testing.assert_array_equal(hand.surface.codes(), picture)
    write_master(still, 0.5)
    rests(hand)
    hand.settle()
    np.testing.assert_array_equal(hand.surface.codes(), picture)
    still.unlink()
    hand.key("escape")
    is_said(hand, f"{still}: No such file or directory; {STAYS}: {BACK}")
    hand.key("f11")
    write_master(still, 0.5)
    rests(hand)
    assert "No such file" in notice(hand)
    assert hand.picture.samples.max() == 769
    hand.key("escape")
    is_said(hand, "night.dpx was written anew, and the bench has read it again")
    assert hand.picture.samples.max() < 769


def test_with_a_guest_at_the_second_screen_it_is_said_on_the_bench_at_once(hand, still):
    hand.bench.presenting.has_guest = True  # off screen no window opens; what the guest's has is `presented` alone
    still.unlink()
    is_said(hand, f"{still}: No such file or directory; {STAYS}: {BACK}")
