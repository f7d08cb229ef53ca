"""Opens the bench in a real window and lets the master vanish while it rests; then makes the window small.

Run by the tests as `python source_in_window.py MASTER OUT.npz`: how often it draws while nothing happens, after how
many looks that found the file gone, and back, it says so, a rendition's tile with the signal that it should show, and
the window's title at 200 x 150.
"""

import sys
import threading
import time
from pathlib import Path

import numpy as np

import viewer.gl  # noqa: F401 - first: it sets the platform of GL
from tests.bench.draw_in_window import KeepingSurface, tile_and_signal
from tonemap.host import find_operators
from tonemap.media.wishes import EncodingWishes
from tonemap.starters import starter_renditions
from viewer.bench import source_look
from viewer.bench import state as actions
from viewer.bench.app import App, turn
from viewer.bench.bench import Bench
from viewer.bench.layout import View
from viewer.bench.surface import WindowSurface
from viewer.bench.toolkit import glfw, imgui

PATIENCE = 100.0


def come_to_rest(app: App, surface: WindowSurface) -> None:
    """Draw a few frames, and until the next one would wait for an event."""
    surface.wakes = max(surface.wakes, 3)
    while surface.wakes > 0 or surface.is_stirred or not app.is_settled:
        turn(app, surface)


class Looks:
    """Notes whether the file was there at each look of a bench that has nothing to say yet."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.found: list[bool] = []
        self._stamp_of = source_look.stamp_of

    def stamp_of(self, path: Path) -> source_look.Stamp:
        stamp = self._stamp_of(path)
        if self.bench.notice is None:
            self.found.append(stamp.fault is None)
        return stamp


def until_said(app: App, surface: KeepingSurface, words: str) -> None:
    """Take the turns of a resting bench until it says something."""
    end = time.monotonic() + PATIENCE
    while app.bench.notice is None or words not in app.bench.notice.text:
        assert time.monotonic() < end, "it is not said"
        turn(app, surface)


def main(master: Path, out: Path) -> None:
    bench = Bench(find_operators(), starter_renditions()[:2], EncodingWishes("pq", "bt2020", "full"))
    bench.open(master)
    bench.do(actions.with_view, View(1.0, (0.0, 0.0)))
    looks = Looks(bench)
    vars(source_look)["stamp_of"] = looks.stamp_of
    imgui.create_context()
    surface = KeepingSurface("test", 1280, 720)
    app = App(bench, surface, 1.0, {})
    bench.call, bench.reads_aside = surface.call, True
    bench.notice = None
    come_to_rest(app, surface)
    count, away = surface.count, master.with_name("away")
    threading.Timer(3.5, master.rename, (away,)).start()
    until_said(app, surface, "No such file or directory")
    looks_until_gone = looks.found.count(False)
    drawn_at_rest = surface.count - count
    bench.notice = None
    looks.found.clear()
    come_to_rest(app, surface)
    threading.Timer(0.5, away.rename, (master,)).start()
    until_said(app, surface, "is there again")
    looks_until_back = looks.found.count(True)
    come_to_rest(app, surface)
    tile, signal = tile_and_signal(app, surface, 2)
    glfw.set_window_size(surface.window, 200, 150)
    deadline = time.monotonic() + PATIENCE
    while surface.size != (200, 150):
        assert time.monotonic() < deadline, "the window does not become small"
        turn(app, surface)
    come_to_rest(app, surface)
    np.savez(
        out,
        bits=surface.bits,
        drawn_at_rest=drawn_at_rest,
        looks_until_gone=looks_until_gone,
        looks_until_back=looks_until_back,
        tile=tile,
        signal=signal,
        title=glfw.get_window_title(surface.window),
    )
    app.close()
    surface.close()
    imgui.destroy_context()


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:]))
