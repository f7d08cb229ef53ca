"""The thread that reads frames: what it reads in which order, how little it holds, and what can't be read."""

import time
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tonemap.encoding import Encoding
from tonemap.errors import TrimbenchError
from tonemap.media.master import MOVIE, Facts, Frame
from tonemap.media.planes import Coding, Planes
from tonemap.picture import Picture
from viewer.bench.playback import Playback
from viewer.bench.reader import MOST, Reader

LINEAR = Encoding("linear")


class Clock:
    """A clock that a test turns, or a reel whose frames take their time by it."""

    now = 0.0

    def __call__(self) -> float:
        return self.now


class CountingReel:
    """Frames that are made in no time, and a note of which were asked for; key frames lie `group` apart.

    `start` and `each` are seconds of `clock` before the first frame, and for every frame that has to be decoded.
    """

    rate, shots = Fraction(24), ()

    def __init__(
        self,
        count: int = 100,
        group: int = 1,
        bad: tuple[int, ...] = (),
        size: tuple[int, int] = (4, 4),
        start: float = 0.0,
        each: float = 0.0,
    ) -> None:
        self.count, self.group, self.bad, self.size = count, group, bad, size
        self.start, self.each, self.clock = start, each, Clock()
        self.made: list[int] = []
        self.begun: list[tuple[int, int]] = []
        self.is_gone = False

    def facts_at(self, _index: int) -> Facts:
        rows, columns = self.size
        return Facts(Path("reel.mov"), MOVIE, "none", LINEAR, LINEAR, "", {}, (), rows, columns, self.count)

    def frames(self, first: int, step: int = 1) -> Iterator[Frame]:
        if self.is_gone:
            raise TrimbenchError("reel.mov: can't be read: No such file or directory")
        self.begun.append((first, step))
        self.clock.now += self.start
        for index in range(first, self.count, step):
            self.clock.now += self.each * (1 if self.group == 1 else step)
            self.made.append(index)
            fault = f"reel.mov: frame {index} can't be decoded" if index in self.bad else None
            samples = np.broadcast_to(np.float32(index), (*self.size, 3))
            yield Frame(index, f"frame {index}", LINEAR, None if fault else Picture(samples, LINEAR), fault)

    def start_before(self, index: int) -> int:
        return index // self.group * self.group

    def number(self, index: int) -> int:
        return index


def until(condition: Any, seconds: float = 120.0) -> None:
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "it did not happen"
        time.sleep(0.002)


@pytest.fixture
def reel() -> CountingReel:
    return CountingReel()


@pytest.fixture
def reader(reel: Any) -> Iterator[Reader]:
    reader = Reader(reel, clock=reel.clock)
    yield reader
    reader.close()


def test_neighbours_are_read_in_one_go_and_no_more_than_wanted(reel, reader):
    reader.want(range(10, 18))
    until(lambda: len(reader.held()) == 8)
    time.sleep(0.05)
    assert reel.begun == [(10, 1)]
    assert reel.made == list(range(10, 18))


def test_going_on_reads_on_and_the_ring_never_holds_more_than_its_size(reel, reader):
    for start in range(60):
        reader.want(range(start, start + 6))
        until(lambda start=start: reader.get(start + 5) is not None)
        assert len(reader.held()) <= reader.capacity == MOST
    assert reel.begun == [(0, 1)]
    assert reel.made == list(range(65))


def test_large_pictures_are_held_in_smaller_numbers():
    reader = Reader(CountingReel(size=(2160, 3840)))
    reader.want(range(8))
    until(lambda: len(reader.held()) == 3)
    time.sleep(0.05)
    assert len(reader.held()) == reader.capacity == 3
    reader.close()


