"""Rows of settings: a name, a track or a list, a field to type in, the unit, and the mark of a changed one."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tonemap.operator import Choice, Parameter, Switch

from .. import theme
from ..scales import shown_value, typed_number
from ..toolkit import imgui
from ..widgets import RESET, Widgets

MARK = 0.8  # width of a mark's column, in units of the type


@dataclass(frozen=True)
class Keys:
    """The keys of the shot at hand.

    Attributes
    ----------
    toggle : sets a setting's key at this frame, or takes it away
    frames : of the keys by their settings' paths
    frame : that is shown
    """

    toggle: Callable[[str], None]
    frames: Mapping[str, Sequence[int]]
    frame: int


@dataclass(frozen=True)
class Change:
    """What a row does with a new value.

    Attributes
    ----------
    set : called with a path and a value; with None for the default, or for the rendition's value where the shot has its
        own
    own : paths of the settings that are the shot's own
    keys : None where nothing can have keys
    """

    set: Callable[[str, Any], None]
    own: frozenset[str] = frozenset()
    keys: Keys | None = None

    def __call__(self, path: str, value: Any) -> None:
        """Set a value."""
        self.set(path, value)


@dataclass(frozen=True)
class Columns:
    """Widths of a row's columns, in pixels."""

    label: float
    track: float
    field: float
    unit: float


def columns_of(ui: Widgets, *, has_posts: bool = False) -> Columns:
    """Return the columns for the room that there is, of which posts take a column too."""
    gaps = 4.0 * imgui.get_style().item_spacing.x
    label, field, unit, mark = 6.3 * ui.em, 3.6 * ui.em, 2.7 * ui.em, (2.0 if has_posts else 1.0) * MARK * ui.em
    track = max(imgui.get_content_region_avail().x - label - field - unit - mark - gaps, 3.0 * ui.em)
    return Columns(label, track, field, unit)


def title_of(name: str) -> str:
    """Return a declared name as a screen shows it."""
    return name.replace("_", " ").replace("rgb", "RGB").capitalize().replace("rgb", "RGB")


def number_row(
    ui: Widgets,
    path: str,
    parameter: Parameter,
    value: float,
    change: Change,
    *,
    channel: str | None = None,
    is_changed: bool | None = None,
    shown: str | None = None,
    unit: str | None = None,
) -> bool:
    """Draw a number, or one channel of three; returns whether its unit, a button where `unit` is given, was clicked."""
    columns = columns_of(ui, has_posts=change.keys is not None)
    help_text = f"{parameter.help}\n{parameter.range_text}, default {parameter.default:g}".replace("cd/m2", "cd/m²")
    changed = value != parameter.default if is_changed is None else is_changed
    name = title_of(channel or parameter.name)
    is_reset = ui.label(path, name, help_text, columns.label, indent=ui.em if channel else 0.0, is_dim=bool(channel))
    imgui.same_line()
    moved = ui.track(path, parameter, value, columns.track)
    imgui.same_line()
    typed = ui.typed(f"field {path}", shown or shown_value(parameter, value), columns.field)
    ui.help("" if shown is None else shown)
    imgui.same_line()
    is_clicked = False
    if unit is None:
        imgui.align_text_to_frame_padding()
        ui.text(parameter.unit.replace("cd/m2", "cd/m²") or " ", theme.grey(theme.TEXT_DIM))
    else:
        is_clicked = ui.button(f"unfold {path}", unit, "Show the three channels, or only all of them together")
    is_own = path in change.own
    if change.keys is not None and channel is None and not path.startswith("target."):
        _key_mark(ui, path, change.keys)
    is_reset = _mark(ui, path, changed, f"{parameter.default:g}", is_own) or is_reset or moved is RESET
    if is_reset:
        change(path, None)
    elif moved is not None:
        change(path, moved)
    elif typed is not None:
        change(path, typed if unit else typed_number(typed, parameter.unit))  # in a triple a comma parts the channels
    return is_clicked


def choice_row(ui: Widgets, path: str, choice: Choice, value: str, change: Change) -> None:
    """Draw a choice as a list with the help of every option."""
    columns = columns_of(ui, has_posts=change.keys is not None)
    is_reset = ui.label(path, title_of(choice.name), choice.help, columns.label)
    imgui.same_line()
    options = {name: (title_of(name), text) for name, text in choice.options.items()}
    gaps = 2.0 * imgui.get_style().item_spacing.x
    width = columns.track + columns.field + columns.unit + gaps
    chosen = ui.combo(path, options, value, width)
    ui.help(choice.options[value])
    is_reset = _mark(ui, path, value != choice.default, title_of(choice.default), path in change.own) or is_reset
    if is_reset or chosen is not None:
        change(path, None if is_reset else chosen)


def switch_row(ui: Widgets, path: str, switch: Switch, value: bool, change: Change) -> None:
    """Draw a switch as a check box."""
    is_reset = ui.label(path, title_of(switch.name), switch.help, columns_of(ui).label)
    imgui.same_line()
    is_switched, on = imgui.checkbox(f"##{path}", value)
    ui.place(path)
    ui.help(switch.help)
    default = "on" if switch.default else "off"
    is_reset = _mark(ui, path, value != switch.default, default, path in change.own) or is_reset
    if is_reset or is_switched:
        change(path, None if is_reset else on)


def _key_mark(ui: Widgets, path: str, keys: Keys) -> None:
    """Draw the post of a setting's key at this frame: lit where there is one, dim where there are only others."""
    frames = keys.frames.get(path, ())
    is_here = keys.frame in frames
    imgui.same_line()
    right = imgui.get_cursor_pos_x() + imgui.get_content_region_avail().x
    imgui.set_cursor_pos_x(right - 2.0 * MARK * ui.em)
    others = f"Keys at frames {', '.join(map(str, frames))}; between two the value runs evenly.\n" if frames else ""
    what = "Take the key at this frame away" if is_here else "Set a key at this frame; with a second one the value runs"
    if ui.post(path, f"{others}{what}", level=2 if is_here else 1 if frames else 0):
        keys.toggle(path)


def _mark(ui: Widgets, path: str, is_changed: bool, default: str, is_own: bool) -> bool:
    """Draw the mark of a changed setting at the row's end: a dot, or a square where it is the shot's own."""
    if not is_changed and not is_own:
        return False
    imgui.same_line()
    right = imgui.get_cursor_pos_x() + imgui.get_content_region_avail().x
    imgui.set_cursor_pos_x(right - MARK * ui.em)
    back = "This shot's own. Back to the rendition's value" if is_own else f"Back to {default}"
    return ui.reset_mark(path, f"{back}; so does a double click on the name", is_square=is_own)
