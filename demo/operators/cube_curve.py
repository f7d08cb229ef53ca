"""Cube curve: a curve that was drawn elsewhere, read from a 1D cube text beside this file."""

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from tonemap.operator import Array, Operator, Parameter, Values, WrongCall
from tonemap.table import table_at
from tonemap.transfer import pq_eotf_inverse

CURVE = Path(__file__).with_name("cube_curve.cube")
SMALLEST = 1e-9


class CubeCurve(Operator):
    """The largest channel drives all three, so that no channel passes the target's peak.

    The table has the signal of the target, a pure gamma of 2.4, over the PQ signal of the master.
    """

    interface_version = 1
    name = "cube_curve"
    title = "Cube curve"
    kind = "tone"
    source = "common practice, no source: a table of values, linearly interpolated"
    parameters = (
        Parameter(
            name="strength", unit="", default=1.0, minimum=0.0, maximum=1.0, help="0 is a hard clip, 1 the whole curve."
        ),
    )
    tables = ("curve",)

    def tabulate(self, p: Values) -> Mapping[str, Array]:
        """Read the table; its first and its last value become black and the target's peak."""
        values = read_curve(CURVE)
        return {"curve": (values - values[0]) / (values[-1] - values[0])}

    def apply(self, light: Array, p: Values) -> Array:
        """Give the channels of a pixel the gain of the largest."""
        peak = p.levels.target_peak
        level = np.maximum(np.max(light, axis=-1, keepdims=True), SMALLEST)
        mapped = peak * np.maximum(table_at(p.curve, pq_eotf_inverse(level)), 0.0) ** 2.4
        clipped = np.minimum(level, peak)
        return light * ((clipped + p.strength * (mapped - clipped)) / level)


def read_curve(path: Path) -> Array:
    """Read a 1D cube text of one curve; raises WrongCall with one sentence for anything else."""
    try:
        lines = [line.split() for line in path.read_text(encoding="utf-8").splitlines()]
        values = np.array([float(words[0]) for words in lines if len(words) == 3 and words[0][0] in "-.0123456789"])
    except (OSError, ValueError) as fault:
        raise WrongCall(f"{path.name} can't be read as a 1D cube: {fault}") from None
    if len(values) < 2 or np.diff(values).min() < 0.0 or values[-1] <= values[0]:
        raise WrongCall(f"{path.name} holds no rising curve; export it again as a 1D cube")
    return values
