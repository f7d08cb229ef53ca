"""Gamut operators against Report ITU-R BT.2407-0 and, for the Oklab space, Ottosson 2020, by colour-science.

Check values are computed from the published formulas, in float64. The second implementations go pixel by pixel in the
spaces' own coordinates, and find the boundary by bisection.
"""

from functools import partial

import numpy as np
import pytest
from scipy.optimize import brentq

from tonemap.colorimetry import conversion_matrix, convert, luminance
from tonemap.gamut import remaining_room
from tonemap.host import evaluate_parameters
from tonemap.operator import Levels, Values, Volume
from tonemap.operators.gamut_boundary import GamutBoundary
from tonemap.operators.gamut_clip import GamutClip
from tonemap.operators.gamut_hue import (
    CONE_FROM_BT2020,
    LIGHTNESS_WEIGHTS,
    GamutHue,
    crossing,
    first_crossing,
    steepest_fall_and_rise,
    value,
)

BOUNDARY, CLIP, HUE = GamutBoundary(), GamutClip(), GamutHue()
PEAK = 100.0
VOLUME = Volume(conversion_matrix("bt2020", "bt709"), conversion_matrix("bt709", "bt2020"))

# BT.2407-0, eq. (1).
PRINTED_MATRIX = [[1.6605, -0.5876, -0.0728], [-0.1246, 1.1329, -0.0083], [-0.0182, -0.1006, 1.1187]]

# BT.2407-0, Annex 5, beta 0.2: alpha, r and the limited distance, with the bracket squared.
SOFT_LIMIT = [
    (0.5, 0.8, 0.8),
    (0.5, 0.9, 0.876834),
    (0.5, 1.0, 0.924951),
    (0.5, 1.1, 0.956789),
    (0.5, 1.5, 1.0),
    (0.2, 0.9, 0.8875),
    (0.2, 1.0, 0.95),
    (0.2, 1.1, 0.9875),
    (0.2, 1.2, 1.0),
    (0.2, 3.0, 1.0),
]


def values_at(operator, primaries: str = "bt709", **settings: float) -> Values:
    volume = Volume(conversion_matrix("bt2020", primaries), conversion_matrix(primaries, "bt2020"))
    return evaluate_parameters(operator, settings, Levels(0.0, 1000.0, 0.0, PEAK), volume)


def limited(ratio: float, alpha: float, beta: float) -> float:
    return 1.0 - float(remaining_room(np.array(ratio), 1.0 + alpha, 1.0 - beta))


@pytest.fixture(scope="module")
def light() -> np.ndarray:
    """Random BT.2020 light with luminance below the target's peak, from grey to the edge of BT.2020."""
    random = np.random.default_rng(2407)
    colours = random.random((700, 3)) ** random.uniform(0.3, 4.0, (700, 1))
    colours /= luminance(colours)[:, np.newaxis]
    return colours * random.uniform(0.002, 0.98, (700, 1)) * PEAK


@pytest.fixture(scope="module")
def xyz_matrices(colour):
    """BT.2020 and BT.709 to XYZ, as colour-science derives them."""
    spaces = (colour.RGB_COLOURSPACES[name] for name in ("ITU-R BT.2020", "ITU-R BT.709"))
    return [colour.normalised_primary_matrix(space.primaries, space.whitepoint) for space in spaces]


# BT.2407-0, section 2.


def test_matrix_is_the_one_that_bt2407_prints():
    np.testing.assert_allclose(VOLUME.to_target, PRINTED_MATRIX, rtol=0, atol=5.1e-5)


@pytest.mark.parametrize(
    ("primary", "expected"),
    [
        ((1.0, 0.0, 0.0), (1.660491, -0.124550, -0.018151)),
        ((0.0, 1.0, 0.0), (-0.587641, 1.132900, -0.100579)),
        ((0.0, 0.0, 1.0), (-0.072850, -0.008349, 1.118730)),
    ],
)
def test_clip_is_the_matrix_and_a_clamp(primary, expected):
    for level in (40.0, PEAK):
        result = CLIP.apply(level * np.array(primary), values_at(CLIP))
        assert result == pytest.approx(np.clip(level * np.array(expected), 0.0, PEAK), abs=level * 5.1e-7)


