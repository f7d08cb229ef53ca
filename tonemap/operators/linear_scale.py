"""Linear scale: one gain for all light, so that a chosen white lands on the landing, and a clip above."""

from collections.abc import Mapping

import numpy as np

from ..arrays import Array
from ..operator import Operator, Parameter, Values
from ..roll_off import APPLICATION, DESATURATION, LANDING, carry, ceiling_of, driving_level


class LinearScale(Operator):
    """Every ratio is kept up to the white, and nothing above it: with 203 cd/m2, the linear down-mapping of BT.2408."""

    interface_version = 1
    name = "linear_scale"
    title = "Linear scale"
    kind = "tone"
    source = "Report ITU-R BT.2408-8, section 5.2, with a hard clip"
    parameters = (
        Parameter(
            name="white",
            unit="cd/m2",
            default=203.0,
            minimum=48.0,
            maximum=10000.0,
            scale="log",
            help="The master's level that lands; what is brighter is clipped. Less is brighter and harder.",
        ),
        LANDING,
        APPLICATION,
        DESATURATION,
    )
    derived = ("ceiling", "gain")

    def derive(self, p: Values) -> Mapping[str, float]:
        """Place the landing in cd/m2, and the gain that takes white there."""
        ceiling = ceiling_of(p.levels, p.landing)
        return {"ceiling": ceiling, "gain": ceiling / p.white}

    def apply(self, light: Array, p: Values) -> Array:
        """Return light whose driving level stays within the landing."""
        drive = driving_level(light, p.application)
        mapped = np.minimum(drive * p.gain, p.ceiling)
        return carry(light, drive, mapped, p.gain, p.desaturation)
