"""The black level set: stripes a little lighter and a little darker than black, and a patch that keeps the eye bright.

The codes are those of Recommendation ITU-R BT.814-4 (PLUGE); the arrangement is our own. In full range there is nothing
below black: the near-black codes are those of the full-range table of BT.2111-3, 2 and 4 %.
"""

from ..signal_range import NARROW
from .plate import Box, Plate, is_relative

BLACK, LIGHTER, DARKER = 64, 80, 48
HIGH_SDR, HIGH_HDR = 940, 399
"""10-bit codes, narrow range."""

FULL_LIGHTER = (20, 41)
"""10-bit codes, full range."""

STRIPES = 10
"""Fine stripes of each kind."""

LABEL = 3.0
"""cd/m2 of the labels: they may not keep the eye from the dark."""


def near_black(plate: Plate) -> tuple[tuple[int, str], tuple[int, str]]:
    """Return the two codes beside black, with their names."""
    bits = plate.encoding.bits or 10
    if plate.encoding.signal_range == NARROW:
        return (_at(LIGHTER, bits), "+2 %"), (_at(DARKER, bits), "\u22122 %")
    top = 2**bits - 1
    first, second = (round(code * top / 1023) for code in FULL_LIGHTER)
    return (second, "+4 %"), (first, "+2 %")


def high_code(plate: Plate) -> int:
    """Return the code of the patch."""
    high = HIGH_SDR if is_relative(plate.encoding) else HIGH_HDR
    return plate.code((high - BLACK) / 876.0)


def draw(plate: Plate) -> None:
    """Draw the plate on black."""
    plate.heading("Black level", nits=8.0)
    body = plate.body(2)
    third = round(0.28 * body.width)
    height = body.height // 2
    line = (height - 2 * plate.em) // (2 * STRIPES)
    for half, (code, name) in enumerate(near_black(plate)):
        top = body.top + half * height
        for stripe in range(STRIPES):
            plate.fill(Box(body.left, top + 2 * line * stripe, third, line), code)
        plate.write(f"{name}, code {code}", body.left, top + (2 * STRIPES - 1) * line + 1.5 * plate.em, LABEL)
        bar = Box(body.right - third + 2 * half * third // 3, body.top, third // 3, height + (2 * STRIPES - 1) * line)
        plate.fill(bar, code)
        plate.write(name, bar.left, bar.bottom + 1.5 * plate.em, LABEL)
    high = high_code(plate)
    side = body.height // 3
    patch = Box((plate.columns - side) // 2, body.top + (body.height - side) // 2, side, side)
    plate.fill(patch, high)
    plate.write(f"code {high}", patch.left, patch.bottom + 1.5 * plate.em, LABEL)
    if plate.encoding.signal_range == NARROW:
        words = "Set black so that the darker stripes just vanish and the lighter ones stay, in the light of the room."
        note = "Codes of Recommendation ITU-R BT.814-4."
    else:
        words = (
            "Set black so that the stripes of +2 % can just be seen, in the light of the room; nothing is darker here."
        )
        note = "Codes near black of Recommendation ITU-R BT.2111-3; the patch of BT.814-4."
    plate.footing(words, note, nits=8.0)


def _at(code: int, bits: int) -> int:
    """Return a 10-bit code, narrow range, at other bits."""
    return code >> 2 if bits == 8 else code << (bits - 10)
