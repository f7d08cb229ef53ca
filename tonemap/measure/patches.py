"""Patches: marked regions of a picture, and their figures on the master and on every rendition."""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..colorimetry import PRIMARIES, conversion_matrix, convert, ictcp_from_light, luminance, matrix_to_xyz
from ..encoding import Encoding, light_to_signal, signal_to_light
from ..errors import TrimbenchError, WrongCall, suggestion
from ..rendition import Chain

KINDS = {"skin": "skin", "white": "diffuse white", "grey": "grey card", "sky": "sky", "custom": "marked region"}

PERCENTILES = (1.0, 5.0, 50.0, 95.0, 99.0)
NEUTRAL_CHROMA = 0.002
"""Below this ICtCp chroma, about 1.5 of Delta E ITP, a colour has no hue worth a figure."""

Point = tuple[float, float]


@dataclass(frozen=True)
class Patch:
    """A marked region of a picture.

    Attributes
    ----------
    kind : a name in `KINDS`
    corners : three or more (x, y), each 0..1 of the picture's width and height, from the top left
    """

    name: str
    kind: str
    corners: tuple[Point, ...]

    def __post_init__(self) -> None:
        """Refuse an unknown kind and corners that mark no area of the picture; raises WrongCall."""
        if self.kind not in KINDS:
            raise WrongCall(f"patch '{self.name}': kind '{self.kind}' is not known; {suggestion(self.kind, [*KINDS])}")
        if len(self.corners) < 3:
            raise WrongCall(f"patch '{self.name}' has {len(self.corners)} corners; a polygon needs at least three")
        for x, y in self.corners:
            if not (0.0 <= x <= 1.0 and 0.0 <= y <= 1.0):
                raise WrongCall(
                    f"patch '{self.name}': corner ({x:g}, {y:g}) is outside 0..1 of the picture; move it in"
                )

    @classmethod
    def rectangle(cls, name: str, kind: str, left: float, top: float, right: float, bottom: float) -> "Patch":
        """Make a rectangular patch from its edges, each 0..1 of the picture.

        Examples
        --------
        >>> Patch.rectangle("face", "skin", 0.25, 0.5, 0.75, 1.0).mask(2, 4).astype(int).tolist()
        [[0, 0, 0, 0], [0, 1, 1, 0]]
        """
        if not (left < right and top < bottom):
            raise WrongCall(
                f"patch '{name}': left {left:g}, top {top:g}, right {right:g}, bottom {bottom:g} is no rectangle; "
                "left must be below right, and top below bottom"
            )
        return cls(name, kind, ((left, top), (right, top), (right, bottom), (left, bottom)))

    @classmethod
    def from_dict(cls, entries: dict[str, Any]) -> "Patch":
        """Make a patch from what `dataclasses.asdict` gave, also after a trip through JSON."""
        return cls(entries["name"], entries["kind"], tuple((float(x), float(y)) for x, y in entries["corners"]))

    def mask(self, rows: int, columns: int) -> NDArray[np.bool_]:
        """Return which pixels' centres lie inside, (rows, columns); crossings of a polygon count by the odd rule.

        Raises
        ------
        TrimbenchError
            If no centre lies inside.
        """
        x = (np.arange(columns) + 0.5) / columns
        y = (np.arange(rows) + 0.5)[:, np.newaxis] / rows
        inside = np.zeros((rows, columns), bool)
        for (x0, y0), (x1, y1) in zip(self.corners, (*self.corners[1:], self.corners[0]), strict=True):
            if y0 != y1:
                inside ^= ((y0 <= y) != (y1 <= y)) & (x < x0 + (y - y0) * ((x1 - x0) / (y1 - y0)))
        if not inside.any():
            raise TrimbenchError(
                f"patch '{self.name}' covers no pixel of a picture of {columns} x {rows}; draw it larger"
            )
        return inside


