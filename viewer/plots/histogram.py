"""The histogram: how the light of a picture, or its signal, is spread."""

from typing import Any

import numpy as np

from tonemap.arrays import Array
from tonemap.scopes import CHANNELS, Histogram

from ..comparison.captions import share
from ..comparison.layout import Box
from ..comparison.type_setting import HAIRLINE, QUIET, SECOND
from .axis import Level, nits, spread, ticks
from .density import resized, softened
from .look import Look
from .page import Page

HEIGHT = 24.0  # em
FULL = 0.94  # of the height, for the tallest
END_BINS = 0.004  # share of the pixels in an end's bin from which it is said in words


def histogram_figure(
    histogram: Histogram,
    look: Look,
    title: str,
    about: str,
    *,
    levels: tuple[Level, ...] = (),
    width: int = 2400,
    notes: tuple[str, ...] = (),
) -> Any:
    """Draw a histogram of light in nits or of a signal in %: Y filled, and R, G and B as lines.

    Parameters
    ----------
    histogram : on a scale of kind 'pq' or 'log' for light, 'linear' for a signal 0..1
    levels : the levels that are named above the plot, in nits or as signal
    """
    page = Page(width, look, title, about)
    em = page.em
    is_signal = histogram.scale.kind == "linear"
    box = page.plate(Box(page.margin, page.top + (2.4 if levels else 0.0) * em, page.inner, HEIGHT * em))
    base = box.y + box.height
    points = min(histogram.counts.shape[1], int(box.width / 2.0))
    curves = {
        name: np.sqrt(resized(softened(histogram.counts[[channel]] / max(1, histogram.pixels), (1,)), (1, points))[0])
        for channel, name in enumerate(CHANNELS)
    }
    tallest = max(float(curve.max()) for curve in curves.values()) or 1.0
    xs = box.x + box.width * (np.arange(points) + 0.5) / points

    def heights(curve: Array) -> Array:
        return base - FULL * box.height * curve / tallest

    page.axes.fill_between(xs, heights(curves["Y"]), base, color=look.shade(HAIRLINE), linewidth=0, zorder=1)
    page.line(xs, heights(curves["Y"]), look.traces["Y"], 0.11, zorder=3)
    for name in "RGB":
        page.line(xs, heights(curves[name]), look.traces[name], 0.1, zorder=3, alpha=0.9)
    _axis(page, histogram, box, levels, is_signal)
    titles = {"Y": "luma" if is_signal else "luminance", "R": "R", "G": "G", "B": "B"}
    page.key([(titles[name], look.traces[name]) for name in ("Y", "R", "G", "B")], box.x, base + 2.9 * em)
    ends = _ends(histogram, is_signal)
    return page.finish(base + 3.4 * em, f"Height: square root of the share of the pixels.{ends}", *notes)


def _axis(page: Page, histogram: Histogram, box: Box, levels: tuple[Level, ...], is_signal: bool) -> None:
    em, scale = page.em, histogram.scale
    bins = histogram.counts.shape[1]
    base = box.y + box.height

    def x_of(value: float) -> float:
        return box.x + box.width * (float(scale.place(value)) * (bins - 1) + 0.5) / bins

    shown = [0.1 * step for step in range(11)] if is_signal else ticks(scale, box.width, 4.2 * em)
    for tick in shown:
        page.grid_line([x_of(tick)] * 2, [box.y, base])
        text = f"{100.0 * tick:.0f} %" if is_signal else nits(tick)
        half = 0.5 * page.label_width(text)
        page.label(text, max(x_of(tick), box.x + half), base + 1.0 * em, align="center")
    page.label("signal" if is_signal else "cd/m\u00b2", box.x + box.width, base + 2.9 * em, align="right", shade=SECOND)
    halves = [0.5 * page.label_width(level.name) for level in levels]
    room = 2.0 * max(halves, default=0.0) + 1.2 * em
    middles = spread([x_of(level.value) for level in levels], room, box.x + room / 2.0, box.x + box.width - room / 2.0)
    for level, middle in zip(levels, middles, strict=True):
        x = x_of(level.value)
        look = {} if level.is_strong else {"linestyle": (0, (4, 3))}
        page.grid_line([x, x], [box.y, base], strong=True, **look)
        page.grid_line(
            [x, x, middle, middle], [box.y, box.y - 0.4 * em, box.y - 0.9 * em, box.y - 1.1 * em], strong=True
        )
        page.label(level.name, middle, box.y - 1.8 * em, align="center", shade=SECOND if level.is_strong else QUIET)
    page.frame(box)


def _ends(histogram: Histogram, is_signal: bool) -> str:
    """Say how much lies in the first and the last bin, where that is much: those hold all that lies beyond, too."""
    luminance = histogram.counts[CHANNELS.index("Y")] / max(1, histogram.pixels)
    low, high = (100.0 * end if is_signal else end for end in (histogram.scale.low, histogram.scale.high))
    unit = " %" if is_signal else " cd/m\u00b2"
    said = ""
    if luminance[0] > END_BINS:
        said += f" At or below {nits(low)}{unit}: {share(float(luminance[0]))}."
    if luminance[-1] > END_BINS:
        said += f" At or above {nits(high)}{unit}: {share(float(luminance[-1]))}."
    return said
