"""Properties of the window's areas, the grid of tiles and the view."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from viewer.bench.layout import (
    LARGEST_ZOOM,
    WHOLE,
    Rect,
    View,
    grid,
    panned,
    place,
    stepped_factor,
    window_areas,
    zoom_limits,
    zoomed,
)

SIZES = st.integers(1, 4000)
TILES = st.integers(1, 2000)
ZOOMS = st.floats(0.01, LARGEST_ZOOM)
SHARES = st.floats(0.0, 1.0)


def inside(inner: Rect, outer: Rect) -> bool:
    return (
        outer.left <= inner.left
        and outer.top <= inner.top
        and inner.right <= outer.right
        and inner.bottom <= outer.bottom
    )


@given(width=st.integers(1, 8000), height=st.integers(1, 5000), em=st.floats(8.0, 48.0), is_shown=st.booleans())
def test_areas_cover_the_window_without_overlap(width, height, em, is_shown):
    areas = window_areas(width, height, em, is_shown)
    parts = [areas.bar, areas.showing, areas.tiles, areas.status, *([areas.panel] if areas.panel else [])]
    covered = sum(part.width * part.height for part in parts)
    assert covered == width * max(height, areas.bar.height + areas.status.height)
    assert all(part.width >= 0 and part.height >= 0 for part in parts)


@given(
    count=st.integers(1, 30),
    width=st.integers(320, 8000),
    height=st.integers(240, 5000),
    aspect=st.floats(0.2, 5.0),
)
def test_tiles_have_one_size_and_lie_apart_in_the_area(count, width, height, aspect):
    area = Rect(10, 20, width, height)
    em = 16.0 if min(width, height) < 1500 else 32.0
    tiles = grid(count, area, em, aspect)
    assert len(tiles) == count
    assert len({(tile.picture.width, tile.picture.height) for tile in tiles}) == 1
    needed = 4 * em * math.ceil(math.sqrt(count))
    if min(width, height) > needed:
        assert all(inside(tile.frame, area) for tile in tiles)
        assert all(inside(tile.picture, tile.frame) for tile in tiles)
    for index, one in enumerate(tiles):
        for other in tiles[index + 1 :]:
            apart = one.frame.right <= other.frame.left or other.frame.right <= one.frame.left
            assert apart or one.frame.bottom <= other.frame.top or other.frame.bottom <= one.frame.top


@pytest.mark.parametrize(("width", "height"), [(640, 338), (904, 652), (1544, 1014), (3464, 2094)])
@pytest.mark.parametrize("count", [1, 2, 3, 5, 8])
def test_pictures_use_a_good_share_of_the_area(width, height, count):
    tiles = grid(count, Rect(0, 0, width, height), 16.0, 16 / 9)
    used = count * tiles[0].picture.width * tiles[0].picture.height
    assert used > (0.24 if height < 400 else 0.35) * width * height


@pytest.mark.parametrize("aspect", [9 / 16, 1.0, 16 / 9, 2.39], ids=lambda each: f"{each:.2f}")
@pytest.mark.parametrize("size", [(904, 620), (1280, 620), (1544, 980), (1920, 980)], ids=str)
@pytest.mark.parametrize("count", range(2, 10))
def test_rows_are_even_and_a_shorter_last_one_stands_in_the_middle(count, size, aspect):
    rows = {}
    for tile in grid(count, Rect(0, 0, *size), 16.0, aspect):
        rows.setdefault(tile.frame.top, []).append(tile.frame)
    *upper, last = (len(row) for row in rows.values())
    assert all(length - len(rows) < last <= length for length in upper)
    for row in rows.values():
        assert row[0].left == pytest.approx(size[0] - row[-1].right, abs=1)


@pytest.mark.parametrize("size", [(904, 620), (1544, 980)], ids=str)
def test_no_tile_of_seven_is_alone_in_its_row(size):
    tops = [tile.frame.top for tile in grid(7, Rect(0, 0, *size), 16.0, 16 / 9)]
    assert [tops.count(top) for top in sorted(set(tops))] == [4, 3]


def test_the_master_and_one_rendition_lie_beside_each_other():
    master, rendition = grid(2, Rect(0, 0, 1544, 1014), 16.0, 16 / 9)
    assert master.picture.top == rendition.picture.top


@given(
    zoom=ZOOMS,
    centre=st.tuples(SHARES, SHARES),
    columns=SIZES,
    rows=SIZES,
    width=TILES,
    height=TILES,
    at=st.tuples(SHARES, SHARES),
)
def test_tile_and_picture_coordinates_are_inverse(zoom, centre, columns, rows, width, height, at):
    view = View(zoom, (centre[0] * columns, centre[1] * rows))
    placement = place(view, columns, rows, width, height)
    x, y = placement.to_tile(at[0] * columns, at[1] * rows)
    back = placement.to_picture(x, y)
    assert back == pytest.approx((at[0] * columns, at[1] * rows), abs=1e-6)


@given(columns=SIZES, rows=SIZES, width=TILES, height=TILES)
def test_whole_picture_is_inside_and_centred(columns, rows, width, height):
    placement = place(WHOLE, columns, rows, width, height)
    left, top = placement.to_tile(0, 0)
    right, bottom = placement.to_tile(columns, rows)
    assert left >= -0.5
    assert top >= -0.5
    assert right <= width + 0.5
    assert bottom <= height + 0.5
    assert left == pytest.approx(width - right, abs=1.0)
    assert top == pytest.approx(height - bottom, abs=1.0)


@given(
    zoom=ZOOMS,
    centre=st.tuples(SHARES, SHARES),
    factor=st.floats(0.25, 4.0),
    at=st.tuples(SHARES, SHARES),
    columns=SIZES,
    rows=SIZES,
    width=TILES,
    height=TILES,
)
def test_zooming_keeps_what_is_under_the_pointer_unless_an_edge_holds(
    zoom, centre, factor, at, columns, rows, width, height
):
    low, high = zoom_limits(columns, rows, width, height)
    zoom = min(max(zoom, low), high)
    before_view = View(zoom, (centre[0] * columns, centre[1] * rows))
    before = place(before_view, columns, rows, width, height)
    point = (at[0] * width, at[1] * height)
    after_view = zoomed(before_view, factor, point, columns, rows, width, height)
    after = place(after_view, columns, rows, width, height)
    assert low <= after.zoom <= high
    left, top = after.to_tile(0, 0)
    right, bottom = after.to_tile(columns, rows)
    for start, end, room, axis in ((left, right, width, 0), (top, bottom, height, 1)):
        if start < -1 and end > room + 1:  # no edge of the picture is in the tile
            assert after.to_tile(*before.to_picture(*point))[axis] == pytest.approx(point[axis], abs=1.5)


@given(
    zoom=ZOOMS,
    dx=st.floats(-5000, 5000),
    dy=st.floats(-5000, 5000),
    columns=SIZES,
    rows=SIZES,
    width=TILES,
    height=TILES,
)
def test_panning_never_leaves_a_gap_that_the_picture_could_fill(zoom, dx, dy, columns, rows, width, height):
    view = panned(View(zoom, (columns / 2, rows / 2)), dx, dy, columns, rows, width, height)
    placement = place(view, columns, rows, width, height)
    for size, start, room in ((columns, placement.left, width), (rows, placement.top, height)):
        if size * zoom >= room:
            assert start <= 1
            assert start + size * zoom >= room - 1


@pytest.mark.parametrize("start", [0.0731, 0.4, 3.3, 17.0])
@pytest.mark.parametrize("direction", [1, -1])
def test_steps_of_the_wheel_meet_one_to_one_exactly(start, direction):
    if (start < 1.0) != (direction > 0):
        direction = -direction
    zoom, seen = start, []
    for _ in range(60):
        zoom *= stepped_factor(zoom, direction)
        seen.append(zoom)
    assert any(abs(value - 1.0) < 1e-9 for value in seen)


@pytest.mark.parametrize("zoom", [1.0, 2.0, 3.0, 8.0])
def test_at_whole_zooms_a_picture_pixel_covers_whole_screen_pixels(zoom):
    placement = place(View(zoom, (33.37, 17.9)), 97, 61, 53, 41)
    for pixel in range(10):
        x, y = placement.to_tile(pixel, pixel)
        assert x == int(x)
        assert y == int(y)
