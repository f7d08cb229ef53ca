"""What a LUT is fed with: an encoding, and the numbers in which its code values come."""

from dataclasses import dataclass, replace

import numpy as np

from .arrays import Array
from .colorimetry import conversion_matrix, convert
from .encoding import Encoding, decode, encoding_named, light_to_signal
from .errors import WrongCall
from .picture import Picture
from .signal_range import FULL, expand, scale_and_offset

DEFAULT_BITS = 10


@dataclass(frozen=True)
class LutInput:
    """The input of a LUT: code values of an encoding, as a share of the largest code that its bits can say.

    Attributes
    ----------
    encoding : with bits; peak and black are those of the master
    """

    encoding: Encoding

    def __post_init__(self) -> None:
        """Refuse what has no codes; raises WrongCall."""
        if self.encoding.transfer == "linear" or self.encoding.bits is None:
            raise WrongCall("a LUT is fed with code values of a signal, not with linear light; choose pq or hlg")

    @property
    def signal_encoding(self) -> Encoding:
        """The encoding of the signal behind the codes: 0..1 without bits."""
        return replace(self.encoding, bits=None, signal_range=FULL)

    @property
    def top_signal(self) -> float:
        """The largest signal that means something: 1, and the largest code's where narrow range goes on above white.

        PQ is defined to 1 only (ST 2084).
        """
        if self.encoding.transfer == "pq":
            return 1.0
        return float(expand(np.array([self._top_code]), self._bits, self.encoding.signal_range)[0])

    @property
    def low(self) -> float:
        """The input value of black: the signal 0."""
        return float(self.values_of_signal(np.array(0.0)))

    @property
    def high(self) -> float:
        """The input value of the largest signal."""
        return float(self.values_of_signal(np.array(self.top_signal)))

    @property
    def peak_place(self) -> float:
        """Where the master's peak on all channels lies between low and high, 0..1."""
        signal = light_to_signal(np.full(3, self.encoding.peak), self.signal_encoding)[0]
        return min(float(signal) / self.top_signal, 1.0)

    @property
    def title(self) -> str:
        """Two sentences for a file's notes."""
        code_low, code_high = self.low * self._top_code, self.high * self._top_code
        return (
            f"{self.encoding.title}: the input value is the {self._bits}-bit code / {self._top_code}. "
            f"Codes below {code_low:.0f} are read as {code_low:.0f}, above {code_high:.0f} as {code_high:.0f}."
        )

    def values_of_signal(self, signal: Array) -> Array:
        """Return the input values of a signal; outside 0..1 too."""
        scale, offset = scale_and_offset(self._bits, self.encoding.signal_range)
        return np.asarray((signal * scale + offset) / self._top_code)

    def values_of(self, picture: Picture) -> Array:
        """Return a picture as input values, float64, not quantised; from another encoding by way of light."""
        own, master = self.signal_encoding, picture.encoding
        signal: Array
        if replace(master, bits=None, signal_range=FULL) != own:
            light = convert(decode(picture.samples, master), conversion_matrix("bt2020", own.primaries))
            signal = light_to_signal(light, own)
        elif master.bits is None:
            signal = np.asarray(picture.samples, np.float64)
        else:
            signal = expand(picture.samples, master.bits, master.signal_range)
        return self.values_of_signal(np.nan_to_num(signal, nan=0.0, posinf=self.top_signal, neginf=0.0))

    @property
    def _bits(self) -> int:
        return self.encoding.bits or DEFAULT_BITS

    @property
    def _top_code(self) -> int:
        return (1 << self._bits) - 1


def input_for(master: Encoding, stored: Encoding | None = None) -> LutInput:
    """Return the input of a LUT for a master: its own encoding; for a linear one, PQ in BT.2020, 10 bits, full range.

    Parameters
    ----------
    stored : the encoding of the samples in the file, where the pictures that are read from it have no bits
    """
    if master.transfer == "linear":
        return LutInput(Encoding("pq", "bt2020", FULL, DEFAULT_BITS, master.peak, master.black))
    codes = master if master.bits is not None or stored is None else stored
    if codes.bits is None:
        codes = replace(codes, signal_range=FULL, bits=DEFAULT_BITS)
    return LutInput(replace(master, bits=codes.bits, signal_range=codes.signal_range))


def input_named(text: str, peak: float = 1000.0, black: float = 0.0) -> LutInput:
    """Return the input that a user names: 'pq,bt2020,narrow' or 'pq,p3-d65,full,12'; raises WrongCall.

    Examples
    --------
    >>> round(input_named("pq,bt2020,narrow").high, 6)
    0.918866
    """
    try:
        encoding = encoding_named(text, peak, black)
    except WrongCall as fault:
        raise WrongCall(f"the input {fault}") from None
    try:
        return LutInput(encoding)
    except WrongCall as fault:
        raise WrongCall(f"the input '{text}': {fault}") from None
