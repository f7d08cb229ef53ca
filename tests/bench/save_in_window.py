"""Saves the files of an operator while the bench shows it in a real window, and times what comes of it.

Run as `python save_in_window.py MASTER OUT.npz SAVES [--fit]` on the present display, with five tiles. Each save is of
one file of the pair, in turn. Kept for each: the seconds from before the save to when the folder's watch called, to the
first frame shown with other pixels, and to the frame in which nothing is left to do, and the processor time to those
first pixels; the code values of the tile, and the signal that it should show by the reference engine.
"""

import sys
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

import viewer.gl  # noqa: F401 - first: it sets the platform of GL
from tests.bench.draw_in_window import KeepingSurface
from tonemap.host import find_operators
from tonemap.media.wishes import EncodingWishes
from tonemap.reference import ReferenceEngine
from tonemap.rendition import Rendition
from tonemap.signal_range import expand
from tonemap.starters import starter_renditions
from viewer.bench import state as actions
from viewer.bench.app import App, turn
from viewer.bench.bench import Bench
from viewer.bench.layout import View
from viewer.bench.toolkit import imgui
from viewer.bench.watching import FolderWatch

PYTHON = '''
from tonemap.operator import Operator, Parameter


class Dim(Operator):
    """One gain."""

    interface_version = 1
    name = "dim"
    title = "Dim"
    kind = "tone"
    source = "a test"
    parameters = (Parameter(name="share", unit="", default=0.25, minimum=0.0, maximum=1.0, help="Share."),)
    derived = ("gain",)

    def derive(self, p):
        return {"gain": p.share * 1.0}

    def apply(self, light, p):
        return light * p.gain
'''
GLSL = """
#include "lib/levels.glsl"

vec3 dim(vec3 light, Levels levels, float share, float gain)
{
    return light * gain * 1.0;
}
"""
PATIENCE = 120.0


class Saving:
    """A bench in a window with an operator from a folder, and the times of what happened since the last save."""

    def __init__(self, master: Path, folder: Path, is_fitted: bool) -> None:
        self.folder = folder
        self.write("py", 1.0)
        self.write("glsl", 1.0)
        bench = Bench(find_operators([folder]), starter_renditions(), EncodingWishes("pq", "bt2020", "full"))
        bench.open(master)
        bench.do(actions.add, Rendition("Mine", "dim"))
        if not is_fitted:
            bench.do(actions.with_view, View(1.0, (0.0, 0.0)))
        imgui.create_context()
        size = (1600, 940) if is_fitted else (1280, 720)
        assert bench.state.selected is not None
        assert bench.state.master is not None
        self.bench, self.key, self.surface = bench, bench.state.selected, KeepingSurface("test", *size)
        self.picture = bench.state.master.picture
        self.app = App(bench, self.surface, 1.0, {})
        self.called = 0.0
        self.app.watch = FolderWatch(bench.host.folders, self._call)
        self.until(lambda: self.app.is_settled and self.surface.wakes <= 0)

    def write(self, file: str, factor: float) -> None:
        text = PYTHON if file == "py" else GLSL
        (self.folder / f"dim.{file}").write_text(text.replace("1.0}", f"{factor}}}").replace("1.0;", f"{factor};"))

    def until(self, is_there: Callable[[], bool]) -> float:
        """Turn until something is there, and return the time."""
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            turn(self.app, self.surface)
            if is_there():
                return time.monotonic()
        raise AssertionError("it never came")

    def tile(self) -> np.ndarray:
        """Return the codes of the operator's tile, where the picture is."""
        picture, placement = self.picture, self.bench.placement
        assert self.app.ui.places is not None
        place = self.app.ui.places[f"picture {self.key}"]
        top, left = place.top + placement.top, place.left + placement.left
        rows, columns = round(picture.rows * placement.zoom), round(picture.columns * placement.zoom)
        return self.surface.codes[max(top, place.top) : top + rows, max(left, place.left) : left + columns]

    def save(self, file: str, factor: float) -> tuple[float, float, float, float]:
        """Save a file from another thread, and return how long its three events took, and the processor time."""
        before, began, work = self.tile(), 0.0, 0.0

        def saved() -> None:
            nonlocal began, work
            time.sleep(0.05)  # the bench rests by now
            began, work = time.monotonic(), time.process_time()
            self.write(file, factor)

        threading.Thread(target=saved).start()
        shown = self.until(lambda: not np.array_equal(before, self.tile()))
        work = time.process_time() - work
        settled = shown if self.app.is_settled else self.until(lambda: self.app.is_settled)
        return self.called - began, shown - began, settled - began, work

    def wanted(self, glsl_factor: float) -> np.ndarray:
        """Return the signal of the whole picture by the reference engine, with what the GLSL file does beside it."""
        working = self.bench.working(self.bench.state.slot(self.key))
        assert working is not None
        assert working.chain is not None
        rendition = replace(working.chain.rendition, tone_settings={"share": 0.25 * glsl_factor})
        codes = ReferenceEngine().codes(self.picture, replace(working.chain, rendition=rendition))
        target = rendition.target
        return expand(codes, target.bits or 0, target.signal_range)

    def close(self) -> None:
        self.app.close()
        self.surface.close()
        imgui.destroy_context()

    def _call(self) -> None:
        self.called = time.monotonic()
        self.surface.call()


def main(master: Path, out: Path, saves: int, is_fitted: bool) -> None:
    times: dict[str, list[tuple[float, ...]]] = {"py": [], "glsl": []}
    shown, wanted = [], []
    with tempfile.TemporaryDirectory() as folder:
        saving = Saving(master, Path(folder), is_fitted)
        glsl_factor = 1.0
        for index in range(saves):
            for file, seconds in times.items():
                factor = 0.5 + 0.0625 * index  # always another one: a driver remembers the texts that it compiled
                seconds.append(saving.save(file, factor))
                glsl_factor = factor if file == "glsl" else glsl_factor
                if not is_fitted:
                    shown.append(saving.tile())
                    wanted.append(saving.wanted(glsl_factor))
        bits = saving.surface.bits
        saving.close()
    np.savez(out, bits=bits, shown=shown, wanted=wanted, py=times["py"], glsl=times["glsl"])


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]), "--fit" in sys.argv)
