"""How the bench shows its pictures: the layout, the two that are compared, the line between them. Plain Python."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from tonemap.picture_colours import CLIPPING, GAMUT, LUMINANCE, MONITOR

from .layout import Rect

SIDE_BY_SIDE, WIPE, FLIP, DIFFERENCE = "side by side", "wipe", "flip", "difference"
LAYOUTS = {
    SIDE_BY_SIDE: ("All", "Every picture in a tile of its own"),
    WIPE: ("Wipe", "Two pictures in one place, with a line between them"),
    FLIP: ("Flip", "Two pictures in one place, one after the other"),
    DIFFERENCE: ("Difference", "How far two pictures are from each other, in Delta E ITP (BT.2124)"),
}
PICTURE = "picture"
COLOURS = {
    PICTURE: ("Picture", "The pictures as they are"),
    LUMINANCE: ("Luminance", "Bands of nits in colours; the rest grey"),
    GAMUT: ("Gamut", "Colour outside BT.709 and outside P3"),
    MONITOR: ("Monitor", "What the monitor can't show: above its peak, outside its primaries"),
    CLIPPING: ("Clipping", "Pixels with one, two or three channels at the top"),
}
HEAT_TOPS = (2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0)
"""Delta E ITP at the end of the scale; a difference of about 1 is just seen under critical conditions (BT.2124)."""

EDGE = 0.02
"""How near to a tile's edge, as a share of it, the middle of the line may come."""

Key = int | None
"""A picture: a rendition by the key of its slot, the master by None."""


@dataclass(frozen=True)
class Line:
    """The line of a wipe.

    Attributes
    ----------
    x, y : a point on it, as shares of the tile from its upper left
    angle : degrees from the horizontal, against the clock; at 90 the first picture is on the left
    """

    x: float = 0.5
    y: float = 0.5
    angle: float = 90.0

    def side(self, width: int, height: int) -> tuple[float, float, float]:
        """Return (a, b, c): the second picture is where a x + b y >= c, in pixels from the upper left."""
        a, b = math.sin(math.radians(self.angle)), math.cos(math.radians(self.angle))
        return a, b, a * self.x * width + b * self.y * height

    def ends(self, rect: Rect) -> tuple[tuple[float, float], tuple[float, float]]:
        """Return two points of the line outside of a rectangle, the one that the angle points to last."""
        reach = math.hypot(rect.width, rect.height)
        return self.point(rect, -reach), self.point(rect, reach)

    def point(self, rect: Rect, along: float) -> tuple[float, float]:
        """Return the point of the line at a distance from its middle, on the screen."""
        turn = math.radians(self.angle)
        x, y = rect.left + self.x * rect.width, rect.top + self.y * rect.height
        return x + along * math.cos(turn), y - along * math.sin(turn)

    def moved(self, dx: float, dy: float) -> "Line":
        """Move it by shares of the tile; its middle stays on the tile."""
        x, y = (min(max(value, EDGE), 1.0 - EDGE) for value in (self.x + dx, self.y + dy))
        return replace(self, x=x, y=y)

    def turned(self, degrees: float) -> "Line":
        """Turn it against the clock."""
        return replace(self, angle=(self.angle + degrees) % 360.0)


@dataclass(frozen=True)
class Showing:
    """The layout and what it shows; nothing of it changes a rendition.

    Attributes
    ----------
    first, second : the two pictures of the layouts that compare two
    heat_top : Delta E ITP at the end of the scale of the difference
    view : PICTURE, or one of `tonemap.picture_colours.VIEWS`, which colour every picture but the difference
    """

    layout: str = SIDE_BY_SIDE
    first: Key = None
    second: Key = 1
    line: Line = Line()
    heat_top: float = 50.0
    view: str = PICTURE

    def compared(self, keys: Sequence[Key]) -> tuple[Key, ...]:
        """Return the pictures that the layout compares: all side by side, else two."""
        return tuple(keys) if self.layout == SIDE_BY_SIDE or len(keys) < 2 else self.pair(keys)

    def pair(self, keys: Sequence[Key]) -> tuple[Key, Key]:
        """Return the two pictures among those that there are; one that is gone gives way to the next."""
        first = self.first if self.first in keys else keys[0]
        others = [key for key in keys if key != first] or [first]
        return first, self.second if self.second in others else others[0]

    def exchanged(self, keys: Sequence[Key]) -> "Showing":
        """Exchange the two pictures."""
        first, second = self.pair(keys)
        return replace(self, first=second, second=first)

    def with_picture(self, index: int, key: Key, keys: Sequence[Key]) -> "Showing":
        """Choose one of the two pictures, 0 or 1; choosing the other one exchanges them."""
        pair = self.pair(keys)
        if key == pair[1 - index]:
            return self.exchanged(keys)
        first, second = (key, pair[1]) if index == 0 else (pair[0], key)
        return replace(self, first=first, second=second)

    def stepped(self, step: int, keys: Sequence[Key]) -> "Showing":
        """Put the next picture in the first one's place, or the one before."""
        first, second = self.pair(keys)
        others = [key for key in keys if key != second] or [first]
        return replace(self, first=others[(others.index(first) + step) % len(others)], second=second)
