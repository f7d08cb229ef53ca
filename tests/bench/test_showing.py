"""The layouts' pure parts: which two pictures, where the line is, what lies where."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from viewer.bench.layout import Rect
from viewer.bench.panes import panes
from viewer.bench.showing import DIFFERENCE, FLIP, SIDE_BY_SIDE, WIPE, Line, Showing

KEYS = (None, 1, 2, 5)
AREA = Rect(0, 40, 1200, 700)


@given(first=st.sampled_from([None, 1, 2, 5, 9]), second=st.sampled_from([None, 1, 2, 5, 9]), count=st.integers(2, 4))
def test_the_pair_is_two_pictures_that_are_there(first, second, count):
    keys = KEYS[:count]
    showing = Showing(first=first, second=second)
    one, other = showing.pair(keys)
    assert one != other
    assert {one, other} <= set(keys)
    assert showing.exchanged(keys).pair(keys) == (other, one)
    for step in (1, -1):
        stepped = showing.stepped(step, keys)
        assert stepped.pair(keys)[1] == other
        assert stepped.stepped(-step, keys).pair(keys) == (one, other)


def test_choosing_the_other_picture_exchanges_the_two():
    showing = Showing(first=None, second=2)
    assert showing.with_picture(0, 2, KEYS).pair(KEYS) == (2, None)
    assert showing.with_picture(1, 5, KEYS).pair(KEYS) == (None, 5)


@pytest.mark.parametrize(
    ("angle", "second_at"), [(90.0, (90, 20)), (270.0, (10, 20)), (0.0, (50, 30)), (180.0, (50, 10)), (45.0, (60, 25))]
)
def test_the_second_picture_is_right_of_an_upright_line_and_turns_with_it(angle, second_at):
    a, b, c = Line(angle=angle).side(100, 40)
    x, y = second_at
    assert a * x + b * y > c
    assert a * (100 - x) + b * (40 - y) < c


@given(st.floats(0, 360), st.floats(0.02, 0.98), st.floats(0.02, 0.98))
def test_the_ends_lie_on_the_line_and_outside_the_picture(angle, x, y):
    rect = Rect(10, 20, 300, 200)
    line = Line(x, y, angle)
    a, b, c = line.side(rect.width, rect.height)
    for end in line.ends(rect):
        assert a * (end[0] - rect.left) + b * (end[1] - rect.top) == pytest.approx(c, abs=1e-6)
        assert not rect.contains(*end)


def test_a_moved_line_stays_on_the_tile():
    assert Line().moved(5.0, -5.0) == Line(0.98, 0.02)
    assert Line(angle=350.0).turned(20.0).angle == pytest.approx(10.0)


@pytest.mark.parametrize("layout", [SIDE_BY_SIDE, WIPE, FLIP, DIFFERENCE])
def test_what_lies_where(layout):
    laid = panes(Showing(layout, 5, None), KEYS, False, AREA, 16.0, 16 / 9)
    captions = [caption for pane in laid for caption in pane.captions]
    assert len(laid) == (4 if layout == SIDE_BY_SIDE else 1)
    wanted = {SIDE_BY_SIDE: [(None,), (1,), (2,), (5,)], WIPE: [(5, None)], FLIP: [(5,)], DIFFERENCE: [(5, None)]}
    assert [pane.pictures for pane in laid] == wanted[layout]
    assert [caption.is_on for caption in captions] == ([True, False] if layout == FLIP else [True] * len(captions))
    places = np.zeros((AREA.bottom, AREA.right), int)
    for caption in captions:
        rect = caption.tile.caption
        places[rect.top : rect.bottom, rect.left : rect.right] += 1
    assert places.max() == 1
    if layout != SIDE_BY_SIDE:
        assert laid[0].tile.picture.width > 900


def test_a_flip_shows_the_other_while_it_is_held_and_one_picture_alone_is_side_by_side():
    assert panes(Showing(FLIP, 5, None), KEYS, True, AREA, 16.0, 1.5)[0].pictures == (None,)
    assert panes(Showing(WIPE), (None,), False, AREA, 16.0, 1.5)[0].pictures == (None,)
