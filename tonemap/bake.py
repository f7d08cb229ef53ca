"""Bakes a rendition into a LUT: computes the nodes by an engine, and measures what lies between them."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from .arrays import Array
from .cdl import Cdl, apply_cdl
from .distance import Distance, distance_between
from .lut import TETRAHEDRAL, Lut, apply_lut, nodes_of
from .lut_input import LutInput
from .parity import Engine
from .picture import Picture
from .rendition import Chain, chain_of

SIZES = (17, 33, 65)
SHAPER_NODES = 4096
PEAK_SHARE = 15.0 / 16.0
"""Of a side's steps that lie below the master's peak: a whole number at every size, so that the peak is a node."""
GRID_NODES = 70
"""Of the grid of measurement a side; 69 steps share no factor with the 16, 32 and 64 of a cube's side, so that only the
ends of a side can fall on a cube's nodes."""
DECIMALS = 7
"""Of a number in a LUT file: half a unit is a twenty-thousandth of a 10-bit code."""


@dataclass(frozen=True)
class Trial:
    """Colours on which a LUT is measured: as input values of the LUT, and what the trim makes of them."""

    values: Array
    exact: Array


def bake(chain: Chain, lut_input: LutInput, size: int, engine: Engine, *, shaper: bool = True) -> Lut:
    """Bake a rendition, with its numbers rounded as the files hold them.

    Parameters
    ----------
    chain : of the rendition; the master's peak and black are taken from `lut_input`
    size : nodes a side
    shaper : whether a shaper lays the master's peak on a node; without it the nodes lie in equal steps of the signal

    Returns
    -------
    Lut
    """
    curve = peak_shaper(lut_input) if shaper else None
    side = nodes_of(curve, size) * lut_input.top_signal
    nodes = np.stack(np.meshgrid(side, side, side, indexing="ij"), axis=-1).reshape(size, -1, 3)
    table = engine.signal(Picture(nodes, lut_input.signal_encoding), chain_for(chain, lut_input))
    rounded = np.round(table.astype(np.float64), DECIMALS).reshape(size, size, size, 3)
    return Lut(rounded, curve, lut_input.low, lut_input.high)


def chain_for(chain: Chain, lut_input: LutInput) -> Chain:
    """Return the chain of the same rendition for a master that is the signal of the LUT's input."""
    return chain_of(chain.rendition, lut_input.signal_encoding, chain.host, chain.statistics)


def peak_shaper(lut_input: LutInput) -> Array | None:
    """Return a shaper of two straight lines that meet at the master's peak; None where the peak is that high anyway.

    Tone operators bend sharply at the peak. Measured over the grid up to 1000 cd/m2 with 33 nodes, BT.2390 and
    `gamut_hue`: 99 % within 3.8 Delta E ITP; without a shaper 5.2; with one that follows the grey's own curve for a
    fifth, 11.
    """
    place = lut_input.peak_place
    if place >= PEAK_SHARE:
        return None
    line = np.interp(np.linspace(0.0, 1.0, SHAPER_NODES), [0.0, place, 1.0], [0.0, PEAK_SHARE, 1.0])
    return np.round(line, DECIMALS)


def measurement_grid(low: float, high: float) -> Array:
    """Return the colours of the grid of measurement as a picture (n, m, 3): every mix of values from low to high."""
    side = np.linspace(low, high, GRID_NODES)
    return np.stack(np.meshgrid(side, side, side, indexing="ij"), axis=-1).reshape(GRID_NODES, -1, 3)


def grid_trial(chain: Chain, lut_input: LutInput, engine: Engine) -> Trial:
    """Return the trial over a dense grid of signals from black to the master's peak on every channel."""
    signal = measurement_grid(0.0, lut_input.peak_place * lut_input.top_signal)
    exact = engine.signal(Picture(signal, lut_input.signal_encoding), chain_for(chain, lut_input))
    return Trial(lut_input.values_of_signal(signal), exact)


def picture_trial(chain: Chain, lut_input: LutInput, engine: Engine, picture: Picture) -> Trial:
    """Return the trial over every pixel of a picture; the exact trim is of the picture in its own encoding."""
    exact = engine.signal(picture, chain_of(chain.rendition, picture.encoding, chain.host, chain.statistics))
    return Trial(lut_input.values_of(picture), exact)


def errors_of(
    lut: Lut, trials: Mapping[str, Trial], chain: Chain, *, interpolation: str = TETRAHEDRAL, cdl: Cdl | None = None
) -> dict[str, Distance]:
    """Measure a LUT on each trial, followed by a CDL where the LUT leaves the output adjustments to one."""
    target = chain.rendition.target
    found = {}
    for name, trial in trials.items():
        signal = apply_lut(lut, trial.values, interpolation)
        found[name] = distance_between(trial.exact, signal if cdl is None else apply_cdl(signal, cdl), target)
    return found


def without_output_adjustments(chain: Chain) -> Chain:
    """Return the chain whose LUT a CDL of the output adjustments completes."""
    return chain_of(replace(chain.rendition, output=Cdl()), chain.master, chain.host, chain.statistics)
