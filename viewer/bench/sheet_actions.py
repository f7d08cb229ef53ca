"""The actions on the trim sheet: what a shot takes, its own values, the order. Plain Python."""

from collections.abc import Iterable
from dataclasses import replace

from tonemap.errors import WrongCall
from tonemap.host import Host
from tonemap.operator import Parameter
from tonemap.settings import parameter_at, settings_of
from tonemap.shots import Key, Shot

from .on_sheet import as_written, own_paths, with_keys_at, with_sheet
from .state import BenchState


def take(state: BenchState, key: int, host: Host) -> BenchState:
    """Let the shot at hand take a rendition as it is shown; where there is no shot, the whole programme takes it.

    Values that the shot had of its own belonged to the rendition that it took before, and go.
    """
    name, shot = state.slot(key).rendition.name, state.shot
    if shot is None:
        return with_default(state, key, host)
    if state.sheet.taken_at(state.frame) == name:
        return state
    return with_sheet(state, state.sheet.with_shot(replace(shot, rendition=name, settings={}, keys=())), host)


def lost_by_taking(state: BenchState, key: int) -> set[str]:
    """Return the settings of its own that the shot at hand loses when it takes a rendition."""
    is_other = state.sheet.taken_at(state.frame) != state.slot(key).rendition.name
    return own_paths(state.shot) if is_other else set()


def take_default(state: BenchState, host: Host) -> BenchState:
    """Let the shot at hand take the programme's rendition, whatever it is; its own values go with the one it took."""
    shot, sheet = state.shot, state.sheet
    if shot is None or shot.rendition is None:
        return state
    if shot.rendition == sheet.default_rendition:
        return with_sheet(state, sheet.with_shot(replace(shot, rendition=None)), host)
    return with_sheet(state, sheet.with_shot(replace(shot, rendition=None, settings={}, keys=())), host)


def with_default(state: BenchState, key: int, host: Host) -> BenchState:
    """Choose the programme's rendition; shots with values of their own keep the one that these belong to."""
    name, sheet = state.slot(key).rendition.name, state.sheet
    if sheet.default_rendition == name:
        return state
    shots = tuple(
        replace(shot, rendition=sheet.default_rendition) if shot.rendition is None and own_paths(shot) else shot
        for shot in sheet.shots
    )
    return with_sheet(state, replace(sheet, default_rendition=name, shots=shots), host)


def only_here(state: BenchState, is_on: bool) -> BenchState:
    """Choose whether what is changed in the taken rendition is of this shot alone, or of every shot that takes it."""
    if is_on and state.shot is None:
        raise WrongCall("there is no shot here, so that nothing can be its own; cut the programme into shots first")
    return replace(state, only_here=is_on)


def drop_own(state: BenchState, path: str, host: Host) -> BenchState:
    """Give a setting of the shot at hand back to the rendition."""
    shot = state.shot
    if shot is None or path not in own_paths(shot):
        return state
    settings = {name: value for name, value in shot.settings.items() if name != path}
    keys = (replace(key, settings={n: v for n, v in key.settings.items() if n != path}) for key in shot.keys)
    left = tuple(key for key in keys if _has_settings(key))
    return with_sheet(state, state.sheet.with_shot(replace(shot, settings=settings, keys=left)), host)


def set_keys(state: BenchState, paths: Iterable[str], host: Host) -> BenchState:
    """Give settings of the shot at hand a key at this frame that holds the values shown here.

    Raises
    ------
    WrongCall
        Where there is no shot that takes a rendition, and for what is no number.
    """
    shot, taken = state.shot, state.taken
    if shot is None or taken is None:
        raise WrongCall("no shot here takes a rendition, so that nothing can have a key; go to one that does")
    rendition = state.slot(taken).rendition
    values = settings_of(rendition, host)
    held = {}
    for path in paths:
        if not isinstance(parameter_at(rendition, path, host), Parameter):
            raise WrongCall(f"{path} is no number and can't have keys; set it for the whole shot")
        held[path] = as_written(values[path])
    if not held:
        raise WrongCall(
            f"shot '{shot.name}' has no numbers of its own to hold; change one with 'this shot' on (I), or click the "
            "post at the end of a setting's row"
        )
    rest = {path: value for path, value in shot.settings.items() if path not in held}
    keyed = with_keys_at(replace(shot, settings=rest), state.frame, held)
    return with_sheet(state, state.sheet.with_shot(keyed), host)


def own_numbers(state: BenchState, host: Host) -> list[str]:
    """Return the settings of the shot's own that can have keys."""
    if state.shot is None or state.taken is None:
        return []
    rendition, paths = state.slot(state.taken).rendition, sorted(own_paths(state.shot))
    return [path for path in paths if isinstance(parameter_at(rendition, path, host), Parameter)]


def hold_own(state: BenchState, host: Host) -> BenchState:
    """Give every number of the shot's own a key at this frame; raises as `set_keys` does."""
    return set_keys(state, own_numbers(state, host), host)


def let_go_of_own(state: BenchState, host: Host) -> BenchState:
    """Take all keys of the shot at this frame away."""
    return drop_keys(state, own_numbers(state, host), host)


def drop_keys(state: BenchState, paths: Iterable[str], host: Host) -> BenchState:
    """Take keys of settings at this frame away; a setting that has no other keeps the value for the whole shot."""
    shot = state.shot
    here = next((key for key in shot.keys if key.frame == state.frame), None) if shot else None
    dropped = {} if here is None else {path: here.settings[path] for path in paths if path in here.settings}
    if shot is None or here is None or not dropped:
        return state
    left = {path: value for path, value in here.settings.items() if path not in dropped}
    keys = (replace(key, settings=left) if key is here else key for key in shot.keys)
    without = replace(shot, keys=tuple(key for key in keys if _has_settings(key)))
    last = {path: value for path, value in dropped.items() if not keyed_frames(without, path)}
    return with_sheet(state, state.sheet.with_shot(replace(without, settings={**shot.settings, **last})), host)


def keyed_frames(shot: Shot | None, path: str) -> list[int]:
    """Return the frames at which a setting of a shot has keys."""
    return [] if shot is None else [key.frame for key in shot.keys if path in key.settings]


def move(state: BenchState, key: int, step: int) -> BenchState:
    """Move a rendition towards the front or the back of the order, as far as it goes."""
    slots = list(state.slots)
    index = slots.index(state.slot(key))
    target = min(max(index + step, 0), len(slots) - 1)
    if target == index:
        return state
    slots.insert(target, slots.pop(index))
    return replace(state, slots=tuple(slots))


def frame_of_shot(state: BenchState, step: int) -> int | None:
    """Return the first frame of the next shot, or of the one before; at the ends, and without shots, None."""
    if step > 0:
        return next((shot.first for shot in state.sheet.shots if shot.first > state.frame), None)
    shot = state.shot
    before = shot.first if shot else state.frame
    return next((shot.first for shot in reversed(state.sheet.shots) if shot.last < before), None)


def _has_settings(key: Key) -> bool:
    return bool(key.settings)
