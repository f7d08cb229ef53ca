"""How the framebuffer is encoded: the one place that knows. Plain Python."""

from tonemap.arrays import Array
from tonemap.encoding import encode

from .state import SCREEN


def screen_signal(light: Array) -> Array:
    """Return the framebuffer's signal for light in BT.709 primaries, (..., 3), relative to the screen's white."""
    return encode(light * SCREEN.peak, SCREEN)
