"""What the system says of a monitor. Plain Python."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Screen:
    """A monitor of the system, as it is now.

    Attributes
    ----------
    place : of its upper left corner, in the system's coordinates
    mode : width and height in pixels, bits a channel, Hz
    """

    name: str
    place: tuple[int, int] = (0, 0)
    mode: tuple[int, int, int, int] = (0, 0, 0, 0)
