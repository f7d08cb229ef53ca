"""What lies where: every tile with the pictures that are on it. Plain Python."""

from collections.abc import Sequence
from dataclasses import dataclass

from .layout import Rect, Tile, grid
from .showing import DIFFERENCE, FLIP, SIDE_BY_SIDE, WIPE, Key, Showing


@dataclass(frozen=True)
class Caption:
    """Where a picture's words stand, whether the picture is on the screen now, and whether a light tells that."""

    key: Key
    tile: Tile
    is_on: bool = True
    has_light: bool = False


@dataclass(frozen=True)
class Pane:
    """One tile: a picture, two with a line between them, or the difference of two.

    Attributes
    ----------
    pictures : what is drawn, one or two; of two, the second is beyond the line
    is_difference : whether the difference of the two is drawn instead of them
    """

    tile: Tile
    pictures: tuple[Key, ...]
    captions: tuple[Caption, ...]
    is_difference: bool = False


def panes(
    showing: Showing, keys: Sequence[Key], is_other: bool, area: Rect, em: float, aspect: float
) -> tuple[Pane, ...]:
    """Lay out the tiles.

    Parameters
    ----------
    keys : the pictures that there are, the master first
    is_other : whether a flip shows the second picture now
    area, em, aspect : as `layout.grid` takes them
    """
    layout = showing.layout if len(keys) > 1 else SIDE_BY_SIDE
    if layout == SIDE_BY_SIDE:
        tiles = grid(len(keys), area, em, aspect)
        return tuple(Pane(tile, (key,), (Caption(key, tile),)) for key, tile in zip(keys, tiles, strict=True))
    pair = showing.pair(keys)
    tile = grid(1, area, em, aspect)[0]
    shown = {WIPE: pair, DIFFERENCE: pair, FLIP: (pair[int(is_other)],)}[layout]
    captions = tuple(
        Caption(key, half, key in shown, layout == FLIP) for key, half in zip(pair, halves(tile, em), strict=True)
    )
    return (Pane(tile, shown, captions, layout == DIFFERENCE),)


def halves(tile: Tile, em: float) -> tuple[Tile, Tile]:
    """Return a tile's left and right half as places for words; the picture of both is the whole."""
    gap = round(0.5 * em)
    width = max((tile.frame.width - gap) // 2, 1)

    def half(rect: Rect, is_right: bool) -> Rect:
        return Rect(rect.right - width if is_right else rect.left, rect.top, width, rect.height)

    left, right = (
        Tile(
            half(tile.frame, is_right),
            half(tile.caption, is_right),
            tile.picture,
            half(tile.reading, is_right) if tile.reading else None,
        )
        for is_right in (False, True)
    )
    return left, right
