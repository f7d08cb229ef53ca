"""MaxCLL and MaxFALL of a programme; parts, in any order, give the figures of one pass."""

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tonemap.errors import TrimbenchError
from tonemap.measure.active_area import Rectangle
from tonemap.measure.frame import tally_frame
from tonemap.measure.programme import ProgrammeLevels, whole_nits
from tonemap.picture import light_picture


def tally(light, frame, area=None):
    return tally_frame(light_picture(np.asarray(light, np.float64)), area, frame, workers=1)


def measured(*tallies):
    programme = ProgrammeLevels()
    for item in tallies:
        programme.add(item)
    return programme


def frames():
    """Four letterboxed frames of 4 x 4: levels, a hot pixel in frame 11, and the fullest frame 12."""
    pictures = []
    for number, level in enumerate((100.0, 50.0, 200.5, 10.0), 10):
        light = np.zeros((4, 4, 3))
        light[1:3] = level
        if number == 11:
            light[2, 3] = (0.0, 0.0, 1500.25)
        pictures.append(tally(light, number, Rectangle(1, 0, 2, 4)))
    return pictures


def test_max_cll_and_max_fall_are_the_largest_of_all_frames():
    """CTA-861.3, Annex A. Frame 11: (7 x 50 + 1500.25) / 8 = 231.28125, above the 200.5 of frame 12."""
    figures = measured(*frames()).figures
    assert figures.frames == 4
    assert (figures.max_cll, figures.max_cll_nits) == (1501, 1500.25)
    assert (figures.max_cll_frame, figures.max_cll_row, figures.max_cll_column) == (11, 2, 3)
    assert (figures.max_fall, figures.max_fall_frame) == (232, 11)
    assert figures.max_fall_nits == pytest.approx(231.28125, rel=1e-15)
    assert (figures.max_fall_full, figures.max_fall_full_nits) == (116, pytest.approx(231.28125 / 2, rel=1e-15))


def test_max_fall_is_of_the_active_area_where_the_whole_frame_would_choose_another():
    """Frame 0: 300 cd/m2 on a third of the rows, 100 over the frame; frame 1: 200 cd/m2 everywhere."""
    narrow = np.zeros((3, 4, 3))
    narrow[1] = 300.0
    programme = measured(tally(narrow, 0, Rectangle(1, 0, 1, 4)), tally(np.full((3, 4, 3), 200.0), 1))
    figures = programme.figures
    assert (figures.max_fall, figures.max_fall_frame, figures.max_fall_full) == (300, 0, 200)


def test_a_hot_pixel_moves_max_cll_and_no_low_percentile():
    peaks = {item.percent: item for item in measured(*frames()).figures.percentile_peaks}
    assert (peaks[99.99].nits, peaks[99.99].frame) == (1500.25, 11)  # of 8 pixels, one is more than 0.01 %
    assert peaks[50.0].frame == 12
    assert peaks[50.0].nits == 200.5
    assert peaks[50.0].stops == pytest.approx(np.log2(200.5 / 203.0))


def test_programme_averages_are_those_of_all_pixels():
    """Not MaxFALL: (100 + 231.28125 + 200.5 + 10) / 4; over whole frames, half of it."""
    figures = measured(*frames()).figures
    assert figures.active.average == pytest.approx(541.78125 / 4, rel=1e-15)
    assert figures.full.average == pytest.approx(541.78125 / 8, rel=1e-15)
    assert figures.active.pixels == 32
    assert figures.full.pixels == 64
    assert (figures.active.minimum, figures.full.minimum) == (10.0, 0.0)
    assert (figures.full.row, figures.full.column) == (2, 3)


def test_light_in_the_bars_counts_for_the_whole_frame_only():
    light = np.full((4, 4, 3), 10.0)
    light[0, 1] = 5000.0
    figures = measured(tally(light, 0, Rectangle(1, 0, 3, 4))).figures
    assert figures.max_cll == 10
    assert (figures.full.maximum, figures.full.row, figures.full.column) == (5000.0, 0, 1)


def test_equal_maxima_go_to_the_first_frame():
    light = np.full((2, 2, 3), 10.0)
    for order in ((3, 1, 2), (1, 2, 3)):
        figures = measured(*(tally(light, frame) for frame in order)).figures
        assert (figures.max_cll_frame, figures.max_fall_frame, figures.percentile_peaks[0].frame) == (1, 1, 1)


