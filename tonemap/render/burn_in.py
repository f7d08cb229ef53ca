"""Burning words into a picture in display light: legible on any picture, and never brighter than a set level."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..encoding import Encoding, encode, quantise_signal, signal_to_light
from ..signal_range import expand

WHITE_NITS = 203.0  # of graphics in HDR; Report ITU-R BT.2408, Table 1
SHARE_OF_WHITE = 0.5
DARKENED = 0.25
"""Of the picture's light under the words, and at most `GROUND` of the words' level."""
GROUND = 0.1


def words_level(target: Encoding, is_hdr: bool) -> float:
    """Return the level of the words in cd/m2: half of reference white, which in SDR is the target's peak.

    Examples
    --------
    >>> words_level(Encoding("bt1886", "bt709", "narrow", 10, 100.0), is_hdr=False)
    50.0
    """
    return SHARE_OF_WHITE * (WHITE_NITS if is_hdr else target.peak)


def burn_in(
    rendered: Any, target: Encoding, coverage: NDArray[np.floating[Any]], top: int, left: int, level: float
) -> None:
    """Burn words into a frame, in place; what lies outside their rectangle keeps its code values.

    Parameters
    ----------
    rendered : ndarray (rows, columns, 3), code values of the target or its R'G'B' signal
    coverage : ndarray (rows, columns), how far each pixel of the rectangle is covered by a letter, 0..1
    top, left : the rectangle's first row and column
    level : of the words, cd/m2
    """
    rows, columns = coverage.shape
    part = rendered[top : top + rows, left : left + columns]
    is_codes = part.dtype == np.uint16
    signal = expand(part, target.bits, target.signal_range) if is_codes and target.bits else part.astype(np.float64)
    light = signal_to_light(signal, target)
    ground = np.minimum(light * DARKENED, level * GROUND)
    result = encode(ground + coverage[..., np.newaxis] * (level - ground), target)
    part[:] = quantise_signal(result, target) if is_codes else result
