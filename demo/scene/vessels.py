"""Turned things: bottles, bowls and lanterns, as distances in a plane of radius and height."""

from typing import Any

import numpy as np

from .shading import Surface
from .solids import Frame, Point, Solid, Vector, clamp, dot, length, smooth_union, smoothstep
from .texture import noise3

Profile = tuple[Any, Any]
COPPER_TINT = (0.95, 0.48, 0.24)


def _turned(p: Vector) -> Profile:
    return np.sqrt(p[0] * p[0] + p[2] * p[2]), p[1]


def _slab(q: Profile, middle: float, half_width: float, half_height: float, rounding: float) -> Any:
    """Distance to a rectangle with rounded corners about the axis: a cylinder when turned."""
    r = q[0] - (half_width - rounding)
    y = np.abs(q[1] - middle) - (half_height - rounding)
    outside = np.hypot(np.maximum(r, 0.0), np.maximum(y, 0.0))
    return outside + np.minimum(np.maximum(r, y), 0.0) - rounding


def _ring(q: Profile, radius: float, height: float, thickness: float) -> Any:
    return np.hypot(q[0] - radius, q[1] - height) - thickness


def _oval(q: Profile, height: float, radius: float, half_height: float) -> Any:
    r, y = q[0] / radius, (q[1] - height) / half_height
    scaled = np.hypot(r, y)
    return scaled * (scaled - 1.0) / np.maximum(np.hypot(r / radius, y / half_height), 1e-6)


def _bottle(q: Profile) -> Any:
    shape = smooth_union(_slab(q, 0.95, 0.62, 0.95, 0.22), _slab(q, 2.45, 0.19, 0.75, 0.05), 0.65)
    return smooth_union(shape, _ring(q, 0.20, 3.18, 0.075), 0.05)


def _flask(q: Profile) -> Any:
    shape = smooth_union(_oval(q, 0.80, 0.92, 0.80), _slab(q, 1.85, 0.20, 0.45, 0.05), 0.5)
    return smooth_union(shape, _ring(q, 0.22, 2.28, 0.09), 0.06)


def _vase(q: Profile) -> Any:
    flare = 0.42 + 0.34 * np.sin(1.55 * q[1] + 0.15) + 0.10 * q[1]
    shape = np.maximum((q[0] - flare) * 0.80, np.abs(q[1] - 1.25) - 1.25)
    return np.maximum(shape, -(np.maximum((q[0] - flare + 0.12), 2.15 - q[1])))


def _cup(q: Profile) -> Any:
    outer = smooth_union(_oval(q, 0.78, 0.66, 0.74), _slab(q, 0.06, 0.42, 0.06, 0.04), 0.12)
    outer = np.maximum(outer, q[1] - 1.18)
    return np.maximum(outer, -_oval(q, 0.86, 0.56, 0.66))


def _bowl(q: Profile) -> Any:
    outer = np.maximum(_oval(q, 1.15, 1.55, 1.08), q[1] - 1.02)
    inner = _oval(q, 1.22, 1.46, 1.03)
    shape = np.maximum(outer, -inner) - 0.015
    return smooth_union(shape, _slab(q, 0.08, 0.58, 0.08, 0.03), 0.10)


def _marble(q: Profile) -> Any:
    return np.hypot(q[0], q[1] - 0.27) - 0.27


PROFILES = {
    "marble": (_marble, 0.54, 0.27),
    "bottle": (_bottle, 3.3, 0.8),
    "flask": (_flask, 2.45, 1.0),
    "vase": (_vase, 2.55, 1.15),
    "cup": (_cup, 1.25, 0.75),
    "bowl": (_bowl, 1.1, 1.6),
}


