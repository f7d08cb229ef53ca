"""A comparison that moves by itself: the line of a wipe that goes to and fro, a flip that turns over. Plain Python."""

import math
from dataclasses import dataclass, replace

from .showing import EDGE, FLIP, WIPE, Line, Showing

SWEEP = (4.0, 60.0)
"""Seconds from one side to the other: at its quickest a line passes no place more than once in four seconds."""

STAND = (1.0, 60.0)
"""Seconds that each picture of a flip stands. Once a second is half of one flash a second; BT.1702-3 allows three."""

STEP = 1.25


@dataclass
class Moving:
    """Whether the comparison moves, and how quickly.

    Attributes
    ----------
    now : the time of the frame that is being drawn, in seconds; `tick` sets it
    began : the time at which it would have begun on the left; None while it stands
    sweep, stand : seconds of a sweep of the line, and that each picture of a flip stands
    """

    now: float = 0.0
    began: float | None = None
    sweep: float = 10.0
    stand: float = 3.0

    @property
    def is_on(self) -> bool:
        """Whether it moves."""
        return self.began is not None

    def tick(self, now: float) -> None:
        """Take the time for the frame that comes."""
        self.now = now

    def start(self, showing: Showing) -> None:
        """Begin where the line is."""
        turns = _share(showing.line) * self.sweep if showing.layout == WIPE else 0.0
        self.began = self.now - turns

    def stop(self) -> None:
        """Stand still."""
        self.began = None

    def quicken(self, steps: int, showing: Showing) -> None:
        """Go quicker, or slower below 0; never quicker than the limits. Nothing jumps."""
        name, limits = ("stand", STAND) if showing.layout == FLIP else ("sweep", SWEEP)
        before = getattr(self, name)
        after = min(max(before * STEP**-steps, limits[0]), limits[1])
        setattr(self, name, after)
        if self.began is not None:
            self.began = self.now - (self.now - self.began) * after / before

    def line(self, showing: Showing) -> Line:
        """Return where the line of a wipe is now."""
        if self.began is None or showing.layout != WIPE:
            return showing.line
        phase = (self.now - self.began) / self.sweep % 2.0
        along = 2.0 * min(phase, 2.0 - phase) - 1.0
        turn = math.radians(showing.line.angle)
        reach = (0.5 - EDGE) * along
        return replace(showing.line, x=0.5 + reach * math.sin(turn), y=0.5 + reach * math.cos(turn))

    def is_turned(self, showing: Showing) -> bool:
        """Say whether a flip shows its other picture now."""
        return self.began is not None and showing.layout == FLIP and int((self.now - self.began) / self.stand) % 2 == 1

    def seconds_to_next(self, showing: Showing) -> float:
        """How long the picture stays as it is: nothing for a line that moves, infinite where nothing does."""
        if self.began is None or showing.layout not in (WIPE, FLIP):
            return math.inf
        return 0.0 if showing.layout == WIPE else self.stand - (self.now - self.began) % self.stand


def _share(line: Line) -> float:
    """Return how far a line is on the way across, 0..1."""
    turn = math.radians(line.angle)
    along = ((line.x - 0.5) * math.sin(turn) + (line.y - 0.5) * math.cos(turn)) / (0.5 - EDGE)
    return 0.5 + 0.5 * min(max(along, -1.0), 1.0)
