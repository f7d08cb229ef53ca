"""Opens the bench in a real window and lets the master vanish while it rests; then makes the window small.

Run by the tests as `python source_in_window.py MASTER OUT.npz`: how often it draws while nothing happens, what it says
and how soon after the file is gone and after it is back, a rendition's tile with the signal that it should show, and
the window's title at 200 x 150.
"""

import sys
import threading
import time
from pathlib import Path

import numpy as np

import viewer.gl  # noqa: F401 - first: it sets the platform of GL
from tests.bench.draw_in_window import KeepingSurface, settle, tile_and_signal
from tonemap.host import find_operators
from tonemap.media.wishes import EncodingWishes
from tonemap.starters import starter_renditions
from viewer.bench import state as actions
from viewer.bench.app import App, turn
from viewer.bench.bench import Bench
from viewer.bench.layout import View
from viewer.bench.surface import WindowSurface
from viewer.bench.toolkit import glfw, imgui


def come_to_rest(app: App, surface: WindowSurface) -> None:
    """Draw until the next frame would wait for an event."""
    settle(app, surface)  # type: ignore[arg-type]
    while surface.wakes > 0 or surface.is_stirred:
        turn(app, surface)


def said_after(app: App, surface: KeepingSurface, words: str) -> float:
    """Take the turns of a resting bench until it says something; returns the seconds."""
    start = time.monotonic()
    while app.bench.notice is None or words not in app.bench.notice.text:
        assert time.monotonic() < start + 20.0, "it is not said"
        turn(app, surface)
    return time.monotonic() - start


def main(master: Path, out: Path) -> None:
    bench = Bench(find_operators(), starter_renditions()[:2], EncodingWishes("pq", "bt2020", "full"))
    bench.open(master)
    bench.do(actions.with_view, View(1.0, (0.0, 0.0)))
    imgui.create_context()
    surface = KeepingSurface("test", 1280, 720)
    app = App(bench, surface, 1.0, {})
    bench.call, bench.reads_aside = surface.call, True
    come_to_rest(app, surface)
    count, away = surface.count, master.with_name("away")
    timer = threading.Timer(3.5, master.rename, (away,))
    timer.start()
    until_gone = said_after(app, surface, "No such file or directory") - 3.5
    drawn_at_rest = surface.count - count
    come_to_rest(app, surface)
    timer = threading.Timer(0.5, away.rename, (master,))
    timer.start()
    until_back = said_after(app, surface, "is there again") - 0.5
    settle(app, surface)
    tile, signal = tile_and_signal(app, surface, 2)
    glfw.set_window_size(surface.window, 200, 150)
    deadline = time.monotonic() + 20.0
    while surface.size != (200, 150):
        assert time.monotonic() < deadline, "the window does not become small"
        turn(app, surface)
    settle(app, surface)
    np.savez(
        out,
        bits=surface.bits,
        drawn_at_rest=drawn_at_rest,
        until_gone=until_gone,
        until_back=until_back,
        tile=tile,
        signal=signal,
        title=glfw.get_window_title(surface.window),
    )
    app.close()
    surface.close()
    imgui.destroy_context()


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:]))