def vessel(
    name: str,
    place: Point,
    form: str,
    clear: Point | None = None,
    glow: Point = (0.0, 0.0, 0.0),
    lacquer: Point | None = None,
) -> tuple[Solid, ...]:
    """Make a turned vessel.

    Parameters
    ----------
    name : str
        Name of the solid.
    place : tuple
        World point under its foot.
    form : str
        A key of `PROFILES`.
    clear : tuple or None
        Transmission of its glass, BT.2020 linear.
    glow : tuple
        Light it gives at its heart, 1.0 = diffuse white.
    lacquer : tuple or None
        Reflectance under a clear coat, in place of glass.
    """
    profile, height, width = PROFILES[form]

    def distance(p: Vector) -> Any:
        return profile(_turned(p)) * 0.9

    def surface(p: Vector, n: Vector, v: Vector) -> Surface:
        if lacquer is not None:
            brushed = 1.0 + 0.10 * noise3(np.arctan2(p[0], p[2]) * 2.0, p[1] * 14.0, p[1] * 2.0)
            return Surface(tuple(c * brushed for c in lacquer), 0.10, 0.045, mirror=0.045)
        facing = clamp(np.abs(dot(n, v)))
        heart = np.exp(-(((p[1] - 0.30 * height) / (0.42 * height)) ** 2))
        foot = np.exp(-np.maximum(p[1], 0.0) / (0.07 * height))
        wall = np.exp(-(((facing - 0.42) / 0.16) ** 2))
        streak = 1.0 + 0.30 * noise3(np.arctan2(p[0], p[2]) * 1.3 + 3.0, p[1] * 1.1, p[1] * 0.4)
        body = (0.12 + 0.75 * facing**2.2 - 0.22 * wall) * streak + 0.55 * foot
        return Surface((0.0, 0.0, 0.0), 0.045, 0.045, glow=tuple(g * heart * body for g in glow), clear=clear)

    spheres = tuple((0.0, height * s, 0.0, 0.55 * width) for s in (0.2, 0.45))
    reach = 0.5 * np.hypot(height, 2.0 * width) * 1.03
    return (
        Solid(
            name,
            Frame(place),
            ((0.0, 0.5 * height, 0.0), float(reach)),
            distance,
            surface,
            None,
            spheres,
            False,
        ),
    )


def _shining(tint: Point, core: float, size: float, centre: float, veil: float):
    """Frosted glass around a filament: brightest where the line of sight passes the filament."""

    def surface(p: Vector, n: Vector, v: Vector) -> Surface:
        q = (p[0], p[1] - centre, p[2])
        ahead = dot(q, v)
        aside = length(tuple(a - b * ahead for a, b in zip(q, v, strict=True)))
        body = veil * (0.55 + 0.45 * clamp(dot(n, v))) + np.exp(-((aside / size) ** 2))
        heart = core * np.exp(-((aside / (0.42 * size)) ** 2))
        glow = tuple(t * body + (t + 0.25 * max(tint)) * heart for t in tint)
        return Surface((0.05, 0.05, 0.05), 0.12, 0.04, glow=glow)

    return surface


def wire(name: str, place: Point) -> tuple[Solid, ...]:
    """Lay down a coil of copper wire."""
    copper = Surface((0.060, 0.020, 0.010), 0.16, 0.55, mirror=0.45, tint=COPPER_TINT)

    def distance(p: Vector) -> Any:
        q = _turned(p)
        coil = np.minimum(_ring(q, 0.52, 0.06, 0.055), _ring(q, 0.44, 0.13, 0.055))
        coil = np.minimum(coil, np.minimum(_ring(q, 0.55, 0.17, 0.055), _ring(q, 0.40, 0.05, 0.05)))
        return np.minimum(coil, _ring(q, 0.49, 0.24, 0.055))

    blockers = (
        (0.48, 0.1, 0.0, 0.14),
        (-0.48, 0.1, 0.0, 0.14),
        (0.0, 0.1, 0.48, 0.14),
        (0.0, 0.1, -0.48, 0.14),
    )
    return (Solid(name, Frame(place), ((0.0, 0.12, 0.0), 0.72), distance, lambda p, n, v: copper, None, blockers),)


METAL = Surface((0.010, 0.009, 0.008), 0.30, 0.25)
BRASS = Surface((0.040, 0.022, 0.005), 0.17, 0.60, mirror=0.40, tint=(0.95, 0.62, 0.20))


