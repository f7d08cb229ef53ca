"""The real bench off screen, driven by events; what its tiles show is read back and compared with the reference."""

import numpy as np
import pytest

from tests.bench.conftest import WISHES, Hand
from tonemap.adjustments import InputAdjustments
from tonemap.anchors import anchors_of
from tonemap.colorimetry import conversion_matrix, convert
from tonemap.encoding import decode
from tonemap.reference import ReferenceEngine
from tonemap.starters import starter_renditions
from tonemap.transfer import bt1886_eotf_inverse
from viewer.bench import state as actions
from viewer.bench import theme
from viewer.bench.app import App
from viewer.bench.bench import Bench
from viewer.bench.layout import Rect, View
from viewer.bench.surface import OffscreenSurface
from viewer.bench.toolkit import imgui


def test_every_tile_shows_the_reference_codes_pixel_by_pixel(hand):
    hand.click("pixels")
    assert hand.bench.placement.zoom == 1.0
    for slot in hand.bench.state.slots:
        hand.assert_tile_is_exact(slot.key)
    shown, _ = hand.shown_at_whole_zoom(1)
    assert len(np.unique(shown)) > 400, "the picture has too few codes to prove anything"


@pytest.mark.parametrize("zoom", [2.0, 5.0])
def test_above_one_to_one_pixels_are_blocks(hand, zoom):
    hand.bench.do(actions.with_view, View(zoom, (50.0, 30.0)))
    hand.frames()
    for slot in hand.bench.state.slots[:2]:
        hand.assert_tile_is_exact(slot.key)


def test_the_masters_tile_shows_light_as_is_up_to_its_window(hand):
    hand.click("pixels")
    for nits in (100.0, 400.0):
        hand.type("field window", f"{nits:g}")
        assert hand.bench.state.window == nits
        picture = hand.bench.state.master.picture
        light = convert(decode(picture.samples, picture.encoding), conversion_matrix("bt2020", "bt709"))
        signal = bt1886_eotf_inverse(np.clip(light / nits, 0.0, 1.0) * 100.0, 100.0, 0.0)
        shown, part = hand.shown_at_whole_zoom(None)
        assert np.abs(shown - np.rint(signal * hand.top_code)[part]).max() <= 1


def test_a_dragged_track_changes_the_next_frame_and_compiles_nothing(hand):
    hand.click("pixels")
    before = hand.tile(1)
    programs = hand.app.tiles.programs.count()
    hand.drag("track input.exposure", (0.5, 0.5), (0.4, 0.5))
    exposure = hand.bench.state.slot(1).rendition.input.exposure
    assert -4.0 < exposure < -0.5
    assert (hand.tile(1) != before).any()
    assert hand.app.tiles.programs.count() == programs
    hand.assert_tile_is_exact(1)
    hand.assert_tile_is_exact(2)


def test_a_setting_is_drawn_in_the_very_frame_of_its_change(hand):
    hand.click("pixels")
    hand.bench.set("input.exposure", -1.0)
    hand.frames(1)
    hand.assert_tile_is_exact(1)


def test_a_typed_value_is_taken_and_a_wrong_one_is_one_sentence(hand):
    hand.click("pixels")
    hand.type("field input.saturation", "0.5")
    assert hand.bench.state.slot(1).rendition.input.saturation == 0.5
    hand.assert_tile_is_exact(1)
    hand.type("field input.saturation", "0,75")  # as a keypad has it where a comma is the decimal mark
    assert hand.bench.state.slot(1).rendition.input.saturation == 0.75
    hand.type("field input.saturation", "0.5")
    hand.type("field input.saturation", "7")
    assert hand.bench.state.slot(1).rendition.input.saturation == 0.5
    assert hand.bench.notice.text == "input.saturation = 7 is outside 0..2; choose a value in that range"
    hand.click("dismiss")
    assert hand.bench.notice is None


def test_a_changed_setting_goes_back_by_its_mark_and_by_a_double_click_on_its_name(hand):
    assert "reset input.contrast" not in hand.app.ui.places
    for way in ("reset", "label"):
        hand.type("field input.contrast", "1.3")
        assert hand.bench.state.slot(1).rendition.input.contrast == 1.3
        hand.click(f"{way} input.contrast", times=1 if way == "reset" else 2)
        assert hand.bench.state.slot(1).rendition.input == InputAdjustments()
    hand.drag("track input.contrast", (0.3, 0.5), (0.8, 0.5))
    assert hand.bench.state.slot(1).rendition.input.contrast != 1.0
    hand.click("track input.contrast", times=2)
    assert hand.bench.state.slot(1).rendition.input == InputAdjustments()


