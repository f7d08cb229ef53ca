"""Samples on the real bench: a click keeps what is there in every tile, as the reference engine has it."""

import numpy as np
import pytest

from tonemap.colorimetry import luminance
from tonemap.difference import delta_e_itp
from tonemap.encoding import decode
from tonemap.reference import ReferenceEngine
from viewer.bench import state as actions
from viewer.bench.layout import View
from viewer.bench.samples import MOST, text_of
from viewer.bench.toolkit import imgui


def click_at(hand, name, x, y):
    """Click on a pixel of the picture in a tile, at 1:1."""
    place, placement = hand.place(name), hand.bench.placement
    hand.move(place.left + placement.left + x + 0.5, place.top + placement.top + y + 0.5)
    for is_down in (True, False):
        imgui.get_io().add_mouse_button_event(0, is_down)
        hand.frames(1)
    hand.frames()


@pytest.fixture
def pixels(hand):
    hand.bench.do(actions.with_view, View(1.0, (60.0, 33.5)))
    hand.frames()
    return hand


def test_a_click_keeps_the_readings_of_every_tile(pixels):
    hand = pixels
    click_at(hand, "picture 2", 70, 40)
    (sample,) = hand.bench.samples
    assert (sample.column, sample.row) == (70, 40)
    master = decode(hand.picture.samples, hand.picture.encoding)[40, 70]
    assert sample.master.luminance == pytest.approx(float(luminance(master)))
    assert [name for name, _ in sample.renditions] == [slot.rendition.name for slot in hand.bench.state.slots]
    for slot, (_, reading) in zip(hand.bench.state.slots, sample.renditions, strict=True):
        codes = ReferenceEngine().codes(hand.picture, hand.chain(slot.key))
        assert reading.codes == tuple(codes[40, 70])
        light = np.array(reading.light)
        assert reading.luminance == pytest.approx(float(luminance(light)))
        if float(luminance(master)) <= slot.rendition.target.peak:
            assert reading.difference == pytest.approx(float(delta_e_itp(light, master)))
        else:
            assert reading.difference is None


def test_a_drag_keeps_nothing_and_the_oldest_goes_first(pixels):
    hand = pixels
    hand.drag("picture master", (0.4, 0.5), (0.5, 0.5))
    assert hand.bench.samples == []
    hand.bench.do(actions.with_view, View(1.0, (60.0, 33.5)))
    hand.frames()
    for x in range(MOST + 2):
        click_at(hand, "picture master", 30 + 2 * x, 30)
    assert [sample.column for sample in hand.bench.samples] == [34 + 2 * x for x in range(MOST)]


def test_the_sheet_shows_copies_and_clears_them(pixels):
    hand = pixels
    click_at(hand, "picture master", 70, 40)
    click_at(hand, "picture master", 100, 60)
    hand.key("f3")
    hand.frames()
    hand.click("copy samples")
    text = imgui.get_clipboard_text()
    assert text == text_of(hand.bench.samples)
    lines = [line.split("\t") for line in text.splitlines()]
    assert len(lines) == 1 + 2 * 5
    assert {len(line) for line in lines} == {8}
    first = hand.bench.samples[0]
    assert lines[1][:4] == ["master.dpx", "70", "40", "master"]
    assert float(lines[1][5]) == pytest.approx(first.master.luminance, rel=1e-4)
    assert lines[2][4] == " ".join(map(str, first.renditions[0][1].codes))
    hand.click("clear samples")
    assert hand.bench.samples == []
    hand.click("close samples")
    assert not hand.bench.shown.samples


@pytest.mark.parametrize("width", [640, 1280])
def test_the_table_has_every_rendition_however_narrow_the_window(pixels, width):
    hand = pixels
    click_at(hand, "picture 2", 70, 40)
    hand.surface.resize(width, 500)
    hand.key("f3")
    hand.frames(3)
    table = hand.place("samples table")
    assert table.width <= width
    assert hand.app.ui.places["samples row"].width >= 8.0 * 4 * hand.app.ui.em
    reach = imgui.get_io()
    reach.add_mouse_pos_event(table.left + 20.0, table.top + 10.0)
    hand.frames()
    before = hand.place("samples row").left
    reach.add_mouse_wheel_event(-20.0, 0.0)
    hand.frames(3)
    assert (hand.place("samples row").left < before) == (width == 640)
    assert hand.place("samples row").right <= table.right + 1
