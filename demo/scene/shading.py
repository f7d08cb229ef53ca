"""Surfaces, lamps and how the one answers the other.

Light inside the scene is relative: a perfect white under the reference illumination is 1.0, in linear BT.2020
components.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tonemap.arrays import Array

from .solids import (
    Point,
    Solid,
    Vector,
    along,
    clamp,
    dot,
    length,
    mix,
    normalise,
    smoothstep,
    subtract,
    take,
)

Colour = tuple[Any, ...]
AMBIENT_REACH = 8.0


@dataclass(frozen=True)
class Surface:
    """What a point of a solid is made of.

    Attributes
    ----------
    albedo : three floats or arrays
        Diffuse reflectance, BT.2020 linear.
    alpha : float or ndarray
        Width of the specular lobe (GGX).
    sheen : float or ndarray
        Specular reflectance at normal incidence.
    soft : three floats
        How far light creeps past the terminator, for skin, wax and cloth.
    glow : three floats or arrays
        Emitted light.
    mirror : float
        Share of the sharp reflection that is traced.
    clear : three floats or None
        Transmission per unit of thickness, for glass.
    fuzz : float
        Back-scatter at grazing angles, for cloth and hair.
    tint : three floats
        Colour of what it mirrors, for metals.
    """

    albedo: Colour
    alpha: Any = 0.4
    sheen: Any = 0.04
    soft: tuple[float, float, float] = (0.0, 0.0, 0.0)
    glow: Colour = (0.0, 0.0, 0.0)
    mirror: float = 0.0
    clear: Colour | None = None
    fuzz: float = 0.0
    tint: tuple[float, float, float] = (1.0, 1.0, 1.0)


@dataclass(frozen=True)
class Lamp:
    """A spherical light: `colour` is the light on a white that faces it at distance `reach`.

    `shadows` and `march` say whether coarse and exact shadows are cast, `highlight` scales its mirror image,
    and beyond `range` it has no effect.
    """

    position: Point
    colour: tuple[float, float, float]
    reach: float
    radius: float
    shadows: bool = True
    highlight: float = 1.0
    march: bool = True
    range: float = math.inf


def _extent(p: Vector) -> tuple[Point, float]:
    """Centre and radius of a sphere that holds all points."""
    low, high = [float(part.min()) for part in p], [float(part.max()) for part in p]
    middle: Point = tuple(0.5 * (a + b) for a, b in zip(low, high, strict=True))
    return middle, 0.5 * math.dist(low, high)


def _in_the_way(p: Vector, lamp: Lamp, blockers: Sequence[Point]) -> list[Point]:
    """Blockers that can come between any of the points and the lamp."""
    if p[0].size == 0:
        return []
    middle, extent = _extent(p)
    axis = np.asarray(lamp.position) - middle
    square = max(float(axis @ axis), 1e-9)
    chosen = []
    for blocker in blockers:
        offset = np.asarray(blocker[:3]) - middle
        share = min(max(float(offset @ axis) / square, 0.0), 1.0)
        gap = float(np.linalg.norm(offset - share * axis))
        if gap < extent + blocker[3] + lamp.radius + 0.05:
            chosen.append(blocker)
    return chosen


def blocked(p: Vector, toward: Vector, span: Array, lamp: Lamp, blockers: Sequence[Point]) -> Any:
    """Share of a spherical lamp that world spheres leave visible from p."""
    visible = np.ones_like(span)
    for x, y, z, radius in _in_the_way(p, lamp, blockers):
        offset = (x - p[0], y - p[1], z - p[2])
        forward = dot(offset, toward)
        aside = np.sqrt(np.maximum(dot(offset, offset) - forward * forward, 0.0))
        edge = np.maximum(lamp.radius * forward / span, 0.02)
        cover = clamp(0.5 + 0.5 * (radius - aside) / edge)
        cover = cover * cover * (3.0 - 2.0 * cover) * np.minimum(1.0, (radius / edge) ** 2)
        cover = cover * smoothstep(0.0, 0.5 * radius, forward) * (forward < span)
        visible = visible * (1.0 - cover)
    return visible


def marched_shadow(
    p: Vector, toward: Vector, span: Array, lamp: Lamp, solids: tuple[Solid, ...], far: float = 5.0
) -> Any:
    """Soft shadow of near solids on each other, by the narrowest cone that still passes."""
    visible = np.ones_like(span)
    sharpness = span / lamp.radius
    for solid in solids:
        index, t, leave = solid.crossed(p, toward)
        if index.size == 0:
            continue
        origin = solid.frame.local(take(p, index))
        ray = solid.frame.turned(take(toward, index))
        stop = np.minimum(leave, np.minimum(span[index], far))
        t = np.maximum(t, 0.05)
        least = np.ones_like(t)
        sharp = 0.5 * sharpness[index]
        for _ in range(18):
            keep = np.flatnonzero((t < stop) & (least > 0.0))
            if keep.size == 0:
                break
            if keep.size < 0.85 * t.size:
                _darken(visible, index, least)
                index, t, stop, least, sharp = index[keep], t[keep], stop[keep], least[keep], sharp[keep]
                origin, ray = take(origin, keep), take(ray, keep)
            gap = solid.distance(along(origin, ray, t))
            least = np.where(t < stop, np.minimum(least, 0.5 + sharp * gap / t), least)
            t = t + clamp(gap, 0.05, 0.6)
        _darken(visible, index, least)
    return visible


def _darken(visible: Array, index: Any, least: Array) -> None:
    """Lower the visibility of some points in place."""
    least = clamp(least)
    visible[index] = np.minimum(visible[index], least * least * (3.0 - 2.0 * least))


def openness(p: Vector, normal: Vector, blockers: Sequence[Point], solids: tuple[Solid, ...]) -> Any:
    """Ambient visibility: analytic for world spheres, sampled along the normal for near solids."""
    seen = np.ones_like(p[0])
    middle, extent = _extent(p)
    for x, y, z, radius in blockers:
        if math.dist(middle, (x, y, z)) > extent + AMBIENT_REACH * radius:
            continue
        offset = (x - p[0], y - p[1], z - p[2])
        away = np.maximum(length(offset), radius)
        facing = clamp(dot(offset, normal) / away * 0.5 + 0.5)
        seen = seen * (1.0 - 0.9 * facing * np.maximum((radius / away) ** 2 - AMBIENT_REACH**-2, 0.0))
    for step, weight in ((0.08, 0.9), (0.25, 0.75), (0.6, 0.5)):
        probe = along(p, normal, step)
        gap = np.full_like(seen, step)
        for solid in solids:
            gap = np.minimum(gap, solid.distance(solid.frame.local(probe)))
        seen = seen * (1.0 - weight * clamp((step - gap) / step) * 0.6)
    return seen


def specular(normal: Vector, view: Vector, toward: Vector, alpha: Any, sheen: Any, spread: Any) -> Any:
    """GGX lobe with Schlick's Fresnel term, widened by the lamp's apparent size.

    A material that mirrors less than 4 % straight on mirrors less than everything at grazing angles.
    """
    middle = normalise((view[0] + toward[0], view[1] + toward[1], view[2] + toward[2]))
    facing = np.maximum(dot(normal, middle), 0.0)
    to_view = np.maximum(dot(normal, view), 0.05)
    to_lamp = np.maximum(dot(normal, toward), 0.0)
    width = clamp(alpha + 0.4 * spread, 0.01, 1.0)
    squared = width * width
    lobe = squared / np.maximum(facing * facing * (squared - 1.0) + 1.0, 1e-6) ** 2
    edge = np.minimum(25.0 * sheen, 1.0)
    fresnel = sheen + (edge - sheen) * (1.0 - np.maximum(dot(view, middle), 0.0)) ** 5
    shape = 0.25 / (mix(to_view, 1.0, 0.5 * width) * mix(to_lamp, 1.0, 0.5 * width))
    return lobe * fresnel * shape * to_lamp


def lit(
    p: Vector,
    normal: Vector,
    view: Vector,
    surface: Surface,
    lamps: Sequence[Lamp],
    ambient: Callable[[Vector], Vector],
    blockers: Sequence[Point] = (),
    near: tuple[Solid, ...] = (),
    quick: bool = False,
) -> list[Any]:
    """Light that leaves opaque points towards the viewer.

    Parameters
    ----------
    p, normal, view : Vector
        World points, unit normals, unit directions to the viewer.
    surface : Surface
        Their material.
    lamps : sequence of Lamp
        Direct light.
    ambient : callable
        Normal to the even light from all around.
    blockers : sequence of world spheres
        Coarse shapes of other solids.
    near : tuple of Solid
        Solids whose exact shadow matters here.
    quick : bool
        Leave out all shadows, for reflections.
    """
    seen = np.ones_like(p[0]) if quick else openness(p, normal, blockers, near)
    around = ambient(normal)
    grazing = (1.0 - clamp(dot(normal, view))) ** 3
    out = []
    for k in range(3):
        bounce = seen / np.maximum(1.0 - surface.albedo[k] * (1.0 - seen) * 0.8, 0.2)
        out.append(surface.albedo[k] * around[k] * bounce * (1.0 + surface.fuzz * grazing) + surface.glow[k])
    middle, extent = _extent(p)
    for lamp in lamps:
        if math.dist(middle, lamp.position) > extent + lamp.range:
            continue
        toward = subtract(lamp.position, p)
        span = np.maximum(length(toward), 0.2)
        toward = (toward[0] / span, toward[1] / span, toward[2] / span)
        cosine = dot(normal, toward)
        visible = np.ones_like(span)
        if lamp.shadows and not quick:
            index = np.flatnonzero(cosine > -max(surface.soft))
            ray, gap = take(toward, index), span[index]
            part = blocked(take(p, index), ray, gap, lamp, blockers)
            if near and lamp.march:
                lifted = along(take(p, index), take(normal, index), 0.02)
                part = part * marched_shadow(lifted, ray, gap, lamp, near)
            visible[index] = part
        strength = (lamp.reach / np.maximum(span, 1.6 * lamp.radius + 0.2)) ** 2
        if lamp.range < math.inf:
            strength = strength * np.maximum(1.0 - (span / lamp.range) ** 2, 0.0) ** 2
        gloss = np.pi * specular(normal, view, toward, surface.alpha, surface.sheen, lamp.radius / span)
        gloss = gloss * visible * strength * lamp.highlight
        for k in range(3):
            reach = surface.soft[k]
            diffuse = np.maximum((cosine + reach) / (1.0 + reach), 0.0) ** (1.0 + 0.6 * reach)
            shade = visible ** (1.0 - 0.6 * reach) if reach else visible
            cloth = 1.0 + surface.fuzz * grazing
            out[k] = out[k] + lamp.colour[k] * (
                surface.albedo[k] * diffuse * strength * shade * cloth + surface.tint[k] * gloss
            )
    return out
