"""Works on the bench in a real window with the hands of xdotool, and prints what came of it as JSON.

Run by the tests as `python hands_in_window.py MASTER`.
"""

import json
import subprocess
import sys
import time
from pathlib import Path

import viewer.gl  # noqa: F401 - first: it sets the platform of GL
from tests.bench.conftest import WISHES
from tonemap.host import find_operators
from tonemap.starters import starter_renditions
from viewer.bench import state as actions
from viewer.bench.app import App, turn
from viewer.bench.bench import Bench
from viewer.bench.layout import View
from viewer.bench.surface import WindowSurface
from viewer.bench.toolkit import imgui


def main(master: Path) -> None:
    bench = Bench(find_operators(), starter_renditions(), WISHES)
    bench.open(master)
    imgui.create_context()
    surface = WindowSurface("test", 1280, 720)
    bench.call = surface.call
    app = App(bench, surface, 1.0, {})
    found: dict[str, object] = {}

    def hands(*words: object) -> None:
        """Let hands do something, as quickly as they can, and draw until the bench rests again."""
        process = subprocess.Popen(["xdotool", *map(str, words)])
        end = time.monotonic() + 200.0
        while process.poll() is None or surface.wakes > 0 or not app.is_settled:
            assert time.monotonic() < end, "the bench does not come to rest"
            surface.wakes = max(surface.wakes, 1 if process.poll() is None else 0)
            turn(app, surface)
        for _ in range(3):
            surface.wakes = max(surface.wakes, 1)
            turn(app, surface)

    def middle(name: str) -> tuple[int, int]:
        place = (app.ui.places or {})[name]
        return round(place.left + 0.5 * place.width), round(place.top + 0.5 * place.height)

    def exposure() -> float:
        slot = bench.state.selected_slot
        assert slot is not None
        return slot.rendition.input.exposure

    hands("mousemove", 5, 5)
    x, y = middle("track input.exposure")
    hands("mousemove", x, y, "mousedown", 1, "mousemove", x - 20, y, "mouseup", 1)
    found["dragged"] = exposure()
    hands("sleep", 0.6, "mousemove", x + 15, y, "click", "--repeat", 2, "--delay", 80, 1)
    found["reset"] = exposure()
    bench.do(actions.with_view, View(8.0, (60.0, 33.5)))
    x, y = middle("picture 1")
    hands("mousemove", 5, 5)
    hands("mousemove", x, y, "mousedown", 1, "mousemove", x + 40, y + 16, "mouseup", 1)
    found["centre"] = bench.state.view.centre
    hands("keydown", "d", "sleep", 1.5, "keyup", "d")
    found["slots"] = len(bench.state.slots)
    hands("keydown", "comma", "sleep", 1.5, "keyup", "comma")
    found["held"] = exposure()
    print(json.dumps(found))
    app.close()
    surface.close()
    bench.end()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
