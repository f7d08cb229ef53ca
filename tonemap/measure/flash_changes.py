"""Changes of luminance and of saturated red, of which two opposing ones make a flash."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..colorimetry import PRIMARIES, conversion_matrix, convert, luminance, matrix_to_xyz

Directions = NDArray[np.int64]

# Recommendation ITU-R BT.1702-3; the two rules meet at 160 and 180 cd/m2.
STEP_NITS = 20.0
DARKER_BELOW_NITS = 160.0
MICHELSON = 17.0  # the contrast is one part in so many

# WCAG 2.2, general flash and red flash thresholds, after ISO 9241-391.
RED_SHARE = 0.8
RED_STEP = 0.2  # in u'v' of CIE 1976
VEIL_NITS = 1.0  # ours: neutral light added before chromaticity is judged, so that the noise of black has none


def is_flash_step(one: Array, other: Array) -> NDArray[np.bool_]:
    """Return whether a change between two luminances in cd/m2 is large enough to be half a flash; BT.1702-3.

    Examples
    --------
    >>> is_flash_step(np.array([0.0, 0.0, 160.0, 500.0, 500.0]), np.array([19.0, 20.0, 180.0, 560.0, 570.0])).tolist()
    [False, True, True, False, True]
    """
    low, high = np.minimum(one, other), np.maximum(one, other)
    bright = (high - low) * MICHELSON >= high + low  # a product, so that it is exact at 160 and 180
    return np.asarray(np.where(low < DARKER_BELOW_NITS, high - low >= STEP_NITS, bright & (high > low)))


class LuminanceChanges:
    """Follows each cell's luminance from one turning point to the next."""

    def __init__(self) -> None:
        self.low: Array | None = None
        self.high: Array | None = None
        self.last: Array | None = None

    def step(self, cells: Array) -> Directions:
        """Take the next frame's light (cells, 3) and return +1 where a rise counts now, -1 for a fall, else 0.

        A cell's change counts once it is large enough against the turning point before; going on in the same
        direction is the same change.
        """
        nits = luminance(cells)
        if self.low is None or self.high is None or self.last is None:
            self.low, self.high, self.last = nits.copy(), nits.copy(), np.zeros(len(nits))
            return np.zeros(len(nits), np.int64)
        self.low, self.high = np.minimum(self.low, nits), np.maximum(self.high, nits)
        rises = (self.last <= 0) & is_flash_step(self.low, nits)
        falls = (self.last >= 0) & is_flash_step(self.high, nits) & ~rises
        turned = rises | falls
        self.low, self.high = np.where(turned, nits, self.low), np.where(turned, nits, self.high)
        self.last = np.where(rises, 1.0, np.where(falls, -1.0, self.last))
        return rises.astype(np.int64) - falls.astype(np.int64)

    def to_dict(self) -> dict[str, Any]:
        """Return the state as plain lists."""
        return {name: None if value is None else value.tolist() for name, value in vars(self).items()}

    def take(self, entries: dict[str, Any]) -> None:
        """Take a state over from `to_dict`."""
        for name in vars(self):
            setattr(self, name, None if entries[name] is None else np.asarray(entries[name], np.float64))


class RedChanges:
    """Follows each cell's way into saturated red and out of it."""

    def __init__(self) -> None:
        self.share: Array | None = None
        self.place: Array | None = None
        self.is_red: Array | None = None

    def step(self, cells: Array) -> Directions:
        """Take the next frame's light (cells, 3) and return +1 where a cell turned to saturated red, -1 from it."""
        share, place = redness(cells)
        if self.share is None or self.place is None or self.is_red is None:
            self.share, self.place, self.is_red = share, place, (share >= RED_SHARE).astype(np.float64)
            return np.zeros(len(share), np.int64)
        red = self.is_red > 0.5
        far = np.hypot(*(place - self.place).T) > RED_STEP
        into, out = ~red & (share >= RED_SHARE) & far, red & (share < RED_SHARE) & far
        # What a later change is judged against: the reddest colour while red, the least red one while not.
        further = np.where(red, share > self.share, share < self.share) | into | out
        self.share = np.where(further, share, self.share)
        self.place = np.where(further[:, np.newaxis], place, self.place)
        self.is_red = np.where(into, 1.0, np.where(out, 0.0, self.is_red))
        return into.astype(np.int64) - out.astype(np.int64)

    def to_dict(self) -> dict[str, Any]:
        """Return the state as plain lists."""
        return {name: None if value is None else value.tolist() for name, value in vars(self).items()}

    def take(self, entries: dict[str, Any]) -> None:
        """Take a state over from `to_dict`."""
        for name in vars(self):
            setattr(self, name, None if entries[name] is None else np.asarray(entries[name], np.float64))


def redness(cells: Array) -> tuple[Array, Array]:
    """Return R / (R + G + B) in BT.709 primaries, shape (n,), and u'v', shape (n, 2), of BT.2020 light (n, 3).

    Examples
    --------
    >>> share, place = redness(np.array([[100.0, 100.0, 100.0]]))
    >>> share.round(4).tolist(), place.round(4).tolist()
    ([0.3333], [[0.1978, 0.4683]])
    """
    veiled = cells + VEIL_NITS
    rgb = np.maximum(convert(veiled, conversion_matrix("bt2020", "bt709")), 0.0)
    xyz = convert(veiled, matrix_to_xyz(PRIMARIES["bt2020"]))
    whole = xyz @ np.array([1.0, 15.0, 3.0])
    place = np.stack([4.0 * xyz[:, 0], 9.0 * xyz[:, 1]], axis=-1) / whole[:, np.newaxis]
    return rgb[:, 0] / rgb.sum(axis=-1), place
