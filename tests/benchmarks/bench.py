"""How quickly the bench answers, off screen: first picture, slider to picture, and the card's own time.

    python tests/benchmarks/bench.py [--rows 2160] [--window 1280x720] [--hard] [--json]

The master is 10-bit DPX in PQ: four by four small copies of the demo scene, or with --hard light that moves through
levels and saturated colours, with a strip of random colour. Times are medians in milliseconds; the smallest and the
largest stand behind. The card's time is what its own clock counts, as GL_TIME_ELAPSED, for every pixel of the master:
four renditions, then each scope of a rendition. Compare figures of one run only.
"""

import argparse
import json
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import viewer.gl  # noqa: F401 - first: it sets the platform of GL
from demo.make_scene import grade, render_frame, write_frame_dpx
from tests.bench.conftest import sample_light
from tests.benchmarks.desk import Desk
from viewer.bench import state as actions
from viewer.bench.canvas import Canvas, Drawing
from viewer.bench.layout import View
from viewer.bench.scope_counts import Grid, Subject
from viewer.bench.scopes import KINDS
from viewer.bench.tallies import NOWHERE
from viewer.gl.context import is_software, renderer_name, version_text
from viewer.gl.texture import Framebuffer, Texture, settle

Figures = dict[str, list[float]]
"""Milliseconds by what they are of."""


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--rows", type=int, default=2160)
    parser.add_argument("--window", default="1280x720")
    parser.add_argument("--runs", type=int, default=11)
    parser.add_argument("--hard", action="store_true")
    parser.add_argument("--json", action="store_true")
    parsed = parser.parse_args()
    width, height = (int(part) for part in parsed.window.split("x"))
    with tempfile.TemporaryDirectory() as folder:
        master = make_master(Path(folder, "master.dpx"), parsed.rows, parsed.hard)
        load = os.getloadavg()[0]
        figures = {"from command to first picture": first_picture(master, parsed.window)}
        desk = Desk(master, (width, height))
        words = (
            f"{version_text()}; {platform.system()} {platform.machine()}, {os.cpu_count()} cores, load {load:.1f}; "
            f"master {parsed.rows * 16 // 9} x {parsed.rows}, window {width} x {height}"
        )
        figures |= sliders(desk, parsed.runs) | card_times(desk, parsed.runs)
        desk.close()
    if parsed.json:
        print(json.dumps({"where": words, "milliseconds": figures}))
        return
    print(words)
    for name, times in figures.items():
        print(f"{name:52}{statistics.median(times):10.2f} ms ({min(times):.2f}..{max(times):.2f}, {len(times)})")


