"""The mode check: a message that reads right only on a screen that is in the mode of the picture.

In a field of lines stand two words in flat codes. One has the code that equals the lines in the other mode, and reads
in this one; the one that denies has the code that equals the lines in this mode, and reads in the other: `halftone`.
"""

import numpy as np

from ..encoding import TRANSFERS, Encoding
from .halftone import Halftone, curve_like, halftone
from .plate import QUIET, Box, Plate

MESSAGE_SIGNAL = 0.508
"""Of the bright lines: 100 cd/m2 in PQ, which every HDR screen shows as it is; 20 on an SDR screen."""

NAMES_SIGNAL = 0.65
"""Of the bright lines of the names: HLG differs from a gamma of 2.4 above half of its signal only."""

NAMES = {"pq": "PQ", "hlg": "HLG", "gamma2.4": "2.4", "gamma2.2": "2.2"}


def other_mode(encoding: Encoding) -> Encoding:
    """Return the mode with which this one is confused."""
    return curve_like(encoding, "bt1886" if encoding.transfer == "pq" else "pq")


def mode_name(encoding: Encoding) -> str:
    """Return what the message calls the mode."""
    return {"pq": "PQ", "hlg": "HLG"}.get(encoding.transfer, "SDR")


def message(encoding: Encoding) -> Halftone:
    """Return the lines of the message with two flat codes: of the word that denies, of the one that affirms."""
    return halftone(MESSAGE_SIGNAL, (encoding, other_mode(encoding)), encoding)


def names(encoding: Encoding) -> Halftone:
    """Return the lines of the names with the flat code of each curve in `NAMES`."""
    return halftone(NAMES_SIGNAL, [curve_like(encoding, transfer) for transfer in NAMES], encoding)


def draw(plate: Plate) -> None:
    """Draw the plate."""
    plate.heading("Mode check")
    mode = mode_name(plate.encoding)
    body = plate.body(3)
    field = Box(body.left, body.top + body.top % 2, body.width, _even(0.6 * body.height))
    lines = message(plate.encoding)
    plate.lines(field, lines.bright, lines.dark)
    denies, affirms = lines.flat
    texts = {mode: affirms, f"NOT {mode}": denies}
    widths = [plate.set_type(text, 100.0, True).shape[1] / 100.0 for text in texts]
    size = min(0.7 * field.height, field.width / (sum(widths) + 1.6))
    gap = (field.width - size * sum(widths)) / 3
    left = field.left + gap
    for (text, code), width in zip(texts.items(), widths, strict=True):
        _word(plate, text, left, field.top + 0.5 * field.height + 0.34 * size, size, code)
        left += size * width + gap
    below = field.bottom + 3 * plate.em
    plate.write("The name that sinks is the curve of this screen", field.left, below - 0.7 * plate.em, QUIET)
    _draw_names(plate, Box(body.left, below, body.width, body.bottom - below))
    screen = TRANSFERS[plate.encoding.transfer]
    plate.footing(
        f"At 1:1, from where the lines merge: the screen shows {screen} when \u201c{mode}\u201d reads and "
        f"\u201cNOT {mode}\u201d has sunk into the lines.",
        f"\u201cNOT {mode}\u201d reads: the screen is in another mode, and no trim can be judged on it.",
        "Both read, or bands appear: the picture is scaled, or the range is wrong. 2.2 sinks on sRGB too.",
    )


def _draw_names(plate: Plate, room: Box) -> None:
    lines = names(plate.encoding)
    widest = max(plate.set_type(name, 100.0, True).shape[1] for name in NAMES.values()) / 100.0
    for box, name, flat in zip(room.columns(len(NAMES), plate.em), NAMES.values(), lines.flat, strict=True):
        field = Box(box.left, box.top + box.top % 2, box.width, _even(box.height - 1))
        plate.lines(field, lines.bright, lines.dark)
        size = min(0.7 * field.height, 0.8 * field.width / widest)
        width = plate.set_type(name, size, True).shape[1]
        left = field.left + (field.width - width) / 2
        _word(plate, name, left, field.top + 0.5 * field.height + 0.34 * size, size, flat)


def _word(plate: Plate, text: str, x: float, baseline: float, size: float, code: int) -> None:
    """Set a word without grey edges in pairs of rows: everywhere its light is that of whole pairs of lines."""
    coverage = plate.set_type(text, size, True)
    top = 2 * round((baseline - round(size)) / 2)
    left = round(x)
    is_inside = np.repeat(coverage[: coverage.shape[0] // 2 * 2].reshape(-1, 2, coverage.shape[1]).mean(1) >= 0.5, 2, 0)
    part = plate.codes[top : top + len(is_inside), left : left + is_inside.shape[1]]
    part[is_inside] = code


def _even(length: float) -> int:
    return 2 * int(length / 2)
