"""Edit lists: the shots of a programme from a CMX 3600 EDL, or from any file that OpenTimelineIO reads."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import count
from pathlib import Path
from typing import Any

from .errors import TrimbenchError, WrongCall
from .timecode import DROP_RATES, frames_of, is_drop, rate_of, rate_text, text_of

TIMECODE = r"(\d{1,2}:\d{2}:\d{2}[:;.,]\d{2,3})"
EVENT = re.compile(
    r"(?P<number>\d{1,6})\s+(?P<reel>\S+)\s+(?P<channel>\S+)\s+(?P<kind>[A-Z]\S*(?:\s+[BO](?=\s))?)"
    rf"(?:\s+\(?F?\)?\s*(?P<length>\d{{1,4}}))?\s+{TIMECODE}\s+{TIMECODE}\s+{TIMECODE}\s+{TIMECODE}"
)
NUMBERED = re.compile(r"\d{1,6}\s")
CLIP_NAME = re.compile(r"\*?\s*(FROM|TO) CLIP NAME:\s*(.*\S)")
MOTION = re.compile(r"M2\s+(\S+)\s+(-?\d+(?:\.\d*)?)\s+")
VIDEO = re.compile(r"B|V1?|(A\d*|AA)/?V1?|V1?/?A\d*")
BLACK = ("BL", "BLACK")


@dataclass(frozen=True)
class Event:
    """One shot of an edit list.

    Attributes
    ----------
    name : the event's number without leading zeros, or the clip's name
    reel : the source's name as the list has it
    clip : the clip's name, '' where the list says none
    first, last : frames of the record timecode, counted from 00:00:00:00; both belong to the shot
    source : frame of the source's timecode that is the first; None where it can't be followed
    """

    name: str
    reel: str
    clip: str
    first: int
    last: int
    source: int | None


@dataclass(frozen=True)
class EditList:
    """The shots of a programme, in order and without overlap, and sentences about what was placed or left out."""

    title: str
    rate: Fraction
    drop: bool
    events: tuple[Event, ...]
    notices: tuple[str, ...] = ()

    @property
    def timecode(self) -> str:
        """The record timecode of the first shot."""
        return text_of(self.events[0].first, self.rate, self.drop)


def read_edit_list(path: Path, rate: Fraction | None = None) -> EditList:
    """Read an edit list: '.edl' as CMX 3600, anything else by OpenTimelineIO.

    Between two shots that dissolve or wipe, the cut is placed in the middle of the transition; a fade from or to black
    belongs to its shot.

    Parameters
    ----------
    rate : of the programme, frames a second; an EDL does not say it, other files may

    Raises
    ------
    TrimbenchError
        If the file can't be read, has no shots, or contradicts itself: one sentence with the line.
    WrongCall
        If the rate is not known.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        raise TrimbenchError(f"{path}: can't be read: {error.strerror}; check the name and its permissions") from error
    if path.suffix.lower() != ".edl":
        return _read_timeline(path, rate)
    if rate is None:
        raise WrongCall(f"{path}: an EDL does not say the rate of its timecode; give --rate, for example --rate 25")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("latin-1")  # older systems write 8-bit clip names
    return parse_edl(text, rate, str(path))


def parse_edl(text: str, rate: Fraction, name: str = "EDL") -> EditList:
    """Read the text of a CMX 3600 EDL; `name` names it in messages. Raises TrimbenchError with the line.

    Examples
    --------
    >>> line = "001  R1       V     C        00:00:10:00 00:00:12:00 01:00:00:00 01:00:02:00"
    >>> event = parse_edl(line, Fraction(25)).events[0]
    >>> event.first - frames_of("01:00:00:00", Fraction(25)), event.last - event.first, event.source
    (0, 49, 250)
    """
    title, notices = "", list[str]()
    has_drop = False
    edits: list[_Edit] = []
    layers: set[str] = set()
    last_is_video = False
    for number, raw in enumerate(text.splitlines(), 1):
        line = raw.strip()
        where = f"{name}: line {number}"
        if line.startswith("TITLE:"):
            title = line.removeprefix("TITLE:").strip()
        elif line.startswith("FCM:"):
            has_drop = not line.removeprefix("FCM:").strip().startswith("NON")
            if has_drop and rate not in DROP_RATES:
                notices.append(f"{where}: drop-frame is not heeded, there is none at {rate_text(rate)} frames a second")
        elif NUMBERED.match(line):
            edit = _edit(line, rate, has_drop and rate in DROP_RATES, where)
            last_is_video = VIDEO.fullmatch(edit.channel) is not None
            if last_is_video:
                edits.append(edit)
            elif edit.channel.startswith("V"):
                layers.add(edit.channel)
        elif last_is_video:
            _note(edits, line, rate)
    if layers:
        notices.append(f"{name}: only the lowest layer is read, not {', '.join(sorted(layers))}")
    events = _placed(edits, name, notices)
    if not events:
        raise TrimbenchError(f"{name}: there are no video events in this list; name another")
    return EditList(title, rate, any(edit.is_drop for edit in edits), events, tuple(notices))


@dataclass
class _Edit:
    """One line of an EDL with the comments below it; frames of timecodes, the ends excluded."""

    where: str
    number: str
    reel: str
    channel: str
    kind: str
    length: int
    source_in: int
    record_in: int
    record_out: int
    is_drop: bool
    clip: str = ""
    to_clip: str = ""
    has_speed: bool = False

    @property
    def is_black(self) -> bool:
        return self.reel.upper() in BLACK


