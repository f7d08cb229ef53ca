"""Logarithmic: above the start, equal ratios of light become ever more nearly equal steps."""

import math
from collections.abc import Mapping

import numpy as np

from ..arrays import Array
from ..operator import Operator, Values
from ..roll_off import APPLICATION, DESATURATION, LANDING, REACH, START, carry, driving_level, shoulder_of


class Logarithmic(Operator):
    """Keeps the most separation among the brightest lights, and pays with the mid-tones just above the start."""

    interface_version = 1
    name = "logarithmic"
    title = "Logarithmic"
    kind = "tone"
    source = "common practice, no source: y = ln(1 + a u) / a with slope 1 at the start"
    parameters = (START, REACH, LANDING, APPLICATION, DESATURATION)
    derived = ("base", "room", "span", "bend")

    def derive(self, p: Values) -> Mapping[str, float]:
        """Place the shoulder and find the bend a for which the reach lands: a = ln(1 + a span)."""
        shoulder = shoulder_of(p)
        low, high = 0.0, shoulder["span"]
        for _ in range(80):
            bend = 0.5 * (low + high)
            low, high = (bend, high) if bend < math.log1p(bend * shoulder["span"]) else (low, bend)
        return {**shoulder, "bend": low}

    def apply(self, light: Array, p: Values) -> Array:
        """Return light whose driving level stays within the landing."""
        drive = driving_level(light, p.application)
        mapped = self.curve(drive, p)
        return carry(light, drive, mapped, 1.0, p.desaturation)

    def curve(self, level: Array, p: Values) -> Array:
        """Map a level in cd/m2: slope 1 at the start, the landing at the reach and above."""
        u = np.clip((level - p.base) / max(p.room, 1e-9), 0.0, p.span)
        risen = np.log1p(p.bend * u) / p.bend if p.span > 1.0 else u
        return np.minimum(level, p.base) + p.room * risen
