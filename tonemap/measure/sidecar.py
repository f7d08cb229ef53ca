"""The sidecar: measured light levels of a master and its mastering display, for whoever delivers the picture."""

import json
from pathlib import Path
from typing import Any

from ..errors import TrimbenchError
from .metadata import CHROMATICITY_STEP, LUMINANCE_STEP, ContentLight, HdrMetadata, MasteringDisplay
from .programme import ProgrammeFigures
from .session import Session

VERSION = 1


def sidecar_of(session: Session, made: str, date: str) -> dict[str, Any]:
    """Return what a finished session found, as the entries of a sidecar.

    The mastering display is that of the master's tags: it can't be measured from the picture. A sidecar of a part of
    a master says so, since its levels may be below those of the whole.

    Parameters
    ----------
    made : the program and its version
    """
    facts, figures = session.master.facts, session.figures.levels.figures
    indices, number = session.plan.indices, session.master.number
    stated, display = facts.content_light, facts.mastering_display
    return {
        "version": VERSION,
        "made by": made,
        "date": date,
        "master": {"file": facts.path.name, "encoding": facts.stored.title, "frames": facts.count},
        "measured": {
            "frames": figures.frames,
            "first": number(indices[0]),
            "last": number(indices[-1]),
            "step": session.plan.step,
            "frames that could not be read": len(session.faults),
            "whole master": figures.frames == facts.count,
            "active area": session.area.to_dict(),
        },
        "content light": content_light_entries(figures),
        "mastering display": display.to_dict() if display else None,
        "stated by the master": {"content light": stated.to_dict() if stated else None},
    }


def content_light_entries(figures: ProgrammeFigures) -> dict[str, Any]:
    """Return what a sidecar says of measured levels."""
    return {
        "max_cll": figures.max_cll,
        "max_fall": figures.max_fall,
        "max_cll before rounding up": figures.max_cll_nits,
        "max_fall before rounding up": figures.max_fall_nits,
        "max_cll frame": figures.max_cll_frame,
        "max_fall frame": figures.max_fall_frame,
    }


def sidecar_text(entries: dict[str, Any]) -> str:
    """Return the text of a sidecar: JSON, one entry a line."""
    return json.dumps(entries, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def read_sidecar(path: str | Path) -> HdrMetadata:
    """Read the levels and the mastering display of a sidecar.

    Raises
    ------
    TrimbenchError
        If it can't be read, is no sidecar, or is of a newer version: one sentence.
    """
    path = Path(path)
    try:
        entries = json.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise TrimbenchError(f"{path}: can't be read: {error.strerror}; check the name and its permissions") from error
    except (ValueError, RecursionError):
        raise TrimbenchError(f"{path}: this is not JSON, so no sidecar; choose another file") from None
    version = entries.get("version") if isinstance(entries, dict) else None
    if isinstance(version, int) and version > VERSION:
        raise TrimbenchError(f"{path}: this sidecar has version {version}, and this program reads {VERSION}; update it")
    try:
        return metadata_in(entries)
    except (KeyError, TypeError, ValueError):
        raise TrimbenchError(f"{path}: this is no sidecar of Trimbench; make one with measure --sidecar") from None


def metadata_in(entries: dict[str, Any]) -> HdrMetadata:
    """Return the metadata of a sidecar's entries; raises KeyError, TypeError or ValueError where they are none."""
    levels, display = entries["content light"], entries["mastering display"]
    content = ContentLight(_level(levels["max_cll"]), _level(levels["max_fall"]))
    return HdrMetadata(content, None if display is None else _display(display))


def encoder_parameters(metadata: HdrMetadata) -> str:
    """Return the metadata as parameters of the encoder libx265, which writes them into the stream and its container.

    What a mastering display leaves open keeps it out: ST 2086 has no 'unknown'.

    References
    ----------
    Recommendation ITU-T H.265, Annex D: chromaticities in units of 0.00002, luminance in units of 0.0001 cd/m2.

    Examples
    --------
    >>> encoder_parameters(HdrMetadata(ContentLight(987, 312)))
    'max-cll=987,312'
    """
    light = metadata.content_light
    words = [f"max-cll={light.max_cll or 0},{light.max_fall or 0}"]
    if metadata.whole_display is not None:
        primaries, *levels = metadata.whole_display
        points = (("G", primaries.green), ("B", primaries.blue), ("R", primaries.red), ("WP", primaries.white))
        colours = "".join(f"{name}({_steps(x)},{_steps(y)})" for name, (x, y) in points)
        luminances = (round(level / LUMINANCE_STEP) for level in levels)
        words.insert(0, "master-display={}L({},{})".format(colours, *luminances))
    return ":".join(words)


def _steps(value: float) -> int:
    return round(value / CHROMATICITY_STEP)


def _level(value: Any) -> int:
    if not isinstance(value, int) or not 0 <= value <= 65535:  # CTA-861.3: 16 bits
        raise ValueError
    return value


def _display(entries: dict[str, Any]) -> MasteringDisplay:
    points: dict[str, Any] = {}
    for name in ("red", "green", "blue", "white"):
        pair = entries[name]
        x, y = (None, None) if pair is None else map(float, pair)
        points[name] = None if x is None or y is None else (x, y)
    levels: dict[str, Any] = {
        name: None if entries[name] is None else float(entries[name]) for name in ("maximum", "minimum")
    }
    return MasteringDisplay(**points, **levels)
