"""Timecode: labels of frames by SMPTE ST 12-1, drop-frame and non-drop."""

import re
from fractions import Fraction

from .errors import WrongCall

LABEL = re.compile(r"(\d{1,2}):(\d{2}):(\d{2})([:;.,])(\d{2,3})")
DROP_RATES = {Fraction(30000, 1001): 2, Fraction(60000, 1001): 4, Fraction(120000, 1001): 8}
"""Labels that drop-frame leaves out at the start of a minute; ST 12-1 has them for 29.97 and, doubled, 59.94."""


def frames_of(text: str, rate: Fraction, drop: bool = False) -> int:
    """Return how many frames lie between 00:00:00:00 and a label.

    Parameters
    ----------
    text : HH:MM:SS:FF; with ';', '.' or ',' before the frames it is drop-frame by itself
    rate : frames a second; the labels of 24000/1001 count to 24, as those of 24 do
    drop : whether a label with ':' is drop-frame

    Raises
    ------
    WrongCall
        For a label that there is not: one sentence.

    Examples
    --------
    >>> frames_of("01:00:00;00", Fraction(30000, 1001)), frames_of("01:00:00:00", Fraction(30000, 1001))
    (107892, 108000)
    """
    found = LABEL.fullmatch(text.strip())
    if found is None:
        raise WrongCall(f"timecode '{text}' is not understood; write HH:MM:SS:FF")
    hours, minutes, seconds, frame = (int(found[group]) for group in (1, 2, 3, 5))
    drop = drop or is_drop(text)
    nominal, dropped = nominal_rate(rate), _dropped(rate, drop, text)
    if hours > 23 or minutes > 59 or seconds > 59 or frame >= nominal:
        raise WrongCall(
            f"timecode '{text}' does not exist at {rate_text(rate)} frames a second; "
            f"it runs to 23:59:59:{nominal - 1:02d}"
        )
    if frame < dropped and seconds == 0 and minutes % 10:
        raise WrongCall(f"timecode '{text}' does not exist: drop-frame leaves it out; take the label {dropped} later")
    minutes_before = 60 * hours + minutes
    label = (60 * minutes_before + seconds) * nominal + frame
    return label - dropped * (minutes_before - minutes_before // 10)


def text_of(frames: int, rate: Fraction, drop: bool = False) -> str:
    """Return the label of a frame, counted from 00:00:00:00; after 24 hours the labels begin again.

    Examples
    --------
    >>> text_of(1800, Fraction(30000, 1001), drop=True), text_of(1800, Fraction(30000, 1001))
    ('00:01:00;02', '00:01:00:00')
    """
    nominal, dropped = nominal_rate(rate), _dropped(rate, drop, "drop-frame")
    ten_minutes = 600 * nominal - 9 * dropped
    frames %= 144 * ten_minutes
    tens, rest = divmod(frames, ten_minutes)
    # The first of ten minutes has all of its labels, each of the other nine lacks some.
    minutes_passed = max(0, rest - dropped) // (60 * nominal - dropped) if dropped else 0
    label = frames + dropped * (9 * tens + minutes_passed)
    seconds, frame = divmod(label, nominal)
    mark = ";" if drop else ":"
    return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}{mark}{frame:02d}"


def is_drop(text: str) -> bool:
    """Say whether a label is marked as drop-frame."""
    found = LABEL.fullmatch(text.strip())
    return found is not None and found[4] != ":"


def nominal_rate(rate: Fraction) -> int:
    """Return the number of labels in a second: 30 for 30000/1001.

    Above 30 frames a second every frame has a label of its own (common practice, no source).
    """
    return round(rate)


def rate_text(rate: Fraction) -> str:
    """Return a rate as a person writes it: '23.976', '25'."""
    return f"{float(rate):.5g}"


def rate_of(text: str) -> Fraction:
    """Read a rate: '25', '30000/1001', and '23.976', '29.97', '59.94' for what they stand for.

    Examples
    --------
    >>> rate_of("23.98"), rate_of("29.97"), rate_of("25")
    (Fraction(24000, 1001), Fraction(30000, 1001), Fraction(25, 1))
    """
    try:
        rate = Fraction(text)
    except (ValueError, ZeroDivisionError):
        raise WrongCall(f"rate '{text}' is not understood; write 25, 23.976 or 30000/1001") from None
    if not 1 <= rate <= 1000:
        raise WrongCall(f"rate {text} is outside 1..1000 frames a second; give the programme's")
    pulled_down = Fraction(round(rate) * 1000, 1001)
    return pulled_down if "." in text and rate.denominator > 1 and abs(rate - pulled_down) < Fraction(1, 200) else rate


def _dropped(rate: Fraction, drop: bool, text: str) -> int:
    if not drop:
        return 0
    if rate not in DROP_RATES:
        raise WrongCall(
            f"timecode '{text}' is drop-frame, and there is none at {rate_text(rate)} frames a second; "
            "correct the rate, or write ':' before the frames"
        )
    return DROP_RATES[rate]
