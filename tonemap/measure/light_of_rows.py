"""Light of a picture's rows, fast: by a table of all codes where each channel decodes on its own."""

from functools import cache

import numpy as np

from ..arrays import Array, Codes
from ..colorimetry import conversion_matrix
from ..encoding import LIGHT_CEILING, Encoding, decode, signal_to_light
from ..picture import Picture
from ..signal_range import expand


def light_of_rows(picture: Picture, first: int, last: int) -> Array:
    """Return the light (rows, columns, 3) of the rows from `first` up to, not including, `last`, as `decode` gives it.

    Integer codes give float32 (the float64 result of every code, rounded once), laid out channel by channel in memory;
    HLG, whose channels decode together, and floating-point samples give float64.
    """
    samples, encoding = picture.samples[first:last], picture.encoding
    if encoding.bits is None or encoding.transfer == "hlg":
        return decode(samples, encoding)
    codes: Codes = samples.astype(np.uint16, copy=False)
    table = _channel_table(encoding)
    planes = np.empty((3, *samples.shape[:2]), np.float32)
    for channel, plane in enumerate(planes):
        table.take(codes[..., channel], mode="clip", out=plane)
    light = np.moveaxis(planes, 0, 2)
    if encoding.primaries == "bt2020":
        return light
    return np.clip(converted_planes(light, conversion_matrix(encoding.primaries, "bt2020")), 0.0, LIGHT_CEILING)


@cache
def _channel_table(encoding: Encoding) -> Array:
    """Return the light in the encoding's own primaries of every code, for a transfer that treats channels alone."""
    assert encoding.bits is not None
    codes = np.arange(2**encoding.bits, dtype=np.uint16)
    if encoding.primaries == "bt2020":
        greys = np.repeat(codes[:, np.newaxis], 3, axis=1)
        light = decode(greys, encoding)[:, 0]
    else:
        light = signal_to_light(expand(codes, encoding.bits, encoding.signal_range), encoding)
    table: Array = light.astype(np.float32)
    table.flags.writeable = False  # the cache hands the same array to every caller
    return table


def converted_planes(light: Array, matrix: Array) -> Array:
    """Multiply each pixel (..., 3) by a 3 x 3 matrix, in the pixels' dtype; the result lies channel by channel.

    For pixels that lie so themselves this is several times as fast as `colorimetry.convert`.
    """
    red, green, blue = (light[..., channel] for channel in range(3))
    planes = np.empty((3, *light.shape[:-1]), light.dtype)
    for index, row in enumerate(matrix.astype(light.dtype)):
        np.multiply(red, row[0], out=planes[index, ...])
        planes[index, ...] += green * row[1]
        planes[index, ...] += blue * row[2]
    return np.moveaxis(planes, 0, -1)
