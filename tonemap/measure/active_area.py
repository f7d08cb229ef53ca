"""The active picture area: what is left when letterbox and pillarbox bars are taken away."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..errors import WrongCall

BLACK_NITS = 0.01
"""Light above the display's black, in cd/m2, up to which a bar is black: 10-bit PQ code 80, 16 above black."""

STRAIGHT_SHARE = 0.5
"""Share of a bar's edge that must be lit: where a dark picture begins, only a few pixels are."""

FULL_SHARE = 0.95
"""Share of lit pixels of a line that is picture, however dark: haze has gaps."""

SOFT_LINES = 4
"""Lines over which a bar's edge may be soft, after scaling."""

RINGING_LINES = 64
"""Lines of a bar beside the picture that strong compression may light: as many as the largest blocks of codecs have."""

RINGING_SHARE = 0.02
"""Mean light of such a line, at most, as a share of the brightest line's within `RINGING_LINES`."""

ASYMMETRY = 0.02
"""How much two opposite bars may differ, as a share of the frame's side."""

LEAST_SHARE = 0.25
"""An area smaller than this share of the frame is not believed: it is a title or a dark picture."""

SIDES = ("top", "bottom", "left", "right")


@dataclass(frozen=True)
class Rectangle:
    """A part of a frame, in pixels: first row, first column, and size."""

    top: int
    left: int
    rows: int
    columns: int

    @property
    def slices(self) -> tuple[slice, slice]:
        """Index of the part in an array (rows, columns, ...)."""
        return slice(self.top, self.top + self.rows), slice(self.left, self.left + self.columns)

    @property
    def pixels(self) -> int:
        """Number of pixels."""
        return self.rows * self.columns

    def checked(self, rows: int, columns: int) -> "Rectangle":
        """Return the rectangle; raises WrongCall if it is empty or leaves the frame."""
        is_inside = self.top >= 0 and self.left >= 0 and self.rows >= 1 and self.columns >= 1
        if not is_inside or self.top + self.rows > rows or self.left + self.columns > columns:
            raise WrongCall(
                f"active area {self.text} is not within the frame of {columns} x {rows} pixels; "
                "give top, left, rows and columns of a part of it"
            )
        return self

    @property
    def text(self) -> str:
        """The size and the place, as messages and tables show them."""
        return f"{self.columns} x {self.rows} at column {self.left}, row {self.top}"

    def to_dict(self) -> dict[str, int]:
        """Return plain values for JSON."""
        return asdict(self)


def whole_frame(rows: int, columns: int) -> Rectangle:
    """Return the rectangle of all pixels."""
    return Rectangle(0, 0, rows, columns)


