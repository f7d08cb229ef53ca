"""Boundary compression: chromaticity moves toward white, by its distance to the target's boundary, at its luminance."""

import numpy as np

from ..arrays import Array
from ..colorimetry import PRIMARIES, convert, luminance, matrix_to_xyz
from ..gamut import remaining_room
from ..operator import Operator, Parameter, Values

# v' = 9 Y / (X + 15 Y + 3 Z): CIE 15:2018, eq. 8.23.
SUM_WEIGHTS = np.array([1.0, 15.0, 3.0]) @ matrix_to_xyz(PRIMARIES["bt2020"])
SUM_WEIGHTS /= SUM_WEIGHTS.sum()
NO_ZERO = 1e9


class GamutBoundary(Operator):
    """Keeps luminance and the hue line in u'v'; only colours past the threshold move, and BT.2020's own edge lands.

    What is brighter than the target's white becomes white; a colour too bright for its saturation pales.
    """

    interface_version = 1
    name = "gamut_boundary"
    title = "Boundary compression"
    kind = "gamut"
    source = "Report ITU-R BT.2407-0, Annex 5, with eq. (5-4) squared"
    parameters = (
        Parameter(
            name="threshold",
            unit="",
            default=0.8,
            minimum=0.5,
            maximum=0.98,
            help="Up to this share of the distance from white to the boundary nothing changes.",
        ),
    )

    def apply(self, light: Array, p: Values) -> Array:
        """Return light in the target's primaries, within its volume.

        A straight line from white in u'v' is one in light that is scaled to X + 15 Y + 3 Z of white: along it, at
        t = 0..1 from white to the colour, a channel is 1 + t ray, and luminance is to be restored.
        """
        peak = p.levels.target_peak
        lum = luminance(light)[..., np.newaxis]
        limited = np.clip(lum, 0.0, peak)
        total = np.maximum(convert(light, SUM_WEIGHTS[np.newaxis]), 1e-9)
        ray_source = light / total - 1.0
        ray = convert(light, p.volume.to_target) / total - 1.0
        ray_v = lum / total - 1.0
        source_edge = zero_of(1.0, ray_source).min(axis=-1, keepdims=True)
        zeros = zero_of(1.0, ray)
        tops = zero_of(peak - limited, peak * ray_v - limited * ray)
        edge = np.minimum(zeros, tops).min(axis=-1, keepdims=True)
        target_edge = np.clip(edge, 1e-6, 1.0 / p.threshold)  # farther off, the colour stays where it is
        reach = np.maximum(source_edge / target_edge, 1.0)
        back = target_edge * remaining_room(1.0 / target_edge, reach, p.threshold)
        on_edge = np.where(zeros <= target_edge, 0.0, 1.0 + target_edge * ray)  # exactly 0 where a channel vanishes
        luminance_gain = limited / np.maximum(1.0 + (target_edge - back) * ray_v, 1e-9)
        moved = luminance_gain * (on_edge - back * ray)
        untouched = (edge >= 1.0 / p.threshold) & (lum <= peak)
        result = np.where(untouched, convert(light, p.volume.to_target), moved)
        return np.where(lum > 0.0, np.clip(result, 0.0, peak), 0.0)


def zero_of(start: Array | float, slope: Array) -> Array:
    """Return, for each channel, the t > 0 at which start + t slope falls to 0; `NO_ZERO` where it does not fall."""
    return np.where(slope < 0.0, start / np.maximum(-slope, 1e-9), NO_ZERO)
