"""What every operator that the host finds must keep, at every set of parameters that parity tries. No list to edit."""

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pytest

from tonemap.colorimetry import conversion_matrix, convert, ictcp_from_light, luminance
from tonemap.encoding import LIGHT_CEILING, decode
from tonemap.host import evaluate_parameters, find_operators
from tonemap.operator import GAMUT, TONE, Levels, Operator, ParameterValue, Values, Volume
from tonemap.parity import parameter_sets, stress_pictures
from tonemap.transfer import pq_eotf, pq_eotf_inverse

HOST = find_operators()
VOLUMES = {
    name: Volume(conversion_matrix("bt2020", name), conversion_matrix(name, "bt2020")) for name in ("bt709", "p3-d65")
}
USUAL = Levels(0.0, 1000.0, 0.0, 100.0)
OTHER = Levels(0.005, 4000.0, 0.05, 203.0)
NO_BLACK = Levels(0.0, 4000.0, 0.0, 203.0)
PRINTED_WEIGHTS = np.array([0.2627, 0.6780, 0.0593])  # Recommendations ITU-R BT.2020-2, Table 4, and BT.2100-3, Table 5

Apply = Callable[[np.ndarray], np.ndarray]
RAMP = np.repeat(pq_eotf(np.linspace(0.0, 1.0, 8_001))[:, np.newaxis], 3, axis=1)


def trials(kind: str | None = None, has: str | None = None) -> list[Any]:
    """Return (operator, settings) of every set of parameters, of one kind or of those that have a parameter."""
    return [
        pytest.param(item.operator, settings, id=f"{item.operator.name}-{label}")
        for item in HOST.operators.values()
        for label, settings in parameter_sets(item.operator).items()
        if kind in (None, item.operator.kind) and (has is None or has in names_of(item.operator))
    ]


def names_of(operator: Operator) -> list[str]:
    return [parameter.name for parameter in operator.parameters]


def values_of(
    operator: Operator, settings: Mapping[str, ParameterValue], levels: Levels = USUAL, primaries: str = "bt709"
) -> Values:
    return evaluate_parameters(operator, settings, levels, VOLUMES[primaries])


def every_light() -> np.ndarray:
    """Return light that decode can produce: of odd samples, random, of corners, and at its ceiling."""
    pictures = stress_pictures(6_000)
    light = [decode(pictures[name].samples.reshape(-1, 3), pictures[name].encoding) for name in ("odd", "random")]
    corners = decode(pictures["corners"].samples.reshape(-1, 3)[::23], pictures["corners"].encoding)
    dark = decode(pictures["near black"].samples.reshape(-1, 3)[::29], pictures["near black"].encoding)
    bright = np.random.default_rng(8).random((500, 3)) * LIGHT_CEILING
    return np.concatenate([*light, corners, dark, bright])


LIGHT = every_light()


def test_no_operator_is_refused():
    assert HOST.refused == []
    assert {item.operator.kind for item in HOST.operators.values()} == {TONE, GAMUT}


# Every operator.


@pytest.mark.parametrize("dtype", [np.float64, np.float32])
@pytest.mark.parametrize(("operator", "settings"), trials())
def test_shape_and_dtype_are_kept_and_the_input_is_untouched(operator, settings, dtype):
    values = values_of(operator, settings)
    light = LIGHT[5000:5024].astype(dtype)
    for shape in ((24, 3), (4, 6, 3), (1, 1, 3)):
        given = light[: np.prod(shape[:-1])].reshape(shape)
        before = given.copy()
        result = operator.apply(given, values)
        assert (result.shape, result.dtype) == (shape, np.dtype(dtype))
        np.testing.assert_array_equal(given, before)
    one = operator.apply(light[0], values)
    assert (one.shape, one.dtype) == ((3,), np.dtype(dtype))
    np.testing.assert_allclose(
        one, operator.apply(light, values)[0], rtol=1e-5 if dtype == np.float32 else 1e-12, atol=1e-6
    )


@pytest.mark.parametrize("dtype", [np.float64, np.float32])
@pytest.mark.parametrize(("operator", "settings"), trials())
def test_result_is_finite_on_all_that_decode_can_produce(operator, settings, dtype):
    for levels in (USUAL, OTHER):
        assert np.isfinite(operator.apply(LIGHT.astype(dtype), values_of(operator, settings, levels))).all()


