"""Scopes as arrays, at full resolution and without drawing: counts of levels, colours and transfers; level history.

Each scope counts: make it, add frames or bands of rows, read `counts`. One rule says in which bin a value falls, the
same as on the GPU: see `bins_of`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .arrays import Array
from .colorimetry import luminance, matrix_to_xyz, primaries_named
from .encoding import Encoding, light_to_signal
from .measure.gamut_share import FLOOR_NITS
from .measure.hue import uv_of_light
from .measure.legality import LUMA_WEIGHTS
from .measure.programme import FrameSummary
from .transfer import pq_eotf, pq_eotf_inverse

Bins = NDArray[np.intp]
Counts = NDArray[np.int64]
ShortCounts = NDArray[np.int32]

BINS = 1024
CHANNELS = ("R", "G", "B", "Y")
"""Order of the channels of a waveform and a histogram; Y is luminance of light, and luma of a signal."""

DARKEST = 1e-30  # cd/m2; what stands for black on a logarithmic axis

# ISO 17321-1, patch 'light skin' under D65, CIE 1931 2-degree observer: XYZ, white at Y = 1 (colour-science data).
LIGHT_SKIN_XYZ = (0.381337, 0.355831, 0.259413)

# Report ITU-R BT.2408, Table 1: diffuse white is HLG 0.75; its scene light, and the OOTF of a 1000 cd/m2 display.
DIFFUSE_WHITE_SCENE, OOTF_GAMMA = 0.2649625604, 1.2

BARS = {
    "yellow": (1.0, 1.0, 0.0),
    "cyan": (0.0, 1.0, 1.0),
    "green": (0.0, 1.0, 0.0),
    "magenta": (1.0, 0.0, 1.0),
    "red": (1.0, 0.0, 0.0),
    "blue": (0.0, 0.0, 1.0),
}
"""R'G'B' of the colour bars at 100 %."""


@dataclass(frozen=True)
class Scale:
    """An axis from `low` to `high`, which lie at 0 and 1.

    Attributes
    ----------
    kind : 'pq' or 'log' for light in cd/m2, 'linear' for a signal or a chromaticity

    Examples
    --------
    >>> [round(float(Scale("log", 0.01, 10000.0).place(nits)), 3) for nits in (0.01, 10.0, 10000.0)]
    [0.0, 0.5, 1.0]
    """

    kind: str
    low: float
    high: float

    def place(self, values: Array | float) -> Array:
        """Return where values stand on the axis, 0..1 between its ends, beyond them outside of 0..1."""
        first, last = float(self._bent(self.low)), float(self._bent(self.high))
        return (self._bent(values) - first) / (last - first)

    def values(self, bins: int = BINS) -> Array:
        """Return the value at the centre of each bin, shape (bins,)."""
        bent = np.linspace(float(self._bent(self.low)), float(self._bent(self.high)), bins)
        if self.kind == "pq":
            return pq_eotf(bent)
        return np.exp(bent) if self.kind == "log" else bent

    def _bent(self, values: Array | float) -> Array:
        array = np.asarray(values)
        if self.kind == "pq":
            return pq_eotf_inverse(array)
        return np.log(np.maximum(array, DARKEST)) if self.kind == "log" else array


PQ_SCALE = Scale("pq", 0.0, 10000.0)
LOG_SCALE = Scale("log", 0.01, 10000.0)
SIGNAL_SCALE = Scale("linear", -64.0 / 876.0, 959.0 / 876.0)
"""Of a normalised signal; with 1024 bins each bin is a code of 10 bits in narrow range, from 0 to 1023."""
CHROMA_SCALE = Scale("linear", -512.0 / 896.0, 511.0 / 896.0)
"""Of Cb and Cr; with 1024 bins each bin is a code of 10 bits."""
UV_SCALE = Scale("linear", 0.0, 0.65)
"""Of u' and v' alike; it holds every colour."""


def bins_of(places: Array, bins: int = BINS) -> Bins:
    """Return the bin of each place on an axis: floor(clamp(place, 0, 1) (bins - 1) + 0.5), in float32.

    What lies beyond an end falls into the bin of that end, and so nothing is lost; NaN falls into bin 0.

    Examples
    --------
    >>> bins_of(np.array([-1.0, 0.0, 0.499, 0.5, 1.0, 7.0]), 3).tolist()
    [0, 0, 1, 1, 2, 2]
    """
    clamped = np.fmin(np.fmax(np.asarray(places, np.float32), np.float32(0.0)), np.float32(1.0))
    return np.floor(clamped * np.float32(bins - 1) + np.float32(0.5)).astype(np.intp)


