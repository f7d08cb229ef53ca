"""The plots of the open scopes: where they lie, what they show and on which axes. Plain Python, no GL and no imgui."""

from collections.abc import Sequence
from dataclasses import dataclass

from tonemap.encoding import Encoding

from .bench import Bench
from .layout import Rect
from .scopes import (
    CHROMATICITY,
    HISTOGRAM,
    TRANSFER,
    VECTORSCOPE,
    WAVEFORM,
    Form,
    Window,
    chroma_window,
    form_of,
    places_of,
    pq_level,
    window_of,
)
from .showing import Key

BAR, TITLE = 2.1, 1.5
"""Heights of the scopes' bar and of a plot's title, in units of the type."""

LEFT = {WAVEFORM: 2.7, HISTOGRAM: 2.7, CHROMATICITY: 1.7, TRANSFER: 2.7, VECTORSCOPE: 1.0}
BELOW = {WAVEFORM: 0.4, HISTOGRAM: 1.3, CHROMATICITY: 1.3, TRANSFER: 1.3, VECTORSCOPE: 0.9}
"""Room for figures beside and below a plot."""

LEAST = 3.0  # of a plot's sides, in units of the type

PQ_BARS = (0.58,)  # Recommendation ITU-R BT.2111-2: colour bars of PQ at 58 %
SDR_BARS = (0.75, 1.0)
MASTER_SIGNAL = Encoding("pq", "bt2020")
"""In which a vectorscope shows a master, whatever its file has."""


@dataclass(frozen=True)
class Plot:
    """One scope on the screen.

    Attributes
    ----------
    frame, rect : with its title and figures, and the plot alone
    keys : the pictures, the second one over the first
    """

    form: Form
    window: Window
    frame: Rect
    rect: Rect
    keys: tuple[Key, ...]

    @property
    def kind(self) -> str:
        """Which scope it is."""
        return self.form.kind


def plots_of(bench: Bench, area: Rect, em: float, scale: float) -> tuple[Plot, ...]:
    """Lay out the plots of the open scopes; none without a master.

    Parameters
    ----------
    area : for the plots, in units of the interface
    scale : pixels a unit
    """
    scopes, master = bench.shown.scopes, bench.state.master
    if master is None:
        return ()
    found: list[Plot] = []
    shown = scopes.pictures(bench.state.keys, bench.state.selected)
    for kind, frame in zip(scopes.in_order, places_of(scopes.in_order, area, em), strict=True):
        rect = _inside(kind, frame, em)
        if min(rect.width, rect.height) < LEAST * em:
            continue
        keys = pictures_of(bench, kind, shown)
        peaks = [encoding_of(bench, key).peak for key in keys]
        highest = max([*peaks, master.encoding.peak] if kind == TRANSFER else peaks, default=100.0)
        form = form_of(kind, scopes, None in keys, round(rect.width * scale), master.facts.columns)
        window = window_of(kind, form, highest, max(peaks, default=highest))
        if kind == VECTORSCOPE:
            window = chroma_window(max(level for key in keys for level in bars_of(bench, key)))
        found.append(Plot(form, window, frame, rect, keys))
    return tuple(found)


def pictures_of(bench: Bench, kind: str, shown: Sequence[Key]) -> tuple[Key, ...]:
    """Return what a scope shows of the measured pictures: a transfer plot has renditions alone."""
    if kind != TRANSFER:
        return tuple(shown)
    renditions = tuple(key for key in shown if key is not None)
    return renditions or ((bench.state.selected,) if bench.state.selected is not None else ())


def encoding_of(bench: Bench, key: Key) -> Encoding:
    """Return the encoding of a picture."""
    if key is not None:
        return bench.state.slot(key).rendition.target
    return bench.state.master.encoding if bench.state.master else MASTER_SIGNAL


def bars_of(bench: Bench, key: Key) -> tuple[float, ...]:
    """Return the levels of the colour bars that a vectorscope marks: 58 % for a PQ signal, for as bright as it gets."""
    if key is not None:
        return SDR_BARS
    return (*PQ_BARS, max(PQ_BARS[0], pq_level(encoding_of(bench, None).peak)))


def _inside(kind: str, frame: Rect, em: float) -> Rect:
    left, top, below = round(LEFT[kind] * em), round(TITLE * em), round(BELOW[kind] * em)
    right = round(0.2 * em)
    width, height = max(frame.width - left - right, 1), max(frame.height - top - below, 1)
    if kind in (VECTORSCOPE, CHROMATICITY):
        side = min(width, height)
        return Rect(frame.left + left + (width - side) // 2, frame.top + top + (height - side) // 2, side, side)
    return Rect(frame.left + left, frame.top + top, width, height)
