"""Clip: convert to the target's primaries and cut each channel to 0..peak."""

import numpy as np

from ..arrays import Array
from ..colorimetry import convert
from ..operator import Operator, Values


class GamutClip(Operator):
    """The simple conversion of BT.2407: a matrix and a clamp. In-gamut colours are exact; others shift in hue."""

    interface_version = 1
    name = "gamut_clip"
    title = "Clip"
    kind = "gamut"
    source = "Report ITU-R BT.2407-0, section 2"

    def apply(self, light: Array, p: Values) -> Array:
        """Return light in the target's primaries, each channel within 0..target peak."""
        return np.clip(convert(light, p.volume.to_target), 0.0, p.levels.target_peak)
