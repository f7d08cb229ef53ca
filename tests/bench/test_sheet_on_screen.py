"""A trim sheet on the bench, driven by events: what each shot takes, undo and redo, saving under a name."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from tests.bench.conftest import Hand
from tests.bench.programme import open_programme
from tests.bench.test_timeline_on_screen import wait_for
from tonemap.host import Host
from tonemap.trim_sheet import load
from viewer.bench import theme
from viewer.bench.toolkit import imgui


@pytest.fixture
def hand(hand: Hand, host: Host, tmp_path: Path) -> Iterator[Hand]:
    """Return the hand on a bench with a programme."""
    open_programme(hand, tmp_path, host)
    yield hand
    hand.bench.end()


def with_ctrl(hand: Hand, name: str, *, shift: bool = False) -> None:
    io = imgui.get_io()
    io.add_key_event(imgui.Key.mod_ctrl, True)
    io.add_key_event(imgui.Key.mod_shift, shift)
    hand.frames(1)
    for is_down in (True, False):
        io.add_key_event(getattr(imgui.Key, name), is_down)
        hand.frames(1)
    io.add_key_event(imgui.Key.mod_ctrl, False)
    io.add_key_event(imgui.Key.mod_shift, False)
    hand.frames()


def go_to_shot(hand: Hand, name: str) -> None:
    """Press the keys of the transport until a shot is shown, and wait for its frame."""
    for _ in range(3):
        shot = hand.bench.state.shot
        if shot is not None and shot.name == name:
            break
        hand.key("j")
        wait_for(hand, lambda: hand.bench.playback is not None and not hand.bench.playback.is_waiting)
    shot = hand.bench.state.shot
    assert shot is not None
    assert shot.name == name
    hand.settle()


def key_of(hand: Hand, name: str) -> int:
    return next(slot.key for slot in hand.bench.state.slots if slot.rendition.name == name)


def is_marked(hand: Hand, key: int) -> bool:
    """Say whether a tile has the mark of what the shot takes: the accent in the caption's upper right corner."""
    hand.settle()
    place = hand.place(f"caption {key}")
    corner = hand.surface.codes()[place.top + 1 : place.top + 4, place.right - 4 : place.right - 1].reshape(-1, 3)
    accent = np.array(theme.accent()[:3]) * hand.top_code
    return bool((np.abs(corner - accent).max(axis=-1) < 0.03 * hand.top_code).all())


def test_every_shot_is_shown_as_it_takes_its_rendition(hand):
    for name, taken, exposure in (("10", "BT.2390", 0.0), ("20", "BT.2446 A", -0.5), ("30", "BT.2390", 0.0)):
        go_to_shot(hand, name)
        assert [slot.rendition.name for slot in hand.bench.state.slots if is_marked(hand, slot.key)] == [taken]
        key = key_of(hand, taken)
        assert hand.bench.state.slot(key).rendition.input.exposure == exposure
        sheet, frame = hand.bench.state.sheet, hand.bench.state.frame
        assert hand.chain(key).rendition.input == sheet.rendition_at(frame, hand.bench.host).input
        hand.assert_tile_is_exact(key)


def test_a_drag_is_one_step_and_keys_walk_through_the_steps(hand):
    key = key_of(hand, "BT.2390")
    place = hand.place("track input.exposure")
    start = hand.bench.state.slot(key).rendition
    hand.move(place.left + 0.5 * place.width, place.top + 0.5 * place.height)
    imgui.get_io().add_mouse_button_event(0, True)
    hand.frames(1)
    for share in (0.52, 0.54, 0.56, 0.58):
        hand.move(place.left + share * place.width, place.top + 0.5 * place.height)
        assert hand.bench.keeping.work.history.undo_what is None
    imgui.get_io().add_mouse_button_event(0, False)
    hand.frames()
    moved = hand.bench.state.slot(key).rendition
    assert moved.input.exposure > start.input.exposure
    hand.assert_tile_is_exact(key)
    assert len(hand.bench.keeping.work.history.steps) == 2
    with_ctrl(hand, "z")
    assert hand.bench.state.slot(key).rendition.input == start.input
    assert hand.bench.said == "undone: input.exposure of 'BT.2390'"
    hand.assert_tile_is_exact(key)
    with_ctrl(hand, "z", shift=True)
    assert hand.bench.state.slot(key).rendition.input == moved.input
    hand.assert_tile_is_exact(key)
    hand.click("undo")
    assert hand.bench.state.slot(key).rendition.input == start.input
    with_ctrl(hand, "y")
    assert hand.bench.state.slot(key).rendition.input == moved.input


