"""The caution before a very bright pattern, with how bright it is."""

from tonemap.encoding import Encoding
from tonemap.line_up.brightness import RULE
from tonemap.line_up.patterns import CAUTION, PATTERNS, brightness_of

from .. import theme
from ..bench import Bench
from ..toolkit import imgui
from ..widgets import Widgets

TITLE = "A very bright pattern comes next"


def draw(bench: Bench, ui: Widgets, screen: Encoding) -> None:
    """Draw the caution where one is due; Enter or the button shows the pattern, the arrows go past it."""
    line_up = bench.line_up
    if not line_up.asks(screen) and not imgui.is_popup_open(TITLE):
        return
    with ui.popup(TITLE, 34.0 * ui.em) as is_open:
        if not is_open:
            return
        if line_up.name is None or not line_up.asks(screen):
            imgui.close_current_popup()
            return
        ui.text(PATTERNS[line_up.name].title, is_bold=True)
        ui.text(brightness_of(line_up.name, screen).words.capitalize())
        ui.text(CAUTION, theme.grey(0.72), wraps=True)
        ui.text(RULE, theme.grey(theme.TEXT_DIM), wraps=True)
        imgui.dummy((0.0, 0.3 * ui.em))
        if ui.button("show bright", "Show it", width=6.0 * ui.em):
            line_up.is_agreed = True
        imgui.same_line()
        if ui.button("skip bright", "The next one", width=8.0 * ui.em):
            line_up.step(1)
        imgui.same_line()
        if ui.button("leave line-up", "Leave", width=6.0 * ui.em):
            line_up.close()
        if not line_up.asks(screen):
            imgui.close_current_popup()
