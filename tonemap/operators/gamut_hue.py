"""Hue-preserving compression: chroma is brought within the target along lines of constant hue and lightness."""

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..colorimetry import PRIMARIES, convert, matrix_to_xyz
from ..gamut import remaining_room
from ..operator import Operator, Parameter, Values

ROUNDS = 5  # of the search: random colours are then within 1e-7 of signal, what is far outside BT.2020 within 2e-4
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

    def apply(self, light: Array, p: Values) -> Array:
        """Return light in the target's primaries, within its volume."""
        peak, limit = p.levels.target_peak, 1.0 / p.threshold
        cone_root = np.cbrt(np.maximum(_planes(convert(light, CONE_FROM_BT2020)) / peak, 0.0))
        lightness = np.array(LIGHTNESS_WEIGHTS) @ cone_root
        cubic = self.cubic(np.minimum(lightness, 1.0), cone_root - lightness, p)
        edge = first_crossing(cubic, limit)
        moves = np.flatnonzero((edge < limit) | (lightness > 1.0))
        edge = np.maximum(edge[moves], 1e-6)
        scale = edge * (1.0 - remaining_room(1.0 / edge, p.reach, p.threshold))
        result = np.clip(_planes(convert(light, p.volume.to_target)), 0.0, peak)
        result[:, moves] = peak * np.clip(value(cubic.take(moves, axis=-1), scale), 0.0, 1.0)
        return np.moveaxis(result.reshape(3, *light.shape[:-1]), 0, -1)

    def cubic(self, lightness: Array, chroma: Array, p: Values) -> Array:
        """Return the coefficients (4, 3, n) of the target's channels, 1 at its peak, as cubics of chroma scale."""
        to_target = p.volume.to_target @ BT2020_FROM_CONE
        square = lightness * lightness
        chroma_square = chroma * chroma
        cubic = np.empty((4, *chroma.shape))
        cubic[0] = lightness * square  # white is white in both primaries
        cubic[1] = 3.0 * square * (to_target @ chroma)
        cubic[2] = 3.0 * lightness * (to_target @ chroma_square)
        cubic[3] = to_target @ (chroma * chroma_square)
        return cubic


def first_crossing(cubic: Array, limit: float) -> Array:
    """Return where the first channel of colours (4, 3, n) leaves 0..1, (n,), or the limit where none does.

    Of the six crossings only those are searched for that may be the first, in the order in which they may come.
    """
    c0, (falling, rising) = cubic[0], steepest_fall_and_rise(cubic, limit)
    earliest = np.concatenate([c0 / np.maximum(falling, 1e-20), (1.0 - c0) / np.maximum(rising, 1e-20)])
    edge = np.full(cubic.shape[-1], limit)
    while True:
        at = np.flatnonzero(earliest.min(axis=0) < edge)
        if not at.size:
            return edge
        which = _lowest(earliest.take(at, axis=1))
        room = cubic.reshape(4, -1).take(which % 3 * edge.size + at, axis=1)
        is_above = (which > 2).astype(room.dtype)
        room *= 1.0 - 2.0 * is_above
        room[0] += is_above
        edge[at] = np.minimum(edge[at], crossing(room, limit))
        earliest[which, at] = limit


def steepest_fall_and_rise(cubic: Array, limit: Array | float) -> tuple[Array, Array]:
    """Return the slopes of two lines from the start of cubics (4, ...), down and up, between which they stay.

    Up to the limit a cubic is a weighted mean of its start and of three points above a third, two thirds and the whole
    of the limit (its Bezier form); the lines are the steepest and the flattest through one of them.
    """
    _, c1, c2, c3 = cubic
    second, third = c1 + 0.5 * limit * c2, c1 + limit * (c2 + limit * c3)
    return -np.minimum(np.minimum(c1, second), third), np.maximum(np.maximum(c1, second), third)


def value(cubic: Array, s: Array | float) -> Array:
    """Return cubics with coefficients (4, ...) at s (...)."""
    return cubic[0] + s * (cubic[1] + s * (cubic[2] + s * cubic[3]))


def crossing(cubic: Array, limit: float) -> Array:
    """Return where cubics (4, n) that start above 0 fall below it, (n,), or the limit where they do not.

    The place is the average of those at which a cubic falls below -k, for k from 0 to `TOLERANCE` times its start.
    Where a cubic dips and recovers, that is before the dip for the k that the dip reaches, and behind it for the rest.
    Over each of these two parts of k the place for its middle stands for the average.
    """
    c0, c1, c2, c3 = cubic
    tolerance = TOLERANCE * np.maximum(c0, 0.0) + 1e-12
    discriminant = c2 * c2 - 3.0 * c1 * c3
    root = np.sqrt(np.maximum(discriminant, 0.0))
    # The minimum of the cubic: (root - c2) / (3 c3), by the form of it that does not cancel.
    lowest = np.where(c2 > 0.0, _quotient(-c1, root + c2), _quotient(root - c2, 3.0 * c3))
    dips = (discriminant > 0.0) & (lowest > 0.0) & (lowest < limit)
    first = np.where(dips, lowest, limit)
    before = np.clip(-value(cubic, first) / tolerance, 0.0, 1.0)
    second = np.full_like(c0, limit)

    at = np.flatnonzero(before > 0.0)
    lifted = cubic.take(at, axis=1)
    lifted[0] += (0.5 * before * tolerance)[at]
    first[at] = fall(lifted, first[at])

    lift = 0.5 * (1.0 + before) * tolerance
    at = np.flatnonzero(dips & (before < 1.0) & (value(cubic, limit) + lift < 0.0))
    lifted = cubic.take(at, axis=1)
    lifted[0] += lift[at]
    second[at] = fall(lifted, second[at])
    return before * first + (1.0 - before) * second


def fall(cubic: Array, high: Array) -> Array:
    """Return the place up to which cubics (4, n) that are below 0 at the high place are above it, by Halley's method.

    The search starts where it comes nearer from one side only: behind the crossing, where the cubic bends down all the
    way from there to the high place, else before it.
    """
    c0, c1, c2, c3 = cubic
    turn = np.clip(_quotient(-c2, 3.0 * c3), 0.0, high)
    bends_down = (c3 < 0.0) & (value(cubic, turn) > 0.0)
    falling, rising = steepest_fall_and_rise(cubic, high)
    s = np.clip(c0 / np.maximum(np.where(bends_down, -rising, falling), 1e-20), 0.0, high)
    for _ in range(ROUNDS):
        at_s = value(cubic, s)
        bend = c2 + s * (3.0 * c3)
        slope = c1 + s * (c2 + bend)
        s = np.clip(s - at_s * slope / np.maximum(slope * slope - at_s * bend, 1e-30), 0.0, high)
    return s


def _lowest(rows: Array) -> NDArray[np.intp]:
    """Return the number of the lowest of rows (m, n) in each column; NumPy's own is slow along a short axis."""
    lowest, which = rows[0], np.zeros(rows.shape[1], np.intp)
    for number, row in enumerate(rows[1:], 1):
        which = np.maximum(which, number * (row < lowest))
        lowest = np.minimum(lowest, row)
    return which


def _planes(pixels: Array) -> Array:
    """Return pixels (..., 3) as planes (3, n)."""
    return np.moveaxis(pixels, -1, 0).reshape(3, -1)


def _quotient(numerator: Array, denominator: Array) -> Array:
    """Divide, with a denominator of 0 read as a small one."""
    return numerator / np.where(np.abs(denominator) < 1e-20, 1e-20, denominator)
