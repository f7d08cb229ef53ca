"""Narrow and full signal range: between normalised R'G'B' and integer code values."""

import numpy as np

from .arrays import Array, Codes
from .errors import WrongCall, suggestion

NARROW = "narrow"
FULL = "full"
RANGES = (NARROW, FULL)
BIT_DEPTHS = (8, 10, 12, 16)


def scale_and_offset(bits: int, signal_range: str) -> tuple[float, float]:
    """Return (scale, offset) with code = scale * signal + offset.

    References
    ----------
    Recommendation ITU-R BT.2100-3, Table 9; BT.709-6, item 5.4, for 8 bits.

    Examples
    --------
    >>> scale_and_offset(10, "narrow")
    (876.0, 64.0)
    """
    if bits not in BIT_DEPTHS:
        raise WrongCall(f"{bits} bits are not supported; choose one of {', '.join(map(str, BIT_DEPTHS))}")
    if signal_range == NARROW:
        return 219.0 * 2.0 ** (bits - 8), 16.0 * 2.0 ** (bits - 8)
    if signal_range == FULL:
        return 2.0**bits - 1.0, 0.0
    raise WrongCall(f"signal range '{signal_range}' is not known; {suggestion(signal_range, list(RANGES))}")


def quantise(signal: Array, bits: int, signal_range: str) -> Codes:
    """Round a normalised R'G'B' signal to code values, half away from zero.

    Parameters
    ----------
    signal : ndarray, 0..1 nominal; narrow range keeps what lies below 0 and above 1 as far as codes exist

    Returns
    -------
    ndarray of uint16

    Examples
    --------
    >>> quantise(np.array([0.0, 0.75, 1.0]), 10, "narrow").tolist()
    [64, 721, 940]
    """
    scale, offset = scale_and_offset(bits, signal_range)
    code = np.floor(signal * scale + offset + 0.5)  # codes are never negative: this is the Round of BT.2100
    return np.clip(code, 0.0, 2.0**bits - 1.0).astype(np.uint16)


def expand(codes: Array | Codes, bits: int, signal_range: str) -> Array:
    """Return the normalised signal of code values, in float64 (float32 codes stay float32)."""
    scale, offset = scale_and_offset(bits, signal_range)
    if not np.issubdtype(codes.dtype, np.floating):
        codes = codes.astype(np.float64)
    return (codes - offset) / scale
