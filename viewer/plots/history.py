"""The level history: maximum and average of every frame of a programme, and where MaxCLL and MaxFALL are."""

from typing import Any

import numpy as np

from tonemap.measure.programme import whole_nits
from tonemap.scopes import LevelHistory, Scale

from ..comparison.layout import Box
from ..comparison.type_setting import FIRST, QUIET, SECOND, SMALL, Word
from .axis import nits, spread, ticks
from .look import Look
from .page import Page

HEIGHT = 30.0  # em
HEADROOM = 1.9  # above the largest level: room for the word on it
FRAME_STEPS = (1, 2, 5)


def history_figure(
    history: LevelHistory, look: Look, title: str, about: str, *, width: int = 2400, notes: tuple[str, ...] = ()
) -> Any:
    """Draw a history of at least one frame, in nits on a PQ axis."""
    page = Page(width, look, title, about)
    em = page.em
    scale = Scale("pq", 0.0, HEADROOM * max(float(history.maximum.max()), 1.0))
    lines = (
        ("maximum", history.maximum, look.traces["Y"]),
        ("average (FALL)", history.average, look.accent),
        ("average luminance", history.luminance, look.traces["B"]),
    )
    left = page.label_width("10000") + 0.9 * em
    right = max(page.label_width(name) for name, _, _ in lines) + 1.5 * em
    box = page.plate(Box(page.margin + left, page.top + 1.2 * em, page.inner - left - right, HEIGHT * em))
    first, last = int(history.frames[0]), int(history.frames[-1])
    pad = 0.5 if first == last else 0.012 * (last - first)

    def x_of(frame: Any) -> Any:
        return box.x + box.width * (frame - first + pad) / (last - first + 2.0 * pad)

    def y_of(level: Any) -> Any:
        return box.y + box.height * (1.0 - scale.place(level))

    _axes(page, box, scale, x_of, y_of, (first, last))
    ends = [float(y_of(values[-1])) for _, values, _ in lines]
    for (name, values, colour), end, at in zip(
        lines, ends, spread(ends, 1.3 * em, box.y, box.y + box.height), strict=True
    ):
        page.line(x_of(history.frames), y_of(values), colour, 0.14, zorder=4, solid_joinstyle="round")
        edge = box.x + box.width
        page.line(
            [float(x_of(last)), edge + 0.2 * em, edge + 0.6 * em], [end, end, at], colour, 0.07, zorder=3, alpha=0.7
        )
        page.label(name, edge + 0.9 * em, at, shade=SECOND)
        if len(values) == 1:
            page.dot(float(x_of(first)), end, colour)
    peak_y, fall_y = float(y_of(history.maximum.max())), float(y_of(history.average.max()))
    below = fall_y - peak_y < 1.6 * em  # no room for a label between the two
    for name, values, colour, drop in (
        ("MaxCLL", history.maximum, lines[0][2], -0.75 * em),
        ("MaxFALL", history.average, lines[1][2], 1.35 * em if below else -0.75 * em),
    ):
        place = int(np.argmax(values))
        x, y = float(x_of(history.frames[place])), float(y_of(values[place]))
        page.dot(x, y, colour, 0.7, hollow=True)
        text = f"{name} {whole_nits(float(values[place]))} cd/m\u00b2, frame {history.frames[place]}"
        half = 0.5 * page.label_width(text)
        middle = min(max(x, box.x + half + 0.5 * em), box.x + box.width - half - 0.5 * em)
        page.word(Word(text, middle, y + drop, SMALL * em, shade=FIRST, align="center"))
    reading = (
        "Active picture area. MaxCLL and MaxFALL by CTA-861.3: max(R, G, B) of BT.2020 light; whole cd/m\u00b2, "
        "rounded up. Axis spaced as PQ."
    )
    return page.finish(box.y + box.height + 2.4 * em, reading, *notes)


def _axes(page: Page, box: Box, scale: Scale, x_of: Any, y_of: Any, frames: tuple[int, int]) -> None:
    em = page.em
    for tick in ticks(scale, box.height, 1.5 * em):
        y = float(y_of(tick))
        page.grid_line([box.x, box.x + box.width], [y, y])
        page.label(nits(tick), box.x - 0.6 * em, y, align="right")
    page.label("cd/m\u00b2", box.x - 0.6 * em, box.y - 0.8 * em, align="right", shade=SECOND)
    room = page.label_width(str(frames[1])) + 2.5 * em
    step = _step(frames[1] - frames[0], max(2, int(box.width / room)))
    for frame in range(-(-frames[0] // step) * step, frames[1] + 1, step):
        x = float(x_of(frame))
        page.grid_line([x, x], [box.y, box.y + box.height])
        page.label(str(frame), x, box.y + box.height + 1.0 * em, align="center")
    page.label("frame", box.x + box.width, box.y + box.height + 2.2 * em, align="right", shade=QUIET)
    page.frame(box)


def _step(length: int, most: int) -> int:
    """Return the smallest round step that makes at most so many ticks."""
    power = 1
    while True:
        for step in FRAME_STEPS:
            if length / (step * power) <= most:
                return step * power
        power *= 10
