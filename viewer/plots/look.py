"""The look of the plots: one for screens in a dim room, one for paper, alike in all but light and dark."""

from dataclasses import dataclass

import numpy as np

from tonemap.arrays import Array

from ..comparison.type_setting import FIRST, GROUND, HAIRLINE, QUIET, SECOND

Colour = tuple[float, float, float]

GRID = 64
PLATE = 22
"""The ground of a plot. Both are shades beside those of the type; the grid's is that of a translucent line."""


def _colour(text: str) -> Colour:
    red, green, blue = (int(text[start : start + 2], 16) / 255.0 for start in (0, 2, 4))
    return red, green, blue


@dataclass(frozen=True)
class Look:
    """Shades and colours.

    Attributes
    ----------
    name : 'screen' or 'paper'
    shades : for each shade of the type, its 8-bit code in this look
    accent : for the mark that matters in a plot
    traces : of the channels R, G, B and Y
    marks : of what lies outside: the first for a little, the second for more
    """

    name: str
    shades: dict[int, int]
    accent: Colour
    traces: dict[str, Colour]
    marks: tuple[Colour, Colour]

    @property
    def is_paper(self) -> bool:
        """Whether ink darkens a white ground, rather than light brightening a dark one."""
        return self.name == "paper"

    def shade(self, code: int) -> Colour:
        """Return a neutral colour of this look for a shade of the type."""
        return (self.shades[code] / 255.0,) * 3

    def blended(self, strengths: list[Array], colours: list[Array | Colour]) -> Array:
        """Return the picture (rows, columns, 3) of traces over each other on the plate.

        Light of equal red, green and blue traces is white on the screen; their ink is black on paper.

        Parameters
        ----------
        strengths : arrays (rows, columns), 0..1
        colours : one for each: a colour, or a picture of colours
        """
        ground = np.array(self.shade(PLATE))
        picture = np.zeros((*strengths[0].shape, 3))
        for strength, colour in zip(strengths, colours, strict=True):
            goal = np.asarray(colour)
            picture += strength[..., np.newaxis] * (
                (ground - goal) if self.is_paper else np.maximum(goal - ground, 0.0)
            )
        return np.clip(ground - picture if self.is_paper else ground + picture, 0.0, 1.0)


SCREEN = Look(
    "screen",
    {GROUND: GROUND, HAIRLINE: HAIRLINE, QUIET: 150, SECOND: 184, FIRST: FIRST, GRID: 136, PLATE: PLATE},
    _colour("e2b268"),
    {"R": _colour("e8685a"), "G": _colour("62b876"), "B": _colour("5f8ff0"), "Y": _colour("dcdcdc")},
    (_colour("e8b44c"), _colour("f0503c")),
)
PAPER = Look(
    "paper",
    {GROUND: 255, HAIRLINE: 196, QUIET: 104, SECOND: 72, FIRST: 20, GRID: 130, PLATE: 250},
    _colour("94590a"),
    {"R": _colour("c23b2c"), "G": _colour("1f7a3a"), "B": _colour("2554b8"), "Y": _colour("1c1c1c")},
    (_colour("d08a00"), _colour("c8200c")),
)
LOOKS = {look.name: look for look in (SCREEN, PAPER)}
