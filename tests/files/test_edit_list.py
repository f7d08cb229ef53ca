"""Edit lists: CMX 3600 as it is commonly published, and OpenTimelineIO's files; its CMX reader is the outside check."""

import re
from fractions import Fraction
from itertools import pairwise

import opentimelineio as otio
import pytest
from hypothesis import given, settings, strategies

from tonemap import TrimbenchError, WrongCall
from tonemap.edit_list import parse_edl, read_edit_list
from tonemap.timecode import frames_of

PAL = Fraction(25)
NTSC = Fraction(30000, 1001)

# Laid out by the published description of the format: event, reel, channel, edit type with the transition's length in
# frames, source in and out, record in and out; a dissolve has two lines of one number, the outgoing one empty.
PROGRAMME = """TITLE: THE LANTERN MAKER
FCM: NON-DROP FRAME

001  LAMP01   V     C        00:00:10:00 00:00:12:00 01:00:00:00 01:00:02:00
* FROM CLIP NAME:  WORKSHOP WIDE
* a remark that nobody reads
002  LAMP02   AA/V  C        00:01:00:00 00:01:04:00 01:00:02:00 01:00:06:00
* FROM CLIP NAME:  THE FLAME
003  LAMP02   V     C        00:01:04:00 00:01:04:00 01:00:06:00 01:00:06:00
003  LAMP03   V     D    024 00:05:00:00 00:05:03:00 01:00:06:00 01:00:09:00
* FROM CLIP NAME:  THE FLAME
* TO CLIP NAME:  HANDS
004  LAMP03   A     C        00:05:03:00 00:05:05:00 01:00:09:00 01:00:11:00
004  LAMP04   V     C        00:05:03:00 00:05:05:00 01:00:09:00 01:00:11:00
M2   LAMP04         050.0                00:05:03:00
005  LAMP05   V     W001 010 00:00:00:00 00:00:02:00 01:00:11:00 01:00:13:00
"""


def at(text: str, rate: Fraction = PAL, drop: bool = False) -> int:
    return frames_of(text, rate, drop)


def test_an_edl_is_read_as_shots_of_its_record_timecode():
    read = parse_edl(PROGRAMME, PAL)
    start = at("01:00:00:00")
    assert (read.title, read.timecode, read.drop) == ("THE LANTERN MAKER", "01:00:00:00", False)
    assert [(event.name, event.reel, event.clip, event.first - start, event.last - start) for event in read.events] == [
        ("1", "LAMP01", "WORKSHOP WIDE", 0, 49),
        ("2", "LAMP02", "THE FLAME", 50, 161),
        ("3", "LAMP03", "HANDS", 162, 224),
        ("4", "LAMP04", "", 225, 279),
        ("5", "LAMP05", "", 280, 324),
    ]
    assert [event.source for event in read.events] == [250, 1500, at("00:05:00:00") + 12, None, 5]
    assert read.notices == ("EDL: event 4 runs at another speed, so its source frames are not followed",)


def test_cuts_are_where_opentimelineio_puts_them():
    """Outside check: OpenTimelineIO's CMX 3600 reader; without transitions and audio, where it differs or fails."""
    left_out = ("003  ", "004  LAMP03", "005  ", "M2  ")
    cuts = "\n".join(line for line in PROGRAMME.splitlines() if not line.startswith(left_out))
    timeline = otio.adapters.read_from_string(cuts, "cmx_3600", rate=25)
    track = timeline.video_tracks()[0]
    start = timeline.global_start_time.to_frames() if timeline.global_start_time else at("01:00:00:00")
    theirs = [
        (start + place.start_time.to_frames(), place.duration.to_frames(), clip.source_range.start_time.to_frames())
        for clip in track.find_clips()
        for place in [clip.range_in_parent()]
    ]
    ours = [(event.first, event.last + 1 - event.first, event.source) for event in parse_edl(cuts, PAL).events]
    assert len(ours) == 3
    assert ours == theirs


