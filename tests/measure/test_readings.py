"""Readings of a monitor from CGATS text and CSV, good files and bad ones."""

import pytest

from tonemap.errors import TrimbenchError, WrongCall
from tonemap.measure.readings import MOST_BYTES, RGB_SCALES, read_readings

CGATS = """CGATS.17
ORIGINATOR "invented by hand"
CREATED "2026-01-31"
KEYWORD "NORMALIZED_TO_Y_100"
NORMALIZED_TO_Y_100 "NO"
NUMBER_OF_FIELDS 8
BEGIN_DATA_FORMAT
SAMPLE_ID SAMPLE_NAME RGB_R RGB_G RGB_B XYZ_X XYZ_Y XYZ_Z
END_DATA_FORMAT
NUMBER_OF_SETS 2
BEGIN_DATA
1 "full white" 100 100 100 95.05 100.00 108.90  # a remark
2 "half grey"\t50 50 50\t18.01 18.95 20.63
END_DATA
"""
CSV = """name,R,G,B,X,Y,Z,window
white,940,940,940,95.05,100,108.9,10
grey,502,502,502,18.01,18.95,20.63,10
"""


@pytest.fixture
def write(tmp_path):
    def write(text, name="readings.txt"):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write


def test_cgats_is_read_with_names_signals_and_lines(write):
    white, grey = read_readings(write(CGATS))
    assert (white.name, white.signal, white.xyz) == ("full white", (1.0, 1.0, 1.0), (95.05, 100.0, 108.9))
    assert (grey.name, grey.signal, grey.line, grey.window) == ("half grey", (0.5, 0.5, 0.5), 13, None)


def test_readings_without_names_are_called_by_their_lines(write):
    found = read_readings(write("R,G,B,X,Y,Z\n0,0,0,0.1,0.1,0.1\n100,100,100,95,100,109\n", "r.csv"), "percent")
    assert [reading.name for reading in found] == ["line 2", "line 3"]


def test_windows_line_ends_byte_order_mark_and_old_encodings_are_read(write):
    assert len(read_readings(write(b"\xef\xbb\xbf" + CGATS.replace("\n", "\r\n").encode()))) == 2
    assert read_readings(write(CGATS.replace("full white", "weiß").encode("latin-1")))[0].name == "weiß"


def test_cgats_relative_to_white_is_scaled_by_its_keyword(write):
    relative = CGATS.replace('NORMALIZED_TO_Y_100 "NO"', 'LUMINANCE_XYZ_CDM2 "190.1 200.0 217.8"')
    assert read_readings(write(relative))[0].xyz == pytest.approx((190.1, 200.0, 217.8))
    assert read_readings(write(relative), white_nits=120.0)[0].xyz[1] == pytest.approx(120.0)


def test_cgats_in_xyy_is_converted(write):
    text = CGATS.replace("XYZ_X XYZ_Y XYZ_Z", "XYY_X XYY_Y XYY_CAPY").replace(
        "95.05 100.00 108.90", "0.3127 0.3290 100"
    )
    text = text.replace("18.01 18.95 20.63", "0 0 0")
    white, black = read_readings(write(text))
    assert white.xyz == pytest.approx((95.0456, 100.0, 108.9058), abs=1e-4)
    assert black.xyz == (0.0, 0.0, 0.0)


def test_csv_is_read_in_codes_with_windows(write):
    white, grey = read_readings(write(CSV, "readings.csv"), "10-narrow")
    assert (white.signal, white.window, white.xyz[1]) == ((1.0, 1.0, 1.0), 10.0, 100.0)
    assert grey.signal == pytest.approx((0.5, 0.5, 0.5))
    assert grey.line == 3


def test_csv_with_semicolons_takes_decimal_commas_and_yxy(write):
    text = "patch;R;G;B;Y;x;y\n# cool today\n\nwhite;1;1;1;100,5;0,3127;0,3290\n"
    (white,) = read_readings(write(text, "x.csv"), "unit")
    assert white.xyz[1] == 100.5
    assert white.xyz[0] == pytest.approx(100.5 * 0.3127 / 0.3290)
    assert white.line == 4


@pytest.mark.parametrize(
    ("scale", "code"),
    [
        ("percent", 75.0),
        ("unit", 0.75),
        ("8-full", 191.25),
        ("8-narrow", 180.25),
        ("10-full", 767.25),
        ("10-narrow", 721.0),
        ("12-full", 3071.25),
        ("12-narrow", 2884.0),
    ],
)
def test_every_scale_of_rgb_gives_the_signal(write, scale, code):
    assert len(RGB_SCALES) == 8
    (found,) = read_readings(write(f"R,G,B,X,Y,Z\n{code},{code},{code},1,1,1\n", "x.csv"), scale)
    assert found.signal == pytest.approx((0.75, 0.75, 0.75))


def cut(text, old, new=""):
    assert old in text
    return text.replace(old, new)


