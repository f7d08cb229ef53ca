"""The line-up on the real bench: every pattern code by code, the keys, the caution before what is very bright."""

import numpy as np
import pytest

from tonemap.line_up.patterns import PATTERNS, draw_pattern
from tonemap.monitor import Monitor
from viewer.bench import line_up
from viewer.bench import state as actions
from viewer.bench.toolkit import imgui
from viewer.line_up import set_type


def shown(hand):
    hand.frames()
    return hand.surface.codes()


def expected(name, screen, hand):
    encoding = line_up.with_codes(screen, hand.surface.bits)
    return draw_pattern(name, encoding, *hand.surface.size, set_type, line_up.NOTE)


def test_the_arrows_go_through_all_patterns_code_by_code_and_esc_leaves(hand):
    hand.move(5, 5)
    before, screen = shown(hand), hand.bench.state.monitor.encoding
    hand.click("line-up")
    hand.move(5, 5)
    for name in PATTERNS:
        assert hand.bench.line_up.name == name
        np.testing.assert_array_equal(shown(hand), expected(name, screen, hand))
        hand.key("right_arrow")
    assert hand.bench.line_up.name == "mode-check"
    hand.key("left_arrow")
    np.testing.assert_array_equal(shown(hand), expected("window-100", screen, hand))
    hand.key("escape")
    assert not hand.bench.line_up.is_on
    hand.settle()
    np.testing.assert_array_equal(shown(hand), before)


def test_what_was_said_of_the_screen_can_be_checked_at_once(hand):
    hand.key("f2")
    hand.frames()
    hand.click("kind pq")
    hand.frames()
    hand.click("check monitor")
    assert hand.bench.state.monitor.is_pq
    np.testing.assert_array_equal(shown(hand), expected("mode-check", hand.bench.state.monitor.encoding, hand))
    hand.key("escape")
    hand.frames()
    assert not hand.bench.line_up.is_on
    assert not hand.bench.shown.monitor


def test_a_pattern_follows_the_size_of_the_window(hand):
    hand.key("u")
    hand.frames()
    hand.surface.resize(1001, 707)
    np.testing.assert_array_equal(shown(hand), expected("mode-check", hand.bench.state.monitor.encoding, hand))


def test_a_window_that_is_too_small_for_a_pattern_says_so_and_shows_the_bench(hand):
    hand.key("u")
    hand.surface.resize(500, 300)
    hand.frames()
    assert not hand.bench.line_up.is_on
    assert hand.bench.notice.text == (
        "a pattern of 500 x 300 is not possible; choose from 640 x 360 to 8192 x 8192 pixels"
    )


@pytest.fixture
def bright_screen(hand):
    """Make the bench believe in a monitor whose large windows are very bright."""
    hand.bench.do(actions.with_monitor, Monitor("pq", "bt2020", 1000.0, bits=10))
    return hand.bench.state.monitor.encoding


def test_the_caution_comes_before_a_very_bright_pattern_and_nothing_bright_is_under_it(hand, bright_screen):
    hand.key("u")
    hand.bench.line_up.name = "window-10"
    bright = shown(hand).max()
    assert bright == 769  # 1000 cd/m2 in PQ, full range: Recommendation ITU-R BT.2100-3, Table 4
    hand.key("right_arrow")
    assert shown(hand).max() < 0.85 * 769, "the pattern is shown under its caution"
    hand.click("show bright")
    np.testing.assert_array_equal(shown(hand), expected("window-25", bright_screen, hand))
    hand.key("right_arrow")
    assert shown(hand).max() < 0.85 * 769, "a brighter one asks again"
    hand.key("enter")
    np.testing.assert_array_equal(shown(hand), expected("window-50", bright_screen, hand))
    hand.key("left_arrow")
    assert hand.bench.line_up.asks(bright_screen)
    hand.key("left_arrow")
    np.testing.assert_array_equal(shown(hand), expected("window-10", bright_screen, hand))


def test_the_caution_can_be_passed_by_and_left(hand, bright_screen):
    hand.key("u")
    hand.bench.line_up.name = "window-25"
    hand.frames(3)
    hand.click("skip bright")
    assert hand.bench.line_up.name == "window-50"
    hand.click("leave line-up")
    assert not hand.bench.line_up.is_on
    hand.settle()
    hand.key("a")
    assert len(hand.bench.state.slots) == 5, "the keys of the bench do not work after the caution"


def test_the_caution_comes_before_steps_to_4000_nits_and_says_how_bright_they_are(hand, bright_screen):
    hand.key("u")
    hand.bench.line_up.name = "black-level"
    hand.frames()
    texts, text = [], hand.app.ui.text
    hand.app.ui.text = lambda words, *rest, **more: (texts.append(words), text(words, *rest, **more))[1]
    hand.key("right_arrow")
    assert shown(hand).max() < 0.85 * 769, "the steps are shown under their caution"
    assert "Up to 4000 cd/m², more than 1000 on 4.5 % of the area, mean 178" in texts
    assert (
        "A caution comes before a mean of 200 cd/m² or more, and before more than 1000 cd/m² on 1 % of the area."
    ) in texts
    hand.key("enter")
    np.testing.assert_array_equal(shown(hand), expected("steps", bright_screen, hand))


def test_an_arrow_that_is_held_down_does_not_let_patterns_change_quickly(hand, bright_screen):
    hand.key("u")
    imgui.get_io().add_key_event(imgui.Key.right_arrow, True)
    hand.frames(90)
    imgui.get_io().add_key_event(imgui.Key.right_arrow, False)
    hand.frames()
    assert hand.bench.line_up.name == "black-level"
