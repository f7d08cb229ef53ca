"""Keys inside a shot, set by hands: the first holds what is seen, the second makes a ramp, as `render` has it."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from tests.bench.conftest import Hand
from tests.bench.programme import open_programme
from tests.bench.test_sheet_on_screen import go_to_shot, key_of, with_ctrl
from tests.bench.test_timeline_on_screen import wait_for
from tonemap.host import Host
from tonemap.reference import ReferenceEngine
from tonemap.render.programme import SheetProgramme
from tonemap.trim_sheet import load
from viewer.bench import theme


@pytest.fixture
def hand(hand: Hand, host: Host, tmp_path: Path) -> Iterator[Hand]:
    """Return the hand on a bench with a programme, at 1:1."""
    open_programme(hand, tmp_path, host)
    yield hand
    hand.bench.end()


def go_to_frame(hand, frame):
    hand.bench.playback.transport.go(frame)
    wait_for(hand, lambda: not hand.bench.playback.is_waiting)
    assert hand.bench.state.frame == frame
    hand.settle()


def keys_of(hand, shot):
    return [(key.frame, dict(key.settings)) for key in hand.bench.state.sheet.shot(shot).keys]


def assert_is_rendered(hand):
    """Assert that the taken rendition's tile has the codes that a render of the saved sheet gives this frame."""
    bench = hand.bench
    bench.keeping.save()
    programme = SheetProgramme(load(bench.keeping.path), bench.host)
    frame = bench.state.frame
    (read,) = programme.frames([frame])
    chain = programme.chain_at(frame)
    codes = ReferenceEngine().codes(read.picture, chain)
    hand.settle()
    shown, part = hand.shown_at_whole_zoom(bench.state.taken)
    hand.assert_rounded(shown, hand.surface_codes(codes, chain.rendition.target)[part])


def test_two_posts_make_a_ramp_and_render_has_the_same_pixels(hand):
    go_to_shot(hand, "30")
    key = hand.bench.state.taken
    hand.click(f"caption {key}")
    assert keys_of(hand, "30") == []
    hand.click("key input.exposure")
    assert keys_of(hand, "30") == [(4, {"input.exposure": 0.0})]
    assert hand.bench.keeping.work.history.undo_what == "the keys of shot 30"
    assert not hand.bench.state.sheet.shot("30").changes_inside
    assert hand.bench.playback.reel.shots[2].keys == (4,)
    go_to_frame(hand, 5)
    assert hand.bench.state.slot(key).rendition.input.exposure == 0.0
    hand.type("field input.exposure", "-2")
    assert keys_of(hand, "30") == [(4, {"input.exposure": 0.0}), (5, {"input.exposure": -2.0})]
    assert_is_rendered(hand)
    go_to_frame(hand, 4)
    assert hand.bench.state.slot(key).rendition.input.exposure == 0.0
    assert_is_rendered(hand)
    go_to_frame(hand, 0)  # the rendition itself has not changed
    assert hand.bench.state.slot(key).rendition.input.exposure == 0.0
    assert_is_rendered(hand)
    with_ctrl(hand, "z")
    with_ctrl(hand, "z")
    assert keys_of(hand, "30") == []


def test_keys_hold_what_is_the_shots_own_and_let_go_of_it(hand):
    go_to_shot(hand, "20")
    assert hand.bench.state.sheet.shot("20").settings == {"input.exposure": -0.5}
    with_ctrl(hand, "k")
    assert keys_of(hand, "20") == [(2, {"input.exposure": -0.5})]
    assert hand.bench.state.sheet.shot("20").settings == {}
    assert hand.bench.said == "a key at frame 2: input.exposure"
    go_to_frame(hand, 3)
    hand.bench.set("input.exposure", -0.5)
    with_ctrl(hand, "k")
    assert [frame for frame, _ in keys_of(hand, "20")] == [2, 3]
    with_ctrl(hand, "k", shift=True)
    assert [frame for frame, _ in keys_of(hand, "20")] == [2]
    go_to_frame(hand, 2)
    with_ctrl(hand, "k", shift=True)
    assert keys_of(hand, "20") == []
    assert hand.bench.state.sheet.shot("20").settings == {"input.exposure": -0.5}, "the value is lost with its last key"
    assert_is_rendered(hand)
    go_to_shot(hand, "30")
    with_ctrl(hand, "k")
    assert hand.bench.notice.text == (
        "shot '30' has no numbers of its own to hold; change one with 'this shot' on (I), or click the post at the end "
        "of a setting's row"
    )


def test_a_ramp_of_three_channels_and_of_the_operators_own_number_is_rendered_the_same(hand):
    go_to_shot(hand, "10")
    key = hand.bench.state.taken
    hand.click(f"caption {key}")
    hand.scroll_to("key tone.knee_offset")
    hand.click("key tone.knee_offset")
    hand.scroll_to("key output.slope")
    hand.click("key output.slope")
    go_to_frame(hand, 1)
    hand.bench.set("tone.knee_offset", 0.9)
    hand.bench.set("output.slope", (0.7, 0.8, 0.9))
    assert keys_of(hand, "10")[1] == (1, {"tone.knee_offset": 0.9, "output.slope": [0.7, 0.8, 0.9]})
    assert_is_rendered(hand)
    go_to_frame(hand, 0)
    assert_is_rendered(hand)


def test_posts_are_offered_where_a_key_can_be_and_lit_where_one_is(hand):
    go_to_shot(hand, "30")
    key = hand.bench.state.taken
    hand.click(f"caption {key}")

    def lit(name):
        hand.move(5, 5)
        hand.settle()
        place = hand.place(name)
        area = hand.surface.codes()[place.top : place.bottom, place.left : place.right].astype(float) / hand.top_code
        return bool((np.abs(area - np.array(theme.accent()[:3])).max(axis=-1) < 0.03).any())

    assert not lit("key input.exposure")
    hand.click("key input.exposure")
    assert lit("key input.exposure")
    assert not lit("key input.contrast")
    go_to_frame(hand, 5)
    assert not lit("key input.exposure")
    go_to_frame(hand, 4)
    hand.click("key input.exposure")
    assert keys_of(hand, "30") == []
    hand.scroll_to("field target.peak")
    assert "key target.peak" not in hand.app.ui.places, "the target can't have keys"
    assert "key tone.application" not in hand.app.ui.places, "a choice can't have keys"
    hand.click(f"caption {key_of(hand, 'Log roll-off')}")
    assert "key input.exposure" not in hand.app.ui.places, "the shot takes another rendition"


@pytest.mark.parametrize("name", ["key tone.application", "key output.slope.red"])
def test_what_is_no_number_of_its_own_gets_no_post(hand, name):
    hand.bench.shown.unfolded.add("slope")
    hand.frames()
    assert name not in hand.app.ui.places