def test_operators_choices_and_switches_are_chosen_from_the_panel(hand):
    hand.click("pixels")
    hand.click("tone.application")
    hand.click("tone.application=luminance")
    assert hand.bench.state.slot(1).rendition.tone_settings == {"application": "luminance"}
    hand.assert_tile_is_exact(1)
    hand.click("tone.adjust_knee")
    assert hand.bench.state.slot(1).rendition.tone_settings["adjust_knee"] is True
    hand.assert_tile_is_exact(1)
    hand.click("tone")
    hand.click("tone=knee")
    hand.scroll_to("gamut")
    hand.click("gamut")
    hand.click("gamut=gamut_clip")
    rendition = hand.bench.state.slot(1).rendition
    assert (rendition.tone, rendition.gamut) == ("knee", "gamut_clip")
    assert rendition.tone_settings == {"application": "luminance"}
    hand.assert_tile_is_exact(1)


def test_output_adjustments_of_one_channel_and_of_all(hand):
    hand.click("pixels")
    hand.scroll_to("unfold output.slope")
    hand.click("unfold output.slope")
    hand.scroll_to("field output.slope.green")
    hand.type("field output.slope.green", "0.8")
    assert hand.bench.state.slot(1).rendition.output.slope == (1.0, 0.8, 1.0)
    hand.assert_tile_is_exact(1)
    hand.type("field output.slope", "0.9")
    assert hand.bench.state.slot(1).rendition.output.slope == (0.9, 0.9, 0.9)
    hand.type("field output.slope", "0.7, 0.8, 0.9")
    assert hand.bench.state.slot(1).rendition.output.slope == (0.7, 0.8, 0.9)
    hand.scroll_to("field target.peak")
    hand.type("field target.peak", "203")
    assert hand.bench.state.slot(1).rendition.target.peak == 203.0
    hand.assert_tile_is_exact(1)


def test_add_duplicate_rename_and_remove_a_rendition(hand):
    hand.click("pixels")
    hand.click("add")
    hand.click("duplicate")
    assert [slot.rendition.name for slot in hand.bench.state.slots][-2:] == ["BT.2390 EETF", "BT.2390 EETF 2"]
    hand.type("name", "Night")
    key = hand.bench.state.selected
    assert hand.bench.state.slot(key).rendition.name == "Night"
    hand.type("field input.exposure", "-2")
    assert len([name for name in hand.app.ui.places if name.startswith("picture ")]) == 7
    hand.assert_tile_is_exact(key)
    hand.type("name", "Log roll-off")
    assert hand.bench.notice.text == "another rendition is called 'Log roll-off'; choose another name"
    hand.click("remove")
    assert key not in [slot.key for slot in hand.bench.state.slots]
    assert f"picture {key}" not in hand.app.ui.places
    hand.click("put back")
    assert hand.bench.state.slots[-1].rendition.name == "Night"
    hand.assert_tile_is_exact(key)


def test_wheel_zooms_about_the_pointer_and_a_drag_pans_in_all_tiles(hand):
    place = hand.place("picture 2")
    hand.move(place.left + 0.7 * place.width, place.top + 0.4 * place.height)
    before = hand.bench.pointed
    for _ in range(12):
        hand.wheel(1.0)
    assert hand.bench.placement.zoom > 5.0
    assert np.abs(np.subtract(hand.bench.pointed, before)).max() <= 1
    hand.bench.do(actions.with_view, View(8.0, hand.bench.state.view.centre))
    hand.frames()
    start = hand.bench.placement
    hand.drag("picture 3", (0.5, 0.5), (0.4, 0.6))
    moved = hand.bench.placement.left - start.left, hand.bench.placement.top - start.top
    assert moved == pytest.approx((-0.1 * place.width, 0.1 * place.height), abs=2)
    for slot in hand.bench.state.slots:
        hand.assert_tile_is_exact(slot.key)


def test_the_probe_reads_the_reference_in_every_tile_at_once(hand):
    hand.click("pixels")
    place = hand.place("picture 1")
    column, row = 90, 40
    placement = hand.bench.placement
    hand.move(place.left + placement.left + column + 0.4, place.top + placement.top + row + 0.6)
    assert hand.bench.pointed == (column, row)
    picture = hand.bench.state.master.picture
    master = hand.bench.master_reading()
    assert master.light == pytest.approx(tuple(decode(picture.samples[row, column], picture.encoding)))
    assert master.samples == tuple(float(code) for code in picture.samples[row, column])
    for slot in hand.bench.state.slots:
        codes = ReferenceEngine().codes(picture, hand.chain(slot.key))[row, column]
        assert hand.bench.reading(slot).codes == tuple(codes)
    hand.move(5, 5)
    assert hand.bench.pointed is None
    assert hand.bench.reading(hand.bench.state.slots[0]) is None


