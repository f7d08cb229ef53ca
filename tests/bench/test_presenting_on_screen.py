"""Presenting on the real bench: pictures alone, captions, a line and a flip that move by themselves."""

from dataclasses import replace
from itertools import combinations
from types import SimpleNamespace

import numpy as np
import pytest

from tests.bench.programme import open_programme
from tonemap.reference import ReferenceEngine
from viewer.bench import app as app_module
from viewer.bench import state as actions
from viewer.bench.layout import View
from viewer.bench.moving import STAND, SWEEP, Moving
from viewer.bench.showing import FLIP, SIDE_BY_SIDE, WIPE, Line, Showing


def without_captions(hand):
    hand.key("f11")
    hand.key("q")
    hand.settle()


def shown_signal(hand, key):
    """Return the codes that a rendition has on the surface's scale, not rounded; by the reference engine."""
    chain = hand.chain(key)
    return hand.surface_codes(ReferenceEngine().codes(hand.picture, chain), chain.rendition.target)


def at_pixels(hand):
    """Show the picture at 1:1 and return its part of the surface."""
    hand.bench.do(actions.with_view, View(1.0, (60.0, 33.5)))
    hand.settle()
    place = next(place for name, place in hand.app.ui.places.items() if name.startswith("picture "))
    top, left = place.top + hand.bench.placement.top, place.left + hand.bench.placement.left
    return hand.surface.codes()[top : top + hand.picture.rows, left : left + hand.picture.columns].astype(int)


