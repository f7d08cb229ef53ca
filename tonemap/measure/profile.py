"""Delivery profiles: limits that a picture must keep, stated in small TOML files."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import Any

from ..colorimetry import PRIMARIES
from ..encoding import TRANSFERS
from ..errors import TrimbenchError, WrongCall, suggestion
from ..signal_range import BIT_DEPTHS, RANGES
from .legality import AREA_TOLERANCE, LIMITS

FORMAT = 1
KINDS = ("hdr", "sdr")
DEFAULT_PEAK = 1000.0
"""Peak of an HDR profile that states none, in cd/m2: common practice, no source."""

COMMON_PRACTICE = "common practice, no source"
TABLES = {
    "light": ("peak", "max_fall"),
    "colour": ("container", "within", "outside_percent"),
    "signal": ("transfer", "range", "bits", "display_peak", "legality", "area_percent"),
    "sources": ("light", "colour", "signal"),
}


@dataclass(frozen=True)
class Profile:
    """Limits of a delivery; None where there is none.

    Attributes
    ----------
    name, title : the file's stem, and one line for a page
    kind : 'hdr' or 'sdr'
    peak : of max(R, G, B) in the active area, cd/m2
    max_fall : of a frame's average light level, cd/m2
    container : primaries that the encoding must have
    within : primaries that must contain all colour
    outside_share : share (0..1) of a frame's active area that may lie outside those
    transfers : transfer functions, of which the encoding must have one; none for any
    signal_range : 'narrow' or 'full'
    bits : least bit depth
    display_peak : peak of the display that the encoding must name, cd/m2
    legality : range of EBU R 103, as `legality.LIMITS` names it
    area_tolerance : share (0..1) of a frame's active area that may be outside that range
    sources : where the limits on light, colour and signal come from
    """

    name: str
    title: str
    kind: str
    peak: float | None = None
    max_fall: float | None = None
    container: str | None = None
    within: str | None = None
    outside_share: float = 0.0
    transfers: tuple[str, ...] = ()
    signal_range: str | None = None
    bits: int | None = None
    display_peak: float | None = None
    legality: str | None = None
    area_tolerance: float = AREA_TOLERANCE
    sources: Mapping[str, str] = field(default_factory=dict)

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON."""
        return asdict(self)


def built_in_profiles() -> tuple[str, ...]:
    """Return the names of the profiles that come with Trimbench."""
    folder = files(__package__) / "profiles"
    return tuple(sorted(item.name.removesuffix(".toml") for item in folder.iterdir() if item.name.endswith(".toml")))


def load_profile(name: str | Path) -> Profile:
    """Load a profile that comes with Trimbench by its name, or a user's by the path of its .toml file.

    Raises
    ------
    WrongCall
        For an unknown name, and for what is not right in the file: one sentence.
    TrimbenchError
        If the file can't be read.

    Examples
    --------
    >>> profile = load_profile("hdr-1000-p3")
    >>> profile.peak, profile.within
    (1000.0, 'p3-d65')
    """
    known = built_in_profiles()
    if str(name) in known:
        text = (files(__package__) / "profiles" / f"{name}.toml").read_text(encoding="utf-8")
        return profile_of(text, str(name), f"profile '{name}'")
    path = Path(name)
    if path.suffix != ".toml":
        raise WrongCall(
            f"delivery profile '{name}' is neither the path of a .toml file nor known; "
            f"{suggestion(str(name), list(known))}"
        )
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise TrimbenchError(f"{path}: can't be read: {error.strerror}; check the name and its permissions") from error
    except UnicodeDecodeError as error:
        raise TrimbenchError(f"{path}: this is not a text file in UTF-8; name a delivery profile") from error
    return profile_of(text, path.stem, str(path))


