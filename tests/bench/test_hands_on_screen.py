"""Hands as they are, on a slow machine too: drags within one frame, held presses, what lies under what."""

import shutil
from collections import deque

import pytest

from tests.bench.programme import open_programme
from viewer.bench import state as actions
from viewer.bench.layout import View
from viewer.bench.showing import Line
from viewer.bench.toolkit import imgui

START = View(8.0, (60.0, 33.5))


def drag_between_two_frames(hand, at, by):
    """Come to a point, press, move and let go, all before the next frame is drawn."""
    hand.move(5, 5)
    io = imgui.get_io()
    io.add_mouse_pos_event(*at)
    io.add_mouse_button_event(0, True)
    io.add_mouse_pos_event(at[0] + by[0], at[1] + by[1])
    io.add_mouse_button_event(0, False)
    hand.frames(4)


def mark(hand, start=(0.3, 0.3), end=(0.6, 0.6)):
    hand.key("m")
    hand.drag("picture master", start, end)
    hand.move(5, 5)


def test_a_drag_between_two_frames_moves_the_picture_by_all_of_itself_and_nothing_else(hand):
    for at in (hand.middle("picture 1"), hand.middle("picture master")):
        hand.bench.do(actions.with_view, START)
        drag_between_two_frames(hand, at, (40.0, 16.0))
        assert hand.bench.state.view == View(8.0, (55.0, 31.5))


def test_the_way_to_a_picture_is_no_part_of_the_drag_that_begins_there(hand):
    hand.bench.do(actions.with_view, START)
    x, y = hand.middle("picture 1")
    hand.move(x - 60.0, y)
    io = imgui.get_io()
    io.add_mouse_pos_event(x, y)
    io.add_mouse_button_event(0, True)
    hand.frames(3)
    assert hand.bench.state.view == START
    io.add_mouse_button_event(0, False)
    hand.frames()
    assert hand.bench.state.view == START


def test_a_drag_between_two_frames_moves_a_patch_by_all_of_itself(hand):
    mark(hand)
    before = hand.bench.state.chosen_patch.corners[0]
    zoom, picture = hand.bench.placement.zoom, hand.picture
    for is_chosen in (True, False):
        if not is_chosen:
            hand.key("c")
            assert hand.bench.state.chosen_patch is None
        drag_between_two_frames(hand, hand.middle("patch 0"), (30.0, 12.0))
        after = hand.bench.state.chosen_patch.corners[0]
        assert after[0] - before[0] == pytest.approx(30.0 / zoom / picture.columns)
        assert after[1] - before[1] == pytest.approx(12.0 / zoom / picture.rows)
        before = after


def test_a_drag_between_two_frames_goes_to_its_end_on_a_track(hand):
    place = hand.place("track input.exposure")
    at = place.left + 0.6 * place.width, place.top + 0.5 * place.height
    drag_between_two_frames(hand, at, (-0.35 * place.width, 0.0))
    quick = hand.bench.state.slot(1).rendition.input.exposure
    hand.bench.do(actions.reset_setting, 1, "input.exposure", hand.bench.host)
    hand.drag("track input.exposure", (0.5, 0.5), (0.25, 0.5))
    assert quick == hand.bench.state.slot(1).rendition.input.exposure < -2.0


def test_a_drag_between_two_frames_marks_a_patch(hand):
    hand.key("m")
    drag_between_two_frames(hand, hand.middle("picture master"), (60.0, 40.0))
    (x0, y0), _, (x1, y1), _ = hand.bench.state.chosen_patch.corners
    assert (x1 - x0) * hand.picture.columns * hand.bench.placement.zoom == pytest.approx(60.0)
    assert (y1 - y0) * hand.picture.rows * hand.bench.placement.zoom == pytest.approx(40.0)


def test_a_drag_between_two_frames_goes_to_its_end_over_the_frames_and_on_the_edge_of_the_scopes(hand, tmp_path, host):
    open_programme(hand, tmp_path, host)
    place = hand.place("frames")
    drag_between_two_frames(hand, (place.left + 2.0, place.top + 2.0), (0.75 * place.width, 0.0))
    assert hand.bench.playback.transport.position == 4
    hand.key("2")
    hand.frames(2)
    share, (x, y) = hand.bench.shown.scopes.share, hand.middle("scopes edge")
    drag_between_two_frames(hand, (x, y), (0.0, -40.0))
    assert hand.bench.shown.scopes.share > share + 0.02
    hand.bench.end()


