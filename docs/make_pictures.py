"""Make the pictures of the README with the program itself: python docs/make_pictures.py (after demo/run.py)."""

from pathlib import Path

import numpy as np

from tonemap.encoding import Encoding
from tonemap.host import find_operators
from tonemap.media.oiio_output import write_codes
from tonemap.media.wishes import EncodingWishes
from tonemap.starters import starter_renditions
from viewer.bench.app import App
from viewer.bench.bench import Bench
from viewer.bench.surface import OffscreenSurface
from viewer.bench.toolkit import imgui
from viewer.commands import main

MASTER = Path("demo/output/exr/scene.0000.exr")
IMAGES = Path("docs/images")
POINTED = (0.388, 0.314)  # of the window: on a forehead in the second tile
SCREEN = Encoding("bt1886", "bt709", "full", 8, 100.0)


def make_comparison() -> None:
    """Write the comparison of the starters."""
    words = ["compare", str(MASTER), "-o", str(IMAGES / "compare.png"), "--overwrite", "--width", "1600"]
    main([*words, "--title", "Lantern workshop"])


def make_bench(columns: int = 1600, rows: int = 900) -> None:
    """Write the bench as it opens, with the pointer on a face."""
    surface = OffscreenSurface(columns, rows)
    imgui.create_context()
    bench = Bench(find_operators(), starter_renditions(), EncodingWishes())
    bench.open(MASTER)
    app = App(bench, surface)
    imgui.get_io().add_mouse_pos_event(POINTED[0] * columns, POINTED[1] * rows)
    for _ in range(8):
        app.frame()
    while not app.is_settled:
        app.frame()
    write_codes(IMAGES / "bench.png", np.ascontiguousarray(surface.codes()), SCREEN, overwrite=True)
    app.close()
    imgui.destroy_context()
    surface.close()


if __name__ == "__main__":
    IMAGES.mkdir(parents=True, exist_ok=True)
    make_comparison()
    make_bench()