def lantern(name: str, place: Point, form: str, tint: Point, core: float) -> tuple[Solid, ...]:
    """Make a lamp of the workshop.

    Parameters
    ----------
    name : str
        Prefix of the names of its solids.
    place : tuple
        World point: the middle of a hanging bulb or globe, the foot of a table lantern.
    form : {'bulb', 'globe', 'table'}
        Bulb under an enamel shade, hanging globe, glass lantern on the bench.
    tint : tuple
        Light of the glass, BT.2020 linear, 1.0 = diffuse white.
    core : float
        Filament, as a multiple of the glass.
    """
    frame = Frame(place)
    if form == "bulb":

        def bulb(p):
            q = _turned(p)
            return smooth_union(_oval(q, 0.0, 0.36, 0.38), _slab(q, 0.42, 0.16, 0.15, 0.04), 0.2)

        def shade(p):
            q = _turned(p)
            slope = np.abs(q[0] - (0.32 + 1.25 * smoothstep(1.15, 0.10, q[1]))) * 0.62 - 0.035
            return np.maximum(slope, np.abs(q[1] - 0.62) - 0.56) * 0.8

        def stem(p):
            return _slab(_turned(p), 3.2, 0.035, 2.1, 0.02)

        enamel = Surface((0.018, 0.040, 0.034), 0.14, 0.05, mirror=0.04)

        def shade_surface(p, n, _v):
            inner = smoothstep(-0.15, -0.55, n[1]) * smoothstep(1.6, 0.2, np.hypot(p[0], p[2]))
            return Surface(enamel.albedo, enamel.alpha, enamel.sheen, glow=tuple(1.1 * t * inner for t in tint))

        return (
            Solid(f"{name}.bulb", frame, ((0.0, 0.1, 0.0), 0.65), bulb, _shining(tint, core, 0.20, 0.0, 0.45)),
            Solid(f"{name}.shade", frame, ((0.0, 0.6, 0.0), 1.8), shade, shade_surface),
            Solid(f"{name}.stem", frame, ((0.0, 3.2, 0.0), 2.2), stem, lambda p, n, v: METAL),
        )
    if form == "globe":
        return (
            Solid(
                f"{name}.globe",
                frame,
                ((0.0, 0.0, 0.0), 0.75),
                lambda p: _oval(_turned(p), 0.0, 0.62, 0.68),
                _shining(tint, core, 0.34, 0.0, 0.35),
            ),
            Solid(
                f"{name}.cap",
                frame,
                ((0.0, 2.6, 0.0), 2.7),
                lambda p: np.minimum(
                    _slab(_turned(p), 0.72, 0.30, 0.10, 0.04), _slab(_turned(p), 2.9, 0.03, 2.2, 0.02)
                ),
                lambda p, n, v: METAL,
            ),
        )

    def glass(p):
        q = _turned(p)
        return smooth_union(_oval(q, 1.30, 0.78, 0.98), _slab(q, 0.45, 0.42, 0.2, 0.05), 0.2)

    def fitting(p):
        q = _turned(p)
        base = np.minimum(_slab(q, 0.14, 0.82, 0.14, 0.05), _slab(q, 0.36, 0.56, 0.10, 0.04))
        top = np.minimum(_slab(q, 2.32, 0.55, 0.11, 0.04), _slab(q, 2.50, 0.22, 0.12, 0.05))
        angle = np.arctan2(p[2], p[0])
        sector = np.round(angle / (np.pi / 3.0)) * (np.pi / 3.0)
        x, z = p[0] * np.cos(sector) + p[2] * np.sin(sector), p[2] * np.cos(sector) - p[0] * np.sin(sector)
        bow = 0.30 + 0.60 * np.sqrt(clamp(1.0 - ((p[1] - 1.28) / 1.12) ** 2))
        rib = np.maximum(np.hypot(x - bow, z) - 0.035, np.abs(p[1] - 1.28) - 1.05)
        loop = np.hypot(np.hypot(p[0], p[1] - 2.92) - 0.30, p[2]) - 0.035
        return np.minimum(np.minimum(base, top), np.minimum(rib, loop)) * 0.7

    return (
        Solid(f"{name}.glass", frame, ((0.0, 1.2, 0.0), 1.2), glass, _shining(tint, core, 0.30, 1.25, 0.42)),
        Solid(
            f"{name}.brass",
            frame,
            ((0.0, 1.6, 0.0), 1.75),
            fitting,
            lambda p, n, v: BRASS,
            None,
            ((0.0, 0.2, 0.0, 0.6),),
            False,
            0.008,
        ),
    )
