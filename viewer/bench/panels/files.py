"""The list of files to open a master from; our own, because the system's dialogs need other programs."""

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from tonemap.trim_sheet_text import ENDING

from .. import theme
from ..bench import Bench
from ..opening import MASTER_SUFFIXES, sequences_among
from ..toolkit import imgui
from ..widgets import Widgets

TITLE = "Open a master or a trim sheet"
SUFFIXES = (*MASTER_SUFFIXES, ENDING)


@dataclass(frozen=True)
class Entry:
    """What can be chosen in a folder; `words` say at the right what it is, where it is no file."""

    name: str
    words: str = ""
    is_folder: bool = False


class FileList:
    """Where the list stands, and what it shows of that folder."""

    def __init__(self) -> None:
        self._folder: Path | None = None
        self._entries: list[Entry] = []
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
        ui.help("Type the path of a folder or of a file, also of one picture of a sequence, and press Enter")
        if typed is not None:
            path = Path(typed).expanduser()
            self._go(path) if path.is_dir() else self._open(bench, path)
        imgui.begin_child("entries", (0.0, -2.5 * ui.em), 0, 0)
        if self._fault or not self._entries:
            ui.text(self._fault or "there are no pictures in this folder", theme.grey(theme.TEXT_DIM), wraps=True)
        for number, entry in enumerate(list(self._entries)):
            imgui.push_id(number)  # a label with the ### of a pattern would not tell two of them apart
            self._entry(bench, ui, folder / entry.name, entry)
            imgui.pop_id()
        imgui.end_child()
        if ui.button("cancel files", "Cancel", width=6.0 * ui.em) or ui.is_left():
            self._close(bench)
        imgui.same_line()
        imgui.begin_disabled(self._chosen is None)
        if ui.button("open file", "Open", width=6.0 * ui.em) and self._chosen is not None:
            self._open(bench, folder / self._chosen)
        imgui.end_disabled()

    def _entry(self, bench: Bench, ui: Widgets, path: Path, entry: Entry) -> None:
        corner, is_chosen = imgui.get_cursor_screen_pos(), entry.name == self._chosen
        is_clicked, _ = imgui.selectable("##entry", is_chosen, imgui.SelectableFlags_.allow_double_click)
        ui.place(f"file {entry.name}")
        left, right = corner.x + 0.3 * ui.em, imgui.get_item_rect_max().x - ui.width_of(entry.words) - 0.5 * ui.em
        name = ui.fitting([entry.name], right - left - 0.5 * ui.em, is_bold=entry.is_folder)
        ui.write(left, corner.y, name, theme.grey(theme.TEXT), is_bold=entry.is_folder)
        ui.write(right, corner.y, entry.words, theme.grey(theme.TEXT_DIM))
        if not is_clicked:
            return
        if not entry.is_folder:
            self._chosen = entry.name
        if imgui.is_mouse_double_clicked(0):
            self._go(path) if entry.is_folder else self._open(bench, path)

    def _go(self, folder: Path) -> None:
        self._folder, self._entries, self._fault, self._chosen = folder, [], None, None
        try:
            with os.scandir(folder) as found:
                visible = [(item.name, item.is_dir()) for item in found if not item.name.startswith(".")]
        except OSError as error:
            self._fault = f"{folder}: can't be read: {error.strerror}"
            return
        self._entries = _entries(folder, visible)

    def _open(self, bench: Bench, path: Path) -> None:
        self._close(bench)
        bench.open(path)

    def _close(self, bench: Bench) -> None:
        bench.shown = replace(bench.shown, files=False)
        imgui.close_current_popup()


def _entries(folder: Path, visible: Sequence[tuple[str, bool]]) -> list[Entry]:
    """Return the folders in a folder, and what can be opened there: the pictures of a sequence as one."""
    folders = [Entry(name, "folder", is_folder=True) for name, is_folder in visible if is_folder]
    files = [name for name, is_folder in visible if not is_folder and Path(name).suffix.lower() in SUFFIXES]
    entries, frames = [], set[str]()
    for numbering, numbers in sequences_among(folder, files):
        span = "\u2013".join(f"{number:0{numbering.digits}d}" for number in (numbers[0], numbers[-1]))
        entries.append(Entry(numbering.pattern.name, f"{span}   {len(numbers)} frames"))
        frames.update(numbering.path(number).name for number in numbers)
    entries += [Entry(name) for name in files if name not in frames]
    return [
        *sorted(folders, key=lambda entry: entry.name.lower()),
        *sorted(entries, key=lambda entry: entry.name.lower()),
    ]
