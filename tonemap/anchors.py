"""Anchors: where a rendition puts 18 % grey, reference white and the master's peak."""

from dataclasses import dataclass, replace

import numpy as np

from .encoding import signal_to_light
from .picture import light_picture
from .reference import render_signal
from .rendition import Chain, Rendition, chain_of

# Report ITU-R BT.2408-8, Table 1.
GREY_NITS = 26.0
WHITE_NITS = 203.0


@dataclass(frozen=True)
class Anchor:
    """One neutral level of the master and where it lands.

    Attributes
    ----------
    name : 'grey', 'white' or 'peak'
    master : cd/m2 in the master
    nits : cd/m2 on the target's reference display
    signal : of the target, 0..1
    """

    name: str
    master: float
    nits: float
    signal: float


def anchors_of(chain: Chain) -> tuple[Anchor, Anchor, Anchor]:
    """Return where a rendition puts 18 % grey (26 cd/m2), reference white (203 cd/m2) and the master's peak."""
    levels = {"grey": GREY_NITS, "white": WHITE_NITS, "peak": chain.master.peak}
    signal, light = neutral_result(np.array(list(levels.values())), chain)
    grey, white, peak = (
        Anchor(name, master, float(light[i]), float(signal[i])) for i, (name, master) in enumerate(levels.items())
    )
    return grey, white, peak


def neutral_result(levels: np.ndarray, chain: Chain) -> tuple[np.ndarray, np.ndarray]:
    """Map neutral levels (n,) in cd/m2; returns the target's luma-equal signal (n,) and its light in cd/m2 (n,)."""
    neutral = light_picture(
        np.repeat(levels[np.newaxis, :, np.newaxis], 3, axis=2), chain.master.peak, chain.master.black
    )
    signal = render_signal(neutral.samples, replace(chain, master=neutral.encoding))
    light = signal_to_light(signal, chain.rendition.target)
    return signal[0, :, 1], light[0, :, 1]


def match_anchor(rendition: Rendition, chain: Chain, nits: float, anchor: str = "grey") -> Rendition:
    """Return the rendition with the exposure that puts an anchor at a level of the target.

    The exposure is searched within the range of its parameter; where the level can't be reached, the nearest end stays.
    """
    low, high = -8.0, 8.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        tried = _exposed(rendition, middle)
        reached = next(
            item
            for item in anchors_of(chain_of(tried, chain.master, chain.host, chain.statistics))
            if item.name == anchor
        ).nits
        low, high = (middle, high) if reached < nits else (low, middle)
    return _exposed(rendition, round(0.5 * (low + high), 6))


def _exposed(rendition: Rendition, exposure: float) -> Rendition:
    return replace(rendition, input=replace(rendition.input, exposure=exposure))
