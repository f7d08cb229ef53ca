"""A picture: samples with the encoding that gives them meaning."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .arrays import Array, Codes
from .encoding import Encoding
from .errors import TrimbenchError
from .operator import Statistics


@dataclass(frozen=True)
class Picture:
    """One frame of a master.

    Attributes
    ----------
    samples : ndarray (rows, columns, 3)
        uint16 code values in their own bit depth when `encoding.bits` is set, else float32 (or float64) values.
    """

    samples: Array | Codes
    encoding: Encoding

    def __post_init__(self) -> None:
        """Refuse samples that don't fit the encoding; raises TrimbenchError."""
        if self.samples.ndim != 3 or self.samples.shape[2] != 3 or 0 in self.samples.shape:
            raise TrimbenchError(f"a picture needs rows, columns and three channels, not shape {self.samples.shape}")
        is_float = np.issubdtype(self.samples.dtype, np.floating)
        if is_float != (self.encoding.bits is None) or not (is_float or self.samples.dtype == np.uint16):
            raise TrimbenchError(f"samples of type {self.samples.dtype} don't fit {self.encoding.title}")

    @property
    def rows(self) -> int:
        """Height in pixels."""
        return int(self.samples.shape[0])

    @property
    def columns(self) -> int:
        """Width in pixels."""
        return int(self.samples.shape[1])

    @cached_property
    def statistics(self) -> Statistics:
        """The statistics of its light, measured once, when they are asked for."""
        from .statistics import measure_statistics

        return measure_statistics(self)


def light_picture(light: Array, peak: float = 1000.0, black: float = 0.0) -> Picture:
    """Return a picture of BT.2020 light in cd/m2, shape (rows, columns, 3)."""
    return Picture(light, Encoding("linear", peak=peak, black=black))
