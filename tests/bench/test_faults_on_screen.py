"""Every kind of fault of an operator is one sentence on its tile, and every other tile stays as it is."""

import re

import numpy as np
import pytest

from tests.bench.conftest import heard
from tests.broken_operators import FAULTS, write_broken, write_clash
from tonemap.host import find_operators
from tonemap.rendition import Rendition
from tonemap.starters import starter_renditions
from viewer.bench import state as actions
from viewer.bench.bench import Bench


@pytest.mark.parametrize("kind", FAULTS)
def test_a_fault_is_one_sentence_on_its_tile_and_costs_no_other(kind, hand, tmp_path):
    sentence = write_broken(tmp_path, kind)
    bench = hand.bench
    bench.host = bench.workings.host = find_operators([tmp_path])
    bench.do(actions.add, Rendition("Sound", "linear_scale"))
    bench.do(actions.add, Rendition("Mine", "linear_scale"))
    key = bench.state.selected
    hand.settle()
    others = {slot.key: hand.tile(slot.key).copy() for slot in bench.state.slots if slot.key != key}
    bench.do(actions.with_rendition, key, Rendition("Mine", "bad"))
    hand.settle()
    fault = bench.fault(bench.state.slot(key))
    assert fault is not None
    assert re.fullmatch(sentence, fault), fault
    assert f"fault {key}" in hand.app.ui.places
    for other, codes in others.items():
        assert f"fault {other}" not in hand.app.ui.places
        assert np.array_equal(hand.tile(other), codes)


def test_a_name_that_is_taken_is_said_with_both_origins_when_the_bench_opens(hand, tmp_path):
    sentence = write_clash(tmp_path)
    bench = Bench(find_operators([tmp_path]), starter_renditions(), hand.bench.wishes)
    assert bench.notice is not None
    assert bench.notice.text.startswith(sentence)
    assert bench.notice.text.endswith("tonemap/operators/knee.py")
    assert bench.host.get("knee").title == "Knee"


def test_what_can_not_be_shown_costs_a_wipe_its_own_half_and_a_flip_nothing_else(hand, tmp_path):
    write_broken(tmp_path, next(iter(FAULTS)))
    bench = hand.bench
    bench.host = bench.workings.host = find_operators([tmp_path])
    bench.do(actions.add, Rendition("Mine", "bad"))
    key = bench.state.selected
    shown = hand.at_pixels(layout="wipe", first=2, second=key)
    middle = hand.place(f"picture 2 {key}").width // 2 - bench.placement.left
    codes = hand.reference_signal(2)[0] * hand.top_code
    rows = np.s_[-20:]  # below the sentence
    hand.assert_rounded(shown[rows, : middle - 20], codes[rows, : middle - 20])
    assert len(np.unique(shown[rows, middle + 20 :])) == 1
    place = hand.place(f"fault {key}")
    assert place.left >= hand.place(f"caption {key}").left
    hand.at_pixels(layout="flip")
    assert f"fault {key}" not in hand.app.ui.places
    bench.show(layout="flip", first=key, second=2)
    hand.settle()
    assert f"fault {key}" in hand.app.ui.places
    hand.key("f11")
    with heard(hand) as said:
        hand.frames(1)
    assert "can't be shown" in [text for text, *_ in said]
