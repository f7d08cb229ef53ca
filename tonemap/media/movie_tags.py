"""What a movie's stream says of its picture: colour, range, matrix, chroma siting, mastering display, content light."""

import re
import struct
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from threading import Lock
from typing import Any

from ..encoding import CICP_MATRIX_RGB, CICP_PRIMARIES, CICP_TRANSFERS, CICP_UNSPECIFIED, Encoding
from ..errors import TrimbenchError, WrongCall, suggestion
from ..measure.metadata import ContentLight, MasteringDisplay
from ..signal_range import BIT_DEPTHS, FULL, NARROW
from .planes import MATRICES, MATRIX_TITLES, SITINGS, SUBSAMPLINGS, Coding
from .wishes import BY_FORMAT, MASTERING_DISPLAY, SAID, EncodingWishes, Finding, resolve

STREAM, FIRST_FRAME = "tag (stream)", "tag (first frame)"
STREAM_OR_CODEC = "tag (stream), or what its codec means without one"
BY_H273 = "default (H.273)"

CICP_MATRICES = {1: "bt709", 5: "bt601", 6: "bt601", 9: "bt2020"}
UNREAD_MATRICES = {10: "BT.2020 constant luminance", 14: "ICtCp"}
CICP_RESERVED = (0, CICP_UNSPECIFIED, 3)
RANGES_OF_TAG = {1: NARROW, 2: FULL}  # as the library names video_full_range_flag 0 and 1; 0 is not stated
NARROW_UNLESS_STATED = ("hevc", "h264", "prores")
"""Codecs whose own standard says so: H.265 and H.264, Annex E; SMPTE RDD 36."""

_LOG_LEVEL = Lock()


