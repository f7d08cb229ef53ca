"""Stills read by OpenImageIO, with their encoding. Samples are never colour-converted."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from ..arrays import Array, Codes
from ..errors import TrimbenchError, WrongCall
from ..picture import Picture
from ..signal_range import BIT_DEPTHS
from ..trim_sheet_text import is_trim_sheet
from .channels import Channels, choose_channels, rgb_layers
from .dpx import WordsPicture, words_in
from .png import chunk_attributes, is_whole
from .tags import findings_in
from .wishes import SAID, EncodingWishes, resolve

TITLES = {"openexr": "EXR", "hdr": "Radiance HDR", "targa": "TGA", "jpeg2000": "JPEG 2000", "jpegxl": "JPEG XL"}
FALSE_FORMATS = ("null", "term")
"""OpenImageIO's readers that make up a picture instead of reading one."""

TIFF_RGB_OR_GREY = (0, 1, 2, 3)
"""Photometric interpretations (TIFF 6.0) that hold R, G and B, a palette of them, or grey."""


@dataclass(frozen=True)
class ReadPicture:
    """A picture from a file, with what a user may want to know about its reading.

    Attributes
    ----------
    picture : Picture
    file_format : 'DPX', 'EXR', ...
    origins : dict, where each part of the encoding comes from, for example {'transfer': 'said by the user'}
    channels : names of the channels that were read: three, or one that is shown as grey
    notices : sentences about what was left out, placed or assumed
    """

    picture: Picture
    file_format: str
    origins: dict[str, str]
    channels: tuple[str, ...]
    notices: tuple[str, ...]


def title_of(file_format: str) -> str:
    """Return the usual name of a format that OpenImageIO names in its own way."""
    return TITLES.get(file_format, file_format.upper())


def read_picture(path: str | Path, wishes: EncodingWishes | None = None) -> ReadPicture:
    """Read a still picture of any format that OpenImageIO reads.

    Integer samples come out as code values in their own bit depth (a 10-bit DPX as 0..1023), floating-point ones as
    float32; a data window is placed in the display window, with zeros around it.

    Parameters
    ----------
    wishes : what the user says of the encoding; it overrides the file's tags

    Returns
    -------
    ReadPicture
        With `picture.samples` of shape (rows, columns, 3).

    Raises
    ------
    TrimbenchError
        If the file can't be read, or not as R, G and B.
    WrongCall
        If the encoding can't be known from the file, or is not possible as it was said.
    """
    path = Path(path)
    wishes = wishes or EncodingWishes()
    with _opened(path) as source:
        channels, notices = _choose(path, source)
        spec, file_format = source.spec(), source.format_name()
        attributes = {attribute.name: _plain(attribute.value) for attribute in spec.extra_attribs}
        if file_format == "png":
            attributes |= chunk_attributes(path)
        stored_bits = _stored_bits(path, spec, channels)
        findings, tag_notices = findings_in(file_format, attributes, stored_bits)
        encoding, origins = resolve(path, wishes, findings, stored_bits)
        words = words_in(path) if file_format == "dpx" and encoding.bits == stored_bits else None
        samples: Any = _read_samples(path, source, channels, stored_bits) if words is None else None
    notices += [*channels.notices, *tag_notices, *_geometry_notices(spec, file_format)]
    if words is not None:
        picture: Picture = WordsPicture(words, encoding)
    else:
        if stored_bits is not None and encoding.bits != stored_bits:
            samples = _significant(path, samples, stored_bits, encoding.bits or stored_bits, origins["bits"])
        if file_format == "openexr":
            samples = _placed(path, samples, spec)
        picture = Picture(samples.repeat(3, axis=2) if samples.shape[2] == 1 else samples, encoding)
    return ReadPicture(picture, title_of(file_format), origins, channels.names, tuple(notices))