def test_the_pictures_alone_fill_the_window_and_have_the_codes_of_the_reference(hand):
    hand.bench.show(layout=FLIP, first=2, second=3)
    without_captions(hand)
    width, height = hand.surface.size
    place = hand.place("picture 2")
    assert (place.left, place.width) == (0, width)
    assert (place.top, place.height) == ((height - round(width * 67 / 120)) // 2, round(width * 67 / 120))
    assert not [name for name in hand.app.ui.places if name in ("open", "panel", "wipe", "layout flip")]
    hand.assert_rounded(at_pixels(hand), shown_signal(hand, 2))
    outside = hand.surface.codes()[height - 10 :]
    assert len(np.unique(outside)) == 1, "something is drawn beside the picture"
    hand.key("escape")
    hand.frames()
    assert "open" in hand.app.ui.places


@pytest.mark.parametrize("layout", [SIDE_BY_SIDE, FLIP])
def test_a_master_that_is_clipped_says_so_however_little_room_there_is(hand, layout, said):
    hand.bench.show(layout=layout, first=None, second=2)
    hand.bench.shown = replace(hand.bench.shown, size=2.0)
    hand.key("f11")
    hand.settle()
    said.clear()
    hand.frames(1)
    assert said.count("HDR") == 1
    assert [words for words in said if "clipped" in words]


def test_captions_say_what_is_shown_and_the_light_is_on_what_is_on(hand):
    hand.bench.show(layout=FLIP, first=None, second=2)
    hand.key("f11")
    hand.settle()

    def lit(key):
        place = hand.place(f"presented {key}")
        x, y = place.left + round(0.8 * hand.app.ui.em), place.top + place.height // 2
        red, green, _ = hand.surface.codes()[y, x].astype(int)
        return green - red > 0.15 * hand.top_code

    assert (lit("master"), lit(2)) == (True, False)
    hand.key("space")
    hand.settle()
    assert (lit("master"), lit(2)) == (False, True)
    place = hand.place("presented 2")
    before = hand.surface.codes()[place.top : place.bottom, place.left : place.right].copy()
    hand.key("q")
    hand.settle()
    after = hand.surface.codes()[place.top : place.bottom, place.left : place.right]
    assert (before != after).any(axis=2).mean() > 0.5
    assert "presented 2" not in hand.app.ui.places


def test_a_line_goes_to_and_fro_by_itself_and_every_frame_is_exact(hand):
    now = [100.0]
    hand.bench.clock = lambda: now[0]
    hand.bench.show(layout=WIPE, first=2, second=3, line=Line(x=0.25))
    without_captions(hand)
    hand.frames()
    first, second = shown_signal(hand, 2), shown_signal(hand, 3)
    hand.key("y")
    places = []
    for _ in range(8):
        codes = at_pixels(hand)
        line = hand.bench.line
        places.append(line.x)
        a, _, c = line.side(hand.place("picture 2 3").width, 1)
        columns = np.arange(hand.picture.columns) + hand.bench.placement.left + 0.5
        is_second = (a * columns >= c)[np.newaxis, :, np.newaxis]
        wanted = np.where(is_second, second, first)
        hand.assert_rounded(codes, wanted)
        now[0] += 2.0
    steps = np.diff(places)
    assert places[0] == pytest.approx(0.25, abs=0.01)
    assert (steps[:3] > 0).all(), "it does not go on from where it was"
    assert (steps < 0).any(), "it does not come back"
    assert np.abs(steps).max() <= 2.0 / hand.bench.moving.sweep + 1e-6
    hand.key("y")
    stood = hand.bench.state.showing.line
    assert stood.x == pytest.approx(hand.bench.line.x)
    now[0] += 3.0
    hand.frames()
    assert hand.bench.line == stood


def test_a_hand_on_the_line_stops_it(hand):
    hand.bench.show(layout=WIPE)
    hand.key("y")
    hand.frames()
    assert hand.bench.moving.is_on
    hand.key("[")
    assert not hand.bench.moving.is_on


def test_a_flip_turns_over_by_itself_not_more_than_once_a_second(hand):
    now = [50.0]
    hand.bench.clock = lambda: now[0]
    hand.bench.show(layout=FLIP, first=2, second=3)
    hand.frames()
    hand.key("y")
    for _ in range(40):
        hand.key("0")  # as quick as it goes
    assert hand.bench.moving.stand == STAND[0] == 1.0
    changes, shown = [], None
    for tick in range(100):
        now[0] = 60.0 + 0.1 * tick
        hand.frames(1)
        key = next(name for name in hand.app.ui.places if name.startswith("picture "))
        if shown not in (None, key):
            changes.append(now[0])
        shown = key
    assert len(changes) in (9, 10)
    assert np.diff(changes) == pytest.approx(1.0, abs=0.11)
    assert hand.bench.seconds_to_next <= 1.0


def test_a_flip_that_comes_back_is_not_drawn_anew(hand):
    hand.bench.show(layout=FLIP, first=2, second=3)
    hand.settle()
    drawn = []
    paint = hand.app.tiles._paint
    hand.app.tiles._paint = lambda *given: drawn.append(given) or paint(*given)
    hand.key("space")
    hand.settle()
    assert drawn, "the other picture is not drawn at all"
    drawn.clear()
    hand.key("space")
    hand.settle()
    assert not drawn


def test_the_hands_are_heard_while_a_line_moves(hand, monkeypatch):
    polled = []
    monkeypatch.setattr(app_module, "glfw", SimpleNamespace(poll_events=lambda: polled.append(True)))
    surface = SimpleNamespace(
        wakes=0,
        dropped=[],
        content_scale=1.0,
        set_full_screen=lambda is_full: None,
        set_title=lambda title: None,
        screen_change=lambda: None,
    )
    hand.bench.show(layout=WIPE)
    hand.key("y")
    for count in range(1, 5):
        app_module.turn(hand.app, surface)
        assert len(polled) == count


def test_nothing_moves_unasked(hand):
    for layout in (SIDE_BY_SIDE, WIPE, FLIP):
        hand.bench.show(layout=layout)
        assert hand.bench.seconds_to_next == float("inf")


@pytest.mark.parametrize("angle", [90.0, 0.0, 45.0, 200.0])
def test_the_line_keeps_its_angle_and_its_speed_and_never_jumps(angle):
    moving, showing = Moving(), Showing(layout=WIPE, line=Line(angle=angle))
    moving.tick(10.0)
    moving.start(showing)
    before = moving.line(showing)
    assert (before.x, before.y, before.angle) == pytest.approx((0.5, 0.5, angle))
    for step in range(1, 200):
        if step == 50:
            moving.quicken(2, showing)
        elif step == 90:
            moving.quicken(-5, showing)
        else:
            moving.tick(moving.now + 0.1)
        line = moving.line(showing)
        assert np.hypot(line.x - before.x, line.y - before.y) <= 0.1 / SWEEP[0] + 1e-9
        assert 0.0 < line.x < 1.0
        before = line
    for _ in range(60):
        moving.quicken(1, showing)
    assert moving.sweep == SWEEP[0]


def test_a_window_too_small_for_the_interface_shows_the_pictures_alone_and_loses_nothing(hand):
    before, sheet = hand.surface.size, hand.bench.state.sheet
    hand.bench.show(layout=FLIP, first=2, second=3)
    assert app_module.title(hand.app) == "master.dpx - Trimbench"
    hand.surface.resize(200, 150)
    hand.settle()
    assert app_module.title(hand.app) == "Too small for the panel - master.dpx - Trimbench"
    assert not [name for name in hand.app.ui.places if not name.startswith("picture ")]
    hand.assert_rounded(at_pixels(hand), shown_signal(hand, 2))
    hand.surface.resize(*before)
    hand.settle()
    assert app_module.title(hand.app) == "master.dpx - Trimbench"
    assert "open" in hand.app.ui.places
    assert hand.bench.state.sheet == sheet


@pytest.mark.parametrize("layout", [SIDE_BY_SIDE, FLIP, WIPE])
def test_captions_leave_the_pictures_to_be_seen_however_small_the_window_is(hand, layout):
    hand.bench.show(layout=layout, first=None, second=2)
    hand.key("f11")
    counts = []
    for width, height in ((200, 150), (300, 200), (420, 240), (640, 250), (640, 400), (1280, 760)):
        hand.surface.resize(width, height)
        hand.settle()
        places = hand.app.ui.places
        found = [place for name, place in places.items() if name.startswith("presented ")]
        pictures = [place for name, place in places.items() if name.startswith("picture ")]
        counts.append(len(found))
        for caption in found:
            assert 0 <= caption.left < caption.right <= width
            under = next(each for each in pictures if each.contains(caption.left, caption.top))
            assert caption.width * caption.height <= 0.25 * under.width * under.height
        for one, other in combinations(found, 2):
            is_beside = one.right <= other.left or other.right <= one.left
            assert is_beside or one.bottom <= other.top or other.bottom <= one.top
    assert counts[0] == 0
    assert counts[-1] == (5 if layout == SIDE_BY_SIDE else 2)


def test_a_presented_master_has_the_name_that_a_person_gives_it(hand, host, tmp_path, said):
    open_programme(hand, tmp_path, host)
    hand.bench.show(layout=FLIP, first=None, second=2)
    hand.key("f11")
    hand.settle()
    assert "shot 10" in said
    hand.bench.end()
    hand.bench.open(tmp_path / "reel.####.dpx")
    hand.bench.show(layout=FLIP, first=None, second=2)
    said.clear()
    hand.frames(1)
    assert "reel" in said
    assert not [words for words in said if "#" in words]
