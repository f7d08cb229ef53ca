"""The compiled loops against their definitions in NumPy: `Planes.signal`, `decode`, `measure_light`, `measure_gamut`.

No outside source: the definitions have theirs, in their own tests.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numba import njit

from tonemap.colorimetry import PRIMARIES
from tonemap.encoding import Encoding, decode
from tonemap.measure import kernels
from tonemap.measure.active_area import Rectangle
from tonemap.measure.counting import smallest_first, turn_of
from tonemap.measure.frame import codes_of, light_of, measure_frame
from tonemap.measure.gamut_share import measure_gamut
from tonemap.measure.light_levels import measure_light
from tonemap.media.master import Frame
from tonemap.media.planes import MATRICES, SITINGS, Coding, Planes
from tonemap.picture import Picture
from tonemap.transfer import pq_eotf

PQ = Encoding("pq")
BOUNDS = {"pq": (1e-5, 1e-6), "linear": (2e-5, 1e-7)}
"""Of light: relative to a pixel's brightest channel, and in cd/m2, for linear light in units; see `kernels.pq_row`."""

OTHER_BOUNDS = 2e-5, 2e-6
"""The same for other transfers; measured: 2e-5 above 0.1 cd/m2, 1.6e-6 cd/m2 below 0.01."""

SUMS = 1e-12


