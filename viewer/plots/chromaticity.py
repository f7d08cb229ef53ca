"""The chromaticity diagram: CIE 1976 u'v' of the light, with the triangles of primaries."""

from functools import cache
from typing import Any

import numpy as np

from tonemap.arrays import Array
from tonemap.colorimetry import PRIMARIES, Chromaticity, convert, matrix_to_xyz, xyz_of_chromaticity
from tonemap.measure.hue import uv_of_xyz
from tonemap.scopes import ChromaticityScope
from tonemap.transfer import bt1886_eotf_inverse

from ..comparison.captions import share
from ..comparison.layout import Box
from ..comparison.type_setting import FIRST, QUIET, SECOND
from .locus import LOCUS
from .look import Look
from .page import Page
from .plane import READING, SIDE, Plane, trace

LEFT, TOP, EXTENT = -0.02, 0.62, 0.66  # of u' and v'
WAVELENGTHS = (420, 460, 480, 490, 500, 520, 540, 560, 580, 600, 620, 700)
TRIANGLES: dict[str, Any] = {"bt2020": "-", "p3-d65": (0, (6.0, 2.5)), "bt709": (0, (2.0, 1.6))}
"""Names in `colorimetry.PRIMARIES`, and how their lines are broken."""


def chromaticity_figure(
    scope: ChromaticityScope, look: Look, title: str, about: str, *, width: int = 2400, notes: tuple[str, ...] = ()
) -> Any:
    """Draw the chromaticities with the spectral locus and the triangles of BT.2020, P3-D65 and BT.709."""
    page = Page(width, look, title, about)
    em = page.em
    box = page.plate(Box(0.5 * (width - SIDE * em), page.top + 0.6 * em, SIDE * em, SIDE * em))
    plane = Plane(LEFT, TOP, EXTENT, box)
    page.picture(trace(scope.counts, scope.scale, plane, look, _colours), box)
    _axes(page, plane)
    _locus(page, plane)
    for name, style in TRIANGLES.items():
        primaries = PRIMARIES[name]
        corners = (primaries.red, primaries.green, primaries.blue, primaries.red)
        xs, ys = zip(*(plane.at(*uv(corner)) for corner in corners), strict=True)
        page.line(xs, ys, look.shade(FIRST), 0.095, linestyle=style, zorder=4, solid_joinstyle="miter")
    page.dot(*plane.at(*uv(PRIMARIES["bt709"].white)), look.accent, 0.7, hollow=True)
    x, y = box.x + 0.68 * box.width, box.y + 0.83 * box.height
    for row, (name, style) in enumerate(TRIANGLES.items()):
        at = y + 1.7 * em * row
        page.line([x, x + 3.0 * em], [at, at], look.shade(FIRST), 0.095, linestyle=style, zorder=4)
        page.label(PRIMARIES[name].title, x + 3.6 * em, at, shade=SECOND)
    dark = share(scope.dark / scope.pixels if scope.pixels else 0.0)
    reading = (
        f"{READING} Too dark to have a colour, and left out: {dark} of the picture. Ring: D65. Curve: the spectrum for "
        "the CIE 1931 2\u00b0 observer, wavelengths in nm."
    )
    return page.finish(box.y + box.height + 1.2 * em, reading, *notes)


@cache
def uv(chromaticity: Chromaticity) -> tuple[float, float]:
    """Return u'v' of an xy chromaticity."""
    u, v = uv_of_xyz(xyz_of_chromaticity(chromaticity))
    return float(u), float(v)


def rounded(places: Array, steps: int = 6) -> Array:
    """Return a smooth curve through places (n, 2): cubic pieces with the slopes that the neighbours give."""
    slopes = np.gradient(places, axis=0)
    t = (np.arange(steps) / steps)[:, np.newaxis]
    parts = [
        (1.0 + 2.0 * t) * (1.0 - t) ** 2 * start
        + t * (1.0 - t) ** 2 * slope
        + t**2 * (3.0 - 2.0 * t) * end
        + t**2 * (t - 1.0) * next_slope
        for start, end, slope, next_slope in zip(places, places[1:], slopes, slopes[1:], strict=False)
    ]
    return np.concatenate([*parts, places[-1:]])


def _axes(page: Page, plane: Plane) -> None:
    em, box = page.em, plane.box
    for tick in (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6):
        x, y = plane.at(tick, tick)
        page.grid_line([x, x], [box.y, box.y + box.height])
        page.grid_line([box.x, box.x + box.width], [y, y])
        page.label(f"{tick:.1f}", x, box.y + box.height + 0.9 * em, align="center", is_figure=True)
        page.label(f"{tick:.1f}", box.x - 0.6 * em, y, align="right", is_figure=True)
    page.label("u'", box.x + box.width, box.y + box.height + 0.9 * em, align="right", shade=SECOND)
    page.label("v'", box.x - 0.6 * em, box.y - 0.2 * em, align="right", shade=SECOND)
    page.frame(box)


def _locus(page: Page, plane: Plane) -> None:
    em = page.em
    places = np.array([plane.at(*uv((x, y))) for _, x, y in LOCUS])
    outline = np.concatenate([rounded(places), places[:1]])
    page.line(outline[:, 0], outline[:, 1], page.look.shade(QUIET), 0.08, zorder=3)
    centre = np.array(plane.at(*uv(PRIMARIES["bt709"].white)))
    along = np.gradient(places, axis=0)
    for index in (index for index, (wave, _, _) in enumerate(LOCUS) if wave in WAVELENGTHS):
        wave, place = LOCUS[index][0], places[index]
        away = np.array([along[index, 1], -along[index, 0]]) / np.hypot(*along[index])
        away *= np.sign(away @ (place - centre))
        end = place + 0.45 * em * away
        page.line([place[0], end[0]], [place[1], end[1]], page.look.shade(QUIET), 0.08, zorder=3)
        x, y = place + away * np.array([0.5 * page.label_width(str(wave)) + 0.8 * em, 1.15 * em])
        page.label(str(wave), float(x), float(y), align="center")


def _colours(u: Array, v: Array) -> Array:
    """Return the BT.709 signal (..., 3) of chromaticities, as bright as it can be; what lies outside is clipped."""
    height = np.maximum(v, 1e-3)
    xyz = np.stack([2.25 * u / height, np.ones_like(u), (3.0 - 0.75 * u - 5.0 * v) / height], axis=-1)
    light = np.clip(convert(xyz, np.linalg.inv(matrix_to_xyz(PRIMARIES["bt709"]))), 0.0, None)
    return bt1886_eotf_inverse(light / np.maximum(light.max(axis=-1, keepdims=True), 1e-6), 1.0)
