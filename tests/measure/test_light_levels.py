"""Light levels of a frame, on pictures whose answer is arithmetic."""

import json
import math

import numpy as np
import pytest

from tonemap.encoding import Encoding, decode
from tonemap.errors import WrongCall
from tonemap.measure.active_area import Rectangle
from tonemap.measure.frame import measure_frame, tally_frame
from tonemap.measure.light_cells import CELLS, cell_centres, cell_edges, cells_of, counted, dense, percentiles, sparse
from tonemap.measure.light_levels import FrameTally, measure_light, stops
from tonemap.measure.light_of_rows import converted_planes, light_of_rows
from tonemap.measure.master_figures import area_of
from tonemap.media.master import Frame
from tonemap.picture import Picture, light_picture
from tonemap.signal_range import BIT_DEPTHS

PQ10 = Encoding("pq", "bt2020", "narrow", 10)


@pytest.fixture
def toy():
    """Two active rows between two black ones; all figures below are arithmetic on these numbers."""
    light = np.zeros((4, 4, 3))
    light[1:3] = (100.0, 50.0, 20.0)
    light[1, 1] = (1000.0, 200.0, 50.0)
    light[2, 2] = (10.0, 20.0, 400.2)
    return light


def test_toy_frame_has_the_levels_that_cta_861_3_defines(toy):
    """Annex A: max(R, G, B), averaged over the active area: (6 x 100 + 1000 + 400.2) / 8; over the frame, / 16."""
    levels = measure_light(toy, Rectangle(1, 0, 2, 4), frame=12)
    assert levels.frame == 12
    assert (levels.active.maximum, levels.active.row, levels.active.column) == (1000.0, 1, 1)
    assert levels.active.average == pytest.approx(250.025, rel=1e-15)
    assert levels.full.average == pytest.approx(125.0125, rel=1e-15)
    assert (levels.active.minimum, levels.full.minimum) == (100.0, 0.0)
    assert (levels.active.pixels, levels.full.pixels) == (8, 16)


def test_luminance_of_the_toy_frame_is_not_its_content_light(toy):
    """Y = 0.2627 x 1000 + 0.6780 x 200 + 0.0593 x 50 by exact colorimetry: far below MaxCLL."""
    active = measure_light(toy, Rectangle(1, 0, 2, 4)).active
    assert active.luminance_maximum == pytest.approx(401.265, abs=5e-4)
    assert active.luminance_minimum == pytest.approx(39.9195, abs=5e-4)  # the blue pixel, whose maximum is 400.2


def test_shares_count_what_is_strictly_above(toy):
    levels = measure_light(toy, Rectangle(1, 0, 2, 4))
    assert {item.nits: item.share for item in levels.active.above} == {
        100.0: 0.25,
        203.0: 0.25,
        600.0: 0.125,
        1000.0: 0,
    }
    assert {item.nits: item.share for item in levels.full.above} == {
        100.0: 0.125,
        203.0: 0.125,
        600.0: 0.0625,
        1000.0: 0,
    }
    just_above = np.full((1, 1, 3), np.nextafter(203.0, 204.0))
    assert [item.share for item in measure_light(just_above).active.above] == [1.0, 1.0, 0.0, 0.0]


def test_bt2408_chart_has_its_levels_and_stops():
    """Report BT.2408, Table 1: 18 %, 83 %, 90 % and 100 % reflectance at 26, 162, 179 and 203 cd/m2."""
    chart = np.repeat(np.array([26.0, 162.0, 179.0, 203.0])[:, np.newaxis, np.newaxis], 3, axis=2).repeat(250, axis=1)
    active = measure_light(chart).active
    assert (active.maximum, active.minimum, active.average) == (203.0, 26.0, 142.5)
    assert active.luminance_average == pytest.approx(142.5, rel=1e-12)
    by_percent = {item.percent: item for item in active.percentiles}
    assert by_percent[95.0].nits == 203.0
    assert by_percent[95.0].stops == 0.0
    assert by_percent[50.0].nits == pytest.approx(162.0, rel=2.5e-4)
    assert by_percent[50.0].stops == pytest.approx(math.log2(162 / 203), abs=4e-4)
    assert stops(26.0) == pytest.approx(-2.965, abs=5e-4)
    # Means of PQ: 37.99 %, 55.7 %, 56.8 % and 58.07 % for these levels (ST 2084, computed)
    assert active.average_picture_level == pytest.approx(np.mean([38.003, 55.727, 56.755, 58.069]), abs=0.005)


