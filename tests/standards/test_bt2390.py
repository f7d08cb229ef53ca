"""The EETF of Report ITU-R BT.2390-7, section 5.4.1 (now Report BT.2408-9, Annex 5).

Check values are computed from the published formula, in float64. The second implementation is scalar, with PQ and the
Hermite polynomial as they are printed and the matrices of ICtCp inverted exactly.
"""

import math
from fractions import Fraction

import numpy as np
import pytest

from tonemap.errors import WrongCall
from tonemap.host import evaluate_parameters
from tonemap.operator import Levels, Values
from tonemap.operators.bt2390 import LUMINANCE_WEIGHTS, Bt2390
from tonemap.transfer import pq_eotf, pq_eotf_inverse

OPERATOR = Bt2390()

# LB, LW, Lmin, Lmax; maxLum, KS and the knee in cd/m2.
KNEES = [
    ((0.0, 1000.0, 0.0, 100.0), 0.675791, 0.513687, 27.858),
    ((0.0, 4000.0, 0.0, 100.0), 0.562922, 0.344383, 11.500),
    ((0.005, 10000.0, 0.005, 100.0), 0.500548, 0.250823, 6.098),
    ((0.0, 1000.0, 0.0, 203.0), 0.772370, 0.658555, 87.836),
    ((0.0, 4000.0, 0.0, 203.0), 0.643371, 0.465056, 40.199),
    ((0.005, 10000.0, 0.005, 203.0), 0.574270, 0.361406, 23.488),
    ((0.0, 1000.0, 0.0, 600.0), 0.926136, 0.889204, 463.988),
    ((0.0, 4000.0, 0.0, 1000.0), 0.832982, 0.749474, 499.396),
]

# cd/m2 in; PQ signal and cd/m2 out for masters of 0..1000, 0..4000 and 0.005..10000 cd/m2 (the target's black is the
# master's), where the level is in the master's range.
TO_100 = [
    (0.1, (0.062337, 0.1000), (0.062337, 0.1000), (0.062337, 0.1000)),
    (1.0, (0.149946, 1.0000), (0.149946, 1.0000), (0.149946, 1.0000)),
    (5.0, (0.247848, 5.0000), (0.247848, 5.0000), (0.247848, 5.0000)),
    (10.0, (0.299699, 10.0000), (0.299699, 10.0000), (0.297818, 9.7638)),
    (26.0, (0.380032, 26.0000), (0.372255, 23.8155), (0.362193, 21.2313)),
    (50.0, (0.432678, 46.1430), (0.414028, 37.7987), (0.400726, 32.7070)),
    (100.0, (0.471968, 69.4544), (0.449635, 55.1463), (0.435201, 47.3919)),
    (203.0, (0.495580, 88.2436), (0.476331, 72.6202), (0.462943, 63.3062)),
    (400.0, (0.505641, 97.5984), (0.493205, 86.1605), (0.482406, 77.2498)),
    (1000.0, (0.508078, 100.0000), (0.504817, 96.7996), (0.498721, 91.0704)),
    (4000.0, None, (0.508078, 100.0000), (0.507512, 99.4374)),
    (10000.0, None, None, (0.508078, 100.0000)),
]
TO_203 = [
    (10.0, (0.299699, 10.0000), (0.299699, 10.0000), (0.299699, 10.0000)),
    (26.0, (0.380032, 26.0000), (0.380032, 26.0000), (0.379904, 25.9626)),
    (50.0, (0.440282, 50.0000), (0.439421, 49.5490), (0.432937, 46.2701)),
    (100.0, (0.507435, 99.3611), (0.492904, 85.8995), (0.480387, 75.6817)),
    (203.0, (0.555335, 159.0419), (0.533002, 127.9345), (0.518569, 110.9779)),
    (400.0, (0.575744, 193.6091), (0.558349, 163.7492), (0.545355, 144.3494)),
    (600.0, (0.579823, 201.3242), (0.568138, 179.9683), (0.557085, 161.7595)),
    (1000.0, (0.580689, 203.0000), (0.575791, 193.6963), (0.567810, 179.3999)),
    (4000.0, None, (0.580689, 203.0000), (0.579910, 201.4919)),
    (10000.0, None, None, (0.580689, 203.0000)),
]
MASTERS = [(0.0, 1000.0), (0.0, 4000.0), (0.005, 10000.0)]
GREYS = [
    pytest.param(level, row[column], (black, peak, black, target), id=f"{level:g} of {black:g}..{peak:g} to {target:g}")
    for target, table in ((100.0, TO_100), (203.0, TO_203))
    for level, *row in table
    for column, (black, peak) in enumerate(MASTERS)
    if row[column] is not None
]

