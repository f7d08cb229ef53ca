"""The line of status below: the master, the card, the framebuffer, the pixel and the zoom."""

from .. import theme
from ..bench import Bench
from ..layout import Rect
from ..toolkit import imgui
from ..widgets import Widgets

FLAGS = imgui.WindowFlags_.no_scrollbar | imgui.WindowFlags_.no_scroll_with_mouse | imgui.WindowFlags_.no_inputs


def draw(bench: Bench, ui: Widgets, area: Rect, renderer: str, bits: int) -> None:
    """Draw the line; the right half is said first, because it changes."""
    with ui.window("status", area, FLAGS, padding=(0.5 * ui.em, 0.0)):
        y = area.top + 0.32 * ui.em
        card = renderer.split(" (", 1)[0]
        screen = f"{bench.state.monitor.title}, {bits} bits"
        zoom = f"{100.0 * bench.placement.zoom:.3g} %" if bench.state.master else ""
        pixel = f"x {bench.pointed[0]}  y {bench.pointed[1]}" if bench.pointed else ""
        columns = [(pixel, 8.0), (zoom, 3.6), (screen, ui.width_of(screen) / ui.em + 0.5)]
        if area.width > 60.0 * ui.em:
            columns.append((card, ui.width_of(card) / ui.em))
        x = area.right - 0.7 * ui.em - ui.em * sum(width + 1.0 for _, width in columns)
        left_end = x
        for text, width in columns:
            x += ui.em
            ui.write(x, y, text, theme.grey(theme.TEXT_DIM))
            x += width * ui.em
        room = left_end - area.left - 0.7 * ui.em
        sheet, level = _sheet_words(bench)
        end = ui.write(area.left + 0.6 * ui.em, y, ui.fitting([sheet], room), theme.grey(level)) + 1.5 * ui.em
        rest = left_end - end
        if rest > 6.0 * ui.em:
            ui.write(end, y, ui.fitting(_master_words(bench), rest), theme.grey(theme.TEXT_DIM))


def _sheet_words(bench: Bench) -> tuple[str, float]:
    """Return what the line says of the trim sheet, and how bright: what the user must know is bright."""
    keeping = bench.keeping
    if keeping.fault is not None:
        return keeping.words(), theme.TEXT
    if (warning := keeping.warning()) is not None:
        return f"{keeping.words()}, {warning}", theme.TEXT
    return (f"{keeping.words()}   {bench.said}" if bench.said else keeping.words()), theme.TEXT_DIM


def _master_words(bench: Bench) -> list[str]:
    master = bench.state.master
    if master is None:
        return ["no master"]
    size = f"{master.facts.columns} \u00d7 {master.facts.rows}"
    title = master.encoding.title
    return [
        f"{master.path.name}   {size}   {master.facts.format}   {title}",
        f"{master.path.name}   {size}   {title}",
        f"{size}   {title}",
        size,
    ]