def random_planes(rows, columns, coding, *, seed=1, spread=1.0):
    """Return planes of code values from all over the range, or from about its middle; their rows have room behind."""
    random = np.random.default_rng(seed)
    across, down = coding.subsampling
    kind = np.uint8 if coding.bits == 8 else np.uint16
    components = []
    for height, width in ((rows, columns), *2 * ((-(-rows // down), -(-columns // across)),)):
        middle = 2.0 ** (coding.bits - 1)
        codes = random.uniform(middle - middle * spread, middle + middle * spread, (height, width + 5))
        components.append(np.clip(codes, 0, 2**coding.bits - 1).astype(kind)[:, :width])
    return Planes(tuple(components), coding)


def light_by_definition(planes, encoding):
    return decode(np.moveaxis(planes.signal(), 0, 2).astype(np.float64), encoding)


def frame_of(planes, encoding):
    return Frame(0, "frame 0", encoding, planes)


CODINGS = [
    Coding(bits, signal_range, matrix, subsampling, siting)
    for bits, signal_range, matrix, subsampling, siting in [
        (10, "narrow", "bt2020", (2, 2), "left"),
        (10, "full", "bt2020", (2, 2), "topleft"),
        (8, "narrow", "bt709", (2, 2), "center"),
        (12, "narrow", "bt2020", (2, 2), "bottom"),
        (10, "narrow", "bt601", (2, 2), "bottomleft"),
        (8, "full", "bt2020", (2, 2), "top"),
        (10, "narrow", "bt2020", (2, 1), "left"),
        (12, "full", "bt709", (2, 1), "center"),
        (10, "narrow", "bt2020", (1, 1), "left"),
        (16, "full", None, (1, 1), "left"),
        (10, "narrow", None, (1, 1), "left"),
    ]
]
ENCODINGS = [
    PQ,
    Encoding("pq", "p3-d65"),
    Encoding("hlg", black=0.005),
    Encoding("hlg", peak=300.0),
    Encoding("bt1886", "bt709", peak=100.0, black=0.05),
    Encoding("srgb", "p3-d65", peak=200.0),
    Encoding("gamma2.4", "bt2020", peak=100.0),
    Encoding("linear", "bt709", unit=100.0),
]


def test_all_sitings_and_matrices_are_among_the_codings():
    assert {coding.siting for coding in CODINGS} == set(SITINGS)
    assert {coding.matrix for coding in CODINGS} == {*MATRICES, None}


@pytest.mark.parametrize("encoding", ENCODINGS, ids=lambda encoding: encoding.title)
@pytest.mark.parametrize("coding", CODINGS, ids=lambda coding: coding.title)
@pytest.mark.parametrize("size", [(33, 47), (2, 2), (1, 1), (20, 64)], ids=str)
def test_light_is_that_of_the_definition(coding, encoding, size):
    planes = random_planes(*size, coding)
    expected = light_by_definition(planes, encoding)
    error = np.abs(light_of(frame_of(planes, encoding)) - expected)
    relative, absolute = BOUNDS.get(encoding.transfer, OTHER_BOUNDS)
    assert np.all(error <= relative * expected.max(axis=2, keepdims=True) + absolute * encoding.unit)


def test_light_is_that_of_the_definition_for_every_10_bit_grey():
    codes = np.arange(1024, dtype=np.uint16).reshape(32, 32)
    middle = np.full((16, 16), 512, np.uint16)
    planes = Planes((codes, middle, middle), CODINGS[0])
    expected = light_by_definition(planes, PQ)
    light = light_of(frame_of(planes, PQ))
    assert np.array_equal(light[..., 0], light[..., 1])
    assert np.array_equal(light[..., 0], light[..., 2])
    assert np.all(light[codes <= 64] == 0.0)
    assert np.all(np.abs(light - expected) <= 3e-6 * expected + 1e-6)
    assert np.all(np.diff(light[..., 0].ravel()) >= 0.0)


def test_every_pq_signal_has_the_light_of_the_standard():
    """ST 2084, by `transfer.pq_eotf`, whose own tests hold it to published values: a grid of 20 bits."""
    codes = np.arange(1 << 20, dtype=np.float64) / ((1 << 20) - 1)
    values = np.concatenate([np.float32([-0.5, 0.0, 1.0, 1.5]), codes.astype(np.float32)])
    light = values.copy()
    pq_rows(light)
    expected = pq_eotf(np.clip(values.astype(np.float64), 0.0, 1.0))
    assert np.all(np.abs(light - expected) <= 2.5e-6 * (expected + 0.1))
    assert list(light[:2]) == [0.0, 0.0]
    assert light[3] == light[2] == light[-1] == pytest.approx(10_000.0, rel=2.5e-6)
    assert np.all(np.diff(light[4:]) >= 0.0)


def pq_rows(values):
    kernels.compiled_rows()
    from tonemap.measure.kernels.pq_row import pq_row

    @njit
    def run(row):
        pq_row(row)

    run(values)


def test_planes_whose_pixels_lie_side_by_side_are_read_too():
    pixels = np.random.default_rng(4).integers(0, 65536, (9, 11, 3)).astype(np.uint16)
    side_by_side = Planes((pixels[..., 2], pixels[..., 0], pixels[..., 1]), Coding(16, "full"))
    apart = Planes(tuple(np.ascontiguousarray(plane) for plane in side_by_side.components), side_by_side.coding)
    assert np.array_equal(light_of(frame_of(side_by_side, PQ)), light_of(frame_of(apart, PQ)))


def same_levels(found, expected):
    for name, value in expected.to_dict().items():
        if name in ("average", "luminance_average", "average_picture_level"):
            assert getattr(found, name) == pytest.approx(value, rel=SUMS)
        else:
            assert found.to_dict()[name] == value, name


def same_share(found, expected):
    assert (found.gamut, found.pixels, found.outside) == (expected.gamut, expected.pixels, expected.outside)
    assert found.to_dict() == expected.to_dict()


def check_figures(content, encoding, area, gamuts=("p3-d65", "bt709")):
    """Hold the figures of a frame to the definitions, on the light that the loops see."""
    light = light_of(frame_of(content, encoding))
    figures = measure_frame(content, area, 7, gamuts, encoding=encoding, coarse_step=4)
    expected = measure_light(light, area, 7)
    found = figures.tally.levels
    assert (found.frame, found.area) == (7, expected.area)
    same_levels(found.active, expected.active)
    same_levels(found.full, expected.full)
    assert np.array_equal(figures.coarse, light[::4, ::4])
    codes = codes_of(content.coding, encoding) if isinstance(content, Planes) else encoding
    area = expected.area
    assert len(figures.gamuts) == len(gamuts)
    for gamut in gamuts:
        place = (area.top, area.left)
        share = measure_gamut(light[area.slices], gamut, frame=7, place=place, encoding=codes)
        same_share(figures.gamuts[share.gamut], share)
    return figures


AREAS = [None, Rectangle(12, 0, 70, 131), Rectangle(0, 9, 97, 101), Rectangle(96, 130, 1, 1), Rectangle(3, 5, 60, 7)]


@pytest.mark.parametrize("area", AREAS, ids=str)
@pytest.mark.parametrize("encoding", [PQ, Encoding("hlg")], ids=lambda encoding: encoding.title)
@pytest.mark.parametrize("spread", [1.0, 0.15], ids=["wild", "tame"])
def test_figures_of_planes_are_those_of_the_definition(encoding, area, spread):
    figures = check_figures(random_planes(97, 131, CODINGS[0], spread=spread), encoding, area)
    if area is None and spread == 1.0:
        assert figures.gamuts["bt709"].outside > figures.gamuts["p3-d65"].outside > 1000
        assert len(figures.gamuts["bt709"].hues) == 8


@pytest.mark.parametrize("coding", CODINGS, ids=lambda coding: coding.title)
def test_figures_of_every_coding_are_those_of_the_definition(coding):
    check_figures(random_planes(37, 53, coding), PQ, None)


@pytest.mark.parametrize("area", [None, Rectangle(1, 1000, 4, 1100), Rectangle(0, 1030, 6, 3)], ids=str)
def test_figures_of_rows_longer_than_a_segment_are_those_of_the_definition(area):
    check_figures(random_planes(6, 2101, CODINGS[0], spread=0.6), PQ, area)


def test_figures_of_a_letterboxed_frame_are_those_of_the_definition():
    planes = random_planes(96, 128, CODINGS[0], spread=0.6)
    luma, blue, red = planes.components
    for plane, black, step in ((luma, 64, 1), (blue, 512, 2), (red, 512, 2)):
        plane[: 12 // step] = plane[-12 // step :] = black
    figures = check_figures(planes, PQ, Rectangle(12, 0, 72, 128))
    assert figures.tally.bars.pixels == 24 * 128
    assert figures.tally.active.largest_minimum > 0.0


def test_figures_of_pictures_are_those_of_the_definition():
    random = np.random.default_rng(8)
    codes = random.integers(0, 1024, (75, 41, 3)).astype(np.uint16)
    for encoding in (Encoding("pq", "bt2020", "narrow", 10), Encoding("hlg", "bt2020", "narrow", 10)):
        check_figures(Picture(codes, encoding), encoding, Rectangle(3, 2, 60, 30))
    light = random.lognormal(3.0, 3.0, (75, 41, 3)).astype(np.float32)
    linear = Encoding("linear")
    check_figures(Picture(light, linear), linear, None)


@pytest.mark.parametrize("level", [0.0, 100.0, 203.0, 600.0, 1000.0, 1e-7, 65504.0])
def test_flat_pictures_at_a_threshold_have_the_figures_of_the_definition(level):
    linear = Encoding("linear")
    for nits in (level, np.nextafter(np.float32(level), np.float32(np.inf)) if level else 0.0):
        check_figures(Picture(np.full((40, 6, 3), nits, np.float32), linear), linear, None)


def test_gamuts_without_each_other_and_in_any_order_are_found_alike():
    planes = random_planes(64, 96, CODINGS[0])
    display = replace(PRIMARIES["p3-dci"], title="a display")
    gamuts = ("bt2020", display, "bt709", "p3-dci", "p3-d65")
    together = check_figures(planes, PQ, None, gamuts).gamuts
    backwards = measure_frame(planes, None, 7, gamuts[::-1], encoding=PQ).gamuts
    for gamut in gamuts:
        (alone,) = measure_frame(planes, None, 7, (gamut,), encoding=PQ).gamuts.values()
        assert together[alone.gamut] == backwards[alone.gamut] == alone


def test_bt709_lies_within_p3_and_comes_first():
    assert smallest_first(("bt2020", "p3-d65", "bt709")) == ("bt709", "p3-d65", "bt2020")


def test_turn_grows_with_the_angle():
    angles = np.radians(np.arange(0.0, 360.0, 0.5))
    assert np.all(np.diff([turn_of(np.cos(angle), np.sin(angle)) for angle in angles]) > 0.0)


def test_machine_code_is_kept_by_the_text_of_all_sources(monkeypatch, tmp_path):
    house = Path(kernels.__file__).parents[2]
    assert all((house / f"{name}.py").is_file() for name in kernels.CONSTANTS)
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    assert not kernels.are_compiled("measure_light")
    folder = kernels._writable(kernels._folder())
    (folder / "rows.measure_light-36.py311.nbi").touch()  # as Numba names it
    assert kernels.are_compiled("measure_light")
    assert not kernels.are_compiled("measure_planes")  # a movie's loops are compiled apart
    monkeypatch.setattr(kernels, "CONSTANTS", kernels.CONSTANTS[1:])
    assert not kernels.are_compiled("measure_light")  # other sources


def test_machine_code_is_of_one_order_of_the_fields_of_each_tuple():
    check_figures(random_planes(64, 96, CODINGS[0]), PQ, None)
    kinds = [kind for signature in kernels.compiled_rows().measure_planes.signatures for kind in signature]
    tuples = set()
    while kinds:
        kind = kinds.pop()
        kinds += getattr(kind, "types", ())
        if hasattr(kind, "instance_class"):
            tuples.add(kind.instance_class)
    assert {"FlatPlanes", "PlanesRecipe", "Counting", "Tallies"} <= {one.__name__ for one in tuples}
    files = {one.__module__.removeprefix("tonemap.").replace(".", "/") for one in tuples}
    assert files <= set(kernels.CONSTANTS)


def test_where_nothing_can_be_kept_machine_code_lasts_for_the_run(tmp_path):
    (tmp_path / "file").touch()
    folder = kernels._writable(tmp_path / "file" / "no-folder")
    assert folder.is_dir()
    assert not folder.is_relative_to(tmp_path / "file")
    folder.rmdir()
