"""Windows: white of a level on a share of the picture, on black, for the peak that a screen holds."""

import math

from .plate import DIM, Box, Plate

SHARES = (0.02, 0.05, 0.10, 0.25, 0.50, 1.00)


def window(share: float, columns: int, rows: int) -> Box:
    """Return the window: of the picture's shape, in its middle."""
    height = min(round(math.sqrt(share) * rows / 2) * 2, rows)
    width = min(round(share * columns * rows / height / 2) * 2, columns)
    return Box((columns - width) // 2, (rows - height) // 2, width, height)


def draw(plate: Plate, share: float) -> None:
    """Draw the plate: no other light than the window's and that of one small line of words."""
    level = plate.encoding.peak
    box = window(share, plate.columns, plate.rows)
    code = plate.grey(level)
    plate.fill(box, code)
    is_inside = box.bottom > plate.rows - 3 * plate.em
    plate.write(
        f"{share:.0%} of the area   {level:g} cd/m\u00b2   code {code}".replace("%", " %"),
        plate.margin,
        plate.rows - plate.margin,
        0.02 * level if is_inside else DIM,
    )
