"""Colour outside a gamut: shares and distances against colour-science, hues, tolerances, places."""

import json
import warnings

import numpy as np
import pytest

from tonemap.colorimetry import PRIMARIES, Primaries, conversion_matrix, convert
from tonemap.encoding import Encoding, decode, light_to_signal, quantise_signal
from tonemap.measure.active_area import Rectangle
from tonemap.measure.frame import gamut_tolerance, measure_frame
from tonemap.measure.gamut_programme import GamutProgramme
from tonemap.measure.gamut_share import (
    FLOOR_NITS,
    HALF_FLOAT_TOLERANCE,
    TOLERANCE,
    GamutShare,
    measure_gamut,
    nothing_outside,
    outside_mask,
)
from tonemap.measure.hue import HUES, hue_indices, uv_of_light
from tonemap.picture import Picture, light_picture

GAMUTS = {"bt709": "ITU-R BT.709", "p3-d65": "P3-D65"}
PQ10 = Encoding("pq", "bt2020", "narrow", 10)


@pytest.fixture(scope="module")
def colour():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour


@pytest.fixture(scope="module")
def light():
    """All of BT.2020 over three decades above the floor."""
    rng = np.random.default_rng(2407)
    return (rng.random((60, 80, 3)) ** 2 * 10.0 ** rng.uniform(0.5, 3.5, (60, 80, 1))).clip(0.0, 10000.0)


def one(*channels):
    return np.array([[channels]], np.float64)


@pytest.mark.parametrize("gamut", GAMUTS)
def test_share_and_distance_match_colour_science(colour, light, gamut):
    spaces = [colour.RGB_COLOURSPACES[name] for name in ("ITU-R BT.2020", GAMUTS[gamut])]
    for space in spaces:
        space.use_derived_matrix_RGB_to_XYZ = space.use_derived_matrix_XYZ_to_RGB = True
    converted = light @ colour.matrix_RGB_to_RGB(*spaces).T
    distance = -converted.min(axis=2) / converted.max(axis=2)
    counts = (distance > TOLERANCE) & (light.max(axis=2) >= FLOOR_NITS)
    share = measure_gamut(light, gamut)
    assert 0.2 < share.share < 0.8
    assert share.outside == np.count_nonzero(counts)
    assert np.array_equal(outside_mask(light, gamut), counts)
    assert share.distance == pytest.approx(distance[counts].max(), rel=1e-9)
    row, column = np.unravel_index(np.where(counts, distance, -1.0).argmax(), counts.shape)
    assert (share.hues[0].row, share.hues[0].column) == (row, column)
    assert sum(item.pixels for item in share.hues) == share.outside


@pytest.mark.parametrize("gamut", GAMUTS)
def test_outside_is_outside_the_triangle_of_xy(colour, light, gamut):
    """A second definition: the chromaticity, not the components. 1e-6 of the triangle's area is left undecided."""
    known = PRIMARIES[gamut]
    xyz = light @ colour.RGB_COLOURSPACES["ITU-R BT.2020"].matrix_RGB_to_XYZ.T
    xy = colour.XYZ_to_xy(xyz)
    corners = np.array([known.red, known.green, known.blue])

    def turn(start, end):
        return (end[0] - start[0]) * (xy[..., 1] - start[1]) - (end[1] - start[1]) * (xy[..., 0] - start[0])

    inside = np.minimum.reduce([turn(corners[i], corners[(i + 1) % 3]) for i in range(3)])
    mask = outside_mask(light, gamut, floor=0.0)
    decided = np.abs(inside) > 1e-4
    assert decided.mean() > 0.99
    assert np.array_equal(mask[decided], (inside < 0.0)[decided])


def test_distance_in_uv_is_that_of_the_nearest_point(colour):
    """BT.2020 green, u'v' (0.0556, 0.5868), lies beyond the red-green side of P3-D65: found by walking all sides."""
    for channels in ((0.0, 100.0, 0.0), (100.0, 0.0, 0.0), (0.0, 100.0, 100.0), (0.0, 0.0, 100.0)):
        xyz = np.array(channels) @ colour.RGB_COLOURSPACES["ITU-R BT.2020"].matrix_RGB_to_XYZ.T
        uv = colour.xy_to_Luv_uv(colour.XYZ_to_xy(xyz))
        known = PRIMARIES["p3-d65"]
        corners = [np.array(colour.xy_to_Luv_uv(corner)) for corner in (known.red, known.green, known.blue)]
        steps = np.linspace(0.0, 1.0, 100001)[:, np.newaxis]
        sides = [corners[i] * (1.0 - steps) + corners[(i + 1) % 3] * steps for i in range(3)]
        nearest = min(np.linalg.norm(side - uv, axis=1).min() for side in sides)
        assert measure_gamut(one(*channels)).distance_uv == pytest.approx(nearest, abs=1e-6)


