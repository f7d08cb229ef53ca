"""The histogram of the master's luminance, on a PQ-spaced axis."""

import math
from dataclasses import dataclass

import numpy as np

from tonemap.arrays import Array
from tonemap.colorimetry import luminance
from tonemap.encoding import decode
from tonemap.picture import Picture
from tonemap.transfer import pq_eotf_inverse

BINS = 256
MOST_PIXELS = 250_000


@dataclass(frozen=True)
class Histogram:
    """Counts of pixels in bins that are equally wide in PQ from 0 to 10 000 cd/m2.

    Attributes
    ----------
    step : every step-th pixel of every step-th row was counted
    """

    counts: Array
    step: int


def luminance_histogram(picture: Picture, most_pixels: int = MOST_PIXELS) -> Histogram:
    """Count luminance, on a regular grid of pixels where the picture has more than `most_pixels`."""
    step = max(1, math.ceil(math.sqrt(picture.rows * picture.columns / most_pixels)))
    light = decode(picture.samples[::step, ::step], picture.encoding)
    signal = pq_eotf_inverse(luminance(light))
    counts, _ = np.histogram(np.clip(signal, 0.0, 1.0), bins=BINS, range=(0.0, 1.0))
    return Histogram(counts.astype(np.float64), step)
