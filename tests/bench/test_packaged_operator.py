"""An operator of a package that pip has installed is in the bench's list, and its tile is what it computes."""

import sys

from tonemap.host import find_operators


def test_an_installed_operator_is_chosen_from_the_list_and_drawn(hand, packaged_operator, monkeypatch):
    monkeypatch.syspath_prepend(packaged_operator)
    hand.bench.host = hand.bench.workings.host = find_operators()
    hand.click("pixels")
    hand.click("tone")
    hand.click("tone=own_trim")
    assert hand.bench.state.slot(1).rendition.tone == "own_trim"
    hand.settle()
    hand.assert_tile_is_exact(1)
    hand.type("field tone.share", "0.2")
    assert hand.bench.state.slot(1).rendition.tone_settings["share"] == 0.2
    hand.settle()
    hand.assert_tile_is_exact(1)
    for name in [name for name in sys.modules if name.startswith("lantern_trims")]:
        del sys.modules[name]