# Layouts of the published samples of OpenTimelineIO's CMX 3600 reader (tests/sample_data), with our own shots:
# comments with and without star and space, tabs, gaps, a reel for all, FCM within an event, numbers left out.
PUBLISHED = {
    "gaps, comments without a star": """TITLE:   GAPS
FCM: NON-DROP FRAME
001  LAMP1    V     C        00:10:00:00 00:10:01:00 00:00:00:00 00:00:01:00
FROM CLIP NAME: wide
002  LAMP2    V     C        23:00:00:00 23:00:01:00 00:00:01:16 00:00:02:16
FROM CLIP NAME: flame
""",
    "tabs, no space after the star": """TITLE:   TABS
FCM: NON-DROP FRAME
001  LAMP_100 V  C\t\t01:00:04:05 01:00:05:12 00:59:53:11 00:59:54:18
*FROM CLIP NAME:  LAMP_100 (GRADE3)
*SOURCE FILE: LAMP_100.GRADE3.01
002  LAMP_100 V  C\t\t01:00:06:13 01:00:08:15 00:59:54:18 00:59:56:20
* LOC: 00:59:55:00 RED     FLAME TOO BRIGHT
* FROM CLIP NAME:  LAMP_102 (GRADE1)
""",
    "one reel for all, FCM within an event": """TITLE: ONE REEL
FCM: NON-DROP FRAME

001  AX       V     C        01:00:03:23 01:00:06:12 01:00:00:00 01:00:02:13
* FROM CLIP NAME: wide.mov

002  AX       V     C        01:00:06:00 01:00:06:00 01:00:02:13 01:00:02:13
FCM: NON-DROP FRAME
002  AX       V     D    030 01:00:33:22 01:00:35:10 01:00:02:13 01:00:04:01
EFFECTS NAME IS CROSS DISSOLVE
* FROM CLIP NAME: wide.mov
* TO CLIP NAME: flame.mov
""",
    "a wipe": """TITLE:   WIPE
FCM: NON-DROP FRAME
001  LMP V     C        01:00:04:05 01:00:04:14 01:00:00:00 01:00:00:09
* FROM CLIP NAME:  wide
002  LMP V     C        01:00:04:14 01:00:04:14 01:00:00:09 01:00:00:09
002  LMP V     W001    010 01:00:08:08 01:00:08:20 01:00:00:09 01:00:00:21
* FROM CLIP NAME:  wide
* TO CLIP NAME:  flame
003  LMP V     C        01:00:08:20 01:00:08:23 01:00:00:21 01:00:01:00
* FROM CLIP NAME:  flame
""",
    "a dissolve after a dissolve, numbers left out": """TITLE:   TWO
FCM: NON-DROP FRAME
001  LAMP010. V     C        01:00:06:18 01:00:08:00 01:04:11:17 01:04:12:23
002  LAMP010. V     C        01:00:08:18 01:00:08:18 01:04:12:23 01:04:12:23
002  LAMP020. V     D    035 01:00:06:22 01:00:10:07 01:04:12:23 01:04:16:08
* BLEND, DISSOLVE
003  LAMP020. V     C        01:00:10:07 01:00:10:07 01:04:16:08 01:04:16:08
003  LAMP030. V     D    064 01:00:06:10 01:00:09:22 01:04:16:08 01:04:19:20
* BLEND, DISSOLVE
060  LAMP050. V     C        01:00:12:06 01:00:17:21 01:04:19:20 01:04:25:11
""",
}


@pytest.mark.parametrize("text", PUBLISHED.values(), ids=PUBLISHED)
def test_published_layouts_are_read_as_opentimelineio_reads_them(text):
    """Outside check: its CMX 3600 reader. It lets a shot begin where its transition begins, we in the middle of it."""
    rate = Fraction(24)
    track = otio.adapters.read_from_string(text, "cmx_3600", rate=24).video_tracks()[0]
    events = parse_edl(text, rate).events
    start = events[0].first
    blends = {
        int(line.split()[0]): int(line.split()[4]) // 2
        for line in text.splitlines()
        if re.match(r"\d+ .* [DW]\d* ", line)
    }
    theirs = [
        (clip.range_in_parent().start_time.to_frames(), clip.source_range.start_time.to_frames())
        for clip in track.find_clips()
    ]
    ours = [(event.first - start, event.source) for event in events]
    shifts = [blends.get(int(event.name), 0) for event in events]
    assert [first - shift for (first, _), shift in zip(ours, shifts, strict=True)] == [first for first, _ in theirs]
    straight = [not shift for shift in shifts]
    assert [one for one, is_straight in zip(ours, straight, strict=True) if is_straight] == [
        one for one, is_straight in zip(theirs, straight, strict=True) if is_straight
    ]
    if "FROM CLIP NAME" in text:
        assert [event.clip for event in events] == [clip.name for clip in track.find_clips()]