WAYS = ("per_channel", "max_rgb", "luminance", "intensity")

# Light in, light out and its luminance, 0..1000 to 0..100 cd/m2, for four of the Annex's ways to apply the curve.
PIXELS = {
    (203.0, 203.0, 203.0): dict.fromkeys(WAYS, ((88.2436, 88.2436, 88.2436), 88.2436)),
    (600.0, 200.0, 50.0): {
        "per_channel": ((99.575, 87.939, 46.143), 88.517),
        "max_rgb": ((99.575, 33.192, 8.298), 49.155),
        "luminance": ((191.471, 63.824, 15.956), 94.518),
        "intensity": ((176.263, 68.703, 20.899), 94.124),
    },
    (120.0, 70.0, 50.0): {
        "per_channel": ((75.038, 57.632, 46.143), 61.523),
        "max_rgb": ((75.038, 43.772, 31.266), 51.244),
        "luminance": ((92.194, 53.780, 38.414), 62.960),
        "intensity": ((90.937, 53.969, 38.950), 62.790),
    },
    (1000.0, 0.0, 0.0): {
        "per_channel": ((100.0, 0.0, 0.0), 26.270),
        "max_rgb": ((100.0, 0.0, 0.0), 26.270),
        "luminance": ((353.358, 0.0, 0.0), 92.827),
        "intensity": ((315.570, 12.946, 2.713), 91.839),
    },
    (0.0, 0.0, 1000.0): {
        "per_channel": ((0.0, 0.0, 100.0), 5.930),
        "max_rgb": ((0.0, 0.0, 100.0), 5.930),
        "luminance": ((0.0, 0.0, 876.090), 51.952),
        "intensity": ((-0.745, 10.498, 680.591), 47.281),
    },
}


def values_at(levels: tuple[float, float, float, float], **settings: float | str | bool) -> Values:
    return evaluate_parameters(OPERATOR, settings, Levels(*levels))


def nits(level: float, values: Values) -> float:
    return float(OPERATOR.curve(np.array(level), values))


# The second implementation.


def pq_signal(level: float) -> float:
    y = (max(level, 0.0) / 10000.0) ** 0.1593017578125
    return ((0.8359375 + 18.8515625 * y) / (1.0 + 18.6875 * y)) ** 78.84375


def pq_nits(signal: float) -> float:
    root = signal ** (1.0 / 78.84375)
    return 10000.0 * (max(root - 0.8359375, 0.0) / (18.8515625 - 18.6875 * root)) ** (1.0 / 0.1593017578125)


def second_eetf(signal: float, levels: tuple[float, float, float, float], offset: float) -> float:
    lb, lw, lmin, lmax = (pq_signal(level) for level in levels)
    e1 = min(max((signal - lb) / (lw - lb), 0.0), 1.0)
    min_lum, max_lum = (lmin - lb) / (lw - lb), (lmax - lb) / (lw - lb)
    ks = (1.0 + offset) * max_lum - offset
    if max_lum >= 1.0 or e1 < ks:
        e2 = e1
    else:
        t = (e1 - ks) / (1.0 - ks)
        e2 = (
            (2.0 * t**3 - 3.0 * t**2 + 1.0) * ks
            + (t**3 - 2.0 * t**2 + t) * (1.0 - ks)
            + (-2.0 * t**3 + 3.0 * t**2) * max_lum
        )
    e3 = e2 + min_lum * (1.0 - e2) ** 4
    return e3 * (lw - lb) + lb


