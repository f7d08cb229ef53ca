"""Template tone: a rational curve that brings the master's peak exactly to the target's."""

from collections.abc import Mapping

import numpy as np

from tonemap.arrays import Array
from tonemap.operator import Operator, Parameter, Values


class TemplateTone(Operator):
    """The largest channel drives all three: ratios are kept, and no channel passes the target's peak."""

    interface_version = 1
    name = "template_tone"
    title = "Template tone"
    kind = "tone"
    source = "Schlick 1994, Quantization Techniques for Visualization of High Dynamic Range Pictures: rational mapping"
    parameters = (
        Parameter(
            name="slope",
            unit="",
            default=1.0,
            minimum=0.25,
            maximum=4.0,
            scale="log",
            help="Of the curve at black: 1 keeps the darkest tones as they are.",
        ),
    )
    derived = ("bend",)

    def derive(self, p: Values) -> Mapping[str, float]:
        """Compute once for a parameter set what every pixel needs; both engines get the same number."""
        return {"bend": max(p.slope * p.levels.source_peak / p.levels.target_peak, 1.0)}

    def apply(self, light: Array, p: Values) -> Array:
        """Give the channels of a pixel one gain. The GLSL file has the same names in the same order."""
        level = np.max(light, axis=-1, keepdims=True)
        share = np.clip(level / p.levels.source_peak, 0.0, 1.0)
        curve = p.bend * share / ((p.bend - 1.0) * share + 1.0)
        return light * (curve * p.levels.target_peak / np.maximum(level, 1e-9))
