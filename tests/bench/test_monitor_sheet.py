"""Saying what the screen is: asked once, kept, shown always; a caution before a bright one; the interface's size."""

from dataclasses import replace

import pytest

from tonemap.monitor import Monitor
from viewer.bench import state as actions
from viewer.bench import surface as surfaces
from viewer.bench import theme
from viewer.bench.preferences import CAUTION, tell_screen, use_monitor, use_settings
from viewer.bench.screens import Screen
from viewer.bench.toolkit import imgui
from viewer.bench.wording import monitor_words
from viewer.settings_file import SettingsFile

PQ = Monitor("pq", "bt2020", 1000.0, bits=10)


@pytest.fixture
def kept(hand, tmp_path):
    """Return settings that nobody has made yet, taken up by the bench."""
    settings = SettingsFile(tmp_path / "settings.toml")
    use_settings(hand.bench, settings)
    hand.frames(3)
    return settings


def test_the_first_start_asks_and_the_second_knows(hand, kept):
    assert hand.bench.shown.monitor
    hand.click("kind pq")
    hand.type("monitor peak", "600")
    hand.click("use monitor")
    monitor = Monitor("pq", "bt2020", 600.0, bits=10)
    assert hand.bench.state.monitor == monitor
    assert not hand.bench.shown.monitor
    hand.bench.do(actions.with_monitor, Monitor())
    use_settings(hand.bench, SettingsFile(kept.path))
    assert hand.bench.state.monitor == monitor
    assert not hand.bench.shown.monitor


def test_a_key_and_the_bar_open_it_and_esc_changes_nothing(hand, kept):
    hand.click("use monitor")
    for open_it in (lambda: hand.key("f2"), lambda: hand.click("monitor")):
        open_it()
        hand.frames()
        assert hand.bench.shown.monitor
        hand.click("kind pq")
        hand.key("escape")
        hand.frames()
        assert not hand.bench.shown.monitor
        assert hand.bench.state.monitor == Monitor()


def test_a_wrong_value_is_one_sentence_and_can_not_be_used(hand, kept):
    hand.click("kind pq")
    hand.type("monitor peak", "50")
    assert "use monitor" not in hand.app.ui.places
    hand.type("monitor peak", "bright")
    assert "use monitor" not in hand.app.ui.places
    hand.type("monitor peak", "1000")
    assert "use monitor" in hand.app.ui.places


def test_a_caution_stands_before_a_very_bright_monitor_and_defers_to_its_manual(hand, kept):
    hand.click("kind pq")
    assert "monitor caution" not in hand.app.ui.places
    hand.type("monitor peak", "4000")
    assert "monitor caution" in hand.app.ui.places
    assert "the monitor's own manual" in CAUTION
    hand.click("use monitor")
    assert hand.bench.state.monitor.peak == 4000.0
    hand.key("f2")
    hand.frames()
    assert "monitor caution" not in hand.app.ui.places, "what was agreed to once is not asked again"


def test_settings_that_can_not_be_used_are_said_and_left_alone(hand, tmp_path):
    path = tmp_path / "settings.toml"
    path.write_text('[monitor]\nsignal = "pq"\npeak = 1.0\n')
    use_settings(hand.bench, SettingsFile(path))
    assert hand.bench.notice.text == "monitor: peak = 1 is outside 100..10000 cd/m2; choose a value in that range"
    assert hand.bench.shown.monitor
    assert hand.bench.state.monitor == Monitor()
    assert path.read_text() == '[monitor]\nsignal = "pq"\npeak = 1.0\n'


def test_the_line_of_status_always_says_what_is_believed():
    assert monitor_words(PQ, 10)[0] == "PQ, BT.2020, to 1000 cd/m\u00b2, 10 bits"
    assert monitor_words(PQ, 8)[0] == "PQ, BT.2020, to 1000 cd/m\u00b2, only 8 of 10 bits: banding"
    assert monitor_words(Monitor(), 10)[-1] == "SDR 100, 8 bits"
    lengths = [len(words) for words in monitor_words(PQ, 8)]
    assert lengths == sorted(lengths, reverse=True)


