"""Ten-bit pictures in DPX (SMPTE ST 268-1:2014): three codes in each big-endian 32-bit word, filled from its high bits.

A general library packs and checks such a picture ten times as slowly; the header stays the library's.
"""

import struct
from pathlib import Path

import numpy as np

from ..arrays import Codes

DATA_OFFSET, FILE_SIZE, LINES = 4, 16, 776  # bytes: fields 2, 4 and 20
BAND = 1 << 16  # pixels that are packed at a time, so that they stay in a processor's cache


def put_ten_bit_codes(part: Path, codes: Codes) -> None:
    """Put the picture into a file with the header of its first row.

    Parameters
    ----------
    part : a DPX file of one row, as wide as the picture, 10 bits, packing filled A, big-endian
    codes : (rows, columns, 3), at most 1023

    Raises
    ------
    OSError
        When it can't be written.
    """
    rows, columns, _ = codes.shape
    with part.open("r+b") as file:
        file.seek(DATA_OFFSET)
        (start,) = struct.unpack(">I", file.read(4))
        for place, value in ((FILE_SIZE, start + 4 * rows * columns), (LINES, rows)):
            file.seek(place)
            file.write(struct.pack(">I", value))
        file.seek(start)
        step = max(1, BAND // columns)
        for top in range(0, rows, step):
            file.write(_words(codes[top : top + step]).data)


def _words(codes: Codes) -> np.ndarray:
    words = np.left_shift(codes[..., 0], 22, dtype=np.uint32)
    words |= np.left_shift(codes[..., 1], 12, dtype=np.uint32)
    words |= np.left_shift(codes[..., 2], 2, dtype=np.uint32)
    return words.astype(">u4", copy=False)