def _edit(line: str, rate: Fraction, drop: bool, where: str) -> _Edit:
    found = EVENT.fullmatch(line)
    if found is None:
        raise TrimbenchError(
            f"{where}: the event is not understood; it needs number, reel, channel, edit type and four timecodes"
        )
    kind = found["kind"].split()[0]
    if kind not in ("C", "D") and not re.fullmatch(r"W\d{1,3}|KB?O?", kind):
        raise TrimbenchError(f"{where}: edit type '{found['kind']}' is not known; it is C, D, W and a number, or K")
    if kind[0] in "DW" and found["length"] is None:
        raise TrimbenchError(f"{where}: the transition has no length in frames; add it after '{kind}'")
    codes = found.groups()[-4:]
    try:
        source_in, _, record_in, record_out = (frames_of(code, rate, drop) for code in codes)
    except WrongCall as fault:
        raise TrimbenchError(f"{where}: {fault}") from None
    if record_out < record_in:
        raise TrimbenchError(f"{where}: the record out {codes[3]} lies before the in {codes[2]}; correct it")
    return _Edit(
        where, found["number"], found["reel"], found["channel"].upper(), kind, int(found["length"] or 0),
        source_in, record_in, record_out, drop or is_drop(codes[2]),
    )  # fmt: skip


def _note(edits: list[_Edit], line: str, rate: Fraction) -> None:
    """Take what a comment says of the event above it, which may have two lines: the outgoing and the incoming one."""
    edit = edits[-1]
    lines = [other for other in edits[-2:] if other.number == edit.number]
    if named := CLIP_NAME.fullmatch(line):
        if named[1] == "TO":
            edit.to_clip = named[2]
        else:
            next((other for other in lines if not other.clip), edit).clip = named[2]
    elif (motion := MOTION.match(line)) and round(abs(float(motion[2]) - float(rate)), 1):
        for other in [other for other in lines if other.reel == motion[1]] or [edit]:
            other.has_speed = True


def _placed(edits: list[_Edit], name: str, notices: list[str]) -> tuple[Event, ...]:
    """Make shots of edits: transitions are cut in the middle, black and empty ones are left out."""
    events: list[Event] = []
    taken: set[str] = set()
    is_from_black = False
    for edit in sorted(edits, key=lambda edit: edit.record_in):
        if edit.record_out == edit.record_in:  # the outgoing side of a transition
            is_from_black = edit.is_black
            continue
        length = min(edit.length, edit.record_out - edit.record_in) if edit.kind[0] in "DW" else 0
        touches = bool(events) and events[-1].last == edit.record_in - 1 and not is_from_black
        into = (length if edit.is_black else length // 2) if touches else 0
        first, is_from_black = edit.record_in + into, False
        if into:
            events[-1] = replace(events[-1], last=first - 1)
        elif events and first <= events[-1].last:
            raise TrimbenchError(f"{edit.where}: the event begins before the one above it ends; correct one of them")
        if edit.is_black or first >= edit.record_out:
            continue
        number = str(int(edit.number))
        event_name = next(text for text in _names(number) if text not in taken)
        taken.add(event_name)
        source = None if edit.has_speed else edit.source_in + into
        events.append(Event(event_name, edit.reel, edit.to_clip or edit.clip, first, edit.record_out - 1, source))
        if edit.has_speed:
            notices.append(f"{name}: event {event_name} runs at another speed, so its source frames are not followed")
    return tuple(events)


def _names(number: str) -> Iterator[str]:
    yield number
    yield from (f"{number}-{again}" for again in count(2))


def _read_timeline(path: Path, rate: Fraction | None) -> EditList:
    import opentimelineio as otio

    try:
        timeline = otio.adapters.read_from_file(str(path))
    except Exception as error:  # an adapter may be anybody's
        reason = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise TrimbenchError(f"{path}: can't be read as an edit list: {reason}; give an .edl or .otio file") from error
    if not isinstance(timeline, otio.schema.Timeline) or not list(timeline.video_tracks()):
        raise TrimbenchError(f"{path}: there is no timeline with a video track in this file; export one")
    track = otio.algorithms.flatten_stack(list(timeline.video_tracks()))
    clips = [item for item in track if isinstance(item, otio.schema.Clip)]
    if not clips:
        raise TrimbenchError(f"{path}: there are no clips in this timeline; name another")
    others = {type(item).__name__ for item in track} - {"Clip", "Gap", "Transition"}
    notices = [f"{path}: what is nested in the timeline is not read ({', '.join(sorted(others))})"] if others else []
    rate = rate or rate_of(str(clips[0].trimmed_range().start_time.rate))
    start = _frames(timeline.global_start_time, rate) if timeline.global_start_time else 0
    events = []
    for number, clip in enumerate(clips, 1):
        place = clip.trimmed_range_in_parent()
        first = start + _frames(place.start_time, rate)
        source = None if clip.effects else _frames(clip.trimmed_range().start_time, rate)
        reference = clip.media_reference
        url = getattr(reference, "target_url", "") or ""
        reel = Path(url).stem or clip.name
        events.append(Event(str(number), reel, clip.name, first, first + _frames(place.duration, rate) - 1, source))
    return EditList(timeline.name, rate, False, tuple(events), tuple(notices))


def _frames(time: Any, rate: Fraction) -> int:
    """Return an OpenTimelineIO time in frames of the rate."""
    return round(time.value * float(rate) / time.rate)
