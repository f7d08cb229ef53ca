"""Every key does one thing, and all of them stand on the help sheet, in groups."""

from collections import Counter

import pytest

from tests.bench.conftest import heard
from viewer.bench.input import GROUPS, KEYS, MOUSE
from viewer.bench.panels.help_sheet import columns_of, groups
from viewer.bench.sheet_keys import CONTROL_KEYS
from viewer.bench.toolkit import imgui


def test_no_key_has_two_meanings():
    names = Counter(name for key in KEYS for name in key.names)
    assert [name for name, count in names.items() if count > 1] == []
    held = Counter((key.name, key.shift) for key in CONTROL_KEYS)
    assert [name for name, count in held.items() if count > 1] == []


@pytest.mark.parametrize("count", [1, 2, 3])
def test_columns_keep_the_order_of_the_groups_and_are_about_as_long(count):
    columns = columns_of(groups(), count)
    assert [group for column in columns for group in column] == groups()
    lengths = [sum(len(rows) + 2 for _, rows in column) for column in columns]
    longest_group = max(len(rows) + 2 for _, rows in groups())
    assert max(lengths) - min(lengths) <= longest_group


@pytest.mark.parametrize("size", [(640, 360), (1280, 720), (1920, 1080)])
def test_the_sheet_has_a_heading_for_every_group_and_each_key_of_it_below(hand, size):
    hand.surface.resize(*size)
    hand.key("?")
    hand.frames(3)
    places = hand.app.ui.places
    headings = {title: places[f"keys {title}"] for title, _ in groups()}
    assert [*headings] == [*GROUPS, "Work", "Mouse"]
    assert len({place.left for place in headings.values()}) == {640: 1, 1280: 2, 1920: 3}[size[0]]
    assert max(place.right for place in headings.values()) < size[0]
    if size == (1920, 1080):
        assert max(place.bottom for place in headings.values()) < hand.place("close help").top
    assert {shown for _, rows in groups() for shown, _ in rows} == {
        key.shown for key in (*KEYS, *CONTROL_KEYS) if key.help
    } | {what for what, _ in MOUSE}


@pytest.mark.parametrize("key", ["f1", "escape"])
def test_f1_opens_the_sheet_and_f1_or_esc_closes_it(hand, key):
    hand.key("f1")
    hand.frames(3)
    assert hand.bench.shown.help
    hand.key(key)
    hand.frames(2)
    assert not hand.bench.shown.help


@pytest.mark.parametrize(
    ("name", "is_there"),
    [
        ("scopes", lambda bench: bench.shown.scopes.open == ("waveform",)),
        ("mark", lambda bench: bench.shown.is_marking),
        ("samples", lambda bench: bench.shown.samples),
        ("present", lambda bench: bench.presenting.is_on),
    ],
)
def test_what_one_looks_with_can_be_found_without_a_key(hand, name, is_there):
    assert not is_there(hand.bench)
    hand.click(name)
    assert is_there(hand.bench)


def test_a_second_click_closes_all_scopes(hand):
    for key in "235":
        hand.key(key)
    hand.click("scopes")
    assert hand.bench.shown.scopes.open == ()


@pytest.mark.parametrize("layout", ["side by side", "wipe"])
@pytest.mark.parametrize("width", [480, 640, 800, 1280])
def test_the_buttons_at_the_right_give_way_and_never_lie_over_others(hand, layout, width):
    hand.surface.resize(width, 500)
    hand.bench.show(layout=layout)
    hand.frames(3)
    last = "pair 1" if layout == "wipe" else "view"
    tools = [hand.place(name) for name in ("scopes", "mark", "samples", "present") if name in hand.app.ui.places]
    ends = [hand.place(last).right, *(tool.right for tool in tools)]
    assert all(tool.left > end for tool, end in zip(tools, ends, strict=False))
    assert not tools or ends[-1] <= width
    assert len(tools) == 4 or width < 1280


def test_the_line_of_status_says_how_a_patch_is_marked(hand):
    with heard(hand) as said:
        hand.key("m")
        hand.frames(2)
    assert any(text.startswith("drag a rectangle") for text, *_ in said)


def test_a_key_counts_with_what_was_held_although_both_are_let_go_in_one_slow_frame(hand):
    hand.key(",")
    io = imgui.get_io()
    for shift, expected in ((False, 0.0), (True, -0.125)):
        io.add_key_event(imgui.Key.mod_ctrl, True)
        io.add_key_event(imgui.Key.mod_shift, shift)
        hand.frames(1)
        io.add_key_event(imgui.Key.z, True)
        io.add_key_event(imgui.Key.mod_ctrl, False)
        io.add_key_event(imgui.Key.mod_shift, False)
        io.add_key_event(imgui.Key.z, False)
        hand.frames()
        assert hand.bench.state.selected_slot.rendition.input.exposure == expected
