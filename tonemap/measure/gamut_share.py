"""Colour outside a set of primaries: how much of the picture, how far, and in which hues."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..colorimetry import PRIMARIES, Primaries, luminance, matrix_to_xyz, primaries_named, xyz_of_chromaticity
from ..encoding import Encoding, light_to_signal, signal_to_light
from ..signal_range import scale_and_offset
from .hue import HUES, hue_indices, uv_of_light, uv_of_xyz
from .light_cells import cell_centres, cells_of
from .light_of_rows import converted_planes

Mask = NDArray[np.bool_]

TOLERANCE = 1e-4
"""A negative component this small, relative to the pixel's largest one, is arithmetic and not colour."""

HALF_FLOAT_TOLERANCE = 6e-4
"""The same for half-floats: rounding a channel by 2^-11 makes up to 5.4e-4 of a pure BT.709 green (computed)."""

FLOOR_NITS = 1.0
"""Pixels whose max(R, G, B) is below this do not count: the hue of noise near black says nothing. Our choice."""


@dataclass(frozen=True)
class HueOutside:
    """The pixels of a hue that lie outside, and the one farthest out (by `distance`).

    Attributes
    ----------
    hue : word in `hue.HUES`
    pixels : number of pixels
    distance : its most negative component after conversion, relative to its largest one
    distance_uv : its distance from the triangle of the primaries in CIE 1976 u'v'
    nits : its luminance in cd/m2
    frame, row, column : its place
    """

    hue: str
    pixels: int
    distance: float
    distance_uv: float
    nits: float
    frame: int
    row: int
    column: int


