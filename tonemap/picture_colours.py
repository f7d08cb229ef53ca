"""Colours in place of a picture: bands of nits, colour outside a gamut, clipped channels. What is unmarked stays grey.

A view says which mark each pixel has, by number; every mark has a colour and a title for the legend. The colours tell
apart under simulated colour-vision deficiencies too (the tests hold them to Machado et al. 2009).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .arrays import Array
from .colorimetry import conversion_matrix, convert, luminance
from .encoding import Encoding, light_to_signal
from .measure.gamut_share import FLOOR_NITS, HALF_FLOAT_TOLERANCE, outside_mask
from .measure.reference_levels import reference_levels
from .transfer import bt1886_eotf, pq_eotf, pq_eotf_inverse, srgb_eotf

LUMINANCE, GAMUT, CLIPPING, MONITOR = "luminance", "gamut", "clipping", "monitor"
VIEWS = (LUMINANCE, GAMUT, CLIPPING, MONITOR)

HALF_CODE = 0.0005
"""Signal below the top that still counts as clipped: half a code of 10 bits."""

ABOVE = 1e-3
"""By which share a channel is above a monitor's peak before it is marked: a tenth of a 10-bit code of PQ."""

WHITE_PERCENT = (57.5, 58.5)  # of PQ: 58 % is reference white, Report ITU-R BT.2408-8, Table 1
BLACK_NITS, SHADOW_NITS = 0.005, 1.0  # common practice, no source

GREY_LEVEL = 0.4  # of the screen's white, for an unmarked pixel of 1000 cd/m2


@dataclass(frozen=True)
class Mark:
    """What a colour stands for.

    Attributes
    ----------
    low : luminance in cd/m2 from which a band of nits begins; 0 for marks that are no bands
    colour : sRGB, six hexadecimal digits; empty for pixels that stay grey
    """

    title: str
    colour: str
    low: float = 0.0

    @property
    def light(self) -> tuple[float, float, float] | None:
        """The colour as light in BT.709 primaries, relative to white; None for grey."""
        if not self.colour:
            return None
        red, green, blue = srgb_eotf(np.frombuffer(bytes.fromhex(self.colour), np.uint8) / 255.0, 1.0)
        return float(red), float(green), float(blue)


@dataclass(frozen=True)
class PictureColours:
    """One of the views on one picture: the marks in the order of their numbers.

    Attributes
    ----------
    reach : the primaries and the peak in cd/m2 that the monitor shows of the picture; for that view only
    """

    view: str
    marks: tuple[Mark, ...]
    reach: tuple[str, float] = ("bt2020", 10000.0)

    @property
    def edges(self) -> Array:
        """The luminances at which bands begin, the first one's left out."""
        return np.array([mark.low for mark in self.marks[1:]])


GAMUT_MARKS = (
    Mark("within BT.709", ""),
    Mark("outside BT.709, within P3", "f2cf63"),
    Mark("outside P3", "d9480f"),
)
"""Their mixture in a pixel of a smaller picture is a colour between the two, and none of its own."""

CLIPPING_MARKS = (
    Mark("not clipped", ""),
    Mark("one channel at the top", "f0c840"),
    Mark("two channels", "e0702a"),
    Mark("all three", "ffffff"),
)
MONITOR_MARKS = (
    Mark("as the monitor shows it", ""),
    Mark("outside its primaries", "3f7fff"),
    Mark("above its peak", "e8a030"),
    Mark("both", "ffffff"),
)


def monitor_colours(primaries: str, peak: float) -> PictureColours:
    """Return the view of what of a picture is beyond a monitor's primaries and a peak in cd/m2."""
    return PictureColours(MONITOR, MONITOR_MARKS, (primaries, peak))


def picture_colours(
    view: str, picture: Encoding, target_peak: float, monitor_peak: float | None = None
) -> PictureColours:
    """Return a view on a picture.

    Parameters
    ----------
    view : a name in `VIEWS` but that of the monitor
    picture : the encoding that the picture is shown with: the master's, or a rendition's target
    target_peak : cd/m2 of the target of the rendition that is chosen
    monitor_peak : cd/m2 that the monitor reaches; None when it shows no HDR
    """
    if view == GAMUT:
        return PictureColours(view, GAMUT_MARKS)
    if view == CLIPPING:
        return PictureColours(view, CLIPPING_MARKS)
    is_hdr = picture.peak > pq_eotf(np.array(WHITE_PERCENT[1] / 100.0)) and picture.transfer != "bt1886"
    bands = _hdr_bands(target_peak, monitor_peak) if is_hdr else _sdr_bands(picture)
    return PictureColours(view, tuple(mark for mark in bands if mark.low <= picture.peak))


