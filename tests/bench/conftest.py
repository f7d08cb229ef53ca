"""What the tests of the bench share: masters on disk, the bench on a surface in memory, and a hand that moves on it."""

import os
import shutil
import subprocess
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import viewer.gl  # noqa: F401 - first: it sets the platform of GL
from tonemap.colorimetry import conversion_matrix, convert
from tonemap.encoding import Encoding, decode, signal_to_light
from tonemap.host import Host, find_operators
from tonemap.media.wishes import EncodingWishes
from tonemap.picture import Picture
from tonemap.reference import ReferenceEngine
from tonemap.rendition import Chain
from tonemap.signal_range import expand, quantise
from tonemap.starters import starter_renditions
from tonemap.transfer import pq_eotf_inverse
from viewer.bench import state as actions
from viewer.bench.app import App
from viewer.bench.bench import Bench
from viewer.bench.layout import Rect, View
from viewer.bench.surface import OffscreenSurface
from viewer.bench.toolkit import imgui

COLUMNS, ROWS = 120, 67
ROOT = Path(__file__).resolve().parents[2]


def sample_light(columns: int = COLUMNS, rows: int = ROWS) -> np.ndarray:
    """Return light that moves through levels and colours: ramps, with saturated patches and random pixels."""
    random = np.random.default_rng(7)
    levels = 1000.0 * np.linspace(0.0, 1.0, columns) ** 3
    hue = np.stack([np.ones(rows), np.linspace(0.2, 1.0, rows), np.linspace(1.0, 0.3, rows)], axis=1)
    light = levels[np.newaxis, :, np.newaxis] * hue[:, np.newaxis, :]
    light[: rows // 4] = 1000.0 * random.random((rows // 4, columns, 3)) ** 4
    return light


def write_picture(path: Path, samples: np.ndarray, sort: str, **attributes: object) -> Path:
    """Write a picture with OpenImageIO."""
    import OpenImageIO as oiio

    spec = oiio.ImageSpec(samples.shape[1], samples.shape[0], 3, sort)
    for name, value in attributes.items():
        spec.attribute(name.replace("__", ":"), value)
    output = oiio.ImageOutput.create(str(path))
    assert output.open(str(path), spec), output.geterror()
    assert output.write_image(samples), output.geterror()
    output.close()
    return path


@pytest.fixture(scope="session")
def host() -> Host:
    return find_operators()


@pytest.fixture(scope="session")
def pictures(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with masters: one in 10-bit PQ, one that does not say what it is, and a damaged one."""
    folder = tmp_path_factory.mktemp("pictures")
    codes = quantise(pq_eotf_inverse(sample_light()), 10, "full")
    write_picture(folder / "master.dpx", codes << 6, "uint16", oiio__BitsPerSample=10)
    write_picture(folder / "unknown.tif", (pq_eotf_inverse(sample_light()) * 65535).astype(np.uint16), "uint16")
    whole = (folder / "master.dpx").read_bytes()
    (folder / "damaged.dpx").write_bytes(whole[: len(whole) // 3])
    return folder


WISHES = EncodingWishes("pq", "bt2020", "full")


class Hand:
    """Moves, presses and types on an app as events; every step is followed by frames, as in a window."""

    def __init__(self, app: App, surface: OffscreenSurface) -> None:
        self.app, self.surface = app, surface
        self.bench = app.bench

    def frames(self, count: int = 2) -> None:
        for _ in range(count):
            self.app.frame()

    def settle(self) -> None:
        """Draw frames until the bench has nothing left to do, as in a window that is left alone."""
        for _ in range(2000):
            self.app.frame()
            if self.app.is_settled:
                return
        raise AssertionError("the bench does not come to rest")

    def place(self, name: str) -> Rect:
        assert self.app.ui.places is not None
        assert name in self.app.ui.places, f"no widget {name!r} among {sorted(self.app.ui.places)}"
        return self.app.ui.places[name]

    def middle(self, name: str) -> tuple[float, float]:
        place = self.place(name)
        return place.left + 0.5 * place.width, place.top + 0.5 * place.height

    def move(self, x: float, y: float) -> None:
        imgui.get_io().add_mouse_pos_event(x, y)
        self.frames()

    def click(self, name: str, times: int = 1) -> None:
        self.move(*self.middle(name))
        for _ in range(times):
            imgui.get_io().add_mouse_button_event(0, True)
            self.frames(1)
            imgui.get_io().add_mouse_button_event(0, False)
            self.frames(1)
        self.frames()

    def drag(self, name: str, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Drag between two points of a widget, each 0..1 of its size."""
        place = self.place(name)
        points = [(place.left + x * place.width, place.top + y * place.height) for x, y in (start, end)]
        self.move(*points[0])
        imgui.get_io().add_mouse_button_event(0, True)
        self.frames(1)
        self.move(*points[1])
        imgui.get_io().add_mouse_button_event(0, False)
        self.frames()

    def wheel(self, steps: float) -> None:
        imgui.get_io().add_mouse_wheel_event(0.0, steps)
        self.frames()

    def key(self, name: str) -> None:
        """Press a key: a character as typed, or the name of one that types none."""
        if len(name) == 1:
            imgui.get_io().add_input_characters_utf8(name)
            self.frames()
            return
        for is_down in (True, False):
            imgui.get_io().add_key_event(getattr(imgui.Key, name), is_down)
            self.frames(1)

    def type(self, name: str, text: str) -> None:
        """Click into a field, type over what is there, and press Enter."""
        self.click(name)
        imgui.get_io().add_input_characters_utf8(text)
        self.frames()
        self.key("enter")
        self.frames()

    def scroll_to(self, name: str) -> None:
        """Turn the wheel over the panel until a widget is well inside it."""
        panel = next(rect for label, rect in (self.app.ui.places or {}).items() if label == "add")
        self.move(panel.left + 5, self.surface.size[1] - 150)
        for _ in range(60):
            bottom = self.place(name).bottom
            if bottom < self.surface.size[1] - 40:
                return
            self.wheel(-1.0)
        raise AssertionError(f"{name} is not reached by scrolling")

    @property
    def top_code(self) -> int:
        return int(2**self.surface.bits - 1)

    def chain(self, key: int) -> Chain:
        working = self.bench.working(self.bench.state.slot(key))
        assert working is not None
        assert working.fault is None
        assert working.chain is not None
        return working.chain

    def surface_codes(self, codes: np.ndarray, target: Encoding) -> np.ndarray:
        """Return where a target's codes lie on the scale of the surface's codes, not rounded."""
        return np.clip(expand(codes, target.bits or 0, target.signal_range), 0.0, 1.0) * self.top_code

    def shown_at_whole_zoom(self, key: int | None) -> tuple[np.ndarray, tuple[slice, slice]]:
        """Return the picture pixels that a tile shows at a whole zoom, with what part of the picture they are."""
        zoom, left, top = (int(value) for value in vars(self.bench.placement).values())
        tile = self.tile(key).astype(int)
        assert self.bench.state.master is not None
        picture = self.bench.state.master.picture
        x0, y0 = max(0, -(left // zoom)), max(0, -(top // zoom))
        x1 = min(picture.columns, (tile.shape[1] - left) // zoom)
        y1 = min(picture.rows, (tile.shape[0] - top) // zoom)
        part = np.s_[y0:y1, x0:x1]
        block = tile[top + y0 * zoom : top + y1 * zoom, left + x0 * zoom : left + x1 * zoom]
        blocks = block.reshape(y1 - y0, zoom, x1 - x0, zoom, 3)
        assert (blocks == blocks[:, :1, :, :1]).all(), "a picture pixel is not one block of the screen"
        return blocks[:, 0, :, 0], part

    def assert_rounded(self, shown: np.ndarray, wanted: np.ndarray) -> None:
        """Assert that codes are the wanted values rounded; as parity allows, a target code may rarely differ by one."""
        difference = np.abs(shown - wanted)
        assert difference.size > 1000
        assert difference.max() <= 0.501 + self.top_code / 876  # a step of 10-bit narrow codes
        assert np.count_nonzero(difference > 0.501) <= 1e-3 * difference.size

    def assert_tile_is_exact(self, key: int) -> None:
        """Assert that a tile shows a rendition as the reference engine has it, at a whole zoom."""
        assert self.bench.state.master is not None
        chain = self.chain(key)
        codes = ReferenceEngine().codes(self.bench.state.master.picture, chain)
        shown, part = self.shown_at_whole_zoom(key)
        self.assert_rounded(shown, self.surface_codes(codes, chain.rendition.target)[part])

    @property
    def picture(self) -> Picture:
        assert self.bench.state.master is not None
        return self.bench.state.master.picture

    def reference_signal(self, key: int) -> tuple[np.ndarray, Encoding]:
        """Return the signal of a rendition on the steps of its codes, from the reference engine."""
        chain = self.chain(key)
        target = chain.rendition.target
        codes = ReferenceEngine().codes(self.picture, chain)
        return expand(codes, target.bits or 0, target.signal_range), target

    def reference_light(self, key: int | None) -> np.ndarray:
        """Return the BT.2020 light with which a picture is shown on its reference display; None: the master's own."""
        picture = self.picture
        if key is None:
            return decode(picture.samples, picture.encoding)
        signal, target = self.reference_signal(key)
        return convert(signal_to_light(signal, target), conversion_matrix(target.primaries, "bt2020"))

    def at_pixels(self, **showing: object) -> np.ndarray:
        """Show in a layout at 1:1, and return the picture's codes on the surface, pixel by pixel."""
        self.bench.show(**showing)
        self.bench.do(actions.with_view, View(1.0, (60.0, 33.5)))
        self.move(5, 5)
        self.settle()
        name = next(name for name in self.app.ui.places or {} if name.startswith("picture "))
        place, placement = self.place(name), self.bench.placement
        picture = self.picture
        top, left = place.top + placement.top, place.left + placement.left
        return self.surface.codes()[top : top + picture.rows, left : left + picture.columns].astype(int)

    def tile(self, key: int | None) -> np.ndarray:
        """Return the code values of a tile's picture, as they are on the surface when the bench has come to rest."""
        self.settle()
        place = self.place("picture master" if key is None else f"picture {key}")
        return self.surface.codes()[place.top : place.bottom, place.left : place.right]


@contextmanager
def heard(hand: Hand) -> Iterator[list[tuple[str, float, float, float]]]:
    """Give a list that is filled with what is written on the bench from here on: texts with left, top and width."""
    said: list[tuple[str, float, float, float]] = []
    ui, write = hand.app.ui, hand.app.ui.write

    def listening(x: float, y: float, text: str, *rest: Any, **more: Any) -> float:
        end = write(x, y, text, *rest, **more)
        said.append((text, x, y, end - x))
        return end

    ui.write = listening  # type: ignore[method-assign]
    try:
        yield said
    finally:
        ui.write = write  # type: ignore[method-assign]


@pytest.fixture
def hand(host: Host, pictures: Path) -> Iterator[Hand]:
    """Return a hand on a bench with the master and the four starters, 1280 x 760 at 10 bits."""
    surface = OffscreenSurface(1280, 760, 10)
    imgui.create_context()
    bench = Bench(host, starter_renditions(), WISHES)
    bench.open(pictures / "master.dpx")
    app = App(bench, surface, 1.0, {})
    app._frame_times = deque(maxlen=0)  # imgui's clock goes by frames here: how long one takes is not to count
    hand = Hand(app, surface)
    hand.frames(3)
    yield hand
    app.close()
    imgui.destroy_context()
    surface.close()


@pytest.fixture(params=[24, 30])
def display(request: pytest.FixtureRequest) -> Iterator[tuple[str, int]]:
    """Start a display of a depth, and give its name and its bits a channel."""
    assert shutil.which("Xvfb"), "these tests need Xvfb (Debian: xvfb)"
    ready, write_end = os.pipe()
    command = ["Xvfb", "-displayfd", str(write_end), "-screen", "0", f"1280x720x{request.param}", "-nolisten", "tcp"]
    server = subprocess.Popen(command, pass_fds=[write_end], stderr=subprocess.DEVNULL)
    os.close(write_end)
    try:
        with os.fdopen(ready) as told:
            number = told.readline().strip()
        assert number, "Xvfb did not start"
        yield f":{number}", request.param // 3
    finally:
        server.terminate()
        server.wait()


def environment(display: str | None) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if name not in ("DISPLAY", "WAYLAND_DISPLAY")}
    kept["PYTHONPATH"] = str(ROOT)
    return kept if display is None else {**kept, "DISPLAY": display}


@pytest.fixture
def said(hand: Hand, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return a list to which everything is added that the interface writes over the pictures from now on."""
    words: list[str] = []
    write = hand.app.ui.write

    def heard(x: Any, y: Any, text: str, *rest: Any, **more: Any) -> Any:
        words.append(text)
        return write(x, y, text, *rest, **more)

    monkeypatch.setattr(hand.app.ui, "write", heard)
    return words