def make_master(path: Path, rows: int, is_hard: bool) -> Path:
    """Write the master."""
    import numpy as np

    if is_hard:
        light = sample_light(rows * 16 // 9, rows)
    else:
        light = np.tile(grade(render_frame(0, rows * 4 // 9, rows // 4)), (4, 4, 1))
    write_frame_dpx(path, light)
    return path


def first_picture(master: Path, window: str, runs: int = 5) -> list[float]:
    """Return how long a process takes from its start to the first frame with all pictures.

    The first run is left out: it makes byte code, which an installed program has, and fills the driver's memory.
    """
    times = []
    for _ in range(runs + 1):
        command = [sys.executable, str(Path(__file__).with_name("desk.py")), str(master), *window.split("x")]
        byte_code = {"PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": str(master.parent)}
        environment = {**os.environ, **byte_code, "PYTHONPATH": os.pathsep.join(sys.path)}
        start = time.time()
        done = subprocess.run(command, check=True, env=environment, capture_output=True, text=True)
        times.append(1000.0 * (float(done.stdout) - start))
    return times[1:]


def sliders(desk: Desk, runs: int) -> Figures:
    """Return how long a slider's move takes to its picture, and until every pixel is exact, by layout."""
    bench = desk.bench
    figures: Figures = {}
    showings: dict[str, dict[str, object]] = {
        "side by side": {"layout": "side by side"},
        "wipe": {"layout": "wipe", "first": 1, "second": 2},
        "flip": {"layout": "flip", "first": 1, "second": 2},
        "difference": {"layout": "difference", "first": 1, "second": 2},
    }
    for name, showing in showings.items():
        figures |= moves(desk, name, runs, lambda showing=showing: bench.show(**showing))  # type: ignore[misc]
    bench.show(layout="side by side")
    for kind in KINDS[:4]:
        bench.shown.scopes = bench.shown.scopes.toggled(kind)
    figures |= moves(desk, "side by side, four scopes", runs, lambda: None)
    bench.do(actions.with_view, View(1.0, (0.5, 0.5)))
    figures |= moves(desk, "side by side at 1:1, four scopes", runs, lambda: None)
    for kind in KINDS[:4]:
        bench.shown.scopes = bench.shown.scopes.toggled(kind)
    return figures


def moves(desk: Desk, name: str, runs: int, prepare: Callable[[], object]) -> Figures:
    """Return the times of one way to show the pictures."""
    prepare()
    desk.rest()
    first, exact = [], []
    for number in range(runs + 2):
        desk.bench.set("input.exposure", 0.125 * (1 + number % 7))
        first.append(1000.0 * desk.frame())
        if number < 3:
            exact.append(first[-1] + 1000.0 * desk.rest())
    desk.rest()
    return {f"slider to picture, {name}": first[2:], f"  until every pixel is exact, {name}": exact}


def card_times(desk: Desk, runs: int) -> Figures:
    """Return the card's own times of every pixel of the master: renditions, and scopes."""
    bench, tiles, tallies = desk.bench, desk.app.stage.tiles, desk.app.scopes.tallies
    bench.set("input.exposure", 0.0)
    desk.rest()
    light = tiles.pyramid
    assert light is not None
    columns, rows = light.columns, light.rows
    texture, whole = light.levels[0].texture, Grid(0, 0, columns, rows)
    canvases = [Canvas() for _ in bench.state.slots]
    chains = [working.chain for slot in bench.state.slots if (working := bench.working(slot)) and working.chain]

    def paint() -> None:
        for chain, canvas in zip(chains, canvases, strict=True):
            tiles.painter.paint(Drawing(NOWHERE, bench.state.monitor, chain), texture, canvas, (columns, rows))
        settle(canvas.framebuffer.texture for canvas in canvases if canvas.framebuffer is not None)  # to be shown

    tiles.programs.prepare()
    keep_busy = filler(columns, rows)
    figures = {"card: four renditions": elapsed(paint, runs, keep_busy)}
    for chain, canvas in zip(chains, canvases, strict=True):
        drawing = Drawing(NOWHERE, bench.state.monitor, chain)
        figures[f"card:   {chain.rendition.name}"] = elapsed(
            lambda drawing=drawing, canvas=canvas: tiles.painter.paint(drawing, texture, canvas, (columns, rows)),  # type: ignore[misc]
            runs,
            keep_busy,
        )
    for kind in KINDS:
        bench.shown.scopes = bench.shown.scopes.toggled(kind)
        desk.frame()
        form = next(plot.form for plot in desk.app._plots if plot.kind == kind)
        bench.shown.scopes = bench.shown.scopes.toggled(kind)
        counts = tallies.counter.make_counts(form)
        signal = canvases[0].framebuffer
        assert signal is not None
        subject = Subject((texture, (0, 0), 1), signal.texture, chains[0].rendition.target)
        figures[f"card: {kind} of a rendition"] = elapsed(
            lambda form=form, subject=subject, counts=counts: tallies.counter.add(  # type: ignore[misc]
                form, subject, whole, (0, rows), counts
            ),
            runs,
            keep_busy,
        )
        counts.delete()
    for canvas in canvases:
        canvas.delete()
    return figures


def filler(columns: int, rows: int) -> Callable[[], None]:
    """Return a work of some 10 ms for a card, whose clock would count its waiting for Python's calls too."""
    from OpenGL import GL

    if is_software(renderer_name()):
        return lambda: None
    source, result = (Framebuffer(Texture(GL.GL_RGBA32F, columns, rows)) for _ in range(2))

    def copy() -> None:
        GL.glBindFramebuffer(GL.GL_READ_FRAMEBUFFER, source.handle)
        GL.glBindFramebuffer(GL.GL_DRAW_FRAMEBUFFER, result.handle)
        for _ in range(100):
            GL.glBlitFramebuffer(0, 0, columns, rows, 0, 0, columns, rows, GL.GL_COLOR_BUFFER_BIT, GL.GL_NEAREST)

    return copy


def elapsed(work: Callable[[], object], runs: int, keep_busy: Callable[[], None]) -> list[float]:
    """Return what the card's clock counts of a work, after two runs that warm up."""
    import ctypes

    import numpy as np
    from OpenGL import GL
    from OpenGL.raw.GL.VERSION.GL_3_3 import glGetQueryObjectui64v

    query = int(np.asarray(GL.glGenQueries(1)).ravel()[0])
    times = []
    for _ in range(runs + 2):
        GL.glFinish()
        keep_busy()
        GL.glBeginQuery(GL.GL_TIME_ELAPSED, query)
        work()
        GL.glEndQuery(GL.GL_TIME_ELAPSED)
        nanoseconds = ctypes.c_uint64()
        glGetQueryObjectui64v(query, GL.GL_QUERY_RESULT, ctypes.byref(nanoseconds))
        times.append(nanoseconds.value / 1e6)
    GL.glDeleteQueries(1, [query])
    return times[2:]


if __name__ == "__main__":
    main()
