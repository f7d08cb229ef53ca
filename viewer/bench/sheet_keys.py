"""The keys of the trim sheet, and all that are pressed with Ctrl. No GL and no imgui."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from . import sheet_actions
from .bench import Bench
from .preferences import step_size


@dataclass(frozen=True)
class ControlKey:
    """A key that is pressed with Ctrl; `shift` says whether with Shift too."""

    name: str
    shift: bool
    shown: str
    help: str
    action: Callable[[Bench], object]


def take(bench: Bench, _size: tuple[int, int] = (0, 0)) -> None:
    """Let the shot at hand, or the programme, take the selected rendition; what goes with the old one is said."""
    key = bench.state.selected
    if key is None:
        return
    before = bench.state
    if bench.do(sheet_actions.take, key, bench.host):
        _say_lost(bench, before.shot.name if before.shot else "", len(sheet_actions.lost_by_taking(before, key)))


def take_default(bench: Bench, _size: tuple[int, int] = (0, 0)) -> None:
    """Let the shot at hand take the programme's rendition."""
    bench.do(sheet_actions.take_default, bench.host)


def only_here(bench: Bench, _size: tuple[int, int] = (0, 0)) -> None:
    """Let changes of the taken rendition be of this shot alone, or of all shots that take it."""
    bench.do(sheet_actions.only_here, not bench.state.only_here)


def hold_own(bench: Bench) -> None:
    """Give every number of the shot's own a key at this frame."""
    if bench.do(sheet_actions.hold_own, bench.host):
        held = sheet_actions.own_numbers(bench.state, bench.host)
        bench.said = f"a key at frame {bench.state.frame}: {', '.join(held)}"


def let_go_of_own(bench: Bench) -> None:
    """Take all keys at this frame away."""
    bench.do(sheet_actions.let_go_of_own, bench.host)


def move(step: int) -> Callable[[Bench], None]:
    """Return the action that moves the selected rendition in the order."""

    def moved(bench: Bench) -> None:
        if bench.state.selected is not None:
            bench.do(sheet_actions.move, bench.state.selected, step)

    return moved


def save_as(bench: Bench) -> None:
    """Ask for a name to save the sheet under."""
    bench.shown = replace(bench.shown, saving=True)


def size(step: int) -> Callable[[Bench], None]:
    """Return the action that sizes the interface."""
    return lambda bench: step_size(bench, step)


def hand_on(bench: Bench, _size: tuple[int, int] = (0, 0)) -> None:
    """Open the sheet from which everything is handed on."""
    bench.shown = replace(bench.shown, handing=True)


CONTROL_KEYS = (
    ControlKey("z", False, "Ctrl Z", "undo the last change of the trim sheet", Bench.undo),
    ControlKey("z", True, "Ctrl Shift Z  Ctrl Y", "do again what was undone", Bench.redo),
    ControlKey("y", False, "", "", Bench.redo),
    ControlKey("s", False, "Ctrl S", "give the trim sheet a name, or another one; it saves itself", save_as),
    ControlKey("e", False, "Ctrl E", "hand on: stills, LUT, CDL, render; and what is under way", hand_on),
    ControlKey(
        "k", False, "Ctrl K  Ctrl Shift K", "a key at this frame for what is the shot's own; take it away", hold_own
    ),
    ControlKey("k", True, "", "", let_go_of_own),
    ControlKey("left_arrow", False, "Ctrl and an arrow", "move the selected rendition in the order", move(-1)),
    ControlKey("right_arrow", False, "", "", move(1)),
    ControlKey(
        "equal", False, "Ctrl +  Ctrl \u2212  Ctrl 0", "the interface larger, smaller, as the system wants it", size(1)
    ),
    ControlKey("equal", True, "", "", size(1)),
    ControlKey("keypad_add", False, "", "", size(1)),
    ControlKey("minus", False, "", "", size(-1)),
    ControlKey("keypad_subtract", False, "", "", size(-1)),
    ControlKey("_0", False, "", "", size(0)),
)


def press_with_control(bench: Bench, name: str, *, shift: bool) -> bool:
    """Do what a key does with Ctrl; returns whether it does anything."""
    key = next((key for key in CONTROL_KEYS if (key.name, key.shift) == (name, shift)), None)
    if key is not None:
        key.action(bench)
    return key is not None


def _say_lost(bench: Bench, shot: str, count: int) -> None:
    if count:
        values = "a value" if count == 1 else f"{count} values"
        bench.said = f"shot {shot} had {values} of its own on the other rendition; Ctrl Z brings it all back"
