"""Primaries, conversion matrices, luminance and the ICtCp representation."""

from dataclasses import dataclass
from functools import cache

import numpy as np

from .arrays import Array
from .errors import WrongCall, suggestion
from .transfer import pq_eotf, pq_eotf_inverse

Chromaticity = tuple[float, float]

D65: Chromaticity = (0.3127, 0.3290)


@dataclass(frozen=True)
class Primaries:
    """CIE 1931 xy chromaticities of a set of RGB primaries and of its white."""

    title: str
    red: Chromaticity
    green: Chromaticity
    blue: Chromaticity
    white: Chromaticity


PRIMARIES = {
    # Recommendation ITU-R BT.709-6, item 1.3
    "bt709": Primaries("BT.709", (0.640, 0.330), (0.300, 0.600), (0.150, 0.060), D65),
    # Recommendation ITU-R BT.2020-2, Table 3; BT.2100-3, Table 2
    "bt2020": Primaries("BT.2020", (0.708, 0.292), (0.170, 0.797), (0.131, 0.046), D65),
    # SMPTE EG 432-1:2010
    "p3-d65": Primaries("P3-D65", (0.680, 0.320), (0.265, 0.690), (0.150, 0.060), D65),
    # SMPTE RP 431-2:2011
    "p3-dci": Primaries("P3-DCI", (0.680, 0.320), (0.265, 0.690), (0.150, 0.060), (0.314, 0.351)),
    # SMPTE ST 2065-1:2012
    "ap0": Primaries("ACES AP0", (0.7347, 0.2653), (0.0, 1.0), (0.0001, -0.0770), (0.32168, 0.33767)),
    # Academy S-2014-004
    "ap1": Primaries("ACES AP1", (0.713, 0.293), (0.165, 0.830), (0.128, 0.044), (0.32168, 0.33767)),
}

# Lam 1985 (Bradford), as printed in ICC.1:2010, Annex E; CIE 159:2004 (CAT02).
ADAPTATIONS = {
    "bradford": np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]),
    "cat02": np.array([[0.7328, 0.4296, -0.1624], [-0.7036, 1.6975, 0.0061], [0.0030, 0.0136, 0.9834]]),
}

# Recommendation ITU-R BT.2100-3, Table 7.
LMS_FROM_BT2020 = np.array([[1688.0, 2146.0, 262.0], [683.0, 2951.0, 462.0], [99.0, 309.0, 3688.0]]) / 4096.0
ICTCP_FROM_LMS = np.array([[2048.0, 2048.0, 0.0], [6610.0, -13613.0, 7003.0], [17933.0, -17390.0, -543.0]]) / 4096.0


def primaries_named(name: str) -> Primaries:
    """Look a set of primaries up by name; raises WrongCall with the near names for an unknown one."""
    if name not in PRIMARIES:
        raise WrongCall(f"primaries '{name}' are not known; {suggestion(name, list(PRIMARIES))}")
    return PRIMARIES[name]


def xyz_of_chromaticity(chromaticity: Chromaticity) -> Array:
    """Return XYZ of unit luminance for an xy chromaticity, shape (3,)."""
    x, y = chromaticity
    return np.array([x / y, 1.0, (1.0 - x - y) / y])


def matrix_to_xyz(primaries: Primaries) -> Array:
    """Derive the matrix from linear RGB to XYZ, white at Y = 1; SMPTE RP 177:1993."""
    columns = np.array([[x, y, 1.0 - x - y] for x, y in (primaries.red, primaries.green, primaries.blue)]).T
    scale = np.linalg.solve(columns, xyz_of_chromaticity(primaries.white))
    return columns * scale


def adaptation_matrix(source: Chromaticity, destination: Chromaticity, method: str = "bradford") -> Array:
    """Return the von Kries matrix on XYZ that takes one white to another ('bradford' or 'cat02')."""
    cone = ADAPTATIONS[method]
    gain = (cone @ xyz_of_chromaticity(destination)) / (cone @ xyz_of_chromaticity(source))
    return np.linalg.inv(cone) @ np.diag(gain) @ cone


