"""Takes screens away from the bench in a real window, and changes their mode, as the system tells of it.

Run by the tests as `python screens_in_window.py MASTER OUT.npz`. A virtual display has one monitor and can't lose it,
so what the system answers is put in its place: how many monitors there are, that a window that filled one fills it no
more (which the window library does by itself before it tells), and the mode. Kept are what the bench says each time,
the size of the window, and a tile's codes at the end.
"""

import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np

import viewer.gl  # noqa: F401 - first: it sets the platform of GL
from tests.bench.draw_in_window import KeepingSurface, tile_and_signal
from tonemap.host import find_operators
from tonemap.media.wishes import EncodingWishes
from tonemap.starters import starter_renditions
from viewer.bench import state as actions
from viewer.bench import surface as surface_module
from viewer.bench.app import App, turn
from viewer.bench.bench import Bench
from viewer.bench.input import press
from viewer.bench.layout import View
from viewer.bench.screens import Screen
from viewer.bench.toolkit import glfw, imgui


def draw(app: App, surface: KeepingSurface) -> None:
    """Draw until there is nothing left to do, as after an event."""
    surface.wakes = 5
    while surface.wakes > 0:
        turn(app, surface)


def said(app: App) -> str:
    """Return what the bench says, and dismiss it."""
    text = app.bench.notice.text if app.bench.notice is not None else ""
    app.bench.notice = None
    return text


def left_outside(app: App, surface: KeepingSurface) -> tuple[int, int]:
    """Take the screen away on which the window is, and leave it there; return where the window is then."""
    glfw.set_window_pos(surface.window, 3000, 100)
    surface._screen = Screen("Right", (1280, 0), (3840, 2160, 10, 24))
    draw(app, surface)
    draw(app, surface)
    said(app)
    place: tuple[int, int] = glfw.get_window_pos(surface.window)
    return place


def main(master: Path, out: Path) -> None:
    setattr(surface_module, "GUEST_SIZE", (500, 400))  # noqa: B010 - smaller than the display
    bench = Bench(find_operators(), starter_renditions()[:2], EncodingWishes("pq", "bt2020", "full"))
    bench.open(master)
    bench.do(actions.with_view, View(1.0, (0.0, 0.0)))
    imgui.create_context()
    surface = KeepingSurface("test", 900, 600)
    app = App(bench, surface, 1.0, {})
    draw(app, surface)
    said(app)
    bench.set("input.exposure", -0.5)
    sheet = bench.state.sheet
    facts: dict[str, Any] = {}

    monitors = glfw.get_monitors()
    setattr(glfw, "get_monitors", lambda: [*monitors, monitors[0]])  # noqa: B010 - a second one is there
    press(bench, "g", (0, 0))
    draw(app, surface)
    assert app.guest_room.guest is not None
    setattr(glfw, "get_monitors", lambda: list(monitors))  # noqa: B010 - and is unplugged
    draw(app, surface)
    facts["guest"] = said(app)
    facts["has_guest"] = app.guest_room.guest is not None and bench.presenting.has_guest
    press(bench, "g", (0, 0))
    draw(app, surface)

    press(bench, "f11", (0, 0))
    draw(app, surface)
    assert surface.size == (1280, 720)
    surface._screen = Screen("Right", (1280, 0), (3840, 2160, 10, 24))
    glfw.set_window_monitor(surface.window, None, 0, 0, 640, 400, glfw.DONT_CARE)
    draw(app, surface)
    draw(app, surface)
    facts["full"], facts["gone"] = surface.size, said(app)
    press(bench, "f11", (0, 0))
    draw(app, surface)
    facts["again"] = surface.size
    facts["place"] = left_outside(app, surface)

    mode = SimpleNamespace(size=SimpleNamespace(width=1280, height=720), bits=SimpleNamespace(red=5), refresh_rate=30)
    setattr(glfw, "get_video_mode", lambda _: mode)  # noqa: B010
    draw(app, surface)
    facts["mode"], facts["name"] = said(app), surface._screen.name
    draw(app, surface)
    facts["once"] = said(app)
    tile, signal = tile_and_signal(app, surface, 2)
    np.savez(out, bits=surface.bits, tile=tile, signal=signal, is_kept=bench.state.sheet == sheet, **facts)
    app.close()
    surface.close()
    imgui.destroy_context()


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:]))