@dataclass(frozen=True)
class GamutShare:
    """What lies outside a set of primaries, in a part of a frame, a frame or several frames.

    Attributes
    ----------
    gamut : name of the primaries
    pixels, outside : number of pixels, and of those outside
    distance : the largest of any pixel
    distance_uv : the largest of the pixels that are farthest out in their hues
    hues : by word, in the order of the pixels' worst distance
    """

    gamut: str
    pixels: int
    outside: int
    distance: float
    distance_uv: float
    hues: tuple[HueOutside, ...]

    @property
    def share(self) -> float:
        """Share (0..1) of the pixels that lie outside."""
        return self.outside / self.pixels if self.pixels else 0.0

    def merged(self, other: "GamutShare") -> "GamutShare":
        """Return the two sets of pixels as one; of equal distances the earlier pixel stays."""
        hues = {item.hue: item for item in self.hues}
        for item in other.hues:
            hues[item.hue] = _farther(hues[item.hue], item) if item.hue in hues else item
        return GamutShare(
            self.gamut,
            self.pixels + other.pixels,
            self.outside + other.outside,
            max(self.distance, other.distance),
            max(self.distance_uv, other.distance_uv),
            _sorted(hues.values()),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON, the share among them."""
        return {**asdict(self), "share": self.share}

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> "GamutShare":
        """Return what `to_dict` wrote."""
        rest = {name: value for name, value in values.items() if name not in ("hues", "share")}
        return cls(**rest, hues=tuple(HueOutside(**item) for item in values["hues"]))


def nothing_outside(gamut: str) -> GamutShare:
    """Return the share of no pixels, to which others are merged."""
    return GamutShare(gamut, 0, 0, 0.0, 0.0, ())


def measure_gamut(
    light: Array,
    gamut: str | Primaries = "p3-d65",
    *,
    frame: int = 0,
    place: tuple[int, int] = (0, 0),
    tolerance: float = TOLERANCE,
    floor: float = FLOOR_NITS,
    encoding: Encoding | None = None,
) -> GamutShare:
    """Measure what lies outside a set of primaries.

    Parameters
    ----------
    light : ndarray (rows, columns, 3), BT.2020 primaries, cd/m2, as `decode` returns it
    gamut : a name in `colorimetry.PRIMARIES`, or the primaries of a display
    frame, place : number of the frame, and row and column of the first pixel, for the places in the result
    tolerance : of the negative component, relative to the largest one
    floor : cd/m2 of max(R, G, B) below which a pixel does not count as outside
    encoding : of the integer code values that the light came from: a pixel that half a code in each channel could
        bring inside is not outside

    Examples
    --------
    Pure BT.2020 green is far outside P3-D65:

    >>> share = measure_gamut(np.array([[[0.0, 100.0, 0.0], [50.0, 50.0, 50.0]]]))
    >>> share.share, share.hues[0].hue, round(share.distance, 3)
    (0.5, 'green', 0.262)
    """
    name, primaries = gamut_named(gamut)
    indices, colours, distance = _outside(light, primaries, tolerance, floor, encoding)
    pixels = light.shape[0] * light.shape[1]
    words = hue_indices(uv_of_light(colours))
    hues = []
    for index in np.flatnonzero(np.bincount(words)):
        members = np.flatnonzero(words == index)
        worst = members[distance[members].argmax()]
        row, column = divmod(int(indices[worst]), light.shape[1])
        colour = colours[worst].astype(np.float64)
        values = float(distance[worst]), distance_uv_of(colour, primaries), float(luminance(colour))
        hues.append(HueOutside(HUES[index][0], members.size, *values, frame, place[0] + row, place[1] + column))
    return share_of(name, pixels, hues)


def share_of(gamut: str, pixels: int, hues: list[HueOutside]) -> GamutShare:
    """Return the share of a number of pixels, of which those outside are told by hue."""
    outside = sum(item.pixels for item in hues)
    farthest = max((item.distance for item in hues), default=0.0)
    farthest_uv = max((item.distance_uv for item in hues), default=0.0)
    return GamutShare(gamut, pixels, outside, farthest, farthest_uv, _sorted(hues))


def outside_mask(
    light: Array,
    gamut: str | Primaries = "p3-d65",
    *,
    tolerance: float = TOLERANCE,
    floor: float = FLOOR_NITS,
    encoding: Encoding | None = None,
) -> Mask:
    """Return which pixels (rows, columns) `measure_gamut` counts as outside."""
    mask = np.zeros(light.shape[0] * light.shape[1], bool)
    mask[_outside(light, gamut_named(gamut)[1], tolerance, floor, encoding)[0]] = True
    return mask.reshape(light.shape[:2])


def gamut_named(gamut: str | Primaries) -> tuple[str, Primaries]:
    """Return the name and the primaries of a name or of a display's primaries."""
    return (gamut, primaries_named(gamut)) if isinstance(gamut, str) else (gamut.title, gamut)


@cache
def matrix_from_bt2020(primaries: Primaries) -> Array:
    """Return the matrix from BT.2020; without adaptation, for the question is which chromaticities can be shown."""
    return np.linalg.solve(matrix_to_xyz(primaries), matrix_to_xyz(PRIMARIES["bt2020"]))


def _outside(
    light: Array, primaries: Primaries, tolerance: float, floor: float, encoding: Encoding | None
) -> tuple[NDArray[np.intp], Array, Array]:
    """Return the flat indices of the pixels outside, their light (n, 3) and their distance (n,)."""
    matrix = matrix_from_bt2020(primaries)
    planes = converted_planes(light, matrix)
    lowest = np.minimum(np.minimum(planes[..., 0], planes[..., 1]), planes[..., 2]).ravel()
    indices = np.flatnonzero(lowest < -0.5 * tolerance * floor)  # more than are outside, found fast
    lowest, converted, colours = lowest[indices], _pixels(planes, indices), _pixels(light, indices)
    distance = -lowest / np.maximum(_largest(converted), 1e-30)
    is_outside = (distance > tolerance) & (_largest(colours) >= floor)
    if encoding is not None and encoding.bits is not None:
        margin = converted_planes(half_code(encoding).take(cells_of(colours)), np.abs(matrix))
        is_outside &= _largest(-margin - converted) > 0.0
    if not is_outside.all():
        keep = np.flatnonzero(is_outside)
        indices, colours, distance = indices[keep], _pixels(colours, keep), distance[keep]
    return indices, colours, distance


def _pixels(planes: Array, indices: NDArray[np.intp]) -> Array:
    """Return the pixels (n, 3) at flat indices of (..., 3), channel by channel in memory."""
    return np.stack([planes[..., channel].ravel()[indices] for channel in range(3)]).T


def _largest(pixels: Array) -> Array:
    return np.maximum(np.maximum(pixels[..., 0], pixels[..., 1]), pixels[..., 2])


@cache
def half_code(encoding: Encoding) -> Array:
    """Return the light in cd/m2 that half a code is worth, for a grey in each cell of light."""
    assert encoding.bits is not None
    half = 0.5 / scale_and_offset(encoding.bits, encoding.signal_range)[0]
    greys = np.repeat(cell_centres()[:, np.newaxis], 3, axis=1)
    more = signal_to_light(light_to_signal(greys, encoding) + half, encoding)
    steps = np.maximum(more - greys, 0.0)[:, 0]
    return np.maximum.accumulate(steps).astype(np.float32)  # beyond the encoding's peak a step is that of the peak


def distance_uv_of(light: Array, primaries: Primaries) -> float:
    """Return the distance in u'v' of a pixel of BT.2020 light from the nearest side of the triangle of primaries."""
    uv = uv_of_light(light)
    corners = [uv_of_xyz(xyz_of_chromaticity(corner)) for corner in (primaries.red, primaries.green, primaries.blue)]
    distances = []
    for start, end in zip(corners, corners[1:] + corners[:1], strict=True):
        side = end - start
        along = np.clip((uv - start) @ side / (side @ side), 0.0, 1.0)
        distances.append(np.linalg.norm(uv - start - along * side))
    return float(min(distances))


def _farther(one: HueOutside, other: HueOutside) -> HueOutside:
    """Return the farther of two of one hue, with the pixels of both."""
    ranks = [(item.distance, -item.frame, -item.row, -item.column) for item in (one, other)]
    return replace(one if ranks[0] >= ranks[1] else other, pixels=one.pixels + other.pixels)


def _sorted(hues: Any) -> tuple[HueOutside, ...]:
    return tuple(sorted(hues, key=lambda item: (-item.distance, item.hue)))
