"""The layouts on the real bench: pixels read back are compared with the reference engine."""

import numpy as np
import pytest

from tests.bench.conftest import heard
from tonemap.colorimetry import conversion_matrix, convert
from tonemap.difference import delta_e_itp
from tonemap.encoding import encode, signal_to_light
from tonemap.heat import heat_colours, heat_index
from viewer.bench import programs
from viewer.bench import state as actions
from viewer.bench.interface_encoding import INTERFACE
from viewer.bench.layout import View
from viewer.bench.panels import wipe_line
from viewer.bench.showing import Line
from viewer.bench.toolkit import imgui

FLOAT32 = 720 * 2.4e-6
"""Of Delta E ITP: the factor of BT.2124 and the bound of ictcp_from_light in tests/parity/test_library.py."""


def signal_codes(hand, key):
    return np.clip(hand.reference_signal(key)[0], 0.0, 1.0) * hand.top_code


@pytest.mark.parametrize("angle", [90.0, 0.0, 37.0, 200.0])
def test_a_wipe_shows_each_picture_on_its_own_side(hand, angle):
    shown = hand.at_pixels(layout="wipe", first=1, second=4, line=Line(0.52, 0.49, angle))
    place, placement = hand.place("picture 1 4"), hand.bench.placement
    rows, columns = shown.shape[:2]
    y, x = np.mgrid[0:rows, 0:columns] + 0.5
    a, b, c = Line(0.52, 0.49, angle).side(place.width, place.height)
    distance = a * (x + placement.left) + b * (y + placement.top) - c
    middle = (0.52 * place.width - placement.left, 0.49 * place.height - placement.top)
    from_rings = np.hypot(x - middle[0], y - middle[1])
    for key, is_here in ((1, distance < -0.01), (4, distance > 0.01)):
        chosen = is_here & (from_rings > 80.0) | is_here & (np.abs(distance) > 16.0) & (from_rings < 60.0)
        assert np.count_nonzero(chosen) > 800
        hand.assert_rounded(shown[chosen], signal_codes(hand, key)[chosen])


def test_the_line_is_dragged_turned_in_fine_steps_and_reset(hand):
    hand.bench.show(layout="wipe", first=None, second=3)
    hand.frames()
    place = hand.place("picture master 3")
    hand.drag("wipe", (0.5, 0.5), (0.5 + 0.1 * place.width / hand.place("wipe").width, 0.5))
    assert hand.bench.state.showing.line.x == pytest.approx(0.6, abs=0.01)
    assert hand.bench.state.view.zoom is None
    ring, middle = hand.middle("wipe turn"), hand.middle("wipe")
    arm = middle[1] - ring[1]
    hand.drag("wipe turn", (0.5, 0.5), (0.5 - arm / hand.place("wipe turn").width, 0.5))
    assert hand.bench.state.showing.line.angle == pytest.approx(135.0, abs=2.0)
    hand.bench.show(line=Line(angle=135.0))
    for key, wanted in (("[", 140.0), ("}", 139.0), ("]", 134.0), ("{", 135.0)):
        hand.key(key)
        assert hand.bench.state.showing.line.angle == pytest.approx(wanted)
    hand.click("wipe", times=2)
    assert hand.bench.state.showing.line == Line()


@pytest.fixture(params=[(4, 1), (4, 3)], ids=["fragment", "compute"])
def version(request, monkeypatch):
    """Have the bench believe in a version of GL, which says by what main renditions are drawn."""
    monkeypatch.setattr(programs, "gl_version", lambda: request.param)
    return request.param


def test_either_main_shows_what_the_reference_has(version, hand):
    assert hand.app.tiles.programs.has_compute == (version == (4, 3))
    hand.assert_rounded(hand.at_pixels(layout="flip", first=2, second=4), signal_codes(hand, 2))


def test_flip_shows_one_in_place_and_the_other_while_a_key_is_down(hand):
    shown = hand.at_pixels(layout="flip", first=2, second=4)
    hand.assert_rounded(shown, signal_codes(hand, 2))
    imgui.get_io().add_key_event(imgui.Key.tab, True)
    hand.assert_rounded(hand.at_pixels(), signal_codes(hand, 4))
    imgui.get_io().add_key_event(imgui.Key.tab, False)
    hand.assert_rounded(hand.at_pixels(), signal_codes(hand, 2))
    hand.key("space")
    hand.assert_rounded(hand.at_pixels(), signal_codes(hand, 4))
    hand.key("page_down")
    assert hand.bench.state.showing.pair(hand.bench.state.keys)[1] == 2
    hand.key("s")
    assert "picture master" in hand.app.ui.places


@pytest.mark.parametrize("pair", [(None, 1), (1, 3)])
def test_the_difference_is_delta_e_itp_of_what_is_shown(hand, pair):
    """The map of the reference's light in colours; Delta E ITP itself is held to BT.2124's figures in its own test."""
    top = 50.0
    shown = hand.at_pixels(layout="difference", first=pair[0], second=pair[1], heat_top=top)
    differences = delta_e_itp(*(hand.reference_light(key) for key in pair))
    index = heat_index(differences, top)
    assert len(np.unique(index)) > 60
    colours = np.rint(encode(heat_colours(INTERFACE.peak), INTERFACE) * hand.top_code)
    here = np.stack([np.abs(shown - colours[np.clip(index + step, 0, 255)]).max(axis=-1) for step in (-1, 0, 1)])
    assert (here.min(axis=0) <= 1).mean() > 0.999  # float32 may round to a neighbour in the table
    assert (here[1] <= 1).mean() > 0.98
    below = differences < 0.5 * top / 255 - FLOAT32  # nearer to half a step, float32 may round up
    assert (shown[below & (index == 0)] <= colours[0] + 1).all()


