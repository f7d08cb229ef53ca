"""A monitor by its readings: the error of its tone curve, the differences of its patches, and how its peak holds."""

from typing import Any

import numpy as np

from tonemap.measure.monitor import HELD_SHARE, MonitorFigures

from ..comparison.captions import number
from ..comparison.layout import Box
from ..comparison.type_setting import SECOND
from .axis import spread
from .look import Colour, Look
from .page import Page, panel_heading

HEIGHT = 15.0  # em, of each panel
STEPS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0)
MOST_NAMED = 24
"""Patches up to which each has its name below it; of more, the worst two alone are named."""

DIFFERENCES = ("delta_e_2000", "delta_e_itp")
TITLES = ("\u0394E 2000", "\u0394E ITP")


def monitor_figure(
    figures: MonitorFigures, look: Look, title: str, about: str, *, width: int = 2400, notes: tuple[str, ...] = ()
) -> Any:
    """Draw what `monitor_figures` found; panels for which nothing was read are left out."""
    page = Page(width, look, title, about)
    bottom = page.top
    if figures.greys:
        bottom = _tone_curve(page, figures, bottom)
    bottom = _differences(page, figures, bottom)
    if figures.windows:
        bottom = _windows(page, figures, bottom)
    reading = (
        "Tone curve: measured minus expected luminance, as a difference of PQ signals, about equally visible from "
        "black to peak. \u0394E ITP by BT.2124, CIEDE2000 about the luminance of the measured white."
    )
    return page.finish(bottom, reading, *notes)


def _tone_curve(page: Page, figures: MonitorFigures, top: float) -> float:
    signals = np.array([100.0 * grey.signal for grey in figures.greys])
    errors = np.array([100.0 * grey.pq_error for grey in figures.greys])
    reach = 1.15 * max(0.5, float(np.abs(errors).max()))
    box = _panel(page, "Error of the tone curve, % of the PQ signal", top, (-reach, reach))
    xs = box.x + box.width * (0.01 + 0.98 * signals / 100.0)
    ys = box.y + 0.5 * box.height * (1.0 - errors / reach)
    for tick in range(0, 101, 10):
        x = box.x + box.width * (0.01 + 0.0098 * tick)
        page.grid_line([x, x], [box.y, box.y + box.height])
        page.label(f"{tick} %", x, box.y + box.height + page.em, align="center")
    page.label("signal", box.x + box.width, box.y - 0.8 * page.em, align="right", shade=SECOND)
    page.grid_line([box.x, box.x + box.width], [box.y + 0.5 * box.height] * 2, strong=True)
    page.line(xs, ys, page.look.accent, 0.12, zorder=4)
    for x, y in zip(xs, ys, strict=True):
        page.dot(float(x), float(y), page.look.accent)
    return box.y + box.height + 3.0 * page.em


def _differences(page: Page, figures: MonitorFigures, top: float) -> float:
    em, patches = page.em, figures.patches
    colours: tuple[Colour, Colour] = (page.look.traces["Y"], page.look.accent)
    values = np.array([[getattr(patch, name) for name in DIFFERENCES] for patch in patches])
    high = 1.15 * max(1.0, float(values.max()))
    box = _panel(page, "Difference of each patch, in the order of the readings", top, (0.0, high))
    pitch = box.width / len(patches)
    thick = min(1.1 * em, 0.36 * pitch)
    for place, pair in enumerate(values):
        middle = box.x + (place + 0.5) * pitch
        for side, (value, colour) in enumerate(zip(pair, colours, strict=True)):
            tall = box.height * float(value) / high
            left = middle + (side - 1) * thick
            page.fill(Box(left, box.y + box.height - tall, 0.9 * thick, tall), colour, zorder=3)
    named = _named(page, figures, values, pitch)
    middles = [box.x + (place + 0.5) * pitch for place in named]
    room = max((page.label_width(patches[place].name) for place in named), default=0.0) + em
    for place, x in zip(named, spread(middles, room, box.x + room / 2, box.x + box.width - room / 2), strict=True):
        page.label(patches[place].name, x, box.y + box.height + em, align="center")
    page.key(list(zip(TITLES, colours, strict=True)), box.x, box.y + box.height + 2.6 * em)
    return box.y + box.height + 4.8 * em


def _named(page: Page, figures: MonitorFigures, values: Any, pitch: float) -> list[int]:
    """Return the places of the patches that are named: all where there is room, else the worst by each difference."""
    names = [patch.name for patch in figures.patches]
    if len(names) <= MOST_NAMED and max(map(page.label_width, names)) + 0.6 * page.em <= pitch:
        return list(range(len(names)))
    return sorted({int(place) for place in values.argmax(axis=0)})


def _windows(page: Page, figures: MonitorFigures, top: float) -> float:
    em, windows = page.em, figures.windows
    high = 1.15 * max(figures.nominal_peak, *(window.nits for window in windows))
    box = _panel(page, "White by the size of its window, cd/m\u00b2", top, (0.0, high))
    page.label("% of the screen", box.x + box.width, box.y - 0.8 * em, align="right", shade=SECOND)
    xs = box.x + box.width * (np.arange(len(windows)) + 0.5) / len(windows)
    ys = [box.y + box.height * (1.0 - window.nits / high) for window in windows]
    for share, is_strong in ((1.0, True), (HELD_SHARE, False)):
        y = box.y + box.height * (1.0 - share * figures.nominal_peak / high)
        style = {} if is_strong else {"linestyle": (0, (4, 3))}
        page.grid_line([box.x, box.x + box.width], [y, y], strong=True, **style)
    page.line(xs, ys, page.look.accent, 0.12, zorder=4)
    for window, x, y in zip(windows, xs, ys, strict=True):
        page.dot(float(x), y, page.look.accent, hollow=not window.holds_peak)
        page.label(f"{window.percent:g}", float(x), box.y + box.height + em, align="center")
    words = f"Line: the nominal peak of {number(figures.nominal_peak)}; broken: {HELD_SHARE:.0%} of it, held"
    page.label(words, box.x, box.y + box.height + 2.5 * em)
    return box.y + box.height + 4.2 * em


def _panel(page: Page, heading: str, top: float, limits: tuple[float, float]) -> Box:
    """Lay out a panel with its heading and the ticks of its upright axis."""
    em = page.em
    left = page.label_width("10000") + 0.9 * em
    page.word(panel_heading(heading, page.margin + left, top + 0.7 * em, 0.95 * em))
    box = page.plate(Box(page.margin + left, top + 1.4 * em, page.inner - left, HEIGHT * em))
    low, high = limits
    step = next(step for step in STEPS if (high - low) / step <= 7.0 or step == STEPS[-1])
    for count in range(int(np.ceil(low / step)), int(high / step) + 1):
        y = box.y + box.height * (high - count * step) / (high - low)
        page.grid_line([box.x, box.x + box.width], [y, y])
        page.label(
            f"{count * step:+.4g}" if low < 0.0 < abs(count) else f"{count * step:.4g}",
            box.x - 0.6 * em,
            y,
            align="right",
        )
    page.frame(box)
    return box
