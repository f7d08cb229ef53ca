"""An operator that needs statistics gets the shot's on the bench, as in a render; until they are there it is said."""

import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.bench.conftest import WISHES, Hand
from tests.bench.programme import write_programme
from tests.bench.test_keys_of_shots_on_screen import assert_is_rendered, go_to_frame
from tests.bench.test_sheet_on_screen import go_to_shot
from tests.bench.test_timeline_on_screen import wait_for
from tests.render.test_needs import GLSL, PYTHON
from tonemap.anchors import anchors_of
from tonemap.encoding import decode
from tonemap.errors import TrimbenchError
from tonemap.host import find_operators
from tonemap.lut import apply_lut
from tonemap.lut_file import read_lut
from tonemap.media.oiio import read_picture
from tonemap.picture import Picture
from tonemap.reference import ReferenceEngine
from tonemap.rendition import Rendition
from tonemap.statistics import stand_ins
from tonemap.trim_sheet import load, save
from viewer.bench import hand_on, shot_statistics
from viewer.bench.jobs import DONE, ENDED
from viewer.bench.start import open_first

MINE = Rendition("Mine", "measured", "gamut_clip")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = tmp_path / "operators"
    folder.mkdir()
    (folder / "measured.py").write_text(PYTHON)
    (folder / "measured.glsl").write_text(GLSL)
    return folder


@pytest.fixture
def sheet(tmp_path: Path, folder: Path) -> Path:
    """Write a programme whose shots take the operator; each frame is darker than the one before."""
    host = find_operators([folder])
    path = write_programme(tmp_path, host)
    made = load(path).with_rendition(MINE, host)
    shots = tuple(replace(shot, rendition="Mine", settings={}) for shot in made.shots)
    save(replace(made, shots=shots, default_rendition="Mine"))
    return path


@pytest.fixture
def hand(hand: Hand, folder: Path, tmp_path: Path) -> Iterator[Hand]:
    hand.bench.host = hand.bench.workings.host = find_operators([folder])
    hand.bench.folder = tmp_path / "state"
    yield hand
    hand.bench.end()


def opened(hand: Hand, sheet: Path) -> int:
    open_first(hand.bench, sheet)
    hand.frames(3)
    hand.click("pixels")
    key = next(slot.key for slot in hand.bench.state.slots if slot.rendition.name == "Mine")
    hand.click(f"caption {key}")
    hand.move(5, 5)  # away from what would show a help text over the tile
    return key


def statistics_of(folder: Path, frames) -> tuple[float, float]:
    """Return the peak and the average that the operator needs, by NumPy from the files."""
    pictures = [read_picture(folder / f"reel.{number:04d}.dpx", WISHES).picture for number in frames]
    largest = np.stack([decode(picture.samples, picture.encoding).max(axis=-1) for picture in pictures])
    return float(largest.max()), float(largest.mean())


def test_every_frame_of_a_shot_has_the_shots_statistics_and_the_pixels_of_a_render(hand, sheet):
    key = opened(hand, sheet)
    for shot, frames in (("10", (0, 1)), ("20", (2, 3)), ("30", (4, 5))):
        go_to_shot(hand, shot)
        for frame in frames:
            go_to_frame(hand, frame)
            found = hand.chain(key).statistics
            peak, average = statistics_of(sheet.parent, frames)
            assert (found.peak_nits, found.average_nits) == pytest.approx((peak, average), rel=1e-4)
            assert_is_rendered(hand)


def test_a_key_on_a_measured_shot_is_rendered_the_same(hand, sheet):
    opened(hand, sheet)
    go_to_shot(hand, "20")
    hand.click("key input.exposure")
    go_to_frame(hand, 3)
    hand.type("field input.exposure", "-1")
    assert_is_rendered(hand)


@pytest.fixture
def gate(hand, monkeypatch):
    """Let measuring wait until the test opens the gate, as in a window."""
    gate, add = threading.Event(), shot_statistics.FramesTogether.add

    def slow(*given, **said):
        assert gate.wait(200.0)
        return add(*given, **said)

    monkeypatch.setattr(shot_statistics.FramesTogether, "add", slow)
    monkeypatch.setattr(shot_statistics, "TELL", 0.0)
    hand.bench.reads_aside = True
    yield gate
    gate.set()


