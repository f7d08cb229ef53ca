"""BT.2446 Method C: linear up to an inflection, logarithmic above, with a crosstalk that keeps hues in highlights."""

import math
from collections.abc import Mapping

import numpy as np

from ..arrays import Array
from ..colorimetry import luminance
from ..errors import WrongCall
from ..operator import Choice, Operator, Parameter, Values
from ..transfer import hlg_eotf

# The published conditions, from which the printed constants follow: HLG signal of skin and of reference white in the
# master, and the SDR signal (BT.1886) on which skin, the inflection and reference white land.
HDR_SKIN, HDR_WHITE = 0.50, 0.75
SDR_SKIN, SDR_INFLECTION, SDR_WHITE = 0.70, 0.80, 0.96
SDR_GAMMA = 2.4


class Bt2446C(Operator):
    """Skin is placed by a straight line and stays as it was graded; reference white lands at 96 % of the SDR signal.

    The curve passes 100 %: `top` says what happens there. Greys stay within the target's peak; after the crosstalk is
    undone a saturated colour may exceed it, in luminance too (by 8 % at the default crosstalk), and a channel may fall
    below 0: the gamut operator's work.
    """

    interface_version = 1
    name = "bt2446_c"
    title = "BT.2446 Method C"
    kind = "tone"
    source = "Report ITU-R BT.2446-1, section 6.1; constants derived from its conditions"
    parameters = (
        Parameter(
            name="crosstalk",
            unit="",
            default=0.05,
            minimum=0.0,
            maximum=0.2,
            help="How far channels are mixed before the curve, and unmixed after it; more keeps hues and pales lights.",
        ),
        Choice(
            name="top",
            default="clip",
            options={
                "clip": "what exceeds the target's peak is cut there",
                "scale": "the whole curve is scaled so that the master's peak lands on the target's peak",
            },
            help="What is done with the super-white part of the curve.",
        ),
    )
    derived = ("slope", "inflection", "log_gain", "log_shift", "log_offset", "top_gain")

    def derive(self, p: Values) -> Mapping[str, float]:
        """Solve for the constants (k1, Yip, k2, k3, k4 of the Report): value and slope are continuous."""
        peak, target = p.levels.source_peak, p.levels.target_peak
        skin, white = (float(hlg_eotf(np.full(3, signal), peak)[0]) for signal in (HDR_SKIN, HDR_WHITE))
        slope = target * SDR_SKIN**SDR_GAMMA / skin
        at_inflection = target * SDR_INFLECTION**SDR_GAMMA
        inflection = at_inflection / slope
        rise = (SDR_WHITE / SDR_INFLECTION) ** SDR_GAMMA - 1.0
        reach = white / inflection - 1.0
        if reach <= rise:
            raise WrongCall(
                f"a master's peak of {peak:g} cd/m2 is too low for the conditions of Method C; choose another operator"
            )
        low, high = 1e-9, 1e6  # u ln((reach + u) / u) rises with u, toward reach
        for _ in range(200):
            u = math.sqrt(low * high)
            low, high = (u, high) if u * math.log1p(reach / u) < rise else (low, u)
        log_gain, log_shift = at_inflection * low, 1.0 - low
        log_offset = at_inflection - log_gain * math.log(low)
        top = log_gain * math.log(max(peak / inflection, 1.0) - log_shift) + log_offset
        return {
            "slope": slope,
            "inflection": inflection,
            "log_gain": log_gain,
            "log_shift": log_shift,
            "log_offset": log_offset,
            "top_gain": target / top if p.top == "scale" else 1.0,
        }

    def apply(self, light: Array, p: Values) -> Array:
        """Map light; what exceeds the master's peak is read as the peak."""
        light = np.clip(light, 0.0, p.levels.source_peak)
        total = light.sum(axis=-1, keepdims=True)
        mixed = (1.0 - 3.0 * p.crosstalk) * light + p.crosstalk * total
        lum = luminance(mixed)[..., np.newaxis]
        mapped = np.minimum(p.top_gain * self.curve(lum, p), p.levels.target_peak)
        mixed = mixed * (mapped / np.maximum(lum, 1e-9))
        total = mixed.sum(axis=-1, keepdims=True)
        return (mixed - p.crosstalk * total) / (1.0 - 3.0 * p.crosstalk)

    def curve(self, lum: Array, p: Values) -> Array:
        """Map luminance in cd/m2 to SDR luminance, which may exceed the target's peak."""
        above = np.log(np.maximum(lum / p.inflection, 1.0) - p.log_shift)
        return np.where(lum < p.inflection, p.slope * lum, p.log_gain * above + p.log_offset)
