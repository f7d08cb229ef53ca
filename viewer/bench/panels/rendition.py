"""The panel: the selected rendition with its curve, and every setting of its chain."""

import inspect
from dataclasses import replace
from typing import Any

from tonemap.operator import Choice, Operator, Parameter, Switch
from tonemap.rendition import Rendition
from tonemap.settings import INPUT_PARAMETERS, OUTPUT_PARAMETERS, settings_of

from .. import input as hands
from .. import state as actions
from .. import theme
from ..bench import Bench
from ..layout import Rect
from ..on_sheet import own_paths
from ..operators import OperatorTitles, missing_operator
from ..sheet_actions import drop_keys, drop_own, keyed_frames, set_keys
from ..state import Slot
from ..toolkit import imgui
from ..widgets import Widgets
from . import curve, sheet
from .rows import Change, Keys, choice_row, columns_of, number_row, switch_row

FLAGS = imgui.WindowFlags_.no_scrollbar | imgui.WindowFlags_.no_scroll_with_mouse
TARGET_PEAK = Parameter(
    name="peak",
    unit="cd/m2",
    default=100.0,
    minimum=48.0,
    maximum=400.0,
    scale="log",
    help="White of the display that the rendition is made for (Lw).",
)
CHANNELS = ("red", "green", "blue")
LEAST_ROOM_FOR_CURVE = 30.0  # in units of the type


def draw(bench: Bench, ui: Widgets, area: Rect) -> None:
    """Draw the panel; the settings scroll, and in a low window the curve scrolls with them."""
    with ui.window("panel", area, FLAGS):
        slot = bench.state.selected_slot
        sheet.draw(bench, ui)
        _heading(bench, ui, slot)
        if slot is None:
            return
        is_low = area.height < LEAST_ROOM_FOR_CURVE * ui.em
        if not is_low:
            curve.draw(bench, ui)
        imgui.begin_child("settings", (0.0, 0.0), 0, 0)
        if is_low:
            curve.draw(bench, ui)
        _settings(bench, ui, slot)
        imgui.end_child()


def _heading(bench: Bench, ui: Widgets, slot: Slot | None) -> None:
    width = imgui.get_content_region_avail().x
    if slot is not None:
        if bench.shown.is_naming:
            ui.focus("name")
            bench.shown.is_naming = False
        with ui.weight(is_bold=True):
            name = ui.typed("name", slot.rendition.name, width)
        ui.help("The rendition's name; click to change it (N)")
        if name is not None:
            bench.do(actions.rename, slot.key, name)
    third = (width - 2.0 * imgui.get_style().item_spacing.x) / 3.0
    if ui.button("add", "Add", "Put another rendition on the bench (A)", width=third):
        hands.add_rendition(bench)
    if slot is None:
        ui.text("There is no rendition on the bench.", theme.grey(theme.TEXT_DIM), wraps=True)
        return
    imgui.same_line()
    if ui.button("duplicate", "Duplicate", "Copy this rendition (D)", width=third):
        hands.duplicate_rendition(bench)
    imgui.same_line()
    if ui.button("remove", "Remove", "Take this rendition off the bench (Delete)", width=third):
        hands.remove_rendition(bench)
    imgui.dummy((0.0, 0.2 * ui.em))


def _settings(bench: Bench, ui: Widgets, slot: Slot) -> None:
    rendition = slot.rendition
    if (missing := missing_operator(rendition, bench.host)) is not None:
        ui.text(missing, wraps=True)
        return
    values = settings_of(rendition, bench.host)
    defaults = settings_of(Rendition(rendition.name, rendition.tone, rendition.gamut), bench.host)

    own = frozenset(own_paths(bench.state.shot)) if slot.key == bench.state.taken else frozenset[str]()

    def set_value(path: str, value: Any) -> None:
        if value is None and path in own:
            bench.do(drop_own, path, bench.host)
        else:
            bench.set(path, defaults[path] if value is None else value)

    change = Change(set_value, own, _keys(bench, slot))
    ui.section("Input")
    _match(bench, ui, slot)
    for parameter in INPUT_PARAMETERS:
        number_row(ui, f"input.{parameter.name}", parameter, values[f"input.{parameter.name}"], change)
    for stage in ("tone", "gamut"):
        ui.section(stage.capitalize())
        _operator(bench, ui, slot, stage, values, change)
    ui.section("Output")
    for parameter in OUTPUT_PARAMETERS:
        if parameter.name == "saturation":
            number_row(ui, "output.saturation", parameter, values["output.saturation"], change)
        else:
            _triple(bench, ui, parameter, values[f"output.{parameter.name}"], change)
    ui.section("Target")
    number_row(ui, "target.peak", TARGET_PEAK, values["target.peak"], change)
    ui.text(rendition.target.title.rpartition(", peak")[0], theme.grey(theme.TEXT_DIM), wraps=True)


