"""Makers of test pictures: files as other programs write them, made here byte by byte or by OpenImageIO."""

import struct
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import OpenImageIO
import pytest

oiio: Any = OpenImageIO


@pytest.fixture
def write_oiio(tmp_path: Path) -> Callable[..., Path]:
    """Return a function that writes a picture by OpenImageIO alone, with any attributes and channels."""

    def write(name: str, samples: Any, channels: tuple[str, ...] = (), setup: Any = None, **attributes: Any) -> Path:
        samples = np.asarray(samples)
        rows, columns, count = samples.shape
        kinds = {"float16": "half", "float32": "float", "float64": "double"}
        spec = oiio.ImageSpec(columns, rows, count, kinds.get(samples.dtype.name, samples.dtype.name))
        if channels:
            spec.channelnames = channels
        for key, value in attributes.items():
            name_of_attribute = key.replace("__", ":")
            if isinstance(value, tuple):
                spec.attribute(name_of_attribute, oiio.TypeDesc(f"float[{len(value)}]"), value)
            else:
                spec[name_of_attribute] = value
        if setup:
            setup(spec)
        path = tmp_path / name
        output = oiio.ImageOutput.create(str(path))
        assert output.open(str(path), spec), output.geterror()
        assert output.write_image(np.ascontiguousarray(samples)), output.geterror()
        assert output.close(), output.geterror()
        output.geterror()
        return path

    return write


@pytest.fixture
def write_tiff(tmp_path: Path) -> Callable[..., Path]:
    """Return a function that writes an uncompressed RGB TIFF whose samples are packed to any number of bits."""

    def write(name: str, codes: Any, bits: int) -> Path:
        codes = np.asarray(codes)
        rows, columns, _ = codes.shape
        data = b""
        for row in codes.reshape(rows, -1):
            text = "".join(f"{int(code):0{bits}b}" for code in row)
            text += "0" * (-len(text) % 8)
            data += int(text, 2).to_bytes(len(text) // 8, "big")
        tags = [
            (256, 3, 1, columns << 16),
            (257, 3, 1, rows << 16),
            (258, 3, 3, 8 + len(data)),
            (259, 3, 1, 1 << 16),
            (262, 3, 1, 2 << 16),
            (273, 4, 1, 8),
            (277, 3, 1, 3 << 16),
            (278, 3, 1, rows << 16),
            (279, 4, 1, len(data)),
        ]
        directory = b"".join(struct.pack(">HHII", *tag) for tag in tags)
        bits_of_channels = struct.pack(">3H", bits, bits, bits)
        path = tmp_path / name
        path.write_bytes(
            struct.pack(">2sHI", b"MM", 42, 8 + len(data) + 6)
            + data
            + bits_of_channels
            + struct.pack(">H", len(tags))
            + directory
            + bytes(4)
        )
        return path

    return write


@pytest.fixture
def write_dpx(tmp_path: Path) -> Callable[..., Path]:
    """Return a function that writes an RGB DPX, 10 bits filled by method A, or 12 and 16 bits in 16-bit words."""

    def write(name: str, codes: Any, bits: int, order: str = ">", **fields: int) -> Path:
        codes = np.asarray(codes).astype(np.uint32)
        header = bytearray(b"\xff" * 2048)
        header[36:768] = bytes(732)
        header[664:] = b"\xff" * (2048 - 664)
        struct.pack_into(order + "4sI8s", header, 0, b"SDPX" if order == ">" else b"XPDS", 2048, b"V1.0")
        rows, columns, _ = codes.shape
        struct.pack_into(order + "HHII", header, 768, 0, 1, columns, rows)
        low, high = fields.get("low", 0xFFFFFFFF), fields.get("high", 0xFFFFFFFF)
        struct.pack_into(order + "IIfIf", header, 780, 0, low, 0.0, high, 0.0)
        codes_of_transfer = fields.get("transfer", 255), fields.get("colorimetric", 255)
        struct.pack_into(order + "4B", header, 800, fields.get("descriptor", 50), *codes_of_transfer, bits)
        struct.pack_into(order + "HHIII", header, 804, 1, 0, 2048, 0, 0)
        if bits == 10:
            words = (codes[..., 0] << 22 | codes[..., 1] << 12 | codes[..., 2] << 2).astype(order + "u4")
        else:
            words = (codes << (16 - bits)).astype(order + "u2")
        struct.pack_into(order + "I", header, 16, 2048 + words.nbytes)
        path = tmp_path / name
        path.write_bytes(bytes(header) + words.tobytes())
        return path

    return write


@pytest.fixture
def write_png(tmp_path: Path) -> Callable[..., Path]:
    """Return a function that writes an RGB PNG with any chunks before the pixels."""

    def write(name: str, codes: Any, *chunks: tuple[bytes, bytes]) -> Path:
        codes = np.asarray(codes)
        rows, columns, _ = codes.shape
        lines = b"".join(b"\0" + row.tobytes() for row in codes.astype(">u2" if codes.dtype == np.uint16 else "u1"))
        header = struct.pack(">IIBBBBB", columns, rows, 8 * codes.dtype.itemsize, 2, 0, 0, 0)
        path = tmp_path / name
        path.write_bytes(
            b"\x89PNG\r\n\x1a\n"
            + b"".join(
                struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
                for kind, data in ((b"IHDR", header), *chunks, (b"IDAT", zlib.compress(lines)), (b"IEND", b""))
            )
        )
        return path

    return write


@pytest.fixture
def write_movie(tmp_path: Path) -> Callable[..., Path]:
    """Return a function that writes a movie by PyAV alone, from the code values of its planes.

    `frames` holds, for each frame, the planes in the order of the pixel format: Y, Cb, Cr; G, B, R for gbrp; one plane
    of (rows, columns, 3) for packed R, G, B.
    """
    import av

    def write(
        name: str,
        frames: Any,
        codec: str = "ffv1",
        pixels: str = "yuv420p10le",
        tags: tuple[int, int, int, int] | None = (9, 16, 9, 1),
        rate: Any = 24,
        options: dict[str, str] | None = None,
        timecode: str | None = None,
        **container: Any,
    ) -> Path:
        path = tmp_path / name
        with av.open(str(path), "w", **container) as output:
            stream: Any = output.add_stream(codec, rate=rate, options=options or {})
            frames = list(frames)
            stream.height, stream.width = np.asarray(frames[0][0]).shape[:2]
            stream.pix_fmt = pixels
            if timecode:
                stream.metadata["timecode"] = timecode
            for number, planes in enumerate(frames):
                frame: Any = av.VideoFrame(stream.width, stream.height, pixels)
                for plane, codes in zip(frame.planes, map(np.asarray, planes), strict=True):
                    lines = np.frombuffer(plane, codes.dtype).reshape(plane.height, -1)
                    flat = codes.reshape(codes.shape[0], -1)
                    lines[:, : flat.shape[1]] = flat
                for target in (stream.codec_context, frame) if tags else ():
                    primaries, transfer, matrix, signal_range = tags or (2, 2, 2, 0)
                    target.color_primaries, target.color_trc = primaries, transfer
                    target.colorspace, target.color_range = matrix, signal_range
                frame.pts = number
                output.mux(stream.encode(frame))
            output.mux(stream.encode())
        return path

    return write
