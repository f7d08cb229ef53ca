"""Opens the bench with a guest's window on the present display, and keeps what both back buffers hold.

Run by the tests as `python guest_in_window.py MASTER OUT.npz [fill]`; with the last word the guest's window fills the
only monitor, as it would a second one, which a virtual display has not.
"""

import sys
from pathlib import Path

import numpy as np

import viewer.gl  # noqa: F401 - first: it sets the platform of GL
from tonemap.host import find_operators
from tonemap.line_up.patterns import draw_pattern
from tonemap.media.wishes import EncodingWishes
from tonemap.reference import ReferenceEngine
from tonemap.signal_range import expand
from tonemap.starters import starter_renditions
from viewer.bench import guest as guest_module
from viewer.bench import line_up
from viewer.bench import state as actions
from viewer.bench import surface as surface_module
from viewer.bench.app import App, turn
from viewer.bench.bench import Bench
from viewer.bench.input import press
from viewer.bench.layout import View
from viewer.bench.toolkit import glfw, imgui
from viewer.line_up import set_type


def back_buffer(size: tuple[int, int]) -> np.ndarray:
    """Read the bound window's back buffer, in 10 bits a channel."""
    from OpenGL import GL

    width, height = size
    words = np.empty((height, width), np.uint32)
    GL.glReadBuffer(GL.GL_BACK)
    GL.glPixelStorei(GL.GL_PACK_ALIGNMENT, 4)
    GL.glReadPixels(0, 0, width, height, GL.GL_RGBA, GL.GL_UNSIGNED_INT_2_10_10_10_REV, words)
    return np.stack([(words >> shift) & 1023 for shift in (0, 10, 20)], axis=-1)[::-1]


class KeepingGuest(surface_module.GuestSurface):
    """A guest's window that keeps its codes before they are shown."""

    codes: np.ndarray

    def end(self) -> None:
        self.codes = back_buffer(self.size)
        super().end()


class KeepingSurface(surface_module.WindowSurface):
    """A window that keeps its codes before they are shown."""

    codes: np.ndarray

    def end(self) -> None:
        self.codes = back_buffer(self.size)
        super().end()


def draw(app: App, surface: KeepingSurface) -> None:
    """Draw until there is nothing left to do."""
    surface.wakes = 5
    while surface.wakes > 0:
        turn(app, surface)


def lined_up(app: App, surface: KeepingSurface, seen: KeepingGuest) -> tuple[np.ndarray, np.ndarray]:
    """Show the mode check for a while; returns what the guest sees and what it should see."""
    press(app.bench, "u", (0, 0))
    draw(app, surface)
    codes = seen.codes
    app.bench.line_up.close()
    draw(app, surface)
    screen = line_up.with_codes(app.bench.state.monitor.encoding, seen.bits)
    return codes, draw_pattern("mode-check", screen, *seen.size, set_type, line_up.NOTE)


def full_size(app: App, surface: KeepingSurface) -> tuple[int, int]:
    """Present for a while; returns the size of the window meanwhile."""
    press(app.bench, "f11", (0, 0))
    draw(app, surface)
    full = surface.size
    press(app.bench, "f11", (0, 0))
    draw(app, surface)
    return full


def main(master: Path, out: Path, *, fills: bool) -> None:
    setattr(surface_module, "GUEST_SIZE", (1000, 600))  # noqa: B010 - smaller than the display
    if fills:
        setattr(surface_module, "monitor_beside", lambda _: glfw.get_primary_monitor())  # noqa: B010
    setattr(guest_module, "GuestSurface", KeepingGuest)  # noqa: B010
    bench = Bench(find_operators(), starter_renditions()[:2], EncodingWishes("pq", "bt2020", "full"))
    bench.open(master)
    assert bench.state.master is not None
    picture = bench.state.master.picture
    bench.show(layout="wipe", first=1, second=2)
    bench.do(actions.with_view, View(1.0, (0.0, 0.0)))
    imgui.create_context()
    surface = KeepingSurface("test", 900, 600)
    app = App(bench, surface, 1.0, {})
    draw(app, surface)
    before = surface.codes.copy()
    bench.presenting.has_captions = False
    press(bench, "g", (0, 0))
    draw(app, surface)
    guest = app.guest_room.guest
    assert guest is not None
    assert isinstance(guest.surface, KeepingGuest)
    wide = guest.surface.codes
    signals = []
    for key in (1, 2):
        working = bench.working(bench.state.slot(key))
        assert working is not None
        assert working.chain is not None
        target = working.chain.rendition.target
        codes = ReferenceEngine().codes(picture, working.chain)
        signals.append(expand(codes, target.bits or 0, target.signal_range))
    place = guest.stage.placement
    columns, rows = guest.stage.picture_size
    corner = (guest.surface.size[0] - columns) // 2 + place.left, (guest.surface.size[1] - rows) // 2 + place.top
    tile = wide[corner[1] : corner[1] + picture.rows, corner[0] : corner[0] + picture.columns]
    beside = surface.codes.copy()
    facts = {
        "size": guest.surface.size,
        "at": glfw.get_window_pos(guest.surface.window),
        "monitors": len(glfw.get_monitors()),
        "bits": guest.surface.bits,
        "line": bench.line.side(columns, rows)[2] - place.left,
    }
    pattern, wanted_pattern = lined_up(app, surface, guest.surface)
    glfw.set_window_should_close(guest.surface.window, True)
    draw(app, surface)
    after = surface.codes.copy()
    full = full_size(app, surface)
    np.savez(
        out,
        tile=tile,
        wide=wide,
        pattern=pattern,
        wanted_pattern=wanted_pattern,
        first=signals[0],
        second=signals[1],
        before=before,
        beside=beside,
        after=after,
        full=full,
        again=surface.size,
        is_gone=app.guest_room.guest is None and not bench.presenting.has_guest,
        **facts,
    )
    press(bench, "g", (0, 0))
    draw(app, surface)
    assert app.guest_room.guest is not None
    app.close()  # with the guest's window open
    surface.close()
    imgui.destroy_context()


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:3]), fills=len(sys.argv) > 3)
