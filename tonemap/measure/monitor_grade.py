"""Tolerances of a published grade of monitors, with how well each value is known to us."""

from collections.abc import Callable
from dataclasses import dataclass

from .monitor import MonitorFigures

CONFIRMED = "confirmed on the publisher's page"
SECONDARY = "from one secondary source; check the document before relying on it"


@dataclass(frozen=True)
class Tolerance:
    """One requirement of a grade.

    Attributes
    ----------
    low, high : what is allowed, both included; None where that side is free
    evidence : `CONFIRMED` or `SECONDARY`
    """

    name: str
    unit: str
    low: float | None
    high: float | None
    evidence: str
    figure: Callable[[MonitorFigures], float | None]
    note: str = ""


@dataclass(frozen=True)
class Verdict:
    """A requirement beside what was measured; `is_met` is None when the readings don't say."""

    name: str
    unit: str
    low: float | None
    high: float | None
    measured: float | None
    is_met: bool | None
    evidence: str
    note: str


@dataclass(frozen=True)
class Grade:
    """A published grade."""

    title: str
    source: str
    tolerances: tuple[Tolerance, ...]


_WHITE = Tolerance(
    "white point",
    "\u0394u*v*",
    None,
    1.3,
    CONFIRMED,
    lambda figures: figures.white_error_luv,
    "stated for large areas (section 1.5.14 and the corrigendum to Annex C); applied here to the white patch",
)

# EBU Tech 3320 v4.1.
GRADES = {
    "ebu-3320-grade-1-sdr": Grade(
        "EBU Tech 3320 grade 1, SDR",
        "EBU Tech 3320 v4.1",
        (
            _WHITE,
            Tolerance("white luminance", "cd/m\u00b2", 70.0, 100.0, SECONDARY, lambda figures: figures.white_nits),
            Tolerance("black", "cd/m\u00b2", None, 0.05, SECONDARY, lambda figures: figures.black_nits),
            Tolerance("sequential contrast", "", 2000.0, None, SECONDARY, lambda figures: figures.contrast),
            Tolerance("gamma", "", 2.30, 2.50, SECONDARY, lambda figures: figures.gamma),
        ),
    ),
    "ebu-3320-grade-1-hdr": Grade(
        "EBU Tech 3320 grade 1, HDR",
        "EBU Tech 3320 v4.1",
        (
            _WHITE,
            Tolerance("peak", "cd/m\u00b2", 1000.0, None, SECONDARY, lambda figures: figures.peak_nits),
            Tolerance("black", "cd/m\u00b2", None, 0.005, SECONDARY, lambda figures: figures.black_nits),
        ),
    ),
}


def judge(figures: MonitorFigures, grade: Grade) -> tuple[Verdict, ...]:
    """Compare a monitor's figures with the tolerances of a grade."""
    return tuple(_verdict(tolerance, tolerance.figure(figures)) for tolerance in grade.tolerances)


def _verdict(tolerance: Tolerance, measured: float | None) -> Verdict:
    low, high = tolerance.low, tolerance.high
    met = None
    if measured is not None:
        met = (low is None or measured >= low) and (high is None or measured <= high)
    return Verdict(tolerance.name, tolerance.unit, low, high, measured, met, tolerance.evidence, tolerance.note)
