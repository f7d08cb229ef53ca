"""Signed distances, smooth joins and the ray marcher, on separate x, y, z arrays.

Lengths are decimetres (1.0 = 10 cm). A vector is a tuple of three float32 arrays: NumPy runs several times
faster on three contiguous arrays than on one array with a last axis of three.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

Vector = tuple[Any, ...]
Point = tuple[float, ...]

BEYOND = 50.0


def dot(first: Vector | Point, second: Vector | Point) -> Any:
    """Return the inner product."""
    return first[0] * second[0] + first[1] * second[1] + first[2] * second[2]


def length(vector: Vector) -> Any:
    """Return the Euclidean length."""
    return np.sqrt(dot(vector, vector))


def normalise(vector: Vector) -> Vector:
    """Scale to unit length; a null vector stays null."""
    scale = 1.0 / np.maximum(length(vector), 1e-9)
    return vector[0] * scale, vector[1] * scale, vector[2] * scale


def subtract(first: Vector | Point, second: Vector | Point) -> Vector:
    """Return the difference of two vectors."""
    return first[0] - second[0], first[1] - second[1], first[2] - second[2]


def along(origin: Vector | Point, direction: Vector, distance: Any) -> Vector:
    """Return the point at a distance along a ray."""
    return (
        origin[0] + direction[0] * distance,
        origin[1] + direction[1] * distance,
        origin[2] + direction[2] * distance,
    )


def take(vector: Vector | Point, index: Any) -> Vector:
    """Select elements; a plain point, which all rays share, is passed on."""
    first: Any = vector[0]
    if isinstance(first, np.ndarray) and first.ndim:
        return tuple(part[index] for part in vector)  # type: ignore[index]
    return vector


def reflect(direction: Vector, normal: Vector) -> Vector:
    """Mirror a direction about a normal."""
    return along(direction, normal, -2.0 * dot(direction, normal))


def negative(vector: Vector) -> Vector:
    """Turn a vector round."""
    return -vector[0], -vector[1], -vector[2]


def clamp(value: Any, low: float = 0.0, high: float = 1.0) -> Any:
    """Limit values to a range; quicker on small arrays than `numpy.clip`."""
    return np.minimum(np.maximum(value, low), high)


def smoothstep(low: float, high: float, value: Any) -> Any:
    """Step from 0 at `low` to 1 at `high` along a cubic (`low` may be the greater one)."""
    t = clamp((value - low) * (1.0 / (high - low)))
    return t * t * (3.0 - 2.0 * t)


def mix(first: Any, second: Any, amount: Any) -> Any:
    """Blend linearly."""
    return first + (second - first) * amount


def rotation(yaw: float, pitch: float, roll: float = 0.0) -> tuple[Point, ...]:
    """Return the rotation matrix from local to world axes, row by row.

    Parameters
    ----------
    yaw, pitch, roll : float
        Degrees. Yaw turns about the vertical, positive pitch lowers the gaze, roll tilts about the gaze.
    """
    y, p, r = np.radians((yaw, pitch, roll))
    about_y = np.array(((np.cos(y), 0, np.sin(y)), (0, 1, 0), (-np.sin(y), 0, np.cos(y))))
    about_x = np.array(((1, 0, 0), (0, np.cos(p), -np.sin(p)), (0, np.sin(p), np.cos(p))))
    about_z = np.array(((np.cos(r), -np.sin(r), 0), (np.sin(r), np.cos(r), 0), (0, 0, 1)))
    return tuple(tuple(row) for row in (about_y @ about_x @ about_z).tolist())


def sphere(p: Vector, centre: Point, radius: float) -> Any:
    """Distance to a sphere."""
    return length(subtract(p, centre)) - radius


def ellipsoid(p: Vector, centre: Point, radii: Point) -> Any:
    """Distance, to first order, to an ellipsoid with axes along the coordinates."""
    scale = 1.0 / radii[0], 1.0 / radii[1], 1.0 / radii[2]
    x, y, z = (p[0] - centre[0]) * scale[0], (p[1] - centre[1]) * scale[1], (p[2] - centre[2]) * scale[2]
    scaled = np.sqrt(x * x + y * y + z * z)
    x, y, z = x * scale[0], y * scale[1], z * scale[2]
    return scaled * (scaled - 1.0) / np.sqrt(x * x + y * y + z * z + 1e-12)


def capsule(p: Vector, start: Point, end: Point, radius: float, end_radius: float | None = None) -> Any:
    """Distance to a capsule, tapered when `end_radius` is given."""
    a, b, c = end[0] - start[0], end[1] - start[1], end[2] - start[2]
    scale = 1.0 / (a * a + b * b + c * c)
    x, y, z = p[0] - start[0], p[1] - start[1], p[2] - start[2]
    share = clamp(x * (a * scale) + y * (b * scale) + z * (c * scale))
    x, y, z = x - share * a, y - share * b, z - share * c
    away = np.sqrt(x * x + y * y + z * z)
    return away - (radius if end_radius is None else radius + (end_radius - radius) * share)


def box(p: Vector, centre: Point, half: Point, rounding: float = 0.0) -> Any:
    """Distance to a box with rounded edges."""
    x, y, z = (np.abs(a - c) - (h - rounding) for a, c, h in zip(p, centre, half, strict=True))
    outside = length((np.maximum(x, 0.0), np.maximum(y, 0.0), np.maximum(z, 0.0)))
    return outside + np.minimum(np.maximum(x, np.maximum(y, z)), 0.0) - rounding


def smooth_union(first: Any, second: Any, blend: float) -> Any:
    """Union with a fillet of about `blend`."""
    overlap = np.maximum(blend - np.abs(first - second), 0.0)
    return np.minimum(first, second) - overlap * overlap * (0.25 / blend)


def smooth_cut(first: Any, cutter: Any, blend: float) -> Any:
    """`first` without `cutter`, with a rounded edge."""
    overlap = np.maximum(blend - np.abs(first + cutter), 0.0)
    return np.maximum(first, -cutter) + overlap * overlap * (0.25 / blend)


def guarded(p: Vector, rough: Any, margin: float, exact: Callable[[Vector], Any]) -> Any:
    """Exact distance near a solid, a rough lower bound away from it.

    Parameters
    ----------
    p : Vector
        Local points.
    rough : ndarray
        A distance never above the exact one.
    margin : float
        Rough distance below which the exact one is computed.
    exact : callable
        Local point to signed distance.
    """
    near = np.flatnonzero(rough < margin)
    if near.size > 0.8 * rough.size:
        return exact(p)
    if near.size:
        rough[near] = exact(take(p, near))
    return rough


@dataclass(frozen=True)
class Frame:
    """Where a solid stands: its origin and the axes of its own coordinates."""

    origin: Point = (0.0, 0.0, 0.0)
    axes: tuple[Point, ...] = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))

    def local(self, p: Vector) -> Vector:
        """World to local coordinates."""
        return self.turned(subtract(p, self.origin))

    def turned(self, v: Vector) -> Vector:
        """World direction to local direction."""
        (a, b, c), (d, e, f), (g, h, i) = self.axes
        return v[0] * a + v[1] * d + v[2] * g, v[0] * b + v[1] * e + v[2] * h, v[0] * c + v[1] * f + v[2] * i

    def world(self, point: Point) -> Point:
        """One local point in world coordinates."""
        return tuple(o + dot(row, point) for o, row in zip(self.origin, self.axes, strict=True))

    def outward(self, v: Vector) -> Vector:
        """Local direction to world direction."""
        return dot(self.axes[0], v), dot(self.axes[1], v), dot(self.axes[2], v)


@dataclass(frozen=True)
class Solid:
    """One thing in the scene.

    Attributes
    ----------
    name : str
        Unique name.
    frame : Frame
        Where it stands.
    bound : tuple
        Local centre and radius of a sphere that holds it.
    distance : callable
        Local point to signed distance.
    surface : callable
        Local point, local normal, local view direction to a `Surface`.
    relief : callable or None
        Local point to a small height that bends the normal but is not marched.
    blockers : tuple
        Local spheres (x, y, z, radius) that stand for the solid when it shades others.
    own_shadow : bool
        March a shadow of the solid on itself.
    fineness : float
        Step of the normal's finite difference.
    """

    name: str
    frame: Frame
    bound: tuple[Point, float]
    distance: Callable[[Vector], Any]
    surface: Callable[[Vector, Vector, Vector], Any]
    relief: Callable[[Vector], Any] | None = None
    blockers: tuple[tuple[float, float, float, float], ...] = ()
    own_shadow: bool = False
    fineness: float = 0.006

    @cached_property
    def centre(self) -> Point:
        """World centre of the bound."""
        return self.frame.world(self.bound[0])

    def crossed(self, origin: Vector | Point, direction: Vector) -> tuple[Any, Any, Any]:
        """Return the indices of the rays that cross the bound, and where each enters and leaves it."""
        offset = subtract(origin, self.centre)
        half = dot(offset, direction)
        inside = half * half - (dot(offset, offset) - self.bound[1] ** 2)
        index = np.flatnonzero(inside > 0.0)
        half, root = half[index], np.sqrt(inside[index])
        ahead = root > half
        index, half, root = index[ahead], half[ahead], root[ahead]
        return index, np.maximum(-half - root, 0.0), root - half

    def march(self, origin: Vector | Point, direction: Vector, tolerance: float, steps: int = 56) -> tuple[Any, Any]:
        """Find where rays meet the surface.

        Parameters
        ----------
        origin, direction : Vector
            World rays; directions of unit length.
        tolerance : float
            Gap that counts as a hit, per unit of distance along the ray.
        steps : int
            Most steps.

        Returns
        -------
        tuple of ndarray
            Indices of the rays that hit, and their distances.
        """
        index, t, stop = self.crossed(origin, direction)
        start = self.frame.local(take(origin, index))
        heading = self.frame.turned(take(direction, index))
        found, reached = [index[:0]], [t[:0]]
        for _ in range(steps):
            if index.size == 0:
                break
            gap = self.distance(along(start, heading, t))
            hit = gap < tolerance * t + 1e-4
            if hit.any():
                found.append(index[hit])
                reached.append(t[hit])
            t = np.where(hit, np.inf, t + gap * 0.92)
            keep = np.flatnonzero(t < stop)
            if keep.size < 0.9 * t.size:
                index, t, stop = index[keep], t[keep], stop[keep]
                start, heading = take(start, keep), take(heading, keep)
            elif keep.size < t.size:
                t = np.minimum(t, stop + BEYOND)
        return np.concatenate(found), np.concatenate(reached)

    def normal(self, p: Vector) -> Vector:
        """Local unit normal at local points, bent by the relief."""
        step = self.fineness
        x, y, z = p
        total = [0.0, 0.0, 0.0]
        for sx, sy, sz in ((1, -1, -1), (-1, -1, 1), (-1, 1, -1), (1, 1, 1)):
            moved = (x + sx * step, y + sy * step, z + sz * step)
            height = self.distance(moved)
            if self.relief is not None:
                height = height - self.relief(moved)
            total = [total[0] + sx * height, total[1] + sy * height, total[2] + sz * height]
        return normalise((total[0], total[1], total[2]))
