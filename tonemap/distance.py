"""How far what is handed on is from the exact trim: a LUT, or the frames of a render."""

from collections.abc import Sequence
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


@dataclass(frozen=True)
class Distance:
    """The distance from the exact trim.

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

    def __str__(self) -> str:
        """One line for a report."""
        return (
            f"Delta E ITP mean {self.mean:.2f}, 99 % {self.p99:.2f}, maximum {self.maximum:.2f}; {BITS}-bit codes mean "
            f"{self.codes_mean:.2f}, 99 % {self.codes_p99:.0f}, maximum {self.codes_maximum}"
        )

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON."""
        return asdict(self)


def pooled(distances: Sequence[Distance]) -> Distance:
    """Pool the distances of several frames: means over all samples, the rest of the worst frame.

    Examples
    --------
    >>> one, other = Distance(10, 1.0, 2.0, 3.0, 0.1, 1.0, 1), Distance(30, 2.0, 4.0, 5.0, 0.3, 0.0, 2)
    >>> pooled([one, other])
    Distance(samples=40, mean=1.75, p99=4.0, maximum=5.0, codes_mean=0.25, codes_p99=1.0, codes_maximum=2)
    """
    samples = sum(item.samples for item in distances)
    return Distance(
        samples,
        sum(item.mean * item.samples for item in distances) / samples,
        max(item.p99 for item in distances),
        max(item.maximum for item in distances),
        sum(item.codes_mean * item.samples for item in distances) / samples,
        max(item.codes_p99 for item in distances),
        max(item.codes_maximum for item in distances),
    )


def distance_between(exact: Array, found: Array, target: Encoding) -> Distance:
    """Compare two R'G'B' signals (..., 3) of one target.

    Examples
    --------
    >>> from tonemap.encoding import sdr_target
    >>> error = distance_between(np.full((4, 3), 0.5), np.full((4, 3), 0.5 + 2.0 / 876.0), sdr_target())
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
    return Distance(
        len(exact),
        float(differences.mean()),
        float(np.percentile(differences, 99.0)),
        float(differences.max()),
        float(steps.mean()),
        float(np.percentile(steps, 99.0)),
        int(steps.max()),
    )


def _display_light(signal: Array, target: Encoding) -> Array:
    light = signal_to_light(np.asarray(signal, np.float64), target)
    return np.maximum(convert(light, conversion_matrix(target.primaries, "bt2020")), 0.0)
