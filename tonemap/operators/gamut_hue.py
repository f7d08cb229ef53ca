"""Hue-preserving compression: chroma is brought within the target along lines of constant hue and lightness."""

import numpy as np

from ..arrays import Array
from ..colorimetry import PRIMARIES, convert, matrix_to_xyz
from ..gamut import remaining_room
from ..operator import Operator, Parameter, Values

ROUNDS = 8  # of the search for the boundary, two looks each

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
    channel of the target is a cubic along it, and its distance to the boundary can be had without cancellation.
    """

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
        peak = p.levels.target_peak
        cone_root = np.cbrt(np.maximum(convert(light, CONE_FROM_BT2020) / peak, 0.0))
        lightness = convert(cone_root, np.array([LIGHTNESS_WEIGHTS]))
        chroma = cone_root - lightness
        limited = np.minimum(lightness, 1.0)
        cubic = self.cubic(limited, chroma, p)
        result = np.clip(convert(light, p.volume.to_target), 0.0, peak)
        moves = (margin(cubic, 1.0 / p.threshold) < 0.0) | (lightness[..., 0] > 1.0)
        result[moves] = peak * np.clip(self.compressed(cubic[moves], p), 0.0, 1.0)
        return result

    def cubic(self, lightness: Array, chroma: Array, p: Values) -> Array:
        """Return the coefficients (..., 3, 4) of the target's channels, 1 at its peak, as cubics of chroma scale."""
        powers = np.stack(
            [
                np.broadcast_to(lightness**3, chroma.shape),
                3.0 * lightness**2 * chroma,
                3.0 * lightness * chroma**2,
                chroma**3,
            ],
            axis=-1,
        )
        to_target = p.volume.to_target @ BT2020_FROM_CONE
        return np.einsum("ij,...jk->...ik", to_target, powers)

    def compressed(self, cubic: Array, p: Values) -> Array:
        """Return light, 1 at the target's peak, with the chroma limited."""
        edge = np.maximum(boundary(cubic, 1.0 / p.threshold), 1e-6)
        back = edge * remaining_room(1.0 / edge, p.reach, p.threshold)
        scale = edge - back
        at_edge = value(cubic, edge)
        least, most = at_edge.min(axis=-1, keepdims=True), at_edge.max(axis=-1, keepdims=True)
        vanishes = (at_edge == least) & (least < 1.0 - most)
        # A channel that is 0 at the edge is (edge - scale) times the quotient of its cubic by that factor.
        _, c1, c2, c3 = np.moveaxis(cubic, -1, 0)
        s, e = scale[..., np.newaxis], edge[..., np.newaxis]
        quotient = c1 + e * (c2 + e * c3) + s * ((c2 + e * c3) + s * c3)
        return np.where(vanishes, -back[..., np.newaxis] * quotient, value(cubic, scale))


def value(cubic: Array, scale: Array | float) -> Array:
    """Return the channels (..., 3) at a chroma scale (...)."""
    s = np.asarray(scale)[..., np.newaxis]
    return cubic[..., 0] + s * (cubic[..., 1] + s * (cubic[..., 2] + s * cubic[..., 3]))


def margin(cubic: Array, scale: Array | float) -> Array:
    """Return how far a colour is inside the target's volume: the least share of the peak to either end."""
    relative = value(cubic, scale)
    return np.minimum(relative, 1.0 - relative).min(axis=-1)


def boundary(cubic: Array, limit: float) -> Array:
    """Return the chroma scale at which a colour meets the target's boundary, by halving and false position."""
    low, high = np.zeros(cubic.shape[:-2]), np.full(cubic.shape[:-2], limit)
    at_low, at_high = margin(cubic, low), margin(cubic, high)
    for look in range(2 * ROUNDS):
        share = 0.5 if look % 2 == 0 else at_low / np.maximum(at_low - at_high, 1e-12)
        scale = low + (high - low) * share
        at_scale = margin(cubic, scale)
        is_out = at_scale < 0.0
        low, at_low = np.where(is_out, low, scale), np.where(is_out, at_low, at_scale)
        high, at_high = np.where(is_out, scale, high), np.where(is_out, at_scale, at_high)
    return low + (high - low) * np.clip(at_low / np.maximum(at_low - at_high, 1e-12), 0.0, 1.0)
