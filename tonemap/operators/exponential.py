"""Exponential: a shoulder that approaches the landing as a film layer or a capacitor saturates."""

from collections.abc import Mapping

import numpy as np

from ..arrays import Array
from ..operator import Operator, Parameter, Values
from ..roll_off import APPLICATION, DESATURATION, LANDING, START, carry, ceiling_of, driving_level


class Exponential(Operator):
    """Soft at first and nearly flat at the top: most of the highlights lie close to the landing, whatever the peak."""

    interface_version = 1
    name = "exponential"
    title = "Exponential"
    kind = "tone"
    source = "common practice, no source: y = (1 - exp(-k u)) / k with slope 1 at the start"
    parameters = (
        START,
        Parameter(
            name="hardness",
            unit="",
            default=0.0,
            minimum=0.0,
            maximum=0.9,
            help="How hard the shoulder is: the slope that it still has where it meets the landing.",
        ),
        LANDING,
        APPLICATION,
        DESATURATION,
    )
    derived = ("base", "room", "rate")

    def derive(self, p: Values) -> Mapping[str, float]:
        """Place the shoulder; with the rate k the curve meets the landing at slope 1 - k."""
        ceiling = ceiling_of(p.levels, p.landing)
        base = min(p.start, ceiling)
        return {"base": base, "room": ceiling - base, "rate": 1.0 - p.hardness}

    def apply(self, light: Array, p: Values) -> Array:
        """Return light whose driving level stays within the landing."""
        drive = driving_level(light, p.application)
        mapped = self.curve(drive, p)
        return carry(light, drive, mapped, 1.0, p.desaturation)

    def curve(self, level: Array, p: Values) -> Array:
        """Map a level in cd/m2: slope 1 at the start, never above the landing."""
        u = np.maximum(level - p.base, 0.0) / max(p.room, 1e-9)
        risen = np.minimum(-np.expm1(-p.rate * u) / p.rate, 1.0)
        return np.minimum(level, p.base) + p.room * risen
