"""Code values come out of a file exactly as they went in: every code of every bit depth."""

import numpy as np
import pytest

from tonemap.media.oiio import read_picture
from tonemap.media.wishes import EncodingWishes

PQ = EncodingWishes("pq", "bt2020", "narrow")


def every_code(bits, rows=4):
    """All codes in each channel, in another order in each."""
    codes = np.arange(1 << bits, dtype=np.uint16).reshape(rows, -1)
    return np.stack([codes, codes[::-1], codes[:, ::-1]], axis=2)


@pytest.mark.parametrize("order", [">", "<"])
@pytest.mark.parametrize("bits", [10, 12, 16])
def test_every_dpx_code_is_read_exactly(write_dpx, bits, order):
    codes = every_code(bits)
    read = read_picture(write_dpx("all.dpx", codes, bits, order=order), PQ)
    np.testing.assert_array_equal(read.picture.samples, codes)
    assert read.picture.samples.dtype == np.uint16
    assert read.picture.encoding.bits == bits
    assert read.origins["bits"] == "default (by the format)"


@pytest.mark.parametrize("bits", [8, 10, 12, 16])
def test_every_tiff_code_is_read_exactly(write_tiff, bits):
    codes = every_code(bits)
    read = read_picture(write_tiff("all.tif", codes, bits), PQ)
    np.testing.assert_array_equal(read.picture.samples, codes)
    assert read.picture.encoding.bits == bits


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_every_png_code_is_read_exactly(write_png, dtype):
    bits = 8 * np.dtype(dtype).itemsize
    codes = every_code(bits)
    read = read_picture(write_png("all.png", codes.astype(dtype)), PQ)
    np.testing.assert_array_equal(read.picture.samples, codes)
    assert read.picture.encoding.bits == bits


@pytest.mark.parametrize("bits", [8, 10, 12])
@pytest.mark.parametrize("widening", ["zeros", "repeated", "scaled"])
def test_codes_widened_to_16_bits_are_narrowed_when_the_user_says_the_bits(write_png, bits, widening):
    codes = every_code(bits)
    widened = {
        "zeros": codes << (16 - bits),
        "repeated": codes << (16 - bits) | codes >> max(2 * bits - 16, 0),
        "scaled": np.round(codes * (65535.0 / ((1 << bits) - 1))).astype(np.uint16),
    }[widening]
    read = read_picture(write_png("wide.png", widened), EncodingWishes("pq", "bt2020", "narrow", bits))
    np.testing.assert_array_equal(read.picture.samples, codes)
    assert (read.picture.encoding.bits, read.origins["bits"]) == (bits, "said by the user")


@pytest.mark.parametrize("dtype", [np.float16, np.float32])
def test_float_samples_are_read_exactly_as_float32(write_oiio, dtype):
    samples = np.linspace(-1.0, 4000.0, 60).reshape(4, 5, 3).astype(dtype)
    read = read_picture(write_oiio("light.exr", samples), EncodingWishes("linear", "bt2020", unit=1.0))
    assert read.picture.samples.dtype == np.float32
    np.testing.assert_array_equal(read.picture.samples, samples.astype(np.float32))
    assert read.origins["signal_range"] == "default (by the format)"


def test_colour_is_not_multiplied_by_alpha(write_oiio):
    samples = np.full((2, 2, 4), 40000, np.uint16)
    samples[..., 3] = 30000
    path = write_oiio("alpha.png", samples, oiio__UnassociatedAlpha=1)
    assert np.all(read_picture(path, PQ).picture.samples == 40000)
