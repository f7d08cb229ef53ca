"""The comparison: exact pixels, words that say all that they must, and a layout in which nothing collides."""

import itertools
import re

import matplotlib
import numpy as np
import OpenImageIO as oiio
import pytest
from matplotlib.font_manager import get_font
from matplotlib.ft2font import LoadFlags

import tonemap
from tonemap.adjustments import InputAdjustments
from tonemap.anchors import anchors_of
from tonemap.cdl import Cdl
from tonemap.colorimetry import conversion_matrix, convert
from tonemap.encoding import Encoding, decode, sdr_target, signal_to_light
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.host import find_operators
from tonemap.picture import Picture, light_picture
from tonemap.reference import ReferenceEngine, render_signal
from tonemap.rendition import Rendition, chain_of
from viewer.comparison import comparison_figure, write_comparison
from viewer.comparison.captions import key_parameters, number, share
from viewer.comparison.figure import figure_codes
from viewer.comparison.layout import grids
from viewer.comparison.pictures import Window, display_of, rendition_tile, tile_shape, window_tile
from viewer.comparison.type_setting import one_line, text_width, wrap

HOST = find_operators()
ENGINE = ReferenceEngine()
PQ_10 = Encoding("pq", "bt2020", "narrow", 10, 1000.0)
RENDITIONS = (
    Rendition("Soft knee", "knee", "gamut_hue", {"start": 32.0}, {}, InputAdjustments(exposure=-0.35)),
    Rendition("As published", "bt2390", "gamut_clip"),
    Rendition(
        "A name that somebody typed at three in the morning and that does not end where one expects it",
        "exponential",
        "gamut_hue",
        {"start": 12.0, "landing": -0.1, "application": "per_channel", "desaturation": 0.4},
        {"threshold": 0.7, "reach": 2.0},
        InputAdjustments(0.5, 1.1, 30.0, 0.9),
        Cdl((1.1, 1.0, 0.95), (0.01, 0.0, -0.01), (1.0, 1.05, 1.1), 0.9),
        sdr_target(203.0, 0.05),
    ),
    Rendition("Method A", "bt2446_a"),
    Rendition("Method C", "bt2446_c", "gamut_boundary"),
    Rendition("Unbroken_name_of_a_render_that_a_script_made_v0012_final_final", "michaelis_menten"),
    Rendition("Clip", "hard_clip"),
    Rendition("Scale", "linear_scale", tone_settings={"white": 1000.0}),
)


def pq_master(rows, columns, seed=3):
    codes = np.random.default_rng(seed).integers(64, 724, (rows, columns, 3)).astype(np.uint16)
    return Picture(codes, PQ_10)


def chains_for(master, count):
    return [chain_of(rendition, master.encoding, HOST) for rendition in RENDITIONS[:count]]


def figure_of(master, count, **options):
    return comparison_figure(master, "Lamp shop", chains_for(master, count), ENGINE, **options)


def texts_of(figure):
    return [text.get_text() for text in figure.axes[0].texts]


def all_text(figure):
    return " ".join(texts_of(figure))


def read_file(path):
    source = oiio.ImageInput.open(str(path))
    pixels, spec = source.read_image(0, 0, 0, 3, "uint8"), source.spec()
    source.close()
    return pixels, spec


def tile_pixels(pixels, figure, number_of_tile):
    image = figure.images[number_of_tile]
    rows, columns = image.get_size()
    top = pixels.shape[0] - int(image.oy) - rows
    return pixels[top : top + rows, int(image.ox) : int(image.ox) + columns]


def difference(codes, expected):
    return int(np.abs(codes.astype(int) - np.asarray(expected, int)).max())


@pytest.mark.parametrize("ending", ["png", "tif"])
def test_the_files_pixels_are_the_signal_of_the_reference(tmp_path, ending):
    master, path = pq_master(150, 240), tmp_path / f"out.{ending}"
    write_comparison(path, master, "Lamp shop", chains_for(master, 3), ENGINE, width=800)
    pixels, spec = read_file(path)
    figure = figure_of(master, 3, width=800)
    assert pixels.shape == (*figure.canvas.get_width_height()[::-1], 3)
    assert spec.format == oiio.UINT8
    for place, chain in enumerate(chains_for(master, 3)):
        signal = render_signal(master.samples, chain)
        assert difference(tile_pixels(pixels, figure, place + 2), np.floor(signal * 255.0 + 0.5)) <= 1


def test_the_first_windows_pixels_are_the_masters_light_up_to_the_targets_peak():
    master = pq_master(150, 240)
    figure = figure_of(master, 1, width=800)
    light = convert(decode(master.samples, master.encoding), conversion_matrix("bt2020", "bt709"))
    pixels = figure_codes(figure)
    for place, top in ((0, 100.0), (1, 1000.0)):
        signal = np.clip(light / top, 0.0, 1.0) ** (1.0 / 2.4)
        assert difference(tile_pixels(pixels, figure, place), np.floor(signal * 255.0 + 0.5)) <= 1


