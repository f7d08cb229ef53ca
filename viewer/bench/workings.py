"""What follows from a rendition on the present master: its chain, anchors and curve, or the sentence why there is none.

Each is computed once for a rendition and kept until it or the master changes. No GL and no imgui.
"""

from dataclasses import dataclass

import numpy as np

from tonemap.anchors import Anchor, anchors_of, neutral_result
from tonemap.arrays import Array
from tonemap.encoding import Encoding
from tonemap.errors import TrimbenchError
from tonemap.host import Host
from tonemap.rendition import Chain, chain_of
from tonemap.transfer import pq_eotf, pq_eotf_inverse

from .state import Slot

CURVE_POINTS = 192
AXIS_FLOOR = 0.05
"""cd/m2 where the curve's two axes begin."""


@dataclass(frozen=True, eq=False)
class Curve:
    """Neutral levels of the master and where they land, both in cd/m2."""

    master: Array
    result: Array


@dataclass(frozen=True, eq=False)
class Working:
    """A rendition that works on this master (chain, anchors, curve), or the sentence about why it does not."""

    slot: Slot
    encoding: Encoding
    chain: Chain | None = None
    anchors: tuple[Anchor, ...] = ()
    curve: Curve | None = None
    fault: str | None = None


class Workings:
    """The workings of every slot, computed when they are asked for."""

    def __init__(self, host: Host) -> None:
        self.host = host
        self._known: dict[int, Working] = {}

    def of(self, slot: Slot, encoding: Encoding) -> Working:
        """Return the working of a slot on a master with this encoding."""
        known = self._known.get(slot.key)
        if known is None or known.slot is not slot or known.encoding != encoding:
            known = self._known[slot.key] = self._compute(slot, encoding)
        return known

    def _compute(self, slot: Slot, encoding: Encoding) -> Working:
        try:
            chain = chain_of(slot.rendition, encoding, self.host)
            with np.errstate(all="ignore"):  # what an operator makes of it is checked by its result
                anchors, curve = anchors_of(chain), curve_of(chain)
            return Working(slot, encoding, chain, anchors, curve)
        except TrimbenchError as fault:
            return Working(slot, encoding, fault=str(fault))


def curve_of(chain: Chain) -> Curve:
    """Compute the curve of a rendition on neutral levels, evenly spaced in PQ up to the master's peak."""
    ends = pq_eotf_inverse(np.array([min(AXIS_FLOOR, 0.5 * chain.master.peak), chain.master.peak]))
    levels = pq_eotf(np.linspace(ends[0], ends[1], CURVE_POINTS))
    _, result = neutral_result(levels, chain)
    return Curve(levels, result)