def second_curve(level: float, levels: tuple[float, float, float, float], offset: float) -> float:
    return min(pq_nits(second_eetf(pq_signal(level), levels, offset)), levels[3])


def exact_inverse(matrix: list[list[int]]) -> list[list[Fraction]]:
    (a, b, c), (d, e, f), (g, h, i) = [[Fraction(item, 4096) for item in row] for row in matrix]
    determinant = a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g)
    adjugate = [
        [e * i - f * h, c * h - b * i, b * f - c * e],
        [f * g - d * i, a * i - c * g, c * d - a * f],
        [d * h - e * g, b * g - a * h, a * e - b * d],
    ]
    return [[item / determinant for item in row] for row in adjugate]


def times(matrix: list[list[float]], column: list[float]) -> list[float]:
    return [math.fsum(item * value for item, value in zip(row, column, strict=True)) for row in matrix]


# Recommendation ITU-R BT.2100-3, Table 7.
LMS = [[1688, 2146, 262], [683, 2951, 462], [99, 309, 3688]]
ICTCP = [[2048, 2048, 0], [6610, -13613, 7003], [17933, -17390, -543]]
TO_LMS, TO_ICTCP = ([[item / 4096 for item in row] for row in matrix] for matrix in (LMS, ICTCP))
FROM_LMS, FROM_ICTCP = ([[float(item) for item in row] for row in exact_inverse(matrix)] for matrix in (LMS, ICTCP))


def second_pixel(pixel: list[float], way: str, levels: tuple[float, float, float, float], offset: float) -> list[float]:
    if way == "per_channel":
        return [second_curve(channel, levels, offset) for channel in pixel]
    if way == "intensity":
        i1, ct, cp = times(TO_ICTCP, [pq_signal(cone) for cone in times(TO_LMS, pixel)])
        i2 = min(second_eetf(i1, levels, offset), pq_signal(levels[3]))
        k = min(i1 / i2, i2 / i1)
        return times(FROM_LMS, [pq_nits(cone) for cone in times(FROM_ICTCP, [i2, k * ct, k * cp])])
    red, green, blue = pixel
    drive = max(pixel) if way == "max_rgb" else 0.2627 * red + 0.6780 * green + 0.0593 * blue
    mapped = second_curve(drive, levels, offset)
    return [mapped] * 3 if drive == 0.0 else [channel * mapped / drive for channel in pixel]


@pytest.mark.parametrize(("levels", "max_lum", "knee", "knee_nits"), KNEES)
def test_knee_matches_its_computed_values(levels, max_lum, knee, knee_nits):
    values = values_at(levels)
    assert values.max_lum == pytest.approx(max_lum, abs=5.1e-7)
    assert values.knee == pytest.approx(knee, abs=5.1e-7)
    at_knee = pq_eotf(np.array(values.knee * values.pq_range + values.pq_black))
    assert float(at_knee) == pytest.approx(knee_nits, abs=5.1e-4)


@pytest.mark.parametrize(("level", "expected", "levels"), GREYS)
def test_greys_match_the_check_tables(level, expected, levels):
    values = values_at(levels)
    assert float(OPERATOR.eetf(pq_eotf_inverse(np.array(level)), values)) == pytest.approx(expected[0], abs=5.1e-7)
    assert nits(level, values) == pytest.approx(expected[1], abs=5.1e-5)
    assert OPERATOR.apply(np.full(3, level), values) == pytest.approx(np.full(3, expected[1]), abs=5.1e-5)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("pixel", PIXELS, ids=str)
def test_pixels_match_the_ways_of_the_annex(pixel, way):
    expected, luminance = PIXELS[pixel][way]
    result = OPERATOR.apply(np.array(pixel), values_at((0.0, 1000.0, 0.0, 100.0), application=way))
    assert result == pytest.approx(np.array(expected), abs=5.1e-4)
    assert float(result @ np.array(LUMINANCE_WEIGHTS)) == pytest.approx(luminance, abs=5.1e-4)


