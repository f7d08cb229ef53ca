"""Movies: code values, range, matrix and siting by an independent conversion; tags; exact frames; damage named."""

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from tonemap.encoding import Encoding
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.measure.metadata import ContentLight, MasteringDisplay
from tonemap.media.master import open_master
from tonemap.media.packets import ffv1_is_damaged
from tonemap.media.wishes import EncodingWishes as Wishes

PQ = Wishes("pq", "bt2020", "narrow")
ROWS, COLUMNS = 32, 48
WEIGHTS = {1: (0.2126, 0.7152, 0.0722), 6: (0.299, 0.587, 0.114), 9: (0.2627, 0.6780, 0.0593)}


def noise(rows, columns, steps=(1, 1), bits=10, seed=0, count=1):
    """Planes of random code values over the whole range of the bits."""
    random = np.random.default_rng(seed)
    kind = np.uint8 if bits == 8 else np.uint16
    small = -(-rows // steps[1]), -(-columns // steps[0])
    return [
        [random.integers(0, 2**bits, shape).astype(kind) for shape in ((rows, columns), small, small)]
        for _ in range(count)
    ]


def convert(luma, blue, red, bits, is_full, matrix):
    """Y'CbCr of full resolution to R'G'B' in float64: BT.2100-3, Tables 6 and 9, by solving for the three signals."""
    unit = 2.0 ** (bits - 8)
    if is_full:
        luma, (blue, red) = luma / (256 * unit - 1), ((c - 128 * unit) / (256 * unit - 1) for c in (blue, red))
    else:
        luma, (blue, red) = (luma / unit - 16) / 219, ((c / unit - 128) / 224 for c in (blue, red))
    r, g, b = WEIGHTS[matrix]
    to_ycbcr = np.array(
        [[r, g, b], np.array([-r, -g, 1 - b]) / (2 * (1 - b)), np.array([1 - r, -g, -b]) / (2 * (1 - r))]
    )
    return np.linalg.solve(to_ycbcr, np.stack([luma, blue, red]).reshape(3, -1)).T.reshape(*luma.shape, 3)


def spread(plane, rows, columns, steps, place):
    """Interpolate chroma to every pixel, one by one with numpy.interp, which holds the ends."""
    down = np.arange(plane.shape[0]) * steps[1] + place[1] * (steps[1] > 1)
    across = np.arange(plane.shape[1]) * steps[0] + place[0] * (steps[0] > 1)
    tall = np.stack([np.interp(np.arange(rows), down, column) for column in plane.astype(float).T], axis=1)
    return np.stack([np.interp(np.arange(columns), across, row) for row in tall])


def only(master, **which):
    (frame,) = master.frames(**which)
    return frame


@pytest.mark.parametrize("size", [(ROWS, COLUMNS), (33, 47), (6, 4), (700, 1002)], ids=str)
@pytest.mark.parametrize(
    ("pixels", "steps", "bits"),
    [
        ("yuv420p", (2, 2), 8),
        ("yuv420p10le", (2, 2), 10),
        ("yuv422p10le", (2, 1), 10),
        ("yuv422p12le", (2, 1), 12),
        ("yuv444p10le", (1, 1), 10),
        ("yuv444p16le", (1, 1), 16),
    ],
)
def test_planes_become_the_signal_of_an_independent_conversion(write_movie, pixels, steps, bits, size):
    (planes,) = noise(*size, steps, bits)
    master = open_master(write_movie("a.mkv", [planes], pixels=pixels))
    expected = convert(
        planes[0].astype(float), *(spread(plane, *size, steps, (0.0, 0.5)) for plane in planes[1:]), bits, False, 9
    )
    picture = only(master).picture
    assert picture.samples.dtype == np.float32
    assert picture.encoding == Encoding("pq", "bt2020")
    np.testing.assert_allclose(picture.samples, expected, rtol=0, atol=1.5e-6)  # 8e-7 measured: 1/1500 of a 10-bit code


@pytest.mark.parametrize("is_full", [False, True])
@pytest.mark.parametrize("matrix", [1, 6, 9])
def test_range_and_matrix_are_those_of_the_tags(write_movie, matrix, is_full):
    (planes,) = noise(ROWS, COLUMNS)
    path = write_movie("a.mkv", [planes], pixels="yuv444p10le", tags=(9, 16, matrix, 1 + is_full))
    master = open_master(path)
    expected = convert(*(plane.astype(float) for plane in planes), 10, is_full, matrix)
    np.testing.assert_allclose(only(master).picture.samples, expected, rtol=0, atol=1e-6)
    title = {1: "BT.709", 6: "BT.601", 9: "BT.2020"}[matrix]
    assert master.facts.coding == f"10-bit {'full' if is_full else 'narrow'} Y'CbCr 4:4:4, {title} matrix"
    assert master.facts.origins["matrix"] == "tag (stream)"


def test_the_users_matrix_comes_before_the_tag(write_movie):
    (planes,) = noise(ROWS, COLUMNS)
    master = open_master(write_movie("a.mkv", [planes], pixels="yuv444p10le"), matrix="bt709")
    expected = convert(*(plane.astype(float) for plane in planes), 10, False, 1)
    np.testing.assert_allclose(only(master).picture.samples, expected, rtol=0, atol=1e-6)
    assert master.facts.origins["matrix"] == "said by the user"
    assert master.facts.notices == (
        "the matrix is BT.709, and the primaries are BT.2020; --matrix corrects it where that is wrong",
    )


@pytest.mark.parametrize(
    ("codec", "pixels", "bits", "order"),
    [
        ("ffv1", "gbrp10le", 10, (2, 0, 1)),
        ("ffv1", "gbrp12le", 12, (2, 0, 1)),
        ("ffv1", "gbrp16le", 16, (2, 0, 1)),
        ("rawvideo", "rgb48le", 16, None),
        ("rawvideo", "rgba64le", 16, None),
        ("rawvideo", "bgr24", 8, None),
        ("ffv1", "bgr0", 8, None),
    ],
)
@pytest.mark.parametrize("is_full", [False, True])
def test_rgb_codes_are_scaled_and_nothing_else(write_movie, codec, pixels, bits, order, is_full):
    letters = pixels[:4].rstrip("24p8") if order is None else "rgb"
    random = np.random.default_rng(1).integers(0, 2**bits, (ROWS, 47, len(letters)))
    codes = random.astype(np.uint8 if bits == 8 else np.uint16)
    planes = [codes] if order is None else [codes[..., (order.index(k))] for k in range(3)]
    expected = codes[..., [letters.index(letter) for letter in "rgb"]].astype(float)
    master = open_master(
        write_movie("a.nut", [planes], codec, pixels, (9, 16, 0, 1 + is_full)),
        Wishes("pq", "bt2020", "full" if is_full else "narrow"),
    )
    unit = 2.0 ** (bits - 8)
    expected = expected / (2**bits - 1) if is_full else (expected / unit - 16) / 219
    np.testing.assert_allclose(only(master).picture.samples, expected, rtol=0, atol=2e-7)
    assert master.facts.coding == f"{bits}-bit {'full' if is_full else 'narrow'} R'G'B'"


@pytest.mark.parametrize(
    ("number", "name", "place"),
    [(0, "left", (0.0, 0.5)), (1, "center", (0.5, 0.5)), (2, "topleft", (0.0, 0.0)), (3, "top", (0.5, 0.0)),
     (4, "bottomleft", (0.0, 1.0)), (5, "bottom", (0.5, 1.0))],
)  # fmt: skip
def test_chroma_lies_where_the_stream_says(write_movie, number, name, place):
    # An edge of chroma at column 24 and row 16; lossless coding, so that only the siting can move it.
    luma = np.full((ROWS, COLUMNS), 500, np.uint16)
    chroma = [np.full((ROWS // 2, COLUMNS // 2), 512, np.uint16) for _ in range(2)]
    chroma[0][:, 12:] = 700
    chroma[1][8:, :] = 300
    parameters = f"log-level=none:lossless=1:chromaloc={number}"
    path = write_movie("a.mkv", [[luma, *chroma]], "libx265", options={"x265-params": parameters})
    master = open_master(path)
    assert master.facts.coding.endswith(f"chroma sited {name}")
    full = [spread(plane, ROWS, COLUMNS, (2, 2), place) for plane in chroma]
    expected = convert(luma.astype(float), *full, 10, False, 9)
    np.testing.assert_allclose(only(master).picture.samples, expected, rtol=0, atol=1e-6)


def test_left_sited_edge_by_hand(write_movie):
    # Cr steps from 512 to 736, which is +0.25; left-sited 4:2:2: even columns copy, odd columns lie halfway.
    red = np.full((2, 4), 512, np.uint16)
    red[:, 2:] = 736
    planes = [np.full((2, 8), 502, np.uint16), np.full((2, 4), 512, np.uint16), red]
    samples = only(open_master(write_movie("a.mkv", [planes], pixels="yuv422p10le"))).picture.samples
    expected = 0.5 + np.array([0, 0, 0, 0.125, 0.25, 0.25, 0.25, 0.25]) * 2 * (1 - 0.2627)
    np.testing.assert_allclose(samples[0, :, 0], expected, atol=1e-6)
    np.testing.assert_allclose(samples[0, :, 2], 0.5, atol=1e-6)


@pytest.mark.parametrize(
    ("name", "codec", "pixels", "steps", "options", "title"),
    [
        ("a.mov", "prores_ks", "yuv422p10le", (2, 1), {}, "ProRes (HQ)"),
        ("a.mxf", "dnxhd", "yuv422p10le", (2, 1), {"profile": "dnxhr_hqx"}, "DNxHD (DNXHR HQX)"),
        ("a.mp4", "libx265", "yuv420p10le", (2, 2), {"x265-params": "log-level=none:crf=4"}, "HEVC (Main 10)"),
    ],
)
def test_lossy_codecs_give_what_another_reader_of_their_planes_computes(
    write_movie, name, codec, pixels, steps, options, title
):
    rows, columns = 128, 256
    ramp = np.linspace(100, 900, columns)[np.newaxis] + np.zeros((rows, 1))
    small = ramp[:: steps[1], :: steps[0]]
    planes = [ramp, small / 2 + 250, 780 - small / 2]
    path = write_movie(name, [[plane.astype(np.uint16) for plane in planes]] * 3, codec, pixels, options=options)
    master = open_master(path, PQ, matrix="bt2020")
    assert master.facts.format == title
    with av.open(str(path)) as container:
        frame = next(container.decode(video=0))
        stored = [
            np.array(memoryview(plane), copy=True).view(np.uint16).reshape(plane.height, -1)[:, : plane.width]
            for plane in frame.planes
        ]
    for found, wanted in zip(stored, planes, strict=True):
        assert abs(found - wanted).mean() < 4  # the codec has coded this ramp and nothing else
    full = [spread(plane, rows, columns, steps, (0.0, 0.5)) for plane in stored[1:]]
    expected = convert(stored[0].astype(float), *full, 10, False, 9)
    np.testing.assert_allclose(only(master, last=0).picture.samples, expected, rtol=0, atol=1e-6)


MASTERING = "master-display=G(13250,34500)B(7500,3000)R(34000,16000)WP(15635,16450)L(40000000,50):max-cll=1234,567"


def test_mastering_display_and_content_light_are_read(write_movie):
    options = {"x265-params": f"log-level=none:{MASTERING}"}
    master = open_master(write_movie("a.mkv", noise(ROWS, COLUMNS, (2, 2)), "libx265", options=options))
    assert master.facts.mastering_display == MasteringDisplay(
        (0.68, 0.32), (0.265, 0.69), (0.15, 0.06), (0.3127, 0.329), 4000.0, 0.005
    )
    assert master.facts.content_light == ContentLight(1234, 567)
    assert (master.encoding.peak, master.encoding.black) == (4000.0, 0.005)
    assert master.facts.origins["peak"] == "tag (mastering display)"


@pytest.mark.parametrize(
    ("name", "codec", "pixels", "options", "title"),
    [
        (
            "a.mkv", "libsvtav1", "yuv420p10le",
            {
                "preset": "12",
                "svtav1-params": "mastering-display=G(0.265,0.69)B(0.15,0.06)R(0.68,0.32)WP(0.3127,0.329)L(1000,0.0001)"
                ":content-light=987,312",
            },
            "AV1 (Main)",
        ),
        ("a.webm", "libvpx-vp9", "yuv420p", {"crf": "4"}, "VP9 (Profile 0)"),
    ],
)  # fmt: skip
def test_codecs_of_the_web_with_their_tags(write_movie, monkeypatch, name, codec, pixels, options, title):
    """The encoders' own writing of the tags, H.273; the library's encoder of VP9 has 8 bits alone."""
    monkeypatch.setenv("SVT_LOG", "0")
    bits = 8 if pixels == "yuv420p" else 10
    ramp = np.linspace(100, 900, 128)[np.newaxis] / 2 ** (10 - bits) + np.zeros((64, 1))
    planes = [ramp, *([np.full((32, 64), 2 ** (bits - 1))] * 2)]
    kind = np.uint8 if bits == 8 else np.uint16
    path = write_movie(name, [[plane.astype(kind) for plane in planes]] * 3, codec, pixels, options=options)
    master = open_master(path)
    assert (master.facts.format, master.count) == (title, 3)
    assert (master.encoding.transfer, master.encoding.primaries) == ("pq", "bt2020")
    assert master.facts.coding.startswith(f"{bits}-bit narrow Y'CbCr 4:2:0, BT.2020 matrix")
    if codec == "libsvtav1":
        assert master.facts.content_light == ContentLight(987, 312)
        assert master.facts.mastering_display.maximum == pytest.approx(1000.0, rel=1e-3)
    (frame,) = master.frames(2, 2)
    luma = frame.planes.components[0].astype(float)
    assert abs(luma - ramp).mean() < 3


def test_ten_bit_vp9_is_read_to_the_code(tmp_path):
    """The coded frames are of vpxenc 1.12 (--profile=2 --bit-depth=10 --lossless=1 --color-space=bt2020)."""
    path = tmp_path / "a.webm"
    with av.open(str(Path(__file__).with_name("vp9_profile_2.ivf"))) as source, av.open(str(path), "w") as output:
        stream = output.add_stream_from_template(source.streams.video[0])
        stream.codec_context.color_primaries, stream.codec_context.color_trc = 9, 16
        for packet in source.demux(video=0):
            if packet.size:
                packet.stream = stream
                output.mux(packet)
    master = open_master(path)
    assert (master.facts.format, master.count) == ("VP9 (Profile 2)", 3)
    assert (master.encoding.transfer, master.encoding.primaries) == ("pq", "bt2020")
    assert master.facts.coding == "10-bit narrow Y'CbCr 4:2:0, BT.2020 matrix, chroma sited left"
    row, column = np.mgrid[:32, :64]
    for number, frame in enumerate(master.frames()):
        luma = 64 + (13 * column + 7 * row + 5 * number) % 877
        blue = 400 + (3 * column + row + number) % 225
        red = 400 + (2 * column + 5 * row + 3 * number) % 225
        for plane, wanted in zip(frame.planes.components, (luma, blue[:16, :32], red[:16, :32]), strict=True):
            np.testing.assert_array_equal(plane, wanted)


@pytest.mark.parametrize("timecode", ["01:02:03:04", None])
def test_rate_and_timecode_are_kept(write_movie, timecode):
    rate = Fraction(24000, 1001)
    planes = noise(ROWS, COLUMNS, (2, 1), count=2)
    path = write_movie("a.mov", planes, "prores_ks", "yuv422p10le", rate=rate, timecode=timecode)
    facts = open_master(path).facts
    assert (facts.rate, facts.timecode) == (rate, timecode)


def test_what_is_not_tagged_is_asked_for_as_of_a_still(write_movie):
    path = write_movie("a.mkv", noise(ROWS, COLUMNS, (2, 2)), tags=None)
    with pytest.raises(WrongCall) as caught:
        open_master(path)
    assert str(caught.value) == (
        f"{path}: the transfer function, the primaries and the signal range are not known from the file; say them with "
        "--transfer (pq, hlg, bt1886, gamma2.2, gamma2.4, gamma2.6, srgb, linear), "
        "--primaries (bt709, bt2020, p3-d65, p3-dci, ap0, ap1) and --range (narrow, full)"
    )
    with pytest.raises(WrongCall) as caught:
        open_master(path, Wishes("pq", "p3-d65", "narrow"))
    assert str(caught.value) == (
        f"{path}: the matrix is not known from the file; say it with --matrix (bt709, bt601, bt2020)"
    )
    master = open_master(path, PQ)
    assert master.facts.origins["matrix"] == "default (the matrix that belongs to the primaries bt2020)"
    assert master.facts.notices == (
        "the stream does not state its chroma siting; 'left' is taken, which H.273 means then",
    )


def test_narrow_range_is_what_prores_means_without_a_tag(write_movie):
    path = write_movie("a.mov", noise(ROWS, COLUMNS, (2, 1)), "prores_ks", "yuv422p10le", tags=(9, 16, 9, 0))
    master = open_master(path)
    assert master.facts.coding.startswith("10-bit narrow")


@pytest.mark.parametrize(
    ("matrix", "words"), [(14, "ICtCp"), (10, "BT.2020 constant luminance"), (8, "code 8 of H.273")]
)
def test_other_codings_of_colour_are_refused(write_movie, matrix, words):
    path = write_movie("a.mkv", noise(ROWS, COLUMNS), pixels="yuv444p10le", tags=(9, 16, matrix, 1))
    with pytest.raises(TrimbenchError) as caught:
        open_master(path)
    assert str(caught.value) == (
        f"{path}: the picture is coded as {words}, which is not read; export it as Y'CbCr or R'G'B'"
    )


@pytest.mark.parametrize(
    ("wishes", "matrix", "sentence"),
    [
        (Wishes(bits=8), None, "the stream's samples have 10 bits; leave out --bits"),
        (Wishes(), "bt2021", "matrix 'bt2021' is not known; did you mean 'bt2020' or 'bt601'?"),
    ],
)
def test_wishes_that_cannot_be(write_movie, wishes, matrix, sentence):
    path = write_movie("a.mkv", noise(ROWS, COLUMNS, (2, 2)))
    with pytest.raises(WrongCall) as caught:
        open_master(path, wishes, matrix=matrix)
    assert str(caught.value) == f"{path}: {sentence}"


def numbered(count, rows=ROWS, columns=COLUMNS, steps=(2, 2)):
    """Frames that carry their number as the level of luma, with texture that makes the codec work."""
    frames = noise(rows, columns, steps, count=count)
    for number, planes in enumerate(frames):
        planes[0] = (100 + 12 * number + planes[0] // 128).astype(np.uint16)
        planes[1:] = [np.full_like(plane, 512) for plane in planes[1:]]
    return frames


def level(frame):
    """Read the number that a frame of `numbered` carries."""
    luma = frame.picture.samples.astype(float) @ np.array(WEIGHTS[9])
    return round((luma.mean() * 876 + 64 - 103.5) / 12)


LOSSLESS = "log-level=none:keyint=8:lossless=1"
"""Lossless, because at crf=4 the encoder's (x265's) stream of one input changes with what lies in the heap."""
CODECS = {
    "hevc.mp4": ("libx265", "yuv420p10le", (2, 2), {"x265-params": f"{LOSSLESS}:open-gop=0"}),
    "hevc.mkv": ("libx265", "yuv420p10le", (2, 2), {"x265-params": f"{LOSSLESS}:open-gop=1"}),
    "hevc.ts": ("libx265", "yuv420p10le", (2, 2), {"x265-params": f"{LOSSLESS}:open-gop=1"}),
    "ffv1.mkv": ("ffv1", "yuv420p10le", (2, 2), {"level": "3", "slicecrc": "1", "g": "6"}),
    "prores.mov": ("prores_ks", "yuv422p10le", (2, 1), {}),
}


def read_luma(path):
    """Decode a movie from its front, by PyAV alone and by one thread; returns (frames, rows, columns) code values."""
    with av.open(str(path)) as container:
        container.streams.video[0].codec_context.thread_count = 1
        return np.stack([frame.to_ndarray()[: frame.height] for frame in container.decode(video=0)])


def write_hevc(write_movie, name, frames, parameters, **rest):
    """Write lossless HEVC that carries these frames.

    One file in about 1000 of this size does not: x265 4.2 then leaves out what tells a few frames from those they are
    predicted from, which any decoder shows, and writes the same frames rightly the next time.
    """
    for _ in range(4):
        path = write_movie(name, frames, "libx265", options={"x265-params": parameters}, **rest)
        if np.array_equal(read_luma(path), [planes[0] for planes in frames]):
            return path
    raise AssertionError(f"{path}: the encoder wrote other frames than it was given, four times")


def write_numbered(write_movie, name, count=24):
    codec, pixels, steps, options = CODECS[name]
    frames = numbered(count, 64, 64, steps)
    if codec == "libx265":
        return write_hevc(write_movie, name, frames, options["x265-params"])
    return write_movie(name, frames, codec, pixels, options=options)


@pytest.mark.parametrize("name", CODECS)
@pytest.mark.parametrize(("first", "last", "step"), [(0, None, 1), (9, 9, 1), (5, 21, 4), (23, 23, 1), (0, 23, 23)])
def test_frames_are_counted_and_found_exactly(write_movie, name, first, last, step):
    master = open_master(write_numbered(write_movie, name))
    assert master.count == 24
    frames = list(master.frames(first, last, step))
    wanted = list(range(first, (23 if last is None else last) + 1, step))
    assert [frame.index for frame in frames] == wanted
    assert [level(frame) for frame in frames] == wanted
    assert [frame.name for frame in frames] == [f"frame {index}" for index in wanted]
    if name != "prores.mov":  # the others are lossless
        written = numbered(24, 64, 64)
        for frame in frames:
            for found, planes in zip(frame.planes.components, written[frame.index], strict=True):
                assert np.array_equal(found, planes)


@pytest.mark.parametrize("ending", ["mkv", "mp4", "ts"])
@pytest.mark.parametrize(
    "parameters",
    [
        "open-gop=1:bframes=4:keyint=8:min-keyint=1:b-pyramid=1:frame-threads=4",
        "open-gop=1:bframes=8:keyint=5:min-keyint=1:frame-threads=1:pools=none",
        "open-gop=0:bframes=0:keyint=30",
        "open-gop=1:bframes=3:keyint=30:scenecut=40:frame-threads=2",
    ],
)
def test_any_part_of_hevc_is_what_reading_it_from_the_front_gives(write_movie, ending, parameters):
    parameters = f"log-level=none:lossless=1:{parameters}"
    written = numbered(30, 64, 64)
    path = write_hevc(write_movie, f"a.{ending}", written, parameters, rate=Fraction(24000, 1001))
    master = open_master(path)
    assert master.count == 30
    random = np.random.default_rng(6)
    for first, last in [(23, 23), *np.sort(random.integers(0, 30, (15, 2))).tolist()]:
        frames = list(master.frames(first, last))
        assert [frame.fault for frame in frames] == [None] * (last + 1 - first)
        assert [frame.index for frame in frames] == list(range(first, last + 1))
        for frame in frames:
            assert np.array_equal(frame.planes.components[0], written[frame.index][0])


def test_frames_that_there_are_not(write_movie):
    master = open_master(write_numbered(write_movie, "prores.mov", 4))
    for which in ((0, 4), (3, 2), (-1, 2)):
        with pytest.raises(WrongCall) as caught:
            master.frames(*which)
        assert str(caught.value) == (
            f"{master.facts.path}: there are no frames {which[0]}-{which[1]}; the frames are 0-3"
        )


def packets(path):
    with av.open(str(path)) as container:
        return [(packet.pts, packet.pos, packet.size) for packet in container.demux(video=0) if packet.size]


def damaged(path, frame, zeros=False):
    """Copy a movie with the packet of one frame overwritten; the index of that frame is by time."""
    found = packets(path)
    time = sorted(packet[0] for packet in found)[frame]
    _, start, size = next(packet for packet in found if packet[0] == time)
    content = bytearray(path.read_bytes())
    first, count = (start + size // 4, size // 2) if zeros else (start + size // 2, 8)
    content[first : first + count] = bytes(count) if zeros else b"\xff" * count
    copy = path.with_name(f"damaged-{path.name}")
    copy.write_bytes(content)
    return copy


@pytest.mark.parametrize("zeros", [False, True])
def test_a_damaged_frame_of_ffv1_is_named_with_those_that_build_on_it(write_movie, zeros):
    # The library's own decoder shows the frame before in its place, and says nothing.
    path = damaged(write_numbered(write_movie, "ffv1.mkv"), 8, zeros)
    master = open_master(path)
    faults = {frame.index: frame.fault for frame in master.frames() if frame.fault}
    assert faults == {
        8: f"{path}: frame 8 can't be decoded, the file is damaged there",
        **{
            index: f"{path}: frame {index} can't be trusted, it builds on frame 8, which is damaged"
            for index in (9, 10, 11)
        },
    }
    good = [frame for frame in master.frames() if not frame.fault]
    assert [level(frame) for frame in good] == [frame.index for frame in good]


def test_a_damaged_frame_of_prores_is_named_and_the_rest_is_read(write_movie):
    path = damaged(write_numbered(write_movie, "prores.mov"), 10, zeros=True)
    frames = list(open_master(path).frames())
    (fault,) = [frame for frame in frames if frame.fault]
    assert fault.index == 10
    assert fault.fault in (
        f"{path}: frame 10 is damaged", f"{path}: frame 10 can't be decoded, the file is damaged there"
    )  # fmt: skip
    with pytest.raises(TrimbenchError) as caught:
        _ = fault.picture
    assert str(caught.value) == fault.fault
    assert [level(frame) for frame in frames if not frame.fault] == [*range(10), *range(11, 24)]


@pytest.mark.parametrize("name", ["hevc.mp4", "hevc.mkv"])
def test_hevc_without_the_packet_of_a_frame_trusts_nothing_up_to_the_next_key_frame(write_movie, name):
    path = write_numbered(write_movie, name)
    found = packets(path)
    dropped = next(place for place in range(1, len(found)) if found[place][0] > found[place + 1][0])
    copy = path.with_name(f"broken-{name}")
    content = bytearray(path.read_bytes())
    _, start, size = found[dropped]
    content[start + 4 : start + size] = b"\xff" * (size - 4)
    copy.write_bytes(content)
    master = open_master(copy)
    frames = list(master.frames())
    assert [frame.index for frame in frames] == list(range(24))
    faults = [frame.index for frame in frames if frame.fault]
    times = sorted(packet[0] for packet in found)
    assert times.index(found[dropped][0]) in faults
    assert 1 < len(faults) < 16
    good = [frame for frame in frames if not frame.fault]
    assert [level(frame) for frame in good] == [frame.index for frame in good]
    assert good[-1].index == 23


def test_a_movie_cut_short_names_every_missing_frame(write_movie):
    path = write_movie(
        "a.mp4", numbered(12, 64, 64, (2, 1)), "prores_ks", "yuv422p10le", format="mov", options={"qscale": "4"},
        container_options={"movflags": "faststart"},
    )  # fmt: skip
    _, start, _ = packets(path)[7]
    path.write_bytes(path.read_bytes()[: start + 3])
    frames = list(open_master(path).frames())
    assert [level(frame) for frame in frames[:7]] == list(range(7))
    assert [frame.fault for frame in frames[8:]] == [
        f"{path}: frame {index} is missing, the file is cut short or can't be read there" for index in range(8, 12)
    ]
    assert frames[7].fault is not None


@pytest.mark.parametrize("size", [188, 192])
def test_a_transport_stream_that_ends_inside_a_packet_is_cut_short(write_movie, size):
    """Packets of 188 bytes, ISO/IEC 13818-1, 2.4.3.2; of 192, with a time stamp of four bytes before each."""
    path = write_movie(
        "a.ts", numbered(24, 64, 64, (2, 2)), "libx265", format="mpegts", options={"x265-params": "log-level=none"},
        container_options={"mpegts_m2ts_mode": str(int(size == 192))},
    )  # fmt: skip
    whole = path.read_bytes()
    assert len(whole) % size == 0
    facts = open_master(path, PQ).facts
    assert (facts.is_cut_short, [notice for notice in facts.notices if "cut" in notice]) == (False, [])
    path.write_bytes(whole[: len(whole) * 2 // 3 // size * size + 100])
    facts = open_master(path, PQ).facts
    assert facts.is_cut_short
    assert facts.notices[-1] == (
        "the file is cut short: it ends inside a packet of its transport stream; copy it again"
    )


def write_stream(write_movie, size, planes, **options):
    """Write a transport stream of HEVC, whose pictures are in another order than they are shown."""
    hevc = ":".join(["log-level=none", *(f"{name}={value}" for name, value in options.items())])
    return write_movie(
        "a.ts", planes, "libx265", format="mpegts", options={"x265-params": hevc},
        container_options={"mpegts_m2ts_mode": str(int(size == 192))},
    )  # fmt: skip


def ending_of(path):
    facts = open_master(path, PQ).facts
    return facts.is_cut_short, [notice for notice in facts.notices if "cut" in notice]


@pytest.mark.parametrize("size", [188, 192])
def test_a_transport_stream_cut_between_two_packets_says_how_many_pictures_are_missing_in_between(write_movie, size):
    """Before each picture in the order of the file; what is missing is counted from the time stamps by PyAV."""
    path = write_stream(write_movie, size, numbered(24, 64, 64, (2, 2)), bframes=4)
    times = [time for time, _, _ in packets(path)]
    step = min(np.diff(sorted(times)))
    whole = path.read_bytes()
    assert ending_of(path) == (False, [])
    heads = [whole[start + size - 188 :][1:3] for start in range(0, len(whole), size)]
    begins = (0x4000 | (0x100 if size == 188 else 0x1011)).to_bytes(2, "big")  # of a packet of the video
    video = [place for place, head in enumerate(heads) if head == begins]
    assert len(video) == 24
    found = {}
    for kept in range(8, 24):
        path.write_bytes(whole[: video[kept] * size])
        missing = (max(times[:kept]) - times[0]) // step + 1 - kept
        pictures = "1 picture is" if missing == 1 else f"{missing} pictures are"
        said = f"the file is cut short: {pictures} missing between its last ones; copy it again"
        found[missing] = ending_of(path)
        assert found[missing] == ((True, [said]) if missing else (False, []))
    assert {0, 1, 2} <= set(found)


def test_a_transport_stream_that_lacks_bytes_of_a_sound_is_cut_short(write_movie):
    """A PES packet of 306 bytes in two transport packets, by ISO/IEC 13818-1, 2.4.3.2, 2.4.3.4 and 2.4.3.6."""
    path = write_stream(write_movie, 188, numbered(8, 64, 64, (2, 2)))
    sound = b"\0\0\1\xc0" + (300).to_bytes(2, "big") + b"\x80\0\0" + 297 * b"\x55"
    one = b"\x47\x42\0\x10" + sound[:184]
    two = b"\x47\x02\0\x31" + bytes([61, 0]) + 60 * b"\xff" + sound[184:]
    assert (len(one), len(two)) == (188, 188)
    whole = path.read_bytes()
    path.write_bytes(whole + one + two)
    assert ending_of(path) == (False, [])
    path.write_bytes(whole + one)
    assert ending_of(path) == (
        True,
        ["the file is cut short: of its last packet of sound or data, 184 of 306 bytes are there; copy it again"],
    )


def test_a_transport_stream_that_is_full_to_the_end_may_be_cut(write_movie):
    """Its last picture has no length: the bytes that fill its last packet up are missing, and no decoder sees it."""
    path = write_stream(write_movie, 188, noise(128, 128, (2, 2), count=3), bframes=0, crf=10)
    whole = path.read_bytes()
    assert ending_of(path) == (False, [])
    path.write_bytes(whole[:-188])
    assert ending_of(path) == (
        False,
        [
            "whether the last picture in the file is whole is not known: it fills its packets to the end, as where a "
            "file is cut; look at it"
        ],
    )


def test_an_mxf_that_states_more_frames_than_it_has_is_cut_short(write_movie):
    frames = numbered(24, 128, 256, (2, 1))
    path = write_movie("a.mxf", frames, "dnxhd", "yuv422p10le", format="mxf", options={"profile": "dnxhr_hqx"})
    assert not open_master(path, PQ).facts.is_cut_short
    ends = [start + size for _, start, size in packets(path)]
    path.write_bytes(path.read_bytes()[: ends[15]])
    movie = open_master(path, PQ)
    assert (movie.count, movie.facts.is_cut_short) == (16, True)
    assert movie.facts.notices[-1] == (
        "the file is cut short: it says 1.00 s, and its pictures end after 0.67 s; copy it again"
    )


def refusal(path):
    with pytest.raises(TrimbenchError) as caught:
        open_master(path, PQ)
    assert caught.value.exit_status == 1
    return str(caught.value)


def test_files_that_are_no_movies(tmp_path, write_movie):
    path = tmp_path / "none.mov"
    assert refusal(path) == f"{path}: can't be read: No such file or directory; check the name and its permissions"
    path = tmp_path / "empty.mov"
    path.touch()
    assert refusal(path) == f"{path}: the file is empty; copy or export it again"
    path = tmp_path / "text.mov"
    path.write_text("This is not a movie.\n" * 1000)
    sentence = "can't be read as a movie: it is damaged, cut short or of another kind; export it again"
    assert refusal(path) == f"{path}: {sentence}"
    path = write_movie("a.mov", noise(ROWS, COLUMNS, (2, 1)), "prores_ks", "yuv422p10le")
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])  # the index of this file stands at its end
    assert refusal(path) == f"{path}: {sentence}"
    path.write_bytes(content[:-300])
    assert refusal(path) == (
        f"{path}: the video can't be decoded: its header is damaged, or it is of a kind not known here; export it again"
    )


def test_sound_without_a_picture_is_refused(tmp_path):
    path = tmp_path / "sound.mkv"
    with av.open(str(path), "w") as output:
        stream = output.add_stream("pcm_s16le", rate=48000)
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 960), np.int16), layout="mono")
        frame.rate, frame.pts = 48000, 0
        output.mux(stream.encode(frame))
        output.mux(stream.encode())
    assert refusal(path) == f"{path}: there is no video in this file; name another"


def test_an_encrypted_movie_is_refused(write_movie):
    keys = {"encryption_scheme": "cenc-aes-ctr", "encryption_key": "76" * 16, "encryption_kid": "a7" * 16}
    options = {"x265-params": "log-level=none"}
    flat = [[np.full(plane.shape, 500, np.uint16) for plane in planes] for planes in noise(64, 64, (2, 2), count=3)]
    path = write_movie("a.mp4", flat, "libx265", options=options, container_options=keys)
    assert refusal(path) == f"{path}: the movie is encrypted; export it without encryption"


def test_layouts_that_are_not_read(write_movie):
    path = write_movie("a.mkv", [[np.full((ROWS, COLUMNS), 500, np.uint16)]], pixels="gray16le", tags=None)
    assert refusal(path) == (
        f"{path}: the samples are of the kind gray16le, which is not read; "
        "export Y'CbCr 4:2:0, 4:2:2 or 4:4:4, or R'G'B', of 8, 10, 12 or 16 bits"
    )


def test_two_readings_at_once_do_not_disturb_each_other(write_movie):
    master = open_master(write_numbered(write_movie, "hevc.mp4"))
    pairs = list(zip(master.frames(0, 11), master.frames(12, 23), strict=True))
    assert [(level(one), level(other)) for one, other in pairs] == [(index, index + 12) for index in range(12)]


def test_frames_stay_true_while_later_ones_are_decoded(write_movie):
    frames = list(open_master(write_numbered(write_movie, "hevc.mp4")).frames())
    assert [level(frame) for frame in frames] == list(range(24))


def test_ffv1_without_check_sums_is_left_to_the_decoder(write_movie):
    path = write_movie("a.mkv", noise(64, 64, (2, 2)), options={"level": "3", "slicecrc": "0"})
    with av.open(str(path)) as container:
        assert ffv1_is_damaged(bytes(next(container.demux(video=0)))) is None
    assert not only(open_master(path)).fault


@pytest.mark.parametrize("name", ["hevc.mp4", "hevc.mkv", "hevc.ts"])
def test_a_movie_is_opened_by_decoding_its_first_picture_alone(write_movie, name):
    """Decoders hold a picture back until they have seen those that may be shown before it: of UHD, half a second."""
    from tonemap.media.movie import _first_frame, opened

    path = write_numbered(write_movie, name)
    with opened(path) as (container, stream):
        first = _first_frame(path, container, stream)
        taken = [packet.pts for packet in container.demux(stream)]
    with av.open(str(path)) as source:
        every = [packet.pts for packet in source.demux(video=0)]
        assert first.pts == every[0]
    assert taken == every[1:]