def test_the_shot_takes_a_rendition_by_key_and_by_the_panel(hand):
    go_to_shot(hand, "20")
    hand.click("picture " + str(key_of(hand, "Log roll-off")))
    hand.key("t")
    assert hand.bench.state.sheet.shot("20").rendition == "Log roll-off"
    assert hand.bench.playback.reel.shots[1].trim == "Log roll-off"
    assert is_marked(hand, key_of(hand, "Log roll-off"))
    assert not is_marked(hand, key_of(hand, "BT.2446 A"))
    hand.assert_tile_is_exact(key_of(hand, "BT.2446 A"))  # without the exposure that was the shot's own
    hand.click("takes")
    hand.click(f"takes={key_of(hand, 'BT.2446 C')}")
    assert hand.bench.state.sheet.shot("20").rendition == "BT.2446 C"
    hand.click("takes")
    hand.click("takes=")
    assert hand.bench.state.sheet.shot("20").rendition is None
    assert is_marked(hand, key_of(hand, "BT.2390"))


def test_a_value_of_the_shots_own_is_marked_and_goes_back_by_its_mark(hand):
    hand.key("i")
    assert hand.bench.state.only_here
    key = key_of(hand, "BT.2390")
    hand.type("field input.exposure", "-1")
    hand.assert_tile_is_exact(key)
    assert hand.bench.state.sheet.shot("10").settings == {"input.exposure": -1.0}
    go_to_shot(hand, "30")
    assert hand.bench.state.slot(key).rendition.input.exposure == 0.0
    hand.assert_tile_is_exact(key)
    hand.click("all shots")
    hand.type("field input.exposure", "-2")
    hand.key("h")
    hand.key("h")
    go_to_shot(hand, "10")
    assert hand.bench.state.slot(key).rendition.input.exposure == -1.0
    hand.click("reset input.exposure")
    assert hand.bench.state.slot(key).rendition.input.exposure == -2.0
    hand.assert_tile_is_exact(key)


def test_renditions_are_reordered_by_keys(hand):
    with_ctrl(hand, "right_arrow")
    assert [slot.rendition.name for slot in hand.bench.state.slots][:2] == ["BT.2446 A", "BT.2390"]
    assert [entry.name for entry in hand.bench.state.sheet.renditions][:2] == ["BT.2446 A", "BT.2390"]
    with_ctrl(hand, "left_arrow")
    assert [slot.rendition.name for slot in hand.bench.state.slots][:2] == ["BT.2390", "BT.2446 A"]


def test_the_sheet_is_saved_under_a_name_and_no_file_is_replaced_unasked(hand, tmp_path):
    other = tmp_path / "theirs.trims"
    other.write_text("theirs")
    hand.type("field input.exposure", "-1")
    with_ctrl(hand, "s")
    hand.type("sheet path", str(tmp_path / "theirs"))
    hand.click("save sheet")
    assert other.read_text() == "theirs"
    hand.click("cancel saving")
    with_ctrl(hand, "s")
    hand.type("sheet path", str(tmp_path / "mine"))
    hand.click("save sheet")
    assert load(tmp_path / "mine.trims").rendition_entry("BT.2390").settings["input.exposure"] == -1.0
    assert hand.bench.keeping.words() == "mine.trims, saved"
    with_ctrl(hand, "s")
    hand.type("sheet path", str(other))
    hand.click("save sheet")
    hand.click("save sheet")  # now it says Replace
    assert load(other).rendition_entry("BT.2390").settings["input.exposure"] == -1.0
