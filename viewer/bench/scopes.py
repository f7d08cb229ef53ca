"""Which scopes are open and what they show: of which pictures, on which axes. Plain Python, no GL and no imgui."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tonemap.scopes import BINS, CHROMA_SCALE, PQ_SCALE, SIGNAL_SCALE, UV_SCALE, Scale
from tonemap.transfer import pq_eotf_inverse

from .layout import Rect
from .showing import Key

WAVEFORM, VECTORSCOPE, HISTOGRAM, CHROMATICITY, TRANSFER = KINDS = (
    "waveform",
    "vectorscope",
    "histogram",
    "chromaticity",
    "transfer",
)
TITLES = {
    WAVEFORM: ("Waveform", "How the levels of each column of the picture are spread"),
    VECTORSCOPE: ("Vectorscope", "Chroma of the signal, with the colours of bars and the direction of skin"),
    HISTOGRAM: ("Histogram", "How many pixels have which light, counted on a logarithmic axis"),
    CHROMATICITY: ("Chromaticity", "Colour without its level, CIE 1976 u'v', with the triangles of primaries"),
    TRANSFER: ("Transfer", "Luminance of the rendition against that of the master, pixel by pixel, with its curve"),
}
SHORT_TITLES = {
    WAVEFORM: "Wave",
    VECTORSCOPE: "Vector",
    HISTOGRAM: "Histogram",
    CHROMATICITY: "u'v'",
    TRANSFER: "Transfer",
}
"""Whole words for a bar that has no room for the titles."""

LUMA, PARADE, OVERLAY = FORMS = ("luma", "parade", "overlay")
FORM_TITLES = {LUMA: "luma", PARADE: "RGB parade", OVERLAY: "RGB overlay"}

SELECTED, NOTHING = "selected", "nothing"
MOST = 4
"""Scopes that are open at once."""

HEADROOM = 1.25
"""Of the axes of light, above the highest level."""

CHROMA_REACH = 0.6
"""Of the vectorscope's plane, for bars at 100 %: beyond the 0.5 that is nominal."""

UV_LEFT, UV_BOTTOM, UV_SIDE = -0.02, -0.04, 0.66
"""The window on u' and v'."""

DARKEST, BRIGHTEST = 0.125, 64.0
"""The range of the traces' brightness."""

DECADES = 7.0
"""Of the histogram's axis, from one pixel in ten million up to all of them."""

LEAST_SHARE, LARGEST_SHARE = 0.2, 0.65
"""Of the height that tiles and scopes have together, for the scopes."""

LEAST_HEIGHT, LEAST_ROOM = 6.0, 8.5
"""Of what is there for scopes, in units of the type: with less none are shown, with less they get a larger share."""

Source = Key | str
"""A picture by its key, or SELECTED, or NOTHING."""


@dataclass(frozen=True)
class Scopes:
    """What is open and what it shows; nothing of it changes a rendition.

    Attributes
    ----------
    open : kinds, the oldest first
    first, second : the picture that is measured, and the one that is laid over it
    is_of_patch : whether only the chosen patch is measured
    share : of the height that tiles and scopes have together
    """

    open: tuple[str, ...] = ()
    form: str = LUMA
    first: Source = SELECTED
    second: Source = NOTHING
    is_of_patch: bool = False
    brightness: float = 1.0
    share: float = 0.36

    @property
    def in_order(self) -> tuple[str, ...]:
        """The open scopes as they stand side by side."""
        return tuple(kind for kind in KINDS if kind in self.open)

    def toggled(self, kind: str) -> "Scopes":
        """Open a scope, or close it; where there is no room for one more, the oldest gives way."""
        if kind in self.open:
            return replace(self, open=tuple(other for other in self.open if other != kind))
        return replace(self, open=(*self.open, kind)[-MOST:])

    def opened_or_closed(self) -> "Scopes":
        """Close all scopes, or open the waveform where none is open."""
        return replace(self, open=() if self.open else (WAVEFORM,))

    def next_form(self) -> "Scopes":
        """Take the next form of the waveform."""
        return replace(self, form=FORMS[(FORMS.index(self.form) + 1) % len(FORMS)])

    def with_master_over(self) -> "Scopes":
        """Lay the master over the measured picture, or take it away."""
        return replace(self, second=NOTHING if self.second is None else None)

    def pictures(self, keys: Sequence[Key], selected: Key) -> tuple[Key, ...]:
        """Return the pictures that are measured, one or two, among those that there are."""
        found: list[Key] = []
        for wanted in (self.first, self.second):
            key: Source = selected if wanted == SELECTED else wanted
            if key != NOTHING and not isinstance(key, str) and key in keys and key not in found:
                found.append(key)
        return tuple(found or keys[:1])