def test_fewer_bits_than_the_monitor_has_are_said(hand, kept):
    hand.bench.framebuffer_bits = 8
    use_monitor(hand.bench, PQ)
    assert hand.bench.notice.text == (
        "the window has 8 bits a channel, and the monitor 10: steps show in smooth parts (banding)"
    )
    hand.bench.framebuffer_bits = 10
    use_monitor(hand.bench, PQ)
    assert hand.bench.notice is None


def test_the_interface_is_sized_by_keys_and_stays_so(hand, kept):
    hand.click("use monitor")
    before = hand.place("panel").height

    def press(name):
        imgui.get_io().add_key_event(imgui.Key.mod_ctrl, True)
        hand.key(name)
        imgui.get_io().add_key_event(imgui.Key.mod_ctrl, False)
        hand.frames(3)

    for _ in range(3):
        press("equal")
    assert hand.bench.shown.size == 1.5
    assert hand.app.ui.em == 1.5 * theme.TYPE_SIZE
    assert hand.place("panel").height == pytest.approx(1.5 * before, abs=2)
    assert SettingsFile(kept.path).table("interface") == {"size": 1.5}
    press("minus")
    assert hand.bench.shown.size == 1.25
    press("_0")
    assert hand.bench.shown.size == 1.0


def test_the_monitor_is_no_part_of_the_work_that_undo_takes_back(hand, kept):
    hand.bench.set("input.exposure", -0.5)
    use_monitor(hand.bench, PQ)
    hand.bench.undo()
    assert hand.bench.state.slots[0].rendition.input.exposure == 0.0
    assert hand.bench.state.monitor == PQ
    hand.bench.undo()
    assert hand.bench.state.monitor == PQ


def test_another_trim_sheet_does_not_change_the_screen(hand, kept, tmp_path):
    use_monitor(hand.bench, PQ)
    hand.bench.save_as(tmp_path / "a.trims")
    hand.bench.open_sheet(tmp_path / "a.trims")
    assert hand.bench.state.monitor == PQ
    hand.bench.do(actions.with_monitor, Monitor(peak=203.0))
    hand.bench.open_sheet(tmp_path / "a.trims")
    assert hand.bench.state.monitor.peak == hand.bench.state.window == 203.0


def test_a_screen_that_is_gone_or_left_is_noticed_once_and_said(hand, monkeypatch):
    left, right = Screen("Left", (0, 0), (1920, 1080, 8, 60)), Screen("Right", (1920, 0), (3840, 2160, 10, 24))
    there = {"left": left, "right": right}
    monkeypatch.setattr(surfaces, "_screen_of", there.__getitem__)
    monkeypatch.setattr(surfaces, "monitor_of", lambda window: window)
    monkeypatch.setattr(surfaces, "monitor_under", lambda window: window)
    monkeypatch.setattr(surfaces.glfw, "get_monitors", lambda: list(there))
    surface = surfaces.WindowSurface.__new__(surfaces.WindowSurface)
    surface.window = "right"
    surface._screen = surface._screen_now()
    assert surface.screen_change() is None
    surface.window = "left"
    assert surface.screen_change() == (right, left, False)
    assert surface.screen_change() is None
    there["left"] = replace(left, mode=(1280, 720, 8, 50))
    assert surface.screen_change() == (left, there["left"], False)
    assert surface.screen_change() is None
    surface.window = "right"
    surface.screen_change()
    del there["right"]
    surface.window = "left"
    assert surface.screen_change() == (right, there["left"], True)
    before = hand.bench.state
    tell_screen(hand.bench, right, left, True)
    hand.frames()
    assert hand.bench.notice is not None
    assert hand.bench.notice.text == (
        "Right is gone, and the window is on Left; the bench still draws for "
        f"{before.monitor.title}; say with F2 what this screen is"
    )
    assert hand.bench.state == before
    tell_screen(hand.bench, left, there["left"], False)
    assert hand.bench.notice.text == (
        "Left is in another mode now, 1280 \u00d7 720, 8 bits, 50 Hz; the bench still draws for "
        f"{before.monitor.title}; say with F2 what this screen is"
    )
