"""An encoding says how code values become light: transfer function, primaries, signal range, bit depth, levels."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from . import transfer as tf
from .arrays import Array, Codes
from .colorimetry import conversion_matrix, convert, primaries_named
from .errors import WrongCall, suggestion
from .signal_range import FULL, RANGES, expand, quantise, scale_and_offset

Flags = NDArray[np.bool_]

TRANSFERS = {
    "pq": "PQ (ST 2084)",
    "hlg": "HLG (BT.2100)",
    "bt1886": "BT.1886",
    "gamma2.2": "gamma 2.2",
    "gamma2.4": "gamma 2.4",
    "gamma2.6": "gamma 2.6",
    "srgb": "sRGB (IEC 61966-2-1)",
    "linear": "linear light",
}
GAMMAS = {"gamma2.2": 2.2, "gamma2.4": 2.4, "gamma2.6": 2.6}

LIGHT_CEILING = 65504.0
"""Light above this, +Inf included, is read as this: in cd/m2, the largest half-float, beyond any display."""

NEGATIVE_NITS = 1e-4
"""Negative light of this size, in cd/m2, is black by any measure: arithmetic and noise leave it."""

# Recommendation ITU-T H.273, Tables 2 and 3. Transfer 1, 6, 14 and 15 are one camera curve, shown on a BT.1886 display.
CICP_PRIMARIES = {1: "bt709", 9: "bt2020", 11: "p3-dci", 12: "p3-d65"}
CICP_TRANSFERS = {
    1: "bt1886",
    4: "gamma2.2",
    6: "bt1886",
    8: "linear",
    13: "srgb",
    14: "bt1886",
    15: "bt1886",
    16: "pq",
    18: "hlg",
}
CICP_UNSPECIFIED = 2
CICP_MATRIX_RGB = 0


@dataclass(frozen=True)
class Encoding:
    """How code values become light.

    Attributes
    ----------
    transfer : name in `TRANSFERS`
    primaries : name in `colorimetry.PRIMARIES`
    signal_range : 'narrow' or 'full'; matters for integer code values only
    bits : bit depth of integer code values; None for floating-point samples
    peak : nominal peak in cd/m2: of the mastering display for a master, Lw of the reference display for SDR
    black : black of that display in cd/m2 (Lb)
    unit : cd/m2 of the value 1.0; for 'linear' only
    """

    transfer: str
    primaries: str = "bt2020"
    signal_range: str = FULL
    bits: int | None = None
    peak: float = 1000.0
    black: float = 0.0
    unit: float = 1.0

    def __post_init__(self) -> None:
        """Refuse what is not a display or not a code; raises WrongCall with one sentence."""
        if self.transfer not in TRANSFERS:
            raise WrongCall(f"transfer '{self.transfer}' is not known; {suggestion(self.transfer, list(TRANSFERS))}")
        primaries_named(self.primaries)
        if self.bits is not None:
            scale_and_offset(self.bits, self.signal_range)
        elif self.signal_range not in RANGES:
            raise WrongCall(
                f"signal range '{self.signal_range}' is not known; {suggestion(self.signal_range, list(RANGES))}"
            )
        elif self.signal_range != FULL:
            raise WrongCall("narrow range needs integer code values; floating-point samples are full range")
        if not 1.0 <= self.peak <= 10000.0:
            raise WrongCall(f"peak = {self.peak:.9g} is outside 1..10000 cd/m2; give the display's peak luminance")
        if not 0.0 <= self.black <= 0.1 * self.peak:
            raise WrongCall(
                f"black = {self.black:.9g} is outside 0..{0.1 * self.peak:g} cd/m2, a tenth of the peak; "
                "give the display's black"
            )
        if not 1e-4 <= self.unit <= 10000.0:
            raise WrongCall(f"unit = {self.unit:.9g} is outside 0.0001..10000 cd/m2; give the cd/m2 of the value 1.0")
        if self.transfer == "hlg" and self.primaries != "bt2020":
            raise WrongCall("HLG is defined with BT.2020 primaries (BT.2100); use primaries bt2020")

    @property
    def title(self) -> str:
        """One line for a tile or a page."""
        parts = [TRANSFERS[self.transfer], primaries_named(self.primaries).title]
        if self.bits is not None:
            parts.append(f"{self.bits}-bit {self.signal_range}")
        if self.transfer == "linear":
            parts.append(f"1.0 = {self.unit:g} cd/m\u00b2")
        return ", ".join([*parts, f"peak {self.peak:g} cd/m\u00b2"])

    @property
    def cicp(self) -> tuple[int, int, int, int]:
        """H.273 code points of this encoding as R'G'B': primaries, transfer, matrix, full-range flag."""
        primaries = {name: code for code, name in CICP_PRIMARIES.items()}
        transfers = {name: code for code, name in reversed(CICP_TRANSFERS.items())}
        transfer = transfers.get(self.transfer, CICP_UNSPECIFIED)
        if self.transfer == "bt1886" and self.primaries == "bt2020":
            transfer = 15 if self.bits is not None and self.bits > 10 else 14
        return (
            primaries.get(self.primaries, CICP_UNSPECIFIED),
            transfer,
            CICP_MATRIX_RGB,
            int(self.signal_range == FULL),
        )


