"""Input adjustments: exposure, contrast and saturation on light, before the tone operator."""

from dataclasses import dataclass

import numpy as np

from .arrays import Array
from .colorimetry import luminance

LUMINANCE_FLOOR = 1e-6  # cd/m2; keeps the contrast's ratio finite at black


@dataclass(frozen=True)
class InputAdjustments:
    """What is done to the master's light before the tone operator sees it."""

    exposure: float = 0.0
    contrast: float = 1.0
    pivot: float = 26.0
    saturation: float = 1.0

    @property
    def is_neutral(self) -> bool:
        """Whether light stays as it is."""
        return (self.exposure, self.contrast, self.saturation) == (0.0, 1.0, 1.0)


def apply_input_adjustments(light: Array, adjustments: InputAdjustments) -> Array:
    """Adjust BT.2020 light (..., 3) in cd/m2; the result is never negative.

    Exposure is in stops. Contrast is a power of luminance about the pivot (cd/m2) that keeps chromaticity, so that it
    and saturation each do one thing. Saturation mixes with the grey of the same luminance.
    """
    if adjustments.is_neutral:
        return np.maximum(light, 0.0)  # to the last digit what follows would give
    light = light * 2.0**adjustments.exposure
    lum = luminance(light)[..., np.newaxis]
    relative = np.maximum(lum, LUMINANCE_FLOOR) / adjustments.pivot
    gain = relative ** (adjustments.contrast - 1.0)
    light, lum = light * gain, lum * gain
    return np.maximum(adjustments.saturation * light + (1.0 - adjustments.saturation) * lum, 0.0)
