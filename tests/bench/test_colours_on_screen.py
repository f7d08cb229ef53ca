"""Luminance, gamut and clipping on the real bench: pixels read back against the NumPy twin."""

import numpy as np
import pytest

from tonemap.colorimetry import conversion_matrix, convert, luminance
from tonemap.monitor import Monitor, monitor_signal
from tonemap.picture_colours import grey_light, mark_numbers
from viewer.bench import state as actions
from viewer.bench.interface_encoding import interface_signal


@pytest.mark.parametrize("view", ["luminance", "gamut", "clipping", "monitor"])
@pytest.mark.parametrize("key", [None, 1])
def test_every_pixel_has_the_colour_of_its_mark(hand, view, key):
    shown = hand.at_pixels(layout="flip", first=key, second=3, view=view)
    colours = hand.bench.colours(key)
    light = hand.reference_light(key)
    encoding = hand.bench.state.master.picture.encoding
    signal = None
    if key is not None:
        signal, encoding = hand.reference_signal(key)
    numbers = mark_numbers(colours, light, encoding, signal)
    greys = np.repeat(grey_light(luminance(light))[..., np.newaxis], 3, axis=-1)
    wanted = interface_signal(greys)
    for number, mark in enumerate(colours.marks):
        if mark.light is not None:
            wanted[numbers == number] = interface_signal(np.array(mark.light))
    difference = np.abs(shown - np.rint(wanted * hand.top_code)).max(axis=-1)
    assert (difference <= 2).mean() > 0.998  # float32 may fall on the other side of an edge
    if key is None:
        assert len(np.unique(numbers)) >= (6 if view == "luminance" else 3 if view == "gamut" else 2)


def test_a_monitor_in_pq_marks_what_is_beyond_it_and_has_a_band_of_its_own(hand):
    monitor = Monitor("pq", "p3-d65", 400.0, bits=10)
    hand.bench.do(actions.with_monitor, monitor)
    shown = hand.at_pixels(layout="flip", first=None, second=3, view="monitor")
    colours, light = hand.bench.colours(None), hand.reference_light(None)
    assert colours.reach == ("p3-d65", 400.0)
    numbers = mark_numbers(colours, light, hand.bench.state.master.encoding)
    assert (np.bincount(numbers.ravel(), minlength=4)[1:] > 20).all()
    white = np.repeat(np.array(monitor.interface_white), 3)
    for number in (1, 2, 3):
        mark = np.array(colours.marks[number].light) * white
        wanted = monitor_signal(convert(mark, conversion_matrix("bt709", "bt2020")), monitor) * hand.top_code
        chosen = shown[:30][numbers[:30] == number]
        assert (np.abs(chosen - wanted).max(axis=-1) <= 1.0).mean() > 0.995  # float32 may fall on the other side
    hand.bench.show(view="luminance")
    assert hand.bench.colours(None).marks[-1].title == "above the monitor, 400"


def test_the_key_goes_through_the_views_and_back(hand):
    seen = []
    for _ in range(5):
        hand.key("v")
        seen.append(hand.bench.state.showing.view)
    assert seen == ["luminance", "gamut", "monitor", "clipping", "picture"]
    hand.frames()
    assert not [name for name in hand.app.ui.places if name.startswith("legend")]


def test_the_difference_is_of_the_pictures_and_not_of_their_colours(hand):
    plain = hand.at_pixels(layout="difference", first=1, second=2, view="picture")
    coloured = hand.at_pixels(layout="difference", first=1, second=2, view="luminance")
    assert (plain == coloured).all()
