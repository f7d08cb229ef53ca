"""From an R'G'B' signal to the planes that a codec takes: matrix, chroma of fewer samples, rounding."""

from collections.abc import Callable

import numpy as np

from ..arrays import Array, Codes
from ..signal_range import NARROW, quantise
from .planes import MATRICES, SITINGS, Coding, Planes

Noise = Callable[[tuple[int, ...]], Array]
"""Makes noise of a shape, in codes, float32."""


def planes_of_signal(signal: Array, coding: Coding, noise: Noise | None = None) -> Planes:
    """Code an R'G'B' signal (rows, columns, 3), 0..1; the inverse of `Planes.signal` but for what chroma loses.

    Chroma of fewer samples is filtered by (1 2 1)/4 where its samples lie on those of luma, and by (1 1)/2 where they
    lie between two, in each direction; at the edges the outermost sample stands for those beyond.

    Parameters
    ----------
    noise : added to every plane before it is rounded; None for none

    References
    ----------
    BT.709-6, items 3.2 to 3.5, BT.2020-2, Table 4 and BT.601-7 for the matrices; H.273 for the siting; the filters are
    common practice, no source.
    """
    signal = np.moveaxis(signal.astype(np.float32, copy=False), -1, 0)
    if coding.matrix is None:
        red, green, blue = (_codes(channel, coding, noise) for channel in signal)
        return Planes((red, green, blue), coding)
    red_weight, blue_weight = (np.float32(weight) for weight in MATRICES[coding.matrix])
    luma = red_weight * signal[0] + (1 - red_weight - blue_weight) * signal[1] + blue_weight * signal[2]
    chroma = [
        _chroma_codes(_fewer((signal[channel] - luma) * np.float32(0.5 / (1.0 - weight)), coding), coding, noise)
        for channel, weight in ((2, blue_weight), (0, red_weight))
    ]
    return Planes((_codes(luma, coding, noise), chroma[0], chroma[1]), coding)


def _codes(plane: Array, coding: Coding, noise: Noise | None) -> Codes:
    """Round a plane of luma, or of R, G or B."""
    if noise is not None:
        plane = plane + noise(plane.shape) * np.float32(1.0 / coding.luma_scale[0])
    return quantise(plane, coding.bits, coding.signal_range)


def _chroma_codes(chroma: Array, coding: Coding, noise: Noise | None) -> Array:
    scale, offset = coding.chroma_scale
    code = chroma * np.float32(scale) + np.float32(offset + 0.5)
    if noise is not None:
        code += noise(code.shape)
    code = np.floor(code)
    least = 1.0 if coding.signal_range == NARROW else 0.0
    codes: Array = np.clip(code, least, 2.0**coding.bits - 1.0).astype(np.uint16)
    return codes


def _fewer(plane: Array, coding: Coding) -> Array:
    """Return chroma where its samples are, from a plane that has one for every pixel."""
    across, down = SITINGS[coding.siting]
    column_step, row_step = coding.subsampling
    if column_step == 2:
        plane = _halved(plane.T, across).T
    return _halved(plane, down) if row_step == 2 else plane


def _halved(plane: Array, place: float) -> Array:
    """Return half as many samples along the first axis; the first lies `place` samples behind the first of before."""
    count = -(-plane.shape[0] // 2)
    if place == 0.5:
        first, second = plane[0::2], plane[1::2]
        if len(second) < count:
            second = np.concatenate([second, plane[-1:]])
        return np.float32(0.5) * (first + second)
    padded = np.concatenate([plane[:1], plane, plane[-1:], plane[-1:]])
    start = 1 + int(place)
    middle = padded[start : start + 2 * count : 2]
    before, after = padded[start - 1 : start - 1 + 2 * count : 2], padded[start + 1 : start + 1 + 2 * count : 2]
    return np.float32(0.5) * middle + np.float32(0.25) * (before + after)
