"""Saving either file of an operator puts it on screen, with its values kept; a fault costs only its tile."""

import re
import shutil
import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from tonemap.host import find_operators
from tonemap.rendition import Rendition
from viewer.bench import state as actions
from viewer.bench import watching
from viewer.bench.watching import FolderWatch

PYTHON = '''
from tonemap.operator import Operator, Parameter


class Dim(Operator):
    """One gain."""

    interface_version = 1
    name = "dim"
    title = "Dim"
    kind = "tone"
    source = "a test"
    parameters = (Parameter(name="share", unit="", default=0.5, minimum=0.0, maximum=1.0, help="Share."),)

    def apply(self, light, p):
        return light * p.share
'''
BUSY = """
import time


def busy(seconds):
    end = time.thread_time() + seconds
    while time.thread_time() < end:
        pass


"""
GLSL = """
#include "lib/levels.glsl"

float doubled(float share) { return share * 1.0; }

vec3 dim(vec3 light, Levels levels, float share)
{
    return light * doubled(share);
}
"""
SOON = 0.5
"""Seconds from a save to the pixels: our own bar, for a machine at rest. The processor is given three of them here."""

PATIENCE = 200.0


@pytest.fixture
def dim(hand, tmp_path):
    """Put an operator from a watched folder on the bench, and return its key, its files, and a way to wait."""
    (tmp_path / "dim.py").write_text(PYTHON)
    (tmp_path / "dim.glsl").write_text(GLSL)
    bench = hand.bench
    bench.host = bench.workings.host = find_operators([tmp_path])
    bench.do(actions.add, Rendition("Mine", "dim", tone_settings={"share": 0.25}))
    key = bench.state.selected
    hand.frames(3)
    calls: list[float] = []
    hand.app.watch = FolderWatch([tmp_path], lambda: calls.append(time.monotonic()))
    yield key, tmp_path
    assert calls, "the thread never called"


@pytest.fixture
def called(hand, dim, monkeypatch):
    """Return an event that is set when the thread calls."""
    event, call = threading.Event(), hand.app.watch._called
    monkeypatch.setattr(hand.app.watch, "_called", lambda: (call(), event.set()))
    return event


def until(hand, is_there: Callable[[], bool]) -> None:
    """Draw frames until something is there."""
    end = time.monotonic() + PATIENCE
    while True:
        hand.frames(1)
        if is_there():
            return
        assert time.monotonic() < end, "it never came"
        time.sleep(0.005)


def mean(hand, key: int) -> float:
    return float(hand.tile(key).mean())


def test_a_save_is_on_screen_soon_and_the_values_stay(hand, dim, called, record_property):
    """By the processor's time from the call to the pixels, and what the watch waits before it calls, at most."""
    key, folder = dim
    times = []
    for gain in ("2.0", "0.5", "3.0"):
        before = hand.tile(key).copy()
        called.clear()
        (folder / "dim.glsl").write_text(GLSL.replace("share * 1.0", f"share * {gain}"))
        assert called.wait(PATIENCE)
        start = time.process_time()
        until(hand, lambda before=before: not np.array_equal(before, hand.tile(key)))
        times.append(time.process_time() - start + 10 * watching.SETTLING / 1000.0)
    assert hand.bench.state.slot(key).rendition.tone_settings == {"share": 0.25}
    assert hand.bench.notice is None
    record_property("seconds from save to pixels", times)
    print("seconds from save to pixels", times)
    assert float(np.median(times)) < 3.0 * SOON
    programs = hand.app.tiles.programs.count()
    (folder / "dim.glsl").write_text(GLSL)
    until(hand, lambda: not np.array_equal(before, hand.tile(key)))
    assert hand.app.tiles.programs.count() == programs, "the programs of earlier saves are kept"


def test_an_edit_of_the_python_file_is_taken_up_too(hand, dim):
    key, folder = dim
    (folder / "dim.py").write_text(PYTHON.replace("light * p.share", "light * p.share * 0.5"))
    before = hand.bench.working(hand.bench.state.slot(key)).anchors[0].nits
    slot = hand.bench.state.slot(key)
    until(hand, lambda: hand.bench.working(slot).anchors[0].nits < 0.75 * before)


def test_a_typing_error_is_on_the_tile_and_mending_brings_the_picture_back(hand, dim):
    key, folder = dim
    others, mine = hand.tile(1).copy(), hand.tile(key).copy()
    slot = hand.bench.state.slot(key)
    (folder / "dim.glsl").write_text(GLSL.replace("light * doubled(share)", "lihgt * doubled(share)"))
    until(hand, lambda: hand.bench.fault(slot) is not None)
    hand.frames()
    assert re.fullmatch(rf"{folder}/dim\.glsl:8:\d+: error: .*`lihgt'.*", hand.bench.fault(slot))
    assert f"fault {key}" in hand.app.ui.places
    assert np.array_equal(hand.tile(1), others)
    (folder / "dim.glsl").write_text(GLSL)
    until(hand, lambda: hand.bench.fault(slot) is None)
    hand.frames(3)
    assert np.array_equal(hand.tile(key), mine)
    assert hand.bench.state.slot(key).rendition.tone_settings == {"share": 0.25}


