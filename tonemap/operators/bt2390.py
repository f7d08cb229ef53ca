"""BT.2390 EETF: the electrical-electrical transfer function that fits a master to a display of lower peak."""

from collections.abc import Mapping

import numpy as np

from ..arrays import Array
from ..colorimetry import intensity_and_chroma, light_of_intensity_and_chroma
from ..errors import WrongCall
from ..operator import Choice, Operator, Parameter, Switch, Values
from ..transfer import pq_eotf, pq_eotf_inverse

STANDARD_KNEE_OFFSET = 0.5
LUMINANCE_WEIGHTS = (0.2627, 0.6780, 0.0593)  # as the Report prints them
SMALLEST_LEVEL = 1e-9


class Bt2390(Operator):
    """A Hermite shoulder in PQ from a knee that follows from the two peaks, and a lift of the blacks.

    Applied to channels or to max(R, G, B) no channel exceeds the target's peak; applied to luminance or to intensity a
    saturated channel may, and intensity may leave a channel slightly negative: the gamut operator's work.
    """

    interface_version = 1
    name = "bt2390"
    title = "BT.2390 EETF"
    kind = "tone"
    source = "Report ITU-R BT.2390-7, section 5.4.1; now Report ITU-R BT.2408-9, Annex 5"
    parameters = (
        Choice(
            name="application",
            default="max_rgb",
            options={
                "per_channel": "on R', G' and B': saturated highlights pale and turn in hue",
                "max_rgb": "on max(R, G, B): ratios are kept, saturated highlights are darkest",
                "luminance": "on luminance: ratios are kept, a channel may exceed the peak",
                "intensity": "on I of ICtCp: hue is kept, chroma follows intensity",
            },
            help="What the curve is applied to.",
        ),
        Switch(name="adjust_knee", default=False, help="Leave the standard's knee and take the offset below."),
        Parameter(
            name="knee_offset",
            unit="",
            default=STANDARD_KNEE_OFFSET,
            minimum=0.5,
            maximum=1.0,
            help="Knee = (1 + offset) maxLum - offset. 0.5 is the standard; more starts the shoulder earlier.",
        ),
    )
    derived = ("pq_black", "pq_range", "pq_top", "min_lum", "max_lum", "knee")

    def derive(self, p: Values) -> Mapping[str, float]:
        """Compute the constants of the curve; raises WrongCall where the curve would not be monotone."""
        levels = p.levels
        pq_black, pq_white, pq_min, pq_max = (
            float(pq_eotf_inverse(np.array(level)))
            for level in (levels.source_black, levels.source_peak, levels.target_black, levels.target_peak)
        )
        pq_range = pq_white - pq_black
        min_lum, max_lum = (pq_min - pq_black) / pq_range, (pq_max - pq_black) / pq_range
        offset = p.knee_offset if p.adjust_knee else STANDARD_KNEE_OFFSET
        knee = (1.0 + offset) * max_lum - offset
        if knee < 0.0:
            raise WrongCall(
                f"a target of {levels.target_peak:g} cd/m2 is too dark for a master of {levels.source_peak:g} cd/m2: "
                "the knee would lie below black; raise the target's peak or lower the knee offset"
            )
        if min_lum > 0.25:
            raise WrongCall(
                f"a target black of {levels.target_black:g} cd/m2 is too bright for a master of "
                f"{levels.source_peak:g} cd/m2: the lift would not be monotone; lower the target's black"
            )
        return {
            "pq_black": pq_black,
            "pq_range": pq_range,
            "pq_top": pq_max,
            "min_lum": min_lum,
            "max_lum": max_lum,
            "knee": knee,
        }

    def apply(self, light: Array, p: Values) -> Array:
        """Map light through the curve, on what the application says."""
        if p.application == "per_channel":
            return self.curve(light, p)
        if p.application == "intensity":
            return self.on_intensity(light, p)
        if p.application == "max_rgb":
            drive = light.max(axis=-1, keepdims=True)
        else:
            red, green, blue = LUMINANCE_WEIGHTS
            drive = (red * light[..., 0] + green * light[..., 1] + blue * light[..., 2])[..., np.newaxis]
        mapped = self.curve(drive, p)
        gained = light * (mapped / np.maximum(drive, SMALLEST_LEVEL))
        return np.where(drive > SMALLEST_LEVEL, gained, mapped)  # black has no ratios: it takes the curve's own black

    def on_intensity(self, light: Array, p: Values) -> Array:
        """Map I of ICtCp; chroma is scaled by the smaller of the two ratios of intensity."""
        before, chroma = intensity_and_chroma(light)
        after = np.minimum(self.eetf(before, p), p.pq_top)
        ratio = np.minimum(before / after, after / before)
        return light_of_intensity_and_chroma(after, ratio * chroma)

    def curve(self, level: Array, p: Values) -> Array:
        """Map a level in cd/m2 through the EETF."""
        signal = pq_eotf_inverse(level)
        untouched = (p.min_lum == 0.0) & ((signal - p.pq_black) / p.pq_range < min(p.knee, 1.0))
        result = np.asarray(np.maximum(level, p.levels.source_black))
        bent = np.logical_not(untouched)
        result[bent] = np.minimum(pq_eotf(self.eetf(signal[bent], p)), p.levels.target_peak)
        return result

    def eetf(self, signal: Array, p: Values) -> Array:
        """Map a PQ signal to a PQ signal; steps 1 to 5 of the Report."""
        e1 = np.clip((signal - p.pq_black) / p.pq_range, 0.0, 1.0)
        e2 = e1
        if p.max_lum < 1.0:
            t = np.maximum(e1 - p.knee, 0.0) / (1.0 - p.knee)
            u = 1.0 - t
            shoulder = p.knee + t * ((1.0 - p.knee) * u * u + (p.max_lum - p.knee) * t * (3.0 - 2.0 * t))
            e2 = np.where(e1 < p.knee, e1, shoulder)
        v = 1.0 - e2
        e3 = e2 + p.min_lum * (v * v) * (v * v)
        return e3 * p.pq_range + p.pq_black
