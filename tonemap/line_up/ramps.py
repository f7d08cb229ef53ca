"""Ramps: the whole range, and a slow part of it in steps of 8, 10 and 12 bits."""

from dataclasses import replace

import numpy as np

from ..arrays import Codes
from ..encoding import Encoding, quantise_signal
from ..signal_range import expand
from .plate import QUIET, Box, Plate, signal_of_grey

SLOW = (0.30, 0.30 + 64.0 / 876.0)
"""Signal of the slow ramps: 16 steps of 8 bits, 64 of 10, 256 of 12; in PQ from 10 to 22 cd/m2."""

DEPTHS = (8, 10, 12)


def slow_ramp(depth: int, count: int, encoding: Encoding) -> Codes:
    """Return codes (count,) of the slow ramp as a chain of so many bits leaves it."""
    signal = np.linspace(*SLOW, count)
    coarse = replace(encoding, bits=depth)
    return quantise_signal(expand(quantise_signal(signal, coarse), depth, encoding.signal_range), encoding)


def whole_ramp(count: int, encoding: Encoding) -> Codes:
    """Return codes (count,) from black to the peak, in equal steps of the signal."""
    return quantise_signal(np.linspace(0.0, signal_of_grey(encoding.peak, encoding), count), encoding)


def draw(plate: Plate) -> None:
    """Draw the plate."""
    plate.heading("Ramps")
    body = plate.body(2)
    bits = plate.encoding.bits or 10
    pitch = body.height // 7
    height = pitch - round(1.8 * plate.em)
    whole = whole_ramp(body.width, plate.encoding)
    black = plate.code(0.0)
    rows = [("grey", (0, 1, 2)), ("red", (0,)), ("green", (1,)), ("blue", (2,))]
    for index, (name, channels) in enumerate(rows):
        strip = Box(body.left, body.top + index * pitch, body.width, height)
        plate.fill(strip, black)
        for channel in channels:
            plate.codes[(*strip.pixels, channel)] = whole
        plate.write(f"{name}, code {whole[0]} to {whole[-1]}", strip.left, strip.bottom + 1.2 * plate.em, QUIET)
    for index, depth in enumerate(DEPTHS):
        strip = Box(body.left, body.top + (index + len(rows)) * pitch, body.width, height)
        slow = slow_ramp(depth, body.width, plate.encoding)
        plate.codes[strip.pixels] = slow[:, np.newaxis]
        words = f"steps of {depth} bits, code {slow[0]} to {slow[-1]}"
        if depth > bits:
            words += f"; this signal has {bits} bits, so it looks like the one of {bits}"
        plate.write(words, strip.left, strip.bottom + 1.2 * plate.em, QUIET)
    plate.footing(
        "The whole ramps rise evenly to their end, without bands, colour or a flat part.",
        "Where the slow one of 10 bits has steps as wide as the one of 8, something on the way has 8 bits.",
    )
