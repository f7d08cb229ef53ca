"""Every kind of fault of an operator is one sentence on its tile, and every other tile stays as it is."""

import re

import numpy as np
import pytest

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
