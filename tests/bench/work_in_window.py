"""Works on a trim sheet in a real window and is killed, or opens it again and keeps what the window holds.

Run by the tests as `python work_in_window.py work SHEET STATE` and as `... again SHEET STATE OUT.npz`.
"""

import os
import signal
import sys
from pathlib import Path

import numpy as np

import viewer.gl  # noqa: F401 - first: it sets the platform of GL
from tonemap.host import find_operators
from tonemap.media.wishes import EncodingWishes
from tonemap.reference import ReferenceEngine
from tonemap.signal_range import expand
from tonemap.starters import starter_renditions
from viewer.bench import sheet_actions
from viewer.bench import state as actions
from viewer.bench.app import App, turn
from viewer.bench.bench import Bench
from viewer.bench.layout import View
from viewer.bench.start import open_first
from viewer.bench.surface import WindowSurface
from viewer.bench.toolkit import imgui


class KeepingSurface(WindowSurface):
    """A window that reads its back buffer in 10 bits a channel before it is shown."""

    codes: np.ndarray

    def end(self) -> None:
        from OpenGL import GL

        width, height = self.size
        words = np.empty((height, width), np.uint32)
        GL.glReadBuffer(GL.GL_BACK)
        GL.glPixelStorei(GL.GL_PACK_ALIGNMENT, 4)
        GL.glReadPixels(0, 0, width, height, GL.GL_RGBA, GL.GL_UNSIGNED_INT_2_10_10_10_REV, words)
        self.codes = np.stack([(words >> shift) & 1023 for shift in (0, 10, 20)], axis=-1)[::-1]
        super().end()


def turns(app: App, surface: WindowSurface, count: int = 3) -> None:
    """Draw some frames, and then as many as it takes to come to rest."""
    for left in range(2000, 0, -1):
        surface.wakes = max(surface.wakes, 1)
        turn(app, surface)
        is_waiting = app.bench.playback is not None and app.bench.playback.is_waiting
        if left <= 2000 - count and app.is_settled and not is_waiting:
            return
    raise AssertionError("the bench does not come to rest")


def drag_exposure(app: App, surface: WindowSurface, share: float) -> None:
    """Drag the track of the exposure to a share of its length, as a hand does."""
    assert app.ui.places is not None
    place, io = app.ui.places["track input.exposure"], imgui.get_io()
    for at in (0.5, 0.5 + 0.5 * (share - 0.5), share):
        io.add_mouse_pos_event(place.left + at * place.width, place.top + 0.5 * place.height)
        turns(app, surface, 2)
        if at == 0.5:
            io.add_mouse_button_event(0, True)
            turns(app, surface, 1)
    io.add_mouse_button_event(0, False)
    turns(app, surface, 2)


def work(app: App, surface: WindowSurface) -> None:
    """Go to the second shot, let it take another rendition, change that, and be killed before anything is saved."""
    bench = app.bench
    bench.keeping.rest = lambda: False  # type: ignore[method-assign]  # the half second that leads to a save never ends
    assert bench.playback is not None
    bench.playback.transport.go(2)
    bench.playback.transport.mark_first()
    bench.playback.transport.loop(True)
    turns(app, surface, 30)
    key = next(slot.key for slot in bench.state.slots if slot.rendition.name == "BT.2446 C")
    bench.do(actions.select, key)
    bench.do(sheet_actions.take, key, bench.host)
    bench.do(sheet_actions.only_here, True)
    bench.do(actions.with_view, View(1.0, (0.0, 0.0)))
    turns(app, surface)
    drag_exposure(app, surface, 0.4)
    print(bench.state.slot(key).rendition.input.exposure, flush=True)
    os.kill(os.getpid(), signal.SIGKILL)


def look(app: App, surface: KeepingSurface, out: Path) -> None:
    """Keep where the bench stands, and the codes of the taken rendition's tile with the signal that it should show."""
    bench = app.bench
    assert bench.notice is not None
    notice, bench.notice = bench.notice.text, None
    imgui.get_io().add_mouse_pos_event(5, 5)
    bench.do(actions.with_view, View(1.0, (0.0, 0.0)))
    turns(app, surface, 30)
    slot, master = bench.state.selected_slot, bench.state.master
    assert slot is not None
    assert master is not None
    assert app.ui.places is not None
    chain = bench.working(slot).chain  # type: ignore[union-attr]
    assert chain is not None
    picture, target = master.picture, chain.rendition.target
    place, placement = app.ui.places[f"picture {slot.key}"], bench.placement
    top, left = place.top + placement.top, place.left + placement.left
    assert bench.playback is not None
    transport = bench.playback.transport
    np.savez(
        out,
        bits=surface.bits,
        notice=notice,
        marks=[transport.first, transport.last, transport.is_looping],
        frame=bench.state.frame,
        shot=bench.state.shot.name if bench.state.shot else "",
        name=slot.rendition.name,
        taken=bench.state.taken == slot.key,
        exposure=slot.rendition.input.exposure,
        tile=surface.codes[top : top + picture.rows, left : left + picture.columns],
        signal=expand(ReferenceEngine().codes(picture, chain), target.bits or 0, target.signal_range),
    )


def main(what: str, sheet: Path, state: Path, out: Path | None = None) -> None:
    bench = Bench(find_operators(), starter_renditions(), EncodingWishes(), state)
    open_first(bench, sheet)
    imgui.create_context()
    surface = KeepingSurface("test", 1280, 720)
    app = App(bench, surface, 1.0, {})
    bench.call = surface.call
    turns(app, surface)
    if what == "work":
        work(app, surface)
    assert out is not None
    look(app, surface, out)
    bench.end()
    app.close()
    surface.close()
    imgui.destroy_context()


if __name__ == "__main__":
    main(sys.argv[1], *map(Path, sys.argv[2:]))
