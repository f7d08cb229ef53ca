"""The probe: what the master and every rendition are at one pixel, computed by the reference engine."""

from dataclasses import dataclass

import numpy as np

from tonemap.colorimetry import luminance, matrix_to_xyz, primaries_named
from tonemap.encoding import decode, quantise_signal, signal_to_light
from tonemap.picture import Picture
from tonemap.reference import render_signal
from tonemap.rendition import Chain

Triple = tuple[float, float, float]


@dataclass(frozen=True)
class MasterReading:
    """The master at a pixel: its own samples (codes, or floating-point values), its light and luminance."""

    samples: Triple
    are_codes: bool
    light: Triple
    luminance: float


@dataclass(frozen=True)
class RenditionReading:
    """A rendition at a pixel: signal 0..1, codes where the target has bits, luminance of its reference display."""

    signal: Triple
    codes: tuple[int, int, int] | None
    luminance: float


def read_master(picture: Picture, column: int, row: int) -> MasterReading:
    """Read the master at a pixel."""
    samples = picture.samples[row, column]
    light = decode(samples[np.newaxis], picture.encoding)[0]
    return MasterReading(_triple(samples), picture.encoding.bits is not None, _triple(light), float(luminance(light)))


def read_rendition(picture: Picture, chain: Chain, column: int, row: int) -> RenditionReading:
    """Compute a rendition at a pixel of the master."""
    target = chain.rendition.target
    signal = render_signal(picture.samples[row, column][np.newaxis], chain)[0]
    light = signal_to_light(signal, target)
    weights = matrix_to_xyz(primaries_named(target.primaries))[1]
    codes = None
    if target.bits is not None:
        red, green, blue = (int(code) for code in quantise_signal(signal, target))
        codes = red, green, blue
    return RenditionReading(_triple(signal), codes, float(weights @ light))


def _triple(values: np.ndarray) -> Triple:
    red, green, blue = (float(value) for value in values)
    return red, green, blue
