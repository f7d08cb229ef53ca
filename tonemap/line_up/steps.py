"""Steps: flat squares of known light, each with a smaller square that is a tenth darker."""

import numpy as np

from ..encoding import Encoding, signal_to_light
from .plate import INK, QUIET, Box, Plate, is_relative

NITS = (100.0, 203.0, 400.0, 600.0, 1000.0, 1600.0, 4000.0)
PERCENT = tuple(range(0, 101, 10))
DARKER = 0.9

SIDE = 0.2
"""Of the picture's height, at most; so all steps together have less than 200 cd/m2 over a picture of 16:9."""


def levels(encoding: Encoding) -> list[tuple[float, str]]:
    """Return the light of each step in cd/m2, with what it is called: cd/m2 in PQ, else percent of the signal."""
    if not is_relative(encoding):
        return [(nits, f"{nits:g}") for nits in NITS]
    signals = np.repeat(np.array(PERCENT, np.float64)[:, np.newaxis] / 100.0, 3, axis=1)
    light = signal_to_light(signals, encoding)[:, 1]
    return [(float(nits), f"{percent} %") for nits, percent in zip(light, PERCENT, strict=True)]


def draw(plate: Plate) -> None:
    """Draw the plate."""
    plate.heading("Steps")
    body = plate.body(2)
    is_sdr = is_relative(plate.encoding)
    steps = levels(plate.encoding)
    legend = 4 * plate.em
    side = min(int(SIDE * plate.rows), (body.width - 2 * legend) // len(steps))
    left = plate.columns // 2 - side * len(steps) // 2
    top = body.top + body.height // 2 - side // 2 - 2 * plate.em
    baselines = [top + side + (1.7 + 1.4 * line) * plate.em for line in range(3)]
    for word, baseline in zip(
        ("signal", "cd/m\u00b2", "code") if is_sdr else ("cd/m\u00b2", "code"), baselines, strict=False
    ):
        plate.write(word, left - plate.em, baseline, QUIET, align=1.0)
    for index, (nits, name) in enumerate(steps):
        square = Box(left + index * side, top, side, side)
        code = plate.grey(nits)
        plate.fill(square, code)
        plate.fill(square.inset(side // 3), plate.grey(DARKER * nits))
        words = [name, f"{nits:.3g}", f"{code}"] if is_sdr else [name, f"{code}"]
        for line, (word, baseline) in enumerate(zip(words, baselines, strict=False)):
            ink = QUIET if line else INK
            plate.write(word, square.left + side / 2, baseline, ink, is_bold=line == 0, align=0.5)
    plate.footing(
        "Each step holds a square with a tenth less light.",
        "Where it can\u2019t be seen, the screen has lost a part of its range."
        if is_sdr
        else "Where it can\u2019t be seen, or two steps look alike, the screen is at its end.",
    )
