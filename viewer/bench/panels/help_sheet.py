"""The help sheet: every key and what the mouse does, in groups, on one sheet."""

from collections.abc import Sequence
from dataclasses import replace

from .. import theme
from ..bench import Bench
from ..input import GROUPS, MOUSE
from ..sheet_keys import CONTROL_KEYS
from ..toolkit import imgui
from ..widgets import Widgets

TITLE = "Keys and hands"

# In units of the type: widths of a column, of the keys in it at least, and of what is between two columns; height
# around them.
COLUMN, KEY, BETWEEN, AROUND = 36.0, 7.0, 1.6, 6.5
MOST = 3
"""Columns beside each other."""

Group = tuple[str, Sequence[tuple[str, str]]]


def groups() -> list[Group]:
    """Return what is on the sheet: titles, and for each the keys with their help."""
    found: list[Group] = [
        (title, [(key.shown, key.help) for key in keys if key.help]) for title, keys in GROUPS.items()
    ]
    found.append(("Work", [(key.shown, key.help) for key in CONTROL_KEYS if key.help]))
    found.append(("Mouse", MOUSE))
    return found


def columns_of(found: Sequence[Group], count: int) -> list[list[Group]]:
    """Deal groups out to columns in their order, so that the columns are about as long as each other."""
    total = sum(len(rows) + 2 for _, rows in found)
    columns: list[list[Group]] = [[] for _ in range(count)]
    before = 0
    for title, rows in found:
        middle = before + 0.5 * (len(rows) + 2)
        columns[min(int(middle * count / total), count - 1)].append((title, rows))
        before += len(rows) + 2
    return columns


def draw(bench: Bench, ui: Widgets) -> None:
    """Draw the sheet while it is open; Esc, F1 or the button closes it."""
    if not bench.shown.help:
        return
    em, window = ui.em, imgui.get_main_viewport().size
    count = min(max(int(window.x / (COLUMN + BETWEEN) / em), 1), MOST)
    columns = columns_of(groups(), count)
    width = min(count * (COLUMN + BETWEEN) * em, window.x)
    column_width = width / count - 2.0 * BETWEEN * em
    height = max(sum(_height(ui, rows, column_width) for _, rows in column) for column in columns) + AROUND * em
    with ui.popup(TITLE, width, min(height, window.y - 2.0 * em)) as is_open:
        if not is_open:
            return
        imgui.begin_child("keys", (0.0, -2.4 * em), 0, 0)
        imgui.push_style_var(imgui.StyleVar_.cell_padding, (0.5 * BETWEEN * em, 0.0))
        if imgui.begin_table("columns", count):
            for column in columns:
                imgui.table_next_column()
                for title, rows in column:
                    _group(ui, title, rows)
            imgui.end_table()
        imgui.pop_style_var()
        imgui.end_child()
        pressed = [imgui.is_key_pressed(key) for key in (imgui.Key.escape, imgui.Key.f1)]
        if ui.button("close help", "Close", width=6.0 * em) or (any(pressed) and not imgui.is_window_appearing()):
            bench.shown = replace(bench.shown, help=False)
            imgui.close_current_popup()


def _key_width(ui: Widgets, rows: Sequence[tuple[str, str]]) -> float:
    return max(KEY * ui.em, *(ui.width_of(shown) + 1.2 * ui.em for shown, _ in rows))


def _height(ui: Widgets, rows: Sequence[tuple[str, str]], width: float) -> float:
    """Return how high a group is in a column."""
    spacing, wrapped = imgui.get_style().item_spacing.y, max(width - _key_width(ui, rows), 1.0)
    lines = sum(imgui.calc_text_size(words, False, wrapped).y + spacing for _, words in rows)
    return lines + 1.25 * ui.em + 2.0 * spacing


def _group(ui: Widgets, title: str, rows: Sequence[tuple[str, str]]) -> None:
    ui.section(title)
    ui.place(f"keys {title}")
    words_at = imgui.get_cursor_pos_x() + _key_width(ui, rows)
    for shown, words in rows:
        ui.text(shown, theme.grey(theme.TEXT))
        imgui.same_line()
        imgui.set_cursor_pos_x(words_at)
        ui.text(words, theme.grey(0.72), wraps=True)