def _plain(value: Any) -> Any:
    """Return a tag's value without NumPy."""
    return tuple(value.tolist()) if isinstance(value, np.ndarray) else value


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    """Open a file with OpenImageIO, or say in one sentence why not."""
    import OpenImageIO as oiio

    try:
        if path.is_dir():
            raise TrimbenchError(f"{path}: this is a folder; name a picture file")
        with path.open("rb") as file:
            is_empty = not file.read(1)
    except OSError as error:
        raise TrimbenchError(f"{path}: can't be read: {error.strerror}; check the name and its permissions") from error
    if is_empty:
        raise TrimbenchError(f"{path}: the file is empty; copy or export it again")
    formats = dict(entry.split(":") for entry in oiio.get_string_attribute("extension_list").split(";"))
    extension = path.suffix.lower().lstrip(".")
    expected = next((name for name, extensions in formats.items() if extension in extensions.split(",")), None)
    # Raw: OpenImageIO would else convert Y'CbCr and CMYK, and multiply colour by alpha.
    wish = oiio.ImageSpec()
    wish["oiio:RawColor"] = 1
    wish["oiio:UnassociatedAlpha"] = 1
    source = oiio.ImageInput.open(str(path), wish)
    if source is None:
        kind = "a picture" if expected is None else title_of(expected)
        reason = TrimbenchError(oiio.geterror())  # taken in any case: what is left there is printed at exit
        from .master import MOVIE_ENDINGS

        if path.suffix.lower() in MOVIE_ENDINGS:
            raise WrongCall(
                f"{path}: the name is that of a movie, and a still picture is asked for; export the frame as a still"
            )
        if is_trim_sheet(path):
            raise WrongCall(f"{path}: this is a trim sheet; name the picture here, and the sheet after --sheet")
        raise TrimbenchError(
            f"{path}: can't be read as {kind}: it is damaged, cut short or of another kind; export it again"
        ) from reason
    try:
        found = source.format_name()
        if found in FALSE_FORMATS:
            raise TrimbenchError(f"{path}: this is not a picture file; name another")
        if expected not in (None, found):
            raise TrimbenchError(
                f"{path}: the file holds {title_of(found)} data; rename it to end in .{formats[found].split(',')[0]}"
            )
        yield source
    finally:
        source.close()


def _choose(path: Path, source: Any) -> tuple[Channels, list[str]]:
    """Go to the part of the file that is the picture, and choose its channels."""
    specs: list[Any] = []
    while source.seek_subimage(len(specs), 0):
        specs.append(source.spec())
    source.geterror()
    part, notices = 0, []
    if source.format_name() == "openexr" and len(specs) > 1:
        parts = [index for index, spec in enumerate(specs) if rgb_layers(spec.channelnames)]
        names = [specs[index].getattribute("oiio:subimagename") or f"part {index + 1}" for index in parts]
        if len(parts) > 1:
            raise TrimbenchError(
                f"{path}: there are several parts with R, G and B ({', '.join(names)}); "
                "save the one to be shown as a file of its own"
            )
        if parts:
            part = parts[0]
            notices.append(f"the part '{names[0]}' of {len(specs)} is shown")
    elif len(specs) > 1:
        notices.append(f"the first of {len(specs)} pictures in the file is shown")
    source.seek_subimage(part, 0)
    spec = specs[part]
    if spec.deep:
        raise TrimbenchError(f"{path}: this is a deep picture; flatten it first")
    if spec.get_int_attribute("tiff:PhotometricInterpretation", 2) not in TIFF_RGB_OR_GREY:
        raise TrimbenchError(f"{path}: the picture is not stored as R, G and B; save it as R, G and B")
    return choose_channels(path, spec.channelnames, spec.alpha_channel), notices


def _stored_bits(path: Path, spec: Any, channels: Channels) -> int | None:
    """Return the bits of a stored sample; None for floating-point samples."""
    formats = {str(spec.channelformat(index)) for index in channels.indices}
    if formats <= {"half", "float", "double"}:
        return None
    bits = spec.get_int_attribute("oiio:BitsPerSample") or 8 * spec.format.size()
    if len(formats) > 1 or not formats <= {"uint8", "uint16"} or bits not in BIT_DEPTHS:
        raise TrimbenchError(
            f"{path}: the samples are {' and '.join(sorted(formats))} of {bits} bits; "
            "save them as half, float or unsigned integers of 8, 10, 12 or 16 bits"
        )
    return bits