@dataclass(frozen=True)
class PatchFigures:
    """A patch in one picture.

    Attributes
    ----------
    nits : percentiles of luminance in cd/m2, by name: p1, p5, p50, p95, p99
    signal_percent : percentiles of luma in percent of the signal, as a waveform shows them
    hue : of ICtCp, degrees, atan2(Cp, Ct) in 0..360; None for a colour too near to grey
    chroma : of ICtCp, hypot(Ct, Cp)
    clipped_one, clipped_two, clipped_three : share of pixels, 0..1, with just so many channels at the top
    """

    pixels: int
    nits: dict[str, float]
    signal_percent: dict[str, float]
    hue: float | None
    chroma: float
    clipped_one: float
    clipped_two: float
    clipped_three: float


def master_figures(mask: NDArray[np.bool_], light: Array, encoding: Encoding) -> PatchFigures:
    """Return the figures of a patch of the master.

    Parameters
    ----------
    mask : ndarray (rows, columns), from `Patch.mask`
    light : ndarray (rows, columns, 3), BT.2020, cd/m2
    encoding : the master's; the signal of a linear master is given in PQ
    """
    pixels = light[mask].astype(np.float64)
    shown = encoding if encoding.transfer != "linear" else Encoding("pq", peak=encoding.peak)
    own = convert(pixels, conversion_matrix("bt2020", shown.primaries))
    # A code is 0.1 % of the signal at 10 bits; half of one about the nominal peak counts as clipped.
    top = light_to_signal(np.full(3, encoding.peak), shown) - 0.0005
    return _figures(pixels, light_to_signal(own, shown), top, shown.primaries)


def rendition_figures(mask: NDArray[np.bool_], signal: Array, chain: Chain) -> PatchFigures:
    """Return the figures of a patch of a rendition, from its R'G'B' signal (rows, columns, 3), 0..1."""
    target = chain.rendition.target
    pixels = signal[mask].astype(np.float64)
    light = rendition_light(pixels, target)
    return _figures(light, pixels, np.full(3, 1.0 - 0.0005), target.primaries)


def rendition_light(signal: Array, target: Encoding) -> Array:
    """Return the BT.2020 light (..., 3) in cd/m2 with which the target's reference display shows a signal."""
    return convert(signal_to_light(signal, target), conversion_matrix(target.primaries, "bt2020"))


def typical_colour(pixels: Array, percentile: float) -> Array:
    """Return the mean light (3,) of the pixels (n, 3) within five percent of a percentile of their luminance."""
    nits = luminance(pixels)
    low, high = np.percentile(nits, [max(percentile - 5.0, 0.0), min(percentile + 5.0, 100.0)], method="inverted_cdf")
    return pixels[(nits >= low) & (nits <= high)].mean(axis=0, dtype=np.float64)


def hue_and_chroma(light: Array) -> tuple[float | None, float]:
    """Return ICtCp hue in degrees (None near grey) and chroma of one colour (3,).

    Examples
    --------
    >>> hue_and_chroma(np.full(3, 203.0))[0] is None
    True
    >>> hue, chroma = hue_and_chroma(np.array([120.0, 70.0, 50.0]))
    >>> round(hue, 2), round(chroma, 5)
    (114.44, 0.08146)
    """
    _, ct, cp = (float(value) for value in ictcp_from_light(light))
    chroma = math.hypot(ct, cp)
    return (math.degrees(math.atan2(cp, ct)) % 360.0 if chroma >= NEUTRAL_CHROMA else None), chroma


def _figures(light: Array, signal: Array, top: Array, primaries: str) -> PatchFigures:
    luma = signal @ matrix_to_xyz(PRIMARIES[primaries])[1]
    hue, chroma = hue_and_chroma(typical_colour(light, 50.0))
    channels = (signal >= top).sum(axis=-1)
    one, two, three = (float((channels == count).mean()) for count in (1, 2, 3))
    return PatchFigures(
        len(light), _percentiles(luminance(light)), _percentiles(100.0 * luma), hue, chroma, one, two, three
    )


def _percentiles(values: Array) -> dict[str, float]:
    found = np.percentile(values, PERCENTILES)
    return {f"p{percentile:g}": float(value) for percentile, value in zip(PERCENTILES, found, strict=True)}