def test_a_drag_between_two_frames_moves_the_line_of_a_wipe(hand):
    hand.bench.show(layout="wipe")
    hand.frames()
    drag_between_two_frames(hand, hand.middle("wipe"), (100.0, 0.0))
    (name,) = [name for name in hand.app.ui.places if name.startswith("picture ")]
    assert hand.bench.state.showing.line.x == pytest.approx(0.5 + 100.0 / hand.place(name).width, abs=2e-3)


def test_a_patch_that_is_drawn_beyond_the_picture_ends_at_its_edge(hand):
    hand.key("m")
    hand.drag("picture master", (0.8, 0.8), (1.4, 1.3))
    xs, ys = zip(*hand.bench.state.chosen_patch.corners, strict=True)
    assert (max(xs), max(ys)) == (1.0, 1.0)
    assert min(xs) == pytest.approx(0.8, abs=0.02)
    assert not hand.bench.shown.is_marking


@pytest.mark.parametrize("held", [1, 6], ids=["a frame", "as a hand holds it"])
def test_a_double_click_on_a_track_resets_it_however_long_the_button_is_down(hand, held):
    hand.type("field input.exposure", "-1")
    place, io = hand.place("track input.exposure"), imgui.get_io()
    hand.move(place.left + 0.8 * place.width, place.top + 0.5 * place.height)
    for _ in range(2):
        io.add_mouse_button_event(0, True)
        hand.frames(held)
        io.add_mouse_button_event(0, False)
        hand.frames(1)
    hand.frames()
    assert hand.bench.state.slot(1).rendition.input.exposure == 0.0


def test_a_double_click_is_one_on_a_machine_that_draws_slowly_too(hand, monkeypatch):
    """A frame of 0.2 s, of which each press and each release takes one."""
    hand.type("field input.exposure", "-1")
    place, io, now = hand.place("track input.exposure"), imgui.get_io(), [hand.bench.clock()]
    begin, end = hand.surface.begin, hand.surface.end

    def slow_begin():
        begin()
        io.delta_time = 0.2

    def slow_end():
        now[0] += 0.2
        end()

    monkeypatch.setattr(hand.app, "_frame_times", deque(maxlen=3))
    monkeypatch.setattr(hand.surface, "begin", slow_begin)
    monkeypatch.setattr(hand.surface, "end", slow_end)
    monkeypatch.setattr(hand.bench, "clock", lambda: now[0])
    hand.move(place.left + 0.8 * place.width, place.top + 0.5 * place.height)
    hand.frames(3)
    for _ in range(2):
        io.add_mouse_button_event(0, True)
        io.add_mouse_button_event(0, False)
    hand.frames(5)
    assert hand.bench.state.slot(1).rendition.input.exposure == 0.0


def test_with_shift_a_track_goes_on_from_its_value_in_tenths_of_the_way(hand):
    hand.type("field input.exposure", "-1")
    io, place = imgui.get_io(), hand.place("track input.exposure")
    room = place.width - 2.0 * 0.34 * hand.app.ui.em  # the handle stays inside
    io.add_key_event(imgui.Key.left_shift, True)
    io.add_key_event(imgui.Key.mod_shift, True)
    drag_between_two_frames(hand, hand.middle("track input.exposure"), (0.25 * place.width, 0.0))
    io.add_key_event(imgui.Key.left_shift, False)
    io.add_key_event(imgui.Key.mod_shift, False)
    hand.frames()
    assert hand.bench.state.slot(1).rendition.input.exposure == pytest.approx(
        -1.0 + 16.0 * 0.1 * 0.25 * place.width / room, abs=0.011
    )


def test_a_pixel_is_read_and_the_wheel_zooms_about_it_over_a_patch_and_over_the_line_of_a_wipe_too(hand):
    mark(hand)
    for name in ("patch 0", "wipe"):
        hand.bench.show(layout="wipe" if name == "wipe" else "side by side")
        hand.bench.do(actions.with_view, START)
        hand.bench.show(line=Line())
        hand.frames()
        hand.move(*hand.middle(name))
        before = hand.bench.pointed
        assert before is not None
        hand.wheel(4.0)
        assert hand.bench.placement.zoom == pytest.approx(16.0)
        assert hand.bench.pointed == before


