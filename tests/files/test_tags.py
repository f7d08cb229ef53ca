"""Tags of real files say what they say, and no more."""

import struct

import numpy as np
import OpenImageIO as oiio
import pytest

from tonemap.colorimetry import PRIMARIES
from tonemap.encoding import Encoding
from tonemap.errors import WrongCall
from tonemap.media.oiio import read_picture
from tonemap.media.tags import encoding_in, findings_in, note_of, primaries_of
from tonemap.media.wishes import EncodingWishes

CODES = np.arange(24, dtype=np.uint16).reshape(2, 4, 3)
LIGHT = CODES.astype(np.float32)
MASTERING = struct.pack(">8H2I", 35400, 14600, 8500, 39850, 6550, 2300, 15635, 16450, 40000000, 50)
CONTENT = struct.pack(">2I", 12340000, 2345000)


def question(path, wishes=None):
    with pytest.raises(WrongCall) as caught:
        read_picture(path, wishes)
    return str(caught.value).partition(": ")[2].partition(" not known")[0]


@pytest.mark.parametrize(
    ("cicp", "expected"),
    [
        ((9, 16, 0, 0), Encoding("pq", "bt2020", "narrow", 16)),
        ((9, 18, 0, 1), Encoding("hlg", "bt2020", "full", 16)),
        ((12, 16, 0, 1), Encoding("pq", "p3-d65", "full", 16)),
        ((1, 1, 0, 0), Encoding("bt1886", "bt709", "narrow", 16, 100.0)),
        ((9, 14, 0, 0), Encoding("bt1886", "bt2020", "narrow", 16, 100.0)),
        ((1, 13, 0, 1), Encoding("srgb", "bt709", "full", 16, 100.0)),
    ],
)
def test_png_cicp_says_transfer_primaries_and_range(write_png, cicp, expected):
    read = read_picture(write_png("cicp.png", CODES, (b"cICP", bytes(cicp))))
    assert read.picture.encoding == expected
    assert {read.origins[part] for part in ("transfer", "primaries", "signal_range")} == {"tag (PNG cICP)"}


def test_png_cicp_of_unknown_meaning_is_asked_for(write_png):
    path = write_png("cicp.png", CODES, (b"cICP", bytes((10, 17, 0, 1))))
    assert question(path) == "the transfer function and the primaries are"


def test_png_cicp_with_a_matrix_is_not_taken(write_png):
    path = write_png("cicp.png", CODES, (b"cICP", bytes((9, 16, 9, 1))))
    read = read_picture(path, EncodingWishes("hlg", "bt2020", "narrow"))
    assert read.picture.encoding == Encoding("hlg", "bt2020", "narrow", 16)
    assert read.notices == ("the cICP chunk names matrix 9, which a PNG can't have, so it was not taken",)


def test_png_mastering_display_and_content_light(write_png):
    chunks = (b"cICP", bytes((9, 16, 0, 1))), (b"mDCV", MASTERING), (b"cLLI", CONTENT)
    read = read_picture(write_png("hdr.png", CODES, *chunks))
    assert (read.picture.encoding.peak, read.picture.encoding.black) == (4000.0, 0.005)
    assert read.origins["peak"] == read.origins["black"] == "tag (mastering display)"
    assert read.notices == ("the file states MaxCLL 1234 and MaxFALL 234.5 cd/m2",)


def test_png_mastering_display_without_levels_is_not_taken(write_png):
    chunks = (b"cICP", bytes((9, 16, 0, 1))), (b"mDCV", MASTERING[:16] + bytes(8))
    read = read_picture(write_png("hdr.png", CODES, *chunks))
    assert read.picture.encoding.peak == 1000.0
    assert read.notices == ("the mDCV chunk gives a display of 0..0 cd/m2, so it was not taken",)


def test_png_srgb_chunk(write_png):
    path = write_png("srgb.png", CODES.astype(np.uint8), (b"sRGB", b"\0"))
    read = read_picture(path)
    assert read.picture.encoding == Encoding("srgb", "bt709", "full", 8, 100.0)
    assert read.origins["transfer"] == "tag (PNG sRGB)"
    # The chunk is wrong about a PQ picture, so nothing that it says is taken.
    assert question(path, EncodingWishes("pq")) == "the primaries and the signal range are"


