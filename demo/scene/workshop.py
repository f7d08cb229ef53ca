"""The room: bench, walls, window, lanterns, glass and the people who work there."""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from . import harbour
from .people import people
from .references import CARD, STRIP
from .shading import Lamp, Surface
from .solids import Point, Solid, Vector, along, dot, length, mix, smoothstep, subtract, take
from .texture import layered2, noise2
from .vessels import lantern, vessel, wire

BENCH_HEIGHT = 10.6
BENCH_BACK = 3.4
WALL_DISTANCE = 26.0
WINDOW = (-9.8, 7.4, 10.6, 23.2)
PANES = (5, 3)

# A tall glazed door behind the camera: distance; middle, half width and half height. Only mirrors see it.
DOOR_DISTANCE = -16.0
DOOR = (-15.0, 18.0, 6.0, 8.5)

SHELVES = (9.3, 13.1, 16.9)
SHELF_ENDS = (-10.9, 8.6)

WARM = (3.0, 1.25, 0.30)
FAR_LANTERNS = (
    (-11.6, 17.6, 13.0, WARM),
    (-7.2, 19.4, 19.0, WARM),
    (3.4, 18.7, 16.0, WARM),
    (7.6, 17.4, 11.0, (2.8, 0.16, 0.07)),
    (12.6, 18.9, 17.0, WARM),
)

# Transmission and inner light of the shelved glass.
GLASS = {
    "amber": ((0.85, 0.40, 0.08), (0.09, 0.034, 0.004)),
    "cobalt": ((0.08, 0.18, 0.90), (0.004, 0.016, 0.15)),
    "green": ((0.12, 0.85, 0.30), (0.004, 0.085, 0.018)),
    "rose": ((0.90, 0.22, 0.20), (0.14, 0.010, 0.010)),
    "smoke": ((0.40, 0.36, 0.34), (0.002, 0.002, 0.002)),
    "teal": ((0.10, 0.70, 0.75), (0.004, 0.055, 0.060)),
}
MARBLES = (
    (-3.9, -2.6, "amber"),
    (-3.2, -3.0, "teal"),
    (-2.65, -2.45, "rose"),
    (5.35, -0.4, "green"),
    (2.05, -1.3, "cobalt"),
)
SHELVED = (
    (-17.0, 1, "bottle", "smoke"),
    (-15.3, 1, "vase", "amber"),
    (-13.4, 1, "flask", "teal"),
    (-11.9, 1, "bottle", "green"),
    (-16.3, 2, "flask", "rose"),
    (-14.3, 2, "bottle", "cobalt"),
    (-12.4, 2, "cup", "amber"),
    (-16.6, 0, "bowl", "smoke"),
    (-13.0, 0, "flask", "amber"),
    (9.9, 1, "bottle", "cobalt"),
    (11.5, 1, "cup", "rose"),
    (13.2, 1, "bottle", "amber"),
    (15.0, 1, "flask", "green"),
    (16.8, 1, "vase", "smoke"),
    (10.4, 2, "flask", "amber"),
    (14.6, 2, "vase", "teal"),
    (16.9, 2, "bottle", "smoke"),
    (12.5, 0, "bowl", "amber"),
    (16.0, 0, "bottle", "cobalt"),
)

KEY = (-1.55, 17.75, 0.1)
WORKPIECE = (0.75, 10.6, 0.7)


@dataclass(frozen=True)
class Workshop:
    """Everything that is in the room at one moment.

    Attributes
    ----------
    phase : float
        Angle in the loop of motion, radians.
    near, far : tuple of Solid
        What stands in focus, and what hangs or stands behind.
    lamps : tuple of Lamp
        Direct light in the room.
    """

    phase: float
    near: tuple[Solid, ...]
    far: tuple[Solid, ...]
    lamps: tuple[Lamp, ...]


