"""The trim sheet as a table that a person reads."""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from tonemap.master_entry import MasterEntry
from tonemap.shots import Shot
from tonemap.timecode import frames_of, is_drop, rate_text, text_of
from tonemap.trim_sheet import Piece, TrimSheet

from .options import frames_text


def table(sheet: TrimSheet) -> str:
    """Return masters, renditions and shots, each under its heading."""
    parts = [sheet.title] if sheet.title else []
    parts += [sheet.note] if sheet.note else []
    parts.append(_block("Masters", [_master(master) for master in sheet.masters]))
    default = sheet.default_rendition
    parts.append(
        _block(
            "Renditions",
            [
                (entry.name, entry.tone, entry.gamut, "default" if entry.name == default else "")
                for entry in sheet.renditions
            ],
        )
    )
    labels = _Labels(sheet)
    rows = [
        _shot(piece.shot, sheet, labels) if piece.shot else _between(piece, sheet, labels) for piece in sheet.pieces()
    ]
    parts.append(_block("Shots", rows))
    return "\n\n".join(parts)


def proposal_table(found: Sequence[Mapping[str, Any]], entry: MasterEntry, rate: Fraction | None) -> str:
    """Return proposed cuts as a table."""
    if not found:
        return "no cut found: one shot"
    sheet = TrimSheet((entry,), rate=rate)
    labels = _Labels(sheet)
    rows = [
        (
            str(one["frame"]),
            labels.label(one["frame"]),
            one["kind"],
            "" if one["first"] == one["last"] else f"{one['first']} to {one['last']}",
            f"{one['difference']:.3f}",
        )
        for one in found
    ]
    return _block("Proposed cuts", rows, ("frame", "timecode", "kind", "transition", "difference"))


class _Labels:
    """Timecodes of the programme's frames, '' where it has none."""

    def __init__(self, sheet: TrimSheet) -> None:
        only = sheet.masters[0] if len(sheet.masters) == 1 else None
        self._rate = sheet.rate or (only.rate if only else None)
        start = sheet.timecode or (only.timecode if only else None)
        self._start = None
        if self._rate is not None and start is not None:
            self._drop = is_drop(start)
            self._start = frames_of(start, self._rate)

    def label(self, frame: int) -> str:
        if self._start is None or self._rate is None:
            return ""
        return text_of(self._start + frame, self._rate, self._drop)


def _master(master: MasterEntry) -> tuple[str, ...]:
    size = f"{master.columns} x {master.rows}" if master.columns else ""
    frames = frames_text(master.frames) if master.frames else ""
    rate = f"{rate_text(master.rate)} a second" if master.rate else ""
    encoding = master.encoding.title if master.encoding else ""
    patches = f"patches: {', '.join(patch.name for patch in master.patches)}" if master.patches else ""
    return master.name, master.path, size, frames, rate, master.timecode or "", encoding, patches


def _shot(shot: Shot, sheet: TrimSheet, labels: _Labels) -> tuple[str, ...]:
    rendition = shot.rendition or (f"({sheet.default_rendition})" if sheet.default_rendition else "none")
    trims = [f"{path} {_value(value)}" for path, value in shot.settings.items()]
    if shot.changes_inside:
        paths = dict.fromkeys(path for key in shot.keys for path in key.settings)
        trims += [f"{path} {_ramp(shot, path)}" for path in paths]
    if shot.patches:
        trims.append(f"patches: {', '.join(patch.name for patch in shot.patches)}")
    source = f"{shot.master} from {shot.source_first}" if shot.master else ""
    frames = f"{shot.first} to {shot.last}"
    return shot.name, frames, labels.label(shot.first), source, rendition, ", ".join(trims), shot.note


def _between(piece: Piece, sheet: TrimSheet, labels: _Labels) -> tuple[str, ...]:
    words = f"({sheet.default_rendition})" if piece.master and sheet.default_rendition else "no picture"
    return "\u2013", f"{piece.first} to {piece.last}", labels.label(piece.first), "", words, "", ""


def _ramp(shot: Shot, path: str) -> str:
    points = [(key.frame, key.settings[path]) for key in shot.keys if path in key.settings]
    return " \u2192 ".join(f"{_value(value)} at {frame}" for frame, value in points)


def _value(value: Any) -> str:
    if isinstance(value, float):
        return f"{value:g}"
    return ",".join(map(_value, value)) if isinstance(value, (list, tuple)) else str(value)


def _block(heading: str, rows: Sequence[tuple[str, ...]], names: tuple[str, ...] = ()) -> str:
    """Set rows in columns under a heading, with the columns' names if given; empty columns are left out."""
    if not rows:
        return f"{heading}: none"
    columns = list(zip(*rows, strict=True))
    if names:
        columns = [(name, *column) if any(column) else column for name, column in zip(names, columns, strict=True)]
    columns = [column for column in columns if any(column)]
    widths = [max(map(len, column)) for column in columns]
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        for row in zip(*columns, strict=True)
    ]
    return "\n".join([heading, *(f"  {line}".rstrip() for line in lines)])