def test_the_scale_says_what_the_colours_mean_and_a_list_widens_it(hand):
    hand.bench.show(layout="difference", first=1, second=2)
    hand.frames()
    assert hand.bench.state.showing.heat_top == 50.0
    hand.click("scale top")
    hand.click("scale top=200")
    assert hand.bench.state.showing.heat_top == 200.0
    with heard(hand) as said:
        hand.frames(1)
    assert "\u2265 200" in [text for text, *_ in said]
    place = hand.place("scale")
    strip = hand.surface.codes()[place.top + 5, place.left + 2 : place.right - 2].astype(int)
    assert (np.diff(strip.sum(axis=1)) >= -1).mean() > 0.97
    assert strip[-1].sum() > strip[0].sum() + hand.top_code


def test_below_one_to_one_the_display_light_of_what_is_shown_is_averaged(hand):
    """A mean over whole blocks and over cut pixels, of the quantised rendition, in float64 as the definition says."""
    for zoom in (0.5, 0.61):
        hand.bench.do(actions.with_view, View(zoom, (60.0, 33.5)))
        hand.settle()
        for key in (1, 4, None):
            if key is None:
                light = convert(hand.reference_light(None), conversion_matrix("bt2020", "bt709"))
                light, target = np.clip(light / hand.bench.state.window, 0.0, 1.0) * INTERFACE.peak, INTERFACE
            else:
                signal, target = hand.reference_signal(key)
                light = signal_to_light(np.clip(signal, 0.0, None), target)
            placement = hand.bench.placement
            tile = hand.tile(key).astype(int)
            rows, left = _weights(tile.shape[0], placement.top, zoom, light.shape[0])
            columns, right = _weights(tile.shape[1], placement.left, zoom, light.shape[1])
            mean = np.einsum("ri,ck,ikj->rcj", rows, columns, light)
            wanted = np.clip(encode(mean, target), 0.0, 1.0) * hand.top_code
            shown = tile[left][:, right]
            difference = np.abs(shown - wanted)
            assert difference.max() <= 0.501 + hand.top_code / 876
            assert np.count_nonzero(difference > 0.52) <= 2e-3 * difference.size


def _weights(count, origin, zoom, size):
    """Return how much of each picture pixel each tile pixel covers, (n, size), and which tile pixels those are."""
    pixels = np.arange(count)
    inside = (pixels + 0.5 - origin >= 0) & (pixels + 0.5 - origin < size * zoom)
    low = np.maximum((pixels[inside] - origin) / zoom, 0.0)[:, np.newaxis]
    high = np.minimum((pixels[inside] + 1 - origin) / zoom, size)[:, np.newaxis]
    index = np.arange(size)
    covered = np.clip(np.minimum(high, index + 1) - np.maximum(low, index), 0.0, None)
    return covered / covered.sum(axis=1, keepdims=True), inside


def test_a_hand_that_moves_gets_the_quick_picture_and_one_that_rests_the_exact_one(hand):
    hand.bench.do(actions.with_view, View(0.5))
    hand.settle()
    exact = hand.tile(1).astype(int)
    assert hand.app.tiles.is_exact
    hand.bench.set("input.exposure", -0.5)
    hand.frames(1)
    assert not hand.app.tiles.is_exact
    assert (hand.tile(1) != exact).mean() > 0.02
    hand.bench.set("input.exposure", 0.0)
    hand.settle()
    assert (hand.tile(1) == exact).all()


def test_words_stand_over_a_wipe_only_until_its_line_was_moved_and_never_where_it_is_presented(hand, monkeypatch):
    said = []
    monkeypatch.setattr(hand.app.ui, "help", said.append)

    def is_told():
        said.clear()
        hand.frames(1)
        return [text for text in said if text in wipe_line.HELP] != []

    hand.bench.show(layout="wipe")
    assert is_told()
    hand.key("f11")
    hand.frames()
    assert not is_told()
    hand.key("f11")
    hand.drag("wipe", (0.5, 0.5), (3.0, 0.5))
    assert hand.bench.state.showing.line != Line()
    assert not is_told()


def test_a_hand_that_moves_the_line_and_lets_go_within_one_frame_has_moved_it(hand):
    """As on a slow card, where a quick drag is over before the next frame is drawn."""
    hand.bench.show(layout="wipe")
    hand.frames()
    hand.move(*hand.middle("wipe"))
    x, y = hand.middle("wipe")
    imgui.get_io().add_mouse_button_event(0, True)
    hand.frames(1)
    imgui.get_io().add_mouse_pos_event(x + 100.0, y)
    imgui.get_io().add_mouse_button_event(0, False)
    hand.frames(2)
    (name,) = [name for name in hand.app.ui.places if name.startswith("picture ")]
    assert hand.bench.state.showing.line.x == pytest.approx(0.5 + 100.0 / hand.place(name).width, abs=2e-3)
