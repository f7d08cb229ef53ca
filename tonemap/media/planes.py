"""The planes of a movie's frame, as its codec stores them, and their exact way to an R'G'B' signal."""

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..encoding import Encoding
from ..picture import Picture
from ..signal_range import NARROW, scale_and_offset

BAND_SAMPLES = 1 << 18  # pixels a band, an even number of rows: the temporaries of one stay near the processor's cache

MATRICES = {"bt709": (0.2126, 0.0722), "bt601": (0.299, 0.114), "bt2020": (0.2627, 0.0593)}
"""Kr and Kb of the Y'CbCr matrices: BT.709-6, item 3.2; BT.601-7, item 2.5.1; BT.2020-2, Table 4 (not constant)."""

MATRIX_TITLES = {"bt709": "BT.709", "bt601": "BT.601", "bt2020": "BT.2020"}

SITINGS = {
    "left": (0.0, 0.5),
    "center": (0.5, 0.5),
    "topleft": (0.0, 0.0),
    "top": (0.5, 0.0),
    "bottomleft": (0.0, 1.0),
    "bottom": (0.5, 1.0),
}
"""Place of the first chroma sample of 4:2:0 in columns and rows of luma; Recommendation ITU-T H.273, Figure 1."""

SUBSAMPLINGS = {(1, 1): "4:4:4", (2, 1): "4:2:2", (2, 2): "4:2:0"}


@dataclass(frozen=True)
class Coding:
    """How the planes code a picture.

    Attributes
    ----------
    bits, signal_range : of the code values
    matrix : name in `MATRICES`; None for planes of R, G and B
    subsampling : columns and rows of luma for each of chroma
    siting : name in `SITINGS`
    """

    bits: int
    signal_range: str
    matrix: str | None = None
    subsampling: tuple[int, int] = (1, 1)
    siting: str = "left"

    @property
    def title(self) -> str:
        """One line for a table."""
        start = f"{self.bits}-bit {self.signal_range}"
        if self.matrix is None:
            return f"{start} R'G'B'"
        sited = f", chroma sited {self.siting}" if self.subsampling != (1, 1) else ""
        return f"{start} Y'CbCr {SUBSAMPLINGS[self.subsampling]}, {MATRIX_TITLES[self.matrix]} matrix{sited}"

    @property
    def luma_scale(self) -> tuple[float, float]:
        """Scale and offset of R, G, B and Y: code = scale * signal + offset."""
        return scale_and_offset(self.bits, self.signal_range)

    @property
    def chroma_scale(self) -> tuple[float, float]:
        """Scale and offset of Cb and Cr; BT.2100-3, Table 9."""
        if self.signal_range == NARROW:
            return 224.0 * 2.0 ** (self.bits - 8), 128.0 * 2.0 ** (self.bits - 8)
        return 2.0**self.bits - 1.0, 2.0 ** (self.bits - 1)


