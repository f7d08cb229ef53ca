"""Hue-preserving compression: chroma is brought within the target along lines of constant hue and lightness."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..colorimetry import PRIMARIES, convert, matrix_to_xyz
from ..gamut import remaining_room
from ..operator import Operator, Parameter, Values

ROUNDS = 6  # of the search for a crossing; after five, a few in a million random colours are up to 2e-4 off
NEAR_NEUTRAL = 1.5  # cone responses within this factor of one another: the lines are all but straight in light
TOLERANCE = 0.005  # of a colour's own room: crossings are averaged over it, so that a vanishing one does not jump

# Ottosson 2020, as printed: XYZ (D65) to cone response, and the first row of the matrix to lightness, a and b.
CONE_FROM_XYZ = np.array(
    [
        [0.8189330101, 0.3618667424, -0.1288597137],
        [0.0329845436, 0.9293118715, 0.0361456387],
        [0.0482003018, 0.2643662691, 0.6338517070],
    ]
)
LIGHTNESS_WEIGHTS = (0.2104542553, 0.7936177850, -0.0040720468)
# Each row is scaled by at most 5e-4, so that D65 is neutral to the last digit.
CONE_FROM_BT2020 = CONE_FROM_XYZ @ matrix_to_xyz(PRIMARIES["bt2020"])
CONE_FROM_BT2020 /= CONE_FROM_BT2020.sum(axis=1, keepdims=True)
BT2020_FROM_CONE = np.linalg.inv(CONE_FROM_BT2020)


class GamutHue(Operator):
    """Neutrals and colours below the threshold are untouched; what is lighter than the target's white is white.

    In the Oklab space a line of constant hue and lightness is straight in the cube roots of the cone responses, so a
    channel of the target is a cubic along it. Among deep blues that cubic leaves the target, comes back and leaves it
    again, and between two hues the first leaving vanishes; the boundary there is an average, and does not jump.
    """

    interface_version = 1
    name = "gamut_hue"
    title = "Hue-preserving compression"
    kind = "gamut"
    source = (
        "the aims of Report ITU-R BT.2407-0 in the Oklab space (Ottosson 2020, A perceptual color space for image "
        "processing), with the soft limit of BT.2407-0, Annex 5"
    )
    parameters = (
        Parameter(
            name="threshold",
            unit="",
            default=0.85,
            minimum=0.5,
            maximum=0.98,
            help="Chroma up to this share of the boundary's is untouched.",
        ),
        Parameter(
            name="reach",
            unit="",
            default=1.6,
            minimum=1.1,
            maximum=4.0,
            help="Chroma of this many times the boundary's lands on the boundary; what exceeds it does too.",
        ),
    )

    derived = ("bend",)

    def derive(self, p: Values) -> Mapping[str, float]:
        """Return how far near-neutral lines bend."""
        return {"bend": bend_of(p.volume.to_target, 1.0 / p.threshold)}

    def apply(self, light: Array, p: Values) -> Array:
        """Return light in the target's primaries, within its volume."""
        peak, limit = p.levels.target_peak, 1.0 / p.threshold
        target = convert(light, p.volume.to_target)
        cone = convert(light, CONE_FROM_BT2020) / peak
        may_move = np.logical_not(is_near_neutral_inside(cone, target / peak, limit, p.bend))
        result = np.clip(target, 0.0, peak)
        result[may_move] = self.moved(cone[may_move], result[may_move], p)
        return result

    def moved(self, cone: Array, untouched: Array, p: Values) -> Array:
        """Bring colours within the target, given their cone responses, 1 at white, and their clipped light, (n, 3)."""
        limit = 1.0 / p.threshold
        cone_root = np.cbrt(np.maximum(cone.T, 0.0))
        lightness = np.array(LIGHTNESS_WEIGHTS) @ cone_root
        cubic = self.cubic(np.minimum(lightness, 1.0), cone_root - lightness, p)
        moves = np.logical_not(is_surely_inside(cubic, limit)) | (lightness > 1.0)
        cubic = cubic[..., moves]
        edge = np.minimum(crossing(cubic, limit), crossing(white_room(cubic), limit)).min(axis=0)
        edge = np.maximum(edge, 1e-6)
        scale = edge * (1.0 - remaining_room(1.0 / edge, p.reach, p.threshold))
        is_untouched = (edge >= limit) & (lightness[moves] <= 1.0)
        landed = p.levels.target_peak * np.clip(value(cubic, scale), 0.0, 1.0)
        result = untouched.copy()
        result[moves] = np.where(is_untouched, untouched[moves].T, landed).T
        return result

    def cubic(self, lightness: Array, chroma: Array, p: Values) -> Array:
        """Return the coefficients (4, 3, n) of the target's channels, 1 at its peak, as cubics of chroma scale."""
        powers = [
            np.broadcast_to(lightness**3, chroma.shape),
            3.0 * lightness**2 * chroma,
            3.0 * lightness * chroma**2,
            chroma**3,
        ]
        to_target = p.volume.to_target @ BT2020_FROM_CONE
        return np.stack([to_target @ power for power in powers])


