"""The description of the screen: how light becomes its signal, and what it can't show."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

import numpy as np

from .arrays import Array
from .colorimetry import conversion_matrix, convert, primaries_named
from .encoding import TRANSFERS, Encoding, light_to_signal
from .errors import WrongCall, suggestion

SDR, PQ = "sdr", "pq"
SIGNALS = {SDR: "SDR", PQ: "PQ"}
SDR_TRANSFERS = ("bt1886", "gamma2.2", "gamma2.4", "srgb")
MONITOR_PRIMARIES = ("bt709", "p3-d65", "bt2020")
BITS = (8, 10)
PEAKS = {SDR: (40.0, 1000.0), PQ: (100.0, 10000.0)}
WHITES = (20.0, 500.0)
"""Range in cd/m2 of the whites at which SDR pictures and the interface may be shown on a monitor in PQ."""

BRIGHT = 1000.0
"""A peak above this, in cd/m2, asks for the caution before the monitor is first driven in PQ."""


@dataclass(frozen=True)
class Monitor:
    """A screen in the mode that its owner put it in; nothing here switches a mode or finds one out.

    Attributes
    ----------
    signal : SDR or PQ
    primaries : those of the signal: a name in `MONITOR_PRIMARIES`
    peak : cd/m2 that it reaches; of an SDR monitor, its white
    black : cd/m2
    bits : bits a channel of the signal
    transfer : of an SDR monitor; a name in `SDR_TRANSFERS`
    sdr_white : cd/m2 of the white of SDR pictures on a monitor in PQ; None for that of each rendition's own target
    interface_white : cd/m2 of the interface's white on a monitor in PQ

    Raises
    ------
    WrongCall
        For a screen that there can't be, with what is allowed.
    """

    signal: str = SDR
    primaries: str = "bt709"
    peak: float = 100.0
    black: float = 0.0
    bits: int = 8
    transfer: str = "bt1886"
    sdr_white: float | None = None
    interface_white: float = 100.0

    def __post_init__(self) -> None:
        """Refuse what is no screen."""
        for part, known in (
            ("signal", tuple(SIGNALS)),
            ("primaries", MONITOR_PRIMARIES),
            ("transfer", SDR_TRANSFERS),
            ("bits", BITS),
        ):
            _known(part, getattr(self, part), known)
        _within("peak", self.peak, *PEAKS[self.signal])
        _within("black", self.black, 0.0, 0.01 * self.peak)
        _within("interface_white", self.interface_white, *WHITES)
        if self.sdr_white is not None:
            _within("sdr_white", self.sdr_white, *WHITES)

    @classmethod
    def from_dict(cls, entries: Mapping[str, Any]) -> "Monitor":
        """Make a monitor from what `to_dict` gave; raises WrongCall for what it can't be."""
        known = [field.name for field in fields(cls)]
        for name in entries:
            if name not in known:
                raise WrongCall(f"monitor: '{name}' is not known; {suggestion(name, known)}")
        return cls(**{name: _number(name, value) for name, value in entries.items()})

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for a settings file; None for what is not set."""
        return asdict(self)

    @property
    def is_pq(self) -> bool:
        """Whether its signal is PQ, so that it shows light as it is."""
        return self.signal == PQ

    @property
    def encoding(self) -> Encoding:
        """What its signal is encoded for."""
        transfer = "pq" if self.is_pq else self.transfer
        return Encoding(transfer, self.primaries, peak=self.peak, black=self.black)

    @property
    def title(self) -> str:
        """A few words for the line of status, without the bits."""
        primaries = primaries_named(self.primaries).title
        if self.is_pq:
            return f"PQ, {primaries}, to {self.peak:g} cd/m\u00b2"
        return f"SDR, {TRANSFERS[self.transfer].split(' (')[0]}, {primaries}, white {self.peak:g} cd/m\u00b2"

    @property
    def sentence(self) -> str:
        """What it is and how pictures are shown on it, in full."""
        start = f"{self.title}, black {self.black:g} cd/m\u00b2, {self.bits} bits."
        if not self.is_pq:
            return f"{start} SDR pictures are shown as they are; of an HDR master, only a part can be shown."
        white = "their own target's white" if self.sdr_white is None else f"white at {self.sdr_white:g} cd/m\u00b2"
        return (
            f"{start} HDR is shown at its own light, clipped above the peak; SDR pictures with {white}; "
            f"the interface with white at {self.interface_white:g} cd/m\u00b2."
        )

    def display_of(self, picture: Encoding) -> Encoding:
        """Return the display whose light is shown of an SDR picture: its own, or in PQ one with `sdr_white`."""
        white = self.sdr_white if self.is_pq else None
        return picture if white is None else replace(picture, peak=white, black=min(picture.black, 0.1 * white))

    def passes(self, picture: Encoding) -> bool:
        """Say whether a picture's signal goes out as it is: it is made for a screen of this kind."""
        if self.is_pq:
            return picture.transfer == "pq" and picture.primaries == self.primaries
        return picture.transfer == self.transfer and picture.primaries == self.primaries

    def gain_for(self, picture: Encoding) -> float:
        """Return by what the light of a picture is multiplied: an SDR monitor shows all whites as its own."""
        return 1.0 if self.is_pq else self.peak / picture.peak


def monitor_signal(light: Array, monitor: Monitor) -> Array:
    """Return a monitor's signal for light, 0..1: what is beyond its primaries or its peak is clipped.

    Parameters
    ----------
    light : ndarray (..., 3), BT.2020, cd/m2
    """
    own = convert(light, conversion_matrix("bt2020", monitor.primaries))
    encoded = light_to_signal(np.clip(own, 0.0, monitor.peak), monitor.encoding)
    return np.clip(encoded, 0.0, 1.0)


def _known(part: str, value: Any, known: tuple[Any, ...]) -> None:
    if value not in known:
        raise WrongCall(f"monitor: {part} = {value} is not known; choose one of {', '.join(map(str, known))}")


def _within(part: str, value: float, low: float, high: float) -> None:
    if not low <= value <= high:
        allowed = f"{low:g}..{high:g} cd/m2"
        raise WrongCall(f"monitor: {part} = {value:.9g} is outside {allowed}; choose a value in that range")


def _number(name: str, value: Any) -> Any:
    if name in ("peak", "black", "sdr_white", "interface_white"):
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise WrongCall(f"monitor: {name} = {value} is not a number; give cd/m2")
        return float(value)
    return value
