"""The list of files to open a master from; our own, because the system's dialogs need other programs."""

import os
from dataclasses import replace
from pathlib import Path

from tonemap.trim_sheet_text import ENDING

from .. import theme
from ..bench import Bench
from ..opening import MASTER_SUFFIXES
from ..toolkit import imgui
from ..widgets import Widgets

TITLE = "Open a master or a trim sheet"
SUFFIXES = (*MASTER_SUFFIXES, ENDING)


class FileList:
    """Where the list stands, and what it shows of that folder."""

    def __init__(self) -> None:
        self._folder: Path | None = None
        self._entries: list[tuple[str, bool]] = []
        self._fault: str | None = None
        self._chosen: str | None = None

    def draw(self, bench: Bench, ui: Widgets) -> None:
        """Draw the sheet while it is open."""
        if not bench.shown.files:
            self._folder = None
            return
        if self._folder is None:
            master = bench.state.master
            self._go(master.path.resolve().parent if master else Path.cwd())
        with ui.popup(TITLE, 46.0 * ui.em, 36.0 * ui.em) as is_open:
            if is_open:
                self._fill(bench, ui)

    def _fill(self, bench: Bench, ui: Widgets) -> None:
        folder = self._folder or Path.cwd()
        if ui.button("up", "Folder above", width=8.0 * ui.em):
            self._go(folder.parent)
        imgui.same_line()
        typed = ui.typed("path", str(folder), imgui.get_content_region_avail().x)
        ui.help("Type the path of a folder or of a file, and press Enter")
        if typed is not None:
            path = Path(typed).expanduser()
            self._go(path) if path.is_dir() else self._open(bench, path)
        imgui.begin_child("entries", (0.0, -2.5 * ui.em), 0, 0)
        if self._fault or not self._entries:
            ui.text(self._fault or "there are no pictures in this folder", theme.grey(theme.TEXT_DIM), wraps=True)
        for name, is_folder in list(self._entries):
            self._entry(bench, ui, folder / name, name, is_folder)
        imgui.end_child()
        if ui.button("cancel files", "Cancel", width=6.0 * ui.em) or ui.is_left():
            self._close(bench)
        imgui.same_line()
        imgui.begin_disabled(self._chosen is None)
        if ui.button("open file", "Open", width=6.0 * ui.em) and self._chosen is not None:
            self._open(bench, folder / self._chosen)
        imgui.end_disabled()

    def _entry(self, bench: Bench, ui: Widgets, path: Path, name: str, is_folder: bool) -> None:
        corner = imgui.get_cursor_screen_pos()
        is_clicked, _ = imgui.selectable(f"##{name}", name == self._chosen, imgui.SelectableFlags_.allow_double_click)
        ui.place(f"file {name}")
        ui.write(corner.x + 0.3 * ui.em, corner.y, name, theme.grey(theme.TEXT), is_bold=is_folder)
        if not is_folder:
            return self._pick(bench, path, name, is_clicked)
        words = "folder"
        right = imgui.get_item_rect_max().x - ui.width_of(words) - 0.5 * ui.em
        ui.write(right, corner.y, words, theme.grey(theme.TEXT_DIM))
        if is_clicked and imgui.is_mouse_double_clicked(0):
            self._go(path)
        return None

    def _pick(self, bench: Bench, path: Path, name: str, is_clicked: bool) -> None:
        if is_clicked:
            self._chosen = name
            if imgui.is_mouse_double_clicked(0):
                self._open(bench, path)

    def _go(self, folder: Path) -> None:
        self._folder, self._entries, self._fault, self._chosen = folder, [], None, None
        try:
            with os.scandir(folder) as found:
                visible = [(item.name, item.is_dir()) for item in found if not item.name.startswith(".")]
        except OSError as error:
            self._fault = f"{folder}: can't be read: {error.strerror}"
            return
        wanted = [(name, is_dir) for name, is_dir in visible if is_dir or Path(name).suffix.lower() in SUFFIXES]
        self._entries = sorted(wanted, key=lambda entry: (not entry[1], entry[0].lower()))

    def _open(self, bench: Bench, path: Path) -> None:
        self._close(bench)
        bench.open(path)

    def _close(self, bench: Bench) -> None:
        bench.shown = replace(bench.shown, files=False)
        imgui.close_current_popup()
