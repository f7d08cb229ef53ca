"""The state of the bench as immutable snapshots, and the actions on it: each returns a new state.

Plain Python, no GL and no imgui. An action that can't be done raises WrongCall with the sentence for the user.
"""

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from tonemap.anchors import anchors_of, match_anchor
from tonemap.encoding import Encoding
from tonemap.errors import WrongCall
from tonemap.host import Host, checked_value
from tonemap.measure.patches import Patch
from tonemap.media.master import Facts, Frame
from tonemap.monitor import Monitor
from tonemap.operator import GAMUT, TONE, Statistics
from tonemap.picture import Picture
from tonemap.rendition import Rendition, chain_of
from tonemap.settings import settings_of, with_setting
from tonemap.shots import Shot
from tonemap.trim_sheet import TrimSheet

from .layout import WHOLE, View
from .showing import Key, Showing

SDR_SCREEN = Monitor()
SHOWN_AT_FIRST = Showing()
EMPTY = TrimSheet()

ANCHOR_TOLERANCE = 0.02
"""Relative; a matched anchor that misses by more is out of the exposure's reach."""


@dataclass(frozen=True)
class Master:
    """The frame on the bench, and what is known of the still, the sequence or the movie that it is of."""

    facts: Facts
    frame: Frame

    @property
    def path(self) -> Path:
        """What was opened."""
        return self.facts.path

    @property
    def encoding(self) -> Encoding:
        """The encoding of the frame."""
        return self.frame.encoding

    @property
    def pixels(self) -> Picture | None:
        """The frame's samples; None until the thread that reads has made them of a movie's planes."""
        return None if self.frame.is_coded else self.frame.picture

    @property
    def picture(self) -> Picture:
        """The frame's samples; those of a movie's frame are made of its planes, which takes some time, once."""
        return self.frame.picture


@dataclass(frozen=True)
class Slot:
    """A rendition with a key that stays the same while the rendition changes."""

    key: int
    rendition: Rendition


@dataclass(frozen=True)
class BenchState:
    """All that the bench shows.

    Attributes
    ----------
    selected : key of the slot that the panel shows; None when there is none
    monitor : what the bench believes the screen to be; a setting of the user, and no part of the work
    window : cd/m2 of the master that an SDR monitor's white stands for, on the master's tile
    showing : the layout and what it shows
    patches, patch : the marked regions, and the place of the chosen one among them
    sheet : the trim sheet, whose renditions are those of the slots (see `on_sheet`)
    frame : of the programme, from 0; the shot is the one that it belongs to
    only_here : whether what is changed in the rendition that the shot takes is the shot's own
    """

    master: Master | None = None
    slots: tuple[Slot, ...] = ()
    selected: int | None = None
    view: View = WHOLE
    monitor: Monitor = SDR_SCREEN
    window: float = SDR_SCREEN.peak
    showing: Showing = SHOWN_AT_FIRST
    patches: tuple[Patch, ...] = ()
    patch: int | None = None
    sheet: TrimSheet = EMPTY
    frame: int = 0
    only_here: bool = False
    next_key: int = field(default=1, compare=False)

    @property
    def selected_slot(self) -> Slot | None:
        """The slot that the panel shows."""
        return next((slot for slot in self.slots if slot.key == self.selected), None)

    @property
    def shot(self) -> Shot | None:
        """The shot that is shown; None between shots and where there are none."""
        return self.sheet.shot_at(self.frame)

    @property
    def taken(self) -> int | None:
        """The key of the rendition that is taken here: by the shot, or by the programme."""
        name = self.sheet.taken_at(self.frame)
        return next((slot.key for slot in self.slots if slot.rendition.name == name), None)

    @property
    def chosen_patch(self) -> Patch | None:
        """The patch whose figures are shown."""
        return None if self.patch is None else self.patches[self.patch]

    @property
    def keys(self) -> tuple[Key, ...]:
        """All pictures: the master, then the renditions."""
        return (None, *(slot.key for slot in self.slots))

    def slot(self, key: int) -> Slot:
        """Return a slot by key; raises WrongCall when it is gone."""
        found = next((slot for slot in self.slots if slot.key == key), None)
        if found is None:
            raise WrongCall("that rendition is no longer on the bench")
        return found


