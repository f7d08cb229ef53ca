"""Keys that are held down: the system then repeats what they type, and does not say so."""

from .toolkit import imgui

SIGNS = (
    *("apostrophe", "comma", "minus", "period", "slash", "semicolon", "equal", "left_bracket", "backslash"),
    *("right_bracket", "grave_accent", "oem102", "keypad_add", "keypad_subtract", "keypad_decimal"),
)
TYPING = tuple(
    getattr(imgui.Key, name)
    for name in (*"abcdefghijklmnopqrstuvwxyz", *(f"{sort}{n}" for sort in ("_", "keypad") for n in range(10)), *SIGNS)
)
"""The keys that type something, wherever they lie on a keyboard."""


def counts_as_held(modifier: imgui.Key) -> bool:
    """Say whether a modifier is held, or was until this frame: a slow one takes a key and both releases at once."""
    return imgui.is_key_down(modifier) or imgui.is_key_released(modifier)


class HeldKeys:
    """Tells what a key types at once from what it types because it is held."""

    def __init__(self) -> None:
        self._pressed = (False, False)  # whether a key was pressed in the frame before, and in this one
        self._down = (False, False)  # the same of keys that are down: the last repetition may come with the release

    def look(self) -> None:
        """Look at the keys, once a frame."""
        self._pressed = self._pressed[1], any(imgui.is_key_pressed(key, False) for key in TYPING)
        self._down = self._down[1], any(imgui.is_key_down(key) for key in TYPING)

    def are_repeating(self) -> bool:
        """Say whether what is typed in this frame is a repetition; a sign may come a frame after its key."""
        return any(self._down) and not any(self._pressed)
