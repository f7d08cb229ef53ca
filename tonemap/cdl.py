"""ASC Color Decision List: slope, offset, power and saturation on a signal."""

from dataclasses import dataclass

import numpy as np

from .arrays import Array

Triple = tuple[float, float, float]

CDL_WEIGHTS = (0.2126, 0.7152, 0.0722)  # ASC CDL v1.2: BT.709 weights whatever the working space


@dataclass(frozen=True)
class Cdl:
    """One colour correction: per channel slope, offset and power, then saturation."""

    slope: Triple = (1.0, 1.0, 1.0)
    offset: Triple = (0.0, 0.0, 0.0)
    power: Triple = (1.0, 1.0, 1.0)
    saturation: float = 1.0

    @property
    def is_neutral(self) -> bool:
        """Whether a signal within 0..1 stays as it is."""
        return self == Cdl()


def apply_cdl(signal: Array, cdl: Cdl) -> Array:
    """Apply a colour decision to a signal (..., 3), with the clamps to 0..1 of ASC CDL v1.2.

    Examples
    --------
    >>> decision = Cdl(slope=(1.2, 1.0, 0.8), offset=(0.05, -0.02, 0.0), power=(1.1, 0.9, 1.0), saturation=0.8)
    >>> apply_cdl(np.array([0.5, 0.4, 0.3]), decision).round(6).tolist()
    [0.587891, 0.4247, 0.281816]
    """
    if cdl.is_neutral:
        return np.clip(signal, 0.0, 1.0)
    slope, offset, power = (np.asarray(triple, signal.dtype) for triple in (cdl.slope, cdl.offset, cdl.power))
    graded = np.clip(signal * slope + offset, 0.0, 1.0) ** power
    red, green, blue = CDL_WEIGHTS
    luma = (red * graded[..., 0] + green * graded[..., 1] + blue * graded[..., 2])[..., np.newaxis]
    return np.clip(luma + cdl.saturation * (graded - luma), 0.0, 1.0)
