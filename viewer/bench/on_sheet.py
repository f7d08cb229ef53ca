"""The renditions on the bench as the trim sheet has them, and back: by name, with what a shot has of its own.

A rendition belongs to the programme. A shot takes one by its name, and may have settings of its own that are laid over
it: the bench shows the taken rendition with them, and every other one as it is. Plain Python.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from tonemap.errors import TrimbenchError, WrongCall
from tonemap.host import Host
from tonemap.rendition import Rendition
from tonemap.rendition_entry import RenditionEntry
from tonemap.settings import settings_of, with_setting, with_settings
from tonemap.shots import Key, Shot
from tonemap.trim_sheet import TrimSheet

from .state import BenchState, Slot

ANY_OPERATORS = ("hard_clip", "gamut_clip")
"""Operators that are always there, to read the settings that belong to no operator."""


def entry_of(rendition: Rendition, host: Host, extra: Mapping[str, Any] | None = None) -> RenditionEntry:
    """Enter a rendition with all of its settings; of an operator that is broken or not here, those it was given."""
    try:
        return RenditionEntry.of(rendition, host, dict(extra or {}))
    except TrimbenchError:
        given = {
            f"{stage}.{name}": value
            for stage in ("tone", "gamut")
            for name, value in getattr(rendition, f"{stage}_settings").items()
        }
        tone, gamut = ANY_OPERATORS
        plain = replace(rendition, tone=tone, gamut=gamut, tone_settings={}, gamut_settings={})
        rest = {
            path: as_written(value) for path, value in settings_of(plain, host).items() if not _is_of_operator(path)
        }
        return RenditionEntry(rendition.name, rendition.tone, rendition.gamut, {**given, **rest}, dict(extra or {}))


def rendition_of(entry: RenditionEntry, host: Host) -> Rendition:
    """Return an entry's rendition; one that can't be evaluated here keeps its settings, and its tile says why."""
    try:
        return entry.rendition(host)
    except TrimbenchError:
        of_operators: dict[str, dict[str, Any]] = {"tone": {}, "gamut": {}}
        for path, value in entry.settings.items():
            if _is_of_operator(path):
                stage, _, name = path.partition(".")
                of_operators[stage][name] = value
        plain = Rendition(entry.name, entry.tone, entry.gamut, of_operators["tone"], of_operators["gamut"])
        rest = {path: value for path, value in entry.settings.items() if not _is_of_operator(path)}
        try:
            return with_settings(plain, rest, host)
        except TrimbenchError:
            return plain


def own_paths(shot: Shot | None) -> set[str]:
    """Return the settings that a shot has as its own, by path."""
    return set() if shot is None else {*shot.settings, *(path for key in shot.keys for path in key.settings)}


def shown_rendition(sheet: TrimSheet, entry: RenditionEntry, frame: int, host: Host) -> Rendition:
    """Return an entry's rendition as the bench shows it at a frame of the programme."""
    base, shot = rendition_of(entry, host), sheet.shot_at(frame)
    if shot is None or sheet.taken_at(frame) != entry.name:
        return base
    try:
        return shot.rendition_at(frame, base, host)
    except WrongCall:
        return base  # what does not fit is said by `misfit`


def misfit(state: BenchState, host: Host) -> str | None:
    """Return the sentence about a shot's own settings that don't fit the rendition that it takes, or None."""
    shot, name = state.shot, state.sheet.taken_at(state.frame)
    if shot is None or name is None:
        return None
    try:
        shot.rendition_at(state.frame, rendition_of(state.sheet.rendition_entry(name), host), host)
    except WrongCall as fault:
        return str(fault)
    return None


def with_sheet(
    state: BenchState, sheet: TrimSheet, host: Host, keys: Mapping[str, int] | None = None, frame: int | None = None
) -> BenchState:
    """Put a sheet on the bench; renditions of a name that is there already keep their key, and with it their place.

    Parameters
    ----------
    keys : the key that a name had before it went, for what an undo brings back
    frame : of the programme; None for the one now
    """
    frame = state.frame if frame is None else frame
    old = {slot.rendition.name: slot for slot in state.slots}
    names = [entry.name for entry in sheet.renditions]
    lost = [slot for slot in state.slots if slot.rendition.name not in names]
    new = [name for name in names if name not in old]
    if len(lost) == len(new):  # they were renamed
        old.update(dict(zip(new, lost, strict=True)))
    slots, next_key = [], state.next_key
    taken = {slot.key for slot in old.values() if slot.rendition.name in names or slot in lost}
    for entry in sheet.renditions:
        rendition, slot = shown_rendition(sheet, entry, frame, host), old.get(entry.name)
        key = slot.key if slot else (keys or {}).get(entry.name)
        if key is None or (slot is None and key in taken):
            key, next_key = next_key, next_key + 1
        is_same = slot is not None and _is_same(slot.rendition, rendition, host)
        slots.append(slot if slot is not None and is_same else Slot(key, rendition))
    here = [slot.key for slot in slots]
    selected = state.selected if state.selected in here else _neighbour(state, here)
    patches = sheet.patches_at(frame) if sheet.shots or sheet.masters else state.patches
    patch = state.patch if state.patch is not None and state.patch < len(patches) else None
    return replace(
        state,
        sheet=sheet,
        frame=frame,
        slots=tuple(slots),
        selected=selected,
        patches=patches,
        patch=patch,
        next_key=max([next_key, *(key + 1 for key in here)]),
    )


