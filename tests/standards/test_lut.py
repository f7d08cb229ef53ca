"""LUTs and their files against OpenColorIO, colour-science and colour-clf-io, which share no code with Trimbench."""

import numpy as np
import pytest

from tonemap.bake import bake, chain_for, peak_shaper
from tonemap.clf import NAMESPACE, OLDER_NAMESPACE, Notes
from tonemap.encoding import Encoding
from tonemap.lut import TETRAHEDRAL, TRILINEAR, Lut, apply_lut
from tonemap.lut_file import read_lut, write_lut
from tonemap.lut_input import input_named
from tonemap.reference import ReferenceEngine, render_signal
from tonemap.rendition import Rendition, chain_of

NOTES = Notes("name", "made", ("line",), "in", "out")
INPUTS = ["pq,bt2020,narrow", "pq,bt2020,full,12", "pq,p3-d65,full", "hlg,bt2020,narrow"]


def random_lut(seed, size, shaper=True):
    rng = np.random.default_rng(seed)
    curve = np.round(np.concatenate([[0.0], np.sort(rng.random(30)), [1.0]]), 7) if shaper else None
    return Lut(np.round(rng.random((size, size, size, 3)), 7), curve, 0.0625, 0.918)


@pytest.fixture
def pixels():
    """Return values on nodes, between them and far outside, float32 as OpenColorIO takes them."""
    rng = np.random.default_rng(5)
    corners = np.stack(np.meshgrid(*[[0.0, 0.0625, 0.918, 1.0]] * 3), axis=-1).reshape(-1, 3)
    return np.concatenate([rng.uniform(-0.5, 1.5, (4000, 3)), corners, np.full((3, 3), 0.4)]).astype(np.float32)


@pytest.fixture
def ocio_file(ocio, ocio_apply):
    """Return a function that applies a LUT file by OpenColorIO."""

    def apply(path, interpolation, values):
        transform = ocio.FileTransform(str(path))
        transform.setInterpolation(ocio.INTERP_TETRAHEDRAL if interpolation == TETRAHEDRAL else ocio.INTERP_LINEAR)
        return ocio_apply(transform, values)

    return apply


# Worst measured: 5.4e-6, OpenColorIO being in float32; these tables are random numbers behind a random shaper, which no
# rendition is: of a baked LUT it is 2.2e-6 (65 nodes).
@pytest.mark.parametrize("interpolation", [TETRAHEDRAL, TRILINEAR])
@pytest.mark.parametrize("shaper", [True, False])
@pytest.mark.parametrize("size", [2, 5, 17])
def test_cube_files_mean_to_opencolorio_what_they_mean_to_us(tmp_path, ocio_file, pixels, interpolation, shaper, size):
    path = tmp_path / "lut.cube"
    write_lut(path, random_lut(size, size, shaper), NOTES)
    ours = apply_lut(read_lut(path)[0], pixels, interpolation)
    np.testing.assert_allclose(ours, ocio_file(path, interpolation, pixels), rtol=0, atol=1e-5)


@pytest.mark.parametrize("shaper", [True, False])
@pytest.mark.parametrize("size", [2, 5, 17])
def test_clf_files_mean_to_opencolorio_what_they_mean_to_us(tmp_path, ocio_file, pixels, shaper, size):
    path = tmp_path / "lut.clf"
    write_lut(path, random_lut(size, size, shaper), NOTES)
    lut, interpolation = read_lut(path)
    assert interpolation == TETRAHEDRAL
    np.testing.assert_allclose(
        apply_lut(lut, pixels, interpolation), ocio_file(path, "as the file says", pixels), rtol=0, atol=1e-5
    )


# Worst measured: 7e-15; colour-science reads both forms of cube text and computes in float64. Its tetrahedral
# interpolation clamps nothing, so the values are inside the domain.
@pytest.mark.parametrize("interpolation", [TETRAHEDRAL, TRILINEAR])
@pytest.mark.parametrize("shaper", [True, False])
def test_cube_files_mean_to_colour_science_what_they_mean_to_us(tmp_path, colour, interpolation, shaper):
    from colour.algebra import table_interpolation_tetrahedral, table_interpolation_trilinear

    interpolate = table_interpolation_tetrahedral if interpolation == TETRAHEDRAL else table_interpolation_trilinear
    path = tmp_path / "lut.cube"
    write_lut(path, random_lut(3, 9, shaper), NOTES)
    theirs = colour.read_LUT(str(path))
    values = np.random.default_rng(4).uniform(0.0626, 0.9179, (2000, 3))
    options = {"LUT3D": {"interpolator": interpolate}} if shaper else {"interpolator": interpolate}
    ours = apply_lut(read_lut(path)[0], values, interpolation)
    np.testing.assert_allclose(ours, theirs.apply(values, **options), rtol=0, atol=1e-13)


