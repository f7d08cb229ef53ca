"""ACES 2 tonescale: the curve of the ACES 2 output transforms, for grey and luminance."""

from collections.abc import Mapping

import numpy as np

from tonemap.arrays import Array
from tonemap.colorimetry import luminance
from tonemap.operator import Operator, Parameter, Values

# The published constants.
REFERENCE_NITS = 100.0
CONTRAST = 1.15
SCENE_GREY = 0.18
GREY_NITS = 10.013  # where scene grey lands at a peak of 100
TOE = 0.04
HIT_LOW, HIT_HIGH = 128.0, 896.0  # scene level that hits the peak, at peaks of 100 and 10 000
GREY_RISE = 0.14  # of grey, a doubling of the peak


class Aces2Tonescale(Operator):
    """Luminance drives all channels: chromaticity is kept, and a saturated channel may pass the target's peak.

    The curve was made for scene light: one level of the master has to be told to be scene grey.
    """

    interface_version = 1
    name = "aces2_tonescale"
    title = "ACES 2 tonescale"
    kind = "tone"
    source = "Academy Color Encoding System 2.0, output transforms: tonescale"
    parameters = (
        Parameter(
            name="grey",
            unit="cd/m2",
            default=26.0,
            minimum=5.0,
            maximum=100.0,
            scale="log",
            help="The level of the master that is scene grey (0.18); more is darker.",
        ),
    )
    derived = ("numerator", "shift")

    def derive(self, p: Values) -> Mapping[str, float]:
        """Compute the two constants of the curve that follow from the target's peak."""
        peak = p.levels.target_peak
        hit = HIT_LOW + (HIT_HIGH - HIT_LOW) * np.log(peak / REFERENCE_NITS) / np.log(10_000.0 / 100.0)
        reached = _before_toe(peak / REFERENCE_NITS)
        slope = reached / (hit / reached / (hit / reached + 1.0)) ** CONTRAST
        grey = _before_toe(GREY_NITS / REFERENCE_NITS * (1.0 + GREY_RISE * np.log2(peak / REFERENCE_NITS)))
        root = (grey / slope) ** (1.0 / CONTRAST)
        width = SCENE_GREY * (1.0 - root) / (reached * root)
        shift = width * reached
        numerator = reached / (hit / reached / (hit / reached + width)) ** CONTRAST
        return {"numerator": float(numerator), "shift": float(shift)}

    def apply(self, light: Array, p: Values) -> Array:
        """Map luminance by the curve and give the channels of a pixel one gain."""
        level = np.maximum(luminance(light), 1e-9)[..., np.newaxis]
        scene = level * (SCENE_GREY / p.grey)
        curve = p.numerator * (scene / (scene + p.shift)) ** CONTRAST
        nits = np.minimum(curve * curve / (curve + TOE) * REFERENCE_NITS, p.levels.target_peak)
        return light * (nits / level)


def _before_toe(share: float) -> float:
    """Return what the toe x^2 / (x + TOE) maps to a share of the reference."""
    return float(0.5 * (share + np.sqrt(share * (share + 4.0 * TOE))))