def _keys(bench: Bench, slot: Slot) -> Keys | None:
    """Return the keys of the shot that takes the rendition; one frame alone needs none."""
    shot, frame = bench.state.shot, bench.state.frame
    if shot is None or shot.count < 2 or slot.key != bench.state.taken:
        return None
    frames = {path: keyed_frames(shot, path) for path in own_paths(shot)}

    def toggle(path: str) -> None:
        bench.do(drop_keys if frame in frames.get(path, ()) else set_keys, [path], bench.host)

    return Keys(toggle, frames, frame)


def _operator(bench: Bench, ui: Widgets, slot: Slot, stage: str, values: dict[str, Any], change: Change) -> None:
    operator: Operator = bench.host.get(getattr(slot.rendition, stage), stage)
    chosen = ui.combo(stage, OperatorTitles(bench.host, stage), operator.name, imgui.get_content_region_avail().x)
    ui.help(f"{_unwrapped(inspect.getdoc(operator) or '')}\n\n{operator.source}")
    if chosen is not None:
        bench.do(actions.choose_operator, slot.key, stage, chosen, bench.host)
        return
    for parameter in operator.parameters:
        path = f"{stage}.{parameter.name}"
        if isinstance(parameter, Choice):
            choice_row(ui, path, parameter, values[path], change)
        elif isinstance(parameter, Switch):
            switch_row(ui, path, parameter, values[path], change)
        else:
            number_row(ui, path, parameter, values[path], change)


def _unwrapped(text: str) -> str:
    """Join the lines of paragraphs: the sheet breaks them where it ends."""
    return "\n\n".join(" ".join(paragraph.split()) for paragraph in text.split("\n\n"))


def _triple(
    bench: Bench,
    ui: Widgets,
    parameter: Parameter,
    value: tuple[float, float, float],
    change: Change,
) -> None:
    """Draw one track for all three channels, and one for each when they are unfolded."""
    path = f"output.{parameter.name}"
    is_unfolded = parameter.name in bench.shown.unfolded
    mean = sum(value) / 3.0

    def change_all(path: str, new: Any) -> None:
        if new is None or isinstance(new, str):
            change(path, new)
            return
        moved = [min(max(item + new - mean, parameter.minimum), parameter.maximum) for item in value]
        change(path, tuple(moved))

    shown = None if len(set(value)) == 1 else ", ".join(f"{item:.2f}" for item in value)
    if number_row(
        ui,
        path,
        parameter,
        mean,
        replace(change, set=change_all),
        is_changed=set(value) != {parameter.default},
        shown=shown,
        unit="rgb",
    ):
        bench.shown.unfolded ^= {parameter.name}
    if not is_unfolded:
        return
    for index, channel in enumerate(CHANNELS):

        def change_one(path: str, new: Any, index: int = index) -> None:
            new = parameter.default if new is None else new
            change(path.rpartition(".")[0], tuple(new if item == index else old for item, old in enumerate(value)))

        number_row(
            ui, f"{path}.{channel}", parameter, value[index], Change(change_one, keys=change.keys), channel=channel
        )


def _match(bench: Bench, ui: Widgets, slot: Slot) -> None:
    """Draw the action that sets the exposure so that 18 % grey lands where another rendition has it."""
    others = {str(other.key): (other.rendition.name, "") for other in bench.state.slots if other.key != slot.key}
    if not others or bench.state.master is None:
        return
    width = imgui.get_content_region_avail().x
    imgui.align_text_to_frame_padding()
    help_text = "Sets this rendition's exposure so that 18 % grey (26 cd/m²) lands where the other rendition has it."
    ui.label("match", "Match grey to", help_text, columns_of(ui).label)
    imgui.same_line()
    chosen = ui.combo(
        "match", {"": ("choose a rendition", ""), **others}, "", width - columns_of(ui).label - 0.45 * ui.em
    )
    if chosen:
        bench.match_grey(slot.key, int(chosen))