def sample_layout(path: Path, stream: Any) -> tuple[int, tuple[int, int], bool]:
    """Return bits, subsampling and whether the samples are R, G and B.

    Raises
    ------
    TrimbenchError
        For a layout that is not read.
    """
    layout = stream.codec_context.format
    parts = [part for part in layout.components if not part.is_alpha]
    bits, is_rgb = parts[0].bits, bool(layout.is_rgb) or len({part.plane for part in parts}) == 1
    columns, rows = stream.codec_context.width, stream.codec_context.height
    steps = tuple(-(-size // part) for size, part in ((columns, parts[-1].width), (rows, parts[-1].height)))
    is_read = len(parts) == 3 and not layout.is_big_endian and not layout.name.endswith("msble")
    is_read &= bits in BIT_DEPTHS and layout.name[:3] in ("yuv", "gbr", "rgb", "bgr") and not layout.has_palette
    if not is_read or not (is_rgb or steps in SUBSAMPLINGS):
        raise TrimbenchError(
            f"{path}: the samples are of the kind {layout.name}, which is not read; "
            "export Y'CbCr 4:2:0, 4:2:2 or 4:4:4, or R'G'B', of 8, 10, 12 or 16 bits"
        )
    return bits, ((1, 1) if is_rgb else steps), is_rgb


def chroma_siting(container: Any, stream: Any) -> str | None:
    """Return the stream's chroma siting, a name in `SITINGS`; None where it states none.

    The library gives it in no other way than in the text that it prints of a stream, and there only when it is told to
    print much.
    """
    from av import logging

    with _LOG_LEVEL:
        level = logging.get_level()
        logging.set_libav_level(logging.VERBOSE)
        logging.set_level(logging.VERBOSE)
        try:
            text = container.dumps_format()
        finally:
            logging.set_level(level)
            logging.set_libav_level(logging.INFO)
    line = next((line for line in text.splitlines() if f"Stream #0:{stream.index}" in line), "")
    for group in re.findall(r"\(([^()]*)\)", line):
        for word in re.split(r"[,/ ]+", group):
            if word in SITINGS:
                return word
    return None


def side_data_of(frame: Any) -> tuple[MasteringDisplay | None, ContentLight | None]:
    """Return the mastering display and the content light level that come with a frame."""
    display = content = None
    for item in frame.side_data:
        data = bytes(item)
        if item.type.name == "MASTERING_DISPLAY_METADATA":
            display = _mastering_display(data)
        elif item.type.name == "CONTENT_LIGHT_LEVEL":
            content = ContentLight(*struct.unpack_from("=II", data))
    return display, content


def _mastering_display(data: bytes) -> MasteringDisplay:
    """Read ten fractions (red, green, blue, white: x and y; least and greatest luminance), and what of them is set."""
    *numbers, has_chromaticities, has_luminance = struct.unpack_from("=22i", data)
    values = [above / below if below else 0.0 for above, below in zip(numbers[::2], numbers[1::2], strict=True)]
    display = MasteringDisplay()
    if has_chromaticities:
        red, green, blue, white = ((x, y) for x, y in zip(values[:8:2], values[1:8:2], strict=True))
        display = replace(display, red=red, green=green, blue=blue, white=white)
    if has_luminance:
        display = replace(display, minimum=values[8], maximum=values[9])
    return display


def resolved(
    path: Path,
    wishes: EncodingWishes,
    matrix: str | None,
    tags: Sequence[tuple[str, Any]],
    layout: tuple[int, tuple[int, int], bool],
    siting: str | None,
    codec: str,
    display: MasteringDisplay | None,
) -> tuple[Encoding, Coding, dict[str, str], list[str]]:
    """Make one encoding and one coding of what the user, the stream and its first frame say.

    Parameters
    ----------
    tags : pairs of an origin and of what has the library's tags (`color_primaries`, ...), the most binding first

    Returns
    -------
    encoding : of the signal that the planes give: floating point
    coding : of the planes
    origins : where each part comes from
    notices : sentences
    """
    bits, subsampling, is_rgb = layout
    if wishes.bits not in (None, bits):
        raise WrongCall(f"{path}: the stream's samples have {bits} bits; leave out --bits")
    notices = _contradictions(tags)
    findings = [_finding(origin, tag, notices) for origin, tag in tags]
    if codec in NARROW_UNLESS_STATED and not is_rgb:
        findings.append(Finding(EncodingWishes(signal_range=NARROW), BY_FORMAT))
    if display is not None and display.maximum is not None and display.minimum is not None:
        peak, black = display.maximum, display.minimum
        if 1.0 <= peak <= 10000.0 and 0.0 <= black <= 0.1 * peak:
            findings.append(Finding(EncodingWishes(peak=peak, black=black), MASTERING_DISPLAY))
        else:
            notices.append(f"the stream gives a mastering display of {black:g}..{peak:g} cd/m2, so it was not taken")
    stored, origins = resolve(path, wishes, findings, bits)
    coding = Coding(bits, stored.signal_range, None, subsampling)
    if not is_rgb:
        name, origins["matrix"] = _matrix(path, matrix, tags, stored.primaries)
        coding = replace(coding, matrix=name)
        if name != stored.primaries and stored.primaries in MATRICES:
            notices.append(
                f"the matrix is {MATRIX_TITLES[name]}, and the primaries are {MATRIX_TITLES[stored.primaries]}; "
                "--matrix corrects it where that is wrong"
            )
        if subsampling != (1, 1):
            coding = replace(coding, siting=siting or "left")
            origins["chroma siting"] = STREAM_OR_CODEC if siting else BY_H273
            if siting is None and subsampling == (2, 2):
                notices.append("the stream does not state its chroma siting; 'left' is taken, which H.273 means then")
    return replace(stored, bits=None, signal_range=FULL), coding, origins, notices


def _finding(origin: str, tag: Any, notices: list[str]) -> Finding:
    transfer, primaries = int(tag.color_trc), int(tag.color_primaries)
    for code, known, what in (
        (transfer, CICP_TRANSFERS, "transfer function"),
        (primaries, CICP_PRIMARIES, "primaries"),
    ):
        sentence = f"the stream's {what} are code {code} of H.273, which Trimbench doesn't have"
        sentence = sentence.replace(" are ", " is ") if what == "transfer function" else sentence
        if code not in known and code not in CICP_RESERVED and sentence not in notices:
            notices.append(sentence)
    says = EncodingWishes(
        CICP_TRANSFERS.get(transfer), CICP_PRIMARIES.get(primaries), RANGES_OF_TAG.get(int(tag.color_range))
    )
    return Finding(says, origin)


def _contradictions(tags: Sequence[tuple[str, Any]]) -> list[str]:
    """Say where the tags of the stream and of its first frame differ."""
    names = {
        "color_primaries": "primaries",
        "color_trc": "transfer function",
        "colorspace": "matrix",
        "color_range": "range",
    }
    (_, one), (_, other) = tags
    return [
        f"the container and the coded frames state different {name} "
        f"({int(getattr(one, tag))} and {int(getattr(other, tag))}); the container's is taken"
        for tag, name in names.items()
        if int(getattr(one, tag)) != int(getattr(other, tag))
        and not {int(getattr(one, tag)), int(getattr(other, tag))} & {0 if tag == "color_range" else 2}
    ]


def _matrix(path: Path, wish: str | None, tags: Sequence[tuple[str, Any]], primaries: str) -> tuple[str, str]:
    """Return the Y'CbCr matrix, and where it is known from."""
    if wish is not None:
        if wish not in MATRICES:
            raise WrongCall(f"{path}: matrix '{wish}' is not known; {suggestion(wish, list(MATRICES))}")
        return wish, SAID
    for origin, tag in tags:
        code = int(tag.colorspace)
        if code in CICP_MATRICES:
            return CICP_MATRICES[code], origin
        if code not in (CICP_MATRIX_RGB, CICP_UNSPECIFIED, 3):
            title = UNREAD_MATRICES.get(code, f"code {code} of H.273")
            raise TrimbenchError(
                f"{path}: the picture is coded as {title}, which is not read; export it as Y'CbCr or R'G'B'"
            )
    if primaries in MATRICES:
        return primaries, f"default (the matrix that belongs to the primaries {primaries})"
    raise WrongCall(f"{path}: the matrix is not known from the file; say it with --matrix ({', '.join(MATRICES)})")