def light_channels(light: Array) -> Array:
    """Return R, G, B and luminance (..., 4) in cd/m2 of BT.2020 light (..., 3)."""
    return np.concatenate([light, luminance(light)[..., np.newaxis]], axis=-1)


def signal_channels(signal: Array, primaries: str) -> Array:
    """Return R', G', B' and luma (..., 4) of a signal (..., 3); the luma weights are those of `luma_signal`."""
    return np.concatenate([signal, luma_signal(signal, primaries)[..., np.newaxis]], axis=-1)


def luma_signal(signal: Array, primaries: str) -> Array:
    """Return Y' (...) of R'G'B' (..., 3): by BT.2020-2, Table 4, for 'bt2020', by BT.709-6, item 3.2, for others."""
    red, green, blue = _luma_weights(primaries)
    return red * signal[..., 0] + green * signal[..., 1] + blue * signal[..., 2]


def chroma_signals(signal: Array, primaries: str) -> tuple[Array, Array]:
    """Return Cb and Cr (...), nominally -0.5..0.5, of R'G'B' (..., 3).

    References
    ----------
    Recommendations ITU-R BT.709-6, item 3.3, and BT.2020-2, Table 4 (non-constant luminance).

    Examples
    --------
    >>> [round(float(value), 4) for value in chroma_signals(np.array([1.0, 0.0, 0.0]), "bt709")]
    [-0.1146, 0.5]
    """
    red, _, blue = _luma_weights(primaries)
    luma = luma_signal(signal, primaries)
    return (signal[..., 2] - luma) / (2.0 * (1.0 - blue)), (signal[..., 0] - luma) / (2.0 * (1.0 - red))


def bar_targets(primaries: str, level: float = 1.0) -> dict[str, tuple[float, float]]:
    """Return Cb and Cr of the six colours of bars whose R', G' and B' are 0 or `level`.

    Levels in use: 0.75 and 1 for BT.709; BT.2111 has 0.75 for HLG, 0.58 for PQ, and 1 for both.
    """
    targets = {}
    for name, signal in BARS.items():
        cb, cr = chroma_signals(level * np.array(signal), primaries)
        targets[name] = float(cb), float(cr)
    return targets


def skin_angle(encoding: Encoding) -> float:
    """Return the direction of skin on the vectorscope, in degrees from +Cb towards +Cr.

    It is the hue of the patch 'light skin' of ISO 17321-1 under D65: at diffuse white = peak for an SDR encoding, and
    where BT.2408, Table 1, puts its reflectance for PQ and HLG. For BT.1886 without black lift the level does not
    matter. The patch 'dark skin' lies within 2 degrees for SDR and PQ, within 6 for HLG. In SDR this is also the
    direction of the I axis of NTSC, 123 degrees, on which skin is looked for: common practice, no source.

    Examples
    --------
    >>> from tonemap.encoding import sdr_target
    >>> round(skin_angle(sdr_target()), 1)
    123.2
    """
    xyz = np.array(LIGHT_SKIN_XYZ)
    if encoding.transfer in ("pq", "hlg"):
        nits = 1000.0 * (DIFFUSE_WHITE_SCENE * xyz[1]) ** OOTF_GAMMA
    else:
        nits = encoding.peak * xyz[1]
    own = np.linalg.solve(matrix_to_xyz(primaries_named(encoding.primaries)), xyz * nits / xyz[1])
    cb, cr = chroma_signals(light_to_signal(own, encoding), encoding.primaries)
    return math.degrees(math.atan2(float(cr), float(cb)))


class Waveform:
    """Counts (channels, levels, columns) of the picture, levels from the scale's low end up; `rows` were added.

    They are short, for there are many of them: a column of UHD may be added a million times.
    """

    def __init__(self, columns: int, scale: Scale, levels: int = BINS, channels: int = len(CHANNELS)) -> None:
        self.scale = scale
        self.rows = 0
        self.counts: ShortCounts = np.zeros((channels, levels, columns), np.int32)

    def add(self, values: Array) -> None:
        """Count some rows: values (rows, columns, channels), as `light_channels` or `signal_channels` gives them."""
        channels, levels, columns = self.counts.shape
        for channel in range(channels):
            cells = bins_of(self.scale.place(values[..., channel]), levels) * columns + np.arange(columns)
            self.counts[channel] += _counted(cells, levels * columns).reshape(levels, columns).astype(np.int32)
        self.rows += values.shape[0]


