"""Ten-bit pictures in DPX (SMPTE ST 268-1:2014): three codes in each big-endian 32-bit word, filled from its high bits.

A general library packs and checks such a picture ten times as slowly and unpacks it at half the speed; the header, and
every other layout, stay the library's.
"""

import os
import struct
from functools import cached_property
from pathlib import Path

import numpy as np

from ..arrays import Codes, Words
from ..encoding import Encoding
from ..picture import Picture

DATA_OFFSET, FILE_SIZE, COLUMNS, LINES, ELEMENT_OFFSET = 4, 16, 772, 776, 808  # bytes: fields 2, 4, 19, 20 and 21.12
MAGIC, HEADER = b"SDPX", 816
UNDEFINED = 0xFFFFFFFF
LAYOUT = (
    (770, ">H", (1,)),  # elements: R, G and B in one
    (780, ">I", (0,)),  # they have no sign
    (800, ">B", (50,)),  # R, G, B
    (803, ">B", (10,)),
    (804, ">H", (1,)),  # filled, method A
    (806, ">H", (0,)),  # every pixel for itself, no runs
    (812, ">I", (0, UNDEFINED)),  # nothing between lines
)
"""Place, form and values of fields 18 and 21.1 to 21.13 where a picture lies in words alone."""
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
    rows, columns = words.shape
    codes = np.empty((rows, columns, len(SHIFTS)), np.uint16)
    step = max(1, BAND // columns)
    for top in range(0, rows, step):
        packed = words[top : top + step].astype(np.uint32)
        for channel, shift in enumerate(SHIFTS):
            codes[top : top + step, :, channel] = packed >> shift & 1023
    return codes


class WordsPicture(Picture):
    """A picture in words, which a card takes as they are; its samples are unpacked when they are asked for."""

    words: Words

    def __init__(self, words: Words, encoding: Encoding) -> None:
        vars(self).update(words=words, encoding=encoding)

    @cached_property
    def samples(self) -> Codes:
        """The code values, (rows, columns, 3)."""
        return codes_of(self.words)

    @property
    def rows(self) -> int:
        """Height in pixels."""
        return int(self.words.shape[0])

    @property
    def columns(self) -> int:
        """Width in pixels."""
        return int(self.words.shape[1])


def words_in(path: Path) -> Words | None:
    """Return the words of a file's picture; None where it is stored in another way, or is not all there.

    Raises
    ------
    OSError
        When it can't be read.
    """
    with path.open("rb") as file:
        header = file.read(HEADER)
        if len(header) < HEADER or header[:4] != MAGIC:
            return None
        if any(struct.unpack_from(form, header, place)[0] not in values for place, form, values in LAYOUT):
            return None
        columns, rows = struct.unpack_from(">II", header, COLUMNS)
        (start,) = struct.unpack_from(">I", header, ELEMENT_OFFSET)
        if not 0 < WORD.itemsize * rows * columns <= file.seek(0, os.SEEK_END) - start:
            return None
        file.seek(start)
        return np.fromfile(file, WORD, rows * columns).reshape(rows, columns)


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
