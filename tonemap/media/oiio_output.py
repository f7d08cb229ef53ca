"""Stills written by OpenImageIO, with the tags of their encoding; whole or not at all."""

import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from ..arrays import Array, Codes, Words
from ..encoding import Encoding
from ..errors import TrimbenchError, WrongCall
from ..measure.metadata import HdrMetadata
from ..picture import Picture
from ..signal_range import FULL
from ..timecode import is_drop
from .dpx import WORD, put_words, words_of
from .png import retag
from .tags import NOTE_ATTRIBUTES, attributes_for, note_of
from .whole_file import whole_file

CODE_FORMATS = {".dpx": "dpx", ".png": "png", ".tif": "tiff", ".tiff": "tiff"}
SIGNAL_FORMATS = {".exr": "openexr"}
HDR_FORMATS = (".png",)
"""Endings of files that take light levels and a mastering display."""
DPX_NAME, DPX_NAME_LENGTH = 36, 100  # bytes
TIMECODE = "smpte:TimeCode"
WRITER_OPTIONS: dict[str, dict[str, Any]] = {
    "tiff": {"compression": "lzw"},
    "png": {"png:compressionLevel": 3},
    "dpx": {"oiio:Endian": "big"},
}
"""Measured on a noisy 10-bit frame: LZW is ten times as fast as OpenImageIO's default for TIFF, and no larger."""


def write_codes(
    path: str | Path,
    codes: Codes,
    encoding: Encoding,
    overwrite: bool = False,
    *,
    timecode: str | None = None,
    rate: Fraction | None = None,
    metadata: HdrMetadata | None = None,
) -> None:
    """Write code values as DPX, PNG or TIFF, tagged with their encoding.

    8, 10, 12 and 16 bits are stored as such in DPX. PNG and TIFF have 8 and 16 bits: 10- and 12-bit codes lie in the
    high bits of 16, below them zeros in narrow range (so that the 16-bit codes mean the same by BT.2100) and the code
    repeated in full range (so that white is 65535); the number of significant bits is recorded.

    Parameters
    ----------
    path : the ending says the format: .dpx, .png, .tif, .tiff
    codes : ndarray of uint16 (rows, columns, 3), in the encoding's bits
    overwrite : whether an existing file may be replaced
    timecode, rate : of the frame, where they are known; written to DPX
    metadata : of an HDR picture; written to PNG

    Raises
    ------
    WrongCall
        For another ending.
    TrimbenchError
        If the codes don't fit the encoding, if the file exists, or if it can't be written; nothing is left behind.
    """
    path = Path(path)
    file_format = _format_for(path, CODE_FORMATS, "code values")
    bits = Picture(codes, encoding).encoding.bits
    if bits is None or int(codes.max()) >> bits:
        raise TrimbenchError(f"{path}: the samples are not codes of {encoding.title}")
    if file_format == "dpx":
        _write_dpx(path, words_of(codes) if bits == 10 else _widened(codes, bits), encoding, overwrite, timecode, rate)
        return
    stored = _widened(codes, bits)
    if encoding.signal_range == FULL and 8 < bits < 16:
        stored |= codes >> (2 * bits - 16)
    _write(path, file_format, stored, encoding, {}, overwrite, metadata)


def write_words(
    path: str | Path,
    words: Words,
    encoding: Encoding,
    overwrite: bool = False,
    *,
    timecode: str | None = None,
    rate: Fraction | None = None,
) -> None:
    """Write words of 10-bit codes as DPX: the same file that `write_codes` makes of the codes in them.

    Raises
    ------
    TrimbenchError
        If the encoding has no 10 bits, if the file exists, or if it can't be written; nothing is left behind.
    """
    if words.dtype != WORD or encoding.bits != 10:
        raise TrimbenchError(f"{path}: the samples are not words of {encoding.title}")
    _write_dpx(Path(path), words, encoding, overwrite, timecode, rate)


def _widened(codes: Codes, bits: int) -> Any:
    """Return codes as a library takes them: 8 bits in bytes, others in the high bits of 16."""
    return codes.astype(np.uint8) if bits == 8 else codes << (16 - bits)


def _write_dpx(
    path: Path, stored: Any, encoding: Encoding, overwrite: bool, timecode: str | None, rate: Fraction | None
) -> None:
    attributes = {"oiio:BitsPerSample": encoding.bits, **_place_in_time(timecode, rate, "dpx:FrameRate")}
    _write(path, "dpx", stored, encoding, attributes, overwrite)


def write_signal(
    path: str | Path,
    signal: Array,
    encoding: Encoding,
    overwrite: bool = False,
    *,
    timecode: str | None = None,
    rate: Fraction | None = None,
) -> None:
    """Write floating-point samples as EXR (float32), tagged with their encoding.

    Parameters
    ----------
    path : must end in .exr
    signal : ndarray (rows, columns, 3); R'G'B' signal, or linear values if the encoding's transfer is 'linear'
    encoding : bits and range are left out of the tags: they are not those of floating-point samples
    overwrite : whether an existing file may be replaced
    timecode, rate : of the frame, where they are known

    Raises
    ------
    WrongCall
        For another ending.
    TrimbenchError
        If the file exists, or if it can't be written; nothing is left behind.
    """
    path = Path(path)
    file_format = _format_for(path, SIGNAL_FORMATS, "floating-point samples")
    encoding = replace(encoding, bits=None, signal_range=FULL)
    samples = Picture(signal, encoding).samples.astype(np.float32)
    _write(path, file_format, samples, encoding, _place_in_time(timecode, rate, "FramesPerSecond"), overwrite)


