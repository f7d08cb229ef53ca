"""The help sheet: every key and what the mouse does, on one sheet."""

from dataclasses import replace

from .. import theme
from ..bench import Bench
from ..input import KEYS, MOUSE
from ..sheet_keys import CONTROL_KEYS
from ..toolkit import imgui
from ..widgets import Widgets

TITLE = "Keys and hands"


def draw(bench: Bench, ui: Widgets) -> None:
    """Draw the sheet while it is open; Esc, F1 or the button closes it."""
    if not bench.shown.help:
        return
    with ui.popup(TITLE, 44.0 * ui.em, 36.0 * ui.em) as is_open:
        if not is_open:
            return
        imgui.begin_child("keys", (0.0, -2.4 * ui.em), 0, 0)
        rows = [(key.shown, key.help) for key in KEYS if key.help]
        rows += [(key.shown, key.help) for key in CONTROL_KEYS if key.help]
        for shown, words in (*rows, ("", ""), *MOUSE):
            ui.text(shown or " ", theme.grey(theme.TEXT), is_bold=True)
            imgui.same_line(17.0 * ui.em)
            ui.text(words, theme.grey(0.72), wraps=True)
        imgui.end_child()
        if ui.button("close help", "Close", width=6.0 * ui.em) or imgui.is_key_pressed(imgui.Key.escape):
            bench.shown = replace(bench.shown, help=False)
            imgui.close_current_popup()