def test_the_samples_decide_how_many_are_held_and_planes_take_less_than_a_picture():
    rows, columns = 2160, 3840
    line = [np.zeros((1, width), np.uint16) for width in (columns, columns // 2, columns // 2)]
    luma, *chroma = (
        np.broadcast_to(one, (height, one.shape[1])) for one, height in zip(line, (rows, 1080, 1080), strict=True)
    )
    planes = Planes((luma, *chroma), Coding(10, "narrow", "bt2020", (2, 2)))
    reel = CountingReel()
    reel.frames = lambda first, step=1: (Frame(index, "", LINEAR, planes) for index in range(first, 100, step))
    reader = Reader(reel)
    reader.want(range(20))
    until(lambda: len(reader.held()) == 8)
    assert reader.capacity == 2**28 // (columns * rows * 2 * 2)  # of a pixel: Y', and half of it for chroma, twice
    reader.close()


def test_only_the_frame_that_is_looked_at_keeps_a_picture_of_its_planes():
    planes = Planes(tuple(np.zeros((2, 2), np.uint16) for _ in range(3)), Coding(10, "narrow", "bt2020"))
    reel = CountingReel()
    reel.frames = lambda first, step=1: (Frame(index, "", LINEAR, planes) for index in range(first, 100, step))
    reader = Reader(reel)
    for index in range(4):
        reader.want(range(index, index + 4), makes_picture=True)
        until(lambda index=index: reader.get(index) is not None and not reader.get(index).is_coded)
    until(lambda: all(reader.get(index).is_coded for index in reader.held() if index != 3))
    reader.close()


def test_reading_goes_on_over_frames_where_a_start_would_take_longer():
    reel = CountingReel(start=0.2, each=0.005)
    reader = Reader(reel, clock=reel.clock)
    reader.want(range(4))
    until(lambda: len(reader.held()) == 4)
    reader.want([8])
    until(lambda: reader.get(8))
    assert reel.begun == [(0, 1)]
    reader.want([90])  # 80 frames take longer than a start
    until(lambda: reader.get(90))
    assert reel.begun == [(0, 1), (90, 1)]
    reader.close()


def test_a_start_is_no_reason_to_leave_frames_out():
    reel = CountingReel(start=0.3, each=0.002)
    reader = Reader(reel, clock=reel.clock)
    reader.want(range(2))
    until(lambda: len(reader.held()) == 2)
    assert 0.0 < reader.seconds < 0.03
    reader.close()


def test_the_time_of_a_frame_is_that_of_each_that_is_decoded():
    reel = CountingReel(group=100, each=0.01)
    reader = Reader(reel, clock=reel.clock)
    reader.want(range(0, 50, 5), step=5)
    until(lambda: len(reader.held()) == 10)
    assert 0.005 < reader.seconds < 0.03  # and not 0.05, upon which ever more would be left out
    reader.close()


def test_steps_are_read_without_what_lies_between(reel, reader):
    reader.want(range(0, 40, 4), step=4)
    until(lambda: len(reader.held()) == 10)
    assert reel.begun == [(0, 4)]


def test_a_frame_far_behind_a_key_frame_is_reached_over_it_and_one_near_is_read_on_to():
    reel = CountingReel(group=12)
    reader = Reader(reel, clock=reel.clock)
    reader.want([3])
    until(lambda: reader.get(3))
    reader.want([9])
    until(lambda: reader.get(9))
    assert reel.begun == [(3, 1)]  # the decoder passes 4 to 8 in any case
    reader.want([60])
    until(lambda: reader.get(60))
    assert reel.begun == [(3, 1), (60, 1)]
    reader.close()


def test_backwards_the_frames_that_have_to_be_decoded_on_the_way_are_kept():
    reel = CountingReel(group=12)
    reader = Reader(reel, clock=reel.clock)
    reader.want([22, 21, 20, 19, 18])
    until(lambda: len(reader.held()) == 5)
    assert reel.begun == [(18, 1)]
    reader.close()


def test_what_can_not_be_read_at_all_is_a_frame_with_a_fault_and_comes_back_with_the_file(reel, reader):
    reel.is_gone = True
    reader.want([5])
    until(lambda: reader.get(5))
    frame = reader.get(5)
    assert (frame.content, frame.fault) == (None, "reel.mov: can't be read: No such file or directory")
    reel.is_gone = False
    reader.want([6])
    until(lambda: reader.get(6))
    assert reader.get(6).fault is None


def play(reel: CountingReel, seconds_each: float, turns: int, look: Any = None) -> tuple[Playback, list[int]]:
    """Play by a clock that stands until the reader has read what is wanted; returns what was shown."""
    clock = reel.clock
    playback = Playback(reel, clock=clock)  # type: ignore[arg-type]
    until(lambda: playback.new_frame() is not None)
    playback.transport.play()
    shown = []
    for _ in range(turns):
        playback.new_frame()
        until(lambda: not playback.reader._missing())
        clock.now += seconds_each
        frame = playback.new_frame()
        if frame is not None:
            shown.append(frame.index)
        if look:
            look(playback)
    return playback, shown


def test_a_movie_that_keeps_up_shows_every_frame_and_holds_few():
    held: list[int] = []
    playback, shown = play(CountingReel(count=90), 1 / 24, 80, lambda it: held.append(len(it.reader.held())))
    assert max(held) <= MOST
    assert shown == list(range(1, 81))
    assert playback.transport.dropped == 0
    playback.close()


def test_a_slow_screen_drops_what_it_can_not_show_and_counts_it():
    playback, shown = play(CountingReel(count=200), 2.5 / 24, 40)
    assert shown == [int(2.5 * turn + 1e-6) for turn in range(1, 41)]
    assert playback.transport.dropped == 100 - 40
    playback.close()


def test_a_frame_that_fails_is_noted_by_its_number_and_playing_goes_on():
    playback, shown = play(CountingReel(bad=(7,)), 1 / 24, 20)
    assert shown == list(range(1, 21))
    assert playback.faults == {7: "reel.mov: frame 7 can't be decoded"}
    playback.close()


def test_what_a_screen_can_not_show_is_not_read():
    playback, _ = play(CountingReel(count=200), 1 / 24, 3)
    for _ in range(30):
        playback.drew(3.0 / 24)
    playback.new_frame()
    until(lambda: not playback.reader._missing())
    places = playback.reader._wanted
    assert set(np.diff(places)) == {3}
    playback.close()


def test_the_step_stays_while_it_is_nearly_right():
    playback = Playback(CountingReel())
    steps = []
    for needed in (0.5, 1.2, 1.3, 1.1, 0.9, 3.4, 3.2, 2.2):
        playback._step = playback._even_step(needed)
        steps.append(playback._step)
    assert steps == [1, 1, 2, 2, 1, 4, 4, 3]
    playback.close()