def _place_in_time(timecode: str | None, rate: Fraction | None, rate_name: str) -> dict[str, Any]:
    """Return the attributes for a frame's timecode (SMPTE ST 12-1, as 32 bits of BCD digits and flags) and rate."""
    attributes: dict[str, Any] = {}
    if timecode is not None:
        hours, minutes, seconds, frame = (int(part) for part in re.split(r"[:;.,]", timecode))
        digits = 0
        for part in (hours, minutes, seconds, frame % 100):
            digits = digits << 8 | part // 10 << 4 | part % 10
        has_flags = rate_name == "FramesPerSecond"  # in DPX the field is digits alone
        attributes[TIMECODE] = (digits | 0x40 * (has_flags and is_drop(timecode)), 0)
    if rate is not None:
        exact = (rate.numerator, rate.denominator)
        attributes[rate_name] = exact if rate_name == "FramesPerSecond" else float(rate)
    return attributes


def _format_for(path: Path, formats: dict[str, str], things: str) -> str:
    """Return the format that the ending of the name asks for."""
    if path.suffix.lower() not in formats:
        raise WrongCall(f"{path}: {things} are written to files that end in {', '.join(formats)}; change the name")
    return formats[path.suffix.lower()]


def _write(
    path: Path,
    file_format: str,
    samples: Any,
    encoding: Encoding,
    attributes: dict[str, Any],
    overwrite: bool,
    metadata: HdrMetadata | None = None,
) -> None:
    """Write the samples, read them again to be sure, and only then give the file its name; words go as they are."""
    import OpenImageIO as oiio

    rows, columns = samples.shape[:2]
    are_words = samples.dtype == WORD
    given = np.zeros((1, columns, 3), np.uint16) if are_words else samples  # the library makes the header of words
    spec = oiio.ImageSpec(columns, len(given), 3, given.dtype.name if given.dtype != np.float32 else "float")
    spec.full_height = rows
    attributes |= WRITER_OPTIONS.get(file_format, {}) | attributes_for(file_format, encoding)
    attributes[NOTE_ATTRIBUTES[file_format]] = note_of(encoding)
    for name, value in attributes.items():
        if name == TIMECODE:
            spec.attribute(name, oiio.TypeDesc("timecode"), value)
        elif isinstance(value, tuple):
            kind = "int" if isinstance(value[0], int) else "float"
            spec.attribute(name, oiio.TypeDesc(f"{kind}[{len(value)}]"), value)
        else:
            spec[name] = value
    with whole_file(path, overwrite) as part:
        output = oiio.ImageOutput.create(file_format)
        if output is None:
            raise TrimbenchError(
                f"{path}: the OpenImageIO installed here can't write {file_format} files; install another"
            )
        is_written = output.open(str(part), spec) and output.write_image(np.ascontiguousarray(given))
        is_written = output.close() and is_written
        reason = TrimbenchError(f"{output.geterror()} {oiio.geterror()}")
        if is_written and file_format == "png":
            is_written = retag(part, encoding, metadata)
        if is_written and file_format == "dpx":
            _name_in_header(part, path.name)
        if is_written and are_words:
            put_words(part, samples)
        elif is_written:
            is_written = _holds(part, samples, encoding)
        if not is_written:
            raise TrimbenchError(
                f"{path}: could not be written whole, and nothing was kept; check the space that is left"
            ) from reason


def _name_in_header(part: Path, name: str) -> None:
    """Put the file's own name in a DPX header, SMPTE ST 268-1, field 8; the library put that of the unfinished file."""
    with part.open("r+b") as file:
        file.seek(DPX_NAME)
        file.write(name.encode("ascii", "replace")[: DPX_NAME_LENGTH - 1].ljust(DPX_NAME_LENGTH, b"\0"))


def _holds(part: Path, samples: Any, encoding: Encoding) -> bool:
    """Read a file again and compare: OpenImageIO doesn't report every failed write (PNG, TIFF)."""
    import OpenImageIO as oiio

    source = oiio.ImageInput.open(str(part))
    if source is None:
        oiio.geterror()
        return False
    found = source.read_image(0, 0, 0, 3, source.spec().format)
    has_error = source.has_error
    source.geterror()
    source.close()
    if has_error or found is None:
        return False
    if source.spec().get_int_attribute("oiio:BitsPerSample") in (10, 12):
        shift = 16 - (encoding.bits or 16)
        found, samples = found >> shift, samples >> shift
    return np.array_equal(found, samples, equal_nan=samples.dtype == np.float32)
