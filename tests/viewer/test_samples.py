"""Planes of movies on the card: the shaders' way to the signal against that of tonemap/media/planes.py."""

from collections.abc import Iterator

import numpy as np
import pytest

import viewer.gl  # noqa: F401 - first: it sets the platform of GL
from tonemap.encoding import Encoding, decode
from tonemap.media.planes import MATRICES, SITINGS, Coding, Planes
from viewer.bench.layout import Placement
from viewer.bench.pyramid import LightPyramid, pyramid_of
from viewer.bench.tiles import Tiles
from viewer.engine import MAIN_COMPUTE, MAIN_FRAGMENT
from viewer.gl.context import OffscreenContext

ROWS, COLUMNS = 38, 50
LINEAR = Encoding("linear", unit=1000.0)
"""Light is a thousand times the signal, so that the signal itself is seen; below 0 it is cut."""

SHARPEST = 3e-7
"""Of the signal; the worst that was seen on llvmpipe is 1.7e-7."""


@pytest.fixture(scope="module", autouse=True)
def _context() -> Iterator[None]:
    context = OffscreenContext()
    tiles = Tiles()
    tiles.programs.prepare()
    yield
    tiles.delete()
    context.close()


def random_planes(coding: Coding, rows: int = ROWS, columns: int = COLUMNS, filling: int = 0) -> Planes:
    """Return planes of random codes, as views of longer lines where `filling` is not 0."""
    random = np.random.default_rng(11)
    kind = np.uint8 if coding.bits == 8 else np.uint16
    steps = coding.subsampling
    sizes = [(rows, columns), *[(-(-rows // steps[1]), -(-columns // steps[0]))] * 2]
    lines = [random.integers(0, 2**coding.bits, (height, width + filling)).astype(kind) for height, width in sizes]
    first, second, third = (line[:, : line.shape[1] - filling] for line in lines)
    return Planes((first, second, third), coding)


@pytest.fixture(params=[MAIN_FRAGMENT, MAIN_COMPUTE])
def main(request: pytest.FixtureRequest) -> str:
    """Return the main by which light is decoded."""
    return str(request.param)


def light_on_the_card(planes: Planes, main: str, encoding: Encoding = LINEAR) -> np.ndarray:
    pyramid = pyramid_of(planes, encoding, main)
    light = pyramid.levels[0].read(planes.columns, planes.rows)
    pyramid.delete()
    return light


def assert_is_the_reference(planes: Planes, main: str) -> None:
    expected = decode(planes.picture(LINEAR).samples, LINEAR)
    difference = np.abs(light_on_the_card(planes, main) - expected) / LINEAR.unit
    assert difference.max() <= SHARPEST * max(1.0, expected.max() / LINEAR.unit)
    assert np.ptp(expected) > 900.0


@pytest.mark.parametrize("siting", SITINGS)
@pytest.mark.parametrize("subsampling", [(2, 2), (2, 1)])
def test_chroma_lies_where_the_siting_places_it(siting, subsampling, main):
    assert_is_the_reference(random_planes(Coding(10, "narrow", "bt2020", subsampling, siting)), main)


@pytest.mark.parametrize("matrix", MATRICES)
@pytest.mark.parametrize("signal_range", ["narrow", "full"])
@pytest.mark.parametrize("bits", [8, 10, 12])
def test_every_matrix_range_and_bit_depth(matrix, signal_range, bits, main):
    assert_is_the_reference(random_planes(Coding(bits, signal_range, matrix, (1, 1))), main)


@pytest.mark.parametrize("rows", [37, 2, 1])
@pytest.mark.parametrize("columns", [49, 3, 1])
def test_odd_sizes_end_with_the_outermost_sample(rows, columns, main):
    coding = Coding(10, "narrow", "bt2020", (2, 2), "left")
    planes = random_planes(coding, rows, columns)
    expected = decode(planes.picture(LINEAR).samples, LINEAR)
    assert light_on_the_card(planes, main) == pytest.approx(expected, abs=1e-3)


def test_lines_that_are_longer_in_memory_than_the_picture(main):
    assert_is_the_reference(random_planes(Coding(10, "narrow", "bt2020", (2, 2), "topleft"), filling=13), main)


@pytest.mark.parametrize("signal_range", ["narrow", "full"])
def test_planes_of_r_g_and_b_are_scaled_and_nothing_else(signal_range, main):
    assert_is_the_reference(random_planes(Coding(12, signal_range)), main)


def test_planes_in_pq_are_decoded_to_light(main):
    encoding = Encoding("pq", "bt2020")
    random = np.random.default_rng(3)
    luma = random.integers(64, 700, (ROWS, COLUMNS)).astype(np.uint16)
    chroma = [random.integers(480, 545, (ROWS // 2, COLUMNS // 2)).astype(np.uint16) for _ in range(2)]
    planes = Planes((luma, chroma[0], chroma[1]), Coding(10, "narrow", "bt2020", (2, 2), "left"))
    expected = decode(planes.picture(encoding).samples, encoding)
    assert light_on_the_card(planes, main, encoding) == pytest.approx(expected, rel=2e-5, abs=1e-4)


def test_a_frame_after_another_takes_its_place_without_new_textures(main):
    coding = Coding(10, "narrow", "bt2020", (2, 2), "left")
    pyramid = LightPyramid(COLUMNS, ROWS, main)
    textures = set()
    for number in range(4):
        planes = random_planes(coding)
        planes.components[0][:] = 100 + 50 * number
        pyramid.show(planes, LINEAR, is_passing=True)
        pyramid.go_on(10.0)
        textures.add((*(texture.handle for texture in pyramid._samples._textures), pyramid.levels[0].texture.handle))
        expected = decode(planes.picture(LINEAR).samples, LINEAR)
        assert pyramid.levels[0].read(COLUMNS, ROWS) == pytest.approx(expected, abs=1e-3)
    assert len(textures) == 1
    pyramid.delete()


def test_a_part_that_is_seen_at_whole_zoom_is_decoded_where_it_lies(main):
    planes = random_planes(Coding(10, "narrow", "bt2020", (2, 2), "left"))
    pyramid = LightPyramid(COLUMNS, ROWS, main)
    pyramid.show(planes, LINEAR)
    _, texture = pyramid.light_for(Placement(1.0, -27, -17), 20, 15)
    assert texture is pyramid.levels[0].texture
    expected = decode(planes.picture(LINEAR).samples, LINEAR)
    got = pyramid.levels[0].read(COLUMNS, ROWS)
    assert got[17:32, 27:47] == pytest.approx(expected[17:32, 27:47], abs=1e-3)
    assert pyramid.go_on(10.0)
    assert pyramid.levels[0].read(COLUMNS, ROWS) == pytest.approx(expected, abs=1e-3)
    pyramid.delete()
