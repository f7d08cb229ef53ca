"""Ten-bit pictures in DPX (SMPTE ST 268-1:2014): three codes in each big-endian 32-bit word, filled from its high bits.

A general library packs and checks such a picture ten times as slowly; the header stays the library's.
"""

import struct
from pathlib import Path

import numpy as np

from ..arrays import Codes, Words

DATA_OFFSET, FILE_SIZE, LINES = 4, 16, 776  # bytes: fields 2, 4 and 20
SHIFTS = (22, 12, 2)  # of R, G and B
WORD = np.dtype(">u4")
BAND = 1 << 16  # pixels that are packed at a time, so that they stay in a processor's cache


def words_of(codes: Codes) -> Words:
    """Return the words (rows, columns) of codes (rows, columns, 3), at most 1023."""
    rows, columns, _ = codes.shape
    words = np.empty((rows, columns), WORD)
    step = max(1, BAND // columns)
    for top in range(0, rows, step):
        packed = np.zeros_like(words[top : top + step], np.uint32)
        for channel, shift in enumerate(SHIFTS):
            packed |= np.left_shift(codes[top : top + step, :, channel], shift, dtype=np.uint32)
        words[top : top + step] = packed
    return words


def codes_of(words: Words) -> Codes:
    """Return the codes (rows, columns, 3) of words (rows, columns)."""
    codes = np.empty((*words.shape, len(SHIFTS)), np.uint16)
    for channel, shift in enumerate(SHIFTS):
        codes[..., channel] = words >> shift & 1023
    return codes


def put_words(part: Path, words: Words) -> None:
    """Put a picture into a file with the header of its first row.

    Parameters
    ----------
    part : a DPX file of one row, as wide as the picture, 10 bits, packing filled A, big-endian

    Raises
    ------
    OSError
        When it can't be written.
    """
    rows, _ = words.shape
    with part.open("r+b") as file:
        file.seek(DATA_OFFSET)
        (start,) = struct.unpack(">I", file.read(4))
        for place, value in ((FILE_SIZE, start + words.nbytes), (LINES, rows)):
            file.seek(place)
            file.write(struct.pack(">I", value))
        file.seek(start)
        file.write(np.ascontiguousarray(words).data)
