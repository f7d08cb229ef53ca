"""The scopes of a master and of a rendition, filled together: one reading of a frame, in bands of rows."""

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


class MasterScopes:
    """The scopes of a master: waveforms, histogram, vectorscope (PQ signal, BT.2020) and chromaticities.

    Attributes
    ----------
    highest : cd/m2 for which the axes have room; brighter light is counted at their ends
    frames : how many were added; memory does not grow with them
    """

    def __init__(self, columns: int, highest: float) -> None:
        self.highest = highest
        self.frames = 0
        self.waveform_pq = Waveform(columns, Scale("pq", 0.0, HEADROOM * highest))
        self.waveform_log = Waveform(columns, Scale("log", LOWEST, HEADROOM * highest))
        self.histogram = Histogram(self.waveform_pq.scale)
        self.vectorscope = Vectorscope("bt2020")
        self.chromaticity = ChromaticityScope()

    def add(self, picture: Picture) -> None:
        """Count a frame; raises WrongCall if it has another width than the first one."""
        _check_width(picture.columns, self.waveform_pq)
        step = max(1, BAND_SAMPLES // picture.columns)
        for start in range(0, picture.rows, step):
            light = light_of_rows(picture, start, min(start + step, picture.rows)).astype(np.float64)
            channels = light_channels(light)
            for scope in (self.waveform_pq, self.waveform_log, self.histogram):
                scope.add(channels)
            self.vectorscope.add(pq_eotf_inverse(light))
            self.chromaticity.add(light)
        self.frames += 1


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
        self.histogram = Histogram(SIGNAL_SCALE)
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
            self.histogram.add(channels)
            self.vectorscope.add(signal)
        self.frames += 1


def _check_width(columns: int, waveform: Waveform) -> None:
    expected = waveform.counts.shape[2]
    if columns != expected:
        raise WrongCall(f"a frame is {columns} pixels wide, the first one {expected}; plot them apart")