def test_clip_matches_colour_science(colour, light):
    """Worst measured: 5.7e-16 of the peak."""
    spaces = [colour.RGB_COLOURSPACES[name] for name in ("ITU-R BT.2020", "ITU-R BT.709")]
    matrix = np.linalg.inv(colour.normalised_primary_matrix(spaces[1].primaries, spaces[1].whitepoint))
    matrix = matrix @ colour.normalised_primary_matrix(spaces[0].primaries, spaces[0].whitepoint)
    expected = [[min(max(channel, 0.0), PEAK) for channel in matrix @ pixel] for pixel in light]
    np.testing.assert_allclose(CLIP.apply(light, values_at(CLIP)), expected, rtol=0, atol=1e-13 * PEAK)


# BT.2407-0, Annex 5: the soft limit.


@pytest.mark.parametrize(("alpha", "ratio", "expected"), SOFT_LIMIT)
def test_soft_limit_matches_its_computed_values(alpha, ratio, expected):
    assert limited(ratio, alpha, 0.2) == pytest.approx(expected, abs=5.1e-7)


def test_soft_limit_is_not_the_misprint():
    """Eq. (5-4) as printed, with its bracket not squared, sends the source's edge to 3.17 instead of the boundary."""
    alpha, beta, ratio = 0.5, 0.2, 1.5
    root = (beta**2 + (alpha - beta) * (ratio + beta - 1.0)) ** 0.5
    as_printed = ratio - alpha * (beta - root) / (alpha - beta) ** 2
    squared = ratio - alpha * ((beta - root) / (alpha - beta)) ** 2
    assert as_printed == pytest.approx(3.1667, abs=5e-5)
    assert limited(ratio, alpha, beta) == pytest.approx(squared, abs=1e-14) == pytest.approx(1.0, abs=1e-14)


def second_limit(ratio: float, alpha: float, beta: float) -> float:
    """Follow the quadratic Bezier curve through (1 - beta, 1 - beta), (1, 1), (1 + alpha, 1) until x is the ratio."""
    if ratio <= 1.0 - beta:
        return ratio
    if ratio >= 1.0 + alpha:
        return 1.0
    first, control, last = np.array([[1.0 - beta] * 2, [1.0, 1.0], [1.0 + alpha, 1.0]])

    def point(t: float) -> np.ndarray:
        return (1.0 - t) ** 2 * first + 2.0 * t * (1.0 - t) * control + t * t * last

    return float(point(brentq(lambda t: float(point(t)[0]) - ratio, 0.0, 1.0, xtol=1e-15))[1])


@pytest.mark.parametrize("beta", [0.02, 0.2, 0.5])
@pytest.mark.parametrize("alpha", [0.0, 0.02, 0.2, 0.5, 3.0])
def test_soft_limit_matches_the_bezier_curve(alpha, beta):
    for ratio in np.linspace(0.0, 1.2 + alpha, 97).tolist():
        assert limited(ratio, alpha, beta) == pytest.approx(second_limit(ratio, alpha, beta), abs=1e-12)


# BT.2407-0, Annex 5: chromaticity toward white at constant luminance.


def farthest(is_inside, start: float, limit: float = 1e4) -> float:
    """Return the largest t at which a ray from white is inside a convex region, by bisection."""
    low, high = 0.0, start
    while is_inside(high):
        low, high = high, 2.0 * high
        if high > limit:
            return limit
    for _ in range(48):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if is_inside(middle) else (low, middle)
    return low


def second_boundary(colour, pixel: np.ndarray, matrices, threshold: float) -> tuple[np.ndarray, float]:
    """Return the light in BT.709 and the distance of its chromaticity, 1 on the boundary."""
    from_source, from_target = matrices
    white = colour.xy_to_Luv_uv(np.array([0.3127, 0.3290]))
    xyz = from_source @ pixel / PEAK
    direction = colour.xy_to_Luv_uv(colour.XYZ_to_xy(xyz)) - white

    def xyz_at(t: float) -> np.ndarray:
        u, v = white + t * direction
        return xyz[1] * np.array([9.0 * u / (4.0 * v), 1.0, (12.0 - 3.0 * u - 20.0 * v) / (4.0 * v)])

    def is_real(t: float) -> bool:
        return bool((white + t * direction)[1] > 0.0)

    def is_in(to_rgb: np.ndarray, top: float, t: float) -> bool:
        rgb = to_rgb @ xyz_at(t)
        return is_real(t) and bool(rgb.min() >= 0.0 and rgb.max() <= top)

    to_target = np.linalg.inv(from_target)
    edge = farthest(partial(is_in, to_target, 1.0), 1.0)
    source = farthest(partial(is_in, np.linalg.inv(from_source), np.inf), 1.0)
    share = second_limit(1.0 / edge, max(source / edge - 1.0, 0.0), 1.0 - threshold)
    return PEAK * (to_target @ xyz_at(edge * share)), 1.0 / edge


