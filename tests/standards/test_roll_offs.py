"""The simple roll-offs against check values and a second, scalar implementation.

Check values are computed from the formulas, in float64: y(x) for light of x times a white of 100 cd/m2 and a master of
1000. Reinhard et al. 2002, eq. 4, and the formulas of Michaelis and Menten 1913 and Naka and Rushton 1966 are from
memory; the other curves are common practice, no source.
"""

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from tonemap.host import evaluate_parameters, find_operators
from tonemap.operator import Levels, Values
from tonemap.parity import parameter_sets

HOST = find_operators()
LEVELS = Levels(0.0, 1000.0, 0.0, 100.0)
X = (0.18, 0.5, 0.75, 1.0, 2.03, 4.0, 10.0)
LUMINANCE = (0.2627002120112671, 0.6779980715188708, 0.05930171646986196)  # BT.2020-2, from its chromaticities

CHECKS = {
    "reinhard w=10": ("reinhard_extended", {}, (0.152817, 0.335000, 0.431786, 0.505000, 0.683567, 0.832000, 1.000000)),
    "reinhard w=4": (
        "reinhard_extended",
        {"reach": math.log2(0.4)},
        (0.154258, 0.343750, 0.448661, 0.531250, 0.754969, 1.000000, 1.000000),  # the published curve passes 1 here
    ),
    "exponential": (
        "exponential",
        {"start": 0.0},
        (0.164730, 0.393469, 0.527633, 0.632121, 0.868664, 0.981684, 0.999955),
    ),
    "exponential k=0.5": (
        "exponential",
        {"start": 50.0},
        (0.180000, 0.500000, 0.696735, 0.816060, 0.976556, 0.999544, 1.000000),
    ),
    "logarithmic k=0.5": (
        "logarithmic",
        {"start": 50.0},
        (0.180000, 0.500000, 0.631580, 0.690544, 0.801420, 0.890007, 1.000000),
    ),
    "naka-rushton n=0.9 s=0.5": (
        "michaelis_menten",
        {"half_level": 50.0, "hardness": 0.9},
        (0.304294, 0.533732, 0.630050, 0.695015, 0.831778, 0.925098, 1.000000),
    ),
    "michaelis-menten s=0.18": (
        "michaelis_menten",
        {"half_level": 18.0},
        tuple(y / 0.982318 for y in (0.500000, 0.735294, 0.806452, 0.847458, 0.918552, 0.956938, 0.982318)),
    ),
    "hard clip": ("hard_clip", {}, (0.18, 0.5, 0.75, 1.0, 1.0, 1.0, 1.0)),
    "linear scale 203": (
        "linear_scale",
        {},
        (18.0 / 203.0, 50.0 / 203.0, 75.0 / 203.0, 100.0 / 203.0, 1.0, 1.0, 1.0),
    ),
}


def values_at(name: str, settings: dict[str, float | str | bool], levels: Levels = LEVELS) -> Values:
    return evaluate_parameters(HOST.get(name), settings, levels)


@pytest.mark.parametrize("application", ["per_channel", "max_rgb", "luminance"])
@pytest.mark.parametrize("check", CHECKS)
def test_greys_match_the_check_values(check, application):
    name, settings, expected = CHECKS[check]
    values = values_at(name, {**settings, "application": application})
    light = 100.0 * np.repeat(np.array(X)[:, np.newaxis], 3, axis=1)
    result = HOST.get(name).apply(light, values) / 100.0
    np.testing.assert_allclose(result, np.repeat(np.array(expected)[:, np.newaxis], 3, axis=1), rtol=0, atol=1.1e-6)


def test_bend_of_the_logarithmic_shoulder_matches_its_computed_value():
    """The table's a is 8.897688 for a room of half the white: bend = a (1 - k)."""
    assert values_at("logarithmic", {"start": 50.0}).bend == pytest.approx(8.897688 * 0.5, abs=5.1e-7)


# The second implementation: one curve a level, one pixel a call.


def pq_signal(level: float) -> float:
    y = (max(level, 0.0) / 10000.0) ** 0.1593017578125
    return ((0.8359375 + 18.8515625 * y) / (1.0 + 18.6875 * y)) ** 78.84375


def pq_nits(signal: float) -> float:
    root = signal ** (1.0 / 78.84375)
    return 10000.0 * (max(root - 0.8359375, 0.0) / (18.8515625 - 18.6875 * root)) ** (1.0 / 0.1593017578125)


def second_knee(level: float, p: Values, top: float, white: float) -> float:
    """Integrate the slope: 1, falling evenly through the corner to the upper line's, and that line to the landing."""
    x, start, ceiling, end = (pq_signal(item) for item in (level, p.start, top, white))
    start = min(start, ceiling)
    if end <= ceiling:
        return min(level, top)
    half, steep = p.softness * min(start, end - start), (ceiling - start) / (end - start)
    if x <= start - half:
        y = x
    elif x >= start + half:
        y = start + steep * (x - start)
    else:
        share = (x - (start - half)) / (2.0 * half)
        y = (start - half) + (x - (start - half)) * (1.0 + (1.0 + share * (steep - 1.0))) / 2.0
    return min(pq_nits(min(y, 1.0)), top)


