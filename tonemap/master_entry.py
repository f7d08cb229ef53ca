"""A master as a trim sheet knows it: where it is, how it was read, and by what it is recognised."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import numpy as np

from .encoding import Encoding
from .entries import Entries, whole, without
from .errors import WrongCall
from .measure.patches import Patch
from .patch_entries import patch_entries, patches_from, refuse_double

if TYPE_CHECKING:
    from .media.master import Frame, Master

PARTS = {field.name: "range" if field.name == "signal_range" else field.name for field in fields(Encoding)}
"""The parts of an encoding, by the words that commands and sheets have for them."""


@dataclass(frozen=True)
class MasterEntry:
    """A master in a trim sheet.

    Attributes
    ----------
    name : unique in the sheet
    path : from the sheet's folder, with '/'; a sequence as a pattern: 'scans/reel1.####.dpx'
    said : what the user said of the encoding, by the words of the command line; also 'matrix'
    encoding : as it was read when the master was entered
    columns, rows, frames : None where not known
    rate : frames a second
    timecode : of the first frame
    first_frame : 'sha256:...' of the first frame's code values; None where not known
    patches : marked regions of a still; in a programme they belong to the shots
    """

    name: str
    path: str
    said: Mapping[str, Any] = field(default_factory=dict)
    encoding: Encoding | None = None
    columns: int | None = None
    rows: int | None = None
    frames: int | None = None
    rate: Fraction | None = None
    timecode: str | None = None
    first_frame: str | None = None
    extra: Entries = field(default_factory=dict)
    encoding_extra: Entries = field(default_factory=dict)
    patches: tuple[Patch, ...] = ()
    patch_extras: Mapping[str, Entries] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse two patches of one name; raises WrongCall."""
        refuse_double(self.patches, f"master '{self.name}'")

    @classmethod
    def from_dict(cls, entries: Entries) -> "MasterEntry":
        """Make a master's entry from a sheet's entries; raises WrongCall for an encoding that can't be."""
        rate = entries.get("rate")
        names = {word: name for name, word in PARTS.items()}
        parts = entries.get("encoding")
        if parts and parts.get("bits") is not None:
            parts = {**parts, "bits": int(parts["bits"])}
        try:
            encoding = parts and Encoding(**{names[word]: value for word, value in parts.items() if word in names})
        except WrongCall as fault:
            raise WrongCall(f"master '{entries['name']}': {fault}") from None
        known = (
            *("name", "path", "said", "encoding", "columns", "rows", "frames", "rate", "timecode", "first_frame"),
            "patches",
        )
        return cls(
            entries["name"],
            entries["path"],
            dict(entries.get("said", {})),
            encoding or None,
            whole(entries, "columns"),
            whole(entries, "rows"),
            whole(entries, "frames"),
            None if rate is None else Fraction(rate),
            entries.get("timecode"),
            entries.get("first_frame"),
            without(entries, *known),
            without(parts or {}, *names),
            *patches_from(entries.get("patches", [])),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the sheet's entries; what is not known is left out."""
        encoding = self.encoding and {
            **{word: getattr(self.encoding, name) for name, word in PARTS.items()},
            **self.encoding_extra,
        }
        entries = {
            "name": self.name,
            "path": self.path,
            "said": dict(self.said) or None,
            "encoding": encoding,
            "columns": self.columns,
            "rows": self.rows,
            "frames": self.frames,
            "rate": None if self.rate is None else str(self.rate),
            "timecode": self.timecode,
            "first_frame": self.first_frame,
            "patches": patch_entries(self.patches, self.patch_extras) or None,
        }
        return {**{name: value for name, value in entries.items() if value is not None}, **self.extra}

    def differences(self, other: "MasterEntry") -> list[str]:
        """Say in what another reading of the master differs from this entry, in sentences without an end."""
        sentences = []
        if None not in (self.columns, self.rows) and (self.columns, self.rows) != (other.columns, other.rows):
            sentences.append(f"the picture is {other.columns} x {other.rows}, and was {self.columns} x {self.rows}")
        if self.frames is not None and self.frames != other.frames:
            sentences.append(f"there are {other.frames} frames, and were {self.frames}")
        if self.first_frame is not None and self.first_frame != other.first_frame:
            sentences.append(
                "the first frame can't be read" if other.first_frame is None else "the first frame is another picture"
            )
        if self.encoding is not None and other.encoding is not None and self.encoding != other.encoding:
            sentences.append(f"the encoding is {other.encoding.title}, and was {self.encoding.title}")
        return sentences


def entry_of(
    master: "Master", name: str, path: str, said: Mapping[str, Any] | None = None, *, has_hash: bool = True
) -> MasterEntry:
    """Make a sheet's entry of an opened master.

    Parameters
    ----------
    path : as the sheet is to have it
    said : what the user said of the encoding, by the words of the command line
    has_hash : whether the first frame is read, to recognise the master by it
    """
    facts = master.facts
    return MasterEntry(
        name,
        path,
        dict(said or {}),
        facts.encoding,
        facts.columns,
        facts.rows,
        facts.count,
        facts.rate,
        facts.timecode,
        frame_hash(next(master.frames(0, 0))) if has_hash else None,
    )


def frame_hash(frame: "Frame") -> str | None:
    """Return 'sha256:...' of a frame's code values, whatever the file around them says; None for a broken frame."""
    if frame.content is None:
        return None
    planes = frame.planes
    digest = hashlib.sha256()
    for samples in planes.components if planes else (frame.picture.samples,):
        digest.update(f"{samples.shape} {np.dtype(samples.dtype).newbyteorder('<').str}".encode())
        digest.update(np.ascontiguousarray(samples).astype(samples.dtype.newbyteorder("<"), copy=False).tobytes())
    return f"sha256:{digest.hexdigest()}"
