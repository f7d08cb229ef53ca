"""Image sequences: names, numbers, holes, and pictures that differ, each named."""

from fractions import Fraction
from pathlib import Path

import numpy as np
import OpenImageIO as oiio
import pytest

from tonemap.encoding import Encoding
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.measure.metadata import ContentLight, MasteringDisplay
from tonemap.media.master import open_master
from tonemap.media.oiio_output import write_codes
from tonemap.media.sequence import numberings_in, spoken_name
from tonemap.media.wishes import EncodingWishes as Wishes

PQ = Encoding("pq", "bt2020", "narrow", 10)


def write_numbers(folder, numbers, pattern="shot.{:04d}.dpx", encoding=PQ, size=(4, 6)):
    """Write pictures whose every code is 500 and their number."""
    for number in numbers:
        codes = np.full((*size, 3), 500 + number % 100, np.uint16)
        write_codes(folder / pattern.format(number), codes, encoding, overwrite=True)
    return folder


def codes_of(frames):
    return [int(frame.picture.samples[0, 0, 0]) - 500 for frame in frames]


@pytest.mark.parametrize("said", ["shot.%04d.dpx", "shot.####.dpx", "", "shot.1003.dpx"])
def test_every_way_to_name_a_sequence(tmp_path, said):
    write_numbers(tmp_path, range(1001, 1005))
    write_numbers(tmp_path, [7], "other.{:04d}.png") if said else None
    master = open_master(tmp_path / said, as_sequence=said == "shot.1003.dpx")
    facts = master.facts
    assert (facts.kind, facts.format, facts.encoding, facts.coding) == ("sequence", "DPX", PQ, "10-bit narrow R'G'B'")
    assert (facts.count, facts.first_number, facts.rows, facts.columns) == (4, 1001, 4, 6)
    frames = list(master.frames())
    assert [frame.index for frame in frames] == [0, 1, 2, 3]
    assert [frame.name for frame in frames] == [f"shot.{number}.dpx" for number in range(1001, 1005)]
    assert codes_of(frames) == [1, 2, 3, 4]
    assert codes_of(master.frames(1, 3, 2)) == [2, 4]


def test_a_single_file_is_a_still_unless_told_otherwise(tmp_path):
    write_numbers(tmp_path, range(3))
    master = open_master(tmp_path / "shot.0001.dpx")
    assert (master.facts.kind, master.count) == ("still", 1)
    (frame,) = master.frames()
    assert (frame.index, frame.name, codes_of([frame])) == (0, "shot.0001.dpx", [1])
    with pytest.raises(WrongCall) as caught:
        master.frames(0, 1)
    assert str(caught.value) == f"{tmp_path / 'shot.0001.dpx'}: there are no frames 0-1; the frames are 0-0"


@pytest.mark.parametrize(
    ("pattern", "said", "numbers"),
    [
        ("{:d}.png", "%d.png", [8, 9, 10, 11]),
        ("shot_{:03d}.png", "shot_###.png", [998, 999, 1000]),
        ("shot_{:03d}.png", "shot_%03d.png", [998, 999, 1000]),
        ("v2_take1_{:02d}.png", "v2_take1_##.png", [1, 2]),
        ("shot [a] {:02d}.png", "shot [a] ##.png", [1, 2]),
    ],
)
def test_digits_may_grow_and_names_may_have_other_numbers(tmp_path, pattern, said, numbers):
    write_numbers(tmp_path, numbers, pattern)
    for path in (tmp_path / said, tmp_path):
        master = open_master(path)
        assert codes_of(master.frames()) == [number % 100 for number in numbers]
        assert master.facts.first_number == numbers[0]


def test_holes_are_named(tmp_path):
    write_numbers(tmp_path, [1001, 1002, 1005, 1006])
    frames = list(open_master(tmp_path).frames())
    assert [(frame.index, frame.fault) for frame in frames] == [
        (0, None),
        (1, None),
        (2, f"{tmp_path / 'shot.1003.dpx'}: the frame is missing"),
        (3, f"{tmp_path / 'shot.1004.dpx'}: the frame is missing"),
        (4, None),
        (5, None),
    ]
    assert codes_of(frame for frame in frames if not frame.fault) == [1, 2, 5, 6]


