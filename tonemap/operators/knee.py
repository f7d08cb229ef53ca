"""Knee: two straight lines in PQ with a rounded corner between them."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ..arrays import Array
from ..operator import Operator, Parameter, Values
from ..roll_off import APPLICATION, DESATURATION, LANDING, REACH, START, carry, ceiling_of, driving_level
from ..transfer import pq_eotf, pq_eotf_inverse


class Knee(Operator):
    """Straight lines in PQ are even steps to the eye: all highlights keep the same small share of their contrast.

    The corner is a parabola, so the slope is continuous at any softness.
    """

    interface_version = 1
    name = "knee"
    title = "Knee"
    kind = "tone"
    source = "common practice, no source: camera knee with a parabolic corner, in PQ"
    parameters = (
        replace(START, default=40.0, minimum=1.0, help="The knee point; the corner is rounded on both sides of it."),
        Parameter(
            name="softness",
            unit="",
            default=0.5,
            minimum=0.02,
            maximum=1.0,
            help="How wide the corner is rounded; 1 is as wide as there is room.",
        ),
        REACH,
        LANDING,
        APPLICATION,
        DESATURATION,
    )
    derived = ("point", "half_width", "slope", "top")

    def derive(self, p: Values) -> Mapping[str, float]:
        """Place knee point, corner and landing in PQ signal, and the slope above the knee."""
        start, reach, top = (
            float(pq_eotf_inverse(np.array(level)))
            for level in (p.start, p.levels.source_peak * 2.0**p.reach, ceiling_of(p.levels, p.landing))
        )
        point = min(start, top)
        if reach <= top + 1e-5:  # nothing to compress
            return {"point": top, "half_width": p.softness * top * 1e-3, "slope": 1.0, "top": top}
        half_width = p.softness * min(point, reach - point)
        return {"point": point, "half_width": half_width, "slope": (top - point) / (reach - point), "top": top}

    def apply(self, light: Array, p: Values) -> Array:
        """Return light whose driving level stays within the landing."""
        drive = driving_level(light, p.application)
        mapped = self.curve(drive, p)
        return carry(light, drive, mapped, 1.0, p.desaturation)

    def curve(self, level: Array, p: Values) -> Array:
        """Map a level in cd/m2."""
        signal = pq_eotf_inverse(level)
        into_corner = np.clip(signal - (p.point - p.half_width), 0.0, 2.0 * p.half_width)
        above = np.maximum(signal - (p.point + p.half_width), 0.0)
        loss = (1.0 - p.slope) * (into_corner * into_corner / (4.0 * p.half_width) + above)
        mapped = pq_eotf(np.minimum(signal - loss, p.top))
        return np.where((loss > 0.0) | (signal > p.top), mapped, level)
