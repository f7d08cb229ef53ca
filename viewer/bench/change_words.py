"""What changed from one trim sheet to the next, in a few words: 'exposure of 'Soft''. Plain Python."""

from collections.abc import Iterator, Sequence
from typing import Any

from tonemap.measure.patches import Patch
from tonemap.rendition_entry import RenditionEntry
from tonemap.shots import Shot
from tonemap.trim_sheet import TrimSheet

MOST = 2
"""Parts that are named; what is more is only counted."""


def change_words(before: TrimSheet, after: TrimSheet) -> str:
    """Say what changed, for an undo to name it."""
    parts = list(_parts(before, after)) or ["the sheet"]
    more = len(parts) - MOST
    return ", ".join(parts[:MOST]) + (f" and {more} more" if more > 0 else "")


def _parts(before: TrimSheet, after: TrimSheet) -> Iterator[str]:
    yield from _of_renditions(before, after)
    if _renamed(before, after).get(before.default_rendition or "", before.default_rendition) != after.default_rendition:
        taken = f"takes '{after.default_rendition}'" if after.default_rendition else "takes no rendition"
        yield f"the programme {taken}"
    old, new = ({shot.name: shot for shot in sheet.shots} for sheet in (before, after))
    if before.shots and set(old) != set(new):
        yield "the shots"
    for name, shot in new.items():
        if name in old and old[name] is not shot:
            yield from _of_shot(old[name], shot, _renamed(before, after))
        elif name not in old:
            yield from (f"patch '{patch.name}'" for patch in shot.patches if not before.shots)
    one, other = before.still, after.still
    is_marked = one is not None and other is not None and one.patches != other.patches
    if is_marked and one is not None and other is not None:
        yield _patch_words(one.patches, other.patches)
    if before.masters != after.masters and not is_marked:
        yield "the master"


def _renamed(before: TrimSheet, after: TrimSheet) -> dict[str, str]:
    """Return old name -> new name where renditions stayed in their places and only names changed."""
    olds, news = before.renditions, after.renditions
    if len(olds) != len(news):
        return {}
    changed = [(one.name, other.name) for one, other in zip(olds, news, strict=True) if one.name != other.name]
    if {old for old, _ in changed} & {new for _, new in changed}:
        return {}  # moved, not renamed
    return dict(changed)


def _of_renditions(before: TrimSheet, after: TrimSheet) -> Iterator[str]:
    renamed = _renamed(before, after)
    yield from (f"'{old}' renamed '{new}'" for old, new in renamed.items())
    old = {renamed.get(entry.name, entry.name): entry for entry in before.renditions}
    new = {entry.name: entry for entry in after.renditions}
    yield from (f"'{name}' removed" for name in old if name not in new)
    yield from (f"'{name}' added" for name in new if name not in old)
    if [name for name in old if name in new] != [name for name in new if name in old]:
        yield "the order of the renditions"
    for name, entry in new.items():
        if name in old and old[name] is not entry:
            yield from _of_rendition(old[name], entry)


def _of_rendition(old: RenditionEntry, new: RenditionEntry) -> Iterator[str]:
    stages = [stage for stage in ("tone", "gamut") if getattr(old, stage) != getattr(new, stage)]
    if stages:
        yield f"{' and '.join(stages)} operator of '{new.name}'"
        return
    yield from _of_settings(old.settings, new.settings, f"'{new.name}'")


def _of_shot(old: Shot, new: Shot, renamed: dict[str, str]) -> Iterator[str]:
    where = f"shot {new.name}"
    if renamed.get(old.rendition or "", old.rendition) != new.rendition:
        taken = f"'{new.rendition}'" if new.rendition else "the programme's rendition"
        yield f"{where} takes {taken}"
    yield from _of_settings(old.settings, new.settings, where)
    if old.keys != new.keys:
        yield f"the keys of {where}"
    if old.patches != new.patches:
        yield f"{_patch_words(old.patches, new.patches)} of {where}"


def _patch_words(old: Sequence[Patch], new: Sequence[Patch]) -> str:
    ones, others = ({patch.name: patch for patch in patches} for patches in (old, new))
    names = [name for name in {**ones, **others} if ones.get(name) != others.get(name)]
    return " and ".join(f"patch '{name}'" for name in names[-MOST:]) or "the patches"


def _of_settings(old: Any, new: Any, where: str) -> Iterator[str]:
    paths = [path for path in {**old, **new} if old.get(path) != new.get(path)]
    if len(paths) == 1:
        yield f"{paths[0]} of {where}"
    elif paths:
        yield f"{len(paths)} settings of {where}"