def bend_of(to_target: Array, limit: float) -> float:
    """Return how far a near-neutral line, up to the limit, bends away from the straight one, in shares of its grey.

    With x the cone roots' differences from their lightness, in lightness, a channel at s is (1 - s) grey + s colour
    + 3 (s^2 - s) sum(m x^2) + (s^3 - s) sum(m x^3), m being its row of the matrix from cone responses; the differences
    are within the roots' spread, and the third lightness weight, which is negative, lets them exceed it by 0.5 %, and
    grey be 0.2 % darker than the lowest response.
    """
    x = 1.005 * (NEAR_NEUTRAL ** (1.0 / 3.0) - 1.0)
    weight = np.abs(to_target @ BT2020_FROM_CONE).sum(axis=1).max()
    square, cube = max(0.25, limit**2 - limit), max(0.385, limit**3 - limit)
    return float(weight * (3.0 * square * x**2 + cube * x**3))


def is_near_neutral_inside(cone: Array, target: Array, limit: float, bend: float) -> Array:
    """Say of which near-neutral colours (..., 3) no channel can leave 0..1 up to the limit, without a cube root.

    What is not said to be inside is looked at again, more closely.
    """
    low, high = cone.min(axis=-1), cone.max(axis=-1)
    return (
        (high <= NEAR_NEUTRAL * low)
        & (low >= 1.02 * bend * high)
        & (limit * target.min(axis=-1) >= (limit - 1.0 + 1.01 * bend) * 1.005 * high)
        & (limit * target.max(axis=-1) < 1.0 - 1.01 * bend * high + (limit - 1.0) * 0.995 * low)
        & (1.01 * (1.0 + bend) * high < 1.0)
    )


def white_room(cubic: Array) -> Array:
    """Return the cubics of the room below the target's peak."""
    return np.concatenate([1.0 - cubic[:1], -cubic[1:]])


def value(cubic: Array, s: Array | float) -> Array:
    """Return cubics with coefficients (4, ...) at s (...)."""
    return cubic[0] + s * (cubic[1] + s * (cubic[2] + s * cubic[3]))


def is_surely_inside(cubic: Array, limit: float) -> Array:
    """Say of which colours, (n,) of (4, 3, n), no channel can leave 0..1 up to the limit, by the coefficients' size."""
    most = limit * (np.abs(cubic[1]) + limit * (np.abs(cubic[2]) + limit * np.abs(cubic[3])))
    return np.minimum(cubic[0], 1.0 - cubic[0]).min(axis=0) > most.max(axis=0)


def crossing(cubic: Array, limit: float) -> Array:
    """Return where cubics that start above 0 fall below it, (...), or the limit where they do not.

    The place is the average of those at which a cubic falls below -k, for k from 0 to `TOLERANCE` times its start.
    Where a cubic dips and recovers, that is before the dip for the k that the dip reaches, and behind it for the rest.
    """
    c0, c1, c2, c3 = cubic
    tolerance = TOLERANCE * np.maximum(c0, 0.0) + 1e-12
    discriminant = c2 * c2 - 3.0 * c1 * c3
    root = np.sqrt(np.maximum(discriminant, 0.0))
    # The minimum of the cubic: (root - c2) / (3 c3), by the form of it that does not cancel.
    lowest = np.where(c2 > 0.0, _quotient(-c1, root + c2), _quotient(root - c2, 3.0 * c3))
    dips = (discriminant > 0.0) & (lowest > 0.0) & (lowest < limit)
    lowest = np.where(dips, lowest, limit)
    before = np.clip(-value(cubic, lowest) / tolerance, 0.0, 1.0)
    first = _fall(cubic, 0.5 * before * tolerance, np.zeros_like(c0), lowest, before > 0.0)
    second = _fall(cubic, 0.5 * (1.0 + before) * tolerance, lowest, np.full_like(c0, limit), dips)
    return before * first + (1.0 - before) * second


def _fall(cubic: Array, shift: Array, low: Array, high: Array, is_wanted: NDArray[np.bool_]) -> Array:
    """Return where a cubic and a shift fall to 0 between two places, by Halley's method; else the second.

    The search starts where it comes nearer from one side only: at the turning point, where the slope is steepest, or at
    an end on whose side the bend is.
    """
    result = high.copy()
    falls = is_wanted & (value(cubic, high) + shift < 0.0)
    c0, c1, c2, c3 = cubic[:, falls]
    low, high = low[falls], high[falls]
    shifted = np.stack([c0 + shift[falls], c1, c2, c3])
    turn = np.clip(_quotient(-c2, 3.0 * c3), low, high)
    s = np.where(c3 > 0.0, turn, np.where(value(shifted, turn) > 0.0, high, low))
    for _ in range(ROUNDS):
        at_s = value(shifted, s)
        slope = c1 + s * (2.0 * c2 + s * (3.0 * c3))
        bend = c2 + s * (3.0 * c3)
        s = np.clip(s - _quotient(at_s * slope, slope * slope - at_s * bend), low, high)
    result[falls] = s
    return result


def _quotient(numerator: Array, denominator: Array) -> Array:
    """Divide, with a denominator of 0 read as a small one."""
    return numerator / np.where(np.abs(denominator) < 1e-20, 1e-20, denominator)