def build(phase: float) -> Workshop:
    """Set up the room for an angle of the loop of motion."""
    swing = 0.06 * math.sin(phase)
    key = (KEY[0] + swing, KEY[1], KEY[2])
    near = [
        *people(phase),
        *lantern("key", (key[0], key[1], key[2]), "bulb", (2.7, 1.75, 0.80), 7.5),
        *lantern("work", WORKPIECE, "table", (2.6, 1.12, 0.26), 7.0),
        *vessel("bowl", (-3.45, BENCH_HEIGHT, -0.3), "bowl", lacquer=(0.52, 0.012, 0.008)),
        *vessel("cobalt", (-7.0, BENCH_HEIGHT, 0.2), "bottle", clear=(0.10, 0.20, 0.96), glow=(0.020, 0.11, 1.60)),
        *vessel(
            "emerald",
            (-5.75, BENCH_HEIGHT, -1.2),
            "flask",
            clear=(0.10, 0.95, 0.32),
            glow=(0.020, 0.85, 0.11),
        ),
        *vessel("ruby", (3.55, BENCH_HEIGHT, 0.2), "vase", clear=(0.97, 0.05, 0.03), glow=(2.30, 0.016, 0.012)),
        *vessel("aqua", (7.25, BENCH_HEIGHT, -0.2), "bottle", clear=(0.10, 0.75, 0.80), glow=(0.015, 0.30, 0.38)),
        *vessel("violet", (6.05, BENCH_HEIGHT, -1.3), "cup", clear=(0.55, 0.08, 0.95), glow=(0.26, 0.012, 0.95)),
    ]
    for number, (x, z, colour) in enumerate(MARBLES):
        clear, glow = GLASS[colour]
        near.extend(vessel(f"marble{number}", (x, BENCH_HEIGHT, z), "marble", clear, glow))
    near.extend(wire("wire", (0.95, BENCH_HEIGHT, -2.5)))
    near.append(CARD.solid("card", (0.05, 0.047, 0.042), lambda colour: Surface(colour, 0.5, 0.03)))
    near.append(STRIP.solid("strip", (0.03, 0.02, 0.01), lambda colour: Surface(colour, 0.3, 0.04)))
    far: list[Solid] = []
    for number, (x, y, z, tint) in enumerate(FAR_LANTERNS):
        sway = 0.08 * math.sin(phase + 1.3 * number)
        far.extend(lantern(f"far{number}", (x + sway, y, z), "globe", tint, 5.0))
    for number, (x, shelf, form, colour) in enumerate(SHELVED):
        clear, glow = GLASS[colour]
        far.extend(vessel(f"shelf{number}", (x, SHELVES[shelf], 24.6), form, clear, glow))
    lamps = (
        Lamp((key[0], key[1] - 0.25, key[2]), (0.80, 0.60, 0.40), 4.6, 0.42, highlight=0.7),
        Lamp((-1.0, 19.4, -6.0), (1.58, 1.39, 1.14), 11.8, 1.15),
        Lamp((WORKPIECE[0], WORKPIECE[1] + 1.3, WORKPIECE[2]), (0.33, 0.17, 0.055), 4.0, 0.8, march=False),
        Lamp((-4.5, 18.0, 23.0), (3.0, 1.20, 0.36), 19.0, 2.2, highlight=0.16),
        Lamp((4.0, 21.0, 22.0), (0.32, 0.50, 0.90), 19.0, 4.5, shadows=False, highlight=0.14),
        Lamp((-9.0, 16.5, -13.0), (0.15, 0.19, 0.25), 18.0, 4.0, shadows=False, highlight=0.9),
        Lamp((4.05, 12.0, 0.1), (0.30, 0.006, 0.004), 2.2, 0.5, shadows=False, highlight=0.3, range=7.0),
        Lamp((-7.6, 12.1, 0.1), (0.01, 0.045, 0.26), 2.2, 0.5, shadows=False, highlight=0.3, range=7.0),
        Lamp((8.1, 12.1, -0.2), (0.008, 0.11, 0.13), 2.0, 0.5, shadows=False, highlight=0.3, range=7.0),
    )
    return Workshop(phase, tuple(near), tuple(far), lamps)


def ambient(normal: Vector) -> Vector:
    """Even light from all around: warm from the bench below, cool from above and from the window behind."""
    up = 0.5 + 0.5 * normal[1]
    back = np.maximum(normal[2], 0.0)
    warm, cool, window = (0.105, 0.062, 0.030), (0.022, 0.030, 0.046), (0.075, 0.060, 0.075)
    return tuple(mix(w, c, up) + b * back for w, c, b in zip(warm, cool, window, strict=True))


def planks(p: Vector) -> tuple[Vector, Any]:
    """Colour of the bench top and the height of its grain."""
    x, _, z = p
    row = np.floor(z / 1.75)
    seam = np.abs(z / 1.75 - row - 0.5) * 2.0
    shade = noise2(row * 7.3 + 0.5, np.zeros_like(row) + 3.5)
    bend = 0.4 * noise2(x * 0.16, row * 3.1 + z * 0.25)
    grain = layered2(x * 0.35 + row * 11.0, (z + bend) * 7.0, 4)
    rings = np.sin(21.0 * (z + 0.7 * bend) + 6.0 * noise2(x * 0.12 + row * 5.0, z * 0.8))
    tone = np.maximum(1.0 + 0.22 * shade + 0.34 * grain + 0.10 * rings, 0.15)
    gap = smoothstep(0.955, 0.985, seam)
    stain = 1.0 - 0.35 * smoothstep(0.15, 0.7, layered2(x * 0.5 + 9.0, z * 0.5, 3))
    tone = tone * stain * (1.0 - 0.9 * gap)
    return tuple(c * tone for c in (0.120, 0.058, 0.025)), 0.004 * grain - 0.03 * gap


