"""From an R'G'B' signal to the planes that a codec takes: matrix, chroma of fewer samples, rounding."""

from collections.abc import Callable

import numpy as np

from ..arrays import Array, Codes
from ..signal_range import NARROW
from .planes import MATRICES, SITINGS, Coding, Planes

Noise = Callable[[tuple[int, ...]], Array]
"""Makes noise of a shape, in codes, float32."""

BAND_SAMPLES = 1 << 15  # pixels a band: its temporaries stay in a processor's cache


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
    if coding.matrix is None:
        red, green, blue = (_codes(signal[..., channel], coding.luma_scale, coding, noise) for channel in range(3))
        return Planes((red, green, blue), coding)
    luma, blue_chroma, red_chroma = _luma_and_chroma(signal, coding)
    row_step, (_, down) = coding.subsampling[1], SITINGS[coding.siting]
    second, third = (
        _codes(_halved(chroma, down) if row_step == 2 else chroma, coding.chroma_scale, coding, noise)
        for chroma in (blue_chroma, red_chroma)
    )
    return Planes((_codes(luma, coding.luma_scale, coding, noise), second, third), coding)


def _luma_and_chroma(signal: Array, coding: Coding) -> tuple[Array, Array, Array]:
    """Return Y', and Cb and Cr with all rows and as few columns as they are coded with, float32."""
    rows, columns, _ = signal.shape
    red_weight, blue_weight = (np.float32(weight) for weight in MATRICES[coding.matrix or ""])
    green_weight = 1 - red_weight - blue_weight
    column_step, (across, _) = coding.subsampling[0], SITINGS[coding.siting]
    luma = np.empty((rows, columns), np.float32)
    blue_chroma, red_chroma = (np.empty((rows, -(-columns // column_step)), np.float32) for _ in range(2))
    for band in _bands(rows, columns):
        red, green, blue = np.moveaxis(signal[band], -1, 0).astype(np.float32, order="C")
        grey = luma[band]
        grey[:] = red_weight * red + green_weight * green + blue_weight * blue
        for channel, weight, chroma in ((blue, blue_weight, blue_chroma), (red, red_weight, red_chroma)):
            difference = (channel - grey) * np.float32(0.5 / (1.0 - weight))
            chroma[band] = _halved(difference.T, across).T if column_step == 2 else difference
    return luma, blue_chroma, red_chroma


def _codes(plane: Array, scale_and_offset: tuple[float, float], coding: Coding, noise: Noise | None) -> Codes:
    """Round a plane of luma, of chroma, or of R, G or B; half up, for codes are never negative."""
    scale, offset = (np.float32(value) for value in scale_and_offset)
    top = 2.0**coding.bits - 1.0
    least = 1.0 if coding.signal_range == NARROW and scale_and_offset == coding.chroma_scale else 0.0
    grain = None if noise is None else noise(plane.shape)
    codes = np.empty(plane.shape, np.uint16)
    for band in _bands(*plane.shape):
        code = plane[band].astype(np.float32)
        code *= scale
        code += offset + np.float32(0.5)
        if grain is not None:
            code += grain[band]
        np.floor(code, out=code)
        codes[band] = np.clip(code, least, top, out=code)
    return codes


def _bands(rows: int, columns: int) -> list[slice]:
    """Return the rows of bands that are worked on one after the other."""
    step = max(1, BAND_SAMPLES // columns)
    return [slice(top, top + step) for top in range(0, rows, step)]


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
