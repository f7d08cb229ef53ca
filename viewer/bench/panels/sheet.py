"""The part of the panel on the trim sheet: the shot, the rendition that it takes, and whose the changes are."""

from collections.abc import Sequence

from .. import sheet_actions, sheet_keys, theme
from ..bench import Bench
from ..on_sheet import misfit, own_paths
from ..toolkit import imgui
from ..widgets import Widgets
from .rows import columns_of

AS_PROGRAMME = ""


def draw(bench: Bench, ui: Widgets) -> None:
    """Draw the rows; without a master there is nothing to take."""
    _buttons(bench, ui)
    state = bench.state
    if state.master is None or not state.slots:
        return
    shot, width = state.shot, imgui.get_content_region_avail().x
    words = ["Programme takes"] if shot is None else [f"Shot {shot.name} takes", f"{shot.name} takes"]
    _row_label(ui, "takes", words, "The rendition that is handed on: by render, lut, cdl (T)")
    chosen = ui.combo("takes", _options(bench), _taken(bench), width - columns_of(ui).label - 0.45 * ui.em)
    if chosen is not None:
        _take(bench, chosen)
    if shot is None:
        return
    _row_label(
        ui, "changes", ["Changes are of"], "Whether what is changed in the taken rendition is of this shot alone"
    )
    half = (imgui.get_content_region_avail().x - imgui.get_style().item_spacing.x) / 2.0
    everywhere = "What is changed in the taken rendition is changed in every shot that takes it (I)"
    here = "What is changed in the taken rendition is of this shot alone, and marked; the rendition stays (I)"
    if ui.button("all shots", "all shots", everywhere, is_on=not state.only_here, width=half):
        bench.do(sheet_actions.only_here, False)
    imgui.same_line()
    if ui.button("this shot", "this shot", here, is_on=state.only_here, width=half):
        bench.do(sheet_actions.only_here, True)
    own = own_paths(shot)
    if own:
        count = f"{len(own)} settings are" if len(own) > 1 else "1 setting is"
        frames = [key.frame for key in shot.keys]
        keys = f", with {'keys' if len(frames) > 1 else 'a key'} at {', '.join(map(str, frames))}" if frames else ""
        ui.text(f"{count} this shot's own{keys}", theme.grey(theme.TEXT_DIM), wraps=True)
        ui.help("\n".join(sorted(own)))
    if (sentence := misfit(state, bench.host)) is not None:
        ui.text(sentence, wraps=True)


def _buttons(bench: Bench, ui: Widgets) -> None:
    """Draw what is done with the sheet as a whole."""
    history = bench.keeping.work.history
    width = (imgui.get_content_region_avail().x - 3.0 * imgui.get_style().item_spacing.x) / 4.0
    for name, text, what, keys, action in (
        ("undo", "Undo", history.undo_what, "Ctrl Z", bench.undo),
        ("redo", "Redo", history.redo_what, "Ctrl Shift Z", bench.redo),
    ):
        imgui.begin_disabled(what is None)
        if ui.button(name, text, f"{what} ({keys})", width=width):
            action()
        imgui.end_disabled()
        imgui.same_line()
    if ui.button("save as", "Save as", "Give the trim sheet a name; it saves itself (Ctrl S)", width=width):
        sheet_keys.save_as(bench)
    imgui.same_line()
    if ui.button("hand on", "Hand on", "Stills, LUT, CDL, render (Ctrl E)", width=width):
        sheet_keys.hand_on(bench)


def _row_label(ui: Widgets, name: str, words: Sequence[str], help_text: str) -> None:
    """Write a row's label; where no wording fits, the last word of the last one stays, and the help has the first."""
    imgui.align_text_to_frame_padding()
    width = columns_of(ui).label
    shown = ui.fitting(words, width)
    if shown not in words:
        rest, _, last = words[-1].rpartition(" ")
        shown = f"{ui.fitting([rest], width - ui.width_of(f' {last}'))} {last}"
        help_text = f"{words[0]}. {help_text}"
    ui.label(name, shown, help_text, width)
    imgui.same_line()


def _options(bench: Bench) -> dict[str, tuple[str, str]]:
    state = bench.state
    names = {str(slot.key): (slot.rendition.name, "") for slot in state.slots}
    default = state.sheet.default_rendition
    if state.shot is None:
        return {AS_PROGRAMME: ("nothing yet", ""), **names} if state.taken is None else names
    return {AS_PROGRAMME: (f"the programme's, {default}" if default else "nothing yet", ""), **names}


def _taken(bench: Bench) -> str:
    state = bench.state
    if state.taken is None or (state.shot is not None and state.shot.rendition is None):
        return AS_PROGRAMME
    return str(state.taken)


def _take(bench: Bench, chosen: str) -> None:
    if chosen == AS_PROGRAMME:
        sheet_keys.take_default(bench)
    else:
        bench.do(sheet_actions.take, int(chosen), bench.host)
