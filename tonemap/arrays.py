"""The array types that the library's signatures name."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.floating[Any]]
"""Floating-point array; colour values carry their three channels on the last axis: shape (..., 3)."""

Codes = NDArray[np.uint16]
"""Integer code values, 8 to 16 bits, in the low bits."""

Words = NDArray[np.uint32]
"""Pixels of three ten-bit codes in a 32-bit word each, as they lie in a DPX file: big-endian, shape (rows, columns)."""
