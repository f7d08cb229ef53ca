"""The strip under the bar: a calm sentence when there is something to say, or a few, a line each."""

from .. import theme
from ..bench import Bench
from ..layout import Rect
from ..toolkit import imgui
from ..widgets import Widgets, packed

FLAGS = imgui.WindowFlags_.no_scrollbar | imgui.WindowFlags_.no_scroll_with_mouse


def height(bench: Bench, ui: Widgets, width: int) -> int:
    """Return how high the strip is; 0 when there is nothing to say."""
    if bench.notice is None:
        return 0
    size = imgui.calc_text_size(bench.notice.text, False, _text_width(ui, width))
    return round(max(size.y, 1.4 * ui.em) + 0.9 * ui.em)


def draw(bench: Bench, ui: Widgets, area: Rect) -> None:
    """Draw what is said, the way back where there is one, and the button that dismisses it."""
    notice = bench.notice
    if notice is None:
        return
    imgui.push_style_color(imgui.Col_.window_bg, imgui.ImVec4(*theme.grey(0.12)))
    with ui.window("strip", area, FLAGS, padding=(0.6 * ui.em, 0.45 * ui.em)):
        imgui.get_window_draw_list().add_rect_filled(
            (area.left, area.top), (area.left + round(0.2 * ui.em), area.bottom), packed(theme.accent())
        )
        imgui.push_text_wrap_pos(_text_width(ui, area.width) + 0.6 * ui.em)
        imgui.align_text_to_frame_padding()
        ui.text(notice.text)
        imgui.pop_text_wrap_pos()
        imgui.same_line(area.width - 10.5 * ui.em)
        if notice.before is not None and ui.button("put back", "Put back", width=5.0 * ui.em):
            bench.put_back()
        imgui.same_line(area.width - 5.0 * ui.em)
        if ui.button("dismiss", "Close", width=4.4 * ui.em):
            bench.notice = None
    imgui.pop_style_color()


def _text_width(ui: Widgets, width: int) -> float:
    return max(width - 11.5 * ui.em, 8.0 * ui.em)
