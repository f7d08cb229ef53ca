"""What follows from a rendition on the present master: its chain, anchors and curve, or the sentence why there is none.

Each is computed once for a rendition and kept until it or the master changes. No GL and no imgui.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from tonemap.anchors import Anchor, anchors_of, neutral_result
from tonemap.arrays import Array
from tonemap.encoding import Encoding
from tonemap.errors import TrimbenchError
from tonemap.host import Host, Installed
from tonemap.operator import Operator, Statistics
from tonemap.reference import apply_operator
from tonemap.rendition import Chain, chain_of, needs_of
from tonemap.transfer import pq_eotf, pq_eotf_inverse

from .state import Master, Slot

CURVE_POINTS = 192
Operators = tuple[Installed | TrimbenchError | None, ...]

SLOW = 0.1
"""Seconds of processor time (other work on the machine is not the operator's); what a hand takes for at once, common
practice, no source."""

AXIS_FLOOR = 0.05
"""cd/m2 where the curve's two axes begin."""


@dataclass(frozen=True, eq=False)
class Curve:
    """Neutral levels of the master and where they land, both in cd/m2."""

    master: Array
    result: Array


@dataclass(frozen=True, eq=False)
class Working:
    """A rendition that works on this master (chain, anchors, curve), or the sentence about why it does not.

    Attributes
    ----------
    notice : the sentence about an operator that makes every move of a slider wait
    is_measuring : whether an operator needs statistics that are not there yet, and others stand for them
    """

    slot: Slot
    encoding: Encoding
    operators: Operators
    statistics: Statistics | TrimbenchError | None = None
    chain: Chain | None = None
    anchors: tuple[Anchor, ...] = ()
    curve: Curve | None = None
    fault: str | None = None
    notice: str | None = None
    is_measuring: bool = False


class Workings:
    """The workings of every slot, computed when they are asked for."""

    def __init__(self, host: Host) -> None:
        self.host = host
        self._known: dict[int, Working] = {}

    def of(self, slot: Slot, master: Master, measured: Callable[[], Statistics | None] = lambda: None) -> Working:
        """Return the working of a slot on a master.

        Parameters
        ----------
        measured : returns the statistics of the shot; None while there are none. Asked only for operators that need
            them; what it raises is the fault
        """
        statistics: Statistics | TrimbenchError | None = None
        is_needed = False
        try:
            is_needed = bool(needs_of(slot.rendition, self.host))
            statistics = measured() if is_needed else None
        except TrimbenchError as fault:  # of an operator it is said by the working
            statistics = fault if is_needed else None
        operators = self._operators(slot)
        known = self._known.get(slot.key)
        if (
            known is None
            or known.slot is not slot
            or known.encoding != master.encoding
            or str(known.statistics) != str(statistics)
            or known.operators != operators
        ):
            known = self._compute(slot, master.encoding, operators, statistics)
            known = replace(known, is_measuring=is_needed and statistics is None)
            self._known[slot.key] = known
        return known

    def _operators(self, slot: Slot) -> Operators:
        """Return what is known of a slot's operators: after a save, that of the saved one is another."""
        return tuple(self.host.found(getattr(slot.rendition, stage)) for stage in ("tone", "gamut"))

    def _compute(
        self, slot: Slot, encoding: Encoding, operators: Operators, statistics: Statistics | TrimbenchError | None
    ) -> Working:
        given = slot, encoding, operators, statistics
        if isinstance(statistics, TrimbenchError):
            return Working(*given, fault=str(statistics))
        start = time.thread_time()
        try:
            chain = chain_of(slot.rendition, encoding, self.host, statistics)
            with np.errstate(all="ignore"):  # what an operator makes of it is checked by its result
                anchors, curve = anchors_of(chain), curve_of(chain)
                notice = slow_operator(chain) if time.thread_time() - start > SLOW else None
        except TrimbenchError as fault:
            return Working(*given, fault=str(fault))
        return Working(*given, chain, anchors, curve, notice=notice)


def slow_operator(chain: Chain) -> str | None:
    """Return the sentence about an operator that keeps a hand on its slider waiting in Python, if one does."""
    light = np.repeat(pq_eotf(np.linspace(0.0, 0.75, CURVE_POINTS))[:, np.newaxis], 3, axis=1)
    again = replace(chain)
    for stage in ("tone", "gamut"):
        start = time.thread_time()
        operator: Operator = getattr(again, stage)
        apply_operator(operator, light, getattr(again, f"{stage}_values"))
        taken = time.thread_time() - start
        if taken > SLOW:
            file = chain.host.installed(operator.name).python_file
            return (
                f"operator '{operator.name}': every change waits {taken:.2g} s for Python that computes {len(light)} "
                f"pixels; more than {SLOW:g} s is too slow for a slider ({file})"
            )
    return None


def curve_of(chain: Chain) -> Curve:
    """Compute the curve of a rendition on neutral levels, evenly spaced in PQ up to the master's peak."""
    ends = pq_eotf_inverse(np.array([min(AXIS_FLOOR, 0.5 * chain.master.peak), chain.master.peak]))
    levels = pq_eotf(np.linspace(ends[0], ends[1], CURVE_POINTS))
    _, result = neutral_result(levels, chain)
    return Curve(levels, result)