SECOND_LEVELS = [
    (0.0, 1000.0, 0.0, 100.0),
    (0.0, 4000.0, 0.0, 203.0),
    (0.005, 10000.0, 0.005, 100.0),
    (0.0, 1000.0, 0.1, 100.0),
    (0.005, 4000.0, 0.05, 203.0),
    (0.05, 1000.0, 0.005, 100.0),
    (0.0, 2000.0, 0.5, 600.0),
    (0.0001, 10000.0, 0.2, 600.0),
    (0.01, 400.0, 0.0, 600.0),
]


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("levels", SECOND_LEVELS, ids=str)
def test_eetf_matches_the_second_implementation(levels, way):
    """In PQ signal; worst measured: 9.7e-13, and 1e-9 by intensity, where a channel all but vanishes."""
    random = np.random.default_rng(2390)
    light = pq_eotf(random.random((250, 3)) * random.random((250, 1)))
    light[:8] = [[level * r, level * g, level * b] for level in (levels[1], 9000.0) for r, g, b in np.eye(4, 3) + 1e-3]
    light[8:11] = [[0.0, 0.0, 0.0], [levels[0]] * 3, [0.0, 0.0, 300.0]]
    for offset in (0.5, 0.75, 1.0):
        values = values_at(levels, application=way, adjust_knee=offset != 0.5, knee_offset=offset)
        expected = np.array([second_pixel(pixel, way, levels, offset) for pixel in light.tolist()])
        result = OPERATOR.apply(light, values)
        assert np.abs(pq_eotf_inverse(result) - pq_eotf_inverse(expected)).max() < 2e-9
        np.testing.assert_allclose(result, expected, rtol=1e-10, atol=1e-9)


@pytest.mark.parametrize("offset", [0.5, 0.7, 1.0])
@pytest.mark.parametrize("levels", [knee[0] for knee in KNEES], ids=str)
def test_slope_is_continuous_at_the_knee_and_0_at_the_peak(levels, offset):
    """In PQ signal of the master's range: 1 on both sides of the knee, 0 at the end."""
    values = values_at(levels, adjust_knee=True, knee_offset=offset)
    step = 1e-6

    def slope(start: float) -> float:
        signal = np.array([start, start + step]) * values.pq_range + values.pq_black
        return float(np.diff(OPERATOR.eetf(signal, values))[0]) / (step * values.pq_range)

    assert slope(values.knee - step) == pytest.approx(1.0, abs=1e-5)
    assert slope(values.knee) == pytest.approx(1.0, abs=1e-4)
    assert slope(1.0 - step) == pytest.approx(0.0, abs=1e-5)


@pytest.mark.parametrize("levels", [knee[0] for knee in KNEES], ids=str)
def test_light_below_the_knee_is_untouched(levels):
    values = values_at(levels)
    below = np.linspace(values.pq_black, values.knee * values.pq_range + values.pq_black, 1000)[1:-1]
    level = pq_eotf(below)
    np.testing.assert_array_equal(OPERATOR.curve(level, values), level)


@pytest.mark.parametrize("levels", [knee[0] for knee in KNEES], ids=str)
def test_shoulder_is_a_cube(levels):
    """Because KS is tied to maxLum the spline is M - (1 - M) / 2 ((1 - E1) / (1.5 (1 - M)))^3, exactly."""
    values = values_at(levels)
    top = values.max_lum
    e1 = np.linspace(values.knee, 1.0, 2000)
    expected = top - 0.5 * (1.0 - top) * ((1.0 - e1) / (1.5 * (1.0 - top))) ** 3
    result = (OPERATOR.eetf(e1 * values.pq_range + values.pq_black, values) - values.pq_black) / values.pq_range
    np.testing.assert_allclose(result, expected, rtol=0, atol=2e-15)
    assert (top - values.knee) / (1.0 - values.knee) == pytest.approx(1.0 / 3.0, abs=1e-14)