@pytest.mark.parametrize(("operator", "settings"), trials())
def test_operator_is_monotone_on_greys(operator, settings):
    """Non-decreasing on a fine ramp in PQ and on to the ceiling of light, but for the last digits of float64.

    BT.2446 Method A joins its pieces with a step, upward: it passes too.
    """
    beyond = np.repeat(np.linspace(10000.0, LIGHT_CEILING, 50)[:, np.newaxis], 3, axis=1)
    for levels in (USUAL, OTHER):
        result = operator.apply(np.concatenate([RAMP, beyond]), values_of(operator, settings, levels))
        assert np.diff(result, axis=0).min() >= -1e-11 * levels.target_peak


@pytest.mark.parametrize(("operator", "settings"), trials())
def test_black_stays_black(operator, settings):
    for levels in (USUAL, NO_BLACK):
        result = operator.apply(np.zeros((2, 3)), values_of(operator, settings, levels))
        assert np.abs(result).max() <= 1e-15 * levels.target_peak


@pytest.mark.parametrize(("operator", "settings"), trials())
def test_neutral_stays_neutral_and_within_the_peak(operator, settings):
    for levels in (USUAL, OTHER):
        result = operator.apply(RAMP, values_of(operator, settings, levels))
        assert np.ptp(result, axis=1).max() <= 1e-6 * levels.target_peak
        assert result.min() >= 0.0
        assert result.max() <= levels.target_peak * (1.0 + 1e-9)


# Tone operators.

# How far the published method itself passes the target's peak in luminance, at the two levels tried here, as measured:
# what saturated light does there is the gamut operator's work.
SATURATED_LUMINANCE = {"bt2390": 1.09, "bt2446_a": 1.08, "bt2446_c": 1.45}


@pytest.mark.parametrize(("operator", "settings"), trials(TONE))
def test_what_drives_the_curve_stays_within_the_peak(operator, settings):
    for levels in (USUAL, OTHER):
        values = values_of(operator, settings, levels)
        result = operator.apply(LIGHT, values) / levels.target_peak
        application = getattr(values, "application", None)
        if application in ("per_channel", "max_rgb"):
            assert result.max() <= 1.0 + 1e-9
        elif application == "luminance":  # as colorimetry has it, or with the weights that the Recommendations print
            assert min(luminance(result).max(), (result @ PRINTED_WEIGHTS).max()) <= 1.0 + 1e-9
        else:
            assert luminance(result).max() <= SATURATED_LUMINANCE.get(operator.name, 1.0 + 1e-9)


@pytest.mark.parametrize(("operator", "settings"), trials(TONE, "desaturation"))
def test_without_desaturation_the_gain_keeps_chromaticity(operator, settings):
    for application in ("max_rgb", "luminance"):
        values = values_of(operator, {**settings, "application": application, "desaturation": 0.0})
        light = LIGHT[LIGHT.max(axis=1) > 1e-3]
        result = operator.apply(light, values)
        share, expected = (item / item.sum(axis=1, keepdims=True) for item in (result, light))
        np.testing.assert_allclose(share, expected, rtol=0, atol=1e-12)


@pytest.mark.parametrize("application", ["per_channel", "max_rgb", "luminance"])
@pytest.mark.parametrize(("operator", "settings"), trials(TONE, "desaturation"))
def test_full_desaturation_pales_highlights_evenly(operator, settings, application):
    """The brighter a colour gets above 18 % grey, the paler; never more saturated, and pale where much is held back."""
    plain, full = (
        values_of(operator, {**settings, "application": application, "desaturation": amount}) for amount in (0.0, 1.0)
    )
    ramp = pq_eotf(np.linspace(pq_eotf_inverse(np.array(26.0)), 1.0, 3000))[:, np.newaxis]
    for colour in ((1.0, 0.6, 0.3), (0.2, 1.0, 0.5), (0.1, 0.2, 1.0)):
        result = operator.apply(ramp * np.array(colour), full)
        saturation = 1.0 - result.min(axis=1) / result.max(axis=1)
        assert np.diff(saturation).max() <= 1e-9
        gain = operator.apply(ramp * np.array(colour), plain).max(axis=1) / ramp[:, 0]
        assert saturation[-1] < 0.5 * saturation[0] or gain[-1] > 0.2 * gain[0]


