"""Michaelis-Menten: the saturation curve of a receptor, with an adjustable exponent."""

from collections.abc import Mapping

import numpy as np

from ..arrays import Array
from ..operator import Operator, Parameter, Values
from ..roll_off import APPLICATION, DESATURATION, GREY_18_NITS, LANDING, REACH, carry, ceiling_of, driving_level


class MichaelisMenten(Operator):
    """An S-shape in log light without a straight part: it starts everywhere, and turns at `half_level`."""

    interface_version = 1
    name = "michaelis_menten"
    title = "Michaelis-Menten"
    kind = "tone"
    source = "Michaelis and Menten 1913; with an exponent, Naka and Rushton 1966"
    parameters = (
        Parameter(
            name="half_level",
            unit="cd/m2",
            default=100.0,
            minimum=5.0,
            maximum=1000.0,
            scale="log",
            help="Where the curve turns: the level that is mapped to half of what endless light would give.",
        ),
        Parameter(
            name="hardness",
            unit="",
            default=1.0,
            minimum=0.5,
            maximum=2.0,
            help="How hard the curve is: the exponent. Above 1 it has a toe, below 1 it lifts the shadows.",
        ),
        REACH,
        LANDING,
        APPLICATION,
        DESATURATION,
    )
    derived = ("ceiling", "scale", "pivot", "pivot_gain")

    def derive(self, p: Values) -> Mapping[str, float]:
        """Place the landing, the scale with which the reach lands on it, and the level from which highlights pale.

        That is 18 % grey, or where the gain is largest if that is higher: below it lies the toe.
        """
        ceiling = ceiling_of(p.levels, p.landing)
        scale = ceiling * (1.0 + (p.half_level / (p.levels.source_peak * 2.0**p.reach)) ** p.hardness)
        steepest = p.half_level * max(p.hardness - 1.0, 0.0) ** (1.0 / p.hardness)
        pivot = max(GREY_18_NITS, steepest)
        at_pivot = min(scale / (1.0 + (p.half_level / pivot) ** p.hardness), ceiling)
        return {"ceiling": ceiling, "scale": scale, "pivot": pivot, "pivot_gain": at_pivot / pivot}

    def apply(self, light: Array, p: Values) -> Array:
        """Return light whose driving level stays within the landing; highlights pale against the gain at the pivot."""
        drive = driving_level(light, p.application)
        mapped = self.curve(drive, p)
        return carry(light, drive, mapped, p.pivot_gain, p.desaturation, p.pivot)

    def curve(self, level: Array, p: Values) -> Array:
        """Map a level in cd/m2: the landing at the reach and above."""
        response = (level / p.half_level) ** p.hardness
        return np.minimum(p.scale * (response / (1.0 + response)), p.ceiling)
