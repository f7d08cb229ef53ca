"""Odd pictures work, with a notice where something is left out, or are refused in one sentence."""

from typing import Any

import numpy as np
import OpenImageIO
import pytest

from tonemap.errors import TrimbenchError
from tonemap.media.oiio import read_picture
from tonemap.media.wishes import EncodingWishes

oiio: Any = OpenImageIO

PQ = EncodingWishes("pq", "bt2020", "full")
LIGHT = EncodingWishes("linear", "bt2020", unit=1.0)


def ramp(rows, columns, channels, dtype=np.float32):
    return np.arange(rows * columns * channels).reshape(rows, columns, channels).astype(dtype)


def refusal(path, wishes=LIGHT):
    with pytest.raises(TrimbenchError) as caught:
        read_picture(path, wishes)
    assert caught.value.exit_status == 1
    return str(caught.value)


def test_one_pixel(write_oiio):
    for name, dtype in (("one.exr", np.float16), ("one.dpx", np.uint16), ("one.png", np.uint8), ("one.tif", np.uint16)):
        read = read_picture(write_oiio(name, ramp(1, 1, 3, dtype)), LIGHT if dtype == np.float16 else PQ)
        assert read.picture.samples.tolist() == [[[0, 1, 2]]], name


def test_16384_columns(write_oiio):
    samples = ramp(2, 16384, 3, np.float32)
    read = read_picture(write_oiio("wide.exr", samples), LIGHT)
    np.testing.assert_array_equal(read.picture.samples, samples)


@pytest.mark.parametrize("name", ["tiled.exr", "tiled.tif"])
def test_tiled(write_oiio, name):
    def tiles(spec):
        spec.tile_width = spec.tile_height = 16

    samples = ramp(33, 50, 3)
    read = read_picture(write_oiio(name, samples, setup=tiles), LIGHT)
    np.testing.assert_array_equal(read.picture.samples, samples)


def test_alpha_is_left_out_with_a_notice(write_oiio):
    samples = ramp(3, 4, 4, np.uint16)
    read = read_picture(write_oiio("alpha.tif", samples), PQ)
    np.testing.assert_array_equal(read.picture.samples, samples[..., :3])
    assert read.channels == ("R", "G", "B")
    assert read.notices == ("the alpha channel is not used",)


def test_one_channel_is_shown_as_grey_with_a_notice(write_oiio):
    samples = ramp(3, 4, 1)
    read = read_picture(write_oiio("grey.exr", samples), LIGHT)
    np.testing.assert_array_equal(read.picture.samples, samples.repeat(3, axis=2))
    assert read.channels == ("Y",)
    assert read.notices == ("the only channel, Y, is shown as grey",)


def test_grey_with_alpha_is_shown_as_grey_with_notices(write_oiio):
    samples = ramp(3, 4, 2, np.uint8)
    read = read_picture(write_oiio("grey.png", samples, oiio__UnassociatedAlpha=1), PQ)
    np.testing.assert_array_equal(read.picture.samples, samples[..., :1].repeat(3, axis=2))
    assert read.notices == ("the only channel, Y, is shown as grey", "the alpha channel is not used")


def test_two_channels_are_refused(write_oiio):
    path = write_oiio("two.tif", ramp(2, 2, 2, np.uint8))
    assert refusal(path, PQ) == f"{path}: the channels are R, G; save the picture as R, G and B"


def test_the_one_layer_with_rgb_is_shown(write_oiio):
    samples = ramp(2, 3, 6)
    path = write_oiio("layer.exr", samples, ("Z", "beauty.R", "beauty.G", "beauty.B", "beauty.A", "spec.R"))
    read = read_picture(path, LIGHT)
    np.testing.assert_array_equal(read.picture.samples, samples[..., 1:4])
    assert read.channels == ("beauty.R", "beauty.G", "beauty.B")
    assert read.notices == (
        "the layer 'beauty' is shown",
        "the alpha channel is not used",
        "these channels are not shown: Z, spec.R",
    )


def test_rgb_without_a_layer_is_shown_before_layers(write_oiio):
    samples = ramp(2, 3, 6)
    read = read_picture(write_oiio("layers.exr", samples, ("R", "G", "B", "key.R", "key.G", "key.B")), LIGHT)
    np.testing.assert_array_equal(read.picture.samples, samples[..., :3])
    assert read.notices == ("these channels are not shown: key.R, key.G, key.B",)


def test_several_layers_are_refused_by_name(write_oiio):
    path = write_oiio("layers.exr", ramp(2, 3, 6), ("a.R", "a.G", "a.B", "b.R", "b.G", "b.B"))
    assert refusal(path) == (
        f"{path}: there are several layers with R, G and B (a, b); save the one to be shown as a file of its own"
    )


def test_luminance_and_chroma_is_refused(write_oiio):
    path = write_oiio("chroma.exr", ramp(2, 2, 3), ("Y", "RY", "BY"))
    assert refusal(path) == f"{path}: the picture is stored as luminance and chroma; save it as R, G and B"