ENCODING_WORDS = "TRANSFER,PRIMARIES,RANGE or TRANSFER,PRIMARIES,RANGE,BITS, for example pq,bt2020,narrow"


def encoding_named(text: str, peak: float = 1000.0, black: float = 0.0) -> Encoding:
    """Return the encoding of code values that a user names, 10 bits unless said; raises WrongCall.

    Examples
    --------
    >>> encoding_named("pq,p3-d65,full,12").title
    'PQ (ST 2084), P3-D65, 12-bit full, peak 1000 cd/m²'
    """
    words = [word.strip() for word in text.split(",")]
    if len(words) not in (3, 4) or not (words[3:] or ["10"])[0].isdecimal():
        raise WrongCall(f"'{text}' is not understood; write it as {ENCODING_WORDS}")
    transfer, primaries, signal_range, *bits = words
    try:
        return Encoding(transfer, primaries, signal_range, int(bits[0] if bits else "10"), peak, black)
    except WrongCall as fault:
        raise WrongCall(f"'{text}': {fault}") from None


def sdr_target(peak: float = 100.0, black: float = 0.0) -> Encoding:
    """Return the usual SDR target: BT.709 primaries, BT.1886, 10 bits, narrow range."""
    return Encoding("bt1886", "bt709", "narrow", 10, peak, black)


def signal_to_light(signal: Array, encoding: Encoding) -> Array:
    """Decode a normalised signal (..., 3) to light in the encoding's own primaries, cd/m2."""
    if encoding.transfer == "pq":
        return tf.pq_eotf(signal)
    if encoding.transfer == "hlg":
        return tf.hlg_eotf(signal, encoding.peak, encoding.black)
    if encoding.transfer == "bt1886":
        return tf.bt1886_eotf(signal, encoding.peak, encoding.black)
    if encoding.transfer == "srgb":
        return tf.srgb_eotf(signal, encoding.peak)
    if encoding.transfer == "linear":
        return np.asarray(signal * encoding.unit)
    return tf.gamma_eotf(signal, GAMMAS[encoding.transfer], encoding.peak)


def light_to_signal(light: Array, encoding: Encoding) -> Array:
    """Encode light (..., 3) in the encoding's own primaries as a normalised signal; not clipped."""
    if encoding.transfer == "pq":
        return tf.pq_eotf_inverse(light)
    if encoding.transfer == "hlg":
        return tf.hlg_eotf_inverse(light, encoding.peak, encoding.black)
    if encoding.transfer == "bt1886":
        return tf.bt1886_eotf_inverse(light, encoding.peak, encoding.black)
    if encoding.transfer == "srgb":
        return tf.srgb_eotf_inverse(light, encoding.peak)
    if encoding.transfer == "linear":
        return np.asarray(light / encoding.unit)
    return tf.gamma_eotf_inverse(light, GAMMAS[encoding.transfer], encoding.peak)


