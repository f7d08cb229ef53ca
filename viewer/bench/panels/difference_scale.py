"""The scale of the difference: its colours with figures, below the picture."""

from functools import cache

import numpy as np

from tonemap.heat import heat_colours

from .. import theme
from ..bench import Bench
from ..interface_encoding import interface_signal
from ..layout import Rect
from ..toolkit import imgui
from ..widgets import Widgets, packed

WIDTH, HEIGHT, MARGIN, ROOM = 16.0, 0.7, 0.5, 2.7  # in units of the type; the last is the height of all of it
STEPS = 64
SHARES = (0.0, 0.25, 0.5, 0.75, 1.0)
HELP = "Delta E ITP of Recommendation BT.2124: a difference of about 1 is just seen under critical conditions."


def draw(bench: Bench, ui: Widgets, room: Rect) -> None:
    """Draw the scale in the window that is drawn to."""
    em = ui.em
    left, top = room.left + MARGIN * em, room.top + 0.3 * em
    width = min(WIDTH * em, room.width - 2.0 * MARGIN * em)
    imgui.set_cursor_screen_pos((left, top))
    imgui.invisible_button("scale", (max(width, 1.0), (ROOM - 0.4) * em))
    ui.place("scale")
    ui.help(HELP)
    top_value = bench.state.showing.heat_top
    sheet = imgui.get_window_draw_list()
    for index, colour in enumerate(_colours()):
        x = left + width * index / STEPS
        sheet.add_rect_filled((x, top), (x + width / STEPS + 1.0, top + HEIGHT * em), packed((*colour, 1.0)))
    for share in SHARES:
        words = f"\u2265 {top_value:g}" if share == 1.0 else f"{share * top_value:g}"
        text_width = ui.width_of(words)
        x = left + share * width - (0.5 * text_width if 0.0 < share < 1.0 else text_width if share else 0.0)
        if share not in (0.25, 0.75) or width > 14.0 * em:
            ui.write(x, top + (HEIGHT + 0.1) * em, words, theme.grey(0.72))
    beside = left + width + em
    words = ui.fitting(["Delta E ITP, pixel by pixel as shown", "Delta E ITP"], room.right - beside - MARGIN * em)
    ui.write(beside, top - 0.25 * em, words, theme.grey(0.72))


@cache
def _colours() -> tuple[tuple[float, float, float], ...]:
    chosen = heat_colours(1.0)[np.linspace(0, 255, STEPS).round().astype(int)]
    return tuple((float(r), float(g), float(b)) for r, g, b in interface_signal(chosen))
