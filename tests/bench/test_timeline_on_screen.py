"""The timeline driven by injected events: buttons, scrubbing, marks, playing by a clock that the test turns, faults."""

import math
import shutil
import time
from itertools import combinations

import numpy as np
import pytest

from tests.bench import numbered
from tests.bench.conftest import heard
from tonemap.reference import ReferenceEngine
from tonemap.transfer import pq_eotf_inverse
from viewer.bench import tiles
from viewer.bench.layout import Rect
from viewer.bench.panels import timeline
from viewer.bench.reel import Shot
from viewer.bench.surface import OffscreenSurface

COUNT = 20


class Clock:
    now = 50.0

    def __call__(self) -> float:
        return self.now


def wait_for(hand, condition, seconds=120.0):
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "it did not happen"
        time.sleep(0.005)
        hand.frames(1)


def shown(hand):
    """Return the number that the frame on the bench carries."""
    master = hand.bench.state.master
    assert master is not None
    planes = master.frame.planes
    assert planes is not None
    return round((int(planes.components[0][0, 0]) - numbered.luma_code(0)) / 12)


def stands_on(hand, index):
    wait_for(hand, lambda: not hand.bench.playback.is_waiting)
    assert (hand.bench.playback.transport.position, shown(hand)) == (index, index)
    return True


def has_read(hand):
    """Wait until the ring holds what is wanted."""
    hand.frames(1)
    wait_for(hand, lambda: not hand.bench.playback.reader._missing())


@pytest.fixture
def clock(hand):
    hand.bench.clock = Clock()
    return hand.bench.clock


@pytest.fixture
def playback(hand, clock, tmp_path):
    hand.bench.open(numbered.write_movie(tmp_path / "numbers.mkv", COUNT, timecode="01:00:00:00"))
    hand.click("pixels")
    stands_on(hand, 0)
    return hand.bench.playback


def turn(hand, clock, frames):
    """Let time pass in frames of 24 a second, and draw once."""
    has_read(hand)
    clock.now += frames / 24.0
    hand.frames(1)


def test_buttons_move_the_playhead(hand, playback):
    for name, index in (("on", 1), ("on", 2), ("back", 1), ("finish", COUNT - 1), ("start", 0)):
        hand.click(name)
        stands_on(hand, index)
    hand.settle()
    hand.assert_tile_is_exact(1)


def test_scrubbing_shows_the_frame_under_the_hand(hand, playback):
    hand.drag("frames", (0.02, 0.5), (12.5 / COUNT, 0.5))
    stands_on(hand, 12)
    hand.settle()
    hand.assert_tile_is_exact(1)
    hand.assert_tile_is_exact(3)
    hand.drag("frames", (0.5, 0.5), (0.999, 0.5))
    stands_on(hand, COUNT - 1)


def test_playing_shows_frames_by_the_clock_and_counts_those_dropped(hand, playback, clock):
    hand.key("enter")
    assert playback.transport.is_playing
    seen = []
    for _ in range(4):
        turn(hand, clock, 1)
        seen.append(shown(hand))
    for _ in range(3):
        turn(hand, clock, 3)
        seen.append(shown(hand))
    assert seen == [1, 2, 3, 4, 7, 10, 13]
    assert playback.transport.dropped == 6
    hand.key("enter")
    stands_on(hand, 13)
    hand.settle()
    hand.assert_tile_is_exact(1)
    hand.assert_tile_is_exact(4)


def test_what_passes_is_drawn_in_its_very_frame(hand, playback, clock, monkeypatch):
    monkeypatch.setattr(tiles, "QUICK", math.inf)  # as on a card that is quick enough for every pixel
    hand.key("enter")
    turn(hand, clock, 2)
    assert shown(hand) == 2
    assert hand.app.is_settled  # nothing more is made of a picture that passes
    hand.assert_tile_is_exact(1)


