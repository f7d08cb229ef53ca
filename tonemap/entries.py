"""Entries: plain values of a document as JSON has them, of which each part of the program takes what it knows."""

from collections.abc import Mapping
from typing import Any

Entries = Mapping[str, Any]


def without(entries: Entries, *known: str) -> dict[str, Any]:
    """Return the entries that this program does not know, which are kept as they are."""
    return {name: value for name, value in entries.items() if name not in known}


def whole(entries: Entries, name: str) -> int | None:
    """Return a whole number, also one that is written as 5.0; None where it is left out."""
    return None if name not in entries else int(entries[name])