@pytest.mark.parametrize("style", ["colon and FCM", "semicolon"])
def test_drop_frame_is_read_from_the_mark_or_from_fcm(style):
    """SMPTE ST 12-1: an hour of drop-frame labels has 107892 frames, a minute 1798."""
    text = (
        "TITLE: DROP\nFCM: DROP FRAME\n001  LAMP01   V     C        00:00:00:00 00:01:00:02 01:00:00:00 01:01:00:02\n"
    )
    if style == "semicolon":
        text = text.replace("FCM: DROP FRAME\n", "")
        for label in ("00:01:00:02", "01:00:00:00", "01:01:00:02", "00:00:00:00"):
            text = text.replace(label, label[:-3] + ";" + label[-2:])
    read = parse_edl(text, NTSC)
    assert read.drop
    assert read.timecode == "01:00:00;00"
    assert (read.events[0].first, read.events[0].last - read.events[0].first + 1) == (107892, 1800)


def test_drop_frame_where_there_is_none_is_said():
    read = parse_edl(PROGRAMME.replace("NON-DROP", "DROP"), PAL)
    assert read.notices[0] == "EDL: line 2: drop-frame is not heeded, there is none at 25 frames a second"


def test_fades_from_and_to_black_belong_to_their_shot():
    read = parse_edl(
        "001  BL       V     C        00:00:00:00 00:00:00:00 01:00:00:00 01:00:00:00\n"
        "001  LAMP01   V     D    025 00:00:10:00 00:00:12:00 01:00:00:00 01:00:02:00\n"
        "002  LAMP01   V     C        00:00:12:00 00:00:12:00 01:00:02:00 01:00:02:00\n"
        "002  BL       V     D    025 00:00:00:00 00:00:03:00 01:00:02:00 01:00:05:00\n"
        "003  BL       V     C        00:00:00:00 00:00:00:00 01:00:05:00 01:00:05:00\n"
        "003  LAMP02   V     D    010 00:00:20:00 00:00:21:00 01:00:05:00 01:00:06:00\n",
        PAL,
    )
    start = at("01:00:00:00")
    assert [(event.name, event.first - start, event.last - start, event.source) for event in read.events] == [
        ("1", 0, 74, 250), ("3", 125, 149, 500),
    ]  # fmt: skip


def test_a_cut_to_black_and_a_fade_in_right_after_it_do_not_move_the_cut():
    read = parse_edl(
        "001  LAMP01   V     C        00:00:10:00 00:00:12:00 01:00:00:00 01:00:02:00\n"
        "002  BL       V     C        00:00:00:00 00:00:00:00 01:00:02:00 01:00:02:00\n"
        "002  LAMP02   V     D    024 00:00:20:00 00:00:22:00 01:00:02:00 01:00:04:00\n",
        PAL,
    )
    assert [(event.last - event.first + 1, event.source) for event in read.events] == [(50, 250), (50, 500)]


def test_a_number_that_comes_again_makes_another_name_and_layers_are_said():
    read = parse_edl(
        "001  A1       V     C        00:00:10:00 00:00:12:00 01:00:00:00 01:00:02:00\n"
        "001  A2       V     C        00:00:10:00 00:00:12:00 01:00:02:00 01:00:04:00\n"
        "002  A3       V2    C        00:00:10:00 00:00:12:00 01:00:02:00 01:00:04:00\n"
        "003  A3       K     C        00:00:10:00 00:00:12:00 01:00:02:00 01:00:04:00\n",
        PAL,
    )
    assert [event.name for event in read.events] == ["1", "1-2"]
    assert read.notices == ("EDL: only the lowest layer is read, not V2",)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (
            "TITLE: X\n001  LAMP01 V C 00:00:10:00 00:00:12:00 01:00:00:00",
            "EDL: line 2: the event is not understood; it needs number, reel, channel, edit type and four timecodes",
        ),
        (
            "001  LAMP01 V C 00:00:10:25 00:00:12:00 01:00:00:00 01:00:02:00",
            "EDL: line 1: timecode '00:00:10:25' does not exist at 25 frames a second; it runs to 23:59:59:24",
        ),
        (
            "001  LAMP01 V C 00:00:10:00 00:00:12:00 01:00:02:00 01:00:00:00",
            "EDL: line 1: the record out 01:00:00:00 lies before the in 01:00:02:00; correct it",
        ),
        (
            "001  LAMP01 V D 00:00:10:00 00:00:12:00 01:00:00:00 01:00:02:00",
            "EDL: line 1: the transition has no length in frames; add it after 'D'",
        ),
        (
            "001  LAMP01 V X 00:00:10:00 00:00:12:00 01:00:00:00 01:00:02:00",
            "EDL: line 1: edit type 'X' is not known; it is C, D, W and a number, or K",
        ),
        (
            "001  A V C 00:00:10:00 00:00:12:00 01:00:00:00 01:00:02:00\n"
            "002  A V C 00:00:10:00 00:00:12:00 01:00:01:24 01:00:03:00",
            "EDL: line 2: the event begins before the one above it ends; correct one of them",
        ),
        ("TITLE: X\n", "EDL: there are no video events in this list; name another"),
    ],
)
def test_what_is_wrong_in_an_edl_is_one_sentence_with_the_line(text, sentence):
    with pytest.raises(TrimbenchError) as fault:
        parse_edl(text, PAL)
    assert str(fault.value) == sentence


