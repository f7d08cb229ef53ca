"""On a slow card a moving hand sees fewer pixels at once, and every pixel when it rests."""

import numpy as np
import pytest

from tonemap.difference import delta_e_itp
from tonemap.heat import heat_colours, heat_index
from viewer.bench import tiles
from viewer.bench.interface_encoding import interface_signal


@pytest.fixture
def slow_hand(hand, monkeypatch):
    """Return a hand on a bench that believes to be slow: nothing fits into the time for quick pictures."""
    monkeypatch.setattr(tiles, "QUICK", 1e-7)
    return hand


def sampled(hand, stride: int) -> tuple[slice, ...]:
    """Return which pixels of the picture a quick picture is drawn from, at 1:1."""
    place = hand.bench.placement
    middle = stride // 2
    return tuple(np.s_[(middle - offset) % stride :: stride] for offset in (place.top, place.left))


def after_a_move(hand, **showing: object) -> np.ndarray:
    """Settle in a layout at 1:1, move a slider, and return what the one frame after it shows of the picture."""
    hand.at_pixels(**showing)
    assert hand.bench.set("input.exposure", 0.125)  # the first time is not measured
    hand.settle()
    assert hand.bench.set("input.exposure", 0.25)
    hand.app.frame()
    assert not hand.app.is_settled
    name = next(name for name in hand.app.ui.places or {} if name.startswith("picture "))
    place, placement, picture = hand.place(name), hand.bench.placement, hand.picture
    top, left = place.top + placement.top, place.left + placement.left
    return hand.surface.codes()[top : top + picture.rows, left : left + picture.columns].astype(int)


@pytest.mark.parametrize("layout", ["flip", "wipe"])
def test_a_quick_picture_has_the_reference_where_it_is_drawn_and_all_of_it_follows(slow_hand, layout):
    hand = slow_hand
    shown = after_a_move(hand, layout=layout, first=1, second=2)
    sheet = hand.app.tiles._sheets[1]
    assert sheet.stride == tiles.COARSEST
    wanted = np.clip(hand.reference_signal(1)[0], 0.0, 1.0) * hand.top_code
    left = np.s_[:, : hand.picture.columns // 2 - 40] if layout == "wipe" else np.s_[:, :]
    part = sampled(hand, sheet.stride)
    is_drawn = np.zeros(shown.shape[:2], bool)
    is_drawn[part] = True
    is_there = np.zeros(shown.shape[:2], bool)
    is_there[left] = True
    difference = np.abs(shown - wanted).max(axis=-1)
    assert np.count_nonzero(is_drawn & is_there) > 30
    assert difference[is_drawn & is_there].max() <= 0.501 + hand.top_code / 876
    assert (difference[~is_drawn & is_there] > 2.0).mean() > 0.3, "nothing was left out, so nothing was quick"
    hand.settle()
    assert hand.app.tiles._sheets[1].stride == 1
    hand.assert_rounded(hand.at_pixels()[left], wanted[left])


def test_a_quick_difference_is_that_of_the_pixels_that_are_drawn_and_all_of_it_follows(slow_hand):
    hand, top = slow_hand, 50.0
    shown = after_a_move(hand, layout="difference", first=1, second=3, heat_top=top)
    stride = hand.app.tiles._difference_stride
    assert stride == tiles.COARSEST
    index = heat_index(delta_e_itp(hand.reference_light(1), hand.reference_light(3)), top)
    wanted = np.rint(interface_signal(heat_colours(1.0))[index] * hand.top_code)
    part = sampled(hand, stride)
    assert (np.abs(shown - wanted).max(axis=-1)[part] <= 12).mean() > 0.97  # a step of the colours is about six codes
    hand.settle()
    exact = hand.at_pixels()
    assert hand.app.tiles._difference_stride == 1
    assert (np.abs(exact - wanted).max(axis=-1) <= 12).mean() > 0.99


@pytest.mark.parametrize("view", ["luminance", "gamut"])
def test_quick_colours_become_those_of_every_pixel(slow_hand, view):
    hand = slow_hand
    quick = after_a_move(hand, layout="flip", first=1, second=2, view=view)
    exact = hand.at_pixels()
    part = sampled(hand, tiles.COARSEST)
    assert (np.abs(quick - exact).max(axis=-1)[part] <= 1).mean() > 0.95  # where the legend or a ring lies: not
    assert (quick != exact).any()
