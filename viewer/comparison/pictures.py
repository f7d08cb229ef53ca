"""The pixels of a comparison: windows on the master, renditions, and the master's light in figures."""

import math
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from tonemap.arrays import Array
from tonemap.colorimetry import conversion_matrix, convert, luminance
from tonemap.encoding import Encoding, decode, encode, signal_to_light
from tonemap.picture import Picture
from tonemap.rendition import Chain
from tonemap.scaling import BAND_SAMPLES, LightOfRows, area_average
from tonemap.signal_range import FULL, quantise
from tonemap.transfer import pq_eotf_inverse

Codes8 = NDArray[np.uint8]

BINS = 2048  # of the luminance histogram, evenly spaced in PQ from 0 to 10 000 cd/m2
SHARE_LEVELS = (100.0, 203.0, 1000.0)
ROUNDING = 1.0 + 1e-5  # float32 light of exactly a level is not above it
BLACKER = 1e-4  # of the window's top; a BT.709 channel below minus this counts as outside the gamut


class SignalEngine(Protocol):
    """What a comparison needs of an engine; both engines have it."""

    title: str

    def signal(self, picture: Picture, chain: Chain) -> Array:
        """Return the R'G'B' signal of the target, (rows, columns, 3), 0..1."""


@dataclass(frozen=True)
class Window:
    """A part of the master's range that fits an SDR picture: 0..top in cd/m2, shown on a display with a peak."""

    top: float
    display: Encoding

    @property
    def stops_down(self) -> float:
        """How much darker than true the window is shown; negative when it is brighter."""
        return math.log2(self.top / self.display.peak)

    def shown(self, light: Array) -> Array:
        """Return the display's light for light in its primaries: scaled so that the top fits, and clipped there."""
        return np.clip(light * (self.display.peak / self.top), 0.0, self.display.peak)


@dataclass(frozen=True)
class MasterFigures:
    """The master's light, counted over the whole picture.

    Attributes
    ----------
    histogram : ndarray (BINS,), share of the pixels a bin of luminance
    shares : share of the pixels whose luminance is above each of `SHARE_LEVELS`
    brightest : largest luminance, cd/m2
    clipped : for each window, the share of the pixels with a BT.709 channel above its top
    outside : share of the pixels whose colour lies outside BT.709
    """

    histogram: Array
    shares: dict[float, float]
    brightest: float
    clipped: list[float]
    outside: float


def display_of(target: Encoding) -> Encoding:
    """Return the display that stands for a target in a BT.709 / gamma 2.4 picture: the target itself, if it is one."""
    if target.primaries == "bt709" and target.transfer in ("bt1886", "gamma2.4"):
        return Encoding(target.transfer, "bt709", peak=target.peak, black=target.black)
    return Encoding("bt1886", "bt709", peak=target.peak)


def is_shown_as_is(target: Encoding) -> bool:
    """Say whether a target's signal goes into the picture without a conversion."""
    return target.primaries == "bt709" and target.transfer in ("bt1886", "gamma2.4")


def tile_shape(shape: tuple[int, int], most_columns: int, most_rows: int) -> tuple[int, int]:
    """Return the (rows, columns) of a tile for a picture's: reduced to fit, or enlarged by a whole number."""
    rows, columns = shape
    reduction = max(columns / most_columns, rows / most_rows)
    if reduction <= 1.0:
        times = int(1.0 / reduction)
        return rows * times, columns * times
    return min(most_rows, max(1, round(rows / reduction))), min(most_columns, max(1, round(columns / reduction)))


def rendition_tile(picture: Picture, chain: Chain, engine: SignalEngine, shape: tuple[int, int]) -> Codes8:
    """Render at full size and scale in display light; returns 8-bit full-range codes (rows, columns, 3)."""
    signal = engine.signal(picture, chain)
    target = chain.rendition.target
    display = display_of(target)
    to_display = conversion_matrix(target.primaries, display.primaries)

    def light_of_rows(start: int, stop: int) -> Array:
        light = signal_to_light(signal[start:stop].astype(np.float32, copy=False), target)
        return light if is_shown_as_is(target) else np.clip(convert(light, to_display), 0.0, display.peak)

    return _tile(light_of_rows, (picture.rows, picture.columns), shape, display)


def light_of(picture: Picture) -> Array:
    """Decode a whole picture to light, BT.2020 cd/m2, float32."""
    light = np.empty(picture.samples.shape, np.float32)

    def fill(rows: slice) -> None:
        light[rows] = decode(picture.samples[rows], picture.encoding)

    _in_bands(fill, light)
    return light


def window_tile(light: Array, window: Window, shape: tuple[int, int]) -> Codes8:
    """Return the master's light through a window, as `rendition_tile` returns a rendition."""
    to_display = conversion_matrix("bt2020", "bt709")
    return _tile(
        lambda start, stop: window.shown(convert(light[start:stop], to_display)), light.shape[:2], shape, window.display
    )


def figures_of(light: Array, windows: list[Window]) -> MasterFigures:
    """Count the master's light over the whole picture."""
    to_display = conversion_matrix("bt2020", "bt709")
    darkest = -BLACKER * windows[0].top

    def count(rows: slice) -> tuple[Any, ...]:
        lum, in_display = luminance(light[rows]), convert(light[rows], to_display)
        places = np.clip(pq_eotf_inverse(lum) * BINS, 0, BINS - 1).astype(np.int32)
        highest, lowest = in_display.max(axis=2), in_display.min(axis=2)
        return (
            np.bincount(places.ravel(), minlength=BINS),
            [np.count_nonzero(lum > level * ROUNDING) for level in SHARE_LEVELS],
            [np.count_nonzero(highest > window.top * ROUNDING) for window in windows],
            np.count_nonzero(lowest < darkest),
            float(lum.max()),
        )

    histogram, above, clipped, outside, brightest = zip(*_in_bands(count, light), strict=True)
    pixels = light.shape[0] * light.shape[1]
    return MasterFigures(
        histogram=np.sum(histogram, axis=0) / pixels,
        shares=dict(zip(SHARE_LEVELS, (np.sum(above, axis=0) / pixels).tolist(), strict=True)),
        brightest=max(brightest),
        clipped=(np.sum(clipped, axis=0) / pixels).tolist(),
        outside=sum(outside) / pixels,
    )


def _in_bands(work: Callable[[slice], Any], light: Array) -> list[Any]:
    rows = max(1, BAND_SAMPLES // light.shape[1])
    bands = [slice(start, start + rows) for start in range(0, light.shape[0], rows)]
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        return list(pool.map(work, bands))


def _tile(light_of_rows: LightOfRows, size: tuple[int, int], shape: tuple[int, int], display: Encoding) -> Codes8:
    """Average light to the tile's size, or repeat its pixels, and encode it for the display."""
    reduced = (min(size[0], shape[0]), min(size[1], shape[1]))
    signal = encode(area_average(light_of_rows, size, reduced), display)
    codes = quantise(signal, 8, FULL).astype(np.uint8)
    return codes.repeat(shape[0] // reduced[0], axis=0).repeat(shape[1] // reduced[1], axis=1)
