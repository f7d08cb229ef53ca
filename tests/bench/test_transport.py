"""The playhead by a clock that the test turns: which frame is due, and every frame that is not shown is counted."""

from fractions import Fraction

import pytest

from viewer.bench.reel import Shot
from viewer.bench.transport import Transport


class Clock:
    """Time that stands until it is moved."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def transport(clock: Clock) -> Transport:
    return Transport(48, Fraction(24), clock)


def play_through(transport, clock, frames_each_turn, turns):
    """Show the frame that is due, every so many frames' time; returns the frames that were shown."""
    shown = []
    for _ in range(turns):
        clock.now += float(frames_each_turn / transport.rate)
        place = transport.due()
        if place > transport.place:
            transport.show(place)
            shown.append(transport.position)
    return shown


def test_at_the_rate_every_frame_is_shown_and_none_dropped(transport, clock):
    transport.play()
    assert play_through(transport, clock, Fraction(1), 40) == list(range(1, 41))
    assert (transport.shown, transport.dropped) == (40, 0)


def test_every_frame_that_was_due_and_not_shown_is_counted(transport, clock):
    transport.play()
    assert play_through(transport, clock, Fraction(3), 10) == list(range(3, 31, 3))
    assert (transport.shown, transport.dropped) == (10, 20)


def test_an_hour_at_30000_over_1001_stays_on_the_clock(clock):
    transport = Transport(200_000, Fraction(30000, 1001), clock)
    transport.play()
    clock.now += 3600.0
    transport.show(transport.due())
    assert transport.position == 107892  # frames of an hour of 29.97: ST 12-1, 108 000 less the 108 dropped labels
    assert transport.dropped == 107891


def test_it_stands_at_the_end_with_the_last_frame_shown(transport, clock):
    transport.go(40)
    transport.play()
    shown = play_through(transport, clock, Fraction(5), 6)
    assert shown == [45, 47]
    assert not transport.is_playing
    assert (transport.shown, transport.dropped) == (2, 5)
    transport.play()
    assert transport.position == 0


def test_marks_are_looped_and_dropped_frames_counted_over_the_end(transport, clock):
    transport.go(20)
    transport.mark_last()
    transport.go(10)
    transport.mark_first()
    assert (transport.first, transport.last) == (10, 20)
    transport.loop(True)
    transport.play()
    assert play_through(transport, clock, Fraction(4), 6) == [14, 18, 11, 15, 19, 12]
    assert (transport.shown, transport.dropped) == (6, 18)
    transport.pause()
    assert transport.position == 12


def test_playing_from_outside_the_marks_begins_at_the_first(transport):
    transport.go(5)
    transport.mark_first()
    transport.go(9)
    transport.mark_last()
    transport.go(30)
    transport.play()
    assert transport.position == 5


def test_a_mark_once_more_is_taken_away_and_one_beyond_the_other_moves_it(transport):
    transport.go(30)
    transport.mark_first()
    transport.go(10)
    transport.mark_last()
    assert (transport.first, transport.last) == (0, 10)
    transport.mark_last()
    assert not transport.is_marked


@pytest.mark.parametrize(
    ("start", "step", "wanted"),
    [(0, 1, 8), (8, 1, 20), (25, 1, 30), (31, 1, 47), (31, -1, 30), (30, -1, 20), (5, -1, 0)],
)
def test_shots_and_what_lies_between_them_are_gone_to(transport, start, step, wanted):
    transport.go(start)
    transport.go_to_shot([Shot(8, 19, "1"), Shot(20, 29, "2")], step)
    assert transport.position == wanted


def test_going_stays_within_the_frames_and_ends_playing(transport):
    transport.play()
    transport.go(-3)
    assert (transport.position, transport.is_playing) == (0, False)
    transport.go(500)
    assert transport.position == 47
