"""Timecode against the counts of SMPTE ST 12-1 and against OpenTimelineIO's own conversion."""

from fractions import Fraction

import numpy as np
import opentimelineio
import pytest

from tonemap import WrongCall
from tonemap.timecode import frames_of, rate_of, text_of

NTSC = Fraction(30000, 1001)
DOUBLE = Fraction(60000, 1001)


@pytest.mark.parametrize(
    ("text", "frames"),
    [
        # SMPTE ST 12-1, drop-frame compensation: two labels go at each minute but 00, 10, 20, 30, 40 and 50.
        ("00:00:59;29", 1799),
        ("00:01:00;02", 1800),
        ("00:01:59;29", 3597),
        ("00:02:00;02", 3598),
        ("00:09:59;29", 17981),
        ("00:10:00;00", 17982),
        ("00:11:00;02", 19782),
        ("01:00:00;00", 107892),
        ("10:00:00;00", 1078920),
        ("23:59:59;29", 2589407),
    ],
)
def test_drop_frame_counts_are_those_of_st_12_1(text, frames):
    assert frames_of(text, NTSC) == frames
    assert text_of(frames, NTSC, drop=True) == text


def test_drop_frame_keeps_step_with_the_clock():
    """ST 12-1: 108 labels an hour make up for 1000/1001; over a day the error is 2.6 frames, about 86 ms."""
    seconds = frames_of("23:59:59;29", NTSC) / NTSC
    assert 86400 - float(seconds) == pytest.approx(0.0864 + 1 / 29.97, abs=0.001)
    assert float(frames_of("23:59:59:29", NTSC) / NTSC) - 86400 == pytest.approx(86.4, abs=0.1)


@pytest.mark.parametrize(
    ("rate", "drop"),
    [(NTSC, True), (NTSC, False), (DOUBLE, True), (Fraction(24), False), (Fraction(25), False), (Fraction(50), False)],
)
def test_labels_are_those_of_opentimelineio(rate, drop):
    random = np.random.default_rng(5)
    day = 144 * (600 * round(rate) - (9 * {NTSC: 2, DOUBLE: 4}[rate] if drop else 0))
    near_minutes = [minute * 60 * round(rate) + step for minute in range(1, 61) for step in (-3, -2, -1, 0, 1, 2, 3)]
    hours_23 = day // 24 * 23  # non-drop at 29.97, that library begins again after a day of the clock, not of labels
    for frames in [*map(int, random.integers(0, hours_23, 300)), *near_minutes, 0]:
        other = opentimelineio.opentime.RationalTime(frames, float(rate)).to_timecode(float(rate), drop)
        assert text_of(frames, rate, drop) == other
        assert frames_of(other, rate) == frames


def test_labels_begin_again_after_a_day():
    assert text_of(2589408, NTSC, drop=True) == "00:00:00;00"
    assert text_of(24 * 86400, Fraction(24)) == "00:00:00:00"


@pytest.mark.parametrize(
    ("text", "rate", "sentence"),
    [
        ("1:2:3", NTSC, "timecode '1:2:3' is not understood; write HH:MM:SS:FF"),
        (
            "00:01:00;01",
            NTSC,
            "timecode '00:01:00;01' does not exist: drop-frame leaves it out; take the label 2 later",
        ),
        (
            "00:00:00:24",
            Fraction(24000, 1001),
            "timecode '00:00:00:24' does not exist at 23.976 frames a second; it runs to 23:59:59:23",
        ),
        (
            "00:00:00;10",
            Fraction(25),
            "timecode '00:00:00;10' is drop-frame, and there is none at 25 frames a second; correct the rate, "
            "or write ':' before the frames",
        ),
    ],
)
def test_a_label_that_there_is_not_is_one_sentence(text, rate, sentence):
    with pytest.raises(WrongCall) as fault:
        frames_of(text, rate)
    assert str(fault.value) == sentence


@pytest.mark.parametrize(
    ("text", "rate"),
    [
        ("23.976", Fraction(24000, 1001)), ("59.94", DOUBLE), ("24", Fraction(24)), ("30000/1001", NTSC),
        ("24.0", Fraction(24)), ("12.5", Fraction(25, 2)), ("47.952", Fraction(48000, 1001)),
    ],
)  # fmt: skip
def test_rates_are_read_as_people_write_them(text, rate):
    assert rate_of(text) == rate


@pytest.mark.parametrize("text", ["fast", "0", "1/0", "-25", "1e9"])
def test_a_rate_that_is_none_is_refused(text):
    with pytest.raises(WrongCall):
        rate_of(text)