def test_a_click_on_a_tile_selects_its_rendition_and_a_drag_does_not(hand):
    hand.click("picture 3")
    assert hand.bench.state.selected == 3
    hand.drag("picture 2", (0.5, 0.5), (0.6, 0.5))
    assert hand.bench.state.selected == 3
    hand.click("caption 4")
    assert hand.bench.state.selected == 4


def test_grey_is_matched_by_one_action(hand):
    hand.click("match")
    hand.click("match=2")
    grey, other = (anchors_of(hand.chain(key))[0].nits for key in (1, 2))
    assert grey == pytest.approx(other, rel=1e-3)
    assert hand.bench.state.slot(1).rendition.input.exposure < -1.0


def test_keys_do_what_the_sheet_says(hand):
    hand.key("1")
    assert hand.bench.state.view.zoom == 1.0
    hand.key("w")
    assert hand.bench.state.view.zoom is None
    hand.key("page_down")
    assert hand.bench.state.selected == 2
    hand.key("d")
    assert [slot.rendition.name for slot in hand.bench.state.slots][2] == "BT.2446 A 2"
    hand.key("delete")
    assert len(hand.bench.state.slots) == 4
    hand.key("p")
    hand.frames()
    assert "add" not in hand.app.ui.places
    hand.key("?")
    assert "close help" in hand.app.ui.places
    hand.key("escape")
    hand.frames()
    assert "close help" not in hand.app.ui.places


def test_a_name_is_typed_without_setting_off_keys(hand):
    hand.key("n")
    hand.frames()
    for character in "wad1":
        hand.key(character)
    hand.key("enter")
    hand.frames()
    assert hand.bench.state.slot(1).rendition.name == "wad1"
    assert len(hand.bench.state.slots) == 4


@pytest.mark.parametrize(("width", "height"), [(640, 400), (1280, 720), (1920, 1080), (3840, 2160)])
def test_no_widget_lies_outside_the_window_or_on_another(hand, width, height):
    hand.surface.resize(width, height)
    hand.app.content_scale = width / 1920 if width > 1920 else 1.0
    hand.bench.shown.panel = width > 700
    hand.frames(3)
    window = Rect(0, 0, width, height)
    rects = {name: rect for name, rect in hand.app.ui.places.items() if rect.width > 0}
    fixed = {
        name: rect for name, rect in rects.items() if name.split()[0] in ("open", "whole", "pixels", "panel", "help")
    }
    pictures = {name: rect for name, rect in rects.items() if name.startswith(("picture", "caption"))}
    for name, rect in {**fixed, **pictures}.items():
        assert window.left <= rect.left, name
        assert rect.right <= window.right, name
        assert rect.bottom <= window.bottom, name
    bar = [rect for name, rect in rects.items() if rect.top < hand.place("open").bottom and name != "name"]
    for index, one in enumerate(bar):
        for other in bar[index + 1 :]:
            assert one.right <= other.left or other.right <= one.left


class DenseSurface(OffscreenSurface):
    """A framebuffer with two pixels for a unit of the interface, as some systems have it."""

    scale = 2.0

    def begin(self) -> None:
        super().begin()
        io = imgui.get_io()
        io.display_size = self.size[0] / 2, self.size[1] / 2
        io.display_framebuffer_scale = 2.0, 2.0


@pytest.mark.parametrize("content_scale", [2.0, 1.5])
def test_on_a_dense_screen_pixels_are_the_framebuffers_and_hands_are_where_they_point(host, pictures, content_scale):
    surface = DenseSurface(2560, 1520, 10)
    imgui.create_context()
    bench = Bench(host, starter_renditions()[:2], WISHES)
    bench.open(pictures / "master.dpx")
    app = App(bench, surface, content_scale, {})
    hand = Hand(app, surface)
    hand.frames(3)
    hand.click("pixels")
    assert bench.placement.zoom == 1.0
    hand.move(5, 5)
    hand.settle()
    place, placement, picture = hand.place("picture 1"), bench.placement, hand.picture
    top, left = 2 * place.top + placement.top, 2 * place.left + placement.left
    chain = hand.chain(1)
    wanted = hand.surface_codes(ReferenceEngine().codes(picture, chain), chain.rendition.target)
    shown = surface.codes()[top : top + picture.rows, left : left + picture.columns].astype(int)
    hand.assert_rounded(shown, wanted)
    hand.move((left + 90.5) / 2, (top + 40.5) / 2)
    assert bench.pointed == (90, 40)
    assert app.ui.em == pytest.approx(theme.TYPE_SIZE * content_scale / 2)
    hand.drag("track input.exposure", (0.5, 0.5), (0.4, 0.5))
    assert bench.state.slot(1).rendition.input.exposure < -0.5
    app.close()
    imgui.destroy_context()
    surface.close()