def check_against(
    second: list[tuple[np.ndarray, float]], result: np.ndarray, matrix: np.ndarray, at: float, tol: float
):
    """Compare a result with the second implementation's; below the threshold it must be the matrix alone."""
    expected, ratio = np.array([item[0] for item in second]), np.array([item[1] for item in second])
    np.testing.assert_allclose(result, np.clip(expected, 0.0, PEAK), rtol=0, atol=tol * PEAK)
    below, above = ratio < at - 1e-6, ratio > at + 0.05
    assert below.any()
    assert above.any()
    np.testing.assert_allclose(result[below], matrix[below], rtol=1e-12, atol=1e-13 * PEAK)
    assert (np.abs(result - matrix)[above].max(axis=1) > 1e-5 * PEAK * matrix[above].max(axis=1) / PEAK).all()


@pytest.mark.parametrize("threshold", [0.5, 0.8, 0.98])
def test_boundary_compression_matches_the_second_implementation(colour, light, xyz_matrices, threshold):
    """Worst measured: 1.2e-14 of the peak."""
    values = values_at(BOUNDARY, threshold=threshold)
    sample = light[:80]
    second = [second_boundary(colour, pixel, xyz_matrices, values.threshold) for pixel in sample]
    check_against(second, BOUNDARY.apply(sample, values), sample @ VOLUME.to_target.T, values.threshold, 1e-11)


@pytest.mark.parametrize("threshold", [0.5, 0.8, 0.98])
def test_boundary_compression_keeps_luminance_and_the_line_of_hue_in_uv(colour, light, xyz_matrices, threshold):
    from_source, from_target = xyz_matrices
    result = BOUNDARY.apply(light, values_at(BOUNDARY, threshold=threshold))
    before, after = light @ from_source.T, result @ from_target.T
    np.testing.assert_allclose(after[:, 1], before[:, 1], rtol=1e-9)
    white = colour.xy_to_Luv_uv(np.array([0.3127, 0.3290]))
    first, second = (colour.xy_to_Luv_uv(colour.XYZ_to_xy(xyz)) - white for xyz in (before, after))
    across = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    lengths = [np.linalg.norm(item, axis=1) for item in (first, second)]
    assert np.abs(across / lengths[0]).max() < 1e-9
    assert ((first * second).sum(axis=1) >= 0.0).all()
    assert (lengths[1] <= lengths[0] * (1.0 + 1e-9)).all()
    assert (lengths[1] < 0.99 * lengths[0]).mean() > 0.1  # otherwise nothing was tested


def test_boundary_compression_lands_the_edge_of_bt2020_on_the_boundary():
    random = np.random.default_rng(5)
    edge = random.random((500, 3))
    edge[np.arange(500), random.integers(0, 3, 500)] = 0.0
    edge *= (0.3 * PEAK * random.random(500) / luminance(edge))[:, np.newaxis]
    result = BOUNDARY.apply(edge, values_at(BOUNDARY)) / PEAK
    np.testing.assert_allclose(np.minimum(result.min(axis=1), 1.0 - result.max(axis=1)), 0.0, rtol=0, atol=1e-12)


# The Oklab space.


