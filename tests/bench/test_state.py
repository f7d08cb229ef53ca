"""The actions on the bench's state: plain Python, each returns a new state."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tonemap.anchors import anchors_of
from tonemap.encoding import Encoding
from tonemap.errors import WrongCall
from tonemap.media.master import STILL, Facts, Frame
from tonemap.operator import Parameter
from tonemap.picture import Picture
from tonemap.rendition import Rendition, chain_of
from tonemap.starters import starter_renditions
from viewer.bench import state as actions
from viewer.bench.layout import WHOLE, View
from viewer.bench.scales import share_of, shown_value, value_at
from viewer.bench.state import BenchState, Master


@pytest.fixture
def state() -> BenchState:
    return actions.with_renditions(BenchState(), starter_renditions())


def master(peak: float = 1000.0) -> Master:
    picture = Picture(np.zeros((4, 6, 3), np.float32), Encoding("linear", peak=peak))
    encoding = picture.encoding
    facts = Facts(Path("m.exr"), STILL, "EXR", encoding, encoding, "floating point", {}, (), 4, 6, 1)
    return Master(facts, Frame(0, "m.exr", encoding, picture))


def names(state: BenchState) -> list[str]:
    return [slot.rendition.name for slot in state.slots]


def test_starters_work_on_any_usual_master(host):
    assert len({rendition.name for rendition in starter_renditions()}) == len(starter_renditions())
    for rendition in starter_renditions():
        for peak in (600.0, 1000.0, 4000.0, 10000.0):
            grey, white, top = anchors_of(chain_of(rendition, Encoding("pq", peak=peak), host))
            assert 0.0 < grey.nits < white.nits <= top.nits <= 100.0 * (1 + 1e-6)


def test_added_and_duplicated_renditions_get_names_and_keys_of_their_own(state):
    state = actions.duplicate(state, 2)
    state = actions.duplicate(state, state.selected)
    state = actions.add(state, Rendition("BT.2446 A", "knee"))
    assert names(state) == [
        "BT.2390", "BT.2446 A", "BT.2446 A 2", "BT.2446 A 3", "BT.2446 C", "Log roll-off", "BT.2446 A 4",
    ]  # fmt: skip
    assert len({slot.key for slot in state.slots}) == len(state.slots)
    assert state.selected_slot.rendition.name == "BT.2446 A 4"


@given(st.lists(st.sampled_from(["add", "duplicate", "remove", "step", "back"]), max_size=30))
def test_something_is_selected_whenever_there_is_something(steps):
    state = actions.with_renditions(BenchState(), starter_renditions()[:2])
    for step in steps:
        before = state
        if step == "add":
            state = actions.add(state, Rendition("R", "knee"))
        elif step in ("duplicate", "remove") and state.selected is not None:
            state = getattr(actions, step)(state, state.selected)
        elif step in ("step", "back"):
            state = actions.select_step(state, 1 if step == "step" else -1)
        if step == "remove" and before.slots:
            restored = actions.put_back(state, before)
            assert restored.slots == before.slots
        assert (state.selected_slot is not None) == bool(state.slots)
        assert len(set(names(state))) == len(state.slots)


def test_a_removed_rendition_comes_back_where_it_was_beside_what_came_since(state):
    before = state
    state = actions.remove(state, 2)
    state = actions.add(state, Rendition("New", "knee"))
    state = actions.rename(state, 3, "C")
    state = actions.put_back(state, before)
    assert names(state) == ["BT.2390", "BT.2446 A", "C", "Log roll-off", "New"]
    assert state.selected == 2


def test_names_are_neither_empty_nor_taken(state):
    with pytest.raises(WrongCall, match=r"^a rendition needs a name; type one$"):
        actions.rename(state, 1, "  ")
    with pytest.raises(WrongCall, match=r"^another rendition is called 'BT.2446 A'; choose another name$"):
        actions.rename(state, 1, "BT.2446 A")
    assert names(actions.rename(state, 1, " Day "))[0] == "Day"


def test_a_wrong_setting_is_refused_and_the_state_stays(state, host):
    with pytest.raises(WrongCall, match=r"^input\.exposure = 99 is outside"):
        actions.set_setting(state, 1, "input.exposure", 99, host)
    changed = actions.set_setting(state, 4, "tone.start", "35", host)
    assert changed.slot(4).rendition.tone_settings == {"start": 35.0}
    assert state.slot(4).rendition.tone_settings == {}
    assert actions.reset_setting(changed, 4, "tone.start", host).slot(4).rendition.tone_settings == {"start": 20.0}


def test_another_operator_keeps_the_settings_that_both_have(state, host):
    for path, value in (("tone.start", 35.0), ("tone.application", "per_channel")):
        state = actions.set_setting(state, 4, path, value, host)
    state = actions.choose_operator(state, 4, "tone", "knee", host)
    assert state.slot(4).rendition.tone_settings == {"start": 35.0, "application": "per_channel"}
    state = actions.choose_operator(state, 4, "tone", "bt2390", host)
    assert state.slot(4).rendition.tone_settings == {"application": "per_channel"}


def test_match_grey_lands_where_the_other_lands_or_says_that_it_cannot(state, host):
    state = actions.with_master(state, master())
    matched = actions.match_grey(state, 1, 2, host)
    encoding = state.master.picture.encoding
    grey, other = (anchors_of(chain_of(matched.slot(key).rendition, encoding, host))[0].nits for key in (1, 2))
    assert grey == pytest.approx(other, rel=1e-3)
    far = actions.set_setting(state, 2, "input.exposure", -8, host)
    near = actions.set_setting(far, 1, "output.offset", 0.5, host)
    with pytest.raises(WrongCall, match="can't put its grey at"):
        actions.match_grey(near, 1, 2, host)


def test_a_new_master_keeps_the_renditions_and_shows_the_whole_picture(state):
    state = actions.with_view(replace(state, window=700.0), View(3.0, (1.0, 1.0)))
    opened = actions.with_master(state, master(600.0))
    assert opened.slots == state.slots
    assert opened.view is WHOLE
    assert opened.window == 100.0
    assert actions.with_window(opened, 5000.0).window == 600.0
    assert actions.with_window(opened, 1.0).window == 100.0


@given(share=st.floats(0.0, 1.0), scale=st.sampled_from(["linear", "log"]), low=st.sampled_from([0.02, 1.0, 5.0, 48.0]))
def test_tracks_and_fields_agree(share, scale, low):
    parameter = Parameter(name="x", unit="", default=low, minimum=low, maximum=10.0 * low, help="", scale=scale)
    value = value_at(parameter, share)
    assert parameter.checked(value) == value
    assert share_of(parameter, value) == pytest.approx(share, abs=0.006)
    assert float(shown_value(parameter, value)) == pytest.approx(value, rel=1e-3)


@given(low=st.sampled_from([0.0, -1.0, 0.3]), width=st.floats(1e-6, 1e6))
def test_a_hand_finds_a_hundred_values_on_every_track(low, width):
    parameter = Parameter(name="x", unit="", default=low, minimum=low, maximum=low + width, help="")
    values = [value_at(parameter, share) for share in np.linspace(0.0, 1.0, 101)]
    assert len(set(values)) >= 101
    assert len({shown_value(parameter, value) for value in values}) >= 101


def test_stops_are_shown_with_their_sign():
    parameter = Parameter(name="x", unit="stops", default=0.0, minimum=-8.0, maximum=8.0, help="", scale="stops")
    assert [shown_value(parameter, value) for value in (-1.5, -0.0001, 0.0, 0.5)] == ["-1.50", "0.00", "0.00", "+0.50"]