@pytest.mark.parametrize("offset", [0.5, 0.6, 0.8, 1.0])
@pytest.mark.parametrize("levels", SECOND_LEVELS, ids=str)
def test_eetf_is_monotone(levels, offset):
    values = values_at(levels, adjust_knee=True, knee_offset=offset)
    result = OPERATOR.eetf(np.linspace(0.0, 1.0, 100_001), values)
    assert np.diff(result).min() >= -1e-15


@pytest.mark.parametrize(
    ("levels", "overshoot"),
    [
        ((0.0, 1000.0, 0.1, 100.0), 100.688),
        ((0.0, 1000.0, 0.5, 100.0), 101.301),
        ((0.005, 4000.0, 0.05, 100.0), 101.214),
    ],
)
def test_peak_with_a_lifted_black_is_the_reports_in_signal_and_the_targets_in_light(levels, overshoot):
    """The Report's lift passes Lmax by b (1 - M)^4; the operator cuts there."""
    values = values_at(levels)
    peak = pq_eotf(OPERATOR.eetf(pq_eotf_inverse(np.array(levels[1])), values))
    assert float(peak) == pytest.approx(overshoot, abs=5.1e-4)
    assert nits(levels[1], values) == levels[3]


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize(
    "levels", [(0.0, 1000.0, 0.1, 100.0), (0.05, 1000.0, 0.005, 100.0), (0.01, 4000.0, 0.0, 203.0)], ids=str
)
def test_black_becomes_the_targets_black_in_all_three_channels(levels, way):
    """A driving value of 0 takes the curve's own black; a target darker than the master expands the blacks."""
    result = OPERATOR.apply(np.zeros((2, 3)), values_at(levels, application=way))
    assert result == pytest.approx(np.full((2, 3), levels[2]), abs=1e-12, rel=1e-9)


@pytest.mark.parametrize("peak", [400.0, 1000.0, 10000.0])
@pytest.mark.parametrize("black", [0.0, 0.005])
def test_equal_levels_leave_light_as_it_is(peak, black):
    values = values_at((black, peak, black, peak))
    level = np.geomspace(max(black, 1e-6), peak, 5000)
    np.testing.assert_allclose(OPERATOR.curve(level, values), level, rtol=1e-12)


def test_light_outside_the_masters_range_is_read_as_its_ends():
    values = values_at((0.05, 1000.0, 0.05, 100.0))
    assert nits(1000.0, values) == nits(4000.0, values) == nits(60000.0, values) == 100.0
    assert nits(0.0, values) == nits(0.01, values) == nits(0.05, values) == pytest.approx(0.05, rel=1e-12)


@pytest.mark.parametrize(("peak", "least"), [(1000.0, 5.1985), (4000.0, 10.148), (10000.0, 15.134)])
def test_a_target_whose_knee_lies_below_black_is_refused(peak, least):
    assert values_at((0.0, peak, 0.0, least + 0.001)).knee == pytest.approx(0.0, abs=1e-4)
    with pytest.raises(WrongCall) as fault:
        values_at((0.0, peak, 0.0, least - 0.001))
    assert str(fault.value) == (
        f"operator 'bt2390': a target of {least - 0.001:g} cd/m2 is too dark for a master of {peak:g} cd/m2: the knee "
        "would lie below black; raise the target's peak or lower the knee offset"
    )


def test_a_black_whose_lift_is_not_monotone_is_refused():
    """The lift has slope 1 - 4 b at black, so b may be 0.25 at most: 1.99 cd/m2 for a master of 1000."""
    values = values_at((0.0, 1000.0, 1.98, 100.0))
    assert np.diff(OPERATOR.eetf(np.linspace(0.0, 0.2, 10_001), values)).min() >= 0.0
    with pytest.raises(WrongCall) as fault:
        values_at((0.0, 1000.0, 2.0, 100.0))
    assert str(fault.value) == (
        "operator 'bt2390': a target black of 2 cd/m2 is too bright for a master of 1000 cd/m2: the lift would not be "
        "monotone; lower the target's black"
    )
