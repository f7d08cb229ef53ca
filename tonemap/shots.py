"""Shots: stretches of the programme, each with its rendition, its own settings, ramps between keys, and patches."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

from .entries import Entries, whole, without
from .errors import WrongCall
from .host import Host
from .measure.patches import Patch
from .operator import Parameter
from .patch_entries import patch_entries, patches_from, refuse_double
from .rendition import Rendition
from .settings import parameter_at, with_settings

SettingValues = Mapping[str, Any]


@dataclass(frozen=True)
class Key:
    """Settings at one frame of a shot; between two keys every setting that both have runs from one to the other.

    Attributes
    ----------
    frame : of the programme, from 0
    settings : numbers by their paths, for example {'input.exposure': -0.5}
    """

    frame: int
    settings: SettingValues
    extra: Entries = field(default_factory=dict)

    @classmethod
    def from_dict(cls, entries: Entries) -> "Key":
        """Make a key from a sheet's entries."""
        return cls(int(entries["frame"]), dict(entries["settings"]), without(entries, "frame", "settings"))

    def to_dict(self) -> dict[str, Any]:
        """Return the sheet's entries."""
        return {"frame": self.frame, "settings": dict(self.settings), **self.extra}


@dataclass(frozen=True)
class Shot:
    """A stretch of the programme without a cut.

    Attributes
    ----------
    name : a number or a name, unique in the sheet
    first, last : frames of the programme, from 0, both belong to the shot
    master : the name of a master in the sheet; None for a sheet with one master
    source : the frame of the master, from 0, that is the shot's first; None where it is `first` itself
    rendition : the name of a rendition in the sheet; None for the sheet's default
    settings : what differs from that rendition in this shot, by path
    keys : in the order of their frames; without keys nothing changes inside the shot
    patches : marked regions, as in `measure.patches`
    extra, patch_extras : what this program does not know of the shot, and of its patches by name
    """

    name: str
    first: int
    last: int
    master: str | None = None
    source: int | None = None
    rendition: str | None = None
    settings: SettingValues = field(default_factory=dict)
    keys: tuple[Key, ...] = ()
    patches: tuple[Patch, ...] = ()
    note: str = ""
    extra: Entries = field(default_factory=dict)
    patch_extras: Mapping[str, Entries] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse frames and keys that can't be; raises WrongCall with one sentence."""
        if not 0 <= self.first <= self.last:
            raise WrongCall(f"shot '{self.name}': frames {self.first} to {self.last} are no stretch; correct the last")
        for key in self.keys:
            if not self.first <= key.frame <= self.last:
                raise WrongCall(
                    f"shot '{self.name}': the key at frame {key.frame} is outside its frames "
                    f"{self.first} to {self.last}; move it in"
                )
            for path in key.settings:
                if path.partition(".")[0] not in ("input", "tone", "gamut", "output"):
                    raise WrongCall(
                        f"shot '{self.name}': '{path}' can't have keys; choose a number of input, tone, gamut or output"
                    )
        for earlier, later in pairwise(self.keys):
            if later.frame <= earlier.frame:
                raise WrongCall(
                    f"shot '{self.name}': the keys at frames {earlier.frame} and {later.frame} are not in order; "
                    "sort them"
                )
        refuse_double(self.patches, f"shot '{self.name}'")

    @property
    def count(self) -> int:
        """The number of frames."""
        return self.last - self.first + 1

    @property
    def source_first(self) -> int:
        """The frame of the master that is the shot's first."""
        return self.first if self.source is None else self.source

    @property
    def changes_inside(self) -> bool:
        """Whether a setting changes from frame to frame."""
        return any(len({str(value) for _, value in _points(self.keys, path)}) > 1 for path in _paths(self.keys))

    def rendition_at(self, frame: int, base: Rendition, host: Host) -> Rendition:
        """Return `base` with the shot's settings, and those of its keys at a frame of the programme.

        Before the first key that has a setting, and after the last, the setting is as there. Between two keys it runs
        in equal steps of the parameter's own scale: exposure in stops, a parameter of scale 'log' in equal ratios,
        each number of an ASC CDL triple for itself.

        Raises
        ------
        WrongCall
            For a setting that there is not, a value out of range, or a key for what is no number.
        """
        try:
            rendition = with_settings(base, self.settings, host)
            keyed = {path: _value_at(self.keys, path, frame, rendition, host) for path in _paths(self.keys)}
            return with_settings(rendition, keyed, host)
        except WrongCall as fault:
            raise WrongCall(f"shot '{self.name}': {fault}") from None

    def shifted(self, frames: int) -> "Shot":
        """Return the shot at another place of the programme."""
        keys = tuple(replace(key, frame=key.frame + frames) for key in self.keys)
        return replace(self, first=self.first + frames, last=self.last + frames, source=self.source_first, keys=keys)

    @classmethod
    def from_dict(cls, entries: Entries) -> "Shot":
        """Make a shot from a sheet's entries; raises WrongCall for frames, keys and patches that can't be."""
        patches, patch_extras = patches_from(entries.get("patches", []))
        known = ("name", "first", "last", "master", "source", "rendition", "settings", "keys", "patches", "note")
        return cls(
            entries["name"],
            int(entries["first"]),
            int(entries["last"]),
            entries.get("master"),
            whole(entries, "source"),
            entries.get("rendition"),
            dict(entries.get("settings", {})),
            tuple(map(Key.from_dict, entries.get("keys", []))),
            patches,
            entries.get("note", ""),
            without(entries, *known),
            patch_extras,
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the sheet's entries; what says nothing is left out."""
        entries = {
            "name": self.name,
            "first": self.first,
            "last": self.last,
            "master": self.master,
            "source": self.source,
            "rendition": self.rendition,
            "settings": dict(self.settings) or None,
            "keys": [key.to_dict() for key in self.keys] or None,
            "patches": patch_entries(self.patches, self.patch_extras) or None,
            "note": self.note or None,
        }
        return {**{name: value for name, value in entries.items() if value is not None}, **self.extra}


def _paths(keys: tuple[Key, ...]) -> list[str]:
    return list(dict.fromkeys(path for key in keys for path in key.settings))


def _points(keys: tuple[Key, ...], path: str) -> list[tuple[int, Any]]:
    return [(key.frame, key.settings[path]) for key in keys if path in key.settings]


def _value_at(keys: tuple[Key, ...], path: str, frame: int, rendition: Rendition, host: Host) -> Any:
    parameter = parameter_at(rendition, path, host)
    if not isinstance(parameter, Parameter):
        raise WrongCall(f"{path} is no number and can't have keys; set it for the whole shot")
    points = _points(keys, path)
    before = [point for point in points if point[0] <= frame]
    after = [point for point in points if point[0] > frame]
    if not before or not after:
        return before[-1][1] if before else after[0][1]
    (start, one), (end, other) = before[-1], after[0]
    share = (frame - start) / (end - start)
    if isinstance(one, (list, tuple)) or isinstance(other, (list, tuple)):
        ones, others = (list(value) if isinstance(value, (list, tuple)) else [value] * 3 for value in (one, other))
        return [between(a, b, share, parameter) for a, b in zip(ones, others, strict=True)]
    return between(one, other, share, parameter)


def between(one: Any, other: Any, share: float, parameter: Parameter) -> float:
    """Return the value at a share 0..1 of the way between two values, in equal steps of the parameter's scale.

    Examples
    --------
    >>> log = Parameter(name="pivot", unit="cd/m2", default=26.0, minimum=1.0, maximum=1000.0, help="", scale="log")
    >>> between(10.0, 1000.0, 0.5, log)
    100.0
    """
    start, end = parameter.checked(one), parameter.checked(other)
    if parameter.scale == "log":
        return float(start * (end / start) ** share)
    return float(start + (end - start) * share)
