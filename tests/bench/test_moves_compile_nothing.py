"""A hand that moves waits for no compiler: at whatever stride a picture is drawn or counted, its programs are there.

Mesa's software rasteriser makes machine code of a program for each sort of texture that is bound for it, and a texture
with a side of a power of two is a sort of its own. Strides follow how long work took, so such sides come up by chance.
"""

from dataclasses import replace
from pathlib import Path

import pytest

from viewer.bench.scopes import KINDS, WAVEFORM
from viewer.bench.tallies import Tallies
from viewer.bench.tiles import Tiles

TILE = 768
"""Columns of the tile: at a stride of 3 or 6 a power of two is drawn."""


def bytes_of_code() -> int:
    """Return how much machine code this process has made: memory that runs and belongs to no file."""
    total = 0
    for line in Path("/proc/self/maps").read_text().splitlines():
        place, rights, _, _, inode, *_ = line.split()
        if "x" in rights and inode == "0":
            start, end = (int(number, 16) for number in place.split("-"))
            total += end - start
    return total


def move_at(hand, monkeypatch, drawn: type, strides: list[int]) -> None:
    """Move a slider and come to rest, once at every stride."""
    for stride in strides:
        monkeypatch.setattr(drawn, "_stride", lambda *_, stride=stride: stride)
        exposure = hand.bench.state.selected_slot.rendition.input.exposure
        assert hand.bench.set("input.exposure", exposure + 0.125)
        hand.app.frame()
        hand.settle()


@pytest.mark.parametrize("layout", ["flip", "difference"])
@pytest.mark.parametrize("view", ["picture", "luminance"])
def test_a_tile_at_another_stride_compiles_nothing(hand, monkeypatch, layout, view):
    hand.bench.show(layout=layout, first=1, second=None, view=view)
    for width in range(1200, 1100, -1):
        hand.surface.resize(width, 760)
        hand.app.frame()
        if hand.app.stage.picture_size[0] == TILE:
            break
    assert hand.app.stage.picture_size[0] == TILE
    move_at(hand, monkeypatch, Tiles, [1, 2, 5])
    before = bytes_of_code()
    move_at(hand, monkeypatch, Tiles, [3, 6])
    assert bytes_of_code() == before


def test_a_sample_at_another_stride_compiles_nothing(hand, monkeypatch):
    for kind in KINDS[:4]:
        hand.bench.shown.scopes = hand.bench.shown.scopes.toggled(kind)
    assert hand.picture.samples.shape[:2] == (67, 120)
    move_at(hand, monkeypatch, Tallies, [1, 2, 5])
    before = bytes_of_code()
    move_at(hand, monkeypatch, Tallies, [4, 15])  # 17 rows of 30, and 4 of 8
    assert bytes_of_code() == before


def test_counts_don_t_compile_for_what_others_left_bound(hand, monkeypatch):
    hand.bench.shown.scopes = hand.bench.shown.scopes.toggled(WAVEFORM)
    move_at(hand, monkeypatch, Tallies, [1, 2])
    made = []

    def watched(work):
        def count(*given):
            before = bytes_of_code()
            result = work(*given)
            made.append(bytes_of_code() - before)
            return result

        return count

    for name in ("count", "refine"):
        monkeypatch.setattr(Tallies, name, watched(getattr(Tallies, name)))
    hand.bench.show(layout="difference", first=1, second=2)  # its heat is in the third place
    move_at(hand, monkeypatch, Tallies, [1, 2])
    hand.bench.shown.scopes = replace(hand.bench.shown.scopes, first=None)  # the master has no signal
    move_at(hand, monkeypatch, Tallies, [1, 2])
    assert len(made) > 10
    assert not any(made)