def test_bt2020_primaries_have_the_distances_of_bt2407():
    """Report BT.2407-0, eq. (1): BT.2020 red is (1.6605, -0.1246, -0.0182) in BT.709: 0.1246 / 1.6605, and so on."""
    for channels, distance, hue in (
        ((100.0, 0.0, 0.0), 0.1246 / 1.6605, "red"),
        ((0.0, 100.0, 0.0), 0.5876 / 1.1329, "green"),
        ((0.0, 0.0, 100.0), 0.0729 / 1.1187, "blue"),
    ):
        share = measure_gamut(one(*channels), "bt709")
        assert share.share == 1.0
        assert share.distance == pytest.approx(distance, abs=1e-4)
        assert [item.hue for item in share.hues] == [hue]


@pytest.mark.parametrize("gamut", GAMUTS)
def test_colours_on_the_boundary_are_inside(gamut):
    """Primaries and mixtures of two, in float64 and float32: arithmetic leaves negative parts of 1e-7."""
    rng = np.random.default_rng(4)
    edge = rng.random((200, 3)) * 1000.0 + 1.0
    edge[np.arange(200), rng.integers(0, 3, 200)] = 0.0
    light = convert(np.concatenate([edge, np.eye(3) * 500.0]), conversion_matrix(gamut, "bt2020"))[np.newaxis]
    for dtype in (np.float64, np.float32):
        assert measure_gamut(light.astype(dtype), gamut).outside == 0
        assert measure_gamut(light.astype(dtype) * 1.0, gamut, tolerance=-1e-3).outside > 0  # they are on it


def test_half_floats_get_the_tolerance_of_their_rounding():
    rng = np.random.default_rng(4)
    edge = rng.random((400, 3)) * 1000.0 + 1.0
    edge[np.arange(400), rng.integers(0, 3, 400)] = 0.0
    samples = convert(edge, conversion_matrix("p3-d65", "bt2020"))[np.newaxis].clip(0.0)
    half = light_picture(samples.astype(np.float16).astype(np.float32))
    assert gamut_tolerance(half) == HALF_FLOAT_TOLERANCE
    assert measure_frame(half).gamuts["p3-d65"].outside == 0
    assert measure_gamut(half.samples, "p3-d65").outside > 0
    assert gamut_tolerance(light_picture(samples)) == TOLERANCE
    infinite = np.array([[[np.nan, np.inf, 0.5]]], np.float32)
    assert gamut_tolerance(light_picture(infinite)) == HALF_FLOAT_TOLERANCE
    assert gamut_tolerance(Picture(np.zeros((1, 1, 3), np.uint16), PQ10)) == TOLERANCE


@pytest.mark.parametrize("bits", [10, 12])
def test_codes_that_were_rounded_from_inside_are_inside(bits):
    encoding = Encoding("pq", "bt2020", "narrow", bits)
    rng = np.random.default_rng(bits)
    edge = 10.0 ** rng.uniform(0.3, 3.0, (4000, 3))
    edge[np.arange(4000), rng.integers(0, 3, 4000)] = 0.0
    exact = convert(edge, conversion_matrix("p3-d65", "bt2020")).clip(0.0)
    light = decode(quantise_signal(light_to_signal(exact, encoding), encoding), encoding)[np.newaxis]
    assert measure_gamut(light, "p3-d65").share > 0.1  # what rounding did
    assert measure_gamut(light, "p3-d65", encoding=encoding).outside == 0


@pytest.mark.parametrize("encoding", [PQ10, Encoding("hlg", "bt2020", "narrow", 10)])
def test_colours_well_outside_are_outside_in_any_codes(encoding):
    light = np.array([[[0.0, 500.0, 20.0], [500.0, 5.0, 5.0], [10.0, 400.0, 400.0], [200.0, 200.0, 200.0]]])
    light = decode(quantise_signal(light_to_signal(light, encoding), encoding), encoding)
    assert outside_mask(light, "p3-d65", encoding=encoding).tolist() == [[True, True, True, False]]


def test_pixels_near_black_do_not_count():
    light = np.array([[[0.0, FLOOR_NITS, 0.0], [0.0, 0.999 * FLOOR_NITS, 0.0], [0.0, 0.0, 0.0]]])
    assert outside_mask(light).tolist() == [[True, False, False]]
    assert outside_mask(light, floor=0.5).tolist() == [[True, True, False]]
    assert measure_gamut(light).pixels == 3


