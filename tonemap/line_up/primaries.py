"""Primaries: squares in each other of one luminance, in the colours of BT.2020, P3 and BT.709."""

import numpy as np

from ..arrays import Array
from ..colorimetry import conversion_matrix, matrix_to_xyz, primaries_named
from ..encoding import Encoding
from .plate import QUIET, Box, Plate

SETS = ("bt2020", "p3-d65", "bt709")
COLOURS = {
    "red": (1.0, 0.0, 0.0),
    "green": (0.0, 1.0, 0.0),
    "blue": (0.0, 0.0, 1.0),
    "cyan": (0.0, 1.0, 1.0),
    "magenta": (1.0, 0.0, 1.0),
    "yellow": (1.0, 1.0, 0.0),
}
CHANNEL = 90.0
"""cd/m2: no channel of any set has more, so that an SDR screen of 100 shows all of them as they are."""


WORDS = 10
"""Room for the words beside a square, in units of the type."""


def sets_within(encoding: Encoding) -> tuple[str, ...]:
    """Return the sets whose colours the encoding can carry, the widest first."""
    return tuple(name for name in SETS if _fits(name, encoding.primaries))


def light_of(colour: str, name: str, encoding: Encoding) -> tuple[Array, float]:
    """Return a colour of a set as light (3,) in the encoding's own primaries, and its luminance, both in cd/m2.

    The luminance is the same in every set: the most at which no channel of a set has more than `CHANNEL`.
    """
    mixed = np.array(COLOURS[colour])
    peak = min(CHANNEL, 0.9 * encoding.peak)
    nits = peak * min(float(matrix_to_xyz(primaries_named(each))[1] @ mixed) for each in SETS)
    light = mixed * nits / float(matrix_to_xyz(primaries_named(name))[1] @ mixed)
    return np.maximum(conversion_matrix(name, encoding.primaries) @ light, 0.0), nits


def draw(plate: Plate) -> None:
    """Draw the plate."""
    plate.heading("Primaries")
    body = plate.body(2)
    sets = sets_within(plate.encoding)
    titles = [primaries_named(name).title for name in sets]
    gap = 2 * plate.em
    side = min((body.height - gap) // 2, (body.width - 2 * gap) // 3 - WORDS * plate.em)
    cells = Box(body.left, body.top, body.width, side).columns(3, gap)
    for index, colour in enumerate(COLOURS):
        row, column = divmod(index, 3)
        square = Box(cells[column].left, body.top + row * (side + gap), side, side)
        left = square.right + plate.em
        for depth, (name, title) in enumerate(zip(sets, titles, strict=True)):
            light, nits = light_of(colour, name, plate.encoding)
            codes = plate.colour(light)
            plate.fill(square.inset(depth * side // 6), codes)
            baseline = square.top + (5.0 + 3.0 * depth) * plate.em
            plate.write(title, left, baseline, QUIET)
            plate.write(" ".join(map(str, codes)), left, baseline + 1.3 * plate.em)
        plate.write(colour, left, square.top + plate.em, is_bold=True)
        plate.write(f"{nits:.3g} cd/m\u00b2", left, square.top + 2.3 * plate.em)
    if len(sets) > 1:
        order = ", ".join([f"outside {titles[0]}", *(f"then {title}" for title in titles[1:])])
        plate.footing(
            f"From the {order}; the squares of a colour have the same luminance.",
            "Where two look alike, the screen\u2019s gamut ends, or something converts. P3 has the blue of BT.709.",
        )
    else:
        plate.footing(f"The colours of {titles[0]}; an encoding with these primaries carries no wider ones.", "")


def _fits(name: str, container: str) -> bool:
    """Say whether all colours of a set lie in a container's triangle; to what the chromaticities are printed."""
    return bool((conversion_matrix(name, container) >= -2e-3).all())
