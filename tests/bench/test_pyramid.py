"""The light pyramid: what is averaged below 1:1."""

from collections.abc import Iterator

import numpy as np
import pytest

from tonemap.encoding import Encoding, decode
from tonemap.errors import TrimbenchError
from tonemap.picture import Picture
from viewer.bench.layout import Placement
from viewer.bench.pyramid import pyramid_of
from viewer.bench.tiles import Tiles
from viewer.engine import MAIN_COMPUTE, MAIN_FRAGMENT
from viewer.gl.context import OffscreenContext


@pytest.fixture(scope="module")
def tiles() -> Iterator[Tiles]:
    context = OffscreenContext()
    tiles = Tiles()
    tiles.programs.prepare()
    yield tiles
    tiles.delete()
    context.close()


def random_picture(columns: int, rows: int) -> Picture:
    light = 1000.0 * np.random.default_rng(columns * rows).random((rows, columns, 3)) ** 3
    return Picture(light.astype(np.float32), Encoding("linear"))


@pytest.mark.parametrize(("columns", "rows"), [(1, 1), (2, 3), (7, 5), (64, 32), (121, 67)])
def test_every_texel_of_every_level_is_the_mean_of_the_picture_under_it(tiles, columns, rows):
    picture = random_picture(columns, rows)
    pyramid = pyramid_of(picture, picture.encoding)
    for number, level in enumerate(pyramid.levels):
        side = 2**number
        got = level.read(level.texture.columns, level.texture.rows)
        for row in range(got.shape[0]):
            for column in range(got.shape[1]):
                under = picture.samples[row * side : (row + 1) * side, column * side : (column + 1) * side]
                assert got[row, column] == pytest.approx(under.astype(float).mean(axis=(0, 1)), rel=2e-6)
    assert got.shape == (1, 1, 3)
    pyramid.delete()


@pytest.mark.parametrize("main", [MAIN_FRAGMENT, MAIN_COMPUTE])
@pytest.mark.parametrize(
    "encoding",
    [
        Encoding("pq", "bt2020", "narrow", 10),
        Encoding("hlg", "bt2020", "full", 12),
        Encoding("linear", "p3-d65", unit=100.0),
    ],
    ids=lambda encoding: encoding.title,
)
def test_light_on_the_card_is_the_reference_decoded(tiles, encoding, main):
    random = np.random.default_rng(5)
    if encoding.bits is None:
        samples = (9.0 * random.random((40, 30, 3))).astype(np.float32)
    else:
        samples = random.integers(0, 2**encoding.bits, (40, 30, 3)).astype(np.uint16)
    pyramid = pyramid_of(Picture(samples, encoding), encoding, main)
    got = pyramid.levels[0].read(30, 40)
    assert got == pytest.approx(decode(samples, encoding), rel=2e-5, abs=1e-4)
    pyramid.delete()


@pytest.mark.parametrize("zoom", [0.9, 0.61, 0.37, 0.2, 0.071])
def test_a_view_is_near_the_mean_over_the_exact_area(tiles, zoom):
    """Smooth light, so that what an edge cuts of a texel stands for it; a point sample would miss by far more."""
    rows, columns = 150, 200
    y, x = np.mgrid[0:rows, 0:columns]
    wave = 300.0 * (1.0 + np.sin(0.9 * x + 0.4 * y))[..., np.newaxis] * np.array([1.0, 0.7, 0.4])
    tiles.show(Picture(wave.astype(np.float32), Encoding("linear")), Encoding("linear"))
    assert tiles.pyramid.go_on(10.0)
    width, height = int(columns * zoom) - 1, int(rows * zoom) - 1
    tiles.render_master(Placement(zoom, 0, 0), width, height, 1000.0)
    tiles.draw()
    got = tiles._view.framebuffer.read(width, height)

    def mean(values: np.ndarray, count: int) -> np.ndarray:
        total = np.concatenate([np.zeros((1, *values.shape[1:])), np.cumsum(values, axis=0)])
        edges = np.arange(count + 1) / zoom
        whole = np.minimum(edges.astype(int), len(values) - 1)
        part = (edges - whole).reshape(-1, *[1] * (values.ndim - 1))
        at_edges = total[whole] + part * values[whole]
        return np.diff(at_edges, axis=0) * zoom

    exact = mean(mean(wave, height).swapaxes(0, 1), width).swapaxes(0, 1)
    point = wave[((np.arange(height) + 0.5) / zoom).astype(int)][:, ((np.arange(width) + 0.5) / zoom).astype(int)]
    error, error_of_points = np.abs(got - exact).mean(), np.abs(point - exact).mean()
    assert error < 0.25 * error_of_points
    assert got.mean() == pytest.approx(exact.mean(), rel=5e-3)


def test_a_picture_that_the_card_cannot_hold_is_one_sentence(tiles):
    picture = Picture(np.zeros((1, 40000, 3), np.float32), Encoding("linear"))
    with pytest.raises(TrimbenchError, match=r"^the picture is 40000 x 1, and this card shows at most"):
        pyramid_of(picture, picture.encoding)


@pytest.mark.parametrize("is_passing", [True, False], ids=["of a movie", "still"])
@pytest.mark.parametrize("zoom", [0.7, 0.3, 0.1])
def test_a_frame_is_drawn_quickly_at_first_where_its_light_lies_and_whole_when_it_stays(tiles, zoom, is_passing):
    """Two flat halves: four samples under a pixel are right wherever the edge is farther than a pixel."""
    rows, columns = 150, 200
    light = np.full((rows, columns, 3), 50.0, np.float32)
    light[:, columns // 2 :] = [400.0, 200.0, 100.0]
    tiles.show(Picture(light, Encoding("linear")), Encoding("linear"), is_passing)
    assert not tiles._pyramid.is_whole
    width, height = int(columns * zoom), int(rows * zoom)
    seen = []
    for _ in range(2):
        tiles.render_master(Placement(zoom, 0, 0), width, height, 1000.0)
        tiles.draw()
        seen.append(tiles._view.framebuffer.read(width, height))
        assert tiles._pyramid.go_on(10.0)
    edge = width // 2
    for got in seen:
        assert got[:, : edge - 1] == pytest.approx(np.broadcast_to(50.0, (height, edge - 1, 3)), rel=1e-5)
        assert got[:, edge + 2 :] == pytest.approx(np.broadcast_to([400.0, 200.0, 100.0], got[:, edge + 2 :].shape))