def test_a_fault_in_python_is_on_the_tile_and_mending_brings_the_picture_back(hand, dim):
    key, folder = dim
    slot = hand.bench.state.slot(key)
    (folder / "dim.py").write_text(PYTHON.replace("light * p.share", "light * p.share)"))
    until(hand, lambda: hand.bench.fault(slot) is not None)
    assert hand.bench.fault(slot) == (
        f"operator 'dim' in {folder / 'dim.py'} is refused: SyntaxError: unmatched ')' ({folder / 'dim.py'}:16:31)"
    )
    (folder / "dim.py").write_text(PYTHON)
    until(hand, lambda: hand.bench.fault(slot) is None)
    assert hand.bench.state.slot(key).rendition.tone_settings == {"share": 0.25}


def test_a_value_that_is_no_longer_allowed_goes_and_is_said(hand, dim):
    key, folder = dim
    (folder / "dim.py").write_text(PYTHON.replace("default=0.5, minimum=0.0", "default=0.9, minimum=0.8"))
    until(hand, lambda: hand.bench.notice is not None)
    assert hand.bench.notice.text == ("'Mine': share = 0.25 is outside 0.8..1, so its default, 0.9, is in its place")
    assert hand.bench.state.slot(key).rendition.tone_settings == {}


def test_a_value_of_a_parameter_that_is_gone_goes_and_is_said(hand, dim):
    key, folder = dim
    (folder / "dim.py").write_text(PYTHON.replace("share", "portion"))
    until(hand, lambda: hand.bench.notice is not None)
    assert hand.bench.notice.text == "'Mine': operator 'dim' has no parameter 'share' any more, and its value is gone"
    assert hand.bench.state.slot(key).rendition.tone_settings == {}


def test_an_operator_that_is_slow_is_said_in_the_strip_once(hand, dim):
    """Above 0.1 s a change, and above 1 s to read: the bars of `workings.SLOW` and `host.SLOW_READING`."""
    _, folder = dim
    assert hand.bench.notice is None
    slow = PYTHON.replace("return light *", "busy(0.15)\n        return light *")
    (folder / "dim.py").write_text(BUSY + slow)
    until(hand, lambda: hand.bench.notice is not None)
    assert re.fullmatch(
        r"operator 'dim': every change waits 0\.\d+ s for Python that computes 192 pixels; more than 0\.1 s is too "
        rf"slow for a slider \({folder}/dim\.py\)",
        hand.bench.notice.text,
    )
    hand.frames(1)
    assert "dismiss" in hand.app.ui.places
    hand.bench.notice = None
    hand.bench.set("tone.share", 0.3)
    hand.frames()
    assert hand.bench.notice is None, "the same operator is named again at every move"
    (folder / "dim.py").write_text(BUSY + "busy(1.1)\n" + PYTHON)
    until(hand, lambda: hand.bench.notice is not None)
    assert re.search(rf"'dim' in {folder}/dim\.py took 1\.\d s to read; import less$", hand.bench.notice.text)


def test_a_file_that_an_operator_includes_is_taken_up(hand, dim):
    key, folder = dim
    (folder / "common.glsl").write_text("float halved(float x) { return 0.5 * x; }\n")
    before = hand.tile(key).copy()
    (folder / "dim.glsl").write_text(
        GLSL.replace('levels.glsl"', 'levels.glsl"\n#include "common.glsl"').replace("share * 1.0", "halved(share)")
    )
    until(hand, lambda: not np.array_equal(before, hand.tile(key)))
    before = hand.tile(key).copy()
    (folder / "common.glsl").write_text("float halved(float x) { return 0.1 * x; }\n")
    until(hand, lambda: not np.array_equal(before, hand.tile(key)))


def test_a_new_file_is_in_the_list(hand, dim):
    _, folder = dim
    (folder / "dim_more.glsl").write_text(GLSL.replace("vec3 dim(", "vec3 dim_more("))
    (folder / "dim_more.py").write_text(PYTHON.replace('"dim"', '"dim_more"'))
    until(hand, lambda: "dim_more" in hand.bench.host.names)
    assert isinstance(folder, Path)


def test_a_folder_that_is_made_anew_is_watched_again(hand, dim):
    """As a copy or another branch of its history does it: the folder is taken away and made again under its name."""
    key, folder = dim
    slot, before = hand.bench.state.slot(key), hand.tile(key).copy()
    shutil.rmtree(folder)
    until(hand, lambda: hand.bench.fault(slot) is not None)
    assert hand.bench.fault(slot).startswith("tone operator 'dim' is not known")
    folder.mkdir()
    (folder / "dim.py").write_text(PYTHON)
    (folder / "dim.glsl").write_text(GLSL)
    until(hand, lambda: hand.bench.fault(slot) is None)
    hand.frames(3)
    assert np.array_equal(hand.tile(key), before)
    (folder / "dim.glsl").write_text(GLSL.replace("share * 1.0", "share * 2.0"))
    until(hand, lambda: not np.array_equal(before, hand.tile(key)))
    assert hand.bench.state.slot(key).rendition.tone_settings == {"share": 0.25}


@pytest.mark.parametrize("name", ["site-packages", ".venv", "__pycache__"])
def test_a_save_is_noticed_whatever_the_folder_is_called(tmp_path, name):
    folder = tmp_path / name
    folder.mkdir()
    called = threading.Event()
    watch = FolderWatch([folder], called.set)
    (folder / "dim.py").write_text(PYTHON)  # the thread may not have begun to look
    assert called.wait(PATIENCE)
    assert watch.changed() == {folder / "dim.py"}
    watch.close()