def test_clf_files_hold_for_colour_clf_io_what_they_hold_for_us(tmp_path):
    """The library reads the older namespace only, so the file is given that one; the elements are the same."""
    import colour_clf_io

    path = tmp_path / "lut.clf"
    lut = random_lut(8, 5)
    write_lut(path, lut, NOTES)
    found = colour_clf_io.read_clf(path.read_text().replace(NAMESPACE, OLDER_NAMESPACE).encode())
    limits, shaper, cube = found.process_nodes
    assert (limits.min_in_value, limits.max_in_value) == (lut.low, lut.high)
    assert (limits.min_out_value, limits.max_out_value) == (0.0, 1.0)
    assert np.array_equal(np.ravel(shaper.array.as_array()), lut.shaper)
    assert np.array_equal(cube.array.as_array(), lut.table)
    assert cube.interpolation.value == TETRAHEDRAL
    assert (found.name, found.description) == ("name", ["made", "line"])
    assert (found.input_descriptor, found.output_descriptor) == ("in", "out")


# The exact trim computed from codes, as a transcoder feeds a LUT: the nodes of a side that fall on whole codes.
# Worst measured: 3.4e-7, OpenColorIO being in float32.
@pytest.mark.parametrize("words", INPUTS)
@pytest.mark.parametrize("ending", ["clf", "cube"])
def test_a_baked_file_gives_the_exact_trim_at_its_nodes_through_opencolorio(tmp_path, ocio_file, words, ending):
    lut_input = input_named(words)
    chain = chain_of(Rendition("trial", "bt2390", "gamut_hue"), lut_input.encoding)
    lut = bake(chain, lut_input, 17, ReferenceEngine())
    path = tmp_path / f"lut.{ending}"
    write_lut(path, lut, NOTES)
    place = np.array([0.0, 1.0, 7.0, 15.0, 16.0]) / 16.0
    if lut.shaper is not None:
        place = np.interp(place, lut.shaper, np.linspace(0.0, 1.0, len(lut.shaper)))
    signal = np.stack(np.meshgrid(place, place, place), axis=-1).reshape(-1, 3) * lut_input.top_signal
    exact = render_signal(signal, chain_for(chain, lut_input))
    found = ocio_file(path, TETRAHEDRAL, lut_input.values_of_signal(signal))
    np.testing.assert_allclose(found, exact, rtol=0, atol=1e-6)


def test_narrow_range_values_are_codes_over_the_largest_code():
    """BT.2100-3, Table 9: 64 and 940 at 10 bits, 256 and 3760 at 12; HLG goes on to the last code, PQ ends at 1."""
    ten, twelve = input_named("pq,bt2020,narrow"), input_named("pq,bt2020,narrow,12")
    assert (ten.low, ten.high) == (64.0 / 1023.0, 940.0 / 1023.0)
    assert (twelve.low, twelve.high) == (256.0 / 4095.0, 3760.0 / 4095.0)
    hlg = input_named("hlg,bt2020,narrow")
    assert (hlg.low, hlg.high) == (64.0 / 1023.0, pytest.approx(1.0, abs=1e-15))
    assert hlg.top_signal == pytest.approx((1023.0 - 64.0) / 876.0)
    full = input_named("pq,p3-d65,full")
    assert (full.low, full.high) == (0.0, 1.0)


def test_the_shaper_lays_the_masters_peak_on_a_node_of_every_size():
    lut_input = input_named("pq,bt2020,full", peak=1000.0)
    shaper = peak_shaper(lut_input)
    place = np.interp(lut_input.peak_place, np.linspace(0.0, 1.0, len(shaper)), shaper)
    # ST 2084: 1000 cd/m2 is the signal 0.751827; from the published formula.
    assert lut_input.peak_place == pytest.approx(0.751827, abs=1e-6)
    for size in (17, 33, 65):
        assert place * (size - 1) == pytest.approx(15 * (size - 1) / 16, abs=0.02)
    assert peak_shaper(input_named("pq,bt2020,full", peak=10000.0)) is None


def test_input_of_a_picture_in_another_encoding_goes_through_light():
    from tonemap.colorimetry import conversion_matrix
    from tonemap.picture import Picture
    from tonemap.transfer import pq_eotf_inverse

    light = np.array([[[100.0, 100.0, 100.0], [300.0, 50.0, 20.0]]])
    lut_input = input_named("pq,p3-d65,narrow")
    values = lut_input.values_of(Picture(light, Encoding("linear")))
    # The signal of 100 cd/m2 is 0.508078 (ST 2084); grey keeps its value in other primaries of the same white.
    assert values[0, 0] == pytest.approx((0.508078 * 876.0 + 64.0) / 1023.0, abs=1e-6)
    in_p3 = conversion_matrix("bt2020", "p3-d65") @ light[0, 1]
    assert values[0, 1] == pytest.approx((pq_eotf_inverse(in_p3) * 876.0 + 64.0) / 1023.0, abs=1e-9)
