"""A rendition's settings, copied and pasted as text, by keys and in a text editor."""

from dataclasses import replace

import pytest

from tonemap.errors import WrongCall
from tonemap.rendition import Rendition
from tonemap.settings import settings_of, with_settings
from viewer.bench.settings_text import text_of, with_text
from viewer.bench.toolkit import imgui


def test_text_holds_what_differs_and_comes_back_whole(host):
    changed = {"input.exposure": -0.5, "tone.start": 35.0, "output.slope": (1.0, 0.9, 1.0), "target.peak": 203.0}
    rendition = with_settings(Rendition("A", "knee", "gamut_clip"), changed, host)
    text = text_of(rendition, host)
    assert text.splitlines()[:3] == ['tone = "knee"', 'gamut = "gamut_clip"', "input.exposure = -0.5"]
    assert len(text.splitlines()) == 2 + len(changed)
    pasted = with_text(Rendition("B", "bt2390"), text, host)
    assert pasted.name == "B"
    assert settings_of(replace(pasted, name="A"), host) == settings_of(rendition, host)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("hello", "line 1 of the pasted text is no setting; a line is like 'input.exposure = -0.5'"),
        ("input.exposure = 1", "the pasted text names no tone and gamut operator; copy a rendition first"),
        ('tone = "knee"\ngamut = "gamut_clip"\ninput.exposure = 99', "input.exposure = 99 is outside"),
        ('tone = "knee"\ngamut = "gamut_clip"\ninput.exposure = ', "line 3 of the pasted text is no setting"),
    ],
)
def test_text_that_is_no_settings_is_one_sentence(host, text, words):
    with pytest.raises(WrongCall) as fault:
        with_text(Rendition("B", "bt2390"), text, host)
    assert str(fault.value).startswith(words)


def with_ctrl(hand, key):
    io = imgui.get_io()
    io.add_key_event(imgui.Key.mod_ctrl, True)
    hand.frames(1)
    for is_down in (True, False):
        io.add_key_event(key, is_down)
        hand.frames(1)
    io.add_key_event(imgui.Key.mod_ctrl, False)
    hand.frames()


def test_settings_are_copied_from_one_rendition_to_another_by_keys(hand):
    hand.click("pixels")
    hand.bench.set("input.exposure", -1.25)
    with_ctrl(hand, imgui.Key.c)
    assert "input.exposure = -1.25" in imgui.get_clipboard_text()
    hand.key("page_down")
    name = hand.bench.state.selected_slot.rendition.name
    with_ctrl(hand, imgui.Key.v)
    hand.settle()
    one, other = (hand.bench.state.slot(key).rendition for key in (1, 2))
    assert other == replace(one, name=name)
    hand.assert_tile_is_exact(2)
    imgui.set_clipboard_text("nothing of ours")
    with_ctrl(hand, imgui.Key.v)
    assert hand.bench.notice.text.startswith("line 1 of the pasted text is no setting")
    assert hand.bench.state.slot(2).rendition == other