@dataclass
class ActiveArea:
    """Bars found frame by frame and settled over frames, in constant memory.

    A bar is black within `tolerance`, touches the frame's side, ends in a straight edge, and has a bar of about the
    same width opposite. Lit pixels in any frame limit a bar for all frames; some frame must show its edge. A dark frame
    says nothing, so that it neither makes a bar nor takes one away. Compression leaves a haze of lit pixels in a bar:
    lines that are not full of them belong to it while they are `RINGING_SHARE` as bright as the picture beside it.

    Attributes
    ----------
    rows, columns : size of the frames
    black : light of code black in cd/m2, as the encoding says it
    tolerance : light above that up to which a bar is black, cd/m2
    unlit : for each side, lines that no frame has lit so far
    straight : for each side, lines of the bars whose straight edge was seen, with the number of frames

    Examples
    --------
    >>> light = np.zeros((1080, 1920, 3), np.float32)
    >>> light[138:942] = 100.0
    >>> find_active_area(light)
    Rectangle(top=138, left=0, rows=804, columns=1920)
    """

    rows: int
    columns: int
    black: float = 0.0
    tolerance: float = BLACK_NITS
    unlit: dict[str, int] = field(default_factory=dict)
    straight: dict[str, dict[int, int]] = field(default_factory=lambda: {side: {} for side in SIDES})
    frames: int = 0

    def add(self, light: Array) -> None:
        """Take a frame's light (rows, columns, 3) into account; raises WrongCall for another size."""
        if light.shape[:2] != (self.rows, self.columns):
            found, others = (f"{columns} x {rows}" for rows, columns in (light.shape[:2], (self.rows, self.columns)))
            raise WrongCall(
                f"a frame of {found} pixels is among frames of {others} pixels; measure each size on its own"
            )
        self.frames += 1
        largest = np.maximum(np.maximum(light[..., 0], light[..., 1]), light[..., 2])
        is_lit = largest > self.black + self.tolerance
        lit_rows, lit_columns = np.flatnonzero(is_lit.any(axis=1)), np.flatnonzero(is_lit.any(axis=0))
        if not lit_rows.size:
            return
        top, bottom, left, right = lit_rows[0], lit_rows[-1] + 1, lit_columns[0], lit_columns[-1] + 1
        box, lit = largest[top:bottom, left:right], is_lit[top:bottom, left:right]
        sides = {
            "top": (int(top), box, lit),
            "bottom": (int(self.rows - bottom), box[::-1], lit[::-1]),
            "left": (int(left), box.T, lit.T),
            "right": (int(self.columns - right), box.T[::-1], lit.T[::-1]),
        }
        is_believable = box.size >= LEAST_SHARE * is_lit.size
        for side, (unlit, lines_inwards, lit_inwards) in sides.items():
            haze, is_straight = self._edge(lines_inwards[:RINGING_LINES], lit_inwards[:RINGING_LINES])
            lines = unlit + haze if unlit else 0
            self.unlit[side] = min(lines, self.unlit.get(side, lines))
            seen = self.straight[side]
            if is_believable and lines and is_straight:
                seen[lines] = seen.get(lines, 0) + 1
            self._forget(side)

    def merge(self, other: "ActiveArea") -> None:
        """Take over what another part of the programme has shown; raises ValueError for another size or tolerance."""
        if self._settings != other._settings:
            raise ValueError(f"areas of {self._settings} and {other._settings} can't be merged")
        self.frames += other.frames
        for side, lines in other.unlit.items():
            self.unlit[side] = min(lines, self.unlit.get(side, lines))
        for side in SIDES:
            for lines, count in other.straight[side].items():
                self.straight[side][lines] = self.straight[side].get(lines, 0) + count
            self._forget(side)

    @property
    def area(self) -> Rectangle:
        """The settled area; the whole frame where no bars are certain."""
        bars = {side: self.unlit[side] if self.straight[side] else 0 for side in SIDES} if self.unlit else {}
        top, bottom = self._pair(bars, "top", "bottom", self.rows)
        left, right = self._pair(bars, "left", "right", self.columns)
        area = Rectangle(top, left, self.rows - top - bottom, self.columns - left - right)
        return area if area.pixels >= LEAST_SHARE * self.rows * self.columns else whole_frame(self.rows, self.columns)

    @property
    def has_bars(self) -> bool:
        """Whether anything is left out."""
        return self.area != whole_frame(self.rows, self.columns)

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON, to go on later with `from_dict`."""
        return asdict(self)

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> "ActiveArea":
        """Return what `to_dict` wrote, also after JSON made text of its keys."""
        straight = {side: {int(lines): count for lines, count in values["straight"][side].items()} for side in SIDES}
        return cls(**{**values, "unlit": dict(values["unlit"]), "straight": straight})

    def _edge(self, light: Array, is_lit: NDArray[np.bool_]) -> tuple[int, bool]:
        """Return how many of a side's lines are a bar's haze, and whether what follows is straight.

        Parameters
        ----------
        light, is_lit : ndarray (lines, pixels), of max(R, G, B): the first lit line of a side and those behind it
        """
        shares = is_lit.mean(axis=1)
        if shares[:SOFT_LINES].max() >= FULL_SHARE:
            return 0, True
        means = light.mean(axis=1, dtype=np.float64) - self.black
        haze = int(np.argmax((means >= RINGING_SHARE * means.max()) | (shares >= FULL_SHARE)))
        return haze, bool(shares[haze : haze + SOFT_LINES].max() >= STRAIGHT_SHARE)

    @property
    def _settings(self) -> tuple[int, int, float, float]:
        return self.rows, self.columns, self.black, self.tolerance

    def _forget(self, side: str) -> None:
        """Drop the edges that lit pixels have since shown to lie within the picture."""
        if side in self.unlit:
            limit = self.unlit[side] + SOFT_LINES
            self.straight[side] = {lines: n for lines, n in self.straight[side].items() if lines <= limit}

    @staticmethod
    def _pair(bars: Mapping[str, int], first: str, second: str, size: int) -> tuple[int, int]:
        one, other = bars.get(first, 0), bars.get(second, 0)
        return (one, other) if min(one, other) > 0 and abs(one - other) <= ASYMMETRY * size else (0, 0)


def find_active_area(light: Array, black: float = 0.0, tolerance: float = BLACK_NITS) -> Rectangle:
    """Return the active area of one frame's light (rows, columns, 3); the whole frame where bars aren't certain."""
    finder = ActiveArea(light.shape[0], light.shape[1], black, tolerance)
    finder.add(light)
    return finder.area
