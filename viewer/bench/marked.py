"""The figures of the chosen patch on the master and every rendition, kept until one changes. No GL and no imgui."""

import math
from dataclasses import dataclass

import numpy as np

from tonemap.arrays import Array, Codes
from tonemap.encoding import decode
from tonemap.errors import TrimbenchError
from tonemap.measure.patch_roll_off import RollOff, roll_off
from tonemap.measure.patches import Patch, PatchFigures, master_figures, rendition_figures
from tonemap.picture import Picture
from tonemap.reference import render_signal
from tonemap.rendition import Chain

MOST_PIXELS = 4096
"""Pixels of a patch that its live figures are from: a few milliseconds of the reference engine each rendition."""


@dataclass(frozen=True, eq=False)
class Marked:
    """The pixels of a patch: on a regular grid where there are more than `MOST_PIXELS`, one in `step` squared."""

    samples: Array | Codes
    mask: np.ndarray
    light: Array
    step: int


@dataclass(frozen=True)
class RenditionOfPatch:
    """What a rendition makes of a patch."""

    figures: PatchFigures
    roll_off: RollOff


def marked_pixels(picture: Picture, patch: Patch) -> Marked:
    """Return the pixels of a patch; raises TrimbenchError when no pixel's centre lies inside."""
    x, y = zip(*patch.corners, strict=True)
    left, right = (int(value * picture.columns) for value in (min(x), max(x)))
    top, bottom = (int(value * picture.rows) for value in (min(y), max(y)))
    step = max(1, math.ceil(math.sqrt((right - left + 1) * (bottom - top + 1) / MOST_PIXELS)))
    part = np.s_[top : bottom + 1 : step, left : right + 1 : step]
    mask = patch.mask(picture.rows, picture.columns)[part]
    samples = picture.samples[part]
    if not mask.any():
        raise TrimbenchError(f"patch '{patch.name}' is too thin for its figures; draw it larger")
    return Marked(samples, mask, decode(samples, picture.encoding), step)


class PatchReadings:
    """Figures of patches, computed when they are asked for."""

    def __init__(self) -> None:
        self._marked: tuple[Picture, Patch, Marked] | None = None
        self._master: tuple[Marked, PatchFigures] | None = None
        self._renditions: dict[int, tuple[Marked, Chain, RenditionOfPatch]] = {}

    def marked(self, picture: Picture, patch: Patch) -> Marked:
        """Return the pixels of a patch."""
        if self._marked is None or self._marked[0] is not picture or self._marked[1] != patch:
            self._marked = picture, patch, marked_pixels(picture, patch)
        return self._marked[2]

    def of_master(self, picture: Picture, patch: Patch) -> PatchFigures:
        """Return the figures of a patch of the master."""
        marked = self.marked(picture, patch)
        if self._master is None or self._master[0] is not marked:
            self._master = marked, master_figures(marked.mask, marked.light, picture.encoding)
        return self._master[1]

    def of_rendition(self, key: int, picture: Picture, patch: Patch, chain: Chain) -> RenditionOfPatch:
        """Return the figures of a patch of a rendition."""
        marked = self.marked(picture, patch)
        known = self._renditions.get(key)
        if known is None or known[0] is not marked or known[1] is not chain:
            signal = render_signal(marked.samples, chain)
            found = RenditionOfPatch(
                rendition_figures(marked.mask, signal, chain), roll_off(marked.mask, marked.light, chain)
            )
            known = self._renditions[key] = marked, chain, found
        return known[2]
