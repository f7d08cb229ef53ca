"""The camera of the scene, and where world points land in its picture."""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from .solids import Point, Vector, normalise

FIELD_OF_VIEW = 25.0


@dataclass(frozen=True)
class Camera:
    """A pinhole: place, and the axes of the picture."""

    place: Point
    right: Point
    up: Point
    ahead: Point

    def rays(self, x: Any, y: Any, aspect: float) -> Vector:
        """Return unit directions through picture coordinates 0..1 (y downwards)."""
        half = np.tan(np.radians(FIELD_OF_VIEW) / 2.0)
        across = (2.0 * x - 1.0) * half * aspect
        rise = (1.0 - 2.0 * y) * half
        return normalise(
            tuple(
                (a + r * across + u * rise).astype(np.float32)
                for a, r, u in zip(self.ahead, self.right, self.up, strict=True)
            )
        )

    def project(self, point: Point, aspect: float) -> tuple[float, float]:
        """Picture coordinates 0..1 of a world point."""
        offset = np.asarray(point) - np.asarray(self.place)
        depth = float(offset @ np.asarray(self.ahead)) * np.tan(np.radians(FIELD_OF_VIEW) / 2.0)
        x = float(offset @ np.asarray(self.right)) / depth / aspect
        y = float(offset @ np.asarray(self.up)) / depth
        return 0.5 + 0.5 * x, 0.5 - 0.5 * y


def camera(phase: float) -> Camera:
    """Place the camera on its slow arc, which closes with the loop."""
    place = np.array((0.11 * math.sin(phase), 15.9 + 0.03 * math.cos(phase), -20.0))
    ahead = np.array((0.0, 13.42, 4.0)) - place
    ahead /= np.linalg.norm(ahead)
    right = np.cross((0.0, 1.0, 0.0), ahead)
    right /= np.linalg.norm(right)
    return Camera(tuple(place.tolist()), tuple(right), tuple(np.cross(ahead, right)), tuple(ahead))
