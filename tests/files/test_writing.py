"""What is written reads back the same, and other programs' readings of it are the same too."""

import itertools
import resource
import signal
import struct
import zlib
from typing import Any

import numpy as np
import OpenImageIO
import pytest

from tonemap.colorimetry import PRIMARIES
from tonemap.encoding import Encoding, sdr_target
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.media.oiio import read_picture
from tonemap.media.oiio_output import write_codes, write_signal

oiio: Any = OpenImageIO

ENCODINGS: dict[str, dict[str, Any]] = {
    "sdr": {"transfer": "bt1886", "primaries": "bt709", "peak": 203.0, "black": 0.05},
    "pq": {"transfer": "pq", "primaries": "bt2020", "peak": 4000.0, "black": 0.0001},
    "cinema": {"transfer": "gamma2.6", "primaries": "p3-d65", "peak": 48.0},
}


def every_code(bits):
    codes = np.arange(1 << bits, dtype=np.uint16).reshape(4, -1)
    return np.stack([codes, codes[::-1], codes[:, ::-1]], axis=2)


def parse_dpx(path):
    """Read header fields and code values of an RGB DPX without any library; SMPTE 268M-2003."""
    data = path.read_bytes()
    order = {b"SDPX": ">", b"XPDS": "<"}[data[:4]]
    (offset,) = struct.unpack_from(order + "I", data, 4)
    _, _, columns, rows = struct.unpack_from(order + "HHII", data, 768)
    low, _, high, _ = struct.unpack_from(order + "IfIf", data, 784)
    descriptor, transfer, colorimetric, bits = data[800:804]
    packing, _, start = struct.unpack_from(order + "HHI", data, 804)
    assert (order, descriptor, start) == (">", 50, offset)
    count = columns * 3
    lines = []
    for row in range(rows):
        if bits == 8:
            line = data[offset + row * count :][:count]
            lines.append(list(line))
        elif bits == 10:
            words = struct.unpack_from(f">{columns}I", data, offset + row * columns * 4)
            assert packing == 1
            lines.append([word >> shift & 1023 for word in words for shift in (22, 12, 2)])
        elif bits == 12:
            length = -(-count * 12 // 32)
            words = struct.unpack_from(f">{length}I", data, offset + row * length * 4)
            assert packing == 0  # packed: the first sample in the lowest bits, on into the next word
            whole = sum(word << 32 * index for index, word in enumerate(words))
            lines.append([whole >> 12 * index & 4095 for index in range(count)])
        else:
            lines.append(list(struct.unpack_from(f">{count}H", data, offset + row * count * 2)))
    codes = np.array(lines, np.uint16).reshape(rows, columns, 3)
    return codes, {"bits": bits, "transfer": transfer, "colorimetric": colorimetric, "low": low, "high": high}


def parse_png_chunks(path):
    data = path.read_bytes()
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    found, position = [], 8
    while position < len(data):
        length, kind = struct.unpack_from(">I4s", data, position)
        content = data[position + 8 : position + 8 + length]
        assert struct.unpack_from(">I", data, position + 8 + length)[0] == zlib.crc32(kind + content)
        found.append((kind, content))
        position += 12 + length
    return found


def samples_of_another_reader(path):
    """Read a 16-bit picture as a reader does that knows nothing of the encoding."""
    source = oiio.ImageInput.open(str(path))
    samples = source.read_image("uint16")
    source.close()
    return samples


@pytest.mark.parametrize("kind", list(ENCODINGS))
@pytest.mark.parametrize("signal_range", ["narrow", "full"])
@pytest.mark.parametrize("bits", [8, 10, 12, 16])
@pytest.mark.parametrize("ending", ["dpx", "png", "tif", "TIFF"])
def test_codes_and_encoding_come_back_exactly(tmp_path, ending, bits, signal_range, kind):
    encoding = Encoding(signal_range=signal_range, bits=bits, **ENCODINGS[kind])
    codes = every_code(bits)
    path = tmp_path / f"all.{ending}"
    write_codes(path, codes, encoding)
    read = read_picture(path)
    np.testing.assert_array_equal(read.picture.samples, codes)
    assert read.picture.encoding == encoding
    assert read.notices == ()
    assert [file.name for file in tmp_path.iterdir()] == [path.name]


@pytest.mark.parametrize("columns", [1, 5, 64])
@pytest.mark.parametrize("bits", [8, 10, 12, 16])
def test_dpx_codes_by_an_independent_parser(tmp_path, bits, columns):
    codes = np.resize(every_code(bits), (7, columns, 3))
    encoding = Encoding("bt1886", "bt709", "narrow", bits, 100.0)
    write_codes(tmp_path / "a.dpx", codes, encoding)
    found, header = parse_dpx(tmp_path / "a.dpx")
    np.testing.assert_array_equal(found, codes)
    low, high = 16 << (bits - 8), 235 << (bits - 8)
    assert header == {"bits": bits, "transfer": 6, "colorimetric": 6, "low": low, "high": high}


def test_every_10_bit_dpx_code_by_an_independent_parser(tmp_path):
    write_codes(tmp_path / "a.dpx", every_code(10), Encoding("pq", "bt2020", "full", 10))
    found, header = parse_dpx(tmp_path / "a.dpx")
    np.testing.assert_array_equal(found, every_code(10))
    assert header == {"bits": 10, "transfer": 0, "colorimetric": 0, "low": 0, "high": 1023}


@pytest.mark.parametrize("ending", ["png", "tif"])
@pytest.mark.parametrize("bits", [10, 12])
def test_16_bit_samples_mean_the_same_to_a_reader_that_does_not_know_the_bits(tmp_path, bits, ending):
    # Narrow: black 16 and white 235 of 8 bits, times 256 (BT.2100). Full: white is 65535.
    path = tmp_path / f"a.{ending}"
    codes = np.full((1, 1, 3), 1, np.uint16) * np.array([16, 235, 128], np.uint16) << (bits - 8)
    write_codes(path, codes, Encoding("bt1886", "bt709", "narrow", bits, 100.0))
    assert samples_of_another_reader(path).tolist() == [[[16 * 256, 235 * 256, 128 * 256]]]
    white = (1 << bits) - 1
    codes = np.array([[[0, white, white // 2]]], np.uint16)
    write_codes(path, codes, Encoding("bt1886", "bt709", "full", bits, 100.0), overwrite=True)
    black, full, half = samples_of_another_reader(path)[0, 0].tolist()
    assert (black, full) == (0, 65535)
    assert abs(half - 65535 * (white // 2) / white) < 1


@pytest.mark.parametrize(
    ("encoding", "cicp"),
    [
        (sdr_target(), b"\x01\x01\0\0"),
        (Encoding("pq", "bt2020", "full", 16), b"\x09\x10\0\x01"),
        (Encoding("hlg", "bt2020", "narrow", 10), b"\x09\x12\0\0"),
        (Encoding("gamma2.4", "bt709", "full", 8, 100.0), None),
    ],
)
def test_png_has_the_chunks_of_its_encoding_and_no_others(tmp_path, encoding, cicp):
    path = tmp_path / "a.png"
    write_codes(path, np.full((2, 3, 3), 77, np.uint16), encoding)
    chunks = parse_png_chunks(path)
    expected = {b"cICP": cicp, b"sBIT": b"\x0a\x0a\x0a" if encoding.bits == 10 else None}
    for kind, content in expected.items():
        assert [data for name, data in chunks if name == kind] == ([] if content is None else [content])
    kinds = [kind for kind, _ in chunks]
    assert kinds[0] == b"IHDR"
    assert kinds[-1] == b"IEND"
    assert set(kinds) <= {b"IHDR", b"cICP", b"sBIT", b"tEXt", b"IDAT", b"IEND"}
    assert kinds.index(b"IDAT") > max((kinds.index(kind) for kind, content in expected.items() if content), default=0)


@pytest.mark.parametrize("ending", ["dpx", "png", "tif", "exr"])
def test_sdr_carries_nothing_of_an_hdr_mastering_display(tmp_path, ending):
    path = tmp_path / f"a.{ending}"
    if ending == "exr":
        write_signal(path, np.full((2, 2, 3), 0.5), sdr_target())
    else:
        write_codes(path, np.full((2, 2, 3), 500, np.uint16), sdr_target())
    source = oiio.ImageInput.open(str(path))
    names = {attribute.name.lower() for attribute in source.spec().extra_attribs}
    source.close()
    assert not [name for name in names if "mdcv" in name or "clli" in name or "whiteluminance" in name]
    assert b"mDCV" not in path.read_bytes()
    assert b"cLLI" not in path.read_bytes()


@pytest.mark.parametrize(
    ("encoding", "name"),
    [
        (sdr_target(203.0, 0.01), "g24_rec709_display"),
        (Encoding("pq", "bt2020", peak=4000.0), "pq_rec2020_display"),
        (Encoding("gamma2.4", "bt709", peak=100.0), "g24_rec709_display"),
        (Encoding("gamma2.6", "p3-dci", peak=48.0), None),
    ],
)
def test_exr_signal_comes_back_with_its_tags(tmp_path, encoding, name):
    samples = np.random.default_rng(3).random((5, 6, 3))
    path = tmp_path / "a.exr"
    write_signal(path, samples, encoding)
    read = read_picture(path)
    np.testing.assert_array_equal(read.picture.samples, samples.astype(np.float32))
    expected = Encoding(encoding.transfer, encoding.primaries, peak=encoding.peak, black=encoding.black)
    assert read.picture.encoding == expected
    spec = oiio.ImageInput.open(str(path)).spec()
    known = PRIMARIES[encoding.primaries]
    chromaticities = (*known.red, *known.green, *known.blue, *known.white)
    np.testing.assert_allclose(spec.getattribute("chromaticities"), chromaticities, atol=1e-7)
    assert spec.getattribute("colorInteropID") == name
    assert spec.getattribute("whiteLuminance") is None


def test_exr_of_linear_light_says_its_unit(tmp_path):
    encoding = Encoding("linear", "bt2020", unit=100.0, peak=4000.0)
    path = tmp_path / "a.exr"
    write_signal(path, np.array([[[0.0, 1.5, -0.25]]]), encoding)
    assert read_picture(path).picture.encoding == encoding
    assert oiio.ImageInput.open(str(path)).spec().getattribute("whiteLuminance") == 100.0


@pytest.mark.parametrize("value", [np.nan, np.inf])
def test_exr_keeps_values_that_are_not_finite(tmp_path, value):
    write_signal(tmp_path / "a.exr", np.full((1, 2, 3), value), Encoding("linear"))
    np.testing.assert_array_equal(read_picture(tmp_path / "a.exr").picture.samples, np.full((1, 2, 3), value))


def refusal(write, path, *arguments):
    with pytest.raises(TrimbenchError) as caught:
        write(path, *arguments)
    return str(caught.value)


CODES = np.full((2, 2, 3), 500, np.uint16)


def test_unknown_endings_are_refused(tmp_path):
    for name in ("a.jpg", "a", "a.exr"):
        path = tmp_path / name
        with pytest.raises(WrongCall) as caught:
            write_codes(path, CODES, sdr_target())
        assert str(caught.value) == (
            f"{path}: code values are written to files that end in .dpx, .png, .tif, .tiff; change the name"
        )
    path = tmp_path / "a.dpx"
    with pytest.raises(WrongCall) as caught:
        write_signal(path, CODES / 1023.0, sdr_target())
    assert str(caught.value) == f"{path}: floating-point samples are written to files that end in .exr; change the name"
    assert list(tmp_path.iterdir()) == []


def test_codes_beyond_the_bits_are_refused(tmp_path):
    path = tmp_path / "a.png"
    assert refusal(write_codes, path, CODES * 3, sdr_target()) == (
        f"{path}: the samples are not codes of BT.1886, BT.709, 10-bit narrow, peak 100 cd/m²"
    )
    assert list(tmp_path.iterdir()) == []


def test_an_existing_file_is_kept_unless_told_otherwise(tmp_path):
    path = tmp_path / "a.tif"
    path.write_text("mine")
    assert refusal(write_codes, path, CODES, sdr_target()) == (
        f"{path}: the file exists; choose another name, or give --overwrite to replace it"
    )
    assert path.read_text() == "mine"
    write_codes(path, CODES, sdr_target(), overwrite=True)
    np.testing.assert_array_equal(read_picture(path).picture.samples, CODES)
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("ending", ["dpx", "png", "tif", "exr"])
def test_a_full_disk_leaves_nothing_behind(tmp_path, ending):
    path = tmp_path / f"a.{ending}"
    path.write_text("mine")
    noise = np.random.default_rng(4).integers(0, 1024, (200, 200, 3)).astype(np.uint16)
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (20000, limits[1]))
    try:
        if ending == "exr":
            sentence = refusal(write_signal, path, noise / 1023.0, sdr_target(), True)
        else:
            sentence = refusal(write_codes, path, noise, sdr_target(), True)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
        signal.signal(signal.SIGXFSZ, handler)
    assert sentence == f"{path}: " + (
        "can't be written: File too large; nothing of it is kept; choose another place, or make room"
        if ending == "dpx"  # of which the system tells itself
        else "could not be written whole, and nothing was kept; check the space that is left"
    )
    assert path.read_text() == "mine"
    assert list(tmp_path.iterdir()) == [path]


def test_a_file_that_reads_back_differently_is_not_kept(tmp_path, monkeypatch):
    path = tmp_path / "a.png"
    monkeypatch.setattr("tonemap.media.oiio_output.retag", lambda part, *_: part.write_bytes(b"\x89PNG broken"))
    assert refusal(write_codes, path, CODES, sdr_target()) == (
        f"{path}: could not be written whole, and nothing was kept; check the space that is left"
    )
    assert list(tmp_path.iterdir()) == []


def test_an_openimageio_without_a_format_says_so(tmp_path, monkeypatch):
    path = tmp_path / "a.dpx"
    monkeypatch.setattr(oiio.ImageOutput, "create", lambda name: None)
    assert refusal(write_codes, path, CODES, sdr_target()) == (
        f"{path}: the OpenImageIO installed here can't write dpx files; install another"
    )
    assert list(tmp_path.iterdir()) == []


def test_the_narrowest_pictures_are_written(tmp_path):
    for ending, bits in itertools.product(("dpx", "png", "tif"), (8, 10, 12, 16)):
        codes = np.array([[[1, 2, 3]]], np.uint16)
        path = tmp_path / f"{bits}.{ending}"
        write_codes(path, codes, Encoding("pq", "bt2020", "full", bits))
        np.testing.assert_array_equal(read_picture(path).picture.samples, codes)