@pytest.mark.parametrize("gamut", ["bt709", "p3-d65", "bt2020"])
def test_primaries_and_their_mixtures_have_the_hues_of_their_names(gamut):
    names = {
        "red": (1, 0, 0),
        "orange": (1, 0.214, 0),
        "yellow": (1, 1, 0),
        "green": (0, 1, 0),
        "cyan": (0, 1, 1),
        "blue": (0, 0, 1),
        "violet": (0.214, 0, 1),
        "magenta": (1, 0, 1),
    }
    light = convert(np.array(list(names.values()), np.float64), conversion_matrix(gamut, "bt2020"))
    assert [HUES[index][0] for index in hue_indices(uv_of_light(light))] == list(names)


def test_uv_matches_colour_science(colour, light):
    xyz = light @ colour.RGB_COLOURSPACES["ITU-R BT.2020"].matrix_RGB_to_XYZ.T
    np.testing.assert_allclose(uv_of_light(light), colour.xy_to_Luv_uv(colour.XYZ_to_xy(xyz)), rtol=0, atol=2e-6)
    np.testing.assert_allclose(uv_of_light(np.zeros(3)), uv_of_light(np.ones(3)), rtol=1e-12)


def test_the_worst_of_each_hue_has_a_place_and_nits():
    light = np.full((4, 5, 3), 50.0)
    light[1, 2], light[3, 4], light[2, 0] = (0.0, 100.0, 0.0), (20.0, 100.0, 0.0), (300.0, 0.0, 0.0)
    share = measure_gamut(light, frame=7, place=(10, 20))
    green, red = share.hues
    assert (green.hue, green.pixels, green.frame, green.row, green.column) == ("green", 2, 7, 11, 22)
    assert green.nits == pytest.approx(67.7998, abs=1e-4)  # 100 x 0.677998, the luminance of BT.2020 green
    assert (red.hue, red.pixels, red.row, red.column) == ("red", 1, 12, 20)
    assert share.share == 3 / 20


def test_primaries_of_a_display_may_have_another_white():
    """The question is which chromaticities can be shown: adapting white would move the triangle."""
    dci = PRIMARIES["p3-dci"]
    d65 = Primaries("display", dci.red, dci.green, dci.blue, PRIMARIES["p3-d65"].white)
    light = np.random.default_rng(3).random((50, 50, 3)) * 500.0
    mask = outside_mask(light, dci, tolerance=0.0)
    assert 0.1 < mask.mean() < 0.8
    assert np.array_equal(mask, outside_mask(light, d65, tolerance=0.0))
    assert measure_gamut(light, d65).gamut == "display"


def test_a_frame_in_bands_is_the_frame_in_one(light):
    tall = np.tile(light, (12, 14, 1)).astype(np.float32)  # 720 rows: eight bands
    area = Rectangle(100, 30, 500, 1000)
    banded = measure_frame(light_picture(tall), area, frame=3).gamuts
    assert list(banded) == ["p3-d65", "bt709"]
    for name, share in banded.items():
        whole = measure_gamut(tall[area.slices], name, frame=3, place=(100, 30))
        assert share == whole


def test_frames_add_up_and_survive_being_saved(light):
    shares = [measure_gamut(light * factor, "bt709", frame=frame) for frame, factor in enumerate((1.0, 0.0, 2.0, 0.1))]
    once = GamutProgramme("bt709")
    for frame, share in enumerate(shares):
        once.add(share, frame)
    first, second = GamutProgramme("bt709"), GamutProgramme("bt709")
    for frame in (3, 2):
        first.add(shares[frame], frame)
    for frame in (1, 0):
        second.add(shares[frame], frame)
    first = GamutProgramme.from_dict(json.loads(json.dumps(first.to_dict())))
    first.merge(second)
    assert first.to_dict() == once.to_dict()
    assert once.frames.text == "0, 2-3"
    assert once.worst_share == max(share.share for share in shares)
    assert once.worst_frame == 2
    assert once.total.pixels == 4 * 4800
    for frame in (9, 8, 10):  # as frame 2 again: of equal frames the first is named
        once.add(shares[2], frame)
        assert once.worst_frame == 2
    fresh = GamutProgramme("bt709")
    for frame in (9, 8, 10):
        fresh.add(shares[2], frame)
    assert fresh.worst_frame == 8
    assert GamutShare.from_dict(json.loads(json.dumps(shares[0].to_dict()))) == shares[0]
    assert nothing_outside("bt709").share == 0.0