def test_black_has_levels_and_no_stops():
    active = measure_light(np.zeros((3, 5, 3))).active
    assert (active.maximum, active.average, active.minimum, active.row, active.column) == (0.0, 0.0, 0.0, 0, 0)
    assert {(item.nits, item.stops) for item in active.percentiles} == {(0.0, None)}
    assert active.average_picture_level == pytest.approx(0.0, abs=1e-4)


def test_one_pixel_is_all_of_its_percentiles():
    active = measure_light(np.full((1, 1, 3), 123.456)).active
    assert {item.nits for item in active.percentiles} == {123.456}
    assert len({item.nits for item in active.luminance_percentiles}) == 1
    assert active.pixels == 1


def test_percentiles_are_those_of_the_sorted_values_to_half_a_cell():
    light = np.random.default_rng(861).lognormal(3.0, 2.0, (311, 97, 3)).clip(0.0, 9000.0)
    active = measure_light(light).active
    largest = light.max(axis=2).ravel()
    for item in active.percentiles:
        exact = np.percentile(largest, item.percent, method="inverted_cdf")
        assert item.nits == pytest.approx(exact, rel=2.5e-4)


def test_a_cell_is_narrower_than_a_fifth_of_a_12_bit_pq_code():
    """The narrowest 12-bit PQ step is 0.25 %; cells are at most 0.049 %, and whole cd/m2 up to 4096 are edges."""
    edges = cell_edges()[1:]
    assert np.max(edges[1:] / edges[:-1] - 1.0) == 1.0 / 2048.0
    whole = np.arange(1.0, 4097.0)
    assert np.isin(whole, edges).all()
    codes = np.arange(256, 3761, dtype=np.uint16)
    twelve = decode(codes[:, np.newaxis].repeat(3, axis=1), Encoding("pq", "bt2020", "narrow", 12))[:, 0]
    assert np.min(twelve[2:] / twelve[1:-1] - 1.0) > 5.0 / 2048.0
    assert np.all(np.diff(cells_of(twelve)[np.searchsorted(twelve, 0.001) :]) > 4)


def test_cells_hold_any_light_and_survive_being_saved():
    light = np.array([-1.0, -0.0, 0.0, 1e-9, 203.0, 65504.0])
    assert cells_of(light).tolist()[:4] == [0, 0, 0, 0]
    assert cells_of(np.array([65504.0, 1e30])).tolist() == [cells_of(light)[-1], CELLS - 1]
    edges = cell_edges()
    assert np.array_equal(cells_of(edges[:-1]), np.arange(CELLS))
    assert np.array_equal(cells_of(cell_centres()), np.arange(CELLS))
    counts = counted(light)
    assert counts.sum() == 6
    assert np.array_equal(dense(json.loads(json.dumps(sparse(counts)))), counts)
    assert percentiles(counts, (0.0, 50.0)) == [0.0, 0.0]


def test_the_place_of_the_maximum_is_the_first_in_reading_order():
    """Bands are counted by several threads, so the frame is taller than one band."""
    light = np.ones((600, 1000, 3), np.float32)
    light[80, 70] = light[80, 500] = light[500, 3] = (0.0, 0.0, 900.0)
    active = tally_frame(light_picture(light)).levels.active
    assert (active.maximum, active.row, active.column) == (900.0, 80, 70)


@pytest.mark.parametrize("workers", [1, 2])
@pytest.mark.parametrize("area", [None, Rectangle(100, 50, 350, 900), Rectangle(599, 999, 1, 1), Rectangle(0, 0, 1, 1)])
def test_bands_and_threads_measure_what_one_array_does(area, workers):
    light = np.random.default_rng(9).lognormal(3.0, 2.0, (600, 1000, 3)).clip(0.0, 65504.0).astype(np.float32)
    whole = measure_light(light, area)
    banded = measure_frame(light_picture(light), area, gamuts=(), workers=workers).tally.levels
    assert banded.area == whole.area
    for one, other in ((banded.active, whole.active), (banded.full, whole.full)):
        assert one.average == pytest.approx(other.average, rel=1e-13)
        assert one.luminance_average == pytest.approx(other.luminance_average, rel=1e-13)
        same = {"average": 0.0, "luminance_average": 0.0}
        assert {**one.to_dict(), **same} == {**other.to_dict(), **same}


def test_sums_are_float64():
    """In float32, 4 million times 0.1 plus 10000 has drifted by far more."""
    light = np.full((2000, 2000, 3), 0.1, np.float32)
    light[0, 0] = 10000.0
    exact = (float(np.float32(0.1)) * (4e6 - 1) + 10000.0) / 4e6
    assert measure_light(light).active.average == pytest.approx(exact, rel=1e-12)


