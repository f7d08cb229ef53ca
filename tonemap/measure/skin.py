"""Skin proposed: regions that may be skin, of any tone. Always a proposal that a person confirms, never a finding.

Two signs are looked for. Colour: the skins of published reflectance data, from the lightest to the darkest, share an
ICtCp hue within a few degrees and differ in luminance and saturation. Shading: skin is seldom flat, and where it shines
it pales, because its surface mirrors white light over the colour from within; sky and evenly lit wood do neither. The
limits are Trimbench's own, set on those data and on the demo scene. Skin that is lit perfectly flat, or by coloured
light, is missed, and leather or hair of the same colour may be proposed.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..colorimetry import ictcp_from_light
from ..scaling import area_average
from .patches import Patch
from .regions import connected_regions, inner_square, moving_average

HUES = (108.0, 129.0)  # degrees of ICtCp, atan2(Cp, Ct); published skins under D65: 119.9 to 124.6
SATURATIONS = (0.10, 0.45)  # chroma over I; published skins from 25 to 400 cd/m2 of white: 0.116 to 0.283
INTENSITIES = (0.20, 0.62)  # I, which is PQ: 2.4 to 299 cd/m2 for greys

WIDEST = 480  # columns at which a picture is searched
VOTE_SHARE = 1.0 / 37.0  # side of the square in which the majority decides
LEAST_SHARE = 0.001  # of the picture; smaller regions are left out
MOST_REGIONS = 8


@dataclass(frozen=True)
class Window:
    """A square in which the sign of shading is looked for, and what it asks for.

    Attributes
    ----------
    side : of the picture's width
    least_colour : share of the window that has the colour of skin
    least_shading : standard deviation of I
    paling : correlation of saturation with I, at most this
    """

    side: float
    least_colour: float
    least_shading: float
    paling: float


# Lively shading, as of a face in the middle distance, may be noisy; gentle shading, as of a close-up, must be clear.
WINDOWS = (
    Window(1.0 / 28.0, 0.3, 0.030, -0.55),
    Window(1.0 / 28.0, 0.3, 0.008, -0.80),
    Window(1.0 / 14.0, 0.6, 0.010, -0.80),
    Window(1.0 / 7.0, 0.7, 0.012, -0.85),
)


@dataclass(frozen=True)
class SkinRegion:
    """A region that may be skin.

    Attributes
    ----------
    share : of the picture, 0..1
    left, top, right, bottom : a square well within the region, each 0..1 of the picture
    """

    share: float
    left: float
    top: float
    right: float
    bottom: float

    def patch(self, name: str) -> Patch:
        """Return the square as a patch of kind skin, for the user to confirm."""
        return Patch.rectangle(name, "skin", self.left, self.top, self.right, self.bottom)


@dataclass(frozen=True)
class SkinProposal:
    """What may be skin in one picture; largest region first.

    Attributes
    ----------
    mask : ndarray (rows, columns) of bool
    """

    mask: NDArray[np.bool_]
    regions: tuple[SkinRegion, ...]
    sentence: str


def is_skin_colour(light: Array) -> NDArray[np.bool_]:
    """Return which BT.2020 light (..., 3) in cd/m2 has a colour that skin can have; other things can have it too.

    Examples
    --------
    >>> is_skin_colour(np.array([[27.7, 16.9, 11.0], [92.5, 65.0, 47.2], [50.0, 50.0, 50.0]])).tolist()
    [True, True, False]
    """
    return _colour(light)[0]


def propose_skin(light: Array) -> SkinProposal:
    """Propose regions of a master's light (rows, columns, 3), BT.2020, cd/m2, that may be skin."""
    shape = light.shape[:2]
    columns = min(WIDEST, shape[1])
    small = (max(1, round(shape[0] * columns / shape[1])), columns)
    picture = area_average(lambda first, last: light[first:last], (shape[0], shape[1]), small).astype(np.float64)
    coloured, intensity, saturation = _colour(picture)
    shaded = np.zeros_like(coloured)
    for window in WINDOWS:
        shaded |= coloured & _pales_where_it_shines(coloured, intensity, saturation, window)
    voted = moving_average(shaded.astype(np.float64), _odd(VOTE_SHARE * columns)) > 0.5

    labels, count = connected_regions(voted)
    sizes = np.bincount(labels.ravel(), minlength=count + 1)
    order = [int(number) for number in np.argsort(-sizes[1:], kind="stable") + 1]
    kept = [number for number in order if sizes[number] >= max(LEAST_SHARE * voted.size, 4.0)][:MOST_REGIONS]
    mask = np.isin(labels, kept)
    rows_of, columns_of = (np.arange(size) * have // size for size, have in zip(shape, small, strict=True))
    regions = tuple(_region(labels == number) for number in kept)
    found = f"{len(regions)} region{'s' * (len(regions) != 1)} may be skin" if regions else "no region looks like skin"
    return SkinProposal(
        mask[rows_of][:, columns_of], regions, f"{found}; this is a proposal: confirm it, or mark the skin by hand"
    )


def _colour(light: Array) -> tuple[NDArray[np.bool_], Array, Array]:
    """Return which pixels have a colour of skin, their I, and their chroma over I."""
    intensity, ct, cp = np.moveaxis(ictcp_from_light(light), -1, 0)
    hue = np.degrees(np.arctan2(cp, ct))
    saturation = np.hypot(ct, cp) / np.maximum(intensity, 1e-3)
    fits = np.ones(intensity.shape, bool)
    for values, (low, high) in ((hue, HUES), (saturation, SATURATIONS), (intensity, INTENSITIES)):
        fits &= (values >= low) & (values <= high)
    return fits, intensity, saturation


def _pales_where_it_shines(
    coloured: NDArray[np.bool_], intensity: Array, saturation: Array, window: Window
) -> NDArray[np.bool_]:
    """Return where, among the coloured pixels of a window, saturation falls clearly as I rises."""
    side = _odd(window.side * coloured.shape[1])
    share = moving_average(coloured.astype(np.float64), side)

    def mean(values: Array) -> Array:
        return moving_average(np.where(coloured, values, 0.0), side) / np.maximum(share, 1e-9)

    mean_i, mean_s = mean(intensity), mean(saturation)
    spread_i = np.sqrt(np.maximum(mean(intensity**2) - mean_i**2, 0.0))
    spread_s = np.sqrt(np.maximum(mean(saturation**2) - mean_s**2, 0.0))
    together = mean(intensity * saturation) - mean_i * mean_s
    pales = together <= window.paling * spread_i * spread_s
    return np.asarray((share >= window.least_colour) & (spread_i >= window.least_shading) & pales)


def _odd(size: float) -> int:
    return 2 * max(1, round((size - 1.0) / 2.0)) + 1


def _region(mask: NDArray[np.bool_]) -> SkinRegion:
    rows, columns = mask.shape
    top, left, side = inner_square(mask)
    return SkinRegion(float(mask.mean()), left / columns, top / rows, (left + side) / columns, (top + side) / rows)
