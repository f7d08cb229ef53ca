"""Methods A and C of Report ITU-R BT.2446-1 (sections 4.1 and 6.1).

Check values are computed from the published formulas, in float64. The second implementation of A is scalar; that of C
goes by CIE Yxy in colour-science, and solves the published conditions with SciPy.
"""

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from tonemap.colorimetry import luminance
from tonemap.errors import WrongCall
from tonemap.host import evaluate_parameters
from tonemap.operator import Levels, Values
from tonemap.operators.bt2446_a import Bt2446A
from tonemap.operators.bt2446_c import Bt2446C

A, C = Bt2446A(), Bt2446C()
PEAKS = [(400.0, 100.0), (600.0, 100.0), (1000.0, 100.0), (2000.0, 203.0), (4000.0, 203.0), (10000.0, 600.0)]

# Master's cd/m2; SDR signal, cd/m2 and 10-bit narrow-range code, 1000 to 100 cd/m2.
GREYS_A = [
    (1.0, 0.098476, 0.3837, 150),
    (10.0, 0.236163, 3.1312, 271),
    (26.0, 0.334585, 7.2246, 357),
    (50.0, 0.422521, 12.6484, 434),
    (100.0, 0.538748, 22.6634, 536),
    (203.0, 0.686855, 40.5953, 666),
    (400.0, 0.832774, 64.4562, 794),
    (600.0, 0.912909, 80.3575, 864),
    (1000.0, 1.000000, 100.0000, 940),
]
# Master's cd/m2; SDR cd/m2, signal in % and 10-bit narrow-range code, 1000 to 100 cd/m2, before the cut at 100 %.
GREYS_C = [
    (1.0, 0.83802, 13.636, 183),
    (10.0, 8.38017, 35.592, 376),
    (26.0, 21.78844, 52.998, 528),
    (50.69703, 42.48497, 70.000, 677),
    (69.8492, 58.53481, 80.000, 765),
    (100.0, 73.38290, 87.902, 834),
    (203.15215, 90.66736, 96.000, 905),
    (400.0, 103.24968, 101.341, 952),
    (1000.0, 118.37721, 107.282, 1004),
]


def levels_of(master: float, target: float) -> Levels:
    return Levels(0.0, master, 0.0, target)


def values_a(master: float = 1000.0, target: float = 100.0) -> Values:
    return evaluate_parameters(A, {}, levels_of(master, target))


def values_c(master: float = 1000.0, target: float = 100.0, **settings: float | str) -> Values:
    return evaluate_parameters(C, settings, levels_of(master, target))


def code(signal: float) -> int:
    return math.floor(876.0 * signal + 64.0 + 0.5)


@pytest.fixture(scope="module")
def light():
    """Random BT.2020 light up to 10000 cd/m2, dark and bright, with black, primaries and light above every peak."""
    random = np.random.default_rng(2446)
    dark = 10.0 ** random.uniform(-4.0, 4.0, (400, 3))
    corners = [[r, g, b] for r in (0.0, 900.0) for g in (0.0, 900.0) for b in (0.0, 900.0)]
    return np.concatenate([dark, 1000.0 * random.random((300, 3)), corners, [[20000.0, 5.0, 0.0]]])


# Method A.


def second_a(pixel: list[float], master: float, target: float) -> list[float]:
    """Return the SDR signal of one pixel, not cut."""
    red, green, blue = (math.pow(min(max(channel / master, 0.0), 1.0), 1.0 / 2.4) for channel in pixel)
    y = 0.2627 * red + 0.6780 * green + 0.0593 * blue
    if y == 0.0:
        return [0.0, 0.0, 0.0]
    rho_hdr = 1.0 + 32.0 * math.pow(master / 10000.0, 1.0 / 2.4)
    rho_sdr = 1.0 + 32.0 * math.pow(target / 10000.0, 1.0 / 2.4)
    yp = math.log(1.0 + (rho_hdr - 1.0) * y) / math.log(rho_hdr)
    if yp <= 0.7399:
        yc = 1.0770 * yp
    elif yp < 0.9909:
        yc = -1.1510 * yp**2 + 2.7811 * yp - 0.6302
    else:
        yc = 0.5000 * yp + 0.5000
    y_sdr = (math.pow(rho_sdr, yc) - 1.0) / (rho_sdr - 1.0)
    f = y_sdr / (1.1 * y)
    cb, cr = f * (blue - y) / 1.8814, f * (red - y) / 1.4746
    y_tmo = y_sdr - max(0.1 * cr, 0.0)
    red, blue = y_tmo + 1.4746 * cr, y_tmo + 1.8814 * cb
    return [red, (y_tmo - 0.2627 * red - 0.0593 * blue) / 0.6780, blue]


