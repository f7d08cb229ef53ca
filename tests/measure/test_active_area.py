"""Letterbox and pillarbox bars: found where they are certain, settled over frames."""

import json

import av
import numpy as np
import pytest

from tonemap.errors import WrongCall
from tonemap.measure.active_area import BLACK_NITS, SOFT_LINES, ActiveArea, Rectangle, find_active_area, whole_frame
from tonemap.measure.frame import light_of
from tonemap.media.master import open_master

ROWS, COLUMNS = 216, 384


def picture(area, level=100.0, rows=ROWS, columns=COLUMNS, bars=0.0):
    """Return a textured picture within bars."""
    light = np.full((rows, columns, 3), bars)
    part = light[area.slices]
    part[...] = level * np.random.default_rng(3).uniform(0.5, 1.0, part.shape)
    return light


def settled(*frames):
    finder = ActiveArea(ROWS, COLUMNS)
    for frame in frames:
        finder.add(frame)
    return finder


@pytest.mark.parametrize(
    "area",
    [
        Rectangle(27, 0, 162, 384),
        Rectangle(0, 48, 216, 288),
        Rectangle(20, 30, 176, 324),
        Rectangle(27, 0, 161, 384),
        Rectangle(1, 0, 214, 384),
    ],
    ids=["letterbox", "pillarbox", "both", "one line off centre", "one line thick"],
)
@pytest.mark.parametrize("bars", [0.0, BLACK_NITS], ids=["black", "at the tolerance"])
def test_bars_are_found_to_the_line(area, bars):
    assert find_active_area(picture(area, bars=bars)) == area
    assert find_active_area(picture(area, bars=bars).astype(np.float32) * np.float32(0.999)) == area


@pytest.mark.parametrize("channel", [0, 1, 2])
def test_bars_that_are_not_black_in_every_channel_are_picture(channel):
    light = picture(Rectangle(27, 0, 162, 384))
    light[..., channel] += 2.0 * BLACK_NITS
    assert find_active_area(light) == whole_frame(ROWS, COLUMNS)


def test_black_of_the_encoding_lifts_what_counts_as_black():
    light = picture(Rectangle(27, 0, 162, 384), bars=0.1)
    assert find_active_area(light) == whole_frame(ROWS, COLUMNS)
    assert find_active_area(light, black=0.1).top == 27
    assert find_active_area(light, tolerance=0.2).top == 27


def test_a_soft_edge_still_ends_a_bar():
    light = picture(Rectangle(27, 0, 162, 384))
    for lines, period in enumerate((100, 3, 1), 24):  # every n-th pixel is lit
        for row in (lines, ROWS - 1 - lines):
            light[row, ::period] = 0.05
    assert find_active_area(light) == Rectangle(24, 0, 168, 384)


def waves(row, column, number):
    """Return luma codes of a bright picture."""
    return 450 + 200 * np.sin(column / 37 + number / 3) * np.cos(row / 23) + 120 * np.sin(row / 7 + column / 5)


def lamps(row, column, number):
    """Return luma codes of a dim picture with lamps, whose lines at the bars are under 2 % of the brightest one."""
    is_lamp = np.hypot(row % 90 - 45, column % 128 - 64) < 14
    return 180 + 30 * np.sin(column / 50 + number / 3) + 500 * is_lamp


def coded_letterbox(path, crf, codes=waves):
    """Write a letterboxed movie of 55 black lines, as HEVC codes it, and return the light of its frames."""
    row, column = np.mgrid[0:432, 0:768]
    with av.open(str(path), "w") as output:
        stream = output.add_stream("libx265", rate=24, options={"x265-params": f"log-level=none:pools=2:crf={crf}"})
        stream.width, stream.height, stream.pix_fmt = 768, 432, "yuv420p10le"
        tags = stream.codec_context
        tags.color_primaries, tags.color_trc, tags.colorspace, tags.color_range = 9, 16, 9, 1
        for number in range(4):
            luma = codes(row, column, number)
            luma[:55] = luma[-55:] = 64
            frame = av.VideoFrame(768, 432, "yuv420p10le")
            for plane, values in zip(frame.planes, (luma, 512, 512), strict=True):
                np.frombuffer(plane, np.uint16).reshape(plane.height, -1)[:, : plane.width] = values
            frame.pts = number
            output.mux(stream.encode(frame))
        output.mux(stream.encode())
    return [light_of(frame) for frame in open_master(path).frames()]


@pytest.mark.parametrize("crf", [22, 34, 45, 51])
@pytest.mark.parametrize("codes", [waves, lamps])
def test_bars_of_a_strongly_compressed_movie_are_found(tmp_path, crf, codes):
    """Arithmetic: what was drawn is 322 lines; each side may be some lines soft, but no more than SOFT_LINES."""
    finder = ActiveArea(432, 768)
    haze = 0
    for light in coded_letterbox(tmp_path / "a.mkv", crf, codes):
        finder.add(light)
        assert abs(find_active_area(light).top - 55) <= SOFT_LINES
        haze = max(haze, 55 - int(np.flatnonzero((light > BLACK_NITS).any(axis=(1, 2)))[0]))
    assert abs(finder.area.top - 55) <= SOFT_LINES
    assert abs(finder.area.rows - 322) <= 2 * SOFT_LINES
    assert haze > SOFT_LINES or crf < 40  # else there was nothing to find


