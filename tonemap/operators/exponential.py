"""Exponential: a shoulder that approaches the landing as a film layer or a capacitor saturates."""

import math
from collections.abc import Mapping

import numpy as np

from ..arrays import Array
from ..operator import Operator, Values
from ..roll_off import APPLICATION, DESATURATION, LANDING, REACH, START, carry, driving_level, shoulder_of


class Exponential(Operator):
    """Soft at first and nearly flat at the top: most of the highlights lie close to the landing."""

    name = "exponential"
    title = "Exponential"
    kind = "tone"
    source = "common practice, no source: y = (1 - exp(-k u)) / k with slope 1 at the start"
    parameters = (START, REACH, LANDING, APPLICATION, DESATURATION)
    derived = ("base", "room", "span", "rate")

    def derive(self, p: Values) -> Mapping[str, float]:
        """Place the shoulder and find the rate k for which the reach lands: k = 1 - exp(-k span)."""
        shoulder = shoulder_of(p)
        low, high = 0.0, 1.0
        for _ in range(60):
            rate = 0.5 * (low + high)
            low, high = (rate, high) if rate < -math.expm1(-rate * shoulder["span"]) else (low, rate)
        return {**shoulder, "rate": low}

    def apply(self, light: Array, p: Values) -> Array:
        """Return light whose driving level stays within the landing."""
        drive = driving_level(light, p.application)
        mapped = self.curve(drive, p)
        return carry(light, drive, mapped, 1.0, p.desaturation)

    def curve(self, level: Array, p: Values) -> Array:
        """Map a level in cd/m2: slope 1 at the start, the landing at the reach and above."""
        u = np.clip((level - p.base) / max(p.room, 1e-9), 0.0, p.span)
        risen = -np.expm1(-p.rate * u) / p.rate if p.span > 1.0 else u
        return np.minimum(level, p.base) + p.room * risen
