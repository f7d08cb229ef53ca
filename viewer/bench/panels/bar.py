"""The bar on top: opening, the view, what the master's tile shows, the panel, the help."""

from tonemap.operator import Parameter

from .. import input as hands
from .. import theme
from ..bench import Bench
from ..layout import Rect
from ..scales import shown_value, typed_number
from ..state import with_window
from ..toolkit import imgui
from ..widgets import RESET, Widgets

MINUS = "\u2212"
FLAGS = imgui.WindowFlags_.no_scrollbar | imgui.WindowFlags_.no_scroll_with_mouse


def draw(bench: Bench, ui: Widgets, area: Rect, size: tuple[int, int]) -> None:
    """Draw the bar; `size` is that of a tile's picture, for the buttons that change the view."""
    with ui.window("bar", area, FLAGS, padding=(0.5 * ui.em, 0.45 * ui.em)):
        if ui.button("open", "Open", "Open a master (O), or drop a file on the window"):
            hands.press(bench, "o", size)
        view = bench.state.view
        _gap(ui)
        if ui.button("whole", "Whole", "The whole picture (W)", is_on=view.zoom is None):
            hands.press(bench, "w", size)
        imgui.same_line()
        if ui.button("pixels", "1:1", "Picture pixels as screen pixels (1)", is_on=view.zoom == 1.0):
            hands.press(bench, "1", size)
        imgui.same_line()
        if ui.button("farther", MINUS, "Farther", width=1.6 * ui.em):
            hands.press(bench, "-", size)
        imgui.same_line()
        if ui.button("closer", "+", "Closer", width=1.6 * ui.em):
            hands.press(bench, "+", size)
        is_wide = area.width > 48.0 * ui.em
        panel, keys = (4.6, 4.6) if is_wide else (3.6, 1.8)
        monitor, width = bench.state.monitor, 4.6 if is_wide else 3.6
        lines = 4.6 if is_wide else 0.0
        right = (width + lines + panel + keys + 1.5 + 0.5 * is_wide) * ui.em
        _window_control(bench, ui, area.width - right - imgui.get_item_rect_max().x)
        imgui.same_line(area.width - right)
        words = f"PQ {monitor.peak:g}" if monitor.is_pq and is_wide else monitor.signal.upper()
        if ui.button("monitor", words, f"What the screen is (F2): {monitor.sentence}", width=width * ui.em):
            hands.press(bench, "f2", size)
        imgui.same_line()
        if is_wide:
            if ui.button("line-up", "Line-up", "Patterns that show whether the screen is so (U)", width=lines * ui.em):
                hands.press(bench, "u", size)
            imgui.same_line()
        if ui.button("panel", "Panel", "Show or hide the panel (P)", is_on=bench.shown.panel, width=panel * ui.em):
            hands.press(bench, "p", size)
        imgui.same_line()
        if ui.button("help", "Keys ?" if is_wide else "?", "All keys on one sheet (F1 or ?)", width=keys * ui.em):
            hands.press(bench, "?", size)


def _gap(ui: Widgets) -> None:
    imgui.same_line(0.0, 1.2 * ui.em)


def _window_control(bench: Bench, ui: Widgets, room: float) -> None:
    """Draw the track for what of the master its tile shows; none where the monitor shows light as it is."""
    master, monitor = bench.state.master, bench.state.monitor
    if master is None or monitor.is_pq or master.encoding.peak <= monitor.peak or room < 16.0 * ui.em:
        return
    parameter = Parameter(
        name="window",
        unit="cd/m2",
        default=monitor.peak,
        minimum=monitor.peak,
        maximum=master.encoding.peak,
        scale="log",
        help="",
    )
    _gap(ui)
    label = ui.fitting(["Master shown up to", "Master up to", "Master to"], room - 13.0 * ui.em)
    imgui.align_text_to_frame_padding()
    ui.text(label, theme.grey(0.68))
    ui.help(
        "The monitor is an SDR one and can't show all of the master. Its tile shows light up to this level, relative "
        f"to the monitor's white of {monitor.peak:g} cd/m²; above, it is clipped. At {monitor.peak:g} it is as it is."
    )
    imgui.same_line()
    left = room - ui.width_of(label) - 9.6 * ui.em
    changed = ui.track("window", parameter, bench.state.window, min(max(left, 3.0 * ui.em), 11.0 * ui.em))
    if changed is not None:
        bench.do(with_window, parameter.default if changed is RESET else changed)
    imgui.same_line()
    typed = ui.typed("field window", shown_value(parameter, bench.state.window), 3.2 * ui.em)
    if typed is not None:
        bench.do(lambda state: with_window(state, parameter.checked(typed_number(typed, "cd/m2"))))
    imgui.same_line()
    ui.text("cd/m²", theme.grey(theme.TEXT_DIM))
