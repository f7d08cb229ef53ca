"""The line of status below: the master, the pixel and the zoom, what the screen is taken for, the card."""

from .. import theme
from ..bench import Bench
from ..layout import Rect
from ..toolkit import imgui
from ..widgets import Widgets
from ..wording import monitor_words

FLAGS = imgui.WindowFlags_.no_scrollbar | imgui.WindowFlags_.no_scroll_with_mouse | imgui.WindowFlags_.no_inputs

MARKING = (
    "drag a rectangle on a picture, or click the corners of a polygon and then the first one again; Esc leaves",
    "drag a rectangle, or click the corners of a polygon; Esc leaves",
    "drag, or click corners; Esc leaves",
)


def draw(bench: Bench, ui: Widgets, area: Rect, renderer: str, bits: int) -> None:
    """Draw the line; the right half is said first, because it changes."""
    with ui.window("status", area, FLAGS, padding=(0.5 * ui.em, 0.0)):
        y = area.top + 0.32 * ui.em
        card = renderer.split(" (", 1)[0]
        zoom = zoom_words(bench.placement.zoom) if bench.state.master else ""
        pixel = f"x {bench.pointed[0]}  y {bench.pointed[1]}" if bench.pointed else ""
        screen = ui.fitting(monitor_words(bench.state.monitor, bits), max(0.42 * area.width, area.width - 40.0 * ui.em))
        columns = [(screen, ui.width_of(screen) / ui.em + 0.5, theme.TEXT)]
        if area.width > 40.0 * ui.em:
            columns = [(pixel, 8.0, theme.TEXT_DIM), (zoom, 3.6, theme.TEXT_DIM), *columns]
        if area.width > 60.0 * ui.em:
            columns.append((card, ui.width_of(card) / ui.em, theme.TEXT_DIM))
        x = area.right - 0.7 * ui.em - ui.em * sum(width + 1.0 for _, width, _ in columns)
        left_end = x
        for text, width, level in columns:
            x += ui.em
            ui.write(x, y, text, theme.grey(level))
            x += width * ui.em
        room = left_end - area.left - 0.7 * ui.em
        sheet, level = _sheet_words(bench)
        end = ui.write(area.left + 0.6 * ui.em, y, ui.fitting(sheet, room), theme.grey(level)) + 1.5 * ui.em
        rest = left_end - end
        if rest > 6.0 * ui.em:
            level = theme.TEXT if bench.opening is not None else theme.TEXT_DIM
            ui.write(end, y, ui.fitting(_master_words(bench), rest), theme.grey(level))


def zoom_words(zoom: float) -> str:
    """Say a zoom in percent, with three figures or all that are before the point."""
    percent = 100.0 * zoom
    return f"{percent:.3g} %" if percent < 999.5 else f"{percent:.0f} %"


def _sheet_words(bench: Bench) -> tuple[list[str], float]:
    """Return what the line says of the trim sheet, and how bright: what the user must know is bright."""
    keeping, job = bench.keeping, bench.jobs.running
    if bench.shown.is_marking:
        return list(MARKING), theme.TEXT
    if keeping.fault is not None:
        return [keeping.words()], theme.TEXT
    if warnings := keeping.warnings():
        return [*(f"{keeping.words()}, {warning}" for warning in warnings), warnings[-1]], theme.TEXT
    if bench.said:
        return [f"{keeping.words()}   {bench.said}", bench.said], theme.TEXT_DIM
    if job is not None and job.count:
        return [f"{keeping.words()}   {job.title}: {job.behind} of {job.count}", keeping.words()], theme.TEXT_DIM
    return [keeping.words()], theme.TEXT_DIM


def _master_words(bench: Bench) -> list[str]:
    if bench.opening is not None:
        return [f"reading {bench.opening.what}"]
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