def mark_numbers(
    colours: PictureColours, light: Array, shown: Encoding, signal: Array | None = None
) -> NDArray[np.intp]:
    """Return the number of every pixel's mark, (rows, columns).

    Parameters
    ----------
    light : ndarray (rows, columns, 3), BT.2020, cd/m2
    shown : the picture's encoding
    signal : of that encoding, where it is known; else it follows from the light (for linear files in PQ)
    """
    if colours.view == LUMINANCE:
        return np.searchsorted(colours.edges, luminance(light), side="right")
    if colours.view == GAMUT:
        outside = [
            outside_mask(light, gamut, tolerance=HALF_FLOAT_TOLERANCE, floor=FLOOR_NITS)
            for gamut in ("bt709", "p3-d65")
        ]
        return np.where(outside[1], 2, np.where(outside[0], 1, 0))
    if colours.view == MONITOR:
        primaries, peak = colours.reach
        outside_monitor = outside_mask(light, primaries, tolerance=HALF_FLOAT_TOLERANCE, floor=FLOOR_NITS)
        own = convert(light, conversion_matrix("bt2020", primaries))
        return outside_monitor + 2 * (own.max(axis=-1) > peak * (1.0 + ABOVE))
    coded = clipping_encoding(shown)
    if signal is None:
        signal = light_to_signal(convert(light, conversion_matrix("bt2020", coded.primaries)), coded)
    return (signal >= clipping_limit(coded)).sum(axis=-1)


def clipping_encoding(shown: Encoding) -> Encoding:
    """Return the encoding in whose signal a picture clips: its own, or PQ for linear light."""
    return Encoding("pq", shown.primaries, peak=shown.peak) if shown.transfer == "linear" else shown


def clipping_limit(coded: Encoding) -> float:
    """Return the signal from which a channel counts as clipped."""
    return float(light_to_signal(np.full(3, coded.peak), coded)[0]) - HALF_CODE


def grey_light(nits: Array) -> Array:
    """Return how bright a pixel without a mark is shown, relative to the screen's white."""
    share = pq_eotf_inverse(np.asarray(nits)) / pq_eotf_inverse(np.array(1000.0))
    return GREY_LEVEL * np.minimum(share, 1.0) ** 2.4


def _hdr_bands(target_peak: float, monitor_peak: float | None) -> tuple[Mark, ...]:
    """Return the bands of a master; the skin ranges of BT.2408 overlap, and where they do is a band of its own."""
    light, medium, dark = (levels.nits or (0.0, 0.0) for levels in reference_levels("skin")[:3])
    white = pq_eotf(np.array(WHITE_PERCENT) / 100.0)
    bands = [
        Mark(f"black, below {BLACK_NITS:g}", "14287a"),
        Mark(f"shadows, to {SHADOW_NITS:g}", "3a55c8", BLACK_NITS),
        Mark("", "", SHADOW_NITS),
        Mark(f"dark skin {dark[0]:g} to {dark[1]:g}", "5f3a10", dark[0]),
        Mark(f"medium skin {medium[0]:g} to {light[0]:g}", "97621a", medium[0]),
        Mark(f"medium or light skin {light[0]:g} to {medium[1]:g}", "c9923a", light[0]),
        Mark(f"light skin {medium[1]:g} to {light[1]:g}", "f4d69c", medium[1]),
    ]
    over_skin = light[1]
    if target_peak < white[0]:
        if target_peak > over_skin:
            bands.append(Mark("", "", over_skin))
        low = max(over_skin, target_peak)
        bands.append(Mark(f"above the target, from {low:g}", "17705f", low))
    else:
        bands.append(Mark("", "", over_skin))
    bands += [
        Mark("reference white 203", "ffffff", float(white[0])),
        Mark("above 203", "84e4ff", float(white[1])),
        Mark("above 1000", "ce62e0", 1000.0 * (1.0 + 1e-4)),
    ]
    if monitor_peak is not None and monitor_peak > white[1]:
        bands = [mark for mark in bands if mark.low < monitor_peak]
        bands.append(Mark(f"above the monitor, {monitor_peak:g}", "d8005a", monitor_peak))
    return tuple(bands)


def _sdr_bands(target: Encoding) -> tuple[Mark, ...]:
    """Return the bands of an SDR picture; the skin range is that of Japanese studio news, BT.2408, Annex 4."""
    levels = next(levels for levels in reference_levels("skin") if levels.sdr_percent)
    low, high = (
        float(bt1886_eotf(np.array(value / 100.0), target.peak, target.black)) for value in levels.sdr_percent or ()
    )
    top = float(bt1886_eotf(np.array(1.0 - HALF_CODE), target.peak, target.black))
    return (
        Mark(f"black, below {BLACK_NITS:g}", "14287a"),
        Mark(f"shadows, to {SHADOW_NITS:g}", "3a55c8", BLACK_NITS),
        Mark("", "", SHADOW_NITS),
        Mark(f"skin in studio news {low:.0f} to {high:.0f}", "c9923a", low),
        Mark("", "", high),
        Mark(f"the target's peak, {target.peak:g}", "ffffff", top),
    )