def at_frame(state: BenchState, frame: int, host: Host) -> BenchState:
    """Go to a frame of the programme: to what its shot takes, and to its patches."""
    if frame == state.frame:
        return state
    shot = state.sheet.shot_at(frame)
    if shot is state.shot and not (shot and shot.keys):
        return replace(state, frame=frame)
    return with_sheet(state, state.sheet, host, frame=frame)


def folded(before: BenchState, after: BenchState, host: Host) -> BenchState:
    """Return the state after an action with a sheet that says the same as its renditions and patches.

    Raises
    ------
    WrongCall
        For an action after which the sheet would contradict itself.
    """
    if after.sheet is not before.sheet or (after.slots is before.slots and after.patches is before.patches):
        return after  # the action made the sheet itself, or changed nothing in it
    if after.slots is not before.slots:
        after = replace(after, sheet=_with_slots(before, after, host))
    if after.patches is not before.patches:
        after = replace(after, sheet=_with_patches(after))
    return after


def reentered(state: BenchState, host: Host) -> BenchState:
    """Return the state with a sheet that says the same as its renditions, after operators were read again."""
    entries = {entry.name: entry for entry in state.sheet.renditions}
    shown = tuple(
        Slot(slot.key, shown_rendition(state.sheet, entries[slot.rendition.name], state.frame, host))
        for slot in state.slots
    )
    slots = tuple(
        one if _is_same(one.rendition, slot.rendition, host) else slot
        for one, slot in zip(shown, state.slots, strict=True)
    )
    if all(one is slot for one, slot in zip(shown, slots, strict=True)):
        return state
    entered = folded(replace(state, slots=shown), replace(state, slots=slots), host)
    return replace(entered, slots=state.slots)


def _is_same(one: Rendition, other: Rendition, host: Host) -> bool:
    """Say whether two renditions are the same, defaults filled in."""
    if one == other:
        return True
    if (one.name, one.tone, one.gamut) != (other.name, other.tone, other.gamut):
        return False
    try:
        return settings_of(one, host) == settings_of(other, host)
    except TrimbenchError:
        return False


def _with_slots(before: BenchState, after: BenchState, host: Host) -> TrimSheet:
    sheet, shot = after.sheet, after.shot
    taken = sheet.taken_at(after.frame)
    were = {slot.key: slot for slot in before.slots}
    entries, renamed, shots = [], {}, {item.name: item for item in sheet.shots}
    for slot in after.slots:
        old = were.get(slot.key)
        if old is None:
            entries.append(entry_of(slot.rendition, host))
            continue
        entry = sheet.rendition_entry(old.rendition.name)
        if slot is not old:
            renamed[entry.name] = slot.rendition.name
            own = shots[shot.name] if shot is not None and taken == entry.name else None
            entry, own = _changed(entry, old.rendition, slot.rendition, own, after, host)
            shots.update({own.name: own} if own else {})
            if (old.rendition.tone, old.rendition.gamut) != (slot.rendition.tone, slot.rendition.gamut):
                shots.update(_fitting(sheet, shots.values(), old.rendition.name, entry, host))
        entries.append(entry)
    _refuse_taken(sheet, {were[key].rendition.name for key in were if key not in {slot.key for slot in after.slots}})
    names = {entry.name for entry in entries}
    default = renamed.get(sheet.default_rendition or "", sheet.default_rendition)
    return replace(
        sheet,
        renditions=tuple(entries),
        shots=tuple(
            replace(item, rendition=renamed.get(item.rendition or "", item.rendition)) for item in shots.values()
        ),
        default_rendition=default if default in names else None,
    )


def _refuse_taken(sheet: TrimSheet, gone: set[str]) -> None:
    for name in sorted(gone):
        takers = [shot.name for shot in sheet.shots if (shot.rendition or sheet.default_rendition) == name]
        if takers:
            some = ", ".join(takers[:4]) + (f" and {len(takers) - 4} more" if len(takers) > 4 else "")
            word = "shot" if len(takers) == 1 else "shots"
            raise WrongCall(f"'{name}' is what {word} {some} take{'s' * (len(takers) == 1)}; choose another one there")


