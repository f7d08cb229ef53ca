"""The sheet where the trim sheet gets its name."""

from dataclasses import replace
from pathlib import Path

from tonemap.errors import TrimbenchError
from tonemap.trim_sheet_text import ENDING

from .. import theme
from ..bench import Bench
from ..toolkit import imgui
from ..widgets import Widgets

TITLE = "Save the trim sheet as"


class SavingSheet:
    """What is typed, and what was wrong with it."""

    def __init__(self) -> None:
        self._path: Path | None = None
        self._fault: str | None = None
        self._is_there = False

    def draw(self, bench: Bench, ui: Widgets) -> None:
        """Draw the sheet while it is open."""
        if not bench.shown.saving:
            self._path = None
            return
        if self._path is None:
            self._path, self._fault, self._is_there = proposed_path(bench), None, False
        with ui.popup(TITLE, 40.0 * ui.em) as is_open:
            if is_open:
                self._fill(bench, ui)

    def _fill(self, bench: Bench, ui: Widgets) -> None:
        path = self._path or proposed_path(bench)
        typed = ui.typed("sheet path", str(path), imgui.get_content_region_avail().x)
        ui.help("The file to write; beside the master it finds the master again when the folder moves")
        if typed is not None:
            path = Path(typed).expanduser()
            path = path if path.suffix.lower() == ENDING else path.with_name(path.name + ENDING)
            self._path, self._fault, self._is_there = path, None, False
        words = self._fault or "From then on it saves itself there, a moment after the hand rests."
        ui.text(words, theme.grey(theme.TEXT if self._fault else theme.TEXT_DIM), wraps=True)
        imgui.dummy((0.0, 0.2 * ui.em))
        if ui.button("cancel saving", "Cancel", width=6.0 * ui.em) or ui.is_left():
            self._close(bench)
            return
        imgui.same_line()
        if ui.button("save sheet", "Replace" if self._is_there else "Save", width=6.0 * ui.em):
            self._save(bench, path)

    def _save(self, bench: Bench, path: Path) -> None:
        own = bench.keeping.path
        is_own = own is not None and path.exists() and path.samefile(own)
        if path.exists() and not is_own and not self._is_there:
            self._is_there, self._fault = True, f"{path.name} is there already; Replace takes its place for good"
            return
        try:
            bench.save_as(path, overwrite=self._is_there)
        except TrimbenchError as fault:
            self._fault, self._is_there = str(fault), False
            return
        self._close(bench)

    def _close(self, bench: Bench) -> None:
        bench.shown = replace(bench.shown, saving=False)
        imgui.close_current_popup()


def proposed_path(bench: Bench) -> Path:
    """Return where the sheet lies, or for one without a name a name beside its master."""
    keeping, master = bench.keeping, bench.state.master
    if keeping.is_named and keeping.path is not None:
        return keeping.path.absolute()
    if master is None:
        return Path.cwd() / f"programme{ENDING}"
    folder = master.path if master.path.is_dir() else master.path.parent
    return folder.absolute() / f"{master.path.name.partition('.')[0] or 'programme'}{ENDING}"
