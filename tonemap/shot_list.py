"""Shot lists: the shots of a sheet from an edit list or from typed cuts; they take over the trims of the old ones."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from .edit_list import EditList, Event
from .errors import WrongCall
from .shots import Shot
from .timecode import frames_of
from .trim_sheet import MasterEntry, TrimSheet


def with_edit_list(sheet: TrimSheet, edits: EditList) -> tuple[TrimSheet, list[str]]:
    """Return the sheet with the shots of an edit list, and sentences about what became of the old ones.

    With one master, it is taken to be the finished programme: a record timecode is that of the master, and where the
    master has none, the list's first shot is its first frame and gives the sheet its timecode. With several, the shots
    are the masters' own: each takes its frames from the master that has the name of its reel, its clip or its file, by
    the source timecode.

    Raises
    ------
    WrongCall
        If a shot has no master, lies before the programme or beyond its master: one sentence.
    """
    is_programme = len(sheet.masters) < 2
    own_timecode = sheet.masters[0].timecode if is_programme and sheet.masters else None
    start = frames_of(own_timecode, edits.rate, edits.drop) if own_timecode else edits.events[0].first
    shots = []
    for event in edits.events:
        if event.first < start:
            raise WrongCall(
                f"shot '{event.name}' begins {start - event.first} frames before the master's timecode "
                f"{own_timecode}; name the programme that the list is of"
            )
        shot = Shot(event.name, event.first - start, event.last - start, note=event.clip)
        shots.append(shot if is_programme else _of_source(shot, event, sheet, edits.rate))
    changed, sentences = _replaced(sheet, shots, None if own_timecode else edits)
    return changed, [*sentences, *programme_faults(changed)]


def programme_faults(sheet: TrimSheet) -> list[str]:
    """Say what of the programme has no picture, in sentences: gaps between shots, shots that pass their master."""
    sentences = []
    for piece in sheet.pieces():
        if piece.master is None:
            sentences.append(
                f"frames {piece.first} to {piece.last} belong to no shot, and there is no picture for them"
            )
            continue
        end = piece.source + piece.last - piece.first
        if piece.shot and piece.master.frames is not None and end >= piece.master.frames:
            sentences.append(
                f"shot '{piece.shot.name}' ends at frame {end} of master '{piece.master.name}', "
                f"which has {piece.master.frames} frames, the last of them {piece.master.frames - 1}"
            )
    return sentences


def with_cuts(sheet: TrimSheet, cuts: Sequence[int]) -> tuple[TrimSheet, list[str]]:
    """Return the sheet with shots numbered from 1, of which each begins at a cut, and sentences about the old ones.

    Parameters
    ----------
    cuts : first frames of shots; 0 need not be named

    Raises
    ------
    WrongCall
        If the sheet has not just one master, or a cut lies outside of it.
    """
    count = sheet.master().frames
    if count is None:
        raise WrongCall("the sheet does not say how many frames its master has; enter the master again")
    firsts = sorted({0, *cuts})
    if firsts[0] < 0 or firsts[-1] >= count:
        outside = firsts[0] if firsts[0] < 0 else firsts[-1]
        raise WrongCall(f"there is no frame {outside} to cut at; the master's frames are 0 to {count - 1}")
    lasts = [*(first - 1 for first in firsts[1:]), count - 1]
    shots = [Shot(str(number), *ends) for number, ends in enumerate(zip(firsts, lasts, strict=True), 1)]
    return _replaced(sheet, shots, None)


def _of_source(shot: Shot, event: Event, sheet: TrimSheet, rate: Fraction) -> Shot:
    words = {event.reel.lower(), event.clip.lower()}
    found = [item for item in sheet.masters if {item.name.lower(), _stem(item)} & words]
    if len(found) != 1:
        raise WrongCall(
            f"shot '{shot.name}': {len(found)} masters have the name of its reel '{event.reel}' or clip "
            f"'{event.clip}'; name just one master like it"
        )
    if event.source is None:
        raise WrongCall(f"shot '{shot.name}' runs at another speed, so its frames can't be taken from a master")
    master = found[0]
    source = event.source - (frames_of(master.timecode, rate) if master.timecode else 0)
    if source < 0 or (master.frames is not None and source + shot.count > master.frames):
        raise WrongCall(
            f"shot '{shot.name}' takes frames {source} to {source + shot.count - 1} of master '{master.name}', "
            f"which has {master.frames}; check its timecode ({master.timecode or 'none'})"
        )
    return replace(shot, master=master.name, source=source)


def _stem(master: MasterEntry) -> str:
    return master.path.rpartition("/")[2].partition(".")[0].lower()


def _replaced(sheet: TrimSheet, shots: Sequence[Shot], edits: EditList | None) -> tuple[TrimSheet, list[str]]:
    """Put new shots in the place of the old ones; each takes over the trim of the old one that it shares most with."""
    sentences: list[str] = []
    taken: set[str] = set()
    result = []
    for shot in shots:
        old = max(sheet.shots, key=lambda old: _shared(shot, old), default=None)
        if old is None or 2 * _shared(shot, old) <= shot.count:
            result.append(shot)
            continue
        taken.add(old.name)
        moved = old.shifted(shot.first - shot.source_first - (old.first - old.source_first))
        keys = tuple(key for key in moved.keys if shot.first <= key.frame <= shot.last)
        if lost := len(old.keys) - len(keys):
            verb = "lies outside it and is" if lost == 1 else "lie outside it and are"
            sentences.append(
                f"shot '{shot.name}': {lost} of {len(old.keys)} keys of old shot '{old.name}' {verb} left out"
            )
        trim = replace(
            shot,
            rendition=old.rendition,
            settings=old.settings,
            keys=keys,
            patches=old.patches,
            patch_extras=old.patch_extras,
            extra=old.extra,
            note=shot.note or old.note,
        )
        result.append(trim)
    for old in sheet.shots:
        if old.name not in taken and (old.rendition or old.settings or old.keys or old.patches or old.extra):
            sentences.append(f"the trim of old shot '{old.name}' fits no new shot and is not in the sheet any more")
    changed = replace(sheet, shots=tuple(result))
    if edits is not None:
        changed = replace(changed, rate=edits.rate, timecode=edits.timecode)
    return changed, sentences


def _shared(shot: Shot, old: Shot) -> int:
    """Return how many frames of the same master two shots share."""
    if shot.master != old.master:
        return 0
    first = max(shot.source_first, old.source_first)
    last = min(shot.source_first + shot.count, old.source_first + old.count)
    return max(last - first, 0)
