"""Opens the bench in a real window on the present display, and keeps what its back buffer holds before it is shown.

Run by the tests as `python draw_in_window.py MASTER DROPPED OUT.npz`: the code values of one rendition's tile with the
signal that it should show, once for the master and once for a file that is dropped on the window.
"""

import sys
import time
from pathlib import Path

import numpy as np

import viewer.gl  # noqa: F401 - first: it sets the platform of GL
from tonemap.host import find_operators
from tonemap.media.wishes import EncodingWishes
from tonemap.reference import ReferenceEngine
from tonemap.signal_range import expand
from tonemap.starters import starter_renditions
from viewer.bench import state as actions
from viewer.bench.app import App, turn
from viewer.bench.bench import Bench
from viewer.bench.layout import View
from viewer.bench.surface import WindowSurface
from viewer.bench.toolkit import imgui


class KeepingSurface(WindowSurface):
    """A window that reads its back buffer in 10 bits a channel before it is shown."""

    words: np.ndarray
    count = 0

    @property
    def codes(self) -> np.ndarray:
        """The code values, (rows, columns, 3), the upper row first."""
        return np.stack([(self.words >> shift) & 1023 for shift in (0, 10, 20)], axis=-1)[::-1]

    def end(self) -> None:
        from OpenGL import GL

        width, height = self.size
        self.words = np.empty((height, width), np.uint32)
        GL.glReadBuffer(GL.GL_BACK)
        GL.glPixelStorei(GL.GL_PACK_ALIGNMENT, 4)
        GL.glReadPixels(0, 0, width, height, GL.GL_RGBA, GL.GL_UNSIGNED_INT_2_10_10_10_REV, self.words)
        self.count += 1
        super().end()


def tile_and_signal(app: App, surface: KeepingSurface, key: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the codes of a tile where the picture is, and the signal of the same pixels from the reference engine."""
    working, master = app.bench.working(app.bench.state.slot(key)), app.bench.state.master
    assert working is not None
    assert working.chain is not None
    assert master is not None
    assert app.ui.places is not None
    picture, target = master.picture, working.chain.rendition.target
    codes = ReferenceEngine().codes(picture, working.chain)
    place, placement = app.ui.places[f"picture {key}"], app.bench.placement
    top, left = place.top + placement.top, place.left + placement.left
    tile = surface.codes[top : top + picture.rows, left : left + picture.columns]
    return tile, expand(codes, target.bits or 0, target.signal_range)


def settle(app: App, surface: KeepingSurface) -> None:
    """Draw a few frames, and then as many as it takes to come to rest."""
    for _ in range(3):
        turn(app, surface)
    while not app.is_settled:
        turn(app, surface)


def main(master: Path, dropped: Path, out: Path) -> None:
    bench = Bench(find_operators(), starter_renditions()[:2], EncodingWishes("pq", "bt2020", "full"))
    bench.open(master)
    bench.do(actions.with_view, View(1.0, (0.0, 0.0)))
    imgui.create_context()
    surface = KeepingSurface("test", 1280, 720)
    app = App(bench, surface, 1.0, {})
    settle(app, surface)
    tile, signal = tile_and_signal(app, surface, 2)
    while surface.wakes > 0:
        turn(app, surface)
    start, count = time.monotonic(), surface.count
    turn(app, surface)
    rest, frames_at_rest = time.monotonic() - start, surface.count - count
    surface.dropped, surface.wakes = [str(dropped)], 3
    turn(app, surface)
    bench.do(actions.with_view, View(1.0, (0.0, 0.0)))
    settle(app, surface)
    second_tile, second_signal = tile_and_signal(app, surface, 2)
    assert bench.state.master is not None
    np.savez(
        out,
        bits=surface.bits,
        rest=rest,
        frames_at_rest=frames_at_rest,
        name=bench.state.master.path.name,
        tile=tile,
        signal=signal,
        second_tile=second_tile,
        second_signal=second_signal,
    )
    app.close()
    surface.close()
    imgui.destroy_context()


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:]))
