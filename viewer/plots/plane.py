"""What the plots on a plane of two like axes share: the window on the counts, and the trace."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tonemap.arrays import Array
from tonemap.scopes import Counts, Scale

from ..comparison.layout import Box
from .density import CUBE_ROOT, full_density, resized, softened, strengths
from .look import Look

SIDE = 46.0  # em, of the plot
COLOURFUL = 0.55  # of a trace; the rest is neutral
PAPER_INK = 0.6  # of a colour's brightness, where it is ink
PAPER_FULL = 0.35  # of the density that is drawn at full strength: faint ink is seen less than faint light
READING = "Strength of the trace: cube root of how many pixels lie there."

Colours = Callable[[Array, Array], Array]
"""Returns the colour (..., 3), 0..1, of places (...) to the right and up."""


@dataclass(frozen=True)
class Plane:
    """A square window on a plane, drawn in a box."""

    left: float
    top: float
    side: float
    box: Box

    def at(self, across: float, up: float) -> tuple[float, float]:
        """Return x and y in pixels of a place on the plane."""
        box = self.box
        return box.x + box.width * (across - self.left) / self.side, box.y + box.height * (self.top - up) / self.side


def trace(counts: Counts, scale: Scale, plane: Plane, look: Look, colours: Colours) -> Array:
    """Return the picture of counts (up, across), each place in its own colour, at the size of the plane's box."""
    density = softened(
        _cut(_cut(counts, 0, scale, plane.top - plane.side, plane.side), 1, scale, plane.left, plane.side), (0, 1)
    )
    box = plane.box
    shown = resized(density[::-1], box.shape)
    across = plane.left + plane.side * (np.arange(box.shape[1]) + 0.5) / box.shape[1]
    up = plane.top - plane.side * (np.arange(box.shape[0]) + 0.5) / box.shape[0]
    hue = colours(across[np.newaxis, :] + 0.0 * up[:, np.newaxis], up[:, np.newaxis] + 0.0 * across[np.newaxis, :])
    strong = hue * (PAPER_INK if look.is_paper else 1.0)
    full = full_density(shown) * (PAPER_FULL if look.is_paper else 1.0)
    return look.blended(
        [strengths(shown, full, CUBE_ROOT)],
        [(1.0 - COLOURFUL) * np.array(look.traces["Y"]) + COLOURFUL * strong],
    )


def beyond(counts: Counts, scale: Scale, plane: Plane) -> float:
    """Return the share of the counts that lie beyond the window, 0..1."""
    inside = _cut(_cut(counts, 0, scale, plane.top - plane.side, plane.side), 1, scale, plane.left, plane.side)
    return 1.0 - float(inside.sum()) / max(1.0, float(counts.sum()))


def _cut(counts: Counts, axis: int, scale: Scale, low: float, length: float) -> Counts:
    """Return the bins between low and low + length, with empty ones where the scale does not reach."""
    bins = counts.shape[axis]
    step = (scale.high - scale.low) / (bins - 1)
    first = round((low - scale.low) / step + 0.5)
    last = round((low + length - scale.low) / step + 0.5)
    before, after = max(0, -first), max(0, last - bins)
    inside = counts.take(range(max(0, first), min(bins, last)), axis)
    return np.pad(inside, [(before, after) if number == axis else (0, 0) for number in range(2)])
