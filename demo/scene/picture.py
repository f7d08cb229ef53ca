"""From solids to a picture: camera, layers by depth, edges, lens."""

import math
from typing import Any

import numpy as np

from . import lens, workshop
from .camera import FIELD_OF_VIEW, Camera, camera
from .shading import Surface, lit
from .solids import Point, Solid, Vector, along, clamp, dot, negative, normalise, reflect, subtract, take
from .workshop import Workshop

Solids = tuple[Solid, ...]

FAR_BLUR = 0.0052
MIRRORED_HEIGHT = 14.5
TILE = 1 << 16


def _group(solid: Solid) -> str:
    return solid.name.split(".")[0]


def _blockers(solids: Solids, but: str = "") -> list[Point]:
    return [
        (*solid.frame.world(sphere[:3]), sphere[3])
        for solid in solids
        if _group(solid) != but
        for sphere in solid.blockers
    ]


def _first_hit(solids: Solids, origin: Vector | Point, direction: Vector, tolerance: float) -> tuple[Any, Any]:
    """Nearest distance and index of the solid hit (-1: none)."""
    nearest = np.full(direction[0].shape, np.inf, np.float32)
    which = np.full(direction[0].shape, -1, np.int32)
    for number, solid in enumerate(solids):
        index, reached = solid.march(origin, direction, tolerance)
        closer = reached < nearest[index]
        nearest[index[closer]] = reached[closer]
        which[index[closer]] = number
    return nearest, which


def _glass(
    room: Workshop, p: Vector, normal: Vector, direction: Vector, surface: Surface, base: list[Any]
) -> list[Any]:
    """Add to glass what is seen through it and mirrored by it."""
    facing = clamp(-dot(normal, direction))
    bent = normalise(along(direction, normal, 0.375 * facing - 0.75))
    through = list(workshop.surroundings(p, bent, room))
    mirrored = workshop.surroundings(p, reflect(direction, normal), room)
    fresnel = 0.045 + 0.9 * (1.0 - facing) ** 5
    thickness = 0.35 + 1.1 * facing + 0.8 * np.exp(-(((facing - 0.30) / 0.14) ** 2))
    inward = negative(normal)
    for lamp in room.lamps[:3]:
        toward = normalise(subtract(lamp.position, p))
        focus = np.maximum(dot(inward, normalise(along(toward, direction, 0.5))), 0.0)
        for k in range(3):
            through[k] = through[k] + 1.6 * lamp.colour[k] * (0.25 * focus**6 + 1.6 * focus**40)
    kept = surface.clear or (0.0, 0.0, 0.0)
    return [b + through[k] * kept[k] ** thickness * (1.0 - fresnel) + mirrored[k] * fresnel for k, b in enumerate(base)]


def _shade(
    room: Workshop, solids: Solids, which: Any, nearest: Any, origin: Vector | Point, direction: Vector, quick: bool
) -> list[Any]:
    """Light of the points that were hit; zero elsewhere."""
    colour = [np.zeros(which.shape, np.float32) for _ in range(3)]
    for number in np.unique(which[which >= 0]):
        solid = solids[number]
        index = np.flatnonzero(which == number)
        ray = take(direction, index)
        p = along(take(origin, index), ray, nearest[index])
        at = solid.frame.local(p)
        local_normal = solid.normal(at)
        back = negative(ray)
        surface = solid.surface(at, local_normal, solid.frame.turned(back))
        normal = solid.frame.outward(local_normal)
        near = tuple(s for s in solids if s.own_shadow and _group(s) == _group(solid)) if solid.own_shadow else ()
        blockers = _blockers(room.near, _group(solid)) if not quick else ()
        light = lit(p, normal, back, surface, room.lamps, workshop.ambient, blockers, near, quick)
        if surface.clear is not None:
            light = _glass(room, p, normal, ray, surface, light)
        elif surface.mirror and not quick:
            mirrored = workshop.surroundings(p, reflect(ray, normal), room)
            fresnel = surface.mirror + (1.0 - surface.mirror) * 0.8 * (1.0 - clamp(dot(normal, back))) ** 5
            light = [v + mirrored[k] * fresnel * surface.tint[k] for k, v in enumerate(light)]
        for k in range(3):
            colour[k][index] = light[k]
    return colour


def _bench(room: Workshop, p: Vector, direction: Vector, tolerance: float) -> list[Any]:
    """Light of the varnished bench top with what it mirrors."""
    colour, height = workshop.planks(p)
    step = np.float32(0.03)
    _, height_x = workshop.planks((p[0] + step, p[1], p[2]))
    _, height_z = workshop.planks((p[0], p[1], p[2] + step))
    normal = normalise(((height - height_x) / step * 0.5, np.ones_like(height), (height - height_z) / step * 0.5))
    back = negative(direction)
    surface = Surface(colour, 0.20, 0.035)
    light = lit(p, normal, back, surface, room.lamps, workshop.ambient, _blockers(room.near))
    smooth = normalise((0.25 * normal[0], normal[1], 0.25 * normal[2]))
    bounced = reflect(direction, smooth)
    low = tuple(solid for solid in room.near if solid.centre[1] < MIRRORED_HEIGHT)
    mirrored = _radiance(room, low, p, bounced, tolerance * 3.0, quick=True)[0]
    around = workshop.surroundings(p, bounced, room)
    fresnel = 0.035 + 0.75 * (1.0 - clamp(dot(smooth, back))) ** 5
    return [v + fresnel * 0.85 * (mirrored[k] + around[k] * (1.0 - mirrored[3])) for k, v in enumerate(light)]