BAD = {
    "empty": (b"", "readings.txt is empty; export the readings again"),
    "binary": (b"\x89PNG\0\0\0", "readings.txt is not text; export the readings as CGATS text or CSV in UTF-8"),
    "cut short": (
        CGATS[: CGATS.index("END_DATA\n")],
        "readings.txt ends before END_DATA; the file is cut short: export it again",
    ),
    "count": (
        cut(CGATS, "NUMBER_OF_SETS 2", "NUMBER_OF_SETS 3"),
        "readings.txt, line 14: NUMBER_OF_SETS says 3, but 2 sets are there; export it again",
    ),
    "no format": (
        cut(CGATS, "SAMPLE_ID SAMPLE_NAME RGB_R RGB_G RGB_B XYZ_X XYZ_Y XYZ_Z\n"),
        "readings.txt, line 11: data come before BEGIN_DATA_FORMAT; export it again",
    ),
    "few values": (
        cut(CGATS, "100 100 100 ", "100 100 "),
        "readings.txt, line 12: 7 values for 8 fields; repair the line",
    ),
    "open quotation": (
        cut(CGATS, '"half grey"', '"half grey'),
        "readings.txt, line 13: a quotation mark is not closed; repair the line",
    ),
    "no number": (
        cut(CGATS, "18.95", "n/a"),
        "readings.txt, line 13: XYZ_Y = 'n/a' is not a number; repair the line",
    ),
    "not finite": (
        cut(CGATS, "18.95", "nan"),
        "readings.txt, line 13: XYZ_Y = 'nan' is not a number; repair the line",
    ),
    "codes for percent": (
        cut(CGATS, "50 50 50", "502 502 502"),
        "readings.txt, line 13: RGB 502 502 502 doesn't fit 0..100 % of the signal; give the scale of the patches",
    ),
    "no RGB": (
        cut(CGATS, "RGB_R", "CMYK_C"),
        "readings.txt has no columns for the patch's RGB; name them RGB_R, RGB_G, RGB_B or R, G, B",
    ),
    "no colour": (
        cut(CGATS, "XYZ_Z", "LAB_B"),
        "readings.txt has no columns for the measured colour; name them X, Y, Z or x, y, Y",
    ),
    "no sets": (
        cut(CGATS[: CGATS.index('1 "full')] + "END_DATA\n", "NUMBER_OF_SETS 2", "NUMBER_OF_SETS 0"),
        "readings.txt holds no reading; export the measurements again",
    ),
}


@pytest.mark.parametrize(("text", "message"), BAD.values(), ids=BAD)
def test_a_bad_file_is_one_sentence(write, text, message):
    with pytest.raises(TrimbenchError) as refused:
        read_readings(write(text))
    assert str(refused.value) == message


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("R,G,B,X,Y,Z\n1,1,1,95,100\n", "x.csv, line 2: 5 values for 6 columns; repair the line"),
        ("R,G,B,X,Y,Z,window\n1,1,1,95,100,109,0\n", "x.csv, line 2: window = 0 is outside 0..100 %; repair the line"),
        ("R,G,B,x,y,Y\n1,1,1,0.3,0,90\n", "x.csv, line 2: y = 0 is no chromaticity; measure the patch again"),
    ],
    ids=["columns", "window", "chromaticity"],
)
def test_a_bad_csv_is_one_sentence(write, text, message):
    with pytest.raises(TrimbenchError) as refused:
        read_readings(write(text, "x.csv"), "unit")
    assert str(refused.value) == message


def test_nothing_is_guessed(write):
    for call, message in (
        (
            lambda: read_readings(write(CSV, "x.csv")),
            "x.csv: a CSV file doesn't say what its RGB means; say it with --rgb-scale: percent, unit, "
            "8-full, 8-narrow, 10-full, 10-narrow, 12-full, 12-narrow",
        ),
        (
            lambda: read_readings(write(cut(CGATS, 'NORMALIZED_TO_Y_100 "NO"\n'))),
            "readings.txt doesn't say how many cd/m2 its Y = 100 is; give the luminance of the white "
            "with --white, or --white 100 when the readings are in cd/m2",
        ),
        (
            lambda: read_readings(write(CSV, "x.csv"), "10-narow"),
            "RGB scale '10-narow' is not known; did you mean '10-narrow' or '12-narrow'?",
        ),
        (
            lambda: read_readings(write(CGATS), white_nits=0.0),
            "white = 0 is outside 0..10000 cd/m2; give the luminance of Y = 100",
        ),
    ):
        with pytest.raises(WrongCall) as refused:
            call()
        assert str(refused.value) == message


def test_a_missing_file_and_a_huge_one_are_one_sentence(tmp_path, write):
    with pytest.raises(TrimbenchError) as refused:
        read_readings(tmp_path / "none.txt")
    assert (
        str(refused.value) == f"{tmp_path / 'none.txt'}: No such file or directory; check the name and the permissions"
    )
    with pytest.raises(TrimbenchError) as refused:
        read_readings(write(b"a" * (MOST_BYTES + 1)))
    assert str(refused.value) == "readings.txt is larger than 16 MiB; a file of readings is small text"
