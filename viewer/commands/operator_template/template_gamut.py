"""Template gamut: mix colours with the grey of their own luminance until they nearly fit the target, then cut."""

import numpy as np

from tonemap.arrays import Array
from tonemap.colorimetry import convert, luminance
from tonemap.operator import Operator, Parameter, Values


class TemplateGamut(Operator):
    """Colours within the target are exact; one outside nearly keeps its luminance, as far as the peak allows."""

    interface_version = 1
    name = "template_gamut"
    title = "Template gamut"
    kind = "gamut"
    source = "common practice, no source: mixing with white at constant luminance"
    parameters = (
        Parameter(
            name="beyond",
            unit="",
            default=0.02,
            minimum=0.01,
            maximum=0.5,
            help="How far outside the target a colour may stay before it is cut: more keeps more of its saturation.",
        ),
    )

    def apply(self, light: Array, p: Values) -> Array:
        """Return light in the target's primaries. The GLSL file has the same names in the same order."""
        peak = p.levels.target_peak
        grey = np.clip(luminance(light), 0.0, peak)[..., np.newaxis]
        offset = convert(light, p.volume.to_target) - grey
        low = np.min(offset, axis=-1, keepdims=True)
        high = np.max(offset, axis=-1, keepdims=True)
        room = np.minimum(grey / np.maximum(-low, 1e-9), (peak - grey) / np.maximum(high, 1e-9))
        share = np.minimum(room * (1.0 + p.beyond), 1.0)
        return np.clip(grey + share * offset, 0.0, peak)
