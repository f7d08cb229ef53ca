"""Plays a movie in a real window by the real clock, and keeps what the window holds of every frame that is shown.

Run by the tests as `python play_in_window.py MOVIE SECONDS OUT.npz`.
"""

import sys
import time
from pathlib import Path

import numpy as np

import viewer.gl  # noqa: F401 - first: it sets the platform of GL
from tests.bench.draw_in_window import KeepingSurface
from tonemap.host import find_operators
from tonemap.media.wishes import EncodingWishes
from tonemap.picture import Picture
from tonemap.reference import ReferenceEngine
from tonemap.signal_range import expand
from tonemap.starters import starter_renditions
from viewer.bench import state as actions
from viewer.bench.app import App, turn
from viewer.bench.bench import Bench
from viewer.bench.layout import View
from viewer.bench.toolkit import imgui


def main(movie: Path, seconds: float, out: Path) -> None:
    bench = Bench(find_operators(), starter_renditions()[:1], EncodingWishes())
    bench.open(movie)
    bench.do(actions.with_view, View(1.0, (0.0, 0.0)))
    playback = bench.playback
    assert playback is not None
    imgui.create_context()
    surface = KeepingSurface("test", 1280, 720)
    bench.call = surface.call
    app = App(bench, surface, 1.0, {})
    app.timeline.looks_through = True
    while surface.wakes > 0 or not app.is_settled:
        turn(app, surface)
    transport = playback.transport
    transport.play()
    start, longest = time.monotonic(), 0.0
    seen: dict[int, tuple[np.ndarray, Picture]] = {}
    while time.monotonic() - start < seconds and transport.is_playing:
        began = time.monotonic()
        turn(app, surface)
        longest = max(longest, time.monotonic() - began)
        assert bench.state.master is not None
        assert app.ui.places is not None
        frame = bench.state.master.frame
        place, placement = app.ui.places["picture 1"], bench.placement
        if frame.index not in seen:
            at = place.top + placement.top + 3, place.left + placement.left + 3
            seen[frame.index] = surface.codes[at].copy(), frame.picture
    now = time.monotonic()
    transport.clock = lambda: now
    taken, due = now - transport._began, transport.due()
    working = bench.working(bench.state.slots[0])
    assert working is not None
    assert working.chain is not None
    target = working.chain.rendition.target
    wanted = [
        expand(
            ReferenceEngine().codes(Picture(picture.samples[3:4, 3:4], picture.encoding), working.chain),
            target.bits or 0,
            target.signal_range,
        )[0, 0]
        for _, picture in seen.values()
    ]
    background = app.timeline.background
    assert background is not None
    process = background._process
    closing = time.monotonic()
    app.close()
    surface.close()
    imgui.destroy_context()
    np.savez(
        out,
        bits=surface.bits,
        taken=taken,
        longest=longest,
        due=due,
        place=transport.place,
        shown=transport.shown,
        dropped=transport.dropped,
        indices=list(seen),
        codes=[codes for codes, _ in seen.values()],
        wanted=wanted,
        closing=time.monotonic() - closing,
        is_alive=process.is_alive(),
    )


if __name__ == "__main__":
    main(Path(sys.argv[1]), float(sys.argv[2]), Path(sys.argv[3]))
