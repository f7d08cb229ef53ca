"""The chunks of a PNG file that OpenImageIO doesn't show on reading, or writes wrongly for HDR pictures."""

import struct
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, BinaryIO

from ..encoding import Encoding
from ..measure.metadata import CHROMATICITY_STEP, LUMINANCE_STEP, HdrMetadata
from .tags import attributes_for

SIGNATURE = b"\x89PNG\r\n\x1a\n"
KEPT = (b"IHDR", b"tEXt", b"IDAT", b"IEND")
"""What is kept of OpenImageIO's output: it adds sRGB, gAMA and cHRM chunks, which deny the cICP chunk."""


def chunks(file: BinaryIO) -> Iterator[tuple[bytes, bytes]]:
    """Yield (type, data) of each chunk, up to the first that is cut short."""
    if file.read(len(SIGNATURE)) != SIGNATURE:
        return
    while len(head := file.read(8)) == 8:
        length, kind = struct.unpack(">I4s", head)
        data = file.read(length)
        if len(data) < length or len(file.read(4)) < 4:
            return
        yield kind, data


def is_whole(path: Path) -> bool:
    """Say whether all chunks are there, with the check sums that they state; libpng would say it on the terminal."""
    with path.open("rb") as file:
        if file.read(len(SIGNATURE)) != SIGNATURE:
            return False
        while len(head := file.read(8)) == 8:
            length, kind = struct.unpack(">I4s", head)
            data, stated = file.read(length), file.read(4)
            if stated != struct.pack(">I", zlib.crc32(kind + data)):
                return False
            if kind == b"IEND":
                return True
    return False


def chunk_attributes(path: Path) -> dict[str, Any]:
    """Read the chunks that say how the samples are meant.

    Returns
    -------
    dict
        'CICP' (four code points), 'sBIT' (significant bits), 'mDCV' (peak and black in cd/m2, red, green, blue and
        white in x and y), 'cLLI' (MaxCLL, MaxFALL in cd/m2), 'sRGB' (rendering intent); only those that the file has,
        in the form that the standard gives them.

    References
    ----------
    Portable Network Graphics (PNG) Specification, third edition, W3C 2025, section 11.3.
    """
    found: dict[str, Any] = {}
    with path.open("rb") as file:
        for kind, data in chunks(file):
            if kind == b"IDAT":
                break
            if kind == b"cICP" and len(data) == 4:
                found["CICP"] = tuple(data)
            elif kind == b"sBIT" and len(data) >= 1:
                found["sBIT"] = max(data[:3])
            elif kind == b"mDCV" and len(data) == 24:
                *steps, peak, black = struct.unpack(">8H2I", data)
                points = [round(step * CHROMATICITY_STEP, 5) for step in steps]
                found["mDCV"] = (peak / 10000, black / 10000, *zip(points[::2], points[1::2], strict=True))
            elif kind == b"cLLI" and len(data) == 8:
                found["cLLI"] = tuple(level / 10000 for level in struct.unpack(">II", data))
            elif kind == b"sRGB" and len(data) == 1:
                found["sRGB"] = data[0]
    return found


def retag(path: Path, encoding: Encoding, metadata: HdrMetadata | None = None) -> bool:
    """Rewrite a PNG file with the chunks that belong to the encoding (cICP, sBIT, mDCV, cLLI), and no others.

    Returns whether the file was whole; else it is left as it is.
    """
    if not is_whole(path):
        return False
    with path.open("rb") as file:
        kept = [(kind, data) for kind, data in chunks(file) if kind in KEPT]
    added = []
    if cicp := attributes_for("png", encoding).get("CICP"):
        added.append((b"cICP", bytes(cicp)))
    if encoding.bits in (10, 12):
        added.append((b"sBIT", bytes([encoding.bits] * 3)))
    if metadata is not None:
        added += _hdr_chunks(metadata)
    header, *rest = kept
    with path.open("wb") as file:
        file.write(SIGNATURE)
        for kind, data in (header, *added, *rest):
            file.write(struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data)))
    return True


def _hdr_chunks(metadata: HdrMetadata) -> list[tuple[bytes, bytes]]:
    """Return the mastering display, where it is known whole, and the light levels; sections 11.3.2.7 and 11.3.2.8."""
    found = []
    if metadata.whole_display is not None:
        primaries, maximum, minimum = metadata.whole_display
        points = (primaries.red, primaries.green, primaries.blue, primaries.white)
        steps = [round(value / CHROMATICITY_STEP) for point in points for value in point]
        levels = [round(level / LUMINANCE_STEP) for level in (maximum, minimum)]
        found.append((b"mDCV", struct.pack(">8H2I", *steps, *levels)))
    light = metadata.content_light
    levels = [round((level or 0) / LUMINANCE_STEP) for level in (light.max_cll, light.max_fall)]
    return [*found, (b"cLLI", struct.pack(">2I", *levels))]