def test_until_the_shot_is_measured_the_tile_says_so_and_nothing_final_is_made(hand, sheet, gate, said, tmp_path):
    open_first(hand.bench, sheet)
    wait_for(hand, lambda: hand.bench.opening is None and hand.bench.state.master is not None)
    key = next(slot.key for slot in hand.bench.state.slots if slot.rendition.name == "Mine")
    hand.click("pixels")
    hand.click(f"caption {key}")
    hand.move(5, 5)
    hand.settle()
    said.clear()
    hand.frames(1)
    assert [words for words in said if words.startswith("not final")] == [
        next(words for words in hand.bench.measuring_words() if words in said)
    ]
    assert "measured 0 of 2 frames" in hand.bench.measuring_words()[0]
    assert hand.chain(key).statistics is None  # what stands for them: the master's peak
    assert stand_ins(hand.chain(key).levels).peak_nits == 1000.0
    hand.assert_tile_is_exact(key)  # the drag of a slider answers meanwhile
    with pytest.raises(
        TrimbenchError, match=r"^the shot of 'Mine' is still being measured; write the still after that$"
    ):
        hand_on.job_of(hand.bench, hand_on.STILL, key, tmp_path / "a.tif", hand_on.Wishes())
    before = hand.bench.state
    hand.bench.match_grey(key, hand.bench.state.slots[0].key)
    assert hand.bench.state is before
    assert hand.bench.notice.text == (
        "the shot is still being measured for an operator; match the grey when that is done"
    )
    hand.key("f11")
    hand.settle()
    said.clear()
    hand.frames(1)
    assert any("not final" in words for words in said), "presented without a word"
    hand.key("escape")
    gate.set()
    wait_for(hand, lambda: not hand.bench.working(hand.bench.state.slot(key)).is_measuring)
    hand.click("pixels") if hand.bench.placement.zoom != 1.0 else None
    assert hand.chain(key).statistics.peak_nits < 1000.0
    said.clear()
    assert_is_rendered(hand)
    assert not [words for words in said[-60:] if "not final" in words]
    hand.bench.match_grey(key, hand.bench.state.slots[0].key)
    greys = [anchors_of(hand.chain(each))[0].nits for each in (key, hand.bench.state.slots[0].key)]
    assert greys[0] == pytest.approx(greys[1], rel=1e-3)


def test_another_shot_is_measured_first_when_it_is_gone_to_and_each_only_once(hand, sheet, monkeypatch):
    measured: list[str] = []
    add = shot_statistics.FramesTogether.add

    def counted(self, frame, workers=None):
        measured.append(frame.name)
        add(self, frame, workers)

    monkeypatch.setattr(shot_statistics.FramesTogether, "add", counted)
    opened(hand, sheet)
    for shot in ("20", "30"):
        go_to_shot(hand, shot)
    go_to_frame(hand, 0)
    go_to_frame(hand, 5)
    hand.bench.set("input.exposure", -1.0)
    hand.settle()
    assert sorted(measured) == [f"reel.{number:04d}.dpx" for number in range(6)]


def test_a_shot_of_which_no_frame_can_be_measured_is_one_sentence_on_the_tile(hand, sheet):
    key = opened(hand, sheet)
    for number in (4, 5):
        (sheet.parent / f"reel.{number:04d}.dpx").write_bytes(b"torn")
    stretch = hand.bench.playback.reel.stretch_at(4)
    hand.bench._statistics.of(stretch)
    hand.bench._statistics.wait()
    hand.bench.state = replace(hand.bench.state, frame=4)
    words = "no frame can be measured for the operator that needs it"
    assert words in hand.bench.fault(hand.bench.state.slot(key))


def test_a_still_is_measured_by_itself(hand, tmp_path, pictures):
    hand.bench.open(pictures / "master.dpx")
    hand.click("add")
    key = hand.bench.state.selected
    hand.click("tone")
    hand.click("tone=measured")
    hand.click("pixels")
    assert hand.bench.state.slot(key).rendition.tone == "measured"
    peak = hand.reference_light(None).max()
    assert hand.chain(key).statistics.peak_nits == pytest.approx(peak, rel=1e-6)
    hand.assert_tile_is_exact(key)


def test_a_frame_of_another_shot_that_is_just_done_is_not_counted_for_this_one(hand, sheet, monkeypatch):
    opened(hand, sheet)
    reel, statistics = hand.bench.playback.reel, shot_statistics.ShotStatistics(lambda: None)
    add, begun = shot_statistics.FramesTogether.add, threading.Event()

    def turned_away(self, frame, workers=None):
        add(self, frame, workers)
        if not begun.is_set():
            statistics.hold(True)  # the other shot begins, and waits before its first frame
            statistics.of(reel.stretch_at(4))
            begun.set()

    monkeypatch.setattr(shot_statistics.FramesTogether, "add", turned_away)
    statistics.of(reel.stretch_at(0))
    assert begun.wait(200.0)
    time.sleep(0.1)
    assert statistics.measured == 0
    statistics.close()


@pytest.mark.parametrize("taken", ["Mine", "BT.2390"])
def test_a_lut_of_any_rendition_is_measured_on_the_frames_that_its_tile_is_measured_on(hand, sheet, tmp_path, taken):
    shots = tuple(replace(shot, rendition=taken) for shot in load(sheet).shots)
    save(replace(load(sheet), shots=shots))
    key = opened(hand, sheet)
    go_to_shot(hand, "20")
    go_to_frame(hand, 3)
    job = hand_on.job_of(hand.bench, hand_on.LUT, key, tmp_path / "mine.clf", hand_on.Wishes(size=65))
    hand.bench.jobs.add(job)
    wait_for(hand, lambda: job.state in ENDED)
    assert job.state == DONE, job.sentences
    codes = hand.picture.samples.reshape(-1, 3)[::7]
    assert codes.dtype == np.uint16
    chain = hand.chain(key)
    exact = ReferenceEngine().signal(Picture(codes[np.newaxis], chain.master), chain)[0]
    found = apply_lut(read_lut(tmp_path / "mine.clf")[0], codes / 1023.0)
    assert chain.statistics.peak_nits == pytest.approx(statistics_of(sheet.parent, (2, 3))[0], rel=1e-4)
    assert np.median(np.abs(found - exact)) < 5e-4
