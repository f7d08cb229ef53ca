"""Hue as a word, from CIE 1976 u'v' about the white D65."""

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..colorimetry import D65, PRIMARIES, matrix_to_xyz, xyz_of_chromaticity
from .light_of_rows import converted_planes

HUES = (
    ("red", 19.0),
    ("orange", 60.0),
    ("yellow", 105.0),
    ("green", 162.0),
    ("cyan", 228.0),
    ("blue", 271.0),
    ("violet", 292.0),
    ("magenta", 345.0),
)
"""Words, each with the angle in degrees where the next begins; our own borders, between the primaries and their
mixtures of BT.709, P3-D65 and BT.2020."""


def uv_of_xyz(xyz: Array) -> Array:
    """Return CIE 1976 u'v' (..., 2) of XYZ (..., 3); CIE 15:2018, 8.2.1. Black gives the white's."""
    total = xyz[..., 0] + 15.0 * xyz[..., 1] + 3.0 * xyz[..., 2]
    is_black = total <= 0.0
    total = np.where(is_black, 1.0, total)
    x, y, z = xyz_of_chromaticity(D65)
    white = x + 15.0 * y + 3.0 * z
    uv = np.empty((2, *total.shape), xyz.dtype)  # one after the other in memory: fast to go through
    uv[0] = np.where(is_black, 4.0 * x / white, 4.0 * xyz[..., 0] / total)
    uv[1] = np.where(is_black, 9.0 * y / white, 9.0 * xyz[..., 1] / total)
    return np.moveaxis(uv, 0, -1)


def uv_of_light(light: Array) -> Array:
    """Return u'v' (..., 2) of BT.2020 light (..., 3), in its dtype.

    Examples
    --------
    >>> uv_of_light(np.ones(3)).round(4).tolist()
    [0.1978, 0.4683]
    """
    return uv_of_xyz(converted_planes(light, matrix_to_xyz(PRIMARIES["bt2020"])))


def hue_indices(uv: Array) -> NDArray[np.intp]:
    """Return the index in `HUES` of each chromaticity (..., 2).

    Examples
    --------
    >>> [HUES[hue_indices(uv_of_light(np.array(light)))][0] for light in ([10.0, 0.0, 0.0], [0.0, 5.0, 5.0])]
    ['red', 'cyan']
    """
    white = uv_of_xyz(xyz_of_chromaticity(D65))
    degrees = np.degrees(np.arctan2(uv[..., 1] - white[1], uv[..., 0] - white[0])) % 360.0
    borders = np.array([border for _, border in HUES], uv.dtype)
    return np.searchsorted(borders, degrees, side="right") % len(HUES)
