"""Extended Reinhard: a rational shoulder that brings one chosen level exactly to the landing."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ..arrays import Array
from ..operator import Operator, Values
from ..roll_off import APPLICATION, DESATURATION, LANDING, REACH, START, carry, driving_level, shoulder_of


class ReinhardExtended(Operator):
    """The published curve when `start` is 0, where all light is held back a little; above 0, its shoulder alone."""

    interface_version = 1
    name = "reinhard_extended"
    title = "Extended Reinhard"
    kind = "tone"
    source = "Reinhard et al. 2002, Photographic Tone Reproduction for Digital Images, eq. 4; the start is ours"
    parameters = (replace(START, default=0.0), REACH, LANDING, APPLICATION, DESATURATION)
    derived = ("base", "room", "span")

    def derive(self, p: Values) -> Mapping[str, float]:
        """Place the shoulder; `span` is the white of the published curve."""
        return shoulder_of(p)

    def apply(self, light: Array, p: Values) -> Array:
        """Return light whose driving level stays within the landing."""
        drive = driving_level(light, p.application)
        mapped = self.curve(drive, p)
        return carry(light, drive, mapped, 1.0, p.desaturation)

    def curve(self, level: Array, p: Values) -> Array:
        """Map a level in cd/m2: slope 1 at the start, the landing at the reach and above."""
        u = np.clip((level - p.base) / max(p.room, 1e-9), 0.0, p.span)
        risen = u * (1.0 + u / (p.span * p.span)) / (1.0 + u) if p.span > 1.0 else u
        return np.minimum(level, p.base) + p.room * risen