def profile_of(text: str, name: str, place: str) -> Profile:
    """Read a profile's text; `place` begins every message."""
    import tomllib

    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise WrongCall(f"{place}: this is not TOML: {error}; correct that line") from error
    read = _Reader(place, values)
    if values.get("format", FORMAT) != FORMAT:
        raise WrongCall(f"{place}: format = {values['format']!r} is not one that this version reads; write {FORMAT}")
    read.check_keys()
    if "format" not in values:
        raise WrongCall(f"{place}: the format is missing; write format = {FORMAT}")
    kind = read.choice("", "kind", KINDS)
    if kind is None:
        raise WrongCall(f'{place}: the kind is missing; write kind = "hdr" or kind = "sdr"')
    peak = read.number("light", "peak", 1.0, 10000.0, "cd/m2")
    sources = {table: read.text("sources", table) or "" for table in values.get("sources", {})}
    if kind == "hdr" and peak is None:
        peak = DEFAULT_PEAK
        sources.setdefault("light", COMMON_PRACTICE)
    outside = read.number("colour", "outside_percent", 0.0, 100.0, "%")
    area = read.number("signal", "area_percent", 0.0, 100.0, "%")
    return Profile(
        name=name,
        title=read.text("", "title") or name,
        kind=kind,
        peak=peak,
        max_fall=read.number("light", "max_fall", 1.0, 10000.0, "cd/m2"),
        container=read.choice("colour", "container", tuple(PRIMARIES)),
        within=read.choice("colour", "within", tuple(PRIMARIES)),
        outside_share=(outside or 0.0) / 100.0,
        transfers=read.choices("signal", "transfer", tuple(TRANSFERS)),
        signal_range=read.choice("signal", "range", RANGES),
        bits=read.bits("signal", "bits"),
        display_peak=read.number("signal", "display_peak", 1.0, 10000.0, "cd/m2"),
        legality=read.choice("signal", "legality", tuple(LIMITS)),
        area_tolerance=AREA_TOLERANCE if area is None else area / 100.0,
        sources=sources,
    )


class _Reader:
    """Takes values out of a profile's tables and says in one sentence what is wrong with one."""

    def __init__(self, place: str, values: Mapping[str, Any]) -> None:
        self.place = place
        self.values = values

    def check_keys(self) -> None:
        known = ["format", "title", "kind", *TABLES]
        for key, value in self.values.items():
            if key not in known:
                raise WrongCall(f"{self.place}: '{key}' is not known; {suggestion(key, known)}")
            if key in TABLES:
                if not isinstance(value, dict):
                    raise WrongCall(f"{self.place}: {key} = {value!r} is not a table; begin it with [{key}]")
                for name in value:
                    if name not in TABLES[key]:
                        raise WrongCall(
                            f"{self.place}: {key}.{name} is not known; {suggestion(name, list(TABLES[key]))}"
                        )

    def number(self, table: str, key: str, minimum: float, maximum: float, unit: str) -> float | None:
        value = self._value(table, key)
        if value is None:
            return None
        allowed = f"{minimum:g}..{maximum:g} {unit}"
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self._wrong(table, key, value, f"is not a number; give one in {allowed}")
        if not minimum <= value <= maximum:
            raise self._wrong(table, key, value, f"is outside {allowed}; choose a value in that range")
        return float(value)

    def bits(self, table: str, key: str) -> int | None:
        value = self._value(table, key)
        if value is not None and (isinstance(value, bool) or value not in BIT_DEPTHS):
            raise self._wrong(table, key, value, f"is not a bit depth; choose one of {', '.join(map(str, BIT_DEPTHS))}")
        return value

    def text(self, table: str, key: str) -> str | None:
        value = self._value(table, key)
        if value is not None and not isinstance(value, str):
            raise self._wrong(table, key, value, "is not text; put it in quotation marks")
        return value

    def choice(self, table: str, key: str, options: tuple[str, ...]) -> str | None:
        value = self.text(table, key)
        if value is not None and value not in options:
            raise self._wrong(table, key, value, f"is not known; {suggestion(value, list(options))}")
        return value

    def choices(self, table: str, key: str, options: tuple[str, ...]) -> tuple[str, ...]:
        value = self._value(table, key)
        if value is None:
            return ()
        if not isinstance(value, list) or not value or not all(isinstance(item, str) for item in value):
            raise self._wrong(table, key, value, f'is not a list of names; write for example ["{options[0]}"]')
        for item in value:
            if item not in options:
                raise self._wrong(table, key, item, f"is not known; {suggestion(item, list(options))}")
        return tuple(value)

    def _value(self, table: str, key: str) -> Any:
        return (self.values.get(table, {}) if table else self.values).get(key)

    def _wrong(self, table: str, key: str, value: Any, reason: str) -> WrongCall:
        return WrongCall(f"{self.place}: {table + '.' if table else ''}{key} = {value!r} {reason}")
