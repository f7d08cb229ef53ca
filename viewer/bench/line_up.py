"""The line-up on the bench: which pattern fills the window, and the caution before a very bright one. Plain Python."""

from dataclasses import dataclass, replace

from tonemap.encoding import Encoding
from tonemap.line_up.patterns import PATTERNS, brightness_of
from tonemap.signal_range import FULL

NAMES = tuple(PATTERNS)
NOTE = "arrows: another pattern    Esc: leave"

NEXT = ("right_arrow", "down_arrow", "page_down", "space")
BEFORE = ("left_arrow", "up_arrow", "page_up")
LEAVE = ("escape",)
SHOW = ("enter", "keypad_enter")
NAMED = (*NEXT, *BEFORE, *LEAVE, *SHOW)


@dataclass
class LineUp:
    """The pattern in the window, if any, and whether the caution before it was read."""

    name: str | None = None
    is_agreed: bool = False

    @property
    def is_on(self) -> bool:
        """Whether a pattern takes the place of the bench."""
        return self.name is not None

    def open(self) -> None:
        """Begin with the first pattern, the mode check."""
        self.name, self.is_agreed = NAMES[0], False

    def close(self) -> None:
        """Go back to the bench."""
        self.name = None

    def step(self, count: int) -> None:
        """Go to the next pattern or the one before, around the end; one that is very bright asks again."""
        if self.name is not None:
            self.name = NAMES[(NAMES.index(self.name) + count) % len(NAMES)]
            self.is_agreed = False

    def asks(self, screen: Encoding) -> bool:
        """Say whether the caution stands in place of the pattern."""
        return self.name is not None and not self.is_agreed and brightness_of(self.name, screen).is_very_bright

    def press(self, key: str, screen: Encoding) -> None:
        """Do what a key does while a pattern is shown."""
        if key in LEAVE:
            self.close()
        elif key in SHOW:
            self.is_agreed = self.is_agreed or self.asks(screen)
        elif key in NEXT:
            self.step(1)
        elif key in BEFORE:
            self.step(-1)


def with_codes(screen: Encoding, bits: int) -> Encoding:
    """Return a screen's encoding with the codes of a framebuffer."""
    return replace(screen, bits=bits, signal_range=FULL)
