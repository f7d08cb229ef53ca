"""BT.2446 Method A: a tone curve in perceptual luma, with the colours corrected for the new brightness."""

import math
from collections.abc import Mapping

import numpy as np

from ..arrays import Array
from ..operator import Operator, Values

GAMMA = 2.4


class Bt2446A(Operator):
    """Places 18 % grey low and gives the highlights much room: the darkest of the published methods.

    The Report states it for 1000 to 100 cd/m2; the formula scales with the peaks. Saturated colours leave the target's
    volume in both directions; what falls below 0 is cut, what exceeds the peak is the gamut operator's work.
    """

    interface_version = 1
    name = "bt2446_a"
    title = "BT.2446 Method A"
    kind = "tone"
    source = "Report ITU-R BT.2446-1, section 4.1"
    derived = ("rho_hdr", "rho_sdr", "log_rho_hdr", "log_rho_sdr")

    def derive(self, p: Values) -> Mapping[str, float]:
        """Compute rho for both peaks, and its natural logarithm."""
        rho_hdr = 1.0 + 32.0 * (p.levels.source_peak / 10000.0) ** (1.0 / GAMMA)
        rho_sdr = 1.0 + 32.0 * (p.levels.target_peak / 10000.0) ** (1.0 / GAMMA)
        return {
            "rho_hdr": rho_hdr,
            "rho_sdr": rho_sdr,
            "log_rho_hdr": math.log(rho_hdr),
            "log_rho_sdr": math.log(rho_sdr),
        }

    def apply(self, light: Array, p: Values) -> Array:
        """Map light; what exceeds the master's peak is read as the peak."""
        signal = np.clip(light / p.levels.source_peak, 0.0, 1.0) ** (1.0 / GAMMA)
        red, green, blue = signal[..., 0], signal[..., 1], signal[..., 2]
        luma = 0.2627 * red + 0.6780 * green + 0.0593 * blue
        perceptual = np.log1p((p.rho_hdr - 1.0) * luma) / p.log_rho_hdr
        luma_sdr = np.expm1(self.knee(perceptual) * p.log_rho_sdr) / (p.rho_sdr - 1.0)
        colour_scaling = luma_sdr / (1.1 * np.maximum(luma, 1e-12))
        cb = colour_scaling * (blue - luma) / 1.8814
        cr = colour_scaling * (red - luma) / 1.4746
        luma_out = luma_sdr - np.maximum(0.1 * cr, 0.0)
        red, blue = luma_out + 1.4746 * cr, luma_out + 1.8814 * cb
        green = (luma_out - 0.2627 * red - 0.0593 * blue) / 0.6780
        return p.levels.target_peak * np.maximum(np.stack([red, green, blue], axis=-1), 0.0) ** GAMMA

    def knee(self, perceptual: Array) -> Array:
        """Bend perceptual luma; the printed constants join to 5.5e-4 at 0.7399."""
        middle = -1.1510 * perceptual * perceptual + 2.7811 * perceptual - 0.6302
        upper = np.where(perceptual < 0.9909, middle, 0.5 * perceptual + 0.5)
        return np.where(perceptual <= 0.7399, 1.0770 * perceptual, upper)