def second_hue(colour, pixel: np.ndarray, matrices, threshold: float, reach: float) -> tuple[np.ndarray, float]:
    """Scale a and b of a pixel at its L; the first matrix is Ottosson's with rows that make D65 neutral.

    Returns the light in BT.709 and the chroma, 1 on the boundary.
    """
    from_source, from_target = matrices
    cones = np.array(
        [
            [0.8189330101, 0.3618667424, -0.1288597137],
            [0.0329845436, 0.9293118715, 0.0361456387],
            [0.0482003018, 0.2643662691, 0.6338517070],
        ]
    )
    cones = cones / (cones @ from_source.sum(axis=1))[:, np.newaxis]
    to_lab = colour.models.oklab.MATRIX_2_LMS_TO_LAB
    lightness, a, b = to_lab @ np.cbrt(cones @ from_source @ pixel / PEAK)
    to_target = np.linalg.inv(from_target) @ np.linalg.inv(cones)
    if lightness >= 1.0:
        return np.full(3, PEAK), np.inf

    def rgb_at(s: float) -> np.ndarray:
        return to_target @ (np.linalg.inv(to_lab) @ np.array([lightness, s * a, s * b])) ** 3

    places = np.linspace(0.0, 1.0, 4)
    cubics = np.polyfit(places, np.array([rgb_at(s) for s in places]), 3).T
    rooms = [*cubics, *(np.array([0.0, 0.0, 0.0, 1.0]) - cubics)]
    edge = min(mean_crossing(room, 1.0 / threshold) for room in rooms)
    ratio = 0.0 if edge >= 1.0 / threshold else 1.0 / edge
    return PEAK * rgb_at(edge * second_limit(1.0 / edge, reach - 1.0, 1.0 - threshold)), ratio


def mean_crossing(cubic: np.ndarray, limit: float) -> float:
    """Return the mean, over k from 0 to 0.005 times its start, of where a cubic first falls to -k; by its roots."""
    start = cubic[-1]
    total = 0.0
    for k in 0.005 * start * (np.arange(40) + 0.5) / 40.0:
        roots = np.roots(cubic + np.array([0.0, 0.0, 0.0, k]))
        real = roots.real[(np.abs(roots.imag) < 1e-9) & (roots.real > 0.0)]
        total += min([limit, *real])
    return total / 40.0


@pytest.mark.parametrize(("threshold", "reach"), [(0.85, 1.6), (0.5, 1.1), (0.98, 4.0)])
def test_hue_compression_matches_the_second_implementation(colour, light, xyz_matrices, threshold, reach):
    """Within 3e-6 of the peak, though here forty values are averaged and there two."""
    values = values_at(HUE, threshold=threshold, reach=reach)
    sample = light[:200]
    second = [second_hue(colour, pixel, xyz_matrices, values.threshold, values.reach) for pixel in sample]
    check_against(second, HUE.apply(sample, values), sample @ VOLUME.to_target.T, values.threshold, 3e-6)


def cubics_of(light: np.ndarray, values: Values) -> np.ndarray:
    """Return the cubics (4, 3, n) of colours (n, 3), some of which have a channel below 0."""
    cone_root = np.cbrt(np.maximum(convert(light, CONE_FROM_BT2020).T / PEAK, 0.0))
    lightness = np.array(LIGHTNESS_WEIGHTS) @ cone_root
    return HUE.cubic(np.minimum(lightness, 1.0), cone_root - lightness, values)


@pytest.mark.parametrize("threshold", [0.5, 0.85, 0.98])
@pytest.mark.parametrize("primaries", ["bt709", "p3-d65"])
def test_the_first_crossing_is_the_first_of_all_six(primaries, threshold):
    """Five sixths of the search are skipped; each of the six crossings, found by itself, says the same bit for bit."""
    random = np.random.default_rng(11)
    values = values_at(HUE, primaries, threshold=threshold)
    light = random.uniform(0.1, 130.0, (200_000, 1)) * random.uniform(-0.05, 1.0, (200_000, 3)) ** 2
    cubic, limit = cubics_of(light, values), 1.0 / values.threshold
    found = first_crossing(cubic, limit)
    below = np.moveaxis(cubic, 1, 0)
    rooms = [*below, *(np.array([1.0, 0.0, 0.0, 0.0])[:, np.newaxis] - below)]
    six = np.array([crossing(room, limit) for room in rooms])
    assert np.array_equal(found, six.min(axis=0))
    assert ((six < limit).mean(axis=1) > 0.005).all()  # each of the six is reached
    assert ((six < limit).sum(axis=0) > 1).mean() > 0.05  # and the order matters


@pytest.mark.parametrize("limit", [1.1, 2.0])
def test_a_cubic_stays_between_its_two_lines(limit):
    random = np.random.default_rng(12)
    cubic = random.normal(0.0, 1.0, (4, 100_000)) * 10.0 ** random.uniform(-3.0, 1.0, (4, 100_000))
    falling, rising = steepest_fall_and_rise(cubic, limit)
    for place in np.linspace(0.0, limit, 101)[1:]:
        away = value(cubic, place) - cubic[0]
        assert (away >= -falling * place - 1e-12).all()
        assert (away <= rising * place + 1e-12).all()


