"""A part of a programme that is rendered alone, for example one shot of a trim sheet."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

from ..media.master import Frame
from ..rendition import Chain
from .programme import Programme


class PartOfProgramme(Programme):
    """Frames of another programme, first to last, each as it is in the whole, numbers too."""

    def __init__(self, whole: Programme, first: int, last: int) -> None:
        self._whole, self._first, self.count = whole, first, last - first + 1
        self.rows, self.columns, self.rate, self.target = whole.rows, whole.columns, whole.rate, whole.target
        self.timecode, self.stem, self.is_hdr, self.masters = (
            whole.timecode_at(first),
            whole.stem,
            whole.is_hdr,
            whole.masters,
        )

    def frames(self, wanted: Sequence[int]) -> Iterator[Frame]:
        """Yield frames of the whole."""
        for frame in self._whole.frames([self._first + index for index in wanted]):
            yield frame.at(frame.index - self._first)

    def chain_at(self, index: int) -> Chain:
        """Return the chain that a frame has in the whole."""
        return self._whole.chain_at(self._first + index)

    def spans(self) -> list[tuple[int, int]]:
        """Return what of the whole's is inside."""
        inside = ((max(a - self._first, 0), min(b - self._first, self.count - 1)) for a, b in self._whole.spans())
        return [(first, last) for first, last in inside if first <= last]

    def number(self, index: int) -> int:
        """Return what the user calls a frame in the whole."""
        return self._whole.number(self._first + index)

    def names_at(self, index: int) -> tuple[str, str]:
        """Return the names that a frame has in the whole."""
        return self._whole.names_at(self._first + index)

    def file_at(self, index: int) -> Path | None:
        """Return the file that a frame is read from."""
        return self._whole.file_at(self._first + index)

    @property
    def is_cut_short(self) -> bool:
        """Whether the whole is, and this is its end."""
        return self._whole.is_cut_short and self._first + self.count == self._whole.count

    def sound(self) -> tuple[Path, Fraction] | None:
        """Return the whole's, from the first frame on."""
        found = self._whole.sound()
        return None if found is None or self.rate is None else (found[0], found[1] + self._first / self.rate)

    def identity(self) -> dict[str, Any]:
        """Return the whole's, and which part this is."""
        return {**self._whole.identity(), "frames": [self._first, self._first + self.count - 1]}
