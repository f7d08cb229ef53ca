"""The sheet of samples: the last clicks as a small table, to read and to copy."""

from .. import theme
from ..bench import Bench
from ..probe import Sample
from ..samples import MOST, text_of
from ..toolkit import imgui
from ..widgets import Widgets
from ..wording import NITS

TITLE = "Samples"
PLACE, COLUMN = 9.0, 8.0  # in units of the type


def draw(bench: Bench, ui: Widgets) -> None:
    """Draw the sheet while it is open; Esc or the button closes it."""
    if not bench.shown.samples:
        return
    names = _names(bench.samples)
    needed = (PLACE + COLUMN * (len(names) + 1)) * ui.em
    with ui.popup(TITLE, min(max(needed + 3.0 * ui.em, 30.0 * ui.em), 70.0 * ui.em)) as is_open:
        if not is_open:
            return
        ui.text(
            f"The last {MOST} clicks on a picture: {NITS}, and Delta E ITP to the master where SDR can show it."
            if bench.samples
            else "Click on a picture: what is there in every tile is kept here.",
            theme.grey(0.72),
            wraps=True,
        )
        if bench.samples:
            height = (len(bench.samples) + 1) * imgui.get_text_line_height_with_spacing() + 0.9 * ui.em
            imgui.set_next_window_content_size((needed, 0.0))
            imgui.begin_child("table", (0.0, height), 0, imgui.WindowFlags_.horizontal_scrollbar)
            imgui.begin_group()
            _table(ui, bench.samples, names)
            imgui.end_group()
            ui.place("samples row")
            imgui.end_child()
            ui.place("samples table")
        imgui.dummy((0.0, 0.3 * ui.em))
        imgui.begin_disabled(not bench.samples)
        if ui.button("copy samples", "Copy as text", "With code values and hue, for a spreadsheet", width=9.0 * ui.em):
            imgui.set_clipboard_text(text_of(bench.samples))
        imgui.same_line()
        if ui.button("clear samples", "Clear", width=6.0 * ui.em):
            bench.samples = []
        imgui.end_disabled()
        imgui.same_line()
        if ui.button("close samples", "Close", width=6.0 * ui.em) or ui.is_left():
            bench.shown.samples = False
            imgui.close_current_popup()


def _names(samples: list[Sample]) -> list[str]:
    """Return the renditions that there are samples of, in the order in which they were met."""
    return list(dict.fromkeys(name for sample in samples for name, _ in sample.renditions))


def _table(ui: Widgets, samples: list[Sample], names: list[str]) -> None:
    _row(ui, ["x  y", "master", *names], theme.grey(0.72), is_bold=True)
    for sample in reversed(samples):
        found = dict(sample.renditions)
        cells = [f"{sample.column}  {sample.row}", f"{sample.master.luminance:.4g}"]
        for name in names:
            reading = found.get(name)
            if reading is None:
                cells.append("")
                continue
            difference = "" if reading.difference is None else f"   \u0394E {reading.difference:.1f}"
            cells.append(f"{reading.luminance:.4g}{difference}")
        _row(ui, cells, theme.grey(theme.TEXT))


def _row(ui: Widgets, cells: list[str], colour: theme.Colour, is_bold: bool = False) -> None:
    for index, cell in enumerate(cells):
        if index:
            imgui.same_line((PLACE + COLUMN * (index - 1)) * ui.em)
        width = PLACE if index == 0 else COLUMN
        ui.text(ui.fitting([cell], (width - 0.6) * ui.em, is_bold) or " ", colour, is_bold=is_bold)
