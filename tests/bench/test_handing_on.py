"""What is handed on from the bench, by events: files read by other libraries, and held to the reference engine."""

import os
import re
import shutil
import time
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from threading import Event
from xml.etree import ElementTree

import av
import numpy as np
import OpenImageIO as oiio
import pytest

from tests.bench.conftest import Hand
from tests.bench.programme import open_programme
from tonemap.difference import delta_e_itp
from tonemap.encoding import signal_to_light
from tonemap.host import Host
from tonemap.reference import ReferenceEngine
from viewer.bench import jobs, sheet_actions
from viewer.bench.jobs import DONE, ENDED, FAILED, RUNNING, STOPPED, WAITING, Job, Queue
from viewer.bench.on_sheet import at_frame
from viewer.bench.toolkit import imgui


@pytest.fixture
def hand(hand: Hand, host: Host, tmp_path: Path) -> Iterator[Hand]:
    """Return the hand on a bench with a programme, the sheet for handing on open."""
    open_programme(hand, tmp_path, host)
    hand.settle()
    hand.click("hand on")
    yield hand
    hand.bench.jobs.close()
    hand.bench.end()


def wait(hand: Hand, job: Job) -> int:
    """Draw frames, as the window does, until a job has ended; returns how many were drawn beside it."""
    end, count = time.monotonic() + 200.0, 0
    while job.state not in ENDED:
        hand.app.frame()
        count += 1
        assert time.monotonic() < end, job
        time.sleep(0.01)
    hand.frames()
    return count