@pytest.mark.parametrize(
    ("nits", "whole"),
    [(0.0, 0), (0.2, 1), (1000.0, 1000), (1000.0005, 1000), (1000.01, 1001), (999.9999, 1000), (10000.0, 10000)],
)
def test_levels_are_rounded_up_but_not_for_the_last_bits_of_float32(nits, whole):
    assert whole_nits(nits) == whole
    assert whole_nits(float(np.float32(1000.0) * np.float32(1.0000001))) == 1000


LIGHT = st.lists(st.lists(st.floats(0.0, 10000.0, width=32), min_size=12, max_size=12), min_size=1, max_size=7)


@settings(max_examples=30)
@given(LIGHT, st.randoms(use_true_random=False))
def test_parts_in_any_order_are_one_pass_to_the_last_bit(values, random):
    tallies = [
        tally(np.array(light).reshape(2, 2, 3), frame, Rectangle(0, 0, 1 + frame % 2, 2))
        for frame, light in enumerate(values)
    ]
    once = measured(*tallies)
    shuffled = list(tallies)
    random.shuffle(shuffled)
    parts = [measured(*shuffled[start : start + 2]) for start in range(0, len(shuffled), 2)]
    random.shuffle(parts)
    merged = ProgrammeLevels()
    for part in parts:
        merged.merge(ProgrammeLevels.from_dict(json.loads(json.dumps(part.to_dict()))))
    assert merged.figures == once.figures
    assert merged.history == once.history


def test_a_programme_that_was_stopped_goes_on_from_its_file():
    tallies = frames()
    first = measured(*tallies[:2])
    resumed = ProgrammeLevels.from_dict(json.loads(json.dumps(first.to_dict())))
    assert resumed.frames == 2
    for item in tallies[2:]:
        resumed.add(item)
    assert resumed.figures == measured(*tallies).figures
    assert json.loads(json.dumps(resumed.to_dict())) == json.loads(json.dumps(measured(*tallies).to_dict()))
    assert json.loads(json.dumps(resumed.figures.to_dict()))["max_cll"] == 1501


def test_saving_before_the_first_frame_is_a_beginning():
    resumed = ProgrammeLevels.from_dict(json.loads(json.dumps(ProgrammeLevels().to_dict(), allow_nan=False)))
    resumed.add(frames()[0])
    assert resumed.figures == measured(frames()[0]).figures


def test_history_has_a_row_a_frame_in_order():
    rows = measured(*reversed(frames())).history
    assert [row.frame for row in rows] == [10, 11, 12, 13]
    assert [row.average for row in rows] == pytest.approx([100.0, 231.28125, 200.5, 10.0])
    assert rows[1].percentiles == pytest.approx((50.0, 1500.25, 1500.25, 1500.25, 1500.25), rel=2.5e-4)


def test_memory_does_not_grow_with_the_frames():
    """Beyond a history row of 16 numbers a frame."""
    programme = measured(*frames())
    before = len(json.dumps(programme.to_dict()))
    for frame in range(100, 140):
        programme.add(tally(np.full((4, 4, 3), 77.7), frame))
    assert len(json.dumps(programme.to_dict())) - before < 40 * 16 * 22


def test_a_frame_is_measured_once():
    programme = measured(*frames())
    for again in (lambda: programme.add(frames()[1]), lambda: programme.merge(measured(frames()[1]))):
        with pytest.raises(TrimbenchError) as error:
            again()
        assert str(error.value) == "frame 11 was measured before; measure each frame once"
    assert programme.figures == measured(*frames()).figures


def test_no_frames_have_no_figures():
    with pytest.raises(TrimbenchError) as error:
        _ = ProgrammeLevels().figures
    assert str(error.value) == "no frame was measured, so there are no figures; check that the master has frames"


def test_figures_of_another_version_are_refused():
    with pytest.raises(TrimbenchError) as error:
        ProgrammeLevels.from_dict({**measured(*frames()).to_dict(), "format": 2})
    assert str(error.value) == ("the saved figures have format 2, and this version reads 1; measure from the beginning")
