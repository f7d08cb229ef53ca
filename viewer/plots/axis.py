"""Ticks and named levels of an axis, placed so that no two labels collide."""

from collections.abc import Iterable
from dataclasses import dataclass

from tonemap.scopes import Scale

from ..comparison.captions import number

NITS_TICKS = (
    0.0,
    100.0,
    1000.0,
    10.0,
    1.0,
    10000.0,
    0.1,
    0.01,
    400.0,
    4000.0,
    200.0,
    2000.0,
    40.0,
    4.0,
    0.4,
    20.0,
    2.0,
)
"""Round levels, those first that are missed most when there is no room for all."""


@dataclass(frozen=True)
class Level:
    """A level with a name: where it stands, and what is said of it."""

    value: float
    name: str
    is_strong: bool = True


def ticks(scale: Scale, length: float, room: float, wished: Iterable[float] = NITS_TICKS) -> list[float]:
    """Return the ticks within a scale that keep `room` between each other on an axis of a length, in pixels."""
    kept: list[float] = []
    places: list[float] = []
    for tick in wished:
        place = float(scale.place(tick)) * length
        is_inside = scale.low <= tick <= scale.high
        if is_inside and all(abs(place - other) >= room for other in places):
            kept.append(tick)
            places.append(place)
    return sorted(kept)


def spread(wished: list[float], room: float, low: float, high: float) -> list[float]:
    """Return places near the wished ones, in the same order, with room between them, within low..high.

    Examples
    --------
    >>> spread([10.0, 12.0, 50.0], 8.0, 0.0, 100.0)
    [7.0, 15.0, 50.0]
    """
    order = sorted(range(len(wished)), key=lambda index: wished[index])
    groups: list[tuple[float, int]] = []  # middle and number of neighbours that touch
    for index in order:
        middle, count = min(max(wished[index], low), high), 1
        while groups and middle - groups[-1][0] < room * (count + groups[-1][1]) / 2.0:
            other, number_of_other = groups.pop()
            middle = (middle * count + other * number_of_other) / (count + number_of_other)
            count += number_of_other
            reach = room * (count - 1) / 2.0
            middle = min(max(middle, low + reach), high - reach)
        groups.append((middle, count))
    places = [middle + room * (step - (count - 1) / 2.0) for middle, count in groups for step in range(count)]
    result = [0.0] * len(wished)
    for index, place in zip(order, places, strict=True):
        result[index] = place
    return result


def nits(value: float) -> str:
    """Return a level as one reads it, without the unit."""
    return number(value)