def test_png_significant_bits(write_png):
    chunks = (b"cICP", bytes((9, 16, 0, 0))), (b"sBIT", b"\x0a\x0a\x0a")
    read = read_picture(write_png("ten.png", CODES << 6, *chunks))
    np.testing.assert_array_equal(read.picture.samples, CODES)
    assert (read.picture.encoding.bits, read.origins["bits"]) == (10, "tag (PNG sBIT)")


def test_significant_bits_that_the_codes_contradict_are_refused(write_png):
    path = write_png("ten.png", CODES, (b"cICP", bytes((9, 16, 0, 0))), (b"sBIT", b"\x0a\x0a\x0a"))
    for wishes, advice in ((None, "read all of them with --bits 16"), (EncodingWishes(bits=12), "correct --bits")):
        with pytest.raises(WrongCall) as caught:
            read_picture(path, wishes)
        bits = 12 if wishes else 10
        assert str(caught.value) == f"{path}: the file uses more than {bits} bits of its 16-bit samples; {advice}"
    read = read_picture(path, EncodingWishes(bits=16))
    np.testing.assert_array_equal(read.picture.samples, CODES)


def test_png_and_tiff_without_tags_are_asked_about(write_png, write_tiff):
    everything = "the transfer function, the primaries and the signal range are"
    assert question(write_png("plain.png", CODES)) == everything
    assert question(write_tiff("plain.tif", CODES, 8)) == everything


def test_icc_profile_is_a_notice(write_oiio):
    profile = bytearray(128)
    profile[0:4] = struct.pack(">I", 132)
    profile[8:12] = b"\x02\x10\0\0"
    profile[12:24] = b"mntrRGB XYZ "
    profile[36:40] = b"acsp"
    profile += bytes(4)

    def add_profile(spec):
        spec.attribute("ICCProfile", oiio.TypeDesc(f"uint8[{len(profile)}]"), np.frombuffer(bytes(profile), np.uint8))

    path = write_oiio("profile.tif", CODES, setup=add_profile)
    read = read_picture(path, EncodingWishes("pq", "bt2020", "full"))
    assert read.notices == ("the ICC profile in the file is not applied",)


@pytest.mark.parametrize("name", list(PRIMARIES))
def test_exr_chromaticities_name_the_primaries(write_oiio, name):
    known = PRIMARIES[name]
    numbers = tuple(value + 5e-4 for value in (*known.red, *known.green, *known.blue, *known.white))
    path = write_oiio("chroma.exr", LIGHT, chromaticities=numbers)
    read = read_picture(path, EncodingWishes("linear", unit=1.0))
    assert read.picture.encoding.primaries == name
    assert read.origins["primaries"] == "tag (EXR chromaticities)"


def test_exr_chromaticities_of_other_primaries_are_asked_about(write_oiio):
    path = write_oiio("chroma.exr", LIGHT, chromaticities=(0.7, 0.3, 0.2, 0.7, 0.1, 0.1, 0.31, 0.33))
    assert question(path) == "the transfer function and the primaries are"
    read = read_picture(path, EncodingWishes("pq", "bt2020"))
    assert read.notices == ("the EXR chromaticities are those of no primaries that Trimbench has",)


def test_chromaticities_match_within_a_thousandth():
    known = PRIMARIES["bt709"]
    numbers = [*known.red, *known.green, *known.blue, *known.white]
    assert primaries_of([numbers[0] + 0.0009, *numbers[1:]]) == "bt709"
    assert primaries_of([numbers[0] + 0.0011, *numbers[1:]]) is None


def test_exr_white_luminance_means_linear_light(write_oiio):
    known = PRIMARIES["bt2020"]
    numbers = (*known.red, *known.green, *known.blue, *known.white)
    read = read_picture(write_oiio("light.exr", LIGHT, chromaticities=numbers, whiteLuminance=100.0))
    assert read.picture.encoding == Encoding("linear", "bt2020", unit=100.0)
    assert read.origins["transfer"] == read.origins["unit"] == "tag (EXR whiteLuminance)"


def test_exr_tags_of_the_wrong_type_are_not_taken():
    findings, notices = findings_in("openexr", {"chromaticities": "709", "whiteLuminance": "bright"}, None)
    assert [finding.says for finding in findings] == [EncodingWishes()]
    assert notices == ["the EXR chromaticities are those of no primaries that Trimbench has"]
    note = {"trimbench:encoding": note_of(Encoding("linear")), "chromaticities": "709", "whiteLuminance": (1.0, 1.0)}
    assert "tag (Trimbench's encoding note)" not in [
        finding.origin for finding in findings_in("openexr", note, None)[0]
    ]