class Histogram:
    """Counts (channels, levels); `pixels` were added."""

    def __init__(self, scale: Scale, levels: int = BINS, channels: int = len(CHANNELS)) -> None:
        self.scale = scale
        self.pixels = 0
        self.counts: Counts = np.zeros((channels, levels), np.int64)

    def add(self, values: Array) -> None:
        """Count values (..., channels), as `light_channels` or `signal_channels` gives them."""
        channels, levels = self.counts.shape
        for channel in range(channels):
            self.counts[channel] += _counted(bins_of(self.scale.place(values[..., channel]), levels), levels)
        self.pixels += values[..., 0].size


class Vectorscope:
    """Counts by Cr (rows, upwards) and Cb (columns) of the non-constant luminance signals; `pixels` were added."""

    scale = CHROMA_SCALE

    def __init__(self, primaries: str, bins: int = BINS) -> None:
        self.primaries = primaries
        self.pixels = 0
        self.counts: Counts = np.zeros((bins, bins), np.int64)

    def add(self, signal: Array) -> None:
        """Count a signal R'G'B' (..., 3)."""
        cb, cr = chroma_signals(signal, self.primaries)
        _add_pair(self.counts, self.scale.place(cr), self.scale.place(cb))
        self.pixels += cb.size


class ChromaticityScope:
    """Counts by v' (rows, upwards) and u' (columns) of CIE 1976.

    Attributes
    ----------
    counts : ndarray (bins, bins)
    pixels : how many pixels were added
    dark : how many of them are too dark to have a colour, and are not in `counts`: max(R, G, B) below `FLOOR_NITS`
    """

    scale = UV_SCALE

    def __init__(self, bins: int = BINS) -> None:
        self.pixels = self.dark = 0
        self.counts: Counts = np.zeros((bins, bins), np.int64)

    def add(self, light: Array) -> None:
        """Count BT.2020 light (..., 3) in cd/m2."""
        lit = light[light.max(axis=-1) >= FLOOR_NITS]
        uv = uv_of_light(lit)
        _add_pair(self.counts, self.scale.place(uv[..., 1]), self.scale.place(uv[..., 0]))
        self.pixels += light[..., 0].size
        self.dark += light[..., 0].size - lit.shape[0]


class TransferPlot:
    """Counts by luminance of a rendition (rows, upwards) and of the master (columns), both in cd/m2 spaced as PQ.

    A rendition that treats every pixel by its luminance alone lies on its curve; what lies beside the curve shows what
    colour, adjustments and the gamut do.
    """

    scale = PQ_SCALE

    def __init__(self, bins: int = BINS) -> None:
        self.pixels = 0
        self.counts: Counts = np.zeros((bins, bins), np.int64)

    def add(self, master: Array, rendition: Array) -> None:
        """Count pixels: BT.2020 light (..., 3) of the master, and that with which the rendition is shown."""
        _add_pair(self.counts, self.scale.place(luminance(rendition)), self.scale.place(luminance(master)))
        self.pixels += master[..., 0].size


@dataclass(frozen=True)
class LevelHistory:
    """What a programme's frames have in their active area, one value a frame, in cd/m2.

    Attributes
    ----------
    frames : numbers of the frames, rising
    maximum : of max(R, G, B); the largest is MaxCLL
    average : of max(R, G, B), which is the frame-average light level; the largest is MaxFALL
    luminance : average of luminance
    """

    frames: NDArray[np.int64]
    maximum: Array
    average: Array
    luminance: Array


def level_history(rows: Sequence[FrameSummary]) -> LevelHistory:
    """Return the history of a programme's `ProgrammeLevels.history` as arrays."""
    columns = ([getattr(row, name) for row in rows] for name in ("maximum", "average", "luminance_average"))
    return LevelHistory(
        np.array([row.frame for row in rows], np.int64), *(np.array(column, np.float64) for column in columns)
    )


def _luma_weights(primaries: str) -> tuple[float, float, float]:
    red, green, blue = LUMA_WEIGHTS["bt2020" if primaries == "bt2020" else "bt709"]
    return red / 10000.0, green / 10000.0, blue / 10000.0


def _counted(cells: Bins, size: int) -> Counts:
    return np.bincount(cells.ravel(), minlength=size)


def _add_pair(counts: Counts, up: Array, across: Array) -> None:
    rows, columns = counts.shape
    cells = bins_of(up, rows) * columns + bins_of(across, columns)
    counts += _counted(cells, rows * columns).reshape(rows, columns)
