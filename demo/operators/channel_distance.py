"""Channel distance: compress how far each channel lies below the largest, until the target holds it."""

from collections.abc import Mapping

import numpy as np

from tonemap.arrays import Array
from tonemap.colorimetry import convert
from tonemap.operator import Operator, Parameter, Values

SMALLEST = 1e-9
HELD = 0.9
"""The share of the farthest distance that lands on the boundary. What is farther is cut: nearer to it, a channel close
to 0 would show every rounding of float32."""
CORNERS = np.array([[r, g, b] for r in (0.0, 1.0) for g in (0.0, 1.0) for b in (0.0, 1.0)][1:])


class ChannelDistance(Operator):
    """Each channel by itself, so hue turns a little; greys and colours below the threshold are exact.

    The limits follow from the primaries: the farthest that a colour of BT.2020 lies outside the target. The largest
    channel stays; what it has above the target's peak is cut.
    """

    interface_version = 1
    name = "channel_distance"
    title = "Channel distance"
    kind = "gamut"
    source = "Academy Color Encoding System 1.3, Reference Gamut Compression: its curve, in the target's primaries"
    parameters = (
        Parameter(
            name="threshold",
            unit="",
            default=0.815,
            minimum=0.3,
            maximum=0.95,
            help="Where compression starts: 0 is grey, 1 the boundary of the target.",
        ),
        Parameter(
            name="power", unit="", default=1.2, minimum=1.0, maximum=3.0, help="How sharply it sets in; 1 is softest."
        ),
    )
    derived = ("scale_r", "scale_g", "scale_b")

    def derive(self, p: Values) -> Mapping[str, float]:
        """Compute the scale of each channel's curve."""
        corners = convert(CORNERS, p.volume.to_target)
        largest = corners.max(axis=-1, keepdims=True)
        limits = np.maximum(((largest - corners) / largest).max(axis=0) * HELD, 1.001)
        return {name: scale_of(p.threshold, limit, p.power) for name, limit in zip(self.derived, limits, strict=True)}

    def apply(self, light: Array, p: Values) -> Array:
        """Return light in the target's primaries, within 0..peak."""
        colour = convert(light, p.volume.to_target)
        largest = np.max(colour, axis=-1, keepdims=True)
        scale = np.array([p.scale_r, p.scale_g, p.scale_b]).astype(light.dtype)
        distance = (largest - colour) / np.maximum(largest, SMALLEST)
        kept = compressed(distance, p.threshold, scale, p.power)
        return np.clip(largest - kept * np.maximum(largest, SMALLEST), 0.0, p.levels.target_peak)


def scale_of(threshold: float, limit: float, power: float) -> float:
    """Return the scale at which a distance of `limit` is compressed to 1."""
    room = limit - threshold
    return float(room / (((1.0 - threshold) / room) ** -power - 1.0) ** (1.0 / power))


def compressed(distance: Array, threshold: float, scale: Array, power: float) -> Array:
    """Return the distance after compression; below the threshold the same."""
    over = np.maximum(distance - threshold, 0.0) / scale
    return np.minimum(distance, threshold) + scale * over / (1.0 + over**power) ** (1.0 / power)