def test_exr_without_tags_is_asked_about(write_oiio):
    assert question(write_oiio("plain.exr", LIGHT)) == "the transfer function and the primaries are"


@pytest.mark.parametrize(
    ("name", "transfer", "primaries"),
    [("pq_rec2020_display", "pq", "bt2020"), ("g24_rec709_display", "bt1886", "bt709")],
)
def test_exr_colour_interop_id(write_oiio, name, transfer, primaries):
    read = read_picture(write_oiio("named.exr", LIGHT, colorInteropID=name))
    assert (read.picture.encoding.transfer, read.picture.encoding.primaries) == (transfer, primaries)
    assert read.origins["transfer"] == "tag (EXR colorInteropID)"


def test_exr_colour_interop_id_of_a_scene_is_not_taken(write_oiio):
    path = write_oiio("scene.exr", LIGHT, colorInteropID="lin_rec2020_scene")
    assert question(path) == "the transfer function and the primaries are"


@pytest.mark.parametrize(
    ("fields", "expected"),
    [
        ({"transfer": 6, "colorimetric": 6, "low": 64, "high": 940}, Encoding("bt1886", "bt709", "narrow", 10, 100.0)),
        ({"transfer": 5, "colorimetric": 5, "low": 0, "high": 1023}, Encoding("bt1886", "bt709", "full", 10, 100.0)),
    ],
)
def test_dpx_header_says_transfer_primaries_and_range(write_dpx, fields, expected):
    read = read_picture(write_dpx("tagged.dpx", CODES, 10, **fields))
    assert read.picture.encoding == expected
    assert read.origins["transfer"] == "tag (DPX header)"
    assert read.origins["signal_range"] == "tag (DPX reference codes)"


@pytest.mark.parametrize("code", [0, 4, 255])
def test_dpx_header_without_a_meaning_is_asked_about(write_dpx, code):
    path = write_dpx("plain.dpx", CODES, 10, transfer=code, colorimetric=code, low=95, high=685)
    assert question(path) == "the transfer function, the primaries and the signal range are"


def test_dpx_header_of_709_is_not_believed_about_pq(write_dpx):
    path = write_dpx("wrong.dpx", CODES, 10, transfer=6, colorimetric=6)
    assert question(path, EncodingWishes("pq")) == "the primaries and the signal range are"


def test_logarithmic_dpx_is_noticed(write_dpx):
    path = write_dpx("log.dpx", CODES, 10, transfer=3, colorimetric=1)
    read = read_picture(path, EncodingWishes("pq", "bt2020", "full"))
    assert read.notices == ("the DPX header calls the transfer 'Logarithmic', which Trimbench doesn't have",)


def test_linear_dpx_needs_a_unit(write_dpx):
    path = write_dpx("linear.dpx", CODES, 16, transfer=2, colorimetric=6, low=0, high=65535)
    assert question(path) == "the light of the value 1.0 is"


@pytest.mark.parametrize(
    "encoding",
    [
        Encoding("pq", "p3-d65", "full", 12, 4000.0, 0.0001),
        Encoding("linear", "ap1", unit=0.1 + 0.2),
        Encoding("bt1886", "bt709", "narrow", 10, 203.0, 0.05),
    ],
)
def test_encoding_note_comes_back_exactly(encoding):
    assert encoding_in(note_of(encoding)) == encoding


@pytest.mark.parametrize(
    "text",
    [None, 7, "", "a note", "Trimbench encoding:", "Trimbench encoding: transfer=pq", note_of(Encoding("pq"))[:-4]],
)
def test_other_text_is_no_encoding_note(text):
    assert encoding_in(text) is None


def test_note_that_contradicts_the_tags_is_not_taken(write_png):
    note = note_of(Encoding("pq", "bt2020", "narrow", 16))
    chunks = (b"cICP", bytes((1, 1, 0, 1))), (b"tEXt", b"Description\0" + note.encode())
    read = read_picture(write_png("edited.png", CODES, *chunks))
    assert read.picture.encoding == Encoding("bt1886", "bt709", "full", 16, 100.0)
    assert read.notices == ("Trimbench's encoding note contradicts the other tags, so it was not taken",)