@pytest.mark.parametrize(("threshold", "reach"), [(0.85, 1.6), (0.5, 1.1), (0.98, 4.0)])
@pytest.mark.parametrize("primaries", ["bt709", "p3-d65"])
def test_hue_compression_keeps_hue_and_lightness_in_oklab(colour, light, primaries, threshold, reach):
    """Within 0.2 degrees and 1e-3 of L: colours land up to 0.5 % of their grey outside, and are cut there.

    colour-science has the printed matrix, whose white is 5e-4 off D65.
    """
    matrices = [
        colour.normalised_primary_matrix(colour.RGB_COLOURSPACES[name].primaries, np.array([0.3127, 0.3290]))
        for name in ("ITU-R BT.2020", {"bt709": "ITU-R BT.709", "p3-d65": "Display P3"}[primaries])
    ]
    result = HUE.apply(light, values_at(HUE, primaries, threshold=threshold, reach=reach))
    before, after = (
        lab - lab[:, :1] * np.array([0.0, 1.0, 1.0]) * colour.XYZ_to_Oklab(matrix.sum(axis=1))
        for lab, matrix in (
            (colour.XYZ_to_Oklab(rgb @ matrix.T / PEAK), matrix)
            for rgb, matrix in zip((light, result), matrices, strict=True)
        )
    )
    is_lit = before[:, 0] < 1.0
    before, after = before[is_lit], after[is_lit]
    chroma = [np.hypot(item[:, 1], item[:, 2]) for item in (before, after)]
    coloured = (chroma[0] > 0.03) & (chroma[1] > 0.03)
    turned = np.degrees(np.angle(np.exp(1j * (hue_of(after) - hue_of(before)))))[coloured]
    assert coloured.sum() > 300
    assert np.abs(turned).max() < 0.2
    assert np.abs(after[:, 0] - before[:, 0]).max() < 1e-3
    assert (chroma[1] <= chroma[0] + 1e-4).all()
    assert (chroma[1] < 0.95 * chroma[0]).mean() > (0.1 if primaries == "bt709" else 0.02)


def hue_of(lab: np.ndarray) -> np.ndarray:
    return np.arctan2(lab[:, 2], lab[:, 1])


@pytest.mark.parametrize("reach", [1.1, 1.6])
def test_hue_compression_lands_far_chroma_on_the_boundary(colour, xyz_matrices, reach):
    """What has the reach's chroma or more ends where a channel is 0 or the peak, within 1e-6 of the peak."""
    from_source, from_target = xyz_matrices
    random = np.random.default_rng(6)
    edge = random.random((6000, 3)) ** 2
    edge[np.arange(6000), random.integers(0, 3, 6000)] = 0.0
    edge *= (random.uniform(0.5, 60.0, 6000) / luminance(edge))[:, np.newaxis]
    lab = colour.XYZ_to_Oklab(edge @ from_source.T / PEAK)
    at_reach = colour.Oklab_to_XYZ(lab / [1.0, 1.02 * reach, 1.02 * reach]) @ np.linalg.inv(from_target).T
    is_far = ((at_reach.min(axis=1) < 0.0) | (at_reach.max(axis=1) > 1.0)) & (lab[:, 0] < 1.0)
    result = HUE.apply(edge[is_far], values_at(HUE, reach=reach)) / PEAK
    assert is_far.sum() > 500
    np.testing.assert_allclose(np.minimum(result.min(axis=1), 1.0 - result.max(axis=1)), 0.0, rtol=0, atol=1e-6)


def test_lightness_limited_colours_become_white():
    """What is lighter than the target's white has no chroma left to give: it is the target's white."""
    bright = np.array([[150.0, 150.0, 150.0], [400.0, 300.0, 200.0], [90.0, 900.0, 90.0]])
    assert HUE.apply(bright, values_at(HUE)) == pytest.approx(np.full((3, 3), PEAK), abs=1e-3 * PEAK)
    assert BOUNDARY.apply(bright, values_at(BOUNDARY)) == pytest.approx(np.full((3, 3), PEAK), abs=1e-3 * PEAK)