@pytest.mark.parametrize(
    ("peak", "rho"), [(100.0, 5.696957656), (203.0, 7.308701720), (1000.0, 13.259797919), (4000.0, 22.844476501)]
)
def test_rho_of_method_a_matches_its_computed_values(peak, rho):
    assert values_a(peak, 100.0).rho_hdr == pytest.approx(rho, abs=5.1e-10)
    assert values_a(10000.0, peak).rho_sdr == pytest.approx(rho, abs=5.1e-10)
    assert values_a(10000.0, peak).rho_hdr == pytest.approx(33.0, abs=1e-13)


@pytest.mark.parametrize(("level", "signal", "nits", "code10"), GREYS_A)
def test_greys_match_the_check_table_of_method_a(level, signal, nits, code10):
    result = A.apply(np.full(3, level), values_a())
    assert result == pytest.approx(np.full(3, nits), abs=5.1e-5)
    assert (result / 100.0) ** (1.0 / 2.4) == pytest.approx(np.full(3, signal), abs=5.1e-7)
    assert code(float(result[1] / 100.0) ** (1.0 / 2.4)) == code10


def test_knee_of_method_a_has_the_printed_constants_with_their_steps():
    """The printed constants join to 5.5e-4 at 0.7399 and to 5e-6 at 0.9909; both steps lead upward."""
    lower, upper = A.knee(np.array([0.7399, np.nextafter(0.7399, 1.0)]))
    assert (lower, upper) == pytest.approx((0.796872, 0.797419), abs=5.1e-7)
    assert upper - lower == pytest.approx(5.5e-4, abs=5e-6)
    lower, upper = A.knee(np.array([np.nextafter(0.9909, 0.0), 0.9909]))
    assert 0.0 < upper - lower == pytest.approx(5e-6, abs=1e-6)
    below, above = 0.7399 + 1e-9, 0.9909 - 1e-9
    slopes = [float(np.diff(A.knee(np.array([x, x + 1e-10])))[0]) / 1e-10 for x in (0.5, below, above - 1e-10, 0.99091)]
    assert slopes == pytest.approx([1.0770, 1.07785, 0.50005, 0.5], abs=1e-5)


@pytest.mark.parametrize(
    ("pixel", "signal"),
    [
        ((1000.0, 0.0, 0.0), (1.323836, -0.032178, -0.032178)),
        ((0.0, 1000.0, 0.0), (0.075399, 1.187477, 0.075399)),
        ((0.0, 0.0, 1000.0), (0.009408, 0.009408, 1.595847)),
    ],
)
def test_primaries_leave_the_target_as_method_a_has_them(pixel, signal):
    assert second_a(list(pixel), 1000.0, 100.0) == pytest.approx(signal, abs=5.1e-7)
    result = A.apply(np.array(pixel), values_a())
    assert (result / 100.0) ** (1.0 / 2.4) == pytest.approx(np.maximum(signal, 0.0), abs=5.1e-7)


@pytest.mark.parametrize(
    ("pixel", "nits"),
    [((0.0, 1000.0, 0.0), 102.47), ((0.0, 1000.0, 1000.0), 103.64), ((1000.0, 1000.0, 0.0), 100.76)],
)
def test_luminance_of_bright_secondaries_exceeds_the_peak_as_method_a_has_it(pixel, nits):
    assert float(luminance(A.apply(np.array(pixel), values_a()))) == pytest.approx(nits, abs=6e-3)


@pytest.mark.parametrize(("master", "target"), PEAKS)
def test_method_a_matches_the_second_implementation(light, master, target):
    """The operator cuts what falls below 0, the Report does not; worst measured: 1.5e-15 of the signal."""
    expected = np.maximum([second_a(pixel, master, target) for pixel in light.tolist()], 0.0)
    result = A.apply(light, values_a(master, target))
    np.testing.assert_allclose((result / target) ** (1.0 / 2.4), expected, rtol=1e-12, atol=1e-13)


# Method C.


def second_hlg(signal: float, peak: float) -> float:
    """Return the cd/m2 of a neutral HLG signal; BT.2100-3, Table 5, and BT.2390 outside 400..2000 cd/m2."""
    a = 0.17883277
    b, c = 1.0 - 4.0 * a, 0.5 - a * math.log(4.0 * a)
    scene = signal**2 / 3.0 if signal <= 0.5 else (math.exp((signal - c) / a) + b) / 12.0
    gamma = 1.2 + 0.42 * math.log10(peak / 1000.0)
    if not 400.0 <= peak <= 2000.0:
        gamma = 1.2 * math.pow(1.111, math.log(peak / 1000.0, 2.0))
    return peak * math.pow(scene, gamma)