@pytest.mark.parametrize("application", ["per_channel", "max_rgb", "luminance"])
@pytest.mark.parametrize(("operator", "settings"), trials(TONE, "desaturation"))
def test_desaturation_never_touches_light_that_is_not_held_back(operator, settings, application):
    """Below the start of the shoulder, and for a curve without one below 18 % grey, it changes nothing."""
    with_, without = (
        values_of(operator, {**settings, "application": application, "desaturation": amount}) for amount in (1.0, 0.0)
    )
    end = getattr(with_, "start", 26.0)
    if hasattr(with_, "point"):
        end = float(pq_eotf(np.array(with_.point - with_.half_width)))
    end = min(end, 100.0 * 2.0**with_.landing)
    light = np.random.default_rng(4).random((2000, 3)) * end * 0.999
    np.testing.assert_allclose(operator.apply(light, with_), operator.apply(light, without), rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize(("operator", "settings"), trials(TONE, "landing"))
def test_reach_and_landing_do_what_their_help_says(operator, settings):
    """The level at the reach lands exactly on the landing, and no grey lands above it.

    A reach below the landing leaves nothing to compress: then the level may stay where it is.
    """
    for levels in (USUAL, NO_BLACK, Levels(0.0, 400.0, 0.0, 300.0)):
        values = values_of(operator, settings, levels)
        landing = levels.target_peak * 2.0**values.landing
        assert operator.apply(RAMP, values).max() <= landing * (1.0 + 1e-9)
        assert operator.apply(np.full(3, LIGHT_CEILING), values) == pytest.approx(np.full(3, landing), rel=1e-6)
        if hasattr(values, "reach"):
            reach = levels.source_peak * 2.0**values.reach
            below, at, above = operator.apply(reach * np.array([[0.9] * 3, [1.0] * 3, [1.5] * 3]), values)[:, 1]
            if reach > landing:
                assert at == pytest.approx(landing, rel=1e-9)
                assert above == pytest.approx(landing, rel=1e-9)
                assert below < landing * (1.0 - 1e-4) or getattr(values, "start", 0.0) >= landing
            else:
                assert at == pytest.approx(landing, rel=1e-9) or at == pytest.approx(reach, rel=1e-9)


def one_sided_slopes(curve: Apply, join: float, step: float) -> tuple[float, float]:
    """Return the slopes below and above a join, to second order in the step."""
    below = curve(join - step * np.array([2.0, 1.0, 0.0]))
    above = curve(join + step * np.array([0.0, 1.0, 2.0]))
    return (
        float(below[0] - 4.0 * below[1] + 3.0 * below[2]) / (2.0 * step),
        float(-3.0 * above[0] + 4.0 * above[1] - above[2]) / (2.0 * step),
    )


def joins_of(values: Values) -> dict[str, list[float]]:
    """Return where a curve is pieced together: 'light' in cd/m2, 'signal' in PQ; a hard clip has no smooth joins."""
    if hasattr(values, "knee") and hasattr(values, "pq_range"):
        return {"signal": [values.knee * values.pq_range + values.pq_black]}
    if hasattr(values, "half_width"):
        ends = [values.point - values.half_width, values.point + values.half_width]
        return {"signal": [end for end in ends if 1e-3 < end < 0.98 and values.slope < 1.0]}
    if hasattr(values, "base") and values.room > 0.0:
        return {"light": [values.base] if values.base > 0.0 else []}
    return {}


KNEES = [item for item in trials(TONE) if joins_of(values_of(item.values[0], item.values[1]))]


def test_there_are_curves_with_joins():
    assert {item.values[0].name for item in KNEES} >= {"bt2390", "knee", "exponential", "logarithmic"}


@pytest.mark.parametrize(("operator", "settings"), KNEES)
def test_slope_is_continuous_where_a_curve_is_pieced_together(operator, settings):
    for levels in (USUAL, NO_BLACK):
        values = values_of(operator, settings, levels)
        joins = joins_of(values)

        def grey(level: np.ndarray, values: Values = values) -> np.ndarray:
            return operator.apply(np.repeat(level[:, np.newaxis], 3, axis=1), values)[:, 1]

        def signal(level: np.ndarray, grey: Apply = grey) -> np.ndarray:
            return pq_eotf_inverse(grey(pq_eotf(level)))

        for curve, step, places in ((grey, 1e-3, joins.get("light", [])), (signal, 2e-5, joins.get("signal", []))):
            for place in places:
                below, above = one_sided_slopes(curve, place, step)
                assert above == pytest.approx(below, abs=1e-4), f"at {place} of {levels}"


# Gamut operators.


@pytest.mark.parametrize("primaries", VOLUMES)
@pytest.mark.parametrize(("operator", "settings"), trials(GAMUT))
def test_every_channel_ends_within_the_target(operator, settings, primaries):
    """Whatever comes: light of decode, channels far above the peak, and negative ones, as tone operators may leave."""
    random = np.random.default_rng(6)
    wild = np.concatenate([LIGHT, random.uniform(-50.0, 500.0, (8_000, 3)), random.normal(0.0, 1e5, (500, 3))])
    for levels in (USUAL, OTHER):
        result = operator.apply(wild, values_of(operator, settings, levels, primaries))
        assert np.isfinite(result).all()
        assert result.min() >= 0.0
        assert result.max() <= levels.target_peak


@pytest.mark.parametrize("primaries", VOLUMES)
@pytest.mark.parametrize(("operator", "settings"), trials(GAMUT))
def test_colours_well_inside_the_target_are_exact(operator, settings, primaries):
    """Nine tenths grey is below the least threshold of every operator: there it is the matrix alone."""
    random = np.random.default_rng(7)
    values = values_of(operator, settings, primaries=primaries)
    colours = convert(random.random((8_000, 3)), values.volume.from_target)
    light = 75.0 * (0.1 * colours + 0.9 * luminance(colours)[:, np.newaxis])
    expected = convert(light, values.volume.to_target)
    np.testing.assert_allclose(operator.apply(light, values), expected, rtol=1e-12)


@pytest.mark.parametrize(("operator", "settings"), trials(GAMUT))
def test_operator_is_continuous(operator, settings):
    """On lines through the gamut the largest step is small, and looked at closely it is made of small steps.

    In signal, where a channel rises from 0 with an endless slope: a step cut in 1000 may still be a 17th of its size.
    """
    random = np.random.default_rng(9)
    values = values_of(operator, settings)
    start, end = random.random((2, 60, 1, 3)) ** 3 * 130.0
    end[::3] = random.integers(0, 2, (20, 1, 3)) * 130.0
    start[::4] = start[::4].max(axis=-1, keepdims=True) * 0.4

    def steps(low: np.ndarray, high: np.ndarray) -> np.ndarray:
        share = low + np.linspace(0.0, 1.0, 1001) * (high - low)
        result = operator.apply(start + share[..., np.newaxis] * (end - start), values)
        return np.abs(np.diff((result / 100.0) ** (1.0 / 2.4), axis=1)).max(axis=2)

    coarse = steps(np.zeros((60, 1)), np.ones((60, 1)))
    worst = coarse.argmax(axis=1)[:, np.newaxis] / 1000.0
    fine = steps(worst, worst + 1e-3)
    assert coarse.max() < 0.1
    assert (fine.max(axis=1) <= 0.1 * coarse.max(axis=1) + 1e-6).all()


@pytest.mark.parametrize(("operator", "settings"), trials(GAMUT))
def test_no_hue_jumps_along_ramps_of_saturation(operator, settings):
    """From grey to the edge of BT.2020 at constant luminance: hue in ICtCp moves in small steps only."""
    random = np.random.default_rng(10)
    values = values_of(operator, settings)
    edge = random.random((80, 1, 3))
    edge[np.arange(80), 0, random.integers(0, 3, 80)] = 0.0
    edge *= (random.uniform(1.0, 80.0, (80, 1)) / luminance(edge))[..., np.newaxis]
    share = np.linspace(0.0, 1.0, 1001)[:, np.newaxis]
    grey = luminance(edge)[..., np.newaxis]
    result = operator.apply(grey + share * (edge - grey), values)
    _, ct, cp = np.moveaxis(ictcp_from_light(convert(result, values.volume.from_target)), -1, 0)
    turn = np.degrees(np.angle(np.exp(1j * np.diff(np.arctan2(cp, ct), axis=1))))
    is_coloured = np.hypot(ct, cp)[:, 1:] > 0.01
    assert is_coloured.mean() > 0.8
    assert np.abs(turn[is_coloured]).max() < 2.0
