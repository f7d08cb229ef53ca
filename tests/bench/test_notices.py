"""Several things happen at once: each is said on a line of its own, and what is not true any more is not said."""

from types import SimpleNamespace

from viewer.bench.guest import GuestRoom
from viewer.bench.kept import Notice
from viewer.bench.panels import strip

LEFT, RIGHT = (f"the screens have changed; the guest's window is on {name} now" for name in ("Left", "Right"))


def guest_on(name):
    """Return the guest's window as one that a hand has just closed."""
    return SimpleNamespace(surface=SimpleNamespace(screen=name, is_closed=True), is_over=True, close=lambda: None)


def test_the_last_screen_of_the_guest_s_window_is_said_alone_until_it_is_closed(hand):
    room = GuestRoom()
    hand.bench.say(["a.dpx: can't be read"])
    for name in ("Left", "Right"):
        room.guest = guest_on(name)
        room._tell_screen(hand.bench)
    assert hand.bench.notice.text.splitlines() == ["a.dpx: can't be read", RIGHT]
    hand.bench.presenting.has_guest = True
    room.turn(hand.bench, SimpleNamespace(wakes=0))
    assert hand.bench.notice.text == "a.dpx: can't be read"
    room.guest = guest_on("Left")
    room._tell_screen(hand.bench)
    hand.bench.take_back("a.dpx: can't be read")
    assert hand.bench.notice.text == LEFT
    hand.bench.take_back(LEFT)
    assert hand.bench.notice is None


def test_what_is_said_twice_stands_there_once_and_each_sentence_has_its_line(hand):
    heights = [strip.height(hand.bench, hand.app.ui, 900)]
    for sentences in ([LEFT], [LEFT], ["a.dpx: can't be read; look whether it is whole"]):
        hand.bench.say(sentences)
        heights.append(strip.height(hand.bench, hand.app.ui, 900))
    assert hand.bench.notice.text.splitlines() == [LEFT, "a.dpx: can't be read; look whether it is whole"]
    assert heights[0] == 0
    assert heights[1] == heights[2] < heights[3]


def test_what_is_said_beside_a_removal_leaves_the_way_back(hand):
    hand.bench.remove(2)
    assert 2 not in [slot.key for slot in hand.bench.state.slots]
    hand.bench.say([RIGHT])
    hand.frames()
    hand.click("put back")
    assert hand.bench.notice.text == RIGHT
    assert "put back" not in hand.app.ui.places
    assert 2 in [slot.key for slot in hand.bench.state.slots]


def test_taking_back_what_does_not_stand_there_changes_nothing(hand):
    hand.bench.take_back("")
    hand.bench.notice = Notice(RIGHT)
    hand.bench.take_back("")
    hand.bench.take_back(LEFT)
    assert hand.bench.notice.text == RIGHT