def second_constants(master: float, target: float) -> tuple[float, float, float, float, float]:
    """Return k1, k2, k3, k4 and Yip from the published conditions."""
    k1 = target * 0.7**2.4 / second_hlg(0.5, master)
    knee, white = target * 0.8**2.4, target * 0.96**2.4
    inflection = knee / k1

    def miss(k2: float) -> float:
        k3 = 1.0 - k2 / (k1 * inflection)  # the slope is continuous
        k4 = knee - k2 * math.log(1.0 - k3)  # and the value
        return k2 * math.log(second_hlg(0.75, master) / inflection - k3) + k4 - white

    k2 = brentq(miss, 1e-3 * knee, 1e3 * knee, xtol=1e-13, rtol=1e-15, maxiter=500)
    k3 = 1.0 - k2 / (k1 * inflection)
    return k1, k2, k3, knee - k2 * math.log(1.0 - k3), inflection


def crosstalk_pair(alpha: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the Report's crosstalk matrix and its inverse, both in their printed form."""
    a = alpha
    forward = np.array([[1 - 2 * a, a, a], [a, 1 - 2 * a, a], [a, a, 1 - 2 * a]])
    inverse = np.array([[1 - a, -a, -a], [-a, 1 - a, -a], [-a, -a, 1 - a]]) / (1.0 - 3.0 * a)
    return forward, inverse


def second_c(colour, light: np.ndarray, master: float, target: float, alpha: float, gain: float) -> np.ndarray:
    k1, k2, k3, k4, inflection = second_constants(master, target)
    bt2020 = colour.RGB_COLOURSPACES["ITU-R BT.2020"]
    to_xyz = colour.normalised_primary_matrix(bt2020.primaries, bt2020.whitepoint)
    forward, inverse = crosstalk_pair(alpha)
    xyy = colour.XYZ_to_xyY(np.clip(light, 0.0, master) @ forward.T @ to_xyz.T)
    for i, y in enumerate(xyy[:, 2].tolist()):
        mapped = k1 * y if y < inflection else k2 * math.log(y / inflection - k3) + k4
        xyy[i, 2] = min(gain * mapped, target)
    return colour.xyY_to_XYZ(xyy) @ np.linalg.inv(to_xyz).T @ inverse.T


def test_constants_of_method_c_are_the_printed_ones():
    values = values_c()
    derived = values.slope, values.log_gain, values.log_shift, values.log_offset
    assert [f"{item:.5f}" for item in derived] == ["0.83802", "15.09968", "0.74204", "78.99439"]
    assert derived == pytest.approx((0.8380169276, 15.0996769793, 0.7420404041, 78.9943888703), abs=5.1e-11)
    assert values.inflection == pytest.approx(69.84948003, abs=5.1e-9)
    assert values.slope * values.inflection == pytest.approx(58.5, abs=0.05)  # 58.535: the Report prints it rounded


@pytest.mark.parametrize(
    ("master", "constants"),
    [
        (600.0, (1.108019, 17.181656, 0.706472, 79.596035, 52.828555)),
        (1000.0, (0.838017, 15.099677, 0.742040, 78.994389, 69.849480)),
        (2000.0, (0.573676, 13.134814, 0.775608, 78.163179, 102.035074)),
    ],
)
def test_constants_of_method_c_follow_the_peaks(master, constants):
    """With the 0.42 form of the HLG system gamma; in the target's peak, k1, k2 and k4 are proportional."""
    values = values_c(master)
    derived = values.slope, values.log_gain, values.log_shift, values.log_offset, values.inflection
    assert derived == pytest.approx(constants, abs=5.1e-7)
    other = values_c(master, 203.0)
    assert (other.slope, other.log_gain, other.log_offset) == pytest.approx(
        (2.03 * derived[0], 2.03 * derived[1], 2.03 * derived[3]), rel=1e-12
    )
    assert (other.log_shift, other.inflection) == pytest.approx((derived[2], derived[4]), rel=1e-12)


@pytest.mark.parametrize(("master", "target"), PEAKS)
def test_constants_of_method_c_match_scipys_solution(master, target):
    """Worst measured: 1.4e-15 relative."""
    values = values_c(master, target)
    derived = values.slope, values.log_gain, values.log_shift, values.log_offset, values.inflection
    assert derived == pytest.approx(second_constants(master, target), rel=1e-12)


@pytest.mark.parametrize(("level", "nits", "percent", "code10"), GREYS_C)
def test_greys_match_the_check_table_of_method_c(level, nits, percent, code10):
    values = values_c()
    mapped = float(C.curve(np.array(level), values))
    assert mapped == pytest.approx(nits, abs=2e-5)
    signal = (mapped / 100.0) ** (1.0 / 2.4)
    assert 100.0 * signal == pytest.approx(percent, abs=5.1e-4)
    assert code(signal) == code10
    assert C.apply(np.full(3, level), values) == pytest.approx(np.full(3, min(nits, 100.0)), abs=2e-5)


def test_curve_of_method_c_is_continuous_in_value_and_slope():
    """The printed constants have a step of 0.035 cd/m2 at the inflection; the derived ones have none."""
    for master, target in PEAKS:
        values = values_c(master, target)
        h = 1e-5 * values.inflection
        below, at, above = C.curve(values.inflection + np.array([-h, 0.0, h]), values)
        assert (at - below) / h == pytest.approx(values.slope, rel=1e-6)
        assert (above - at) / h == pytest.approx(values.slope, rel=1e-4)


@pytest.mark.parametrize("alpha", [0.0, 0.05, 0.2])
@pytest.mark.parametrize("top", ["clip", "scale"])
@pytest.mark.parametrize(("master", "target"), PEAKS)
def test_method_c_matches_the_second_implementation(colour, light, master, target, top, alpha):
    """Worst measured: 7.2e-15 of the target's peak."""
    values = values_c(master, target, crosstalk=alpha, top=top)
    alpha = float(np.float32(alpha))
    _, k2, k3, k4, inflection = second_constants(master, target)
    gain = target / (k2 * math.log(master / inflection - k3) + k4) if top == "scale" else 1.0
    expected = second_c(colour, light, master, target, alpha, min(gain, 1.0))
    np.testing.assert_allclose(C.apply(light, values) / target, expected / target, rtol=0, atol=1e-12)


@pytest.mark.parametrize(
    ("alpha", "diagonal", "beside"),
    [(0.05, 1.117647, -0.058824), (0.1, 1.285714, -0.142857), (0.165, 1.653465, -0.326733)],
)
def test_crosstalk_is_undone_by_the_printed_inverse(alpha, diagonal, beside):
    """Where the curve is a straight line, mixing and unmixing leave only its slope."""
    forward, inverse = crosstalk_pair(alpha)
    assert inverse[0] == pytest.approx((diagonal, beside, beside), abs=5.1e-7)
    assert forward @ inverse == pytest.approx(np.eye(3), abs=1e-15)
    dark = np.random.default_rng(6).random((500, 3)) * 50.0
    values = values_c(crosstalk=alpha)
    np.testing.assert_allclose(C.apply(dark, values), values.slope * dark, rtol=1e-12, atol=1e-12)


@pytest.mark.parametrize(("master", "target"), PEAKS)
def test_top_of_method_c_lands_on_the_targets_peak(master, target):
    """Scaled, the master's peak lands exactly and all keeps its ratio; cut, what exceeds the peak is the peak."""
    scaled, cut = values_c(master, target, top="scale"), values_c(master, target)
    assert C.apply(np.full(3, master), scaled) == pytest.approx(np.full(3, target), rel=1e-12)
    assert C.apply(np.full(3, master), cut) == pytest.approx(np.full(3, target), rel=1e-12)
    assert float(C.curve(np.array(master), cut)) > target
    grey = np.full(3, 26.0)
    assert C.apply(grey, scaled) == pytest.approx(scaled.top_gain * C.apply(grey, cut), rel=1e-12)


@pytest.mark.parametrize("alpha", [0.0, 0.05, 0.2])
def test_luminance_of_the_mixed_light_stays_within_the_peak(light, alpha):
    """The Report limits Y between crosstalk and its inverse; a saturated light's own luminance may pass the peak."""
    values = values_c(crosstalk=alpha)
    forward, _ = crosstalk_pair(float(np.float32(alpha)))
    assert luminance(C.apply(light, values) @ forward.T).max() <= 100.0 * (1.0 + 1e-9)


def test_a_master_too_dark_for_method_c_is_refused():
    with pytest.raises(WrongCall) as fault:
        values_c(15.0)
    assert str(fault.value) == (
        "operator 'bt2446_c': a master's peak of 15 cd/m2 is too low for the conditions of Method C; choose "
        "another operator"
    )
