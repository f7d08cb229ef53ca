"""The waveform: how the levels of each picture column are spread."""

from typing import Any

import numpy as np

from tonemap.arrays import Array
from tonemap.scopes import CHANNELS, Waveform

from ..comparison.layout import Box
from ..comparison.type_setting import QUIET, SECOND
from .axis import Level, nits, spread, ticks
from .density import full_density, resized, softened, strengths
from .look import Look
from .page import Page, panel_heading

HEIGHT = 36.0  # em, of the plot
PERCENT_TICKS = tuple(float(tick) for tick in range(0, 101, 10))
READING = (
    "Left to right as in the picture. Strength of the trace: square root of how many pixels of a column have "
    "that level."
)


def waveform_figure(
    waveform: Waveform,
    look: Look,
    title: str,
    about: str,
    *,
    levels: tuple[Level, ...] = (),
    panels: tuple[str, ...] = ("Y", "R", "G", "B"),
    names: dict[str, str] | None = None,
    width: int = 2400,
    notes: tuple[str, ...] = (),
) -> Any:
    """Draw a waveform of light in nits, or of a signal in %.

    Parameters
    ----------
    waveform : on a scale of kind 'pq' or 'log' for light, 'linear' for a signal 0..1
    levels : the levels that are named at the right, in nits or as signal
    panels : side by side: names of channels, or 'RGB' for the three over each other. The first is the widest
    names : headings of the panels where they are not the channels' names
    width : of the figure in pixels
    """
    page = Page(width, look, title, about)
    em = page.em
    is_signal = waveform.scale.kind == "linear"
    texts = [level.name for level in levels]
    left = page.label_width("100 %" if is_signal else "10000") + 0.9 * em
    right = max((page.label_width(text) for text in texts), default=0.0) + (1.6 * em if texts else 0.0)
    gap = 0.9 * em
    room = page.inner - left - right - gap * (len(panels) - 1)
    shares = [2.0 if len(panels) > 1 and place == 0 else 1.0 for place in range(len(panels))]
    x = page.margin + left
    top = page.top + 1.2 * em
    boxes = []
    for share in shares:
        boxes.append(page.plate(Box(x, top, room * share / sum(shares), HEIGHT * em)))
        x += room * share / sum(shares) + gap

    densities = {name: _density(waveform, CHANNELS.index(name)) for panel in panels for name in panel}
    reduced = [
        {name: resized(densities[name], box.shape) for name in panel} for panel, box in zip(panels, boxes, strict=True)
    ]
    full = full_density(np.concatenate([density.ravel() for panel in reduced for density in panel.values()]))
    for panel, box, shown in zip(panels, boxes, reduced, strict=True):
        page.picture(
            look.blended([strengths(shown[name], full) for name in shown], [look.traces[name] for name in shown]), box
        )
        heading = (names or {}).get(panel, panel)
        page.word(panel_heading(heading, box.x, top - 0.5 * em, 0.95 * em))
    _graticule(page, waveform, boxes, levels, is_signal)
    unit = "signal" if is_signal else "cd/m\u00b2"
    page.label(unit, boxes[0].x - 0.6 * em, top - 0.8 * em, align="right", shade=SECOND)
    return page.finish(top + HEIGHT * em, READING, *notes)


def _density(waveform: Waveform, channel: int) -> Array:
    """Return the share of a column's pixels at each level, top level first."""
    return softened(waveform.counts[channel][::-1] / max(1, waveform.rows), axes=(0,))


def place_in(box: Box, place: float, bins: int) -> float:
    """Return the y of a place on the axis of a box: 0 and 1 are the middles of the first and the last of its bins."""
    return box.y + box.height * (1.0 - (place * (bins - 1) + 0.5) / bins)


def _graticule(page: Page, waveform: Waveform, boxes: list[Box], levels: tuple[Level, ...], is_signal: bool) -> None:
    em, bins, scale = page.em, waveform.counts.shape[1], waveform.scale
    first, last = boxes[0], boxes[-1]

    def y_of(value: float) -> float:
        return place_in(first, float(scale.place(value)), bins)

    shown = [tick / 100.0 for tick in PERCENT_TICKS] if is_signal else ticks(scale, first.height, 1.5 * em)
    for tick in shown:
        for box in boxes:
            page.grid_line([box.x, box.x + box.width], [y_of(tick)] * 2)
        page.label(f"{100.0 * tick:.0f} %" if is_signal else nits(tick), first.x - 0.6 * em, y_of(tick), align="right")
    wished = [y_of(level.value) for level in levels]
    for level, y, at in zip(levels, wished, spread(wished, 1.3 * em, first.y, first.y + first.height), strict=True):
        for box in boxes:
            look = {} if level.is_strong else {"linestyle": (0, (4, 3))}
            page.grid_line([box.x, box.x + box.width], [y] * 2, strong=True, **look)
        end = last.x + last.width
        page.grid_line([end + 0.2 * em, end + 0.5 * em, end + 0.9 * em, end + 1.1 * em], [y, y, at, at], strong=True)
        page.label(level.name, end + 1.4 * em, at, shade=SECOND if level.is_strong else QUIET)
    for box in boxes:
        page.frame(box)