def test_a_dark_first_line_of_the_picture_is_no_haze():
    light = picture(Rectangle(27, 0, 162, 384), level=900.0)
    light[27:40] = light[176:189] = 0.02
    assert find_active_area(light) == Rectangle(27, 0, 162, 384)


def test_a_faint_text_beside_the_picture_is_not_cut_away():
    light = picture(Rectangle(27, 0, 162, 384))
    light[10:16, 100:280] = light[200:206, 100:280] = 10.0
    assert find_active_area(light) == whole_frame(ROWS, COLUMNS)


def stars():
    light = np.zeros((ROWS, COLUMNS, 3))
    rng = np.random.default_rng(5)
    light[rng.integers(30, 180, 60), rng.integers(20, 360, 60)] = 500.0
    return light


def hills():
    """Return lit ground below a black sky, up to a slanting line."""
    light = np.zeros((ROWS, COLUMNS, 3))
    for column in range(COLUMNS):
        light[60 + column // 4 :, column] = 20.0
    return light


def title():
    light = np.zeros((ROWS, COLUMNS, 3))
    light[90:120, 100:280] = 203.0
    return light


def one_sided():
    """Return a black ceiling with a straight edge: it looks like a bar, but there is none opposite."""
    return picture(Rectangle(50, 0, 166, 384))


def thin_one_sided():
    """Return a picture with three black lines at its top, as a scaler may leave them."""
    return picture(Rectangle(3, 0, 213, 384))


def uneven():
    """Return a picture whose black borders are straight, but 50 lines above and 20 below."""
    return picture(Rectangle(50, 0, 146, 384))


def constellation():
    """Return stars of which the outermost are as far from the top as from the bottom, and from left as from right."""
    light = np.zeros((ROWS, COLUMNS, 3))
    light[[20, 195, 100, 100], [200, 200, 15, 368]] = 500.0
    return light


@pytest.mark.parametrize(
    "make",
    [stars, constellation, hills, title, one_sided, thin_one_sided, uneven, lambda: np.zeros((ROWS, COLUMNS, 3))],
)
def test_a_dark_picture_is_not_a_bar(make):
    assert find_active_area(make()) == whole_frame(ROWS, COLUMNS)


def test_dark_frames_neither_make_nor_take_away_bars():
    letterboxed = picture(Rectangle(27, 0, 162, 384))
    dark = np.zeros_like(letterboxed)
    for order in ([dark, letterboxed, dark], [letterboxed, stars(), dark], [stars(), letterboxed]):
        assert settled(*order).area == Rectangle(27, 0, 162, 384)
    assert not settled(dark, stars()).has_bars


def test_one_frame_that_is_lit_to_its_sides_takes_bars_away():
    letterboxed, full = picture(Rectangle(27, 0, 162, 384)), picture(whole_frame(ROWS, COLUMNS))
    assert not settled(letterboxed, full, letterboxed).has_bars
    assert settled(letterboxed, picture(Rectangle(20, 0, 176, 384))).area == Rectangle(20, 0, 176, 384)


def test_a_text_in_a_bar_limits_it_and_its_edge_is_then_unknown():
    """A subtitle in the lower bar: half of the bar is picture now, and which line ends it was not seen."""
    with_text = picture(Rectangle(27, 0, 162, 384))
    with_text[196:202, 150:230] = 100.0
    assert not settled(picture(Rectangle(27, 0, 162, 384)), with_text).has_bars


def test_parts_of_a_programme_merge_to_the_same_area_in_any_order():
    frames = [picture(Rectangle(20, 0, 176, 384)), stars(), picture(Rectangle(27, 0, 162, 384)), hills()]
    once = settled(*frames)
    for cut in range(5):
        first, second = settled(*frames[:cut]), settled(*frames[cut:])
        second.merge(first)
        first = ActiveArea.from_dict(json.loads(json.dumps(second.to_dict())))
        assert first == once
        assert first.area == once.area


def test_parts_of_another_size_are_refused():
    with pytest.raises(ValueError, match=r"\(216, 384, 0.0, 0.01\) and \(108, 192, 0.0, 0.01\) can't be merged"):
        ActiveArea(ROWS, COLUMNS).merge(ActiveArea(108, 192))
    with pytest.raises(WrongCall) as error:
        ActiveArea(ROWS, COLUMNS).add(np.zeros((108, 192, 3)))
    assert (
        str(error.value)
        == "a frame of 192 x 108 pixels is among frames of 384 x 216 pixels; measure each size on its own"
    )


@pytest.mark.parametrize("level", [0.0, 100.0])
def test_one_pixel_is_a_picture(level):
    assert find_active_area(np.full((1, 1, 3), level)) == Rectangle(0, 0, 1, 1)


@pytest.mark.parametrize(
    "area", [Rectangle(-1, 0, 4, 4), Rectangle(0, 5, 4, 4), Rectangle(5, 0, 4, 4), Rectangle(0, 0, 0, 4)]
)
def test_an_area_that_leaves_the_frame_is_refused(area):
    with pytest.raises(WrongCall) as error:
        area.checked(8, 8)
    assert str(error.value) == (
        f"active area {area.columns} x {area.rows} at column {area.left}, row {area.top} is not within the frame of "
        "8 x 8 pixels; give top, left, rows and columns of a part of it"
    )
    assert Rectangle(4, 4, 4, 4).checked(8, 8) == Rectangle(4, 4, 4, 4)