def second_shoulder(name: str, level: float, p: Values, top: float, white: float) -> float:
    """Return the roll-offs that are straight up to their start; the shoulder is worked out in shares of the room."""
    start = min(p.start, top)
    if level <= start:
        return level
    if start == top:
        return top
    x, k = level / top, start / top
    span = (white / top - k) / (1.0 - k) if name != "exponential" else math.inf
    u = (x - k) / (1.0 - k)
    if name == "exponential":
        y = (1.0 - math.exp(-(1.0 - p.hardness) * u)) / (1.0 - p.hardness)
    elif span <= 1.0001:
        y = u
    elif u >= span:
        y = 1.0
    elif name == "reinhard_extended":
        y = u * (1.0 + u / span**2) / (1.0 + u)
    else:
        bend = brentq(lambda a: math.log1p(a * span) / a - 1.0, 1e-7, span, xtol=1e-15, rtol=1e-15)
        y = math.log(1.0 + bend * u) / bend
    return top * (k + (1.0 - k) * min(y, 1.0))


def second_curve(name: str, level: float, p: Values) -> float:
    top = p.levels.target_peak * 2.0**p.landing
    white = p.levels.source_peak * 2.0 ** getattr(p, "reach", 0.0) if hasattr(p, "reach") else 0.0
    if name == "hard_clip":
        return min(level, top)
    if name == "linear_scale":
        return min(level / p.white, 1.0) * top
    if name == "michaelis_menten":
        response = [x**p.hardness / (x**p.hardness + p.half_level**p.hardness) for x in (level, white)]
        return min(response[0] / response[1], 1.0) * top
    if name == "knee":
        return second_knee(level, p, top, white)
    return second_shoulder(name, level, p, top, white)


def second_gain(name: str, p: Values) -> float:
    """Return the gain from which highlights are held back."""
    if name == "linear_scale":
        return p.levels.target_peak * 2.0**p.landing / p.white
    if name == "michaelis_menten":
        return second_curve(name, second_pivot(name, p), p) / second_pivot(name, p)
    return 1.0


def second_pivot(name: str, p: Values) -> float:
    """Return the level from which highlights are held back: grey, or where the slope of the toe's chord is largest."""
    if name != "michaelis_menten":
        return 0.0
    return max(26.0, p.half_level * max(p.hardness - 1.0, 0.0) ** (1.0 / p.hardness))


def second_pixel(name: str, pixel: list[float], p: Values) -> list[float]:
    weighed = math.fsum(weight * channel for weight, channel in zip(LUMINANCE, pixel, strict=True))
    if p.application == "per_channel":
        result = [second_curve(name, channel, p) for channel in pixel]
        before, after = max(pixel), max(result)
    else:
        before = max(pixel) if p.application == "max_rgb" else weighed
        after = second_curve(name, before, p)
        result = [channel * after / before for channel in pixel] if before > 0.0 else [0.0, 0.0, 0.0]
    lost = 1.0 - after / (second_gain(name, p) * before) if before > second_pivot(name, p) else 0.0
    paled = p.desaturation * min(max(lost, 0.0), 1.0)
    grey = math.fsum(weight * channel for weight, channel in zip(LUMINANCE, result, strict=True))
    return [(1.0 - paled) * channel + paled * grey for channel in result]


ROLL_OFFS = [name for name in HOST.operators if any(p.name == "landing" for p in HOST.get(name).parameters)]
SETS = [
    pytest.param(name, settings, id=f"{name}-{label}")
    for name in ROLL_OFFS
    for label, settings in parameter_sets(HOST.get(name)).items()
]


@pytest.mark.parametrize(("name", "settings"), SETS)
def test_roll_off_matches_the_second_implementation(name, settings):
    random = np.random.default_rng(13)
    light = np.array([pq_nits(signal) for signal in random.random(360)]).reshape(120, 3)
    light[:4] = [[0.0, 0.0, 0.0], [1000.0, 1000.0, 1000.0], [10000.0, 0.0, 0.0], [0.0, 5.0, 0.0]]
    for levels in (LEVELS, Levels(0.0, 400.0, 0.0, 203.0), Levels(0.005, 10000.0, 0.05, 600.0)):
        values = values_at(name, settings, levels)
        expected = np.array([second_pixel(name, pixel, values) for pixel in light.tolist()])
        result = HOST.get(name).apply(light, values)
        np.testing.assert_allclose(result, expected, rtol=1e-9, atol=1e-9, err_msg=str(levels))