@cache
def conversion_matrix(source: str, destination: str, method: str = "bradford") -> Array:
    """Return the matrix between two named sets of primaries, with adaptation where their whites differ.

    Parameters
    ----------
    source, destination : names in `PRIMARIES`
    method : 'bradford' or 'cat02'

    Returns
    -------
    ndarray (3, 3)
        For column vectors; apply it to pixels with `convert`.

    Examples
    --------
    >>> conversion_matrix("bt2020", "bt709")[0].round(4).tolist()
    [1.6605, -0.5876, -0.0728]
    """
    first, second = primaries_named(source), primaries_named(destination)
    matrix: Array
    if first == second:
        matrix = np.eye(3)
    else:
        to_xyz = matrix_to_xyz(first)
        if first.white != second.white:
            to_xyz = adaptation_matrix(first.white, second.white, method) @ to_xyz
        matrix = np.linalg.solve(matrix_to_xyz(second), to_xyz)
    matrix.flags.writeable = False  # the cache hands the same array to every caller
    return matrix


def convert(pixels: Array, matrix: Array) -> Array:
    """Multiply each pixel (..., 3) by a 3 x 3 matrix, in the pixels' own dtype; planes stay planes in memory."""
    planes = np.moveaxis(pixels, -1, 0)
    if not planes.flags.c_contiguous:
        return pixels @ matrix.T.astype(pixels.dtype)
    product = matrix.astype(pixels.dtype) @ planes.reshape(3, -1)
    return np.moveaxis(product.reshape(len(matrix), *planes.shape[1:]), 0, -1)


@cache
def luminance_weights() -> tuple[float, float, float]:
    """Return the shares of R, G and B in the luminance of BT.2020 light, by exact colorimetry."""
    red, green, blue = matrix_to_xyz(PRIMARIES["bt2020"])[1]
    return float(red), float(green), float(blue)


def luminance(light: Array) -> Array:
    """Return the luminance in cd/m2 of BT.2020 light (..., 3), shape (...), by exact colorimetry."""
    red, green, blue = luminance_weights()
    return red * light[..., 0] + green * light[..., 1] + blue * light[..., 2]


def lms_from_light(light: Array) -> Array:
    """Return cone-like LMS in cd/m2 of BT.2020 light (..., 3); BT.2100-3, Table 7."""
    return convert(light, LMS_FROM_BT2020)


def light_from_lms(lms: Array) -> Array:
    """Return BT.2020 light in cd/m2 of LMS; a channel may come out negative."""
    return convert(lms, np.linalg.inv(LMS_FROM_BT2020))


def ictcp_from_light(light: Array) -> Array:
    """Return ICtCp (PQ form) of BT.2020 light (..., 3) in cd/m2; BT.2100-3, Table 7.

    Examples
    --------
    >>> ictcp_from_light(np.array([1000.0, 0.0, 0.0])).round(5).tolist()
    [0.608, -0.16495, 0.44309]
    """
    return convert(pq_eotf_inverse(lms_from_light(light)), ICTCP_FROM_LMS)


def light_from_ictcp(ictcp: Array) -> Array:
    """Return BT.2020 light in cd/m2 of ICtCp (PQ form); a channel may come out negative."""
    return light_from_lms(pq_eotf(convert(ictcp, np.linalg.inv(ICTCP_FROM_LMS))))


def intensity_and_chroma(light: Array) -> tuple[Array, Array]:
    """Return I of ICtCp, (..., 1), and L'M'S' less I, (..., 3), of BT.2020 light in cd/m2.

    Scaling the second by a number scales Ct and Cp by it: hue is kept.
    """
    lms_signal = pq_eotf_inverse(lms_from_light(light))
    intensity = 0.5 * (lms_signal[..., :1] + lms_signal[..., 1:2])
    return intensity, lms_signal - intensity


def light_of_intensity_and_chroma(intensity: Array, chroma: Array) -> Array:
    """Return BT.2020 light in cd/m2 of I, (..., 1), and L'M'S' less I, (..., 3)."""
    return light_from_lms(pq_eotf(intensity + chroma))
