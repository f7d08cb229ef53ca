"""Counting light: what can be added band by band, frame by frame, and put together again."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from ..arrays import Array
from ..colorimetry import luminance
from .light_cells import CELLS, Counts, counted, dense, sparse

THRESHOLDS = (100.0, 203.0, 600.0, 1000.0)
"""Levels in cd/m2 whose share of picture is reported: SDR white, HDR reference white (BT.2408, Table 1), two peaks."""


def _no_counts() -> Counts:
    return np.zeros(CELLS, np.int64)


@dataclass
class LightTally:
    """Sums, extremes and histograms of a set of pixels; `largest` is max(R, G, B) of a pixel's light in cd/m2.

    Attributes
    ----------
    pixels : number of pixels
    largest_sum, luminance_sum : in cd/m2, summed in float64
    largest_maximum : the greatest `largest`; the first such pixel in reading order is at (row, column) of the frame
    above : how many pixels have a `largest` above each of `THRESHOLDS`
    largest_cells, luminance_cells : histograms, as `light_cells.counted` makes them
    """

    pixels: int = 0
    largest_sum: float = 0.0
    luminance_sum: float = 0.0
    largest_maximum: float = -1.0
    row: int = 0
    column: int = 0
    largest_minimum: float = np.inf
    luminance_maximum: float = 0.0
    luminance_minimum: float = np.inf
    above: list[int] = field(default_factory=lambda: [0] * len(THRESHOLDS))
    largest_cells: Counts = field(default_factory=_no_counts, repr=False)
    luminance_cells: Counts = field(default_factory=_no_counts, repr=False)

    @classmethod
    def of(cls, light: Array, top: int = 0, left: int = 0) -> "LightTally":
        """Count the light (rows, columns, 3) of a part of a frame whose first pixel is at (top, left)."""
        if not light.size:
            return cls()
        largest = np.maximum(np.maximum(light[..., 0], light[..., 1]), light[..., 2])
        nits = luminance(light)
        row, column = divmod(int(largest.argmax()), largest.shape[1])
        return cls(
            largest.size,
            float(largest.sum(dtype=np.float64)),
            float(nits.sum(dtype=np.float64)),
            float(largest[row, column]),
            top + row,
            left + column,
            float(largest.min()),
            float(nits.max()),
            float(nits.min()),
            [int(np.count_nonzero(largest > level)) for level in THRESHOLDS],
            counted(largest),
            counted(nits),
        )

    def merge(self, other: "LightTally") -> None:
        """Add another set of pixels; of equal maxima the one that is earlier in reading order stays."""
        if (other.largest_maximum, -other.row, -other.column) > (self.largest_maximum, -self.row, -self.column):
            self.largest_maximum, self.row, self.column = other.largest_maximum, other.row, other.column
        self.pixels += other.pixels
        self.largest_sum += other.largest_sum
        self.luminance_sum += other.luminance_sum
        self.largest_minimum = min(self.largest_minimum, other.largest_minimum)
        self.luminance_maximum = max(self.luminance_maximum, other.luminance_maximum)
        self.luminance_minimum = min(self.luminance_minimum, other.luminance_minimum)
        self.above = [one + two for one, two in zip(self.above, other.above, strict=True)]
        self.largest_cells += other.largest_cells
        self.luminance_cells += other.luminance_cells

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON, to go on later with `from_dict`."""
        return {
            **vars(self),
            "above": list(self.above),
            "largest_cells": sparse(self.largest_cells),
            "luminance_cells": sparse(self.luminance_cells),
        }

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> "LightTally":
        """Return what `to_dict` wrote."""
        cells = {name: dense(values[name]) for name in ("largest_cells", "luminance_cells")}
        return cls(**{**values, "above": list(values["above"]), **cells})
