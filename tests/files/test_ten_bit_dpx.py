"""Ten-bit DPX that is packed here, read by two decoders that know nothing of it, and by its own header."""

import struct
from pathlib import Path
from typing import Any

import av
import numpy as np
import OpenImageIO as oiio
import pytest

from tonemap.encoding import Encoding
from tonemap.errors import TrimbenchError
from tonemap.media.dpx import codes_of, words_in, words_of
from tonemap.media.oiio import read_picture
from tonemap.media.oiio_output import write_codes

ENCODING = Encoding("bt1886", "bt709", "narrow", 10, peak=100.0)


def random_codes(rows: int, columns: int) -> np.ndarray:
    codes = np.random.default_rng(rows).integers(0, 1024, (rows, columns, 3)).astype(np.uint16)
    codes[0, 0], codes[-1, -1] = (1023, 0, 1), (1, 1023, 512)
    return codes


@pytest.fixture(params=[(1, 1), (5, 7), (270, 481), (3, 30_000)], ids=lambda size: f"{size[1]}x{size[0]}")
def written(request, tmp_path) -> tuple[Path, np.ndarray]:
    codes = random_codes(*request.param)
    write_codes(tmp_path / "frame.dpx", codes, ENCODING)
    return tmp_path / "frame.dpx", codes


def test_openimageio_reads_the_codes(written):
    path, codes = written
    source = oiio.ImageInput.open(str(path))
    found = source.read_image(0, 0, 0, 3, "uint16")
    source.close()
    assert np.array_equal(found >> 6, codes)


def test_libav_reads_the_codes(written):
    path, codes = written
    decoder: Any = av.CodecContext.create("dpx", "r")
    (frame,) = decoder.decode(av.Packet(path.read_bytes()))
    planes = [
        np.frombuffer(plane, np.uint16).reshape(frame.height, -1)[:, : frame.width] for plane in frame.planes
    ]  # G, B, R
    assert frame.format.name == "gbrp10le"
    assert np.array_equal(np.stack([planes[2], planes[0], planes[1]], axis=-1), codes)


def test_the_header_tells_the_size_of_the_file_and_of_the_picture(written):
    """SMPTE ST 268-1:2014, fields 1, 2, 4, 19, 20, 21.6 to 21.10, 40 and 41."""
    path, codes = written
    header = path.read_bytes()[:2048]
    assert header[:4] == b"SDPX"
    start, size = struct.unpack_from(">I", header, 4)[0], struct.unpack_from(">I", header, 16)[0]
    assert size == path.stat().st_size == start + 4 * codes.shape[0] * codes.shape[1]
    assert struct.unpack_from(">II", header, 772) == (codes.shape[1], codes.shape[0])
    descriptor, _, _, bits, packing = struct.unpack_from(">BBBBH", header, 800)
    assert (descriptor, bits, packing) == (50, 10, 1)
    assert struct.unpack_from(">II", header, 1424) == (codes.shape[1], codes.shape[0])


def test_words_are_read_as_openimageio_reads_them(written):
    path, codes = written
    words = words_in(path)
    assert words is not None
    assert np.array_equal(codes_of(words), codes)
    assert np.array_equal(words_of(codes), words)
    assert np.array_equal(read_picture(path).picture.samples, codes)


@pytest.mark.parametrize(
    ("place", "form", "value"),
    [
        *((770, ">H", 2), (780, ">I", 1), (800, ">B", 51), (803, ">B", 12), (804, ">H", 2), (806, ">H", 1)),
        *((812, ">I", 4), (0, ">I", 0x58504453), (772, ">I", 0), (776, ">I", 2**32 - 1), (808, ">I", 2**32 - 1)),
    ],
)
def test_what_does_not_lie_in_words_alone_is_left_to_the_library(tmp_path, place, form, value):
    """SMPTE ST 268-1:2014: elements, sign, descriptor, bits, packing, runs, padding of lines; order, size, offset."""
    write_codes(tmp_path / "frame.dpx", random_codes(5, 7), ENCODING)
    assert words_in(tmp_path / "frame.dpx") is not None
    content = bytearray((tmp_path / "frame.dpx").read_bytes())
    struct.pack_into(form, content, place, value)
    (tmp_path / "frame.dpx").write_bytes(content)
    assert words_in(tmp_path / "frame.dpx") is None


def test_a_file_that_is_cut_short_is_said_to_be(tmp_path):
    path = tmp_path / "frame.dpx"
    write_codes(path, random_codes(50, 70), ENCODING)
    path.write_bytes(path.read_bytes()[:-4])
    assert words_in(path) is None
    with pytest.raises(TrimbenchError, match="the file is damaged or cut short; copy or export it again"):
        read_picture(path)
