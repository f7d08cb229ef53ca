"""Hard clip: light is untouched up to the landing, and cut there."""

from collections.abc import Mapping

import numpy as np

from ..arrays import Array
from ..operator import Operator, Values
from ..roll_off import APPLICATION, DESATURATION, LANDING, carry, ceiling_of, driving_level


class HardClip(Operator):
    """The roll-off that is none: it starts where it lands, and its hardness has no parameter."""

    interface_version = 1
    name = "hard_clip"
    title = "Hard clip"
    kind = "tone"
    source = "common practice, no source"
    parameters = (LANDING, APPLICATION, DESATURATION)
    derived = ("ceiling",)

    def derive(self, p: Values) -> Mapping[str, float]:
        """Place the landing in cd/m2."""
        return {"ceiling": ceiling_of(p.levels, p.landing)}

    def apply(self, light: Array, p: Values) -> Array:
        """Return light whose driving level stays within the landing."""
        drive = driving_level(light, p.application)
        mapped = np.minimum(drive, p.ceiling)
        return carry(light, drive, mapped, 1.0, p.desaturation)