@pytest.fixture
def long_reel(hand: Hand, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Make the programme 200 frames long, the last shot from the fifth; a render comes to 100 and no further.

    The file of that frame is a pipe into which nothing is written, until a stop was asked for: however quick or slow
    the machine, the stop comes in the middle. Then the frame is there.
    """
    place, aside, whole = (tmp_path / name for name in ("reel.0100.dpx", "pipe", "whole"))
    for number in range(6, 200):
        shutil.copy(tmp_path / "reel.0001.dpx", tmp_path / f"reel.{number:04d}.dpx")
    place.rename(whole)
    os.mkfifo(place)
    sheet = hand.bench.state.sheet
    longer = sheet.with_shot(_with_last(sheet.shot("30"), 199))
    hand.bench.do(lambda state: _with(state, longer, hand.bench.host, 5))
    stop, ends = hand.bench.jobs.stop, list[int]()

    def stopped(job: Job) -> None:
        stop(job)
        if ends:
            return
        place.rename(aside)
        whole.rename(place)
        ends.append(os.open(aside, os.O_RDWR))
        os.write(ends[0], b"no picture")

    monkeypatch.setattr(hand.bench.jobs, "stop", stopped)
    monkeypatch.setattr(jobs, "PATIENCE", 200.0)
    yield
    for end in ends:
        os.close(end)


def begin_render(hand: Hand, path: Path) -> Job:
    """Begin a render, and draw frames until some of it is done."""
    hand.type("hand on path", str(path))
    hand.click("write")
    job = hand.bench.jobs.jobs[0]
    end = time.monotonic() + 200.0
    while job.behind < 3:
        hand.app.frame()
        assert job.state == RUNNING, job
        assert time.monotonic() < end, job
    return job


def write(hand: Hand, what: str, name: str | None, tmp_path: Path) -> Job:
    """Choose what to hand on, type a name or leave the one that is proposed, and press Write; wait for the end."""
    hand.click(f"hand on {what}")
    if name is not None:
        hand.type("hand on path", str(tmp_path / name))
    hand.click("write")
    for _ in range(300):
        if hand.bench.jobs.jobs:
            break
        hand.frames()
    job = hand.bench.jobs.jobs[-1]
    wait(hand, job)
    return job


def read(path: Path) -> np.ndarray:
    picture = oiio.ImageInput.open(str(path))
    assert picture, oiio.geterror()
    samples = picture.read_image(0, 3, oiio.FLOAT if path.suffix == ".exr" else oiio.UINT16)
    picture.close()
    return np.asarray(samples)


@pytest.mark.parametrize("ending", ["png", "tif", "dpx", "exr"])
def test_a_still_of_a_tile_holds_the_codes_of_the_reference(hand, tmp_path, ending):
    key = hand.bench.state.taken
    job = write(hand, "still", f"still.{ending}", tmp_path)
    chain = hand.chain(key)
    samples = read(tmp_path / f"still.{ending}")
    assert job.state == DONE
    if ending == "exr":
        assert np.abs(samples - ReferenceEngine().signal(hand.picture, chain)).max() < 1e-6
        return
    codes = ReferenceEngine().codes(hand.picture, chain)
    assert (samples >> 6 == codes).all()
    assert job.sentences == [
        f"{tmp_path / f'still.{ending}'}: 'BT.2390' (bt2390, gamut_hue), by the reference engine, "
        f"{chain.rendition.target.title}",
        f"read again: 0 of {codes.size} code values differ",
    ]
    hand.click("copy 0")
    assert imgui.get_clipboard_text() == job.text


def test_a_still_of_the_master_holds_its_own_codes(hand, tmp_path):
    hand.click("hand on picture")
    hand.click("hand on picture=master")
    job = write(hand, "still", "master.tif", tmp_path)
    assert job.state == DONE
    assert (read(tmp_path / "master.tif") >> 6 == hand.picture.samples).all()


def test_the_layout_is_what_the_window_shows_without_the_sheet_over_it(hand, tmp_path):
    hand.click("close handing")
    hand.move(5, 5)
    hand.settle()
    frames = [hand.place(f"caption {slot.key}") for slot in hand.bench.state.slots]
    shown = hand.surface.codes()
    hand.click("hand on")
    job = write(hand, "layout", "layout.png", tmp_path)
    assert job.state == DONE
    written = read(tmp_path / "layout.png") >> 6
    left, top = (min(getattr(frame, side) for frame in frames) for side in ("left", "top"))
    left = min(left, hand.place("picture master").left)
    rows, columns = written.shape[:2]
    assert (written == shown[top : top + rows, left : left + columns]).all()
    assert len(np.unique(written)) > 200
    assert job.sentences[1] == f"read again: 0 of {written.size} code values differ"


def test_no_file_is_replaced_unasked(hand, tmp_path):
    (tmp_path / "there.png").write_text("theirs")
    hand.type("hand on path", str(tmp_path / "there.png"))
    hand.click("write")
    assert (tmp_path / "there.png").read_text() == "theirs"
    assert not hand.bench.jobs.jobs
    hand.click("write")  # now it says Replace
    wait(hand, hand.bench.jobs.jobs[0])
    assert hand.bench.jobs.jobs[0].state == DONE
    assert read(tmp_path / "there.png").shape == (*hand.picture.samples.shape[:2], 3)


@pytest.mark.parametrize("what", ["still", "layout"])
def test_a_file_of_the_master_is_never_replaced(hand, tmp_path, what):
    before = (tmp_path / "reel.0004.dpx").read_bytes()
    hand.click(f"hand on {what}")
    hand.type("hand on path", str(tmp_path / "reel.0004.dpx"))
    for _ in range(2):
        hand.click("write")
        hand.frames(4)
    assert not hand.bench.jobs.jobs
    assert (tmp_path / "reel.0004.dpx").read_bytes() == before
    sentence = f"{tmp_path / 'reel.0004.dpx'}: this is the master, which is never overwritten; choose another name"
    assert hand.app._handing._fault == sentence


def test_a_lut_is_as_far_from_the_exact_trim_as_the_sentence_says(hand, tmp_path):
    hand.bench.do(sheet_actions.only_here, True)
    hand.bench.set("input.exposure", -0.5)
    key = hand.bench.state.taken
    hand.click("hand on lut")
    hand.click("lut size")
    hand.click("lut size=65")
    job = write(hand, "lut", "shot.clf", tmp_path)
    assert job.state == DONE, job
    assert "--shot 10" in job.text
    found = re.search(r"reel.0000.dpx: mean (\S+), 99 % (\S+), maximum (\S+)", "\n".join(job.sentences))
    assert found, job.sentences
    chain = hand.chain(key)
    exact = ReferenceEngine().signal(hand.picture, chain)
    applied = by_opencolorio(tmp_path / "shot.clf", hand.picture.samples.astype(np.float32) / 1023.0)
    ones, others = (signal_to_light(np.clip(signal, 0.0, 1.0), chain.rendition.target) for signal in (exact, applied))
    difference = delta_e_itp(_bt2020(ones), _bt2020(others))
    assert float(found[1]) == pytest.approx(difference.mean(), rel=0.03, abs=0.01)
    assert float(found[2]) == pytest.approx(np.percentile(difference, 99.0), rel=0.03, abs=0.01)


def by_opencolorio(path: Path, values: np.ndarray) -> np.ndarray:
    """Apply a LUT by the reference library of the field."""
    import PyOpenColorIO as ocio

    transform = ocio.FileTransform(str(path), interpolation=ocio.INTERP_TETRAHEDRAL)
    processor = ocio.Config.CreateRaw().getProcessor(transform).getDefaultCPUProcessor()
    applied = np.ascontiguousarray(values)
    processor.applyRGB(applied)
    return applied.astype(np.float64)


def _bt2020(light: np.ndarray) -> np.ndarray:
    from tonemap.colorimetry import conversion_matrix, convert

    return convert(light, conversion_matrix("bt709", "bt2020"))


def test_a_cdl_has_the_output_adjustments_of_every_shot(hand, tmp_path):
    hand.bench.set("output.slope", (1.1, 1.0, 0.9))
    job = write(hand, "cdl", "shots.ccc", tmp_path)
    assert job.state == DONE, job
    root = ElementTree.parse(tmp_path / "shots.ccc").getroot()
    name = "{urn:ASC:CDL:v1.01}"
    slopes = {item.get("id"): item.findtext(f"{name}SOPNode/{name}Slope") for item in root}
    assert slopes == {"10": "1.1 1.0 0.9", "20": "1.0 1.0 1.0", "30": "1.1 1.0 0.9"}


def test_a_render_goes_on_beside_the_bench_and_holds_what_each_shot_takes(hand, tmp_path):
    job = write(hand, "render", None, tmp_path)
    out = tmp_path / "reel-sdr"
    assert job.state == DONE, job
    assert (job.behind, job.count) == (6, 6)
    assert job.sentences[0].startswith(f"{out / 'reel.%04d.dpx'}: 6 of 6 frames, BT.1886")
    assert any("against the reference" in sentence for sentence in job.sentences)
    assert any(sentence.startswith("distance from the exact trim, read again") for sentence in job.sentences)
    hand.click("close handing")
    for frame in range(6):
        picture = read(out / f"reel.{frame:04d}.dpx") >> 6
        sheet = hand.bench.state.sheet
        source = read(tmp_path / f"reel.{frame:04d}.dpx") >> 6
        chain = _chain(hand, at_frame(hand.bench.state, frame, hand.bench.host), sheet.taken_at(frame))
        exact = ReferenceEngine().codes(_picture(hand, source), chain)
        steps = np.abs(picture.astype(int) - exact)
        assert steps.max() <= 1
        assert (steps > 0).mean() < 1e-3


def test_a_movie_of_masters_without_a_rate_has_the_one_that_is_typed_or_is_played(hand, tmp_path):
    for name, typed, rate in (("played.mov", None, 24), ("typed.mov", "30000/1001", Fraction(30000, 1001))):
        hand.click("hand on render")
        if typed is not None:
            hand.type("render rate", typed)
        job = write(hand, "render", name, tmp_path)
        assert job.state == DONE, job
        with av.open(str(tmp_path / name)) as movie:
            assert (movie.streams.video[0].average_rate, movie.streams.video[0].frames) == (rate, 6)


def _chain(hand, state, name):
    from tonemap.rendition import chain_of

    rendition = next(slot.rendition for slot in state.slots if slot.rendition.name == name)
    return chain_of(rendition, hand.picture.encoding, hand.bench.host)


def _picture(hand, samples):
    from tonemap.picture import Picture

    return Picture(samples, hand.picture.encoding)


def test_the_hdr_version_and_a_luts_input_are_asked_for_by_the_same_words(hand, tmp_path):
    hand.click("hand on lut")
    hand.type("lut input", "pq,p3-d65,full,12")
    hand.click("wish split")
    lut = write(hand, "lut", "fed.cube", tmp_path)
    assert lut.state == DONE, lut
    assert "--input pq,p3-d65,full,12" in lut.text
    assert "input PQ (ST 2084), P3-D65, 12-bit full" in lut.sentences[0]
    assert (tmp_path / "fed.cc").exists()
    hand.click("hand on render")
    hand.click("wish hdr")
    render = write(hand, "render", "hdr.%04d.dpx", tmp_path)
    assert render.state == DONE, render
    own = read(tmp_path / "reel.0000.dpx") >> 6
    assert np.abs((read(tmp_path / "hdr.0000.dpx") >> 6).astype(int) - own).max() <= 1


def test_a_render_is_stopped_and_goes_on_where_it_was(hand, long_reel, tmp_path):
    hand.click("hand on render")
    hand.click("span")
    hand.click("span=shot")
    assert hand.bench.state.shot.name == "30"
    (tmp_path / "out").mkdir()
    job = begin_render(hand, tmp_path / "out" / "sdr.%04d.dpx")
    hand.click("stop 0")
    wait(hand, job)
    assert job.state == STOPPED, job
    some = len(list((tmp_path / "out").glob("*.dpx")))
    assert 3 <= some < 196
    assert job.sentences[0].startswith(f"{tmp_path / 'out' / 'sdr.%04d.dpx'}: stopped, {some} of 196 frames are whole")
    hand.frames()
    hand.click("go on 0")
    wait(hand, job)
    assert job.state == DONE, job
    assert len(list((tmp_path / "out").glob("*.dpx"))) == 196
    assert any("were whole already, and were kept" in sentence for sentence in job.sentences)


def _with(state, sheet, host, frame):
    from viewer.bench.on_sheet import with_sheet

    return with_sheet(state, sheet, host, frame=frame)


def _with_last(shot, last):
    from dataclasses import replace

    return replace(shot, last=last)


def test_a_still_does_not_wait_for_a_render(tmp_path):
    """A command that waits stands for the render; a second one waits its turn behind it."""
    queue, end = Queue(), time.monotonic() + 60.0
    first, second = (Job(f"render {n}", ["cdl", "--set", "output.slope=1.1"]) for n in (1, 2))
    gate = Event()
    slow = Job("a still", lambda: [str(gate.wait(60.0))])
    stills = [slow, Job("another still", lambda: ["written"])]
    for job in (first, second, *stills):
        queue.add(job)
    assert [job.state for job in (first, second, slow, stills[1])] == [RUNNING, WAITING, RUNNING, WAITING]
    gate.set()
    while stills[1].state not in ENDED or second.state not in ENDED:
        queue.tick()
        assert time.monotonic() < end
        time.sleep(0.01)
    assert [job.state for job in (first, second, *stills)] == [DONE] * 4
    assert stills[1].sentences == ["written"]
    assert queue.close() == []


def test_a_bench_that_is_closed_stops_its_render_and_says_how_it_goes_on(hand, long_reel, tmp_path):
    hand.click("hand on render")
    job = begin_render(hand, tmp_path / "sdr.%04d.dpx")
    (sentence,) = hand.bench.jobs.close()
    assert sentence.startswith("Render sdr.%04d.dpx is not done: trimbench render ")
    assert job.state == STOPPED
    assert 3 <= len(list(tmp_path.glob("sdr.*.dpx"))) < 200


def test_a_stop_is_heard_while_the_command_is_being_started(monkeypatch):
    is_reached, gate, start = Event(), Event(), jobs.Thread.start

    def late(thread):
        """Let the thread of the queue begin late, as on a machine with other work."""
        run = thread.run
        thread.run = lambda: (is_reached.set(), gate.wait(200.0), run())
        start(thread)

    queue, job = Queue(), Job("render", ["cdl", "--set", "output.slope=1.1"])
    with monkeypatch.context() as slow:
        slow.setattr(jobs.Thread, "start", late)
        queue.add(job)
    assert is_reached.wait(200.0)
    queue.stop(job)
    gate.set()
    assert [sentence.partition(":")[0] for sentence in queue.close()] == ["render is not done"]
    assert (job.state, job.sentences) == (STOPPED, [])


def test_what_can_not_be_written_is_one_sentence(hand, tmp_path):
    job = write(hand, "still", "absent/still.png", tmp_path)
    assert (job.state, len(job.sentences)) == (FAILED, 1)
    assert job.sentences[0].startswith(f"{tmp_path / 'absent' / 'still.png'}: can't be written: No such file")
    job = write(hand, "lut", "shot.lut", tmp_path)
    assert job.state == FAILED
    assert len(job.sentences) == 1
    hand.type("hand on path", str(tmp_path / "shots.txt"))
    hand.click("hand on cdl")
    hand.type("hand on path", str(tmp_path / "shots.txt"))
    hand.click("write")
    assert len(hand.bench.jobs.jobs) == 2
