"""Mask pictures: where the master leaves a gamut, and where a rendition's signal leaves its legal range."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from tonemap.arrays import Array
from tonemap.colorimetry import luminance, primaries_named
from tonemap.encoding import Encoding
from tonemap.measure.active_area import Rectangle, whole_frame
from tonemap.measure.gamut_share import FLOOR_NITS, outside_mask
from tonemap.measure.legality import AREA_TOLERANCE, LIMITS, NOMINAL, RANGE_TITLES, illegal_mask
from tonemap.picture import Picture
from tonemap.scaling import area_shares
from tonemap.scopes import luma_signal
from tonemap.signal_range import expand
from tonemap.transfer import pq_eotf_inverse

from ..comparison.captions import share
from ..comparison.layout import Box
from ..comparison.pictures import tile_shape
from .density import resized
from .look import Colour, Look
from .page import Page

TALLEST = 0.75  # of a picture, in widths of the page
GREYS = {"screen": (0.06, 0.6), "paper": (0.45, 0.98)}  # of the picture behind a mask: darkest, brightest
TEXTURE = 0.35  # how much of the picture shows through a mark
MARKED = "A point is marked when any pixel that it stands for is."

Ranks = NDArray[np.uint8]


def gamut_mask_figure(
    light: Array,
    look: Look,
    title: str,
    about: str,
    *,
    gamuts: tuple[str, str] = ("bt709", "p3-d65"),
    encoding: Encoding | None = None,
    tolerance: float | None = None,
    width: int = 2400,
    notes: tuple[str, ...] = (),
) -> Any:
    """Draw where BT.2020 light (rows, columns, 3) lies outside a smaller and a larger set of primaries.

    Parameters
    ----------
    gamuts : names in `colorimetry.PRIMARIES`, the smaller one first
    encoding, tolerance : as for `measure_gamut`
    """
    options: dict[str, Any] = (
        {"encoding": encoding} if tolerance is None else {"encoding": encoding, "tolerance": tolerance}
    )
    ranks = np.zeros(light.shape[:2], np.uint8)
    for rank, gamut in enumerate(gamuts, start=1):
        ranks[outside_mask(light, gamut, **options)] = rank
    small, large = (primaries_named(gamut).title for gamut in gamuts)
    counts = np.bincount(ranks.ravel(), minlength=3) / ranks.size
    key = [
        (f"outside {small} only: {share(float(counts[1]))}", look.marks[0]),
        (f"outside {large} too: {share(float(counts[2]))}", look.marks[1]),
    ]
    reading = f"{MARKED} Pixels below {FLOOR_NITS:g} nit do not count. Behind: luminance, spaced as PQ."
    grey = pq_eotf_inverse(luminance(light))
    return _mask_figure(ranks, grey, key, look, (title, about), width, (reading, *notes))


def legality_mask_figure(
    picture: Picture,
    look: Look,
    title: str,
    about: str,
    *,
    limits: str = NOMINAL,
    area: Rectangle | None = None,
    is_interlaced: bool = False,
    width: int = 2400,
    notes: tuple[str, ...] = (),
) -> Any:
    """Draw where code values in narrow range are outside a range of EBU R 103 v3.0, before and after its filter.

    Parameters
    ----------
    area : what is drawn and counted; the filter reaches beyond it, as for `measure_legality`
    """
    within = (area or whole_frame(picture.rows, picture.columns)).slices
    filtered = illegal_mask(picture, limits, is_interlaced=is_interlaced)[within]
    picture = Picture(picture.samples[within], picture.encoding)
    assert picture.encoding.bits is not None
    low, high = LIMITS[limits][picture.encoding.bits]
    is_outside: NDArray[np.bool_] = (picture.samples < low) | (picture.samples > high)
    ranks: Ranks = np.asarray(is_outside.any(axis=2), np.uint8)
    ranks[filtered] = 2
    counts = np.bincount(ranks.ravel(), minlength=3) / ranks.size
    verdict = "within" if counts[2] <= AREA_TOLERANCE else "more than"
    key = [
        (f"outside before the filter only: {share(float(counts[1]))}", look.marks[0]),
        (
            f"outside after the filter: {share(float(counts[2]))}, {verdict} the {100.0 * AREA_TOLERANCE:g} % allowed",
            look.marks[1],
        ),
    ]
    reading = (
        f"EBU R 103 v3.0, codes {low} to {high} of {picture.encoding.bits} bits ({RANGE_TITLES[limits]}), on R, G, B "
        f"and Y. {MARKED}"
    )
    signal = expand(picture.samples, picture.encoding.bits, picture.encoding.signal_range)
    grey = luma_signal(signal, picture.encoding.primaries)
    return _mask_figure(ranks, grey, key, look, (title, about), width, (reading, *notes))


def picture_box(page: Page, shape: tuple[int, int]) -> Box:
    """Return where a picture of some rows and columns stands: reduced to fit, or enlarged by a whole number."""
    rows, columns = tile_shape(shape, int(page.inner), int(TALLEST * page.width))
    return Box(round(page.margin), round(page.top), columns, rows)


def reduced_ranks(ranks: Ranks, shape: tuple[int, int]) -> Ranks:
    """Return the highest rank of the pixels that each new pixel covers."""
    for axis, size in enumerate(shape):
        samples, shares = area_shares(ranks.shape[axis], size)
        covered = (shares > 0.0).reshape((*shares.shape, 1) if axis == 0 else (1, *shares.shape))
        ranks = (ranks.take(samples, axis) * covered).max(axis=1 if axis == 0 else 2)
    return ranks


def _mask_figure(
    ranks: Ranks,
    grey: Array,
    key: list[tuple[str, Colour]],
    look: Look,
    words: tuple[str, str],
    width: int,
    notes: tuple[str, ...],
) -> Any:
    page = Page(width, look, *words)
    box = picture_box(page, ranks.shape)
    dark, bright = GREYS[look.name]
    behind = resized(np.clip(grey, 0.0, 1.0), box.shape)
    behind /= max(float(behind.max()), 1e-6)
    picture = np.repeat((dark + (bright - dark) * behind)[..., np.newaxis], 3, axis=2)
    shown = reduced_ranks(ranks, box.shape)
    for rank, (_, colour) in enumerate(key, start=1):
        marked = shown == rank
        picture[marked] = np.array(colour) * (1.0 - TEXTURE + TEXTURE * behind[marked])[:, np.newaxis]
    page.picture(picture, box)
    below = box.y + box.height + 1.3 * page.em
    page.key(key, page.margin, below)
    return page.finish(below + 0.4 * page.em, *notes)
