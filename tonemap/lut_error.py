"""How far a LUT is from the trim that it stands for."""

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from .arrays import Array
from .colorimetry import conversion_matrix, convert
from .difference import delta_e_itp
from .encoding import Encoding, signal_to_light
from .signal_range import quantise

BITS = 10
BAND_SAMPLES = 1 << 18
GRID_NODES = 70
"""Of the grid of measurement a side; 69 steps share no factor with the 16, 32 and 64 of a cube's side, so that only the
ends of a side can fall on a cube's nodes."""


@dataclass(frozen=True)
class LutError:
    """The distance between a LUT and the exact trim.

    Attributes
    ----------
    samples : number of colours compared
    mean, p99, maximum : Delta E ITP of the light of the target's display
    codes_mean, codes_p99, codes_maximum : steps of the target's code values at 10 bits, every channel for itself
    """

    samples: int
    mean: float
    p99: float
    maximum: float
    codes_mean: float
    codes_p99: float
    codes_maximum: int

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON."""
        return asdict(self)


def lut_error(exact: Array, found: Array, target: Encoding) -> LutError:
    """Compare two R'G'B' signals (..., 3) of one target.

    Examples
    --------
    >>> from tonemap.encoding import sdr_target
    >>> error = lut_error(np.full((4, 3), 0.5), np.full((4, 3), 0.5 + 2.0 / 876.0), sdr_target())
    >>> error.codes_maximum, round(error.mean, 3)
    (2, 0.676)
    """
    exact, found = exact.reshape(-1, 3), found.reshape(-1, 3)
    differences = np.empty(len(exact))
    for start in range(0, len(exact), BAND_SAMPLES):
        part = np.s_[start : start + BAND_SAMPLES]
        differences[part] = delta_e_itp(_display_light(exact[part], target), _display_light(found[part], target))
    codes = (quantise(signal, BITS, target.signal_range).astype(np.int32) for signal in (exact, found))
    steps = np.abs(np.subtract(*codes))
    return LutError(
        len(exact),
        float(differences.mean()),
        float(np.percentile(differences, 99.0)),
        float(differences.max()),
        float(steps.mean()),
        float(np.percentile(steps, 99.0)),
        int(steps.max()),
    )


def measurement_grid(low: float, high: float) -> Array:
    """Return the colours of the grid of measurement as a picture (n, m, 3): every mix of values from low to high."""
    side = np.linspace(low, high, GRID_NODES)
    return np.stack(np.meshgrid(side, side, side, indexing="ij"), axis=-1).reshape(GRID_NODES, -1, 3)


def _display_light(signal: Array, target: Encoding) -> Array:
    light = signal_to_light(np.asarray(signal, np.float64), target)
    return np.maximum(convert(light, conversion_matrix(target.primaries, "bt2020")), 0.0)
