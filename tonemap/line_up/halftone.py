"""Halftones of lines: what flat grey equals black and bright lines by turns, and how that tells one curve from another.

Light of lines that are seen as one is the mean of theirs, whatever the curve of the screen is; which flat code has that
light depends on the curve. So a word in the flat code of one curve sinks into the lines on a screen with that curve,
and stands out on every other. The dark lines are black: there errors of a screen add next to nothing to the light.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..encoding import Encoding, light_to_signal, quantise_signal, signal_to_light
from ..signal_range import expand

REACH = 0.03
"""Of signal: how far the code of bright lines may be moved so that the flat codes need little rounding."""

TRIALS = 64


@dataclass(frozen=True)
class Halftone:
    """Lines, and the flat code for each of some curves.

    Attributes
    ----------
    dark, bright : codes of the lines
    flat : for each curve the code of the same light
    """

    dark: int
    bright: int
    flat: tuple[int, ...]


def halftone(signal: float, curves: Sequence[Encoding], encoding: Encoding) -> Halftone:
    """Match flat codes with lines.

    Parameters
    ----------
    signal : of the bright lines, nearly; the code is the one near it whose matches are the closest
    curves : those of the screens
    encoding : that of the codes: bits and range

    Returns
    -------
    Halftone
    """
    dark, low, high = (int(code) for code in _codes(np.array([0.0, signal - REACH, signal + REACH]), encoding))
    trials = [
        _matched(dark, bright, curves, encoding) for bright in range(low, high + 1, max((high - low) // TRIALS, 1))
    ]
    return min(trials, key=lambda each: _worst(each, curves, encoding))


def contrast(flat: int, lines: Halftone, curve: Encoding, encoding: Encoding) -> float:
    """Return by which share a flat code has more light than the lines, on a screen with a curve: the Weber contrast."""
    mean = _light_of_lines(lines.dark, lines.bright, curve, encoding)
    return _light(flat, curve, encoding) / mean - 1.0


def mean_light(lines: Halftone, curve: Encoding, encoding: Encoding) -> float:
    """Return the light of the lines in cd/m2 on a screen with a curve."""
    return _light_of_lines(lines.dark, lines.bright, curve, encoding)


def curve_like(encoding: Encoding, transfer: str) -> Encoding:
    """Return a screen with another curve: of 1000 cd/m2 for PQ and HLG, else of 100."""
    is_hdr = transfer in ("pq", "hlg")
    primaries, peak = ("bt2020", 1000.0) if is_hdr else ("bt709", 100.0)
    return replace(encoding, transfer=transfer, primaries=primaries, peak=peak, black=0.0)


def _matched(dark: int, bright: int, curves: Sequence[Encoding], encoding: Encoding) -> Halftone:
    signals = [
        light_to_signal(np.full(3, _light_of_lines(dark, bright, curve, encoding)), curve)[1] for curve in curves
    ]
    return Halftone(dark, bright, tuple(int(code) for code in _codes(np.array(signals), encoding)))


def _worst(lines: Halftone, curves: Sequence[Encoding], encoding: Encoding) -> float:
    return max(abs(contrast(flat, lines, curve, encoding)) for flat, curve in zip(lines.flat, curves, strict=True))


def _light_of_lines(dark: int, bright: int, curve: Encoding, encoding: Encoding) -> float:
    return 0.5 * (_light(dark, curve, encoding) + _light(bright, curve, encoding))


def _light(code: int, curve: Encoding, encoding: Encoding) -> float:
    assert encoding.bits is not None  # a plate has codes
    signal = expand(np.full(3, code, np.uint16), encoding.bits, encoding.signal_range)
    return float(signal_to_light(signal, curve)[1])


def _codes(signal: np.ndarray, encoding: Encoding) -> np.ndarray:
    return quantise_signal(signal, encoding)
