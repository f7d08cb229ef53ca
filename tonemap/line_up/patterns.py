"""The patterns by their names, and any of them as code values."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache, partial

import numpy as np

from ..arrays import Codes
from ..encoding import Encoding
from ..errors import WrongCall, suggestion
from . import black_level, mode_check, primaries, ramps, steps, windows
from .brightness import Brightness, brightness
from .plate import GROUND, LEAST, Plate, SetType


@dataclass(frozen=True)
class Pattern:
    """A pattern: its title, what draws it, and the ground in cd/m2."""

    title: str
    draw: Callable[[Plate], None]
    ground: float = GROUND


PATTERNS = {
    "mode-check": Pattern("Mode check", mode_check.draw),
    "black-level": Pattern("Black level", black_level.draw, ground=0.0),
    "steps": Pattern("Steps", steps.draw),
    "primaries": Pattern("Primaries", primaries.draw),
    "ramps": Pattern("Ramps", ramps.draw),
} | {
    f"window-{round(100 * share)}": Pattern(
        f"Window of {round(100 * share)} %", partial(windows.draw, share=share), ground=0.0
    )
    for share in windows.SHARES
}

CAUTION = (
    "Very bright pictures can hurt and tire the eyes, and can harm a screen. Look from a distance, not for long, and "
    "never let bright patterns change quickly; follow the safety rules of your room and of your territory."
)


def pattern_named(name: str) -> Pattern:
    """Look a pattern up; raises WrongCall with the near names for an unknown one."""
    if name not in PATTERNS:
        raise WrongCall(f"pattern '{name}' is not known; {suggestion(name, list(PATTERNS))}")
    return PATTERNS[name]


@lru_cache
def brightness_of(name: str, encoding: Encoding) -> Brightness:
    """Return how bright a pattern is on a screen, its words apart; at its smallest size, as at any other."""
    fine = replace(encoding, bits=16)
    return brightness(draw_pattern(name, fine, *LEAST, lambda *_: np.zeros((1, 1))), fine)


def draw_pattern(name: str, encoding: Encoding, columns: int, rows: int, set_type: SetType, note: str = "") -> Codes:
    """Return the code values of a pattern.

    Parameters
    ----------
    name : in `PATTERNS`
    encoding : the screen's: transfer, primaries, range, bits, peak; the peak is the level of the windows
    columns, rows : of the picture, 640 x 360 at least; it is right only where its pixels are the screen's
    set_type : sets the words
    note : a few words more, at the lower right

    Returns
    -------
    ndarray of uint16 (rows, columns, 3)

    Raises
    ------
    WrongCall
        For an unknown name, a size that is too small or too large, an encoding without bits.
    """
    pattern = pattern_named(name)
    plate = Plate(encoding, columns, rows, set_type, pattern.ground)
    pattern.draw(plate)
    if note:
        plate.write_note(note)
    return plate.codes