def test_on_a_slow_card_fewer_pixels_of_what_passes_are_drawn_in_its_very_frame(hand, playback, clock, monkeypatch):
    hand.bench.set("input.exposure", 0.0625)  # the first drawing of a sort is not timed
    hand.settle()
    monkeypatch.setattr(tiles, "QUICK", 1e-7)
    hand.key("enter")
    turn(hand, clock, 2)
    assert shown(hand) == 2
    assert hand.app.is_settled
    assert hand.app.tiles._sheets[1].stride == tiles.COARSEST
    # Where the frame is flat all pixels are right, but those at its edge, whose neighbour that is drawn is beside it.
    chain = hand.chain(1)
    codes = hand.surface_codes(ReferenceEngine().codes(hand.picture, chain), chain.rendition.target)
    place, placement = hand.place("picture 1"), hand.bench.placement
    top, left, edge = placement.top, placement.left, tiles.COARSEST
    flat = np.s_[top + edge : top + numbered.ROWS // 3, left + edge : left + numbered.COLUMNS - edge]
    assert place.width > numbered.COLUMNS
    assert np.abs(hand.tile(1)[flat] - codes[edge : numbered.ROWS // 3, edge:-edge]).max() <= 0.51


def test_marks_are_looped(hand, playback, clock):
    for _ in range(3):
        hand.key(">")
    stands_on(hand, 3)
    hand.key("(")
    for _ in range(3):
        hand.key(">")
    stands_on(hand, 6)
    hand.key(")")
    hand.key("r")
    hand.key("enter")
    seen = []
    for _ in range(9):
        turn(hand, clock, 1)
        seen.append(shown(hand))
    assert seen == [3, 4, 5, 6, 3, 4, 5, 6, 3]
    assert playback.transport.dropped == 0


def test_it_stands_at_the_end(hand, playback, clock):
    hand.key("end")
    hand.key("<")
    stands_on(hand, COUNT - 2)
    hand.key("enter")
    turn(hand, clock, 9)
    assert not playback.transport.is_playing
    stands_on(hand, COUNT - 1)


def test_shots_are_gone_to(hand, playback):
    playback.reel.shots = (Shot(0, 6, "10"), Shot(7, 12, "20", "Soft"), Shot(15, 19, "30"))
    for key, index in (("j", 7), ("j", 13), ("j", 15), ("h", 13), ("h", 7), ("h", 0)):
        hand.key(key)
        stands_on(hand, index)


def test_the_number_and_the_timecode_of_the_frame_are_said(hand, playback):
    from viewer.bench.panels.transport import position_words

    hand.key("end")
    hand.frames()
    said = [words for words, _, _ in position_words(playback)]
    assert said == ["01:00:00:19", "frame 19 of 0\u201319", "24 frames/s"]


def test_a_missing_frame_of_a_sequence_is_said_and_the_last_picture_stays(hand, clock, pictures, tmp_path):
    for number in (1, 2, 4, 5):
        shutil.copy(pictures / "master.dpx", tmp_path / f"shot.{number:04d}.dpx")
    hand.bench.open(tmp_path)
    hand.frames(3)
    playback = hand.bench.playback
    assert playback.reel.count == 5
    hand.key(">")
    wait_for(hand, lambda: not playback.is_waiting)
    before = hand.bench.state.master
    hand.key(">")
    wait_for(hand, lambda: not playback.is_waiting)
    assert hand.bench.notice.text == f"{tmp_path / 'shot.0003.dpx'}: the frame is missing"
    assert hand.bench.state.master is before
    assert playback.faults == {2: hand.bench.notice.text}
    hand.key("home")
    wait_for(hand, lambda: not playback.is_waiting)
    hand.key("enter")
    for _ in range(4):
        turn(hand, clock, 1)
    assert not playback.transport.is_playing
    assert hand.bench.state.master.frame.index == 4
    assert playback.transport.dropped == 0


def test_a_movie_that_vanishes_leaves_its_last_picture_and_one_sentence(hand, playback, tmp_path):
    has_read(hand)
    hand.click("dismiss")  # what was said of the movie when it was opened
    hand.settle()
    tile = hand.tile(1)
    (tmp_path / "numbers.mkv").unlink()
    hand.key("end")
    wait_for(hand, lambda: not playback.is_waiting)
    text = f"{tmp_path / 'numbers.mkv'}: can't be read: No such file or directory; check the name and its permissions"
    assert hand.bench.notice.text == text
    assert shown(hand) == 0
    hand.click("dismiss")
    hand.settle()
    np.testing.assert_array_equal(hand.tile(1), tile)


def test_the_band_goes_and_comes_and_a_small_window_has_room(hand, playback):
    tall = hand.place("picture 1").height
    hand.key("b")
    hand.frames()
    assert "frames" not in hand.app.ui.places
    assert hand.place("picture 1").height >= tall
    hand.key("b")
    hand.frames()
    assert "frames" in hand.app.ui.places
    assert isinstance(hand.surface, OffscreenSurface)
    for size in ((200, 150), (400, 300), (3840, 2160)):
        hand.surface.resize(*size)
        hand.frames(3)


def test_a_still_has_no_timeline(hand, pictures):
    hand.bench.open(pictures / "master.dpx")
    hand.frames()
    assert hand.bench.playback is None
    assert "play" not in hand.app.ui.places
    hand.key("enter")
    hand.key(">")
    assert hand.bench.notice is None


LEVELS = ("1000", "203", "100", "10", "1")


@pytest.mark.parametrize("height", [600, 760, 1080])
def test_figures_of_the_levels_lie_apart(hand, playback, height):
    hand.app.timeline.looks_through = True
    hand.surface.resize(1280, height)
    hand.frames(3)
    with heard(hand) as said:
        hand.frames(1)
    below = [each for each in said if each[2] > hand.place("frames").top]
    found = [(Rect(*map(round, (x, y, width, hand.app.ui.em)))) for text, x, y, width in below if text in LEVELS]
    assert [text for text, *_ in below if text in LEVELS][:3] == ["100", "1000", "10"]
    for one, other in combinations(found, 2):
        assert one.bottom <= other.top or other.bottom <= one.top
        assert one.right == other.right


@pytest.mark.parametrize("peak", [203.0, 600.0, 1000.0, 4000.0, 10000.0])
def test_figures_of_the_levels_stand_at_their_lines_in_one_column(peak):
    em, top, bottom = 15.0, 600.0, 600.0 + timeline.HISTORY * 15.0
    reach = min(timeline.HEADROOM * peak, 10000.0)
    levels = [nits for nits in timeline.LEVELS if nits <= reach]
    highest = float(pq_eotf_inverse(np.array(reach)))
    lines = [bottom - (bottom - top) * float(pq_eotf_inverse(np.array(nits))) / highest for nits in levels]
    places = timeline.figure_places(lines, em, top, bottom)
    assert levels[0] == 100.0
    assert 0 in places
    assert len(places) >= 3, "there is room for three"
    for index, place in places.items():
        assert abs(place - lines[index]) <= 0.5 * timeline.LINE * em, "a figure has left its line"
        assert top <= place - 0.5 * timeline.LINE * em
        assert place + 0.5 * timeline.LINE * em <= bottom + 1e-6
    for one, other in combinations(sorted(places), 2):
        assert abs(places[one] - places[other]) >= timeline.FIGURE * em - 1e-6
        assert (places[one] < places[other]) == (lines[one] < lines[other]), "the lower level stands above"


def test_both_marks_have_a_bracket(hand, playback):
    for index, key in ((5, "("), (14, ")")):
        playback.transport.go(index)
        stands_on(hand, index)
        hand.key(key)
    playback.transport.go(9)
    stands_on(hand, 9)
    hand.settle()
    band, codes = hand.place("frames"), hand.surface.codes()
    row = codes[band.bottom - 12, band.left : band.right, 1] / hand.top_code
    for frame, way in ((5, 1.0), (15, -1.0)):
        edge = frame * band.width / COUNT
        inside = row[round(edge + min(3 * way, 0.0)) : round(edge + max(3 * way, 0.0))]
        assert inside.max() > 0.8, f"no bracket at frame {frame}"
