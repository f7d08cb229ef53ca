"""The heat map of a colour difference, Delta E ITP."""

from typing import Any

import numpy as np

from tonemap.arrays import Array
from tonemap.difference import difference_statistics

from ..comparison.captions import number
from ..comparison.layout import Box
from ..comparison.type_setting import SECOND
from .density import resized
from .look import Look
from .masks import picture_box
from .page import Page

COLOUR_MAP = "inferno"
"""A perceptually uniform map of matplotlib: its lightness rises evenly, so it also reads without colour."""

TOPS = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
BAR_WIDTH = 30.0  # em


def difference_figure(
    differences: Array,
    look: Look,
    title: str,
    about: str,
    *,
    top: float | None = None,
    width: int = 2400,
    notes: tuple[str, ...] = (),
) -> Any:
    """Draw a map of differences (rows, columns), as `delta_e_itp` gives it, with a bar of its colours.

    Parameters
    ----------
    top : the difference of the last colour; None for a round number above the 99th percentile
    """
    from matplotlib import colormaps

    page = Page(width, look, title, about)
    em = page.em
    found = difference_statistics(differences)
    assert found is not None
    top = top or next((step for step in TOPS if step >= found.p99), TOPS[-1])
    colours = colormaps[COLOUR_MAP]
    box = picture_box(page, differences.shape)
    page.picture(colours(np.clip(resized(differences, box.shape) / top, 0.0, 1.0))[..., :3], box)
    y = round(box.y + box.height + 1.0 * em)
    bar = Box(round(page.margin), y, round(BAR_WIDTH * em), round(0.9 * em))
    page.picture(np.broadcast_to(colours(np.linspace(0.0, 1.0, bar.shape[1]))[:, :3], (*bar.shape, 3)), bar)
    page.frame(bar)
    for step in range(5):
        value = top * step / 4.0
        text = f"\u2265 {number(value)}" if step == 4 and found.maximum > top else number(value)
        half = 0.5 * page.label_width(text)
        x = min(max(bar.x + bar.width * step / 4.0, bar.x + half), bar.x + bar.width - half)
        page.label(text, x, bar.y + bar.height + 0.9 * em, align="center")
    page.label("\u0394E ITP", bar.x + bar.width + 0.8 * em, bar.y + 0.5 * bar.height, shade=SECOND)
    words = (
        f"Mean {number(found.mean)}, median {number(found.p50)}, 95 % up to {number(found.p95)}, 99 % up to "
        f"{number(found.p99)}; largest {number(found.maximum)} at row {found.row}, column {found.column}."
    )
    reading = (
        "Delta E ITP by BT.2124; about 1 is a just noticeable difference under critical conditions. A point shows the "
        "average over the pixels that it stands for; the figures are of single pixels."
    )
    return page.finish(bar.y + bar.height + 1.8 * em, words, reading, *notes)