def test_an_area_beyond_the_frame_is_refused():
    with pytest.raises(
        WrongCall, match=r"^active area 4 x 3 at column 0, row 0 is not within the frame of 2 x 2 pixels; "
    ):
        measure_light(np.zeros((2, 2, 3)), Rectangle(0, 0, 3, 4))
    with pytest.raises(
        WrongCall, match=r"^active area 4 x 3 at column 0, row 0 is not within the frame of 2 x 2 pixels; "
    ):
        tally_frame(light_picture(np.zeros((2, 2, 3))), Rectangle(0, 0, 3, 4))


ENCODINGS = [
    Encoding(transfer, primaries, signal_range, bits, peak=peak, black=black)
    for bits in BIT_DEPTHS
    for transfer, primaries, signal_range, peak, black in [
        ("pq", "bt2020", "narrow", 1000.0, 0.0),
        ("pq", "p3-d65", "full", 4000.0, 0.005),
        ("hlg", "bt2020", "narrow", 1000.0, 0.005),
        ("bt1886", "bt709", "narrow", 100.0, 0.05),
        ("srgb", "bt2020", "full", 100.0, 0.0),
        ("gamma2.6", "p3-dci", "full", 48.0, 0.0),
        ("linear", "bt709", "full", 1000.0, 0.0),
    ]
]


@pytest.mark.parametrize("encoding", ENCODINGS, ids=lambda encoding: encoding.title)
def test_tables_decode_every_code_as_decode_does(encoding):
    """Greys of every code, and random colours; the table is float32 of the same values: relative to the brightest."""
    greys = np.arange(2**encoding.bits, dtype=np.uint16)[:, np.newaxis, np.newaxis].repeat(3, axis=2)
    colours = np.random.default_rng(7).integers(0, 2**encoding.bits, (5000, 1, 3)).astype(np.uint16)
    picture = Picture(np.concatenate([greys, colours]), encoding)
    light = light_of_rows(picture, 0, picture.rows)
    expected = decode(picture.samples, encoding)
    assert light.shape == expected.shape
    error = np.abs(light - expected) / np.maximum(expected.max(axis=2, keepdims=True), 1e-9)
    brightest = expected.max(axis=2) > 1e-6
    assert error[brightest].max() <= 1e-6
    assert np.array_equal(light_of_rows(picture, 10, 20), light[10:20])


def test_floating_point_samples_follow_the_rules_of_decode():
    samples = np.array([[[np.nan, np.inf, -1.0], [203.0, 1.0, 0.0]]], np.float32)
    picture = Picture(samples, Encoding("linear", "bt2020"))
    assert np.array_equal(light_of_rows(picture, 0, 1), decode(samples, picture.encoding))
    assert tally_frame(picture).levels.active.maximum == 65504.0


def test_planes_convert_as_pixels_do():
    light = np.random.default_rng(1).random((4, 5, 3))
    matrix = np.random.default_rng(2).random((3, 3))
    np.testing.assert_allclose(converted_planes(light, matrix), light @ matrix.T, rtol=1e-14)
    np.testing.assert_allclose(converted_planes(light[0, 0], matrix), matrix @ light[0, 0], rtol=1e-14)


def test_pq_code_573_is_reference_white_and_hlg_code_721_is_75_percent():
    """BT.2408, Table 1: 58 % PQ and 75 % HLG are 203 cd/m2; exactly 203.7 by code 573, and 203.15 by HLG 0.75."""
    pq = tally_frame(Picture(np.full((2, 2, 3), 573, np.uint16), PQ10)).levels.active
    assert pq.maximum == pytest.approx(203.7, abs=0.05)
    hlg = tally_frame(
        Picture(np.full((2, 2, 3), 721, np.uint16), Encoding("hlg", "bt2020", "narrow", 10))
    ).levels.active
    assert hlg.maximum == pytest.approx(203.15, abs=0.005)


def test_a_frame_of_a_master_shows_its_bars():
    codes = np.full((108, 192, 3), 64, np.uint16)
    codes[14:94] = 500
    picture = Picture(codes, PQ10)
    assert area_of([Frame(0, "frame 0", PQ10, picture)], 108, 192, 0.0) == Rectangle(14, 0, 80, 192)


def test_a_tally_survives_being_saved(toy):
    tally = tally_frame(light_picture(toy), Rectangle(1, 0, 2, 4), 5)
    back = FrameTally.from_dict(json.loads(json.dumps(tally.to_dict())))
    assert back.levels == tally.levels
    assert json.loads(json.dumps(tally.levels.to_dict()))["active"]["maximum"] == 1000.0