def test_a_smaller_tile_is_the_average_in_the_displays_light():
    master = pq_master(60, 90)
    (chain,) = chains_for(master, 1)
    light = render_signal(master.samples, chain) ** 2.4
    mean = light.reshape(20, 3, 30, 3, 3).mean(axis=(1, 3))
    tile = rendition_tile(master, chain, ENGINE, (20, 30))
    assert difference(tile, np.floor(mean ** (1.0 / 2.4) * 255.0 + 0.5)) <= 1


def test_a_window_clips_before_it_averages():
    light = np.zeros((2, 2, 3), np.float32)
    light[0, 0] = 1000.0
    tile = window_tile(light, Window(100.0, display_of(sdr_target())), (1, 1))
    assert tile.ravel().tolist() == [round(255.0 * 0.25 ** (1.0 / 2.4))] * 3


def test_a_target_of_other_primaries_is_converted_and_says_so():
    target = Encoding("gamma2.6", "p3-d65", "full", 10, 48.0)
    master = light_picture(np.full((4, 4, 3), 10.0, np.float32))
    chain = chain_of(Rendition("Cinema", "hard_clip", target=target), master.encoding, HOST)
    tile = rendition_tile(master, chain, ENGINE, (4, 4))
    level = float(signal_to_light(render_signal(master.samples, chain), target)[0, 0, 1])
    assert difference(tile, np.full((4, 4, 3), round(255.0 * (level / 48.0) ** (1.0 / 2.4)))) <= 1
    words = all_text(comparison_figure(master, "Lamp shop", [chain], ENGINE, width=2400))
    assert "Made for P3-D65, gamma 2.6; shown here in BT.709 / gamma 2.4, what lies outside is clipped." in words


def test_a_small_master_is_enlarged_by_whole_pixels():
    assert tile_shape((10, 16), 100, 100) == (60, 96)
    assert tile_shape((1080, 1920), 743, 1000) == (418, 743)
    assert tile_shape((10000, 1), 500, 1000) == (1000, 1)


def test_a_tile_says_its_name_operators_parameters_peak_and_anchors():
    master = pq_master(45, 80)
    (chain,) = chains_for(master, 1)
    texts = texts_of(figure_of(master, 1))
    assert {"Soft knee", "Knee", "Hue-preserving compression"} <= set(texts)
    pairs = set(itertools.pairwise(texts))
    assert {
        ("input exposure", "\u22120.35 stops"),
        ("start", "32 cd/m²"),
        ("softness", "0.5"),
        ("application", "max RGB"),
        ("gamut threshold", "0.85"),
        ("target peak", "100 cd/m²"),
    } <= pairs
    rows = {texts[place : place + 4][0]: texts[place + 1 : place + 4] for place in range(len(texts) - 3)}
    names = ("18 % grey", "reference white", "master\u2019s peak")
    for name, anchor in zip(names, anchors_of(chain), strict=True):
        expected = [f"{anchor.master:.0f}", f"{anchor.nits:.1f}", f"{100.0 * anchor.signal:.1f} %"]
        assert rows[name] == expected


def test_every_changed_setting_is_said_once():
    (chain,) = [chain_of(RENDITIONS[2], PQ_10, HOST)]
    items = {item.label: item.value for item in key_parameters(chain)}
    assert len(items) == len(key_parameters(chain))
    assert items["output slope"] == "1.1, 1, 0.95"
    assert items["input pivot"] == "30 cd/m²"
    assert items["target peak"] == "203 cd/m²"
    assert items["target black"] == "0.05 cd/m²"
    assert items["gamut reach"] == "2"
    assert items["landing"] == "\u22120.10 stops"


def test_the_masters_windows_say_what_is_shown_and_what_is_lost():
    light = np.full((10, 10, 3), 50.0, np.float32)
    light[0] = 150.0
    light[1, :5] = 500.0
    light[1, 5:] = 1000.0
    master = light_picture(light)
    texts = texts_of(figure_of(master, 1))
    assert {"Master, up to 100 cd/m²", "Master, 3.3 stops down"} <= set(texts)
    assert {"At its true brightness on a display of 100 cd/m².", "Light up to 1000 cd/m², darkened to fit."} <= set(
        texts
    )
    pairs = set(itertools.pairwise(texts))
    assert ("clipped (a channel above 100 cd/m²)", "20.0 %") in pairs
    assert ("clipped (a channel above 1000 cd/m²)", "0 %") in pairs
    shares = [("above 100 cd/m²", "20.0 %"), ("above 203 cd/m²", "10.0 %"), ("above 1000 cd/m²", "0 %")]
    assert set(shares) <= pairs