def test_numbers_that_go_up_in_steps_have_no_holes(tmp_path):
    write_numbers(tmp_path, [1001, 1003, 1005])
    master = open_master(tmp_path)
    assert codes_of(master.frames()) == [1, 3, 5]
    assert (master.count, master.number(2), master.index(1005)) == (3, 1005, 2)
    assert master.facts.notices == ("the numbers go up in steps of 2",)


def test_pictures_that_differ_or_are_damaged_are_faults_and_the_rest_is_read(tmp_path):
    write_numbers(tmp_path, range(6))
    write_numbers(tmp_path, [1], size=(4, 8))
    write_numbers(tmp_path, [2], encoding=Encoding("hlg", "bt2020", "narrow", 10))
    damaged, empty = tmp_path / "shot.0003.dpx", tmp_path / "shot.0004.dpx"
    damaged.write_bytes(damaged.read_bytes()[:-40])
    empty.write_bytes(b"")
    frames = list(open_master(tmp_path).frames())
    assert [frame.fault for frame in frames] == [
        None,
        f"{tmp_path / 'shot.0001.dpx'}: the picture is 8 x 4, and the sequence 6 x 4",
        f"{tmp_path / 'shot.0002.dpx'}: the encoding is HLG (BT.2100), BT.2020, 10-bit narrow, peak 1000 cd/m², and "
        "the sequence's PQ (ST 2084), BT.2020, 10-bit narrow, peak 1000 cd/m²",
        f"{damaged}: the file is damaged or cut short; copy or export it again",
        f"{empty}: the file is empty; copy or export it again",
        None,
    ]


def test_the_first_picture_that_can_be_read_says_what_all_are(tmp_path):
    write_numbers(tmp_path, range(3))
    (tmp_path / "shot.0000.dpx").write_bytes(b"")
    master = open_master(tmp_path)
    assert [bool(frame.fault) for frame in master.frames()] == [True, False, False]
    for number in (1, 2):
        (tmp_path / f"shot.000{number}.dpx").write_bytes(b"")
    assert refusal(tmp_path) == f"{tmp_path / 'shot.0000.dpx'}: the file is empty; copy or export it again"


def refusal(path, kind=TrimbenchError, **options):
    with pytest.raises(kind) as caught:
        open_master(path, Wishes("pq", "bt2020"), **options)
    return str(caught.value)


def test_what_is_no_sequence(tmp_path):
    assert refusal(tmp_path) == f"{tmp_path}: there are no numbered pictures in this folder; name a file"
    (tmp_path / "notes.0001.txt").write_text("not a picture")
    assert refusal(tmp_path) == f"{tmp_path}: there are no numbered pictures in this folder; name a file"
    path = tmp_path / "shot.####.dpx"
    assert refusal(path) == f"{path}: there are no files of this pattern; check the name and the digits"
    path.write_bytes(b"a picture")
    assert refusal(path) == (
        f"{path}: there are no files of this pattern (a file of this very name is not meant: rename it); "
        "check the name and the digits"
    )
    path = tmp_path / "none" / "shot.####.dpx"
    assert refusal(path) == (
        f"{path.parent}: can't be read: No such file or directory; check the name and its permissions"
    )
    write_numbers(tmp_path, range(2))
    write_numbers(tmp_path, range(2), "other.{:d}.png")
    assert refusal(tmp_path) == (
        f"{tmp_path}: there are several sequences in this folder (other.#.png, shot.####.dpx); name one of them"
    )


