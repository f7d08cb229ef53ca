"""Make the pictures of the README with the program itself: python docs/make_pictures.py (after demo/run.py)."""

import sys
from pathlib import Path

import numpy as np

from tonemap.encoding import Encoding
from tonemap.host import find_operators
from tonemap.media.oiio_output import write_codes
from tonemap.media.wishes import EncodingWishes
from tonemap.starters import starter_renditions
from viewer.bench.app import App
from viewer.bench.bench import Bench
from viewer.bench.patch_actions import add_patch, rename_patch
from viewer.bench.scopes import TRANSFER, WAVEFORM
from viewer.bench.surface import OffscreenSurface
from viewer.bench.toolkit import imgui
from viewer.commands import main

MASTER = Path("demo/output/exr/scene.0000.exr")
IMAGES = Path("docs/images")
POINTED = (0.72, 0.62)  # of the window: off the pictures
PATCHES = ((((0.497, 0.265), (0.548, 0.265), (0.548, 0.298), (0.497, 0.298)), "skin", "forehead"),)
"""Corners as shares of the picture, kind and name."""

SCREEN = Encoding("bt1886", "bt709", "full", 8, 100.0)


def make_comparison() -> None:
    """Write the comparison of the starters."""
    words = ["compare", str(MASTER), "-o", str(IMAGES / "compare.png"), "--overwrite", "--width", "1600"]
    if main([*words, "--title", "Lantern workshop"]):
        sys.exit("the pictures need the demo's master; run python demo/run.py first")


def make_bench(columns: int = 1920, rows: int = 1080) -> None:
    """Write the bench with the figures of a patch on a face, and two scopes."""
    surface = OffscreenSurface(columns, rows)
    imgui.create_context()
    bench = Bench(find_operators(), starter_renditions(), EncodingWishes())
    bench.open(MASTER)
    app = App(bench, surface)
    for corners, kind, name in PATCHES:
        bench.do(add_patch, corners, kind)
        bench.do(rename_patch, name)
    for kind in (WAVEFORM, TRANSFER):
        bench.shown.scopes = bench.shown.scopes.toggled(kind)
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
