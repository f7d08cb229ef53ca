"""Levels and thumbnails that a process makes of all frames, against what measuring and decoding give here."""

import os
import signal
import time
from collections.abc import Callable

import numpy as np
import pytest

from tests.bench import numbered
from tonemap.encoding import Encoding, decode
from tonemap.measure.light_levels import measure_light
from tonemap.media.master import Frame, open_master
from tonemap.picture import Picture
from viewer.bench.background import Background
from viewer.bench.overview import thumbnail_of, work
from viewer.bench.reel import Reel


def until(condition: Callable[[], bool], seconds: float = 120.0) -> None:
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "it did not happen"
        time.sleep(0.02)


def test_every_frame_gets_its_levels_and_the_wanted_ones_their_thumbnails(tmp_path, monkeypatch):
    path = numbered.write_movie(tmp_path / "numbers.mkv", 60)
    reel = Reel(open_master(path))
    called = []
    background = Background(reel, lambda: called.append(1))
    background.want_thumbnails([5, 40])
    until(lambda: len(background.thumbnails) == 2)
    for index in (5, 40):
        frame = next(reel.frames(index))
        np.testing.assert_array_equal(background.thumbnails[index], thumbnail_of(frame))
    until(lambda: background.is_measured)
    for frame in reel.frames(0):
        levels = measure_light(decode(frame.picture.samples, frame.encoding)).full
        assert background.maximum[frame.index] == pytest.approx(levels.maximum, rel=1e-4)
        assert background.average[frame.index] == pytest.approx(levels.average, rel=1e-4)
    until(lambda: len(called) == 62)
    background.want_thumbnails([40])
    assert list(background.thumbnails) == [40]
    waits, process = list[float | None](), background._process
    join = process.join
    monkeypatch.setattr(process, "join", lambda timeout=None: (waits.append(timeout), join(timeout)))
    background.close()
    assert waits[0] == 0.2  # for a process that ends by itself; one that does not is ended
    assert process.exitcode in (0, -signal.SIGTERM)


def test_a_ctrl_c_is_for_the_bench_and_not_for_its_process(tmp_path, capfd):
    """A terminal sends it to both; here to the process alone, at once and again, while it starts and while it works."""
    reel = Reel(open_master(numbered.write_movie(tmp_path / "numbers.mkv", 6)))
    background = Background(reel)
    for found in (False, True):
        until(lambda found=found: bool(background.measured) >= found)
        os.kill(background._process.pid or 0, signal.SIGINT)
    until(lambda: background.is_measured)
    background.close()
    assert capfd.readouterr().err == ""


class Wire:
    """The other end of the process: it is held when three frames are measured, let go on, and ended when it rests."""

    def __init__(self) -> None:
        self.messages = [("hold", True), ("hold", False), ("end", None)]
        self.sent: list[tuple[str, object]] = []
        self.at_rest: list[int] = []  # how much was sent, each time that it waits for a message

    def poll(self, seconds: float | None) -> bool:
        if seconds is None:
            self.at_rest.append(len(self.sent))
        return seconds is None or (len(self.sent) == 3 and len(self.messages) == 3)

    def recv(self) -> tuple[str, object]:
        return self.messages.pop(0)

    def send(self, message: tuple[str, object]) -> None:
        self.sent.append(message)


def test_it_is_held_in_the_middle_and_goes_on_where_it_was(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "nice", lambda _: 0)  # it is this process here
    wire = Wire()
    work(Reel(open_master(numbered.write_movie(tmp_path / "numbers.mkv", 60))), wire)
    assert wire.at_rest == [3, 60]
    assert sorted(index for _, (index, *_) in wire.sent) == list(range(60))


def test_while_it_is_held_nothing_more_is_measured(tmp_path):
    reel = Reel(open_master(numbered.write_movie(tmp_path / "numbers.mkv", 60)))
    background = Background(reel)
    background.hold(True)  # before the process is there to begin
    time.sleep(0.5)
    assert background.measured == 0
    background.hold(False)
    until(lambda: background.is_measured)
    background.close()


def test_a_thumbnail_is_the_masters_light_up_to_reference_white():
    # 203 cd/m2 is the white of a thumbnail; BT.1886, Annex 1, with black 0: signal = (light / white) ** (1 / 2.4).
    light = np.zeros((200, 300, 3), np.float32)
    light[:, 100:200], light[:, 200:] = 50.75, 900.0
    encoding = Encoding("linear", "bt709")
    thumbnail = thumbnail_of(Frame(0, "f", encoding, Picture(light, encoding)), rows=100)
    assert thumbnail.shape == (100, 150, 3)
    assert (thumbnail[:, :49] == 0).all()
    assert (thumbnail[:, 51:99] == round(255 * 0.25 ** (1 / 2.4))).all()
    assert (thumbnail[:, 101:] == 255).all()