@dataclass(frozen=True)
class Form:
    """What is counted of a picture for a scope.

    Attributes
    ----------
    is_nits : whether a waveform is one of light, on a PQ axis, rather than of the signal
    columns : of a waveform
    first_channel, channels : which of R, G, B and Y
    """

    kind: str
    is_nits: bool = True
    columns: int = BINS
    first_channel: int = 0
    channels: int = 1

    @property
    def size(self) -> tuple[int, int]:
        """Columns and rows of the cells; a waveform's channels lie one above the other."""
        if self.kind == WAVEFORM:
            return self.columns, self.channels * BINS
        return BINS, self.channels if self.kind == HISTOGRAM else BINS


def form_of(kind: str, scopes: Scopes, are_nits: bool, width: int, picture_width: int) -> Form:
    """Return what is counted for a scope that is drawn `width` pixels wide."""
    if kind == HISTOGRAM:
        return Form(kind, channels=4)
    if kind != WAVEFORM:
        return Form(kind)
    columns = max(min(width // panels_of(scopes.form), picture_width), 1)
    first, channels = (3, 1) if scopes.form == LUMA else (0, 3)
    return Form(kind, are_nits, columns, first, channels)


def panels_of(form: str) -> int:
    """Return how many plots stand side by side in a waveform."""
    return 3 if form == PARADE else 1


@dataclass(frozen=True)
class Window:
    """The part of the axes that a plot shows, in cells: the plot's edges lie at these; rows go upwards."""

    left: float
    right: float
    bottom: float
    top: float


def cell_at(scale: Scale, value: float) -> float:
    """Return where a value lies on an axis, in cells: the middle of cell n is at n + 0.5."""
    return float(scale.place(value)) * (BINS - 1) + 0.5


def window_of(kind: str, form: Form, highest: float, lowest_peak: float) -> Window:
    """Return the window of a scope.

    Parameters
    ----------
    highest : cd/m2, the highest peak of the pictures that are measured and of the master
    lowest_peak : cd/m2, that of the renditions that are measured
    """
    light = cell_at(PQ_SCALE, min(HEADROOM * highest, PQ_SCALE.high))
    if kind == WAVEFORM:
        return Window(0.0, form.columns, 0.0, light if form.is_nits else float(BINS))
    if kind == HISTOGRAM:
        return Window(0.0, light, 0.0, 1.0)
    if kind == TRANSFER:
        return Window(0.0, light, 0.0, cell_at(PQ_SCALE, min(HEADROOM * lowest_peak, PQ_SCALE.high)))
    if kind == CHROMATICITY:
        low, high = (cell_at(UV_SCALE, end) for end in (UV_LEFT, UV_LEFT + UV_SIDE))
        return Window(low, high, *(cell_at(UV_SCALE, end) for end in (UV_BOTTOM, UV_BOTTOM + UV_SIDE)))
    return Window(*(cell_at(CHROMA_SCALE, end) for end in 2 * (-CHROMA_REACH, CHROMA_REACH)))


def chroma_window(level: float) -> Window:
    """Return the window of a vectorscope for bars at a level."""
    low, high = (cell_at(CHROMA_SCALE, end * CHROMA_REACH * level) for end in (-1.0, 1.0))
    return Window(low, high, low, high)


def pq_level(nits: float) -> float:
    """Return the PQ signal of a level."""
    return float(pq_eotf_inverse(np.array(nits)))


def scale_of(kind: str, form: Form) -> Scale:
    """Return the upright axis of a scope."""
    if kind == WAVEFORM and not form.is_nits:
        return SIGNAL_SCALE
    return {CHROMATICITY: UV_SCALE, VECTORSCOPE: CHROMA_SCALE}.get(kind, PQ_SCALE)


def split(area: Rect, scopes: Scopes, em: float) -> tuple[Rect, Rect | None]:
    """Divide what is there for tiles: the upper part for them, the lower one for the scopes that are open."""
    height = max(round(area.height * scopes.share), min(round(LEAST_ROOM * em), round(area.height * LARGEST_SHARE)))
    if not scopes.open or height < LEAST_HEIGHT * em:
        return area, None
    return Rect(area.left, area.top, area.width, area.height - height), Rect(
        area.left, area.bottom - height, area.width, height
    )


def places_of(kinds: Sequence[str], area: Rect, em: float) -> tuple[Rect, ...]:
    """Lay scopes side by side: planes of two like axes are about square, the others share what is left."""
    gap = round(0.5 * em)
    room = area.width - gap * (len(kinds) + 1)
    square = min(area.height, room // max(len(kinds), 1))
    squares = sum(kind in (VECTORSCOPE, CHROMATICITY) for kind in kinds)
    others = len(kinds) - squares
    wide = (room - squares * square) // others if others else 0
    x, places = area.left + gap, []
    if not others:
        x += (room - squares * square) // 2
    for kind in kinds:
        width = square if kind in (VECTORSCOPE, CHROMATICITY) else wide
        places.append(Rect(x, area.top, max(width, 1), area.height))
        x += width + gap
    return tuple(places)
