"""The probe: what the master and every rendition are at one pixel, computed by the reference engine."""

from dataclasses import dataclass

import numpy as np

from tonemap.colorimetry import luminance
from tonemap.difference import delta_e_itp, within_sdr_range
from tonemap.encoding import decode, quantise_signal
from tonemap.measure.patches import hue_and_chroma, rendition_light
from tonemap.picture import Picture
from tonemap.reference import render_signal
from tonemap.rendition import Chain

Triple = tuple[float, float, float]

SAME = 1e-6
"""Relative; samples in half or single precision and their light differ by less where they are the same."""


@dataclass(frozen=True)
class MasterReading:
    """The master at a pixel: its own samples (codes, or floating-point values), its light and luminance.

    `hue` is that of ICtCp in degrees; None for a colour too near to grey.
    """

    samples: Triple
    are_codes: bool
    light: Triple
    luminance: float
    hue: float | None

    @property
    def are_light(self) -> bool:
        """Whether the samples are the light itself, as in a linear file in cd/m2 and BT.2020 primaries."""
        return not self.are_codes and np.allclose(self.samples, self.light, rtol=SAME, atol=0.0)


@dataclass(frozen=True)
class RenditionReading:
    """A rendition at a pixel, as its reference display shows it.

    Attributes
    ----------
    signal : 0..1
    codes : where the target has bits
    light : BT.2020, cd/m2
    hue : of ICtCp in degrees; None for a colour too near to grey
    difference : Delta E ITP from the master; None where the master is brighter than the target's peak
    """

    signal: Triple
    codes: tuple[int, int, int] | None
    light: Triple
    luminance: float
    hue: float | None
    difference: float | None

    def difference_from(self, other: "RenditionReading") -> float:
        """Return Delta E ITP from another rendition at the same pixel."""
        return float(delta_e_itp(np.array(self.light), np.array(other.light)))


@dataclass(frozen=True)
class Sample:
    """One click: where, on which frame, and the readings there; a rendition that could not be read is left out."""

    frame: str
    column: int
    row: int
    master: MasterReading
    renditions: tuple[tuple[str, RenditionReading], ...]


def read_master(picture: Picture, column: int, row: int) -> MasterReading:
    """Read the master at a pixel."""
    samples = picture.samples[row, column]
    light = decode(samples[np.newaxis], picture.encoding)[0]
    return MasterReading(
        _triple(samples),
        picture.encoding.bits is not None,
        _triple(light),
        float(luminance(light)),
        hue_and_chroma(light)[0],
    )


def read_rendition(picture: Picture, chain: Chain, column: int, row: int) -> RenditionReading:
    """Compute a rendition at a pixel of the master."""
    target = chain.rendition.target
    signal = render_signal(picture.samples[row, column][np.newaxis], chain)[0]
    light = rendition_light(signal, target)
    master = decode(picture.samples[row, column][np.newaxis], picture.encoding)[0]
    difference = float(delta_e_itp(light, master)) if within_sdr_range(master, target.peak) else None
    codes = None
    if target.bits is not None:
        red, green, blue = (int(code) for code in quantise_signal(signal, target))
        codes = red, green, blue
    hue = hue_and_chroma(light)[0]
    return RenditionReading(_triple(signal), codes, _triple(light), float(luminance(light)), hue, difference)


def _triple(values: np.ndarray) -> Triple:
    red, green, blue = (float(value) for value in values)
    return red, green, blue