def with_renditions(state: BenchState, renditions: tuple[Rendition, ...]) -> BenchState:
    """Put renditions on the bench instead of those that are there."""
    slots = tuple(Slot(state.next_key + index, rendition) for index, rendition in enumerate(renditions))
    selected = slots[0].key if slots else None
    return replace(state, slots=slots, selected=selected, next_key=state.next_key + len(slots))


def with_master(state: BenchState, master: Master) -> BenchState:
    """Put another master on the bench; the renditions stay, the view goes back to the whole picture."""
    return replace(state, master=master, view=WHOLE, window=min(state.monitor.peak, master.encoding.peak))


def with_frame(state: BenchState, master: Master) -> BenchState:
    """Show another frame of what is on the bench; all else stays."""
    return replace(state, master=master)


def with_view(state: BenchState, view: View) -> BenchState:
    """Show another part of the picture."""
    return replace(state, view=view)


def with_showing(state: BenchState, showing: Showing) -> BenchState:
    """Show the pictures in another way."""
    return replace(state, showing=showing)


def with_window(state: BenchState, nits: float) -> BenchState:
    """Choose up to what light the master's tile shows the master on an SDR monitor."""
    white = state.monitor.peak
    peak = state.master.encoding.peak if state.master else white
    return replace(state, window=min(max(nits, min(white, peak)), max(peak, white)))


def with_monitor(state: BenchState, monitor: Monitor) -> BenchState:
    """Draw for another monitor; a window that was its white is that of the new one."""
    was_plain = state.window == state.monitor.peak
    return with_window(replace(state, monitor=monitor), monitor.peak if was_plain else state.window)


def select(state: BenchState, key: int) -> BenchState:
    """Show a rendition in the panel."""
    return replace(state, selected=state.slot(key).key)


def select_step(state: BenchState, step: int) -> BenchState:
    """Select the next or the previous rendition, around the end."""
    keys = [slot.key for slot in state.slots]
    if not keys:
        return state
    index = keys.index(state.selected) if state.selected in keys else -max(step, 0)
    return replace(state, selected=keys[(index + step) % len(keys)])


def add(state: BenchState, rendition: Rendition) -> BenchState:
    """Put a rendition after the others, under a name of its own, and select it."""
    return _inserted(state, len(state.slots), rendition)


def duplicate(state: BenchState, key: int) -> BenchState:
    """Put a copy of a rendition after it, and select the copy."""
    slot = state.slot(key)
    return _inserted(state, state.slots.index(slot) + 1, slot.rendition)


def remove(state: BenchState, key: int) -> BenchState:
    """Take a rendition off the bench; the one that takes its place is selected."""
    index = state.slots.index(state.slot(key))
    slots = state.slots[:index] + state.slots[index + 1 :]
    neighbour = slots[min(index, len(slots) - 1)].key if slots else None
    return replace(state, slots=slots, selected=neighbour if state.selected == key else state.selected)


def put_back(state: BenchState, before: BenchState) -> BenchState:
    """Put the renditions that were on the bench before, and are not now, back where they were."""
    here = {slot.key: slot for slot in state.slots}
    were = {slot.key for slot in before.slots}
    slots = [here.get(slot.key, slot) for slot in before.slots]
    slots += [slot for slot in state.slots if slot.key not in were]
    gone = next((slot.key for slot in before.slots if slot.key not in here), state.selected)
    return replace(state, slots=tuple(slots), selected=gone)


