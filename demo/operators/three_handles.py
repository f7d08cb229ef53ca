"""Three handles: a spline through three tones that the hand moves, and through both ends."""

from collections.abc import Mapping

import numpy as np

from tonemap.arrays import Array
from tonemap.operator import Operator, Parameter, Values
from tonemap.transfer import pq_eotf, pq_eotf_inverse

TONES = {
    "shadow": 4.0,
    "grey": 26.0,
    "white": 203.0,
}  # of the master; grey and white by Report ITU-R BT.2408-8, Table 1
SMALLEST = 1e-9


def _handle(name: str, default: float, maximum: float) -> Parameter:
    return Parameter(
        name=name,
        unit="cd/m2",
        default=default,
        minimum=0.5,
        maximum=maximum,
        scale="log",
        help=f"Where {TONES[name]:g} cd/m2 of the master lands; a handle never passes its neighbour.",
    )


class ThreeHandles(Operator):
    """A monotone cubic in PQ through 5 points; the largest channel drives all three, so no channel passes the peak."""

    interface_version = 1
    name = "three_handles"
    title = "Three handles"
    kind = "tone"
    source = "Fritsch and Carlson 1980, Monotone Piecewise Cubic Interpolation, SIAM J. Numer. Anal. 17 (2)"
    parameters = (_handle("shadow", 3.5, 20.0), _handle("grey", 18.0, 60.0), _handle("white", 70.0, 200.0))
    derived = tuple(f"{kind}_{index}" for kind in ("x", "y", "slope") for index in range(5))

    def derive(self, p: Values) -> Mapping[str, float]:
        """Compute the points in PQ and the slopes there."""
        source, target = p.levels.source_peak, p.levels.target_peak
        inside = [(tone, getattr(p, name)) for name, tone in TONES.items() if tone < source]
        x = np.array([0.0, *(tone for tone, _ in inside), *([source] * (4 - len(inside)))])
        y = np.array([0.0, *(nits for _, nits in inside), *([target] * (4 - len(inside)))])
        y = np.minimum.accumulate(np.minimum(y, target)[::-1])[::-1]
        x, y = pq_eotf_inverse(x), pq_eotf_inverse(y)
        values = zip(self.derived, (*x, *y, *monotone_slopes(x, y)), strict=True)
        return {name: float(value) for name, value in values}

    def apply(self, light: Array, p: Values) -> Array:
        """Give the channels of a pixel the gain of the largest."""
        level = np.maximum(np.max(light, axis=-1, keepdims=True), SMALLEST)
        signal = np.minimum(pq_eotf_inverse(level), p.x_4)
        mapped = piece(signal, p.x_0, p.x_1, p.y_0, p.y_1, p.slope_0, p.slope_1)
        mapped = np.where(signal > p.x_1, piece(signal, p.x_1, p.x_2, p.y_1, p.y_2, p.slope_1, p.slope_2), mapped)
        mapped = np.where(signal > p.x_2, piece(signal, p.x_2, p.x_3, p.y_2, p.y_3, p.slope_2, p.slope_3), mapped)
        mapped = np.where(signal > p.x_3, piece(signal, p.x_3, p.x_4, p.y_3, p.y_4, p.slope_3, p.slope_4), mapped)
        return light * (np.minimum(pq_eotf(mapped), p.levels.target_peak) / level)


def monotone_slopes(x: Array, y: Array) -> Array:
    """Return slopes at the points (n,) that keep the cubic between them monotone; 0 where points coincide."""
    width = np.diff(x)
    chord = np.where(width > 0.0, np.diff(y) / np.maximum(width, SMALLEST), 0.0)
    slopes = np.concatenate([chord[:1], 0.5 * (chord[:-1] + chord[1:]), chord[-1:]])
    slopes[1:-1][chord[:-1] * chord[1:] <= 0.0] = 0.0
    for index, steepness in enumerate(chord):
        if steepness == 0.0:
            slopes[index : index + 2] = 0.0
            continue
        alpha, beta = slopes[index : index + 2] / steepness
        if alpha * alpha + beta * beta > 9.0:
            slopes[index : index + 2] *= 3.0 / np.hypot(alpha, beta)
    return slopes


def piece(signal: Array, x0: float, x1: float, y0: float, y1: float, slope0: float, slope1: float) -> Array:
    """Return the cubic between two points."""
    width = max(x1 - x0, SMALLEST)
    t = np.clip((signal - x0) / width, 0.0, 1.0)
    back = 1.0 - t
    rise = t * t * (3.0 - 2.0 * t)
    return y0 + (y1 - y0) * rise + width * t * back * (slope0 * back - slope1 * t)
