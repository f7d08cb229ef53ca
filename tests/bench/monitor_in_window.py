"""Opens the bench in a real window as it starts, with a monitor from the settings file, and keeps its back buffer.

Run by the tests as `python monitor_in_window.py MASTER OUT.npz`; the settings lie where XDG_CONFIG_HOME says.
"""

import sys
from pathlib import Path
from typing import Any

import numpy as np

import viewer.gl  # noqa: F401 - first: it sets the platform of GL
from tests.bench.draw_in_window import KeepingSurface
from tonemap.host import find_operators
from tonemap.media.wishes import EncodingWishes
from tonemap.rendition import Rendition
from viewer.bench import state as actions
from viewer.bench.app import App, turn
from viewer.bench.bench import Bench
from viewer.bench.layout import View
from viewer.bench.places import settings_path
from viewer.bench.preferences import tell_bits, use_settings
from viewer.bench.toolkit import imgui
from viewer.settings_file import SettingsFile


def main(master: Path, out: Path) -> None:
    bench = Bench(
        find_operators(), (Rendition("clip", "hard_clip", "gamut_clip"),), EncodingWishes("pq", "bt2020", "full")
    )
    bench.open(master)
    bench.do(actions.with_view, View(1.0, (0.0, 0.0)))
    use_settings(bench, SettingsFile(settings_path()))
    imgui.create_context()
    surface = KeepingSurface("test", 1280, 720)
    app = App(bench, surface, 1.0, {})
    tell_bits(bench)
    while surface.wakes > 0 or not app.is_settled:
        turn(app, surface)
    assert app.ui.places is not None
    kept: dict[str, Any] = {
        "bits": surface.bits,
        "notice": bench.notice.text if bench.notice else "",
        "panel": surface.codes[-100, -20],
        "asked": bench.shown.monitor,
    }
    for key, name in ((None, "picture master"), (1, "picture 1")):
        place, placement = app.ui.places[name], bench.placement
        top, left = place.top + placement.top, place.left + placement.left
        rows, columns = bench.facts.rows, bench.facts.columns
        kept["master" if key is None else "clip"] = surface.codes[top : top + rows, left : left + columns]
    np.savez(out, **kept)
    app.close()
    surface.close()
    imgui.destroy_context()


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:]))