@dataclass(frozen=True)
class Planes:
    """A frame's code values: planes of Y', Cb and Cr, or of R', G' and B', each (rows, columns), uint8 or uint16."""

    components: tuple[NDArray[Any], NDArray[Any], NDArray[Any]]
    coding: Coding

    @property
    def rows(self) -> int:
        """Height of the picture in pixels."""
        return int(self.components[0].shape[0])

    @property
    def columns(self) -> int:
        """Width of the picture in pixels."""
        return int(self.components[0].shape[1])

    @cached_property
    def chroma(self) -> NDArray[Any] | None:
        """Cb and Cr in one array (rows, columns, 2), as a card reads them in one go; None for R', G' and B'."""
        return None if self.coding.matrix is None else np.stack(self.components[1:], axis=-1)

    def signal(self, top: int = 0, bottom: int | None = None) -> Array:
        """Return the R'G'B' signal of rows top..bottom - 1, float32, shape (3, rows, columns); nothing is clipped.

        Chroma between its samples is interpolated linearly from where the siting places them; at the picture's edges
        the outermost sample stands for those beyond.

        Parameters
        ----------
        top : an even row
        """
        bottom = self.rows if bottom is None else bottom
        scale, offset = self.coding.luma_scale
        if self.coding.matrix is None:
            result = np.empty((3, bottom - top, self.columns), np.float32)
            for channel, plane in enumerate(self.components):
                result[channel] = plane[top:bottom]
            result -= np.float32(offset)
            result *= np.float32(1.0 / scale)
            return result
        result = np.empty((3, bottom - top, self.columns), np.float32)
        luma = self.components[0][top:bottom].astype(np.float32)
        luma -= np.float32(offset)
        luma *= np.float32(1.0 / scale)
        for channel, difference in enumerate(self._differences(top, bottom)):
            result[channel] = luma
            result[channel] += self._spread(difference, top, bottom)
        return result

    def picture(self, encoding: Encoding) -> Picture:
        """Return the signal as a picture, samples (rows, columns, 3) of float32."""
        samples = np.empty((self.rows, self.columns, 3), np.float32)
        with ThreadPoolExecutor(os.cpu_count()) as pool:
            for band in [pool.submit(self._fill, samples, *rows) for rows in self.bands()]:
                band.result()  # raises here what was raised in the band
        return Picture(samples, encoding)

    def bands(self) -> list[tuple[int, int]]:
        """Return the first row and the end of bands that are worked on well at once; each begins at an even row."""
        step = max(2, BAND_SAMPLES // self.columns // 2 * 2)
        return [(top, min(top + step, self.rows)) for top in range(0, self.rows, step)]

    def _fill(self, samples: Array, top: int, bottom: int) -> None:
        for channel, plane in enumerate(self.signal(top, bottom)):
            samples[top:bottom, :, channel] = plane

    def _differences(self, top: int, bottom: int) -> list[Array]:
        """Return R'-Y', G'-Y' and B'-Y' where chroma has samples: the rows needed, with one more at every side.

        Interpolation is linear, and so is the matrix: their order doesn't matter, and there are fewer samples here.
        """
        matrix = self.coding.matrix
        assert matrix is not None  # the only caller has asked
        red, blue = MATRICES[matrix]
        green = 1.0 - red - blue
        step = self.coding.subsampling[1]
        count = self.components[1].shape[0]
        rows = np.clip(np.arange(top // step - 1, -(-bottom // step) + 1), 0, count - 1)
        scale, offset = self.coding.chroma_scale
        chroma = []
        for plane in self.components[1:]:
            part = plane[rows].astype(np.float32)
            part -= np.float32(offset)
            part *= np.float32(1.0 / scale)
            chroma.append(np.pad(part, ((0, 0), (1, 1)), "edge"))
        blue_chroma, red_chroma = chroma
        to_green = [np.float32(2.0 * weight * (1.0 - weight) / green) for weight in (red, blue)]
        return [
            red_chroma * np.float32(2.0 * (1.0 - red)),
            -to_green[0] * red_chroma - to_green[1] * blue_chroma,
            blue_chroma * np.float32(2.0 * (1.0 - blue)),
        ]

    def _spread(self, plane: Array, top: int, bottom: int) -> Array:
        """Bring a padded plane to the luma's columns and rows top..bottom - 1."""
        across, down = SITINGS[self.coding.siting]
        column_step, row_step = self.coding.subsampling
        wide = np.empty((plane.shape[0], self.columns), np.float32)
        for phase in range(column_step):
            _interpolate(plane.T, column_step, phase, across, wide.T[phase::column_step])
        if row_step == 1:
            return wide[1 : bottom - top + 1]
        result = np.empty((bottom - top, self.columns), np.float32)
        for phase in range(row_step):
            _interpolate(wide, row_step, phase, down, result[phase::row_step])
        return result


def _interpolate(plane: Array, step: int, phase: int, place: float, result: Array) -> None:
    """Interpolate linearly along the first axis, from samples padded by one at each end.

    Sample k of the unpadded plane lies at k * step + place; the results at phase, phase + step, ...
    """
    start = (phase - place) / step if step > 1 else 0.0
    before = int(np.floor(start))
    weight = np.float32(start - before)
    first, second = (plane[1 + before + more : 1 + before + more + len(result)] for more in (0, 1))
    if weight == 0.0:
        result[:] = first
        return
    mixed = second - first
    mixed *= weight
    mixed += first
    result[:] = mixed
