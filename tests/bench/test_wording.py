"""What the tiles say: anchors, the master's window, readings; one wording for tiles side by side."""

import re
from dataclasses import replace

import numpy as np
import pytest

from tonemap.encoding import Encoding
from tonemap.measure.patch_roll_off import RollOff
from tonemap.measure.patches import PatchFigures
from tonemap.picture import Picture
from tonemap.rendition import Rendition
from viewer.bench.marked import RenditionOfPatch
from viewer.bench.probe import MasterReading, RenditionReading
from viewer.bench.showing import Showing
from viewer.bench.state import BenchState, Slot
from viewer.bench.wording import (
    all_anchors,
    anchor_words,
    common_wording,
    master_readings,
    patch_words,
    rendition_readings,
    window_words,
)
from viewer.bench.workings import Workings

READING = RenditionReading((0.5, 0.25, 1.0), (502, 283, 940), (50.0, 40.0, 30.0), 41.2, 120.2, 3.26)


@pytest.fixture
def working(host):
    return Workings(host).of(
        Slot(1, Rendition("A", "bt2446_a")), Picture(np.zeros((2, 2, 3)), Encoding("pq", peak=1000.0))
    )


def test_every_tile_states_where_grey_white_and_peak_land(working):
    grey, white, peak = working.anchors
    assert anchor_words(working)[0] == (
        f"18 % grey {grey.nits:.3g} cd/m\u00b2, {100 * grey.signal:.1f} %     "
        f"white {white.nits:.3g} cd/m\u00b2, {100 * white.signal:.1f} %     "
        f"peak {peak.nits:.3g} cd/m\u00b2, {100 * peak.signal:.1f} %"
    )
    assert all_anchors(working).splitlines()[0].startswith("18 % grey: 26 to 7.2")


def test_anchors_are_named_in_words_and_in_one_unit_however_little_room_there_is(working):
    for text in anchor_words(working):
        parts = re.split(r" {2,}|, ", text)
        assert parts[0].startswith(("18 % grey ", "grey "))
        assert all(re.fullmatch(r"(18 % )?(grey|white|peak) [\d.]+( cd/m\u00b2)?|[\d.]+ %", part) for part in parts), (
            text
        )


def test_wordings_get_shorter(working):
    readings = rendition_readings(READING)
    samples = master_readings(MasterReading((512.0, 400.0, 300.0), True, (92.0, 30.5, 0.01), 50.0, 34.4))
    for wordings in (anchor_words(working), readings, samples):
        lengths = [len(text) for text in wordings]
        assert lengths == sorted(lengths, reverse=True)
    assert readings[0] == (
        "codes 502 283 940     signal 50.0 25.0 100.0 %     Y 41.20 cd/m\u00b2     "
        "hue 120\u00b0     \u0394E 3.3 to master"
    )
    assert samples[0] == "R 92.00  G 30.50  B 0.0100   Y 50.00 cd/m\u00b2     codes 512 400 300     hue 34\u00b0"


def test_a_reading_says_how_far_it_is_from_the_chosen_one_and_what_can_not_be_compared():
    other = replace(READING, light=(101.0, 101.0, 101.0), difference=None, hue=None)
    here = replace(READING, light=(100.0, 100.0, 100.0))
    # BT.2124, Annex 1, by our sheet of constants: 100 to 101 cd/m2 of grey are 0.72
    assert rendition_readings(here, other)[0].endswith("\u0394E 3.3 to master, 0.7 to chosen")
    assert rendition_readings(other)[0].endswith("no hue     master above SDR")


def test_samples_that_are_the_light_are_said_once_and_others_beside_it():
    light = (92.0, 30.5, 0.01)
    linear = master_readings(MasterReading(tuple(map(float, np.float32(light))), False, light, 50.0, 34.4))
    assert linear[0] == "R 92.00  G 30.50  B 0.0100   Y 50.00 cd/m\u00b2     hue 34\u00b0"
    assert not [words for words in linear if "values" in words or words.count("30.5") > 1]
    assert sorted(linear, key=len, reverse=True) == list(linear)
    for samples in ((0.92, 0.305, 0.0001), (92.0, 30.5, -0.01)):  # of a unit of 100 cd/m2; outside BT.2020
        (*_, blue) = samples
        assert (
            f"values {samples[0]:.4g} {samples[1]:.4g} {blue:.4g}"
            in master_readings(MasterReading(samples, False, light, 50.0, 34.4))[0]
        )
    codes = master_readings(MasterReading((92.0, 30.0, 1.0), True, (92.0, 30.0, 1.0), 50.0, 34.4))
    assert "codes 92 30 1" in codes[0]


def test_tiles_side_by_side_take_the_first_wording_that_fits_them_all():
    texts = [["long long", "middle", "s"], ["short", "m", "s"]]
    assert common_wording(texts, lambda text: len(text) <= 9) == 0
    assert common_wording(texts, lambda text: len(text) <= 6) == 1
    assert common_wording(texts, lambda text: len(text) <= 0) == 2
    assert common_wording([], lambda text: True) == 0


def test_the_masters_tile_says_what_an_sdr_screen_shows_of_it():
    assert window_words(BenchState(window=100.0))[0] == "light up to 100 cd/m\u00b2 as is, clipped above"
    assert window_words(BenchState(window=400.0))[0] == "light up to 400 cd/m\u00b2, shown at 25 %, clipped above"
    assert window_words(BenchState(window=400.0))[-2] == "clipped at 400 cd/m\u00b2"


@pytest.mark.parametrize(("view", "layout", "is_whole"), [
    ("luminance", "wipe", True), ("gamut", "flip", True), ("clipping", "side by side", True),
    ("monitor", "wipe", False), ("luminance", "difference", False),
])  # fmt: skip
def test_colours_that_tell_of_all_the_masters_light_say_nothing_of_a_clip(view, layout, is_whole):
    words = window_words(BenchState(showing=Showing(layout, view=view)))[0]
    assert words == (f"its {view} in colours, at every level" if is_whole else window_words(BenchState())[0])


def test_a_curve_rises_to_the_peak(working):
    assert (np.diff(working.curve.result) >= 0.0).all()
    assert working.curve.result[-1] == pytest.approx(100.0, rel=1e-6)


def test_a_flat_patch_has_no_contrast_below_zero():
    figures = PatchFigures(9, {"p50": 100.0}, {"p50": 100.0}, None, 0.0, 0.0, 0.0, 1.0)
    for words in patch_words(RenditionOfPatch(figures, RollOff(-1e-9, -1e-9, None, None, 0.0)))[:4]:
        assert "contrast 0.00" in words
        assert "-0.00" not in words