def test_another_window_is_asked_for_and_labelled():
    figure = figure_of(pq_master(45, 80), 1, window=203.0)
    assert "Master, 1.0 stops down" in texts_of(figure)
    assert "Light up to 203 cd/m², darkened to fit." in texts_of(figure)


def test_the_surround_says_what_the_picture_is_and_where_it_comes_from():
    figure = figure_of(pq_master(45, 80), 2, file_name="lamp_shop_0001.dpx")
    words = all_text(figure)
    assert "Lamp shop" in texts_of(figure)
    assert "This is an SDR picture: BT.709 primaries, gamma 2.4, full range, 8 bits." in words
    assert "Master: lamp_shop_0001.dpx, PQ (ST 2084), BT.2020, 10-bit narrow, peak 1000 cd/m²" in words
    assert ENGINE.title in words
    assert re.search(rf"Trimbench {re.escape(tonemap.__version__)}, \d{{4}}-\d\d-\d\d", words)
    assert "80 \u00d7 45 pixels" in words


def ink_of(text):
    """Return (left, bottom, right, top) of what a text inks, in pixels from the bottom left corner."""
    face = get_font(text.get_fontproperties().get_file())
    face.set_size(text.get_fontsize(), 72.0)
    face.set_text(text.get_text(), 0.0, LoadFlags.NO_HINTING, features=text.get_fontfeatures())
    width, height = (size / 64.0 for size in face.get_width_height())
    left, baseline = text.get_transform().transform(text.get_position())
    bottom = baseline - face.get_descent() / 64.0
    return left, bottom, left + width, bottom + height


def boxes_of(figure):
    """Return (what, left, bottom, right, top) of every text and every picture."""
    boxes = [(text.get_text(), *ink_of(text)) for text in figure.axes[0].texts]
    for place, image in enumerate(figure.images):
        rows, columns = image.get_size()
        boxes.append((f"picture {place}", image.ox, image.oy, image.ox + columns, image.oy + rows))
    return boxes


def test_ink_boxes_are_where_the_ink_is():
    figure = figure_of(pq_master(9, 16), 1, width=1200)
    pixels = figure_codes(figure)[::-1]
    for text in figure.axes[0].texts:
        left, bottom, right, top = ink_of(text)
        around = pixels[int(bottom) - 3 : int(top) + 4, max(0, int(left) - 3) : int(right) + 4, 0].copy()
        if text.get_text() in ("Lamp shop", "Soft knee", "Hue-preserving compression"):
            assert around.max() > 200
            around[2:-2, 2:-2] = 0
            assert around.max() == 30, "something is outside, where the ground is"


SIZES = {
    "landscape": (9, 16),
    "scope": (67, 160),
    "portrait": (16, 9),
    "square": (8, 8),
    "wide": (4, 60),
    "one": (1, 1),
}


@pytest.mark.parametrize(
    ("width", "count", "kind"),
    [
        (800, 8, "landscape"),
        (800, 2, "portrait"),
        (1200, 1, "landscape"),
        (1200, 3, "scope"),
        (1200, 4, "landscape"),
        (1200, 6, "square"),
        (1200, 8, "portrait"),
        (2400, 1, "one"),
        (2400, 2, "landscape"),
        (2400, 4, "wide"),
        (2400, 5, "portrait"),
        (2400, 8, "landscape"),
        (3840, 6, "landscape"),
        (3840, 8, "wide"),
    ],
)
def test_nothing_overlaps_or_leaves_the_figure(width, count, kind):
    master = pq_master(*SIZES[kind])
    long = "A title that is far too long for a title, " * (count - 1) + "of a lamp shop"
    figure = comparison_figure(master, long, chains_for(master, count), ENGINE, width=width, file_name=f"{'x' * 300}")
    wide, high = figure.canvas.get_width_height()
    assert wide == width
    boxes = boxes_of(figure)
    assert len(figure.images) == count + 2
    for what, left, bottom, right, top in boxes:
        assert left >= 0, what
        assert bottom >= 0, what
        assert right <= wide, what
        assert top <= high, what
    edges = np.array([box[1:] for box in boxes])
    left, bottom, right, top = (edges[:, number_of_edge] for number_of_edge in range(4))
    shared = (np.minimum.outer(right, right) - np.maximum.outer(left, left) > 0.0) & (
        np.minimum.outer(top, top) - np.maximum.outer(bottom, bottom) > 0.0
    )
    np.fill_diagonal(shared, False)
    assert not [(boxes[one][0], boxes[other][0]) for one, other in np.argwhere(shared)]


