"""Where the bench stood on a sheet: frame, zoom, layout, scopes and the like, in a small file of the program's own.

It is no part of the work, so that a sheet does not change when somebody looks at it. Plain Python.
"""

import json
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from tonemap.errors import TrimbenchError

from .layout import WHOLE, View
from .scopes import (
    BRIGHTEST,
    DARKEST,
    FORMS,
    KINDS,
    LARGEST_SHARE,
    LEAST_SHARE,
    MOST,
    NOTHING,
    SELECTED,
    Scopes,
)
from .showing import COLOURS, LAYOUTS, Key, Line
from .state import BenchState


def view_of(state: BenchState) -> dict[str, Any]:
    """Return plain values for where the bench stands; renditions by their names."""
    showing = state.showing
    return {
        "frame": state.frame,
        "selected": _name(state, state.selected),
        "zoom": state.view.zoom,
        "centre": list(state.view.centre),
        "window": state.window,
        "only_here": state.only_here,
        "layout": showing.layout,
        "first": _name(state, showing.first),
        "second": _name(state, showing.second),
        "line": asdict(showing.line),
        "heat_top": showing.heat_top,
        "view": showing.view,
        "patch": state.chosen_patch.name if state.chosen_patch else None,
    }


def with_view_of(state: BenchState, entries: Any) -> BenchState:
    """Return the state where the bench stood, as far as the entries still mean something."""
    try:
        zoom, (x, y) = entries["zoom"], entries["centre"]
        names = [patch.name for patch in state.patches]
        line = Line(*(float(entries["line"][name]) for name in ("x", "y", "angle")))
        showing = replace(
            state.showing,
            layout=entries["layout"] if entries["layout"] in LAYOUTS else state.showing.layout,
            first=_key(state, entries["first"], state.showing.first),
            second=_key(state, entries["second"], state.showing.second),
            line=line,
            heat_top=float(entries["heat_top"]),
            view=entries["view"] if entries["view"] in COLOURS else state.showing.view,
        )
        return replace(
            state,
            selected=_key(state, entries["selected"], state.selected),
            view=WHOLE if zoom is None else View(float(zoom), (float(x), float(y))),
            window=float(entries["window"]),
            only_here=bool(entries["only_here"]),
            showing=showing,
            patch=names.index(entries["patch"]) if entries.get("patch") in names else None,
        )
    except (KeyError, TypeError, ValueError):
        return state  # of another version, or damaged: it costs the place, and nothing of the work


def of_scopes(scopes: Scopes, state: BenchState) -> dict[str, Any]:
    """Return plain values for the scopes; a rendition that they measure by its name, in a list."""
    sources = {
        part: source if source is None or isinstance(source, str) else [_name(state, source)]
        for part, source in (("first", scopes.first), ("second", scopes.second))
    }
    return {**asdict(scopes), "open": list(scopes.open), **sources}


def with_scopes_of(scopes: Scopes, state: BenchState, entries: Any) -> Scopes:
    """Return the scopes as the entries have them, as far as they still mean something."""
    try:
        sources = {
            part: _key(state, entries[part][0], None) if isinstance(entries[part], list) else entries[part]
            for part in ("first", "second")
        }
        if any(source not in (SELECTED, NOTHING, None, *state.keys) for source in sources.values()):
            return scopes
        return replace(
            scopes,
            open=tuple(kind for kind in entries["open"] if kind in KINDS)[-MOST:],
            form=entries["form"] if entries["form"] in FORMS else scopes.form,
            is_of_patch=bool(entries["is_of_patch"]),
            brightness=min(max(float(entries["brightness"]), DARKEST), BRIGHTEST),
            share=min(max(float(entries["share"]), LEAST_SHARE), LARGEST_SHARE),
            **sources,
        )
    except (KeyError, TypeError, ValueError, IndexError):
        return scopes


def frame_in(entries: Any) -> int:
    """Return the frame of the programme at which the bench stood, 0 where that is not known."""
    frame = entries.get("frame") if isinstance(entries, dict) else None
    return frame if isinstance(frame, int) and frame >= 0 else 0


def read_view(path: Path) -> Any:
    """Return what a file has, or None where it has nothing that can be read."""
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None


def write_view(path: Path, entries: dict[str, Any]) -> None:
    """Write where the bench stands.

    Raises
    ------
    TrimbenchError
        If the system refuses.
    """
    from tonemap.media.whole_file import whole_file

    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise TrimbenchError(f"{path.parent}: can't be made: {error.strerror}") from error
    with whole_file(path, overwrite=True) as part:
        part.write_text(json.dumps(entries) + "\n", encoding="utf-8")


def _name(state: BenchState, key: Key) -> str | None:
    """Return a rendition's name, None for the master and for one that is gone."""
    return next((slot.rendition.name for slot in state.slots if slot.key == key), None)


def _key(state: BenchState, name: str | None, otherwise: Key) -> Key:
    if name is None:
        return None
    return next((slot.key for slot in state.slots if slot.rendition.name == name), otherwise)