def _radiance(
    room: Workshop,
    solids: Solids,
    origin: Vector | Point,
    direction: Vector,
    tolerance: float,
    *,
    quick: bool = False,
    bench: bool = False,
) -> tuple[list[Any], Any]:
    """Trace one layer: colour and cover along rays, and a number that tells surfaces apart."""
    nearest, which = _first_hit(solids, origin, direction, tolerance)
    kind = which.copy()
    on_bench = np.zeros(which.shape, bool)
    if bench:
        table = workshop.bench_hit(origin, direction)
        on_bench = table < nearest
        which = np.where(on_bench, -1, which)
        kind = np.where(on_bench, 1000, kind)
    colour = _shade(room, solids, which, nearest, origin, direction, quick)
    if on_bench.any():
        index = np.flatnonzero(on_bench)
        ray = take(direction, index)
        p = along(take(origin, index), ray, table[index])
        for k, value in enumerate(_bench(room, p, ray, tolerance)):
            colour[k][index] = value
    cover = (kind >= 0).astype(np.float32)
    return [*colour, cover], kind


def _layer(room: Workshop, view: Camera, solids: Solids, width: int, height: int, *, bench: bool) -> Any:
    """Render one layer as an array (rows, columns, 4): colour times cover, and cover.

    Without the bench it is a far layer: seen out of focus, it does without shadows.
    """
    aspect = width / height
    tolerance = 0.5 * math.tan(math.radians(FIELD_OF_VIEW) / 2.0) / height
    rows, columns = np.indices((height, width), np.float32)
    x, y = (columns.ravel() + 0.5) / width, (rows.ravel() + 0.5) / height
    image = np.zeros((height * width, 4), np.float32)
    kinds = np.zeros(height * width, np.int32)

    def sample(index: Any, dx: Any, dy: Any) -> tuple[Any, Any]:
        direction = view.rays(x[index] + dx / width, y[index] + dy / height, aspect)
        values, kind = _radiance(room, solids, view.place, direction, tolerance, quick=not bench, bench=bench)
        return np.stack(values, axis=-1), kind

    for start in range(0, x.size, TILE):
        index = np.arange(start, min(start + TILE, x.size))
        image[index], kinds[index] = sample(index, 0.0, 0.0)
    edge = np.flatnonzero(_edges(image.reshape(height, width, 4), kinds.reshape(height, width)).ravel())
    offsets = np.array(((-0.375, -0.125), (0.125, -0.375), (0.375, 0.125), (-0.125, 0.375)), np.float32)
    for start in range(0, edge.size, TILE // 4):
        index = edge[start : start + TILE // 4]
        values = sample(np.tile(index, 4), np.repeat(offsets[:, 0], index.size), np.repeat(offsets[:, 1], index.size))
        image[index] = values[0].reshape(4, index.size, 4).mean(axis=0)
    return image.reshape(height, width, 4)


def _edges(image: Any, kinds: Any) -> Any:
    """Pixels whose neighbour shows another surface or a very different light."""
    tone = np.log2(image[..., :3].max(axis=-1) + 0.002)
    mask = np.zeros(kinds.shape, bool)
    for axis in (0, 1):
        change = (np.diff(kinds, axis=axis) != 0) | (np.abs(np.diff(tone, axis=axis)) > 0.5)
        pad = [(0, 0), (0, 0)]
        pad[axis] = (0, 1)
        mask |= np.pad(change, pad)
        pad[axis] = (1, 0)
        mask |= np.pad(change, pad)
    return mask


def _background(room: Workshop, view: Camera, width: int, height: int) -> Any:
    """Render window, wall and what hangs before it at half size, out of focus."""
    aspect = width / height
    wide, high = max(width // 2, 240), max(height // 2, 135)
    layer = _layer(room, view, room.far, wide, high, bench=False)
    image = layer[..., :3].astype(np.float64)
    rows, columns = (part.ravel() for part in np.indices((high, wide), np.float32))
    sharp = np.zeros((high * wide, 3))
    for dx, dy in ((-0.25, -0.25), (0.25, -0.25), (-0.25, 0.25), (0.25, 0.25)):
        direction = view.rays((columns + 0.5 + dx) / wide, (rows + 0.5 + dy) / high, aspect)
        for start in range(0, rows.size, TILE):
            part = tuple(d[start : start + TILE] for d in direction)
            sharp[start : start + TILE] += 0.25 * np.stack(workshop.wall(view.place, part, room.phase), axis=-1)
    image += sharp.reshape(high, wide, 3) * (1.0 - layer[..., 3:])
    return lens.resize(lens.defocus(image, FAR_BLUR), width, height)


def picture(frame_phase: float, width: int, height: int) -> Any:
    """Render the room.

    Parameters
    ----------
    frame_phase : float
        Angle in the loop of motion, radians.
    width, height : int
        Pixels.

    Returns
    -------
    ndarray (height, width, 3)
        Scene light, BT.2020 linear, 1.0 = diffuse white, before reference patches.
    """
    room = workshop.build(frame_phase)
    view = camera(frame_phase)
    image = _background(room, view, width, height)
    middle = _layer(room, view, room.near, width, height, bench=True)
    image = image * (1.0 - middle[..., 3:]) + middle[..., :3]
    return lens.glare(image) * lens.falloff(width, height)