@pytest.mark.parametrize(
    ("size", "origin"),
    [((8, 6), (-2, -1)), ((2, 1), (1, 2)), ((4, 4), (2, -3)), ((3, 9), (-1, 0))],
    ids=["overscan", "inside", "corner", "tall"],
)
def test_data_window_is_placed_in_the_display_window(write_oiio, size, origin):
    columns, rows = size
    samples = 1.0 + ramp(rows, columns, 3)

    def windows(spec):
        spec.x, spec.y = 100 + origin[0], 50 + origin[1]
        spec.full_x, spec.full_y, spec.full_width, spec.full_height = 100, 50, 4, 5

    read = read_picture(write_oiio("window.exr", samples, setup=windows), LIGHT)
    for row in range(5):
        for column in range(4):
            y, x = row - origin[1], column - origin[0]
            expected = samples[y, x] if 0 <= y < rows and 0 <= x < columns else np.zeros(3)
            np.testing.assert_array_equal(read.picture.samples[row, column], expected)
    assert read.picture.samples.shape == (5, 4, 3)
    assert read.notices == (
        f"the data window ({columns} x {rows} at {origin[0]}, {origin[1]}) is placed in the display window (4 x 5)",
    )


def test_data_window_outside_the_display_window_is_refused(write_oiio):
    def windows(spec):
        spec.x = 10
        spec.full_x, spec.full_y, spec.full_width, spec.full_height = 0, 0, 4, 4

    path = write_oiio("outside.exr", ramp(4, 4, 3), setup=windows)
    assert refusal(path) == f"{path}: the data window lies outside the display window; export it again"


def write_parts(path, parts):
    specs = []
    for name, channels in parts:
        spec = oiio.ImageSpec(4, 3, len(channels), "float")
        spec.channelnames = channels
        spec["oiio:subimagename"] = name
        specs.append(spec)
    output = oiio.ImageOutput.create(str(path))
    assert output.open(str(path), tuple(specs))
    for index, spec in enumerate(specs):
        if index:
            assert output.open(str(path), spec, "AppendSubimage")
        assert output.write_image(np.full((3, 4, spec.nchannels), index + 1, np.float32))
    assert output.close()


def test_the_one_part_with_rgb_is_shown(tmp_path):
    path = tmp_path / "parts.exr"
    write_parts(path, [("depth", ("Z",)), ("picture", ("R", "G", "B", "A"))])
    read = read_picture(path, LIGHT)
    assert np.all(read.picture.samples == 2.0)
    assert read.notices == ("the part 'picture' of 2 is shown", "the alpha channel is not used")


def test_several_parts_with_rgb_are_refused_by_name(tmp_path):
    path = tmp_path / "parts.exr"
    write_parts(path, [("left", ("R", "G", "B")), ("right", ("R", "G", "B"))])
    assert refusal(path) == (
        f"{path}: there are several parts with R, G and B (left, right); save the one to be shown as a file of its own"
    )


def test_deep_is_refused(tmp_path):
    path = tmp_path / "deep.exr"
    spec = oiio.ImageSpec(2, 2, 3, "float")
    spec.deep = True
    data = oiio.DeepData()
    data.init(4, 3, "float", ("R", "G", "B"))
    data.set_samples(0, 1)
    output = oiio.ImageOutput.create(str(path))
    assert output.open(str(path), spec)
    assert output.write_deep_image(data)
    assert output.close()
    assert refusal(path) == f"{path}: this is a deep picture; flatten it first"


def test_cmyk_is_refused(write_oiio):
    path = write_oiio("cmyk.tif", ramp(2, 2, 4, np.uint8), ("C", "M", "Y", "K"), tiff__ColorSpace="CMYK")
    assert refusal(path, PQ) == f"{path}: the picture is not stored as R, G and B; save it as R, G and B"


def test_dpx_of_luma_and_chroma_is_refused(write_dpx):
    path = write_dpx("chroma.dpx", ramp(2, 4, 3, np.uint16), 10, descriptor=102)
    assert refusal(path, PQ) == f"{path}: the channels are Cb, Y, Cr; save the picture as R, G and B"


@pytest.mark.parametrize(("bits", "kind"), [(32, "uint"), (14, "uint16"), (4, "uint8")])
def test_other_integer_samples_are_refused(write_tiff, bits, kind):
    path = write_tiff("other.tif", ramp(2, 2, 3, np.uint8), bits)
    assert refusal(path, PQ) == (
        f"{path}: the samples are {kind} of {bits} bits; "
        "save them as half, float or unsigned integers of 8, 10, 12 or 16 bits"
    )


def test_orientation_and_aspect_are_noticed(write_oiio):
    path = write_oiio("turned.tif", ramp(2, 2, 3, np.uint8), Orientation=6, PixelAspectRatio=2.0)
    assert read_picture(path, PQ).notices == (
        "the orientation tag (6) is not applied",
        "the pixels are not square (aspect 2) and are shown as squares",
    )


def test_only_the_first_page_is_shown(tmp_path):
    path = tmp_path / "pages.tif"
    spec = oiio.ImageSpec(2, 2, 3, "uint8")
    output = oiio.ImageOutput.create(str(path))
    for index, mode in enumerate(("Create", "AppendSubimage")):
        assert output.open(str(path), spec, mode)
        assert output.write_image(np.full((2, 2, 3), 10 * index, np.uint8))
    assert output.close()
    read = read_picture(path, PQ)
    assert np.all(read.picture.samples == 0)
    assert read.notices == ("the first of 2 pictures in the file is shown",)
