"""The scale of the difference: its colours with figures, in the lower left corner of the picture."""

from functools import cache

import numpy as np

from tonemap.heat import heat_colours

from .. import theme
from ..bench import Bench
from ..interface_encoding import interface_signal
from ..panes import Pane
from ..showing import HEAT_TOPS
from ..toolkit import imgui
from ..widgets import Widgets, packed

WIDTH, HEIGHT, MARGIN = 16.0, 0.7, 0.8  # in units of the type
STEPS = 64
SHARES = (0.0, 0.25, 0.5, 0.75, 1.0)


def draw(bench: Bench, ui: Widgets, pane: Pane) -> None:
    """Draw the scale on a pane that shows a difference; a click takes the next wider scale."""
    if not pane.is_difference:
        return
    rect, em = pane.tile.picture, ui.em
    width = min(WIDTH * em, rect.width - 4.0 * MARGIN * em)
    if width < 6.0 * em or rect.height < 6.0 * em:
        return
    left, top = rect.left + 2.0 * MARGIN * em, rect.bottom - 4.2 * em
    box = (left - MARGIN * em, top - 0.5 * em), (left + width + MARGIN * em, rect.bottom - 0.6 * em)
    imgui.set_cursor_screen_pos(box[0])
    is_clicked = imgui.invisible_button("scale", (box[1][0] - box[0][0], box[1][1] - box[0][1]))
    ui.place("scale")
    ui.help("Delta E ITP of Recommendation BT.2124: a difference of about 1 is just seen under critical conditions. "
            "Click for a wider scale, with Shift for a narrower one.")  # fmt: skip
    top_value = bench.state.showing.heat_top
    if is_clicked:
        step = -1 if imgui.get_io().key_shift else 1
        index = (HEAT_TOPS.index(top_value) + step) % len(HEAT_TOPS) if top_value in HEAT_TOPS else 2
        bench.show(heat_top=HEAT_TOPS[index])
    sheet = imgui.get_window_draw_list()
    sheet.add_rect_filled(*box, packed(theme.grey(theme.PANEL)))
    for index, colour in enumerate(_colours()):
        x = left + width * index / STEPS
        sheet.add_rect_filled((x, top), (x + width / STEPS + 1.0, top + HEIGHT * em), packed((*colour, 1.0)))
    for share in SHARES:
        words = f"\u2265 {top_value:g}" if share == 1.0 else f"{share * top_value:g}"
        text_width = ui.width_of(words)
        x = left + share * width - (0.5 * text_width if 0.0 < share < 1.0 else text_width if share else 0.0)
        if share not in (0.25, 0.75) or width > 14.0 * em:
            ui.write(x, top + (HEIGHT + 0.1) * em, words, theme.grey(0.72))
    words = ui.fitting(["Delta E ITP, pixel by pixel as shown", "Delta E ITP"], width)
    ui.write(left, top + (HEIGHT + 1.25) * em, words, theme.grey(theme.TEXT_DIM))


@cache
def _colours() -> tuple[tuple[float, float, float], ...]:
    chosen = heat_colours(1.0)[np.linspace(0, 255, STEPS).round().astype(int)]
    return tuple((float(r), float(g), float(b)) for r, g, b in interface_signal(chosen))
