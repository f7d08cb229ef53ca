"""The vectorscope: chroma of a signal, with the targets of colour bars and the direction of skin."""

import math
from typing import Any

import numpy as np

from tonemap.arrays import Array
from tonemap.measure.legality import LUMA_WEIGHTS
from tonemap.scopes import Vectorscope, bar_targets

from ..comparison.captions import share
from ..comparison.layout import Box
from ..comparison.type_setting import FIRST, SECOND
from .look import Look
from .page import Page
from .plane import READING, SIDE, Plane, beyond, trace

REACH = 0.6  # of the plane, for bars at 100 %: beyond the 0.5 that is nominal
SKIN_REACH = 0.42  # of the skin line, likewise
NAME_PLACES = {
    "red": (0.0, -1.2, "center"),
    "yellow": (-0.9, 0.0, "right"),
    "green": (0.0, 1.2, "center"),
    "cyan": (0.0, 1.2, "center"),
    "blue": (0.9, 0.0, "left"),
    "magenta": (-0.6, 1.1, "right"),
}
"""Where the names stand, in em from the targets to the right and down: clear of the lines that meet there."""
RING = ("red", "yellow", "green", "cyan", "blue", "magenta")


def vectorscope_figure(
    scope: Vectorscope,
    look: Look,
    title: str,
    about: str,
    *,
    bars: tuple[float, ...] = (0.75, 1.0),
    skin: float | None = None,
    width: int = 2400,
    notes: tuple[str, ...] = (),
) -> Any:
    """Draw a vectorscope: Cb to the right, Cr upwards.

    Parameters
    ----------
    bars : levels of the colour bars whose six colours are marked and joined by a line; the plot is as large as the
        highest needs
    skin : direction of skin in degrees, as `scopes.skin_angle` gives it; None for no line
    """
    page = Page(width, look, title, about)
    em = page.em
    box = page.plate(Box(0.5 * (width - SIDE * em), page.top, SIDE * em, SIDE * em))
    size = max(bars)
    plane = Plane(-REACH * size, REACH * size, 2.0 * REACH * size, box)
    page.picture(trace(scope.counts, scope.scale, plane, look, lambda cb, cr: _colours(cb, cr, scope.primaries)), box)
    _graticule(page, plane, scope.primaries, bars)
    if skin is not None:
        cb, cr = math.cos(math.radians(skin)), math.sin(math.radians(skin))
        x, y = plane.at(SKIN_REACH * size * cb, SKIN_REACH * size * cr)
        page.line([plane.at(0.0, 0.0)[0], x], [plane.at(0.0, 0.0)[1], y], look.accent, 0.11, zorder=4)
        page.label("skin", x - 0.4 * em, y - 0.5 * em, align="right", shade=FIRST)
    levels = " and ".join(f"{100.0 * level:.0f} %" for level in bars)
    weights = "BT.2020" if scope.primaries == "bt2020" else "BT.709"
    reading = (
        f"{READING} Square: Cb and Cr of \u00b1{0.5 * size:.3g}. Hexagons: the colours of bars at {levels}, computed "
        f"from the luma weights of {weights}."
    )
    outside = beyond(scope.counts, scope.scale, plane)
    if outside > 0.0:
        reading += f" Beyond the edges: {share(outside)} of the pixels."
    if skin is not None:
        reading += " Skin: the hue of the patch \u2018light skin\u2019 of ISO 17321-1 under D65."
    return page.finish(box.y + box.height, reading, *notes)


def _graticule(page: Page, plane: Plane, primaries: str, bars: tuple[float, ...]) -> None:
    em, at, box = page.em, plane.at, plane.box
    end = 0.5 * max(bars)
    for value in (-end, 0.0, end):
        (x, top), (_, bottom) = at(value, end), at(value, -end)
        page.grid_line([x, x], [top, bottom], strong=value == 0.0)
        (left, y), (right, _) = at(-end, value), at(end, value)
        page.grid_line([left, right], [y, y], strong=value == 0.0)
    half = 0.4 * em
    for level in bars:
        targets = bar_targets(primaries, level)
        xs, ys = zip(*(at(*targets[name]) for name in (*RING, RING[0])), strict=True)
        page.line(xs, ys, page.look.shade(SECOND), 0.06, zorder=3, alpha=0.75)
        for x, y in zip(xs[:-1], ys[:-1], strict=True):
            square = (
                [x - half, x + half, x + half, x - half, x - half],
                [y - half, y - half, y + half, y + half, y - half],
            )
            page.line(*square, page.look.shade(SECOND), 0.085, solid_joinstyle="miter", zorder=3.5)
        x, y = at(*targets["green"])
        page.label(f"{100.0 * level:.0f} %", x - 0.9 * em, y, align="right")
    centre = at(0.0, 0.0)
    for name, (cb, cr) in bar_targets(primaries, max(bars)).items():
        x, y = at(cb, cr)
        across, down, align = NAME_PLACES[name]
        page.label(name, x + across * em, y + down * em, align=align, shade=SECOND)
    page.label("Cb", at(end, 0.0)[0] + 0.4 * em, centre[1], shade=SECOND)
    page.label("Cr", centre[0], at(0.0, end)[1] - 1.2 * em, align="center", shade=SECOND)
    page.frame(box)


def _colours(cb: Array, cr: Array, primaries: str) -> Array:
    """Return the R'G'B' (..., 3) of a chroma at middling luma, made as bright as it can be."""
    weights = LUMA_WEIGHTS["bt2020" if primaries == "bt2020" else "bt709"]
    red_weight, green_weight, blue_weight = (weight / 10000.0 for weight in weights)
    luma = 0.5
    red = luma + 2.0 * (1.0 - red_weight) * cr
    blue = luma + 2.0 * (1.0 - blue_weight) * cb
    green = (luma - red_weight * red - blue_weight * blue) / green_weight
    colour = np.clip(np.stack([red, green, blue], axis=-1), 0.0, None)
    return colour / np.maximum(colour.max(axis=-1, keepdims=True), 1e-6)
