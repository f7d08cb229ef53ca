"""Watching the folders of operators: a save is noticed by a thread, and taken up by the loop that draws."""

import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path

SUFFIXES = (".py", ".glsl")
SETTLING = 20
"""Milliseconds without another change before a save counts as done: editors write in several steps."""
LOOK = 500
"""Milliseconds between two looks at whether the folders are still those that are watched."""
Stamps = dict[Path, tuple[int, int, int]]
ANY = "*"
"""The name that stands for every file of a folder."""


class FolderWatch:
    """Gathers what is saved in some folders from now on, also in one that is taken away and made anew.

    Parameters
    ----------
    called : is called from the thread after a save; it must be safe to call from there
    """

    def __init__(self, folders: Sequence[Path], called: Callable[[], None]) -> None:
        self._called = called
        self._lock, self._stop = threading.Lock(), threading.Event()
        self._changed: set[Path] = set()
        self._before: Stamps | None = _stamps(folders)
        self._thread = threading.Thread(target=self._watch, args=(list(folders),), daemon=True)
        if folders:
            self._thread.start()

    def changed(self) -> set[Path]:
        """Return the files that were saved, added or removed since this was asked last.

        FOLDER/* stands for all files of a folder that is gone, is back, or is another one of the same name.
        """
        with self._lock:
            changed, self._changed = self._changed, set()
        return changed

    def close(self) -> None:
        """Stop watching."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(timeout=2.0)

    def _watch(self, folders: list[Path]) -> None:
        watched, anew = {folder: _identity(folder) for folder in folders}, set[Path]()
        while not self._stop.is_set():
            self._watch_while_they_stay(watched, anew)
            found = {folder: _identity(folder) for folder in folders}
            anew = {folder / ANY for folder in folders if found[folder] != watched[folder]}
            watched = found

    def _watch_while_they_stay(self, watched: dict[Path, tuple[int, int] | None], anew: set[Path]) -> None:
        """Report what is anew, then saves, until a folder is not the one that is watched any more."""
        from watchfiles import watch

        there = [folder for folder, identity in watched.items() if identity is not None]
        if not there:
            self._report(anew)
            self._stop.wait(LOOK / 1000.0)
            return
        changes = watch(
            *there,
            watch_filter=None,  # its own leaves out folders by their names
            debounce=10 * SETTLING,
            step=SETTLING,
            stop_event=self._stop,
            rust_timeout=LOOK,
            yield_on_timeout=True,
            raise_interrupt=False,
            ignore_permission_denied=True,
        )
        try:
            for found in changes:
                saved = {Path(name) for _, name in found if name.endswith(SUFFIXES)}
                self._report(anew | saved | self._saved_before_watching(list(watched)))
                anew = set()  # reported once they are watched: nothing that is written meanwhile is lost
                if any(_identity(folder) != identity for folder, identity in watched.items()):
                    return
        except OSError:  # a folder went while it was about to be watched
            self._report(anew)
            self._stop.wait(LOOK / 1000.0)

    def _saved_before_watching(self, folders: list[Path]) -> set[Path]:
        """Return, once, what was saved since the start: the thread took some time to watch."""
        before, self._before = self._before, None
        if before is None:
            return set()
        now = _stamps(folders)
        return {path for path in before.keys() | now.keys() if before.get(path) != now.get(path)}

    def _report(self, files: set[Path]) -> None:
        if files:
            with self._lock:
                self._changed |= files
            self._called()


def _stamps(folders: Sequence[Path]) -> Stamps:
    """Return what tells the contents of the operators' files, beside each other and in their folder shaders."""
    stamps: Stamps = {}
    for path in (path for folder in folders for name in ("*", "shaders/*") for path in folder.glob(name)):
        with suppress(OSError):  # it has just gone
            if path.suffix in SUFFIXES:
                found = path.stat()
                stamps[path] = found.st_ino, found.st_size, found.st_mtime_ns
    return stamps


def _identity(folder: Path) -> tuple[int, int] | None:
    """Return what tells a folder from another one of the same name; None where there is none."""
    try:
        found = folder.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino
