"""The actions on patches: each returns a new state of the bench. Plain Python."""

from collections.abc import Sequence
from dataclasses import replace

from tonemap.errors import WrongCall
from tonemap.measure.patches import KINDS, Patch, Point

from .state import BenchState


def add_patch(state: BenchState, corners: tuple[Point, ...], kind: str = "custom") -> BenchState:
    """Mark a region by its corners (shares of the picture), under a name of its own, and choose it."""
    held = tuple((min(max(x, 0.0), 1.0), min(max(y, 0.0), 1.0)) for x, y in corners)
    taken = {patch.name for patch in state.patches}
    name = next(f"Patch {number}" for number in range(1, len(taken) + 2) if f"Patch {number}" not in taken)
    return replace(state, patches=(*state.patches, Patch(name, kind, held)), patch=len(state.patches))


def move_patch(state: BenchState, dx: float, dy: float) -> BenchState:
    """Move the chosen patch by shares of the picture, as far as the picture's edges let it."""
    patch = state.chosen_patch
    if patch is None:
        return state
    x, y = zip(*patch.corners, strict=True)
    dx, dy = min(max(dx, -min(x)), 1.0 - max(x)), min(max(dy, -min(y)), 1.0 - max(y))
    corners = tuple((min(max(a + dx, 0.0), 1.0), min(max(b + dy, 0.0), 1.0)) for a, b in patch.corners)
    return _changed(state, replace(patch, corners=corners))


def rename_patch(state: BenchState, name: str) -> BenchState:
    """Give the chosen patch another name; raises WrongCall when it has none or it is taken."""
    name = name.strip()
    if not name:
        raise WrongCall("a patch needs a name; type one")
    if any(patch.name == name and index != state.patch for index, patch in enumerate(state.patches)):
        raise WrongCall(f"another patch is called '{name}'; choose another name")
    return state if state.chosen_patch is None else _changed(state, replace(state.chosen_patch, name=name))


def next_kind(state: BenchState) -> BenchState:
    """Give the chosen patch the next kind of the list."""
    patch = state.chosen_patch
    if patch is None:
        return state
    kinds = list(KINDS)
    return _changed(state, replace(patch, kind=kinds[(kinds.index(patch.kind) + 1) % len(kinds)]))


def with_kind(state: BenchState, kind: str) -> BenchState:
    """Give the chosen patch a kind by its name; raises WrongCall for an unknown one."""
    patch = state.chosen_patch
    return state if patch is None else _changed(state, replace(patch, kind=kind))


def is_inside(corners: Sequence[Point], point: Point) -> bool:
    """Say whether a point is inside a polygon, by the odd rule, as `Patch.mask` has it."""
    x, y = point
    inside = False
    for (x0, y0), (x1, y1) in zip(corners, (*corners[1:], corners[0]), strict=True):
        if (y0 <= y) != (y1 <= y):
            inside ^= x < x0 + (y - y0) * (x1 - x0) / (y1 - y0)
    return inside


def choose_patch(state: BenchState, index: int | None) -> BenchState:
    """Choose a patch by its place in the list, or none."""
    return replace(state, patch=index)


def choose_next_patch(state: BenchState) -> BenchState:
    """Choose the next patch; after the last, none."""
    after = 0 if state.patch is None else state.patch + 1
    return replace(state, patch=after if after < len(state.patches) else None)


def remove_patch(state: BenchState) -> BenchState:
    """Take the chosen patch away."""
    if state.patch is None:
        return state
    return replace(state, patches=state.patches[: state.patch] + state.patches[state.patch + 1 :], patch=None)


def _changed(state: BenchState, patch: Patch) -> BenchState:
    patches = tuple(patch if index == state.patch else old for index, old in enumerate(state.patches))
    return replace(state, patches=patches)