def _read_samples(path: Path, source: Any, channels: Channels, stored_bits: int | None) -> Any:
    """Read the chosen channels: code values in their own bit depth, or float32."""
    first, last = min(channels.indices), max(channels.indices)
    wanted = "float" if stored_bits is None else "uint8" if stored_bits == 8 else "uint16"
    if source.format_name() == "png" and not is_whole(path):
        raise TrimbenchError(f"{path}: the file is damaged or cut short; copy or export it again")
    samples = source.read_image(source.current_subimage(), 0, first, last + 1, wanted)
    # Some readers give back the part that they could read, and set the error.
    if source.has_error or samples is None:
        reason = TrimbenchError(source.geterror())
        raise TrimbenchError(f"{path}: the file is damaged or cut short; copy or export it again") from reason
    samples = samples.reshape(*samples.shape[:2], -1)
    order = [index - first for index in channels.indices]
    if order != list(range(samples.shape[2])):
        samples = samples[..., order]
    if stored_bits == 8:
        return samples.astype(np.uint16)
    if stored_bits in (10, 12):
        # The high bits are the code and the low ones its repetition or fraction (tested for all codes).
        samples >>= 16 - stored_bits
    return samples


def _significant(path: Path, codes: Any, stored: int, bits: int, origin: str) -> Codes:
    """Return the `bits` that count of codes stored in more, however they were widened: by zeros or by scaling."""
    shift = stored - bits
    narrow = codes >> shift
    by_zeros = np.array_equal(narrow << shift, codes)
    scale = (2.0**stored - 1.0) / (2.0**bits - 1.0)
    if not by_zeros and np.abs(narrow * scale - codes).max() > 1.0:
        correction = "correct --bits" if origin == SAID else f"read all of them with --bits {stored}"
        raise WrongCall(f"{path}: the file uses more than {bits} bits of its {stored}-bit samples; {correction}")
    return narrow


def _placed(path: Path, samples: Array, spec: Any) -> Array:
    """Place the data window in the display window: zeros around it, and what lies beyond is cropped."""
    rows, columns = spec.full_height, spec.full_width
    left, top = spec.x - spec.full_x, spec.y - spec.full_y
    if (left, top, columns, rows) == (0, 0, spec.width, spec.height):
        return samples
    x0, x1 = max(left, 0), min(left + spec.width, columns)
    y0, y1 = max(top, 0), min(top + spec.height, rows)
    if x0 >= x1 or y0 >= y1:
        raise TrimbenchError(f"{path}: the data window lies outside the display window; export it again")
    placed = np.zeros((rows, columns, samples.shape[2]), samples.dtype)
    placed[y0:y1, x0:x1] = samples[y0 - top : y1 - top, x0 - left : x1 - left]
    return placed


def _geometry_notices(spec: Any, file_format: str) -> list[str]:
    """Say what about the picture's geometry is not as it might be expected."""
    notices = []
    window = (spec.full_x, spec.full_y, spec.full_width, spec.full_height)
    if file_format == "openexr" and window != (spec.x, spec.y, spec.width, spec.height):
        notices.append(
            f"the data window ({spec.width} x {spec.height} at {spec.x - spec.full_x}, {spec.y - spec.full_y}) "
            f"is placed in the display window ({spec.full_width} x {spec.full_height})"
        )
    if (orientation := spec.get_int_attribute("Orientation", 1)) != 1:
        notices.append(f"the orientation tag ({orientation}) is not applied")
    aspect = spec.get_float_attribute("PixelAspectRatio", 1.0)
    if abs(aspect - 1.0) > 1e-3 and aspect > 0.0:
        notices.append(f"the pixels are not square (aspect {aspect:g}) and are shown as squares")
    return notices
