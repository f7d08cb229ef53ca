"""History: values of which each is a whole state, with undo and redo."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Generic, TypeVar

State = TypeVar("State")

LONGEST = 500
"""Steps that are kept; the oldest go first."""


@dataclass(frozen=True)
class Step(Generic[State]):
    """A state, and what led to it: 'exposure of shot 12'."""

    state: State
    what: str


@dataclass(frozen=True)
class History(Generic[State]):
    """Where a hand is in a row of states; a value that is replaced by each change.

    Examples
    --------
    >>> history = History.of("a").changed("b", "to b").changed("c", "to c")
    >>> history.undone().state, history.undone().undone().redone().state, history.undo_what
    ('b', 'b', 'to c')
    """

    steps: tuple[Step[State], ...]
    place: int = 0

    @classmethod
    def of(cls, state: State) -> "History[State]":
        """Begin with a state that nothing led to."""
        return cls((Step(state, ""),))

    @property
    def state(self) -> State:
        """The state now."""
        return self.steps[self.place].state

    @property
    def undo_what(self) -> str | None:
        """What an undo would take back; None where there is nothing."""
        return self.steps[self.place].what if self.place else None

    @property
    def redo_what(self) -> str | None:
        """What a redo would bring again; None where there is nothing."""
        return self.steps[self.place + 1].what if self.place + 1 < len(self.steps) else None

    def changed(self, state: State, what: str) -> "History[State]":
        """Return the history with a new state; what was undone before is forgotten."""
        steps = (*self.steps[: self.place + 1], Step(state, what))[-LONGEST:]
        return History(steps, len(steps) - 1)

    def merged(self, state: State) -> "History[State]":
        """Return the history with another state in the place of the one now, for a hand that still moves a slider."""
        steps = (*self.steps[: self.place], replace(self.steps[self.place], state=state))
        return History(steps, self.place)

    def mapped(self, change: Callable[[State], State]) -> "History[State]":
        """Return the history with every state changed in the same way."""
        return replace(self, steps=tuple(replace(step, state=change(step.state)) for step in self.steps))

    def undone(self) -> "History[State]":
        """Return the history one step back, or itself at the first state."""
        return replace(self, place=max(self.place - 1, 0))

    def redone(self) -> "History[State]":
        """Return the history one step on, or itself at the last state."""
        return replace(self, place=min(self.place + 1, len(self.steps) - 1))
