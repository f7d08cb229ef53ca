"""The difference of one patch between a rendition and what it is compared with: of mean colours, not pixel by pixel."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..colorimetry import PRIMARIES, matrix_to_xyz
from ..difference import delta_e_2000, delta_e_itp, lab_from_xyz, within_sdr_range

WHITE = np.ones(3)  # BT.2020 light of D65


@dataclass(frozen=True)
class PatchDifference:
    """How far a patch's mean colour lies from the other picture's, None where there is nothing to compare.

    Attributes
    ----------
    pixels : of the patch that were compared
    delta_e_itp : Recommendation ITU-R BT.2124, of the two means
    delta_e_2000 : CIEDE2000 of the two means, in CIELAB about D65 at the target's peak
    """

    pixels: int
    delta_e_itp: float | None
    delta_e_2000: float | None


def patch_difference(
    mask: NDArray[np.bool_], light: Array, other: Array | None, master: Array, limit: float | None, white: float
) -> PatchDifference:
    """Compare a patch's mean colour in a rendition with that in the other picture.

    CIEDE2000 is a formula for surfaces seen under one white. A patch is such a surface only as far as SDR can show it:
    against the master, the limit leaves out what is brighter than the target's peak, and both means are related to one
    white, D65 at that peak, to which an eye before the SDR picture is adapted. So it says how far the colour that was
    within reach has moved. Between two renditions of the same target it needs no such care. In light that is brighter
    than the white, CIELAB goes past 100 and the figure is no longer backed by experiments; Delta E ITP is.

    Parameters
    ----------
    mask : ndarray (rows, columns), from `Patch.mask`
    light, other, master : ndarray (rows, columns, 3), BT.2020, cd/m2: of the rendition, of the picture that it is
        compared with (None for no such picture), and of the master
    limit : luminance of the master in cd/m2 up to which pixels count; None for all
    white : cd/m2 of the white: the target's peak

    References
    ----------
    Sharma, Wu, Dalal 2005, The CIEDE2000 Color-Difference Formula, Color Research and Application 30(1);
    Recommendation ITU-R BT.2124-0.
    """
    counted = mask if limit is None else mask & within_sdr_range(master, limit)
    pixels = int(np.count_nonzero(counted))
    if other is None or not pixels:
        return PatchDifference(pixels, None, None)
    means = [picture[counted].mean(axis=0, dtype=np.float64) for picture in (other, light)]
    to_xyz = matrix_to_xyz(PRIMARIES["bt2020"])
    labs = [lab_from_xyz(to_xyz @ mean, to_xyz @ (white * WHITE)) for mean in means]
    return PatchDifference(pixels, float(delta_e_itp(*means)), float(delta_e_2000(*labs)))
