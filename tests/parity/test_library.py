"""The functions of the shader library against their NumPy twins in float64, one by one; they are an author's tools.

Bounds are about twice the worst that was measured on llvmpipe; the figure stands beside each.
"""

import numpy as np
import pytest

from tonemap import colorimetry, transfer
from tonemap.gamut import remaining_room
from tonemap.signal_range import quantise

from .glsl import evaluate

SIGNAL = np.linspace(0.05, 1.0, 60_000).astype(np.float32).reshape(-1, 3)
DARK = np.geomspace(1e-4, 0.15, 60_000).astype(np.float32).reshape(-1, 3)
LIGHT = transfer.pq_eotf(np.random.default_rng(4).random((60_000, 3))).astype(np.float32)
HLG = "Display(1000.0, 1.2, 0.0, 0.0, 0.0)"
LIFT = float(np.float32(transfer.hlg_black_lift(1000.0, 0.5)))
HLG_LIFTED = f"Display(1000.0, 1.2, 0.0, {LIFT!r}, 0.0)"


def three(function: str) -> str:
    """Return a GLSL expression that calls a function of one number for each channel."""
    return "vec3(" + ", ".join(function.format(x=f"x.{channel}") for channel in "rgb") + ")"


RELATIVE = [
    # name, expression, input, twin, bound; measured
    ("power", "power(x, 1.0 / 2.4)", SIGNAL, lambda x: x ** np.float64(np.float32(1.0 / 2.4)), 5e-7),  # 2.4e-7
    (
        "exp_minus_one",
        three("exp_minus_one(-0.3 * {x})"),
        SIGNAL,
        lambda x: np.expm1(-np.float32(0.3) * x),
        8e-7,
    ),  # 3.9e-7
    ("log_one_plus", three("log_one_plus(3.0 * {x})"), SIGNAL, lambda x: np.log1p(3.0 * x), 6e-7),  # 3.2e-7
    ("pq_eotf", "pq_eotf(x)", SIGNAL, transfer.pq_eotf, 1.4e-6),  # 6.7e-7
    ("pq_eotf below 1 cd/m2", "pq_eotf(x)", DARK, transfer.pq_eotf, 1.4e-6),  # 6.4e-7
    ("hlg_eotf", f"hlg_eotf(x, {HLG})", SIGNAL, lambda x: transfer.hlg_eotf(x, 1000.0), 1.1e-6),  # 5.3e-7
    ("luminance", "vec3(luminance(x))", LIGHT, lambda x: np.repeat(colorimetry.luminance(x)[:, None], 3, 1), 4e-7),
    ("lms_from_light", "lms_from_light(x)", LIGHT, colorimetry.lms_from_light, 4e-7),  # 1.7e-7
    ("remaining_room", three("remaining_room(2.0 * {x}, 1.6, 0.8)"), SIGNAL[:-9000], None, 7e-7),  # 3.3e-7
]
ABSOLUTE = [
    (
        "hlg_eotf_inverse of a display whose black is not 0",
        f"hlg_eotf_inverse(1000.0 * x, {HLG_LIFTED})",
        SIGNAL,
        lambda x: transfer.hlg_eotf_inverse(1000.0 * x, 1000.0, 0.5),
        2.4e-7,
    ),  # 1.1e-7
    ("pq_eotf_inverse", "pq_eotf_inverse(x)", LIGHT, transfer.pq_eotf_inverse, 5e-7),  # 2.3e-7
    ("ictcp_from_light", "ictcp_from_light(x)", LIGHT, colorimetry.ictcp_from_light, 2.4e-6),  # 1.2e-6
    (
        "srgb_eotf_inverse",
        "srgb_eotf_inverse(x * 100.0, Display(100.0, 1.0, 0.0, 0.0, 0.0))",
        SIGNAL,
        None,
        4e-7,
    ),  # 1.8e-7
]
TWINS = {
    "remaining_room": lambda x: remaining_room(2.0 * x, np.float64(np.float32(1.6)), np.float64(np.float32(0.8))),
    "srgb_eotf_inverse": lambda x: transfer.srgb_eotf_inverse(100.0 * x, 100.0),
}


def differences(engine, name, expression, values, twin):
    includes = ("lib/colorimetry.glsl", "lib/gamut.glsl")
    exact = (twin or TWINS[name])(values.astype(np.float64))
    return np.abs(evaluate(engine, expression, values, *includes) - exact), np.abs(exact)


@pytest.mark.parametrize(("name", "expression", "values", "twin", "bound"), RELATIVE, ids=[row[0] for row in RELATIVE])
def test_function_agrees_relative_to_its_value(engine, name, expression, values, twin, bound):
    difference, size = differences(engine, name, expression, values, twin)
    assert (difference / np.maximum(size, 1e-6)).max() < bound


@pytest.mark.parametrize(("name", "expression", "values", "twin", "bound"), ABSOLUTE, ids=[row[0] for row in ABSOLUTE])
def test_function_agrees(engine, name, expression, values, twin, bound):
    difference, _ = differences(engine, name, expression, values, twin)
    assert difference.max() < bound


def test_light_survives_a_round_trip_through_ictcp(engine):
    """Relative to the largest channel; measured 8.3e-6."""
    result = evaluate(engine, "light_from_ictcp(ictcp_from_light(x))", LIGHT, "lib/colorimetry.glsl")
    assert (np.abs(result - LIGHT).max(axis=1) / LIGHT.max(axis=1)).max() < 1.7e-5


def test_quantise_rounds_half_up(engine):
    codes = np.arange(64, 940, dtype=np.float32)
    signal = np.repeat(((codes - 64.0) / 876.0)[:, np.newaxis], 3, axis=1)
    result = evaluate(engine, "quantise(x, 876.0, 64.0, 1023.0)", signal, "lib/signal_range.glsl")
    assert (result == quantise(signal.astype(np.float64), 10, "narrow")).all()
