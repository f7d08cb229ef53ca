"""Entries: plain values of a document as JSON has them, of which each part of the program takes what it knows."""

from collections.abc import Mapping
from typing import Any

Entries = Mapping[str, Any]


def without(entries: Entries, *known: str) -> dict[str, Any]:
    """Return the entries that this program does not know, which are kept as they are."""
    return {name: value for name, value in entries.items() if name not in known}
