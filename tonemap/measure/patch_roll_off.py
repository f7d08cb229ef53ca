"""What a rendition does to a patch: contrast kept, hue, chroma, and where its shoulder begins."""

from dataclasses import dataclass

import numpy as np

from ..arrays import Array
from ..colorimetry import luminance
from ..reference import finish_signal, render_light
from ..rendition import Chain
from ..transfer import pq_eotf_inverse
from .patches import NEUTRAL_CHROMA, hue_and_chroma, rendition_light, typical_colour

HALF_STEP = 0.02  # stops; the central difference spans twice this
SCAN_STEP = 0.02  # stops between the exposures at which a shoulder is looked for
SHOULDER_SHARE = 0.9  # the shoulder begins where this share of the patch's slope is left
DARKEST = 1e-4  # cd/m2; a patch below it has no exposure worth a slope


@dataclass(frozen=True)
class RollOff:
    """The roll-off figures of one patch in one rendition.

    Attributes
    ----------
    slope_median, slope_p95 : step of the rendition's luminance over the step of the master's, both in PQ, when the
        exposure moves, at the patch's median and 95th percentile: 1 keeps all contrast, 0 is flat. None for a black
        patch.
    hue_shift : of the median colour, ICtCp degrees, -180..180; None when either colour is too near to grey
    chroma_kept : ICtCp chroma of the rendition over the master's, at the median; None for a grey patch
    shoulder_stops : stops above the patch's median at which the slope has fallen to 90 % of the patch's own; 0 when
        the patch itself is flat, None when the master's peak comes first
    """

    slope_median: float | None
    slope_p95: float | None
    hue_shift: float | None
    chroma_kept: float | None
    shoulder_stops: float | None


def roll_off(mask: np.ndarray, light: Array, chain: Chain) -> RollOff:
    """Return the roll-off figures of a patch.

    The rendition is evaluated at the patch's typical colours, not read from a picture, so that neither noise nor
    quantisation is taken for contrast.

    Parameters
    ----------
    mask : ndarray (rows, columns) of bool
    light : ndarray (rows, columns, 3), the master's, BT.2020, cd/m2
    """
    pixels = light[mask]
    median, bright = typical_colour(pixels, 50.0), typical_colour(pixels, 95.0)
    hue, chroma = hue_and_chroma(median)
    new_hue, new_chroma = hue_and_chroma(_rendered(median, chain))
    shift = None if hue is None or new_hue is None else (new_hue - hue + 180.0) % 360.0 - 180.0
    kept = new_chroma / chroma if chroma >= NEUTRAL_CHROMA else None
    return RollOff(_slope_at(median, chain), _slope_at(bright, chain), shift, kept, shoulder(median, chain))


def slopes(colour: Array, stops: Array, chain: Chain) -> Array:
    """Return the PQ-per-PQ slope of luminance along a colour's exposure.

    Parameters
    ----------
    colour : ndarray (3,), BT.2020, cd/m2, above black
    stops : ndarray (n,), exposures above that colour

    Returns
    -------
    ndarray (n,)
    """
    exposures = stops[:, np.newaxis] + np.array([-HALF_STEP, HALF_STEP])
    path = colour * 2.0 ** exposures[..., np.newaxis]
    came, went = pq_eotf_inverse(luminance(path)), pq_eotf_inverse(luminance(_rendered(path, chain)))
    return (went[:, 1] - went[:, 0]) / (came[:, 1] - came[:, 0])


def shoulder(colour: Array, chain: Chain) -> float | None:
    """Return how many stops above a colour (3,) its slope has fallen to 90 %, up to the master's peak.

    0 means that the colour is on a flat already, None that there is no shoulder, or that the colour is black.
    """
    if luminance(colour) < DARKEST:
        return None
    room = float(np.log2(max(chain.master.peak / float(colour.max()), 1.0)))
    stops = np.append(np.arange(0.0, room, SCAN_STEP), room)
    found = slopes(colour, stops, chain)
    if found[0] <= 1e-6:
        return 0.0
    limit = SHOULDER_SHARE * found[0]
    fallen = np.flatnonzero(found < limit)
    if fallen.size == 0:
        return None
    last = int(fallen[0])
    before, after = found[last - 1], found[last]
    return float(stops[last - 1] + (stops[last] - stops[last - 1]) * (before - limit) / (before - after))


def _slope_at(colour: Array, chain: Chain) -> float | None:
    return float(slopes(colour, np.zeros(1), chain)[0]) if luminance(colour) >= DARKEST else None


def _rendered(light: Array, chain: Chain) -> Array:
    """Return the rendition's BT.2020 light in cd/m2 of the master's light (..., 3)."""
    signal = finish_signal(render_light(light, chain), chain)
    return rendition_light(signal, chain.rendition.target)
