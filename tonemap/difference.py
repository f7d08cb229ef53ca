"""Colour difference: between two pictures of display light, and between measured colours."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .arrays import Array
from .colorimetry import ictcp_from_light, luminance

# CIE 15:2018, clause 8.2.1: the joint of the cube root and its straight toe.
LAB_JOINT = (24.0 / 116.0) ** 3
LAB_SLOPE = 841.0 / 108.0
LAB_OFFSET = 16.0 / 116.0

PERCENTILES = (50.0, 95.0, 99.0, 99.9)


def delta_e_itp(light: Array, other: Array) -> Array:
    """Return the colour difference Delta E ITP of two arrays of BT.2020 light in cd/m2.

    Parameters
    ----------
    light, other : ndarray (..., 3)

    Returns
    -------
    ndarray (...)
        About 1 is a just noticeable difference under critical conditions.

    References
    ----------
    Recommendation ITU-R BT.2124-0, Annex 1.

    Examples
    --------
    >>> round(float(delta_e_itp(np.full(3, 100.0), np.full(3, 101.0))), 6)
    0.719269
    """
    step = ictcp_from_light(light) - ictcp_from_light(other)
    return 720.0 * np.sqrt(step[..., 0] ** 2 + (0.5 * step[..., 1]) ** 2 + step[..., 2] ** 2)


def lab_from_xyz(xyz: Array, white: Array) -> Array:
    """Return CIELAB of XYZ (..., 3) about a white (3,), both in the same unit; CIE 15:2018, clause 8.2.1.

    Negative XYZ, which an instrument's noise near black gives, follows the straight toe.

    Examples
    --------
    >>> white = np.array([95.047, 100.0, 108.883])
    >>> lab_from_xyz(0.18 * white, white).round(4).tolist()
    [49.4961, 0.0, 0.0]
    """
    ratio = xyz / white
    root = np.where(ratio > LAB_JOINT, np.cbrt(ratio), LAB_SLOPE * ratio + LAB_OFFSET)
    x, y, z = root[..., 0], root[..., 1], root[..., 2]
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def delta_e_2000(lab: Array, other: Array) -> Array:
    """Return the colour difference CIEDE2000 of two arrays of CIELAB colours, with kL = kC = kH = 1.

    Parameters
    ----------
    lab, other : ndarray (..., 3)

    Returns
    -------
    ndarray (...)

    Notes
    -----
    The formula jumps where two hues lie 180 degrees apart: there the last bit of an arc tangent decides.

    References
    ----------
    Sharma, Wu, Dalal 2005, The CIEDE2000 Color-Difference Formula, Color Research and Application 30(1), eq. 2 to 22.

    Examples
    --------
    >>> round(float(delta_e_2000(np.array([50.0, 2.6772, -79.7751]), np.array([50.0, 0.0, -82.7485]))), 4)
    2.0425
    """
    chroma_mean = 0.5 * (np.hypot(lab[..., 1], lab[..., 2]) + np.hypot(other[..., 1], other[..., 2]))
    stretch = 1.5 - 0.5 * np.sqrt(_seventh(chroma_mean))
    a, a_other = lab[..., 1] * stretch, other[..., 1] * stretch
    chroma, chroma_other = np.hypot(a, lab[..., 2]), np.hypot(a_other, other[..., 2])
    hue = np.degrees(np.arctan2(lab[..., 2], a)) % 360.0
    hue_other = np.degrees(np.arctan2(other[..., 2], a_other)) % 360.0

    coloured = chroma * chroma_other != 0.0
    turn = hue_other - hue
    turn = np.where(turn > 180.0, turn - 360.0, np.where(turn < -180.0, turn + 360.0, turn)) * coloured
    step_l = other[..., 0] - lab[..., 0]
    step_c = chroma_other - chroma
    step_h = 2.0 * np.sqrt(chroma * chroma_other) * np.sin(np.radians(turn) / 2.0)

    chroma_mean = 0.5 * (chroma + chroma_other)
    hue_sum = hue + hue_other
    far = np.abs(hue - hue_other) > 180.0
    hue_mean = 0.5 * np.where(far & coloured, np.where(hue_sum < 360.0, hue_sum + 360.0, hue_sum - 360.0), hue_sum)
    hue_mean = np.where(coloured, hue_mean, hue_sum)
    weight = (
        1.0
        - 0.17 * _cosine(hue_mean - 30.0)
        + 0.24 * _cosine(2.0 * hue_mean)
        + 0.32 * _cosine(3.0 * hue_mean + 6.0)
        - 0.20 * _cosine(4.0 * hue_mean - 63.0)
    )
    off_middle = (0.5 * (lab[..., 0] + other[..., 0]) - 50.0) ** 2
    scale_l = 1.0 + 0.015 * off_middle / np.sqrt(20.0 + off_middle)
    scale_c = 1.0 + 0.045 * chroma_mean
    scale_h = 1.0 + 0.015 * chroma_mean * weight
    blue_turn = 60.0 * np.exp(-(((hue_mean - 275.0) / 25.0) ** 2))
    rotation = -2.0 * np.sqrt(_seventh(chroma_mean)) * np.sin(np.radians(blue_turn))
    part_l, part_c, part_h = step_l / scale_l, step_c / scale_c, step_h / scale_h
    return np.sqrt(part_l**2 + part_c**2 + part_h**2 + rotation * part_c * part_h)


def _seventh(chroma: Array) -> Array:
    power = chroma**7
    return power / (power + 25.0**7)


def _cosine(degrees: Array) -> Array:
    return np.cos(np.radians(degrees))


@dataclass(frozen=True)
class DifferenceStatistics:
    """What a map of differences says in a few numbers.

    Attributes
    ----------
    pixels : how many pixels were compared
    share : that number as a share of the picture, 0..1
    p50, p95, p99, p99_9 : percentiles
    row, column : where the greatest difference is, counted from 0 at the top left
    """

    pixels: int
    share: float
    mean: float
    p50: float
    p95: float
    p99: float
    p99_9: float
    maximum: float
    row: int
    column: int


def difference_statistics(differences: Array, mask: NDArray[np.bool_] | None = None) -> DifferenceStatistics | None:
    """Return the statistics of a map of differences (rows, columns), of the pixels in the mask when one is given.

    Returns
    -------
    DifferenceStatistics, or None when the mask holds no pixel

    Examples
    --------
    >>> found = difference_statistics(np.array([[0.0, 1.0], [2.0, 5.0]]))
    >>> found.mean, found.maximum, found.row, found.column
    (2.0, 5.0, 1, 1)
    """
    chosen = differences.ravel() if mask is None else differences[mask]
    if chosen.size == 0:
        return None
    place = int(np.argmax(differences if mask is None else np.where(mask, differences, -np.inf)))
    row, column = divmod(place, differences.shape[1])
    p50, p95, p99, p99_9 = (float(value) for value in np.percentile(chosen, PERCENTILES))
    mean, maximum = float(chosen.mean(dtype=np.float64)), float(differences[row, column])
    share = chosen.size / differences.size
    return DifferenceStatistics(int(chosen.size), share, mean, p50, p95, p99, p99_9, maximum, row, column)


def within_sdr_range(master: Array, limit_nits: float) -> NDArray[np.bool_]:
    """Return where a master's light (..., 3) is what an SDR display could show: luminance at most the limit.

    It is the mask for `difference_statistics` when a master is compared with a rendition: above the limit a
    rendition must differ, below it the difference is a choice.
    """
    return np.asarray(luminance(master) <= limit_nits)