def rename(state: BenchState, key: int, name: str) -> BenchState:
    """Give a rendition another name; raises WrongCall when it has none or it is taken."""
    name = name.strip()
    if not name:
        raise WrongCall("a rendition needs a name; type one")
    if any(slot.rendition.name == name and slot.key != key for slot in state.slots):
        raise WrongCall(f"another rendition is called '{name}'; choose another name")
    return with_rendition(state, key, replace(state.slot(key).rendition, name=name))


def with_rendition(state: BenchState, key: int, rendition: Rendition) -> BenchState:
    """Put a changed rendition in its slot."""
    old = state.slot(key)
    return replace(
        state, slots=tuple(replace(slot, rendition=rendition) if slot is old else slot for slot in state.slots)
    )


def set_setting(state: BenchState, key: int, path: str, value: Any, host: Host) -> BenchState:
    """Change one setting of a rendition by its path; raises WrongCall for a value that is not allowed."""
    return with_rendition(state, key, with_setting(state.slot(key).rendition, path, value, host))


def reset_setting(state: BenchState, key: int, path: str, host: Host) -> BenchState:
    """Give one setting its default back."""
    rendition = state.slot(key).rendition
    plain = settings_of(Rendition(rendition.name, rendition.tone, rendition.gamut), host)
    return set_setting(state, key, path, plain[path], host)


def choose_operator(state: BenchState, key: int, stage: str, name: str, host: Host) -> BenchState:
    """Choose the tone or the gamut operator; a parameter that both have keeps its value where it is allowed."""
    rendition = state.slot(key).rendition
    operator = host.get(name, {"tone": TONE, "gamut": GAMUT}[stage])
    kept = {}
    for parameter, value in getattr(rendition, f"{stage}_settings").items():
        try:
            kept[parameter] = checked_value(operator, parameter, value)
        except WrongCall:
            continue  # the other operator has no such parameter, or not that value
    settings: dict[str, Any] = {stage: name, f"{stage}_settings": kept}
    return with_rendition(state, key, replace(rendition, **settings))


def match_grey(state: BenchState, key: int, other: int, host: Host, statistics: Statistics | None = None) -> BenchState:
    """Set the exposure of one rendition so that its 18 % grey lands where another has it.

    Parameters
    ----------
    statistics : of the shot, for operators that need them

    Raises
    ------
    WrongCall
        Without a master, and when the exposure's range does not reach.
    """
    if state.master is None:
        raise WrongCall("matching needs a master; open one first")
    encoding = state.master.encoding
    wanted = anchors_of(chain_of(state.slot(other).rendition, encoding, host, statistics))[0].nits
    chain = chain_of(state.slot(key).rendition, encoding, host, statistics)
    matched = match_anchor(chain.rendition, chain, wanted)
    reached = anchors_of(replace(chain, rendition=matched))[0].nits
    if abs(reached - wanted) > ANCHOR_TOLERANCE * wanted:
        raise WrongCall(
            f"'{chain.rendition.name}' can't put its grey at {wanted:.3g} cd/m\u00b2: the nearest that exposure "
            f"reaches is {reached:.3g}; choose other settings"
        )
    return with_rendition(state, key, replace(state.slot(key).rendition, input=matched.input))


def free_name(state: BenchState, name: str) -> str:
    """Return the name, or the name with the first number that makes it one of its own."""
    taken = {slot.rendition.name for slot in state.slots}
    if name not in taken:
        return name
    stem, _, number = name.rpartition(" ")
    stem = stem if stem and number.isdigit() else name
    return next(f"{stem} {count}" for count in range(2, len(taken) + 3) if f"{stem} {count}" not in taken)


def _inserted(state: BenchState, index: int, rendition: Rendition) -> BenchState:
    slot = Slot(state.next_key, replace(rendition, name=free_name(state, rendition.name)))
    slots = (*state.slots[:index], slot, *state.slots[index:])
    return replace(state, slots=slots, selected=slot.key, next_key=state.next_key + 1)