def test_wrong_calls(tmp_path):
    path = tmp_path / "%02d.####.exr"
    assert refusal(path, WrongCall) == f"{path}: the pattern has 2 places for a number; leave one of them"
    path = tmp_path / "still.exr"
    assert refusal(path, WrongCall, as_sequence=True) == (
        f"{path}: the name has no number, so it stands for no sequence; leave out --sequence"
    )
    path = tmp_path / "a.mov"
    assert refusal(path, WrongCall, as_sequence=True) == (
        f"{path}: a movie is a sequence in itself; leave out --sequence"
    )
    path = tmp_path / "a.dpx"
    assert refusal(path, WrongCall, matrix="bt709") == (
        f"{path}: the matrix is a matter of movies, and this is none; leave out --matrix"
    )


def test_the_encoding_is_asked_for_once(tmp_path, write_png):
    for number in range(3):
        write_png(f"shot.{number}.png", np.full((2, 2, 3), 500, np.uint16))
    with pytest.raises(WrongCall) as caught:
        open_master(tmp_path)
    assert str(caught.value).startswith(f"{tmp_path / 'shot.0.png'}: the transfer function, the primaries and")
    master = open_master(tmp_path, Wishes("pq", "bt2020", "full"))
    assert master.facts.origins["transfer"] == "said by the user"
    assert [frame.fault for frame in master.frames()] == [None] * 3


@pytest.mark.parametrize(
    ("name", "attributes"),
    [("shot.0.dpx", {"dpx__FrameRate": 23.976, "dpx__TimeCode": "01:02:03:04"}), ("shot.0.exr", {})],
)
def test_rate_and_timecode_come_from_the_header(write_oiio, name, attributes):
    def setup(spec):
        if name.endswith("exr"):
            spec.attribute("FramesPerSecond", oiio.TypeDesc("rational"), (24000, 1001))
            spec.attribute("smpte:TimeCode", oiio.TypeDesc("timecode"), (0x01020304, 0))

    samples = np.zeros((2, 2, 3), np.float16 if name.endswith("exr") else np.uint16)
    path = write_oiio(name, samples, setup=setup, **attributes)
    facts = open_master(path, Wishes("pq", "bt2020", "full")).facts
    assert (facts.rate, facts.timecode) == (Fraction(24000, 1001), "01:02:03:04")


def test_mastering_display_and_content_light_of_a_png(write_png):
    chunks = [
        (b"cICP", b"\x09\x10\0\x01"),
        (b"mDCV", bytes(16) + (10_000_000).to_bytes(4, "big") + (50).to_bytes(4, "big")),
        (b"cLLI", (9_870_000).to_bytes(4, "big") + (1_234_000).to_bytes(4, "big")),
    ]
    facts = open_master(write_png("a.png", np.full((2, 2, 3), 500, np.uint16), *chunks)).facts
    assert facts.mastering_display == MasteringDisplay(maximum=1000.0, minimum=0.005)
    assert facts.content_light == ContentLight(987, 123)


@pytest.mark.parametrize(
    ("path", "name"),
    [
        ("scans/reel.####.dpx", "reel"),
        ("scans/reel_%04d.exr", "reel"),
        ("scans/####.exr", "scans"),
        ("scans/reel", "reel"),
        ("grades/night.v2.mov", "night.v2"),
        ("stills/frame.0001.tif", "frame.0001"),
    ],
)
def test_a_master_is_called_by_its_name_without_the_place_of_a_number(path, name):
    assert spoken_name(Path(path)) == name


@pytest.mark.parametrize(
    ("numbers", "digits"),
    [(("0009", "0010"), 4), (("1001", "1002"), 4), (("9", "10"), 1), (("0999", "1000"), 4), (("08", "009"), 2)],
)
def test_numbers_are_filled_up_where_they_are_as_long_as_each_other_or_begin_with_0(numbers, digits):
    (numbering,) = numberings_in(
        Path("scans"), [f"reel.{number}.dpx" for number in numbers] + ["notes.txt", "still.dpx"]
    )
    assert (numbering.before, numbering.after, numbering.digits) == ("reel.", ".dpx", digits)
