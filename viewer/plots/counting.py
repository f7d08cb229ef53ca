"""The scopes of a master and of a rendition, filled together: one reading of a frame, in bands of rows, in float32."""

import numpy as np

from tonemap.arrays import Codes
from tonemap.encoding import Encoding
from tonemap.errors import WrongCall
from tonemap.measure.frame import BAND_SAMPLES
from tonemap.measure.light_of_rows import light_of_rows
from tonemap.picture import Picture
from tonemap.scopes import (
    SIGNAL_SCALE,
    ChromaticityScope,
    Histogram,
    Scale,
    Vectorscope,
    Waveform,
    light_channels,
    signal_channels,
)
from tonemap.signal_range import expand
from tonemap.transfer import pq_eotf_inverse

HEADROOM = 1.25  # of the axes of light, above the highest level
LOWEST = 0.01  # cd/m2, of the logarithmic axis
FINE_BINS = 2048  # of the axes of light, where code values fall between bins: fine enough that the blur hides it


class MasterScopes:
    """The scopes of a master: waveforms, histogram, vectorscope (PQ signal, BT.2020) and chromaticities.

    Attributes
    ----------
    highest : cd/m2 for which the axes have room; brighter light is counted at their ends
    peak : of the master's encoding in cd/m2; None before the first frame
    frames : how many were added; memory does not grow with them
    """

    def __init__(self, columns: int, highest: float) -> None:
        self.highest = highest
        self.peak: float | None = None
        self.frames = 0
        self.waveform_pq = Waveform(columns, Scale("pq", 0.0, HEADROOM * highest), FINE_BINS)
        self.waveform_log = Waveform(columns, Scale("log", LOWEST, HEADROOM * highest), FINE_BINS)
        self.vectorscope = Vectorscope("bt2020")
        self.chromaticity = ChromaticityScope()

    def add(self, picture: Picture) -> None:
        """Count a frame; raises WrongCall if it has another width than the first one."""
        _check_width(picture.columns, self.waveform_pq)
        self.peak = picture.encoding.peak
        step = max(1, BAND_SAMPLES // picture.columns)
        for start in range(0, picture.rows, step):
            light = light_of_rows(picture, start, min(start + step, picture.rows)).astype(np.float32, copy=False)
            channels = light_channels(light)
            self.waveform_pq.add(channels)
            self.waveform_log.add(channels)
            self.vectorscope.add(pq_eotf_inverse(light))
            self.chromaticity.add(light)
        self.frames += 1

    @property
    def histogram(self) -> Histogram:
        """The histogram on the PQ axis."""
        return _without_columns(self.waveform_pq)


class RenditionScopes:
    """The scopes of a rendition's signal: waveform, histogram and vectorscope.

    Attributes
    ----------
    target : encoding of the code values
    frames : how many were added; memory does not grow with them
    """

    def __init__(self, columns: int, target: Encoding) -> None:
        if target.bits is None:
            raise WrongCall("the scopes of a rendition need code values; give the target 8, 10, 12 or 16 bits")
        self.target = target
        self.frames = 0
        self.waveform = Waveform(columns, SIGNAL_SCALE)
        self.vectorscope = Vectorscope(target.primaries)

    def add(self, codes: Codes) -> None:
        """Count a frame's code values (rows, columns, 3); raises WrongCall if it has another width than the first."""
        assert self.target.bits is not None
        _check_width(codes.shape[1], self.waveform)
        step = max(1, BAND_SAMPLES // codes.shape[1])
        for start in range(0, codes.shape[0], step):
            signal = expand(codes[start : start + step], self.target.bits, self.target.signal_range)
            channels = signal_channels(signal, self.target.primaries)
            self.waveform.add(channels)
            self.vectorscope.add(signal)
        self.frames += 1

    @property
    def histogram(self) -> Histogram:
        """The histogram of the signal."""
        return _without_columns(self.waveform)


def _without_columns(waveform: Waveform) -> Histogram:
    """Return the histogram of what a waveform has counted: it is the waveform's sum along each row."""
    channels, levels, columns = waveform.counts.shape
    histogram = Histogram(waveform.scale, levels, channels)
    histogram.counts += waveform.counts.sum(axis=2, dtype=np.int64)
    histogram.pixels = waveform.rows * columns
    return histogram


def _check_width(columns: int, waveform: Waveform) -> None:
    expected = waveform.counts.shape[2]
    if columns != expected:
        raise WrongCall(f"a frame is {columns} pixels wide, the first one {expected}; plot them apart")
