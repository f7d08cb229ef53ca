"""What the simple roll-offs share: where a shoulder starts and lands, what drives the curve, how highlights pale.

A roll-off is a curve on one level in cd/m2. Its application says which level drives it: each channel on its own, the
largest channel, or luminance; in the last two all channels take the gain of the driving level.
"""

from collections.abc import Mapping

import numpy as np

from .arrays import Array
from .colorimetry import luminance
from .operator import Choice, Levels, Parameter, Values

GREY_18_NITS = 26.0  # 18 % grey of a PQ master; Report ITU-R BT.2408-8, Table 1
SMALLEST_LEVEL = 1e-9  # cd/m2; keeps the gain of a black pixel finite

START = Parameter(
    name="start",
    unit="cd/m2",
    default=20.0,
    minimum=0.0,
    maximum=400.0,
    help="Where the shoulder starts; below it light is untouched. At or above the landing the curve is a hard clip.",
)
REACH = Parameter(
    name="reach",
    unit="stops",
    default=0.0,
    minimum=-3.0,
    maximum=3.0,
    help="How hard the shoulder is: the level that lands exactly, in stops about the master's peak. Less is harder.",
)
LANDING = Parameter(
    name="landing",
    unit="stops",
    default=0.0,
    minimum=-2.0,
    maximum=0.0,
    help="Where the shoulder lands, in stops about the target's peak.",
)
APPLICATION = Choice(
    name="application",
    default="max_rgb",
    options={
        "per_channel": "each channel on its own: saturated highlights pale and turn in hue",
        "max_rgb": "the largest channel drives all three: ratios are kept, no channel exceeds the landing",
        "luminance": "luminance drives all three: a saturated channel may exceed the target's peak",
    },
    help="Which level drives the curve.",
)
DESATURATION = Parameter(
    name="desaturation",
    unit="",
    default=0.0,
    minimum=0.0,
    maximum=1.0,
    help="How far highlights pale toward white, in proportion to how much the curve holds them back.",
)


def ceiling_of(levels: Levels, landing: float) -> float:
    """Return the level in cd/m2 on which a roll-off lands."""
    return levels.target_peak * 2.0**landing


def shoulder_of(p: Values) -> Mapping[str, float]:
    """Return base, room and span of a shoulder: where it starts, the room above in cd/m2, the input in rooms.

    A span of 1 means that there is nothing to compress, a room of 0 that the curve is a hard clip.
    """
    ceiling = ceiling_of(p.levels, p.landing)
    base = min(p.start, ceiling)
    room = ceiling - base
    span = (p.levels.source_peak * 2.0**p.reach - base) / room if room > 0.0 else 1.0
    return {"base": base, "room": room, "span": span if span > 1.0 + 1e-4 else 1.0}


def driving_level(light: Array, application: str) -> Array:
    """Return the level that drives the curve, (..., 3) for 'per_channel', else (..., 1); never negative."""
    if application == "per_channel":
        level = light
    elif application == "max_rgb":
        level = light.max(axis=-1, keepdims=True)
    else:
        level = luminance(light)[..., np.newaxis]
    return np.maximum(level, 0.0)


def carry(light: Array, drive: Array, mapped: Array, gain: float, desaturation: float, pivot: float = 0.0) -> Array:
    """Carry the curve's result to the picture, and let what it holds back pale.

    Parameters
    ----------
    light : ndarray (..., 3)
    drive, mapped : ndarray (..., 3) or (..., 1), the driving level before and after the curve
    gain : the curve's gain where it holds nothing back
    desaturation : 0..1; the share of chroma that a highlight loses is this times the share of level it has lost
    pivot : the level in cd/m2 at and below which nothing pales
    """
    result = mapped if drive.shape[-1] == 3 else light * (mapped / np.maximum(drive, SMALLEST_LEVEL))
    highest = np.maximum(drive.max(axis=-1, keepdims=True), SMALLEST_LEVEL)
    held_back = np.clip(1.0 - mapped.max(axis=-1, keepdims=True) / (gain * highest), 0.0, 1.0) * (highest > pivot)
    grey = luminance(result)[..., np.newaxis]
    return result + desaturation * held_back * (grey - result)
