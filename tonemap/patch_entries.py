"""Patches as a trim sheet has them, of a shot or of a still; what the program does not know of them is kept."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from .entries import Entries, without
from .errors import WrongCall
from .measure.patches import Patch


def patches_from(entries: Sequence[Entries]) -> tuple[tuple[Patch, ...], dict[str, Entries]]:
    """Return patches from a sheet's entries, and what is not known of them by their names."""
    extras: dict[str, Entries] = {}
    for patch in entries:
        if more := without(patch, "name", "kind", "corners"):
            extras[patch["name"]] = more
    return tuple(Patch.from_dict(dict(patch)) for patch in entries), extras


def patch_entries(patches: Iterable[Patch], extras: Mapping[str, Entries]) -> list[dict[str, Any]]:
    """Return the sheet's entries of patches."""
    return [
        {
            "name": patch.name,
            "kind": patch.kind,
            "corners": [list(corner) for corner in patch.corners],
            **extras.get(patch.name, {}),
        }
        for patch in patches
    ]


def refuse_double(patches: Sequence[Patch], where: str) -> None:
    """Raise WrongCall where two patches have the same name."""
    names = [patch.name for patch in patches]
    if len(set(names)) < len(names):
        raise WrongCall(f"{where}: two patches have the same name; rename one")
