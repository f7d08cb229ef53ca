"""Opens the bench in a real window as the command does, and lets the card be reset under it as a driver tells of it.

Run by the tests as `python reset_in_window.py SEQUENCE OUT.npz`: a rendition is added, the reset comes in the middle of
a frame, and when the bench has come to rest again on the sequence's last frame, the codes of the rendition's tile are
kept with the signal that it should show, and what the bench says.
"""

import sys
import time
from pathlib import Path

import numpy as np

import viewer.gl  # noqa: F401 - first: it sets the platform of GL
from tests.bench.draw_in_window import KeepingSurface, tile_and_signal
from tonemap.media.wishes import EncodingWishes
from tonemap.rendition import Rendition
from viewer.bench import app as bench_app
from viewer.bench import state as actions
from viewer.bench.layout import View
from viewer.bench.toolkit import glfw

turn = bench_app.turn
PATIENCE = 100.0  # seconds; the thread that reads frames has its own pace


class Reset:
    """A window's loop in which the first window's card is reset."""

    def __init__(self, out: Path) -> None:
        self.out, self.end = out, time.monotonic() + PATIENCE
        self.surfaces: list[KeepingSurface] = []

    def turn(self, app: bench_app.App, surface: KeepingSurface) -> None:
        if surface not in self.surfaces:
            self.surfaces.append(surface)
            app.ui.places = {}
        surface.wakes = max(surface.wakes, 1)
        turn(app, surface)
        if not app.is_settled or surface.count < 4:
            assert time.monotonic() < self.end, "the bench does not come to rest"
            return
        if len(self.surfaces) == 1:
            from OpenGL.error import GLError

            app.bench.do(actions.add, Rendition("Mine", "knee"))
            app.bench.do(actions.with_view, View(1.0, (0.0, 0.0)))
            surface._is_lost = True
            raise GLError(0x0507)  # context lost
        key, playback = app.bench.state.selected, app.bench.playback
        assert key is not None
        assert playback is not None, "the frames are lost"
        if playback.transport.position == 0:
            playback.transport.go(playback.reel.count - 1)
        if playback.is_waiting:
            return
        tile, signal = tile_and_signal(app, surface, key)
        assert app.bench.notice is not None
        np.savez(
            self.out,
            tile=tile,
            signal=signal,
            bits=surface.bits,
            words=app.bench.notice.text,
            frame=app.bench.state.frame,
        )
        glfw.set_window_should_close(surface.window, True)


if __name__ == "__main__":
    vars(bench_app)["turn"] = Reset(Path(sys.argv[2])).turn
    vars(bench_app)["WindowSurface"] = KeepingSurface
    bench_app.run_bench(Path(sys.argv[1]), EncodingWishes("pq", "bt2020", "full"), size=(1280, 720))
