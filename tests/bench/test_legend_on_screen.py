"""The legend on the real bench: once for pictures with the same colours, beside the pictures, with words that fit."""

from itertools import pairwise

import pytest

from tests.bench.conftest import heard
from tonemap.media.wishes import EncodingWishes
from viewer.bench import state as actions
from viewer.bench.panels.legend import groups_of

MASTER_BANDS = [
    "black, below 0.005",
    "shadows, to 1",
    "dark skin 10 to 40",
    "medium skin 40 to 65",
    "medium or light skin 65 to 85",
    "light skin 85 to 110",
    "above the target, from 110",
    "reference white 203",
    "above 203",
]
SDR_BANDS = ["black, below 0.005", "shadows, to 1", "skin in studio news 40 to 60", "the target's peak, 100"]


def titles(hand):
    return [(group.title, [mark.title for mark in group.marks]) for group in groups_of(hand.bench)]


def test_renditions_with_one_target_share_a_line_and_another_target_has_its_own(hand):
    hand.bench.show(view="luminance")
    assert titles(hand) == [("Master, cd/m\u00b2", MASTER_BANDS), ("Renditions, cd/m\u00b2", SDR_BANDS)]
    hand.bench.do(actions.set_setting, 2, "target.peak", 203.0, hand.bench.host)
    assert [title for title, _ in titles(hand)] == [
        "Master, cd/m\u00b2",
        "BT.2390, BT.2446 C, Log roll-off, cd/m\u00b2",
        "BT.2446 A, cd/m\u00b2",
    ]
    hand.bench.show(layout="wipe", first=1, second=3)
    assert [title for title, _ in titles(hand)] == ["Renditions, cd/m\u00b2"]
    hand.bench.show(view="gamut")
    assert titles(hand) == [("", ["within BT.709", "outside BT.709, within P3", "outside P3"])]
    hand.bench.show(view="picture")
    assert titles(hand) == []


def test_one_line_for_all_pictures_names_none(hand, pictures):
    hand.bench.open(pictures / "unknown.tif", EncodingWishes("bt1886", "bt709", "full"))
    hand.bench.show(view="luminance")
    hand.frames()
    assert titles(hand) == [("cd/m\u00b2", SDR_BANDS)]


@pytest.mark.parametrize("size", [(1280, 760), (1280, 720), (1920, 1080)])
def test_every_colour_has_its_words_once_and_none_is_on_a_picture(hand, size):
    hand.surface.resize(*size)
    hand.bench.show(view="luminance")
    with heard(hand) as said:
        hand.frames(2)
        said.clear()
        hand.frames(1)
    words = [text for text, *_ in said]
    for title in MASTER_BANDS + SDR_BANDS:
        assert words.count(title) == (2 if title in MASTER_BANDS and title in SDR_BANDS else 1), title
    room = hand.place("legend")
    for text, x, y, width in said:
        if text in MASTER_BANDS:
            assert room.contains(x, y)
            assert x + width <= room.right
    for name, place in hand.app.ui.places.items():
        if name.startswith("picture "):
            assert place.bottom <= room.top
    assert room.bottom <= size[1] - round(1.75 * hand.app.ui.em)  # above the line of status


@pytest.mark.parametrize("key", [None, "f11"], ids=["bench", "presented"])
def test_where_there_is_no_room_for_words_the_colours_stand_in_one_line_and_tell_their_words(hand, key):
    hand.surface.resize(640, 360)
    hand.bench.shown.panel = False
    hand.bench.show(view="luminance")
    if key:
        hand.key(key)
    hand.frames(3)
    room = hand.place("legend")
    assert room.height < 2.0 * hand.app.ui.em
    colours = [place for name, place in hand.app.ui.places.items() if name.startswith("legend ")]
    assert len(colours) == len(MASTER_BANDS) + len(SDR_BANDS)
    assert all(place.right <= room.right for place in colours)
    assert all(a.right <= b.left + 1 for a, b in pairwise(colours))


def test_presented_colours_have_their_legend_beside_the_pictures_and_their_captions(hand):
    hand.bench.show(view="luminance", layout="flip", first=None, second=1)
    hand.key("f11")
    hand.frames(3)
    room = hand.place("legend")
    for name, place in hand.app.ui.places.items():
        if name.startswith(("picture ", "presented ")):
            assert place.bottom <= room.top, name
    hand.key("q")
    hand.frames(3)
    assert "legend" not in hand.app.ui.places


@pytest.mark.parametrize("size", [(640, 360), (1280, 720)])
@pytest.mark.parametrize("is_presented", [False, True])
def test_the_scale_of_a_difference_lies_below_the_picture(hand, size, is_presented):
    hand.surface.resize(*size)
    hand.bench.shown.panel = False
    hand.bench.show(layout="difference", first=1, second=2)
    if is_presented:
        hand.key("f11")
    hand.frames(3)
    scale, picture = hand.place("scale"), hand.place("picture 1 2")
    assert picture.bottom <= scale.top
    assert scale.bottom <= size[1]