def _changed(
    entry: RenditionEntry, old: Rendition, new: Rendition, shot: Shot | None, state: BenchState, host: Host
) -> tuple[RenditionEntry, Shot | None]:
    """Return an entry and the shot with what a hand changed: of the shot what is its own, else of the rendition."""
    name = new.name
    if replace(old, name=name) == new:
        return replace(entry, name=name), shot
    try:
        were, are = settings_of(old, host), settings_of(new, host)
    except TrimbenchError:  # an operator that is not here: what can be changed are the settings around it
        return replace(entry_of(new, host, entry.extra)), shot
    own = own_paths(shot)
    is_other = (old.tone, old.gamut) != (new.tone, new.gamut)
    changed = {path for path, value in are.items() if path not in were or were[path] != value}
    of_shot = {
        path
        for path in changed
        if shot is not None and (path in own or (state.only_here and not is_other and not path.startswith("target.")))
    }
    base = settings_of(rendition_of(entry, host), host)
    settings = {path: value if path in changed - of_shot else base.get(path, value) for path, value in are.items()}
    written = with_settings(Rendition(name, new.tone, new.gamut), settings, host)
    if of_shot and shot is not None:
        shot = _with_own(shot, {path: as_written(are[path]) for path in of_shot}, state.frame)
    return RenditionEntry.of(written, host, entry.extra), shot


def _with_own(shot: Shot, values: Mapping[str, Any], frame: int) -> Shot:
    """Return a shot with values of its own: where a setting has keys, one at this frame."""
    keyed = {path for key in shot.keys for path in key.settings}
    settings = {**shot.settings, **{path: value for path, value in values.items() if path not in keyed}}
    at_frame = {path: value for path, value in values.items() if path in keyed}
    if not at_frame:
        return replace(shot, settings=settings)
    return with_keys_at(replace(shot, settings=settings), frame, at_frame)


def with_keys_at(shot: Shot, frame: int, values: Mapping[str, Any]) -> Shot:
    """Return a shot with keys at a frame for some settings; what else has a key there stays."""
    keys = {key.frame: key for key in shot.keys}
    here = keys.get(frame, Key(frame, {}))
    keys[frame] = replace(here, settings={**here.settings, **values})
    return replace(shot, keys=tuple(keys[number] for number in sorted(keys)))


def _fitting(sheet: TrimSheet, shots: Iterable[Shot], name: str, entry: RenditionEntry, host: Host) -> dict[str, Shot]:
    """Return the shots that take a rendition without the own settings that its new operators don't have."""
    base = rendition_of(entry, host)
    found = {}
    for shot in shots:
        if (shot.rendition or sheet.default_rendition) != name:
            continue
        settings = {path: value for path, value in shot.settings.items() if _is_allowed(base, path, value, host)}
        keys = [
            replace(key, settings={path: v for path, v in key.settings.items() if _is_allowed(base, path, v, host)})
            for key in shot.keys
        ]
        found[shot.name] = replace(shot, settings=settings, keys=tuple(key for key in keys if key.settings))
    return found


def _is_allowed(rendition: Rendition, path: str, value: Any, host: Host) -> bool:
    try:
        with_setting(rendition, path, value, host)
    except TrimbenchError:
        return False
    return True


def _with_patches(state: BenchState) -> TrimSheet:
    """Return the sheet with the patches of the still, or of the shot; a programme without shots becomes one shot."""
    sheet, shot = state.sheet, state.shot
    if sheet.still is not None:
        return sheet.with_master(replace(sheet.still, patches=state.patches))
    if shot is None and not sheet.shots and sheet.masters:
        master = sheet.masters[0]
        shot = Shot("1", 0, max((master.frames or 1) - 1, 0), master.name if len(sheet.masters) > 1 else None)
    if shot is None:
        if sheet.shots:
            raise WrongCall(f"frame {state.frame} belongs to no shot, where a patch could be kept; go to a shot")
        return sheet
    return sheet.with_shot(replace(shot, patches=state.patches))


def _neighbour(state: BenchState, here: list[int]) -> int | None:
    """Return the key to select in place of one that is gone: the one that takes its place."""
    keys = [slot.key for slot in state.slots]
    index = keys.index(state.selected) if state.selected in keys else 0
    return here[min(index, len(here) - 1)] if here else None


def _is_of_operator(path: str) -> bool:
    return path.startswith(("tone.", "gamut."))


def as_written(value: Any) -> Any:
    """Return a value as a sheet has it."""
    return list(value) if isinstance(value, tuple) else value
