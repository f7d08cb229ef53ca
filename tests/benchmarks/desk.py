"""A bench with a master and the four starters, off screen; imports only what the command itself does.

    python tests/benchmarks/desk.py MASTER COLUMNS ROWS

prints the time of day (in seconds) at which the first frame with all pictures is on the surface.
"""

import sys
import time
from pathlib import Path

import viewer.gl  # noqa: F401 - first: it sets the platform of GL
from tonemap.host import find_operators
from tonemap.media.wishes import EncodingWishes
from tonemap.starters import starter_renditions
from viewer.bench.app import App
from viewer.bench.aside import Aside
from viewer.bench.bench import Bench
from viewer.bench.surface import OffscreenSurface
from viewer.bench.toolkit import imgui


class Desk:
    """A bench with a master and the four starters on a surface in memory."""

    def __init__(self, master: Path, size: tuple[int, int]) -> None:
        self.bench = Bench(find_operators(), starter_renditions(), EncodingWishes("pq", "bt2020", "narrow"))
        reading = Aside(master.name, lambda: self.bench.open(master), lambda _: None, lambda: None)
        self.surface = OffscreenSurface(*size, 10)  # while the master is read, as where a window is made
        imgui.create_context()
        reading.wait()
        reading.finish()
        self.app = App(self.bench, self.surface, 1.0, {})

    def frame(self) -> float:
        """Draw one frame to its end; returns the seconds."""
        from OpenGL import GL

        start = time.perf_counter()
        self.app.frame()
        GL.glFinish()
        return time.perf_counter() - start

    def rest(self) -> float:
        """Draw until nothing is left to do; returns the seconds."""
        seconds = self.frame()
        while not self.app.is_settled:
            seconds += self.frame()
        return seconds

    def close(self) -> None:
        """Give everything back."""
        self.app.close()
        imgui.destroy_context()
        self.surface.close()


if __name__ == "__main__":
    Desk(Path(sys.argv[1]), (int(sys.argv[2]), int(sys.argv[3]))).frame()
    print(time.time())