@pytest.mark.parametrize("kind", ["landscape", "portrait", "wide", "one"])
@pytest.mark.parametrize("count", [1, 4])
def test_a_picture_of_usual_proportions_fits_a_screen(kind, count):
    wide, high = figure_of(pq_master(*SIZES[kind]), count, width=2400).canvas.get_width_height()
    assert wide == 2400
    assert 0.4 * wide < high < 1.25 * wide


def test_every_grid_places_each_tile_once():
    for count in range(1, 9):
        for grid in grids(count):
            assert len(set(grid.places)) == count + 2
            assert all(row < grid.rows and column < grid.columns for row, column in grid.places)


def test_no_type_is_smaller_than_can_be_read():
    for width in (800, 1200, 2400, 3840):
        figure = figure_of(pq_master(9, 16), 8, width=width)
        assert min(text.get_fontsize() for text in figure.axes[0].texts) >= max(11.0, width / 175.0)


def test_names_of_any_script_and_with_dollar_signs_are_set():
    master = pq_master(9, 16)
    rendition = Rendition("cost $5 and $6\nnew line \u6771\u4eac \u0416", "bt2390")
    chain = chain_of(rendition, master.encoding, HOST)
    figure = comparison_figure(master, "\u6771\u4eac_{x}^2$", [chain], ENGINE, width=1200)
    figure_codes(figure)
    assert "cost $5 and $6 new line \ufffd\ufffd \u0416" in texts_of(figure)
    assert one_line("\n\t") == "unnamed"


def test_wrapping_breaks_long_words_and_ends_in_an_ellipsis():
    assert wrap("one two", 1000.0, 20.0) == ["one two"]
    lines = wrap("x" * 200, 100.0, 20.0, most_lines=3)
    assert len(lines) == 3
    assert lines[-1].endswith("\u2026")
    assert all(text_width(line, 20.0) <= 100.0 for line in lines)


def test_shares_and_numbers_read_well():
    assert [share(part) for part in (0.0, 1e-6, 0.0004, 0.0512, 0.99999, 1.0)] == [
        "0 %",
        "< 0.01 %",
        "0.04 %",
        "5.1 %",
        "99.9 %",
        "100 %",
    ]
    assert [number(value) for value in (0.0, 0.005, 0.85, 32.0, 203.0, 10000.0)] == [
        "0",
        "0.005",
        "0.85",
        "32",
        "203",
        "10000",
    ]


def test_the_users_matplotlib_settings_are_neither_used_nor_changed(monkeypatch):
    master = pq_master(9, 16)
    plain = figure_codes(figure_of(master, 1, width=800))
    monkeypatch.setitem(matplotlib.rcParams, "lines.antialiased", False)
    monkeypatch.setitem(matplotlib.rcParams, "text.hinting", "force_autohint")
    before = dict(matplotlib.rcParams)
    np.testing.assert_array_equal(figure_codes(figure_of(master, 1, width=800)), plain)
    assert dict(matplotlib.rcParams) == before


def test_an_existing_file_is_replaced_only_when_asked(tmp_path):
    master, path = pq_master(9, 16), tmp_path / "out.png"
    path.write_text("mine")
    with pytest.raises(TrimbenchError, match="the file exists; choose another name, or give --overwrite to replace it"):
        write_comparison(path, master, "Lamp shop", chains_for(master, 1), ENGINE, width=800)
    assert path.read_text() == "mine"
    write_comparison(path, master, "Lamp shop", chains_for(master, 1), ENGINE, width=800, overwrite=True)
    assert read_file(path)[0].shape[1] == 800
    assert [item.name for item in tmp_path.iterdir()] == ["out.png"]


@pytest.mark.parametrize(
    ("options", "count", "sentence"),
    [
        ({}, 0, "0 renditions don't fit a comparison; choose 1 to 8"),
        ({}, 9, "9 renditions don't fit a comparison; choose 1 to 8"),
        ({"width": 500}, 1, "width = 500 is outside 800..8192 pixels; choose a width in that range"),
        ({"window": 0.0}, 1, "window = 0 is outside 1..10000 cd/m2; choose a level in that range"),
    ],
)
def test_what_there_can_not_be_is_refused(options, count, sentence):
    master = pq_master(9, 16)
    chains = (chains_for(master, 8) * 2)[:count]
    with pytest.raises(WrongCall) as caught:
        comparison_figure(master, "Lamp shop", chains, ENGINE, **options)
    assert str(caught.value) == sentence


def test_another_ending_is_refused(tmp_path):
    master = pq_master(9, 16)
    with pytest.raises(WrongCall, match=r"a comparison is written as \.png, \.tif, \.tiff; change the name"):
        write_comparison(tmp_path / "out.jpg", master, "Lamp shop", chains_for(master, 1), ENGINE)
