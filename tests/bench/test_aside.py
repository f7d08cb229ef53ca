"""Opening aside: the interface goes on, says what is being read, and takes it up when it is there."""

import threading
import time

import pytest

from viewer.bench import feed as module
from viewer.bench.panels.status import _master_words


def wait_for(hand, condition, seconds=120.0):
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "it did not happen"
        time.sleep(0.005)
        hand.frames(1)


@pytest.fixture
def gate(hand, monkeypatch):
    """Let reading wait until the test opens the gate."""
    gate, read = threading.Event(), module.open_master

    def slow(*given, **said):
        assert gate.wait(200.0)
        return read(*given, **said)

    monkeypatch.setattr(module, "open_master", slow)
    hand.bench.reads_aside = True
    yield gate
    gate.set()


def test_the_bench_goes_on_while_a_file_is_read_and_says_so(hand, gate, pictures):
    before = hand.bench.state.master
    hand.bench.open(pictures / "master.dpx")
    hand.frames()
    assert _master_words(hand.bench) == ["reading master.dpx"]
    assert hand.bench.state.master is before
    hand.drag("track input.exposure", (0.5, 0.5), (0.4, 0.5))
    assert hand.bench.state.slot(1).rendition.input.exposure < -0.5
    gate.set()
    wait_for(hand, lambda: hand.bench.opening is None)
    assert hand.bench.state.master is not before
    hand.click("pixels")
    hand.settle()
    hand.assert_tile_is_exact(1)


def test_a_bad_file_read_aside_is_one_sentence(hand, gate, pictures):
    before = hand.bench.state.master
    gate.set()
    hand.bench.open(pictures / "damaged.dpx")
    wait_for(hand, lambda: hand.bench.opening is None)
    assert hand.bench.notice.text.endswith("the file is damaged or cut short; copy or export it again")
    assert hand.bench.state.master is before


def test_of_two_files_the_later_is_shown(hand, gate, pictures):
    hand.bench.open(pictures / "damaged.dpx")
    hand.bench.open(pictures / "unknown.tif")
    gate.set()
    wait_for(hand, lambda: hand.bench.opening is None)
    assert hand.bench.state.master.path.name == "unknown.tif"
    time.sleep(0.1)
    hand.frames()
    assert hand.bench.notice is None or "damaged" not in hand.bench.notice.text