def test_what_hands_did_between_two_frames_is_taken_whole_before_the_bench_rests(hand):
    """A double click is four events, and each takes a frame of its own; no other event may come for a minute."""
    hand.move(*hand.middle("caption 2"))
    hand.settle()
    io = imgui.get_io()
    for _ in range(2):
        io.add_mouse_button_event(0, True)
        io.add_mouse_button_event(0, False)
    for _ in range(10):
        hand.app.frame()
        if hand.app.is_settled:
            break
    assert io.mouse_clicked_last_count[0] == 2
    assert not imgui.is_mouse_down(0)


def hold(hand, key, character, repeats=6):
    """Hold a key that types a character down so long that the system repeats the character."""
    io = imgui.get_io()
    io.add_key_event(key, True)
    io.add_input_characters_utf8(character)
    hand.frames(40)
    for _ in range(repeats):
        io.add_input_characters_utf8(character)
        hand.frames(2)
    io.add_input_characters_utf8(character)
    io.add_key_event(key, False)
    hand.frames()


def test_a_key_that_is_held_down_goes_on_only_where_that_is_meant(hand):
    hold(hand, imgui.Key.d, "d")
    assert len(hand.bench.state.slots) == 5, "one is duplicated again and again"
    hold(hand, imgui.Key.l, "l")
    hold(hand, imgui.Key.v, "v")
    assert (hand.bench.state.showing.layout, hand.bench.state.showing.view) == ("wipe", "luminance")
    hold(hand, imgui.Key.v, "v")  # and pressed once more it counts again
    assert hand.bench.state.showing.view == "gamut"
    hold(hand, imgui.Key.right_bracket, "]")
    assert hand.bench.state.showing.line.angle == pytest.approx(90.0 - 8 * 5.0)
    hold(hand, imgui.Key.comma, ",")
    assert hand.bench.state.selected_slot.rendition.input.exposure == -1.0


def test_a_held_space_does_not_let_two_pictures_flash(hand):
    hand.bench.show(layout="flip")
    before = hand.bench.state.showing.pair(hand.bench.state.keys)
    io = imgui.get_io()
    io.add_key_event(imgui.Key.space, True)
    hand.frames(90)
    io.add_key_event(imgui.Key.space, False)
    hand.frames()
    assert hand.bench.state.showing.pair(hand.bench.state.keys) == before[::-1]


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_a_wheel_that_turns_in_small_parts_zooms_as_one_that_clicks(hand, way):
    """As touch pads and fine wheels send it."""
    hand.bench.do(actions.with_view, START)
    hand.move(*hand.middle("picture 1"))
    before = hand.bench.pointed
    for _ in range(40):
        hand.wheel(0.1 * way)
    assert hand.bench.placement.zoom == pytest.approx(8.0 * 2.0**way)
    assert hand.bench.pointed == before


@pytest.mark.parametrize(
    ("path", "text", "value"),
    [
        ("input.exposure", "\u22120.5", -0.5),  # as it is printed
        ("input.exposure", " 0,25 stops ", 0.25),
        ("input.pivot", "203 nits", 203.0),
        ("input.pivot", "18 cd/m\u00b2", 18.0),
        ("input.pivot", "20cd/m2", 20.0),
    ],
)
def test_a_number_is_typed_as_it_is_written(hand, path, text, value):
    hand.type(f"field {path}", text)
    assert getattr(hand.bench.state.slot(1).rendition.input, path.partition(".")[2]) == value
    assert hand.bench.notice is None


def test_of_several_dropped_files_the_one_that_can_be_opened_is(hand, tmp_path, pictures):
    (tmp_path / "notes.txt").write_text("to the colourist")
    shutil.copy(pictures / "master.dpx", tmp_path / "night.dpx")
    hand.bench.take_drop([tmp_path / "notes.txt", tmp_path / "night.dpx"])
    hand.frames()
    assert hand.bench.state.master.path.name == "night.dpx"
    assert hand.bench.notice.text == "of the 2 dropped files, night.dpx is opened"