def bench_hit(origin: Vector | Point, direction: Vector) -> Any:
    """Distance to the bench top, infinite where the ray misses it."""
    down = np.minimum(direction[1], -1e-6)
    t = (BENCH_HEIGHT - origin[1]) / down
    z = origin[2] + direction[2] * t
    good = (direction[1] < 0.0) & (t > 0.0) & (z < BENCH_BACK)
    return np.where(good, t, np.inf).astype(np.float32)


def wall(origin: Vector | Point, direction: Vector, phase: float) -> Vector:
    """Back wall with its shelves and the window to the harbour."""
    ahead = np.maximum(direction[2], 1e-3)
    t = (WALL_DISTANCE - origin[2]) / ahead
    x, y, _ = along(origin, direction, t)
    left, right, bottom, top = WINDOW
    columns, rows = PANES
    across = (x - left) / (right - left) * columns
    up = (y - bottom) / (top - bottom) * rows
    bar_x = np.abs(across - np.round(across)) * (right - left) / columns
    bar_y = np.abs(up - np.round(up)) * (top - bottom) / rows
    inside = (x > left) & (x < right) & (y > bottom) & (y < top)
    clear = inside & (bar_x > 0.13) & (bar_y > 0.13)

    plaster = np.maximum(1.0 + 0.5 * layered2(x * 0.6, y * 0.6, 5) + 0.2 * noise2(x * 3.0, y * 3.0), 0.1)
    boards = np.abs(np.mod(x, 2.4) - 1.2)
    plaster = plaster * (1.0 - 0.6 * smoothstep(1.10, 1.17, boards))
    pool = np.exp(-(((x + 14.2) / 4.4) ** 2 + ((y - 15.6) / 4.2) ** 2))
    pool = pool + 0.8 * np.exp(-(((x - 13.0) / 4.6) ** 2 + ((y - 15.4) / 4.4) ** 2))
    beyond = np.maximum(SHELF_ENDS[0] - x, x - SHELF_ENDS[1])
    ledge = np.zeros(x.shape, bool)
    for level in SHELVES:
        below = level - y
        ledge = ledge | ((below > 0.0) & (below < 0.36))
        plaster = plaster * (1.0 - 0.75 * smoothstep(1.3, 0.3, below - 0.2) * (below > 0.0) * (beyond > 0.0))
    ledge = ledge & (beyond > 0.0)
    result = []
    seen = np.flatnonzero(clear)
    outside = harbour.view(take(direction, seen), phase)
    for k in range(3):
        lightness = plaster * (0.00012 + (0.150, 0.066, 0.021)[k] * pool)
        lightness = np.where(ledge, 0.0004 + (0.070, 0.032, 0.012)[k] * pool, lightness)
        frame = np.where(inside, np.float32((0.006, 0.004, 0.0035)[k]), lightness)
        frame[seen] = outside[k]
        result.append(frame)
    return tuple(result)


def surroundings(origin: Vector | Point, direction: Vector, room: Workshop) -> Vector:
    """Look around at little cost, for reflections and for what is seen through glass."""
    t = bench_hit(origin, direction)
    on_bench = np.isfinite(t)
    point = along(origin, direction, np.where(on_bench, t, 0.0))
    pool = 1.0 / (1.0 + ((point[0] - KEY[0]) ** 2 + (point[2] - KEY[2]) ** 2) / 30.0)
    far = (DOOR_DISTANCE - origin[2]) / np.minimum(direction[2], -0.02)
    x, y = origin[0] + far * direction[0], origin[1] + far * direction[1]
    door = smoothstep(0.35, -0.35, np.abs(x - DOOR[0]) - DOOR[2]) * smoothstep(
        0.35, -0.35, np.abs(y - DOOR[1]) - DOOR[3]
    )
    door = door * (direction[2] < -0.02) * (0.25 + 0.75 * smoothstep(-6.0, 6.0, y - DOOR[1]))
    door = door * (1.0 - smoothstep(0.55, 0.25, np.abs(x - DOOR[0])))
    result = [
        np.where(on_bench, (0.16, 0.075, 0.030)[k] * pool, (0.012, 0.010, 0.010)[k] * (1.0 + direction[1]))
        + (1.5, 1.9, 2.5)[k] * np.where(on_bench, np.float32(0.0), door)
        for k in range(3)
    ]
    ahead = np.flatnonzero(~on_bench & (direction[2] > 0.02))
    back = wall(take(origin, ahead), take(direction, ahead), room.phase)
    for k in range(3):
        result[k][ahead] = back[k]
    for lamp, core, size in (
        (room.lamps[0], (22.0, 14.0, 6.5), 0.42),
        (room.lamps[2], (3.4, 1.5, 0.36), 0.75),
    ):
        offset = subtract(lamp.position, origin)
        ahead = dot(offset, direction)
        aside = length(tuple(o - d * ahead for o, d in zip(offset, direction, strict=True)))
        shine = smoothstep(size * 1.15, size * 0.75, aside) * (ahead > 0.3)
        result = [mix(value, c, shine) for value, c in zip(result, core, strict=True)]
    return tuple(result)
