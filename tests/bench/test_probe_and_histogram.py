"""The probe against the reference engine, and the histogram against a plain count."""

import colour
import numpy as np
import pytest

from tonemap.colorimetry import PRIMARIES, conversion_matrix, convert, luminance, matrix_to_xyz
from tonemap.encoding import Encoding, decode, signal_to_light
from tonemap.picture import Picture
from tonemap.reference import ReferenceEngine
from tonemap.rendition import Rendition, chain_of
from tonemap.starters import starter_renditions
from tonemap.transfer import pq_eotf, pq_eotf_inverse
from viewer.bench.histogram import BINS, luminance_histogram
from viewer.bench.probe import read_master, read_rendition

RANDOM = np.random.default_rng(3)
CODES = Picture(RANDOM.integers(0, 1024, (9, 13, 3)).astype(np.uint16), Encoding("pq", "bt2020", "full", 10))
LIGHT = Picture(RANDOM.random((9, 13, 3)).astype(np.float32) * 900.0, Encoding("linear", "p3-d65"))


@pytest.mark.parametrize("picture", [CODES, LIGHT], ids=["codes", "light"])
@pytest.mark.parametrize("rendition", starter_renditions(), ids=lambda rendition: rendition.name)
def test_a_reading_is_the_reference_at_that_pixel(picture, rendition, host):
    chain = chain_of(rendition, picture.encoding, host)
    signal, codes = ReferenceEngine().signal(picture, chain), ReferenceEngine().codes(picture, chain)
    for column, row in ((0, 0), (12, 8), (5, 2)):
        reading = read_rendition(picture, chain, column, row)
        assert reading.codes == tuple(codes[row, column])
        assert reading.signal == pytest.approx(tuple(signal[row, column]), abs=1e-12)
        light = signal_to_light(signal[row, column], rendition.target)
        assert reading.luminance == pytest.approx(float(matrix_to_xyz(PRIMARIES["bt709"])[1] @ light))
        shown = convert(light, conversion_matrix("bt709", "bt2020"))
        master = decode(picture.samples[row, column], picture.encoding)
        # colour-science, BT.2100-2 and BT.2124: hue and difference in ICtCp
        ictcp, other = (colour.models.RGB_to_ICtCp(each, method="ITU-R BT.2100-2 PQ") for each in (shown, master))
        if np.hypot(*ictcp[1:]) > 0.01:
            assert reading.hue == pytest.approx(np.degrees(np.arctan2(ictcp[2], ictcp[1])) % 360.0, abs=0.05)
        if luminance(master) <= 100.0:
            assert reading.difference == pytest.approx(float(colour.difference.delta_E_ITP(ictcp, other)), abs=0.02)
        else:
            assert reading.difference is None


@pytest.mark.parametrize("picture", [CODES, LIGHT], ids=["codes", "light"])
def test_the_master_is_read_as_samples_light_and_luminance(picture):
    reading = read_master(picture, 7, 3)
    light = decode(picture.samples[3, 7], picture.encoding)
    assert reading.samples == tuple(float(value) for value in picture.samples[3, 7])
    assert reading.are_codes == (picture is CODES)
    assert reading.light == pytest.approx(tuple(light))
    assert reading.luminance == pytest.approx(float(luminance(light)))


def test_a_target_without_bits_has_no_codes(host):
    target = Encoding("bt1886", "bt709", peak=100.0)
    chain = chain_of(Rendition("float", "bt2390", target=target), CODES.encoding, host)
    assert read_rendition(CODES, chain, 1, 1).codes is None


def test_the_histogram_counts_every_pixel_of_a_small_picture():
    histogram = luminance_histogram(LIGHT)
    assert histogram.step == 1
    assert histogram.counts.sum() == LIGHT.rows * LIGHT.columns
    bins = (pq_eotf_inverse(luminance(decode(LIGHT.samples, LIGHT.encoding))) * BINS).astype(int)
    assert (histogram.counts == np.bincount(bins.ravel(), minlength=BINS)).all()


def test_the_histogram_of_a_large_picture_says_what_it_skips():
    grey = np.full((300, 400, 3), pq_eotf(np.array(0.5001)), np.float32)
    histogram = luminance_histogram(Picture(grey, Encoding("linear")), most_pixels=10_000)
    assert histogram.step == 4
    assert histogram.counts[BINS // 2] == 75 * 100
