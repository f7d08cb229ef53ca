"""The reference card and the lit step strip on the bench: patches of known light, laid in after the lens.

The lens scatters light over the whole picture, a card included. So that their patches stay true, card and
strip are drawn on the finished light, with edges of their own, and take no glare and no grain.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from tonemap.transfer import hlg_ootf, hlg_ootf_inverse

from .camera import Camera
from .solids import Frame, Point, Solid, Vector, box, rotation

# Display light of a diffuse white; Report ITU-R BT.2408, Table 1.
WHITE = 203.0
GREY = 26.0

# Linear BT.2020 reflectances under D65: dark and light skin of the ISO 17321-1 chart, and our own between.
SKINS = {
    "dark": (0.138478, 0.084658, 0.054836),
    "medium": (0.262, 0.171, 0.116),
    "light": (0.462337, 0.325054, 0.235902),
}
STEPS = (0.05, 0.2, 1.0, 3.0, 10.0, 26.0, 60.0, 100.0, 203.0, 400.0, 600.0, 1000.0)


def display_light(reflectance: Point) -> Point:
    """Return the light in cd/m2 of a reflectance beside a 203-nit white, by the 1.2 OOTF of HLG."""
    white = hlg_ootf_inverse(np.full(3, WHITE), 1000.0)
    return tuple(float(value) for value in hlg_ootf(np.asarray(reflectance) * white, 1000.0))


@dataclass(frozen=True)
class Panel:
    """A flat thing that leans on the bench.

    Attributes
    ----------
    foot : tuple
        World point in the middle of its lower edge.
    half_width, height, lean, yaw : float
        Decimetres and degrees.
    cells : tuple
        Rectangles (left, top, right, bottom) in 0..1 of the panel, each with its light in cd/m2.
    body : tuple
        Light of the rest, cd/m2.
    """

    foot: Point
    half_width: float
    height: float
    lean: float
    yaw: float
    cells: tuple[tuple[Point, Point], ...]
    body: Point

    @property
    def frame(self) -> Frame:
        """Local axes: x across, y up the face, z out of the back."""
        return Frame(self.foot, rotation(self.yaw, -self.lean))

    def solid(self, name: str, reflectance: Point, surface_of: Callable[[Point], Any]) -> Solid:
        """Make the body that stands in the room and is mirrored by the bench."""
        half = (self.half_width, 0.5 * self.height, 0.04)
        centre = (0.0, 0.5 * self.height, 0.045)
        reach = float(np.hypot(self.half_width, 0.5 * self.height)) * 1.1
        return Solid(
            name,
            self.frame,
            (centre, reach),
            lambda p: box(p, centre, half, 0.02),
            lambda p, n, v: surface_of(reflectance),
        )


def _grid(rows: tuple[tuple[Point, ...], ...], gap: float) -> tuple[tuple[Point, Point], ...]:
    cells = []
    for row, lights in enumerate(rows):
        for column, light in enumerate(lights):
            width, height = 1.0 / len(lights), 1.0 / len(rows)
            left, top = column * width, row * height
            aspect = 1.0 if len(rows) > 1 else 5.0
            cells.append(((left + gap, top + gap * aspect, left + width - gap, top + height - gap * aspect), light))
    return tuple(cells)


def _neutral(level: float) -> Point:
    return (level, level, level)


CARD = Panel(
    (-0.98, 10.62, -1.9),
    0.72,
    1.02,
    24.0,
    -4.0,
    _grid(
        (
            (_neutral(WHITE), _neutral(GREY)),
            tuple(display_light(SKINS[name]) for name in ("dark", "medium", "light")),
        ),
        0.022,
    ),
    (9.0, 8.4, 7.6),
)
STRIP = Panel(
    (3.60, 10.62, -2.1),
    1.42,
    0.36,
    30.0,
    3.0,
    _grid((tuple(_neutral(level) for level in STEPS),), 0.009),
    (0.9, 0.62, 0.32),
)
PANELS = (CARD, STRIP)


def _paint(panel: Panel, camera: Camera, direction: Vector) -> tuple[Any, Any]:
    """Light (n, 3) and cover (n) of a panel along rays."""
    frame = panel.frame
    origin = frame.local(tuple(np.float64(value) for value in camera.place))
    heading = frame.turned(direction)
    t = -origin[2] / np.where(np.abs(heading[2]) < 1e-9, 1e-9, heading[2])
    x = (origin[0] + t * heading[0]) / (2.0 * panel.half_width) + 0.5
    y = 1.0 - (origin[1] + t * heading[1]) / panel.height
    cover = (x > 0.0) & (x < 1.0) & (y > 0.0) & (y < 1.0)
    light = np.broadcast_to(np.asarray(panel.body), (*x.shape, 3)).copy()
    for (left, top, right, bottom), value in panel.cells:
        light[(x > left) & (x < right) & (y > top) & (y < bottom)] = value
    return light, cover


def corners(panel: Panel, camera: Camera, aspect: float, cell: Point = (0.0, 0.0, 1.0, 1.0)) -> Any:
    """Picture coordinates (4, 2), 0..1, of the corners of a panel or one of its cells."""
    places = []
    for x, y in ((cell[0], cell[1]), (cell[2], cell[1]), (cell[0], cell[3]), (cell[2], cell[3])):
        local = ((x - 0.5) * 2.0 * panel.half_width, (1.0 - y) * panel.height, 0.0)
        places.append(camera.project(panel.frame.world(local), aspect))
    return np.asarray(places)


def lay_in(light: Any, camera: Camera, level: Callable[[Any], Any] | None = None, samples: int = 4) -> Any:
    """Draw card and strip on finished light.

    Parameters
    ----------
    light : ndarray (rows, columns, 3), cd/m2
    camera : Camera
    level : callable or None
        Applied to the patches' nits before they are drawn.
    samples : int
        Samples a pixel in each direction.

    Returns
    -------
    ndarray (rows, columns, 3), cd/m2
    """
    height, width = light.shape[:2]
    aspect = width / height
    result = light.copy()
    for panel in PANELS:
        box_corners = corners(panel, camera, aspect) * (width, height)
        left, top = np.clip(np.floor(box_corners.min(axis=0)).astype(int) - 1, 0, (width, height))
        right, bottom = np.clip(np.ceil(box_corners.max(axis=0)).astype(int) + 1, 0, (width, height))
        rows, columns = np.mgrid[top:bottom, left:right].astype(np.float64)
        total = np.zeros((*rows.shape, 3))
        share = np.zeros(rows.shape)
        for step in range(samples * samples):
            dx, dy = (step % samples + 0.5) / samples, (step // samples + 0.5) / samples
            direction = camera.rays((columns + dx) / width, (rows + dy) / height, aspect)
            colour, cover = _paint(panel, camera, direction)
            if level is not None:
                colour = level(colour)
            total += colour * cover[..., np.newaxis]
            share += cover
        weight = 1.0 / (samples * samples)
        part = result[top:bottom, left:right]
        result[top:bottom, left:right] = part * (1.0 - share[..., np.newaxis] * weight) + total * weight
    return result
