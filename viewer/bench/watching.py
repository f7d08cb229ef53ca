"""Watching the folders of operators: a save is noticed by a thread, and taken up by the loop that draws."""

import threading
from collections.abc import Callable, Sequence
from pathlib import Path

SUFFIXES = (".py", ".glsl")
SETTLING = 20
"""Milliseconds without another change before a save counts as done: editors write in several steps."""


class FolderWatch:
    """Gathers what was saved in some folders.

    Parameters
    ----------
    called : is called from the thread after a save; it must be safe to call from there
    """

    def __init__(self, folders: Sequence[Path], called: Callable[[], None]) -> None:
        self._called = called
        self._lock, self._stop = threading.Lock(), threading.Event()
        self._changed: set[Path] = set()
        self._thread = threading.Thread(target=self._watch, args=(list(folders),), daemon=True)
        if folders:
            self._thread.start()

    def changed(self) -> set[Path]:
        """Return the files that were saved, added or removed since this was asked last."""
        with self._lock:
            changed, self._changed = self._changed, set()
        return changed

    def close(self) -> None:
        """Stop watching."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(timeout=2.0)

    def _watch(self, folders: list[Path]) -> None:
        from watchfiles import watch

        settings = {"debounce": 10 * SETTLING, "step": SETTLING, "rust_timeout": 500}
        for changes in watch(*folders, stop_event=self._stop, raise_interrupt=False, **settings):  # type: ignore[arg-type]
            files = {Path(name) for _, name in changes if name.endswith(SUFFIXES)}
            if files:
                with self._lock:
                    self._changed |= files
                self._called()