def decode(samples: Array | Codes, encoding: Encoding) -> Array:
    """Decode a picture's samples (..., 3) to light: BT.2020 primaries, cd/m2, float64.

    This is the only place where non-finite and negative light are treated: NaN and -Inf become 0, +Inf becomes the most
    that the transfer function can say, light above `LIGHT_CEILING` becomes that level, and negative light (outside the
    BT.2020 volume) becomes 0.

    Parameters
    ----------
    samples : integer code values when `encoding.bits` is set, else floating-point signal or linear values
    """
    if samples.dtype == np.uint16 and has_light_of_codes(encoding):
        light = light_of_codes(encoding)[samples]
    elif encoding.bits is not None:
        light = _light_of_signal(expand(samples, encoding.bits, encoding.signal_range), encoding)
    else:
        with np.errstate(invalid="ignore"):  # a signalling NaN is a NaN like any other
            light = _light_of_signal(samples.astype(np.float64), encoding)
    if encoding.primaries != "bt2020":
        light = convert(light, conversion_matrix(encoding.primaries, "bt2020"))
    return np.clip(light, 0.0, LIGHT_CEILING)


def odd_pixels(samples: Array | Codes, encoding: Encoding) -> tuple[Flags, Flags, Flags]:
    """Return which pixels hold something of which `decode` makes other light than the samples say.

    Parameters
    ----------
    samples : floating-point signal or linear values (..., 3)

    Returns
    -------
    three arrays (...) of bool
        NaN; an infinity and no NaN; light below -`NEGATIVE_NITS` in a component of BT.2020, and neither of the others.
    """
    is_nan: Flags = np.asarray(np.isnan(samples).any(axis=-1))
    is_infinite: Flags = np.isinf(samples).any(axis=-1) & ~is_nan
    with np.errstate(invalid="ignore"):
        light = _light_of_signal(samples.astype(np.float64), encoding)
    if encoding.primaries != "bt2020":
        light = convert(light, conversion_matrix(encoding.primaries, "bt2020"))
    is_negative: Flags = (light < -NEGATIVE_NITS).any(axis=-1) & ~is_nan & ~is_infinite
    return is_nan, is_infinite, is_negative


def _light_of_signal(signal: Array, encoding: Encoding) -> Array:
    """Return light in the encoding's own primaries, finite; what is not a number or infinite is treated here."""
    # Infinities are kept apart from the arithmetic: Inf - Inf in the matrix would make NaN of a bright pixel.
    top = LIGHT_CEILING / min(encoding.unit, 1.0) if encoding.transfer == "linear" else LIGHT_CEILING
    return signal_to_light(np.clip(np.nan_to_num(signal, nan=0.0, posinf=top, neginf=0.0), -top, top), encoding)


def has_light_of_codes(encoding: Encoding) -> bool:
    """Say whether the light of a channel follows from its code alone: the encoding has codes, and is not HLG."""
    return encoding.bits is not None and encoding.transfer != "hlg"


@lru_cache(maxsize=8)
def light_of_codes(encoding: Encoding) -> Array:
    """Return the light of every 16-bit code (65536,) in the encoding's own primaries, where `has_light_of_codes`."""
    assert encoding.bits is not None  # has_light_of_codes
    codes = np.arange(1 << 16, dtype=np.uint16)
    return _light_of_signal(expand(codes, encoding.bits, encoding.signal_range), encoding)


def encode(light: Array, encoding: Encoding) -> Array:
    """Encode light in the encoding's own primaries as R'G'B' signal, clipped to 0..1."""
    return np.clip(light_to_signal(light, encoding), 0.0, 1.0)


def quantise_signal(signal: Array, encoding: Encoding) -> Codes:
    """Return the code values of a signal at the encoding's bits and range; raises WrongCall without bits."""
    if encoding.bits is None:
        raise WrongCall("code values need a bit depth; give the target 8, 10, 12 or 16 bits")
    return quantise(signal, encoding.bits, encoding.signal_range)