def test_an_edl_needs_a_rate_and_other_files_bring_theirs(tmp_path):
    path = tmp_path / "programme.edl"
    path.write_bytes(PROGRAMME.replace("HANDS", "H\u00c4NDE").encode("latin-1"))
    with pytest.raises(WrongCall, match="does not say the rate of its timecode; give --rate, for example --rate 25"):
        read_edit_list(path)
    assert read_edit_list(path, PAL).events[2].clip == "H\u00c4NDE"


def test_a_speed_that_is_no_number_or_the_usual_one_is_passed_over():
    for speed in ("025.0", "1.2.3", "fast"):
        read = parse_edl(PROGRAMME.replace("050.0", speed), PAL)
        assert (read.events[3].source, read.notices) == (at("00:05:03:00"), ())


@settings(max_examples=150)
@given(strategies.lists(strategies.tuples(strategies.integers(0, 1100), strategies.text(max_size=3)), max_size=4))
def test_a_damaged_edl_is_read_or_refused_in_one_sentence(changes):
    text = PROGRAMME
    for place, put in changes:
        text = text[:place] + put + text[place + 1 :]
    sentence, events = "", ()
    try:
        events = parse_edl(text, PAL).events
    except TrimbenchError as fault:
        sentence = str(fault)
    assert "\n" not in sentence
    assert all(one.last < other.first for one, other in pairwise(events))
    assert len({event.name for event in events}) == len(events)


def timeline(rate: float) -> otio.schema.Timeline:
    """Make a timeline of three clips with a gap and a dissolve."""

    def time(frames: int) -> otio.opentime.RationalTime:
        return otio.opentime.RationalTime(frames, rate)

    made = otio.schema.Timeline("THE LANTERN MAKER", global_start_time=time(86400))
    track = otio.schema.Track("V1", kind=otio.schema.TrackKind.Video)
    for name, start, length in (("wide", 100, 48), ("flame", 200, 24), ("hands", 300, 10)):
        if name == "hands":
            track.append(otio.schema.Gap(source_range=otio.opentime.TimeRange(time(0), time(12))))
        clip = otio.schema.Clip(
            name,
            otio.schema.ExternalReference(f"media/{name}.mov"),
            otio.opentime.TimeRange(time(start), time(length)),
        )
        track.append(clip)
    track.insert(1, otio.schema.Transition("", "SMPTE_Dissolve", time(6), time(6)))
    made.tracks.append(track)
    return made


@pytest.mark.parametrize(("rate", "exact"), [(24.0, Fraction(24)), (24000 / 1001, Fraction(24000, 1001))])
def test_an_otio_timeline_is_read_with_its_rate_gaps_and_sources(rate, exact, tmp_path):
    path = tmp_path / "programme.otio"
    otio.adapters.write_to_file(timeline(rate), str(path))
    read = read_edit_list(path)
    assert (read.title, read.rate, read.timecode) == ("THE LANTERN MAKER", exact, "01:00:00:00")
    assert [(event.clip, event.first - 86400, event.last - 86400, event.source) for event in read.events] == [
        ("wide", 0, 47, 100), ("flame", 48, 71, 200), ("hands", 84, 93, 300),
    ]  # fmt: skip
    assert [event.reel for event in read.events] == ["wide", "flame", "hands"]


def test_what_is_no_timeline_is_one_sentence(tmp_path):
    path = tmp_path / "programme.otio"
    path.write_text("nothing")
    with pytest.raises(TrimbenchError, match=r"can't be read as an edit list: .*; give an .edl or .otio file"):
        read_edit_list(path)
    otio.adapters.write_to_file(otio.schema.Timeline("empty"), str(path))
    with pytest.raises(TrimbenchError, match="there is no timeline with a video track"):
        read_edit_list(path)
    with pytest.raises(TrimbenchError, match="can't be read: No such file"):
        read_edit_list(tmp_path / "no.otio")
