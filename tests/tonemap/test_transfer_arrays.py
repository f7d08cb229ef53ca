"""What every function on pixels keeps: the shape, the dtype and, in float32, the accuracy stated here."""

import numpy as np
import pytest

from tonemap import colorimetry as cm
from tonemap import transfer as tf
from tonemap.adjustments import InputAdjustments, apply_input_adjustments
from tonemap.cdl import Cdl, apply_cdl
from tonemap.difference import delta_e_itp

ADJUSTMENTS = InputAdjustments(exposure=0.7, contrast=1.2, pivot=26.0, saturation=1.3)
DECISION = Cdl((1.2, 1.0, 0.8), (0.05, -0.02, 0.0), (1.1, 0.9, 1.0), 0.8)

# Name: function, top of its nominal input, worst difference measured between float32 and float64 on 15 000 random
# values, relative to the largest result. PQ magnifies the rounding of its base; the rest is a few steps of float32.
PER_CHANNEL = {
    "pq_eotf": (tf.pq_eotf, 1.0, 4.9e-5),
    "pq_eotf_inverse": (tf.pq_eotf_inverse, 10000.0, 1.3e-5),
    "hlg_oetf": (tf.hlg_oetf, 1.0, 8.7e-8),
    "hlg_oetf_inverse": (tf.hlg_oetf_inverse, 1.0, 2.6e-7),
    "bt1886_eotf": (lambda x: tf.bt1886_eotf(x, 100.0, 0.005), 1.0, 1.7e-7),
    "bt1886_eotf_inverse": (lambda x: tf.bt1886_eotf_inverse(x, 100.0, 0.005), 100.0, 1.0e-7),
    "gamma_eotf": (lambda x: tf.gamma_eotf(x, 2.6, 48.0), 1.0, 7.9e-8),
    "gamma_eotf_inverse": (lambda x: tf.gamma_eotf_inverse(x, 2.6, 48.0), 48.0, 4.5e-8),
    "srgb_eotf": (lambda x: tf.srgb_eotf(x, 80.0), 1.0, 2.6e-7),
    "srgb_eotf_inverse": (lambda x: tf.srgb_eotf_inverse(x, 80.0), 80.0, 1.6e-7),
}
PER_PIXEL = {
    "hlg_eotf": (lambda x: tf.hlg_eotf(x, 1000.0, 0.005), 1.0, 3.9e-7),
    "hlg_eotf_inverse": (lambda x: tf.hlg_eotf_inverse(x, 1000.0, 0.005), 1000.0, 1.4e-7),
    "hlg_ootf": (lambda x: tf.hlg_ootf(x, 1000.0), 1.0, 9.4e-8),
    "hlg_ootf_inverse": (lambda x: tf.hlg_ootf_inverse(x, 1000.0), 1000.0, 1.0e-7),
    "convert": (lambda x: cm.convert(x, cm.conversion_matrix("p3-dci", "bt2020")), 100.0, 1.0e-7),
    "lms_from_light": (cm.lms_from_light, 1000.0, 7.1e-8),
    "ictcp_from_light": (cm.ictcp_from_light, 1000.0, 5.5e-5),
    "light_from_ictcp": (lambda x: cm.light_from_ictcp(cm.ictcp_from_light(x)), 1000.0, 2.9e-4),
    "apply_input_adjustments": (lambda x: apply_input_adjustments(x, ADJUSTMENTS), 1000.0, 1.7e-7),
    "apply_cdl": (lambda x: apply_cdl(x, DECISION), 1.0, 1.7e-7),
}
PER_PIXEL_TO_ONE_NUMBER = {
    "luminance": (cm.luminance, 1000.0, 9.7e-8),
    "delta_e_itp": (lambda x: delta_e_itp(x, x[..., ::-1]), 1000.0, 7.0e-5),
}
ALL = {**PER_CHANNEL, **PER_PIXEL, **PER_PIXEL_TO_ONE_NUMBER}


@pytest.mark.parametrize("dtype", [np.float32, np.float64])
@pytest.mark.parametrize("shape", [(), (1,), (3,), (5, 3), (2, 4, 3), (0, 3)], ids=str)
@pytest.mark.parametrize("name", PER_CHANNEL)
def test_functions_of_channels_keep_any_shape_and_the_dtype(name, shape, dtype):
    function, top, _ = PER_CHANNEL[name]
    result = function(np.full(shape, 0.4 * top, dtype))
    assert np.shape(result) == shape
    assert result.dtype == dtype


@pytest.mark.parametrize("dtype", [np.float32, np.float64])
@pytest.mark.parametrize("shape", [(3,), (5, 3), (2, 4, 3), (0, 3)], ids=str)
@pytest.mark.parametrize("name", [*PER_PIXEL, *PER_PIXEL_TO_ONE_NUMBER])
def test_functions_of_pixels_keep_the_shape_and_the_dtype(name, shape, dtype):
    function, top, _ = ALL[name]
    result = function(np.full(shape, 0.4 * top, dtype))
    assert np.shape(result) == (shape if name in PER_PIXEL else shape[:-1])
    assert result.dtype == dtype


@pytest.mark.parametrize("name", ALL)
def test_pixels_of_a_picture_are_treated_alike_and_alone(name):
    """A pixel depends on neither place nor neighbours; the order of a sum may, which Delta E magnifies by 1e3."""
    function, top, _ = ALL[name]
    picture = np.random.default_rng(4).random((3, 5, 3)) * top
    together = function(picture)
    for row, column in ((0, 0), (1, 4), (2, 2)):
        alone = function(picture[row, column])
        np.testing.assert_allclose(together[row, column], alone, rtol=2e-13)


@pytest.mark.parametrize("name", ALL)
def test_functions_leave_their_input_as_it_was(name):
    function, top, _ = ALL[name]
    picture = np.random.default_rng(5).random((4, 3)) * top
    kept = picture.copy()
    function(picture)
    assert np.array_equal(picture, kept)


@pytest.mark.parametrize("name", ALL)
def test_float32_is_as_near_to_float64_as_stated(name):
    """Twice the measured figure: another C library rounds its powers differently."""
    function, top, measured = ALL[name]
    values = (np.random.default_rng(32).random((5000, 3)) * top).astype(np.float32)
    exact = function(values.astype(np.float64))
    difference = np.abs(function(values).astype(np.float64) - exact).max() / np.abs(exact).max()
    assert difference <= 2.0 * measured
