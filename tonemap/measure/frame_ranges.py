"""Sets of frame numbers that read as a person writes them: 12-40, 77."""

from bisect import bisect_right
from collections.abc import Iterable


class FrameRanges:
    """Frame numbers, kept as ranges.

    Examples
    --------
    >>> frames = FrameRanges([(12, 40)])
    >>> frames.add(77)
    >>> frames.add(41)
    >>> frames.text, frames.count
    ('12-41, 77', 31)
    """

    def __init__(self, ranges: Iterable[tuple[int, int]] = ()) -> None:
        self.ranges: list[tuple[int, int]] = []
        for first, last in ranges:
            self._insert(first, last)

    def add(self, frame: int) -> None:
        """Add one frame."""
        self._insert(frame, frame)

    def merge(self, other: "FrameRanges") -> None:
        """Add the frames of another set."""
        for first, last in other.ranges:
            self._insert(first, last)

    @property
    def count(self) -> int:
        """Number of frames."""
        return sum(last - first + 1 for first, last in self.ranges)

    @property
    def text(self) -> str:
        """The frames as text; empty for none."""
        return ", ".join(str(first) if first == last else f"{first}-{last}" for first, last in self.ranges)

    def _insert(self, first: int, last: int) -> None:
        """Add a range, and join it with those that overlap or touch it."""
        index = bisect_right(self.ranges, (first, last))
        if index and self.ranges[index - 1][1] >= first - 1:
            index -= 1
        end = index
        while end < len(self.ranges) and self.ranges[end][0] <= last + 1:
            first, last = min(first, self.ranges[end][0]), max(last, self.ranges[end][1])
            end += 1
        self.ranges[index:end] = [(first, last)]
