"""Plots: lines where their ticks are, words that say what they must, nothing over anything else, whole files."""

import itertools
from xml.etree import ElementTree

import colour
import matplotlib
import numpy as np
import OpenImageIO as oiio
import pytest
from matplotlib.font_manager import get_font
from matplotlib.ft2font import LoadFlags

from tonemap import scopes
from tonemap.difference import delta_e_itp
from tonemap.encoding import Encoding, decode, sdr_target
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.picture import Picture, light_picture
from tonemap.reference import ReferenceEngine
from tonemap.rendition import Rendition, chain_of
from tonemap.scopes import Histogram, LevelHistory, Scale, Waveform, light_channels
from viewer.comparison.captions import share
from viewer.comparison.drawing import plain_settings
from viewer.plots import (
    PAPER,
    SCREEN,
    Subject,
    master_plots,
    programme_plots,
    rendition_plots,
    write_plots,
)
from viewer.plots.axis import NITS_TICKS, Level, spread, ticks
from viewer.plots.chromaticity import rounded, uv
from viewer.plots.counting import MasterScopes, RenditionScopes
from viewer.plots.density import full_density, resized, softened, strengths
from viewer.plots.difference import difference_figure
from viewer.plots.locus import LOCUS
from viewer.plots.look import PLATE
from viewer.plots.masks import gamut_mask_figure, legality_mask_figure, reduced_ranks
from viewer.plots.waveform import waveform_figure
from viewer.plots.writing import save_figure

PQ_10 = Encoding("pq", "bt2020", "narrow", 10, 1000.0)
LOOKS = {"screen": SCREEN, "paper": PAPER}


def pq_master(rows=18, columns=32, seed=5):
    ramp = np.linspace(70, 700, rows * columns).reshape(rows, columns, 1)
    noise = np.random.default_rng(seed).integers(-60, 20, (rows, columns, 3))
    return Picture((ramp + noise).clip(64, 723).astype(np.uint16), PQ_10)


def history_of(maximum):
    maximum = np.asarray(maximum, np.float64)
    return LevelHistory(np.arange(100, 100 + len(maximum)), maximum, 0.2 * maximum, 0.1 * maximum)


def all_plots(look, width, picture=None, highest=1000.0, name="A soft trim"):
    picture = picture or pq_master()
    master = MasterScopes(picture.columns, highest)
    master.add(picture)
    chain = chain_of(Rendition(name, "bt2390"), picture.encoding)
    target = chain.rendition.target
    codes = ReferenceEngine().codes(picture, chain)
    codes[:3] = 1000
    rendition = RenditionScopes(picture.columns, target)
    rendition.add(codes)
    differences = delta_e_itp(decode(picture.samples, picture.encoding), decode(codes, target))
    options = {"look": look, "width": width}
    return {
        **master_plots(master, Subject("Lamp shop", picture.encoding.title), picture, **options),
        **rendition_plots(rendition, Subject(name, target.title), Picture(codes, target), differences, **options),
        **programme_plots(history_of([300.0, 900.0, 800.0]), Subject("Lamp shop", "3 frames"), **options),
    }


def texts_of(figure):
    return [text.get_text() for text in figure.axes[0].texts]


def words_of(figure):
    return " ".join(texts_of(figure))


def ink_of(text, high):
    """Return (left, top, right, bottom) of what a text inks, in pixels from the top left corner."""
    face = get_font(text.get_fontproperties().get_file())
    face.set_size(text.get_fontsize(), 72.0)
    face.set_text(text.get_text(), 0.0, LoadFlags.NO_HINTING, features=text.get_fontfeatures())
    width, height = (size / 64.0 for size in face.get_width_height())
    left, baseline = text.get_transform().transform(text.get_position())
    bottom = high - baseline + face.get_descent() / 64.0
    return left, bottom - height, left + width, bottom


def pixels_of(figure):
    """Return the drawn figure, (rows, columns, 3)."""
    with plain_settings():
        figure.canvas.draw()
        return np.asarray(figure.canvas.buffer_rgba())[..., :3].astype(int)


def y_of(figure, text):
    """Return the height in pixels, from the top, at which the middle of a label stands."""
    (label,) = (each for each in figure.axes[0].texts if each.get_text() == text)
    return label.get_position()[1] - 0.33 * label.get_fontsize()


@pytest.mark.parametrize("kind", ["pq", "log"])
@pytest.mark.parametrize("width", [1200, 2400])
@pytest.mark.parametrize("look", LOOKS)
def test_a_flat_frame_of_203_nits_draws_its_line_at_203(kind, width, look):
    waveform = Waveform(20, Scale(kind, 0.01 if kind == "log" else 0.0, 1250.0))
    waveform.add(light_channels(np.full((6, 20, 3), 203.0)))
    levels = (Level(203.0, "here"),)
    figure = waveform_figure(waveform, LOOKS[look], "Flat", "203 cd/m²", levels=levels, panels=("Y",), width=width)
    ((image),) = figure.images
    shown = np.asarray(image.get_array())[..., 0].astype(float)
    ground = round(255.0 * LOOKS[look].shade(PLATE)[0])
    ink = np.abs(shown - ground).mean(axis=1)
    high = figure.canvas.get_width_height()[1]
    top = high - image.oy - len(ink)
    line = top + (ink * (np.arange(len(ink)) + 0.5)).sum() / ink.sum()
    assert line == pytest.approx(y_of(figure, "here"), abs=1.0)
    marks = [each for each in figure.axes[0].lines if len(set(each.get_ydata())) == 1 and len(each.get_ydata()) == 2]
    assert min(abs(each.get_ydata()[0] - line) for each in marks) <= 1.0


def test_a_signal_of_half_stands_halfway_between_its_ticks():
    waveform = Waveform(10, scopes.SIGNAL_SCALE)
    waveform.add(np.full((4, 10, 4), 0.5))
    figure = waveform_figure(waveform, SCREEN, "Half", "", panels=("Y",), width=1200)
    middle = 0.5 * (y_of(figure, "0 %") + y_of(figure, "100 %"))
    assert y_of(figure, "50 %") == pytest.approx(middle, abs=0.01)
    pixels = pixels_of(figure)
    column = pixels[:, 500, 0]
    assert column.argmax() == pytest.approx(middle, abs=1.5)
    assert column.max() > 150


def test_channels_are_drawn_in_their_own_panels_and_overlaid_they_add_to_white():
    light = np.zeros((4, 12, 3))
    light[..., 0], light[..., 1], light[..., 2] = 400.0, 100.0, 25.0
    waveform = Waveform(12, Scale("pq", 0.0, 1250.0))
    waveform.add(light_channels(light))
    figure = waveform_figure(waveform, SCREEN, "Parade", "", panels=("R", "G", "B"), width=1200)
    for channel, image in enumerate(figure.images):
        shown = np.asarray(image.get_array()).astype(int)
        brightest = shown[shown.sum(axis=2).argmax(axis=0)[0], 0]
        assert brightest.argmax() == channel
    grey = Waveform(12, Scale("pq", 0.0, 1250.0))
    grey.add(light_channels(np.full((4, 12, 3), 100.0)))
    (overlay,) = waveform_figure(grey, SCREEN, "Overlay", "", panels=("RGB",), width=1200).images
    line = np.asarray(overlay.get_array())[..., :3].astype(int).max(axis=(0, 1))
    assert line.min() > 225


@pytest.mark.parametrize(("width", "look"), [(800, "screen"), (1200, "paper"), (2400, "screen")])
def test_no_words_overlap_or_leave_the_figure(width, look):
    for name, make in all_plots(LOOKS[look], width).items():
        figure = make()
        wide, high = figure.canvas.get_width_height()
        assert wide == width
        boxes = [(text.get_text(), *ink_of(text, high)) for text in figure.axes[0].texts if text.get_text()]
        for what, left, top, right, bottom in boxes:
            assert left >= 0.0, (name, what)
            assert top >= 0.0, (name, what)
            assert right <= wide, (name, what)
            assert bottom <= high, (name, what)
        for one, other in itertools.combinations(boxes, 2):
            apart = one[3] <= other[1] or other[3] <= one[1] or one[4] <= other[2] or other[4] <= one[2]
            assert apart, (name, one[0], other[0])
        plain = 0.88 * width / 75.0
        assert min(text.get_fontsize() for text in figure.axes[0].texts) == pytest.approx(plain)


@pytest.mark.parametrize("maximum", [[0.004], [1000.0] * 3, [50.0, 51.0, 4000.0], [9000.0] * 200])
def test_a_level_history_names_both_peaks_and_nothing_overlaps(maximum):
    history = history_of(maximum)
    if len(maximum) == 3:  # where average and maximum meet, there is no room between them
        history = LevelHistory(history.frames, history.maximum, history.maximum, history.maximum)
    (make,) = programme_plots(history, Subject("Shot", "frames"), width=1200).values()
    figure = make()
    high = figure.canvas.get_width_height()[1]
    boxes = [(text.get_text(), *ink_of(text, high)) for text in figure.axes[0].texts]
    for one, other in itertools.combinations(boxes, 2):
        assert one[3] <= other[1] or other[3] <= one[1] or one[4] <= other[2] or other[4] <= one[2], (one, other)
    peak, frame = int(np.ceil(max(maximum))), 100 + int(np.argmax(maximum))
    assert f"MaxCLL {peak} cd/m², frame {frame}" in texts_of(figure)
    assert any(text.startswith("MaxFALL ") and text.endswith(f"frame {frame}") for text in texts_of(figure))


def test_each_plot_says_what_it_shows():
    figures = {name: make() for name, make in all_plots(SCREEN, 1200).items()}
    expected = {
        "waveform-pq": (
            "luminance",
            "reference white, 203",
            "18 % grey, 26",
            "master's peak, 1000",
            "cd/m²",
            "spaced as PQ",
        ),
        "waveform-log": ("logarithmic axis", "0.01", "reference white, 203"),
        "histogram": ("luminance", "R", "G", "B", "square root of the share of the pixels"),
        "vectorscope": ("58 %", "75 %", "skin", "red", "cyan", "Cb", "Cr", "BT.2020", "ISO 17321-1"),
        "chromaticity": ("BT.2020", "P3-D65", "BT.709", "520", "u'", "CIE 1931"),
        "gamut-mask": ("outside BT.709 only:", "outside P3-D65 too:"),
        "a-soft-trim-waveform": ("luma", "nominal white", "R 103 preferred, 105 %", "100 %"),
        "a-soft-trim-histogram": ("luma", "signal"),
        "a-soft-trim-vectorscope": ("75 %", "100 %", "BT.709", "skin"),
        "a-soft-trim-legality": ("EBU R 103 v3.0, codes 64 to 940 of 10 bits", "more than the 1 % allowed"),
        "a-soft-trim-difference": ("\u0394E ITP", "BT.2124", "Mean"),
        "level-history": ("MaxCLL 900 cd/m², frame 101", "MaxFALL 180 cd/m², frame 101", "average (FALL)", "CTA-861.3"),
    }
    assert set(figures) == set(expected)
    for name, sayings in expected.items():
        said = words_of(figures[name])
        assert ("A soft trim" if name.startswith("a-soft") else "Lamp shop") in said
        for saying in sayings:
            assert saying in said, name


def test_levels_beyond_the_axis_are_not_named():
    plots = all_plots(SCREEN, 1200, light_picture(np.full((4, 8, 3), 50.0), peak=100.0), highest=100.0)
    assert "reference white" not in words_of(plots["waveform-pq"]())
    assert "18 % grey, 26" in words_of(plots["waveform-pq"]())


def test_a_gamut_mask_marks_exactly_the_pixels_outside():
    light = np.full((40, 80, 3), 50.0)
    light[:, 20:40] = (0.0, 100.0, 0.0)  # pure BT.2020 green: outside of both
    light[:, 40:60] = np.array([0.75, 0.05, 0.0]) * 100.0  # red of P3-D65, to two digits
    figure = gamut_mask_figure(light, SCREEN, "Mask", "", width=1200)
    ((image),) = figure.images
    shown = np.asarray(image.get_array())[..., :3].astype(int)
    times = shown.shape[1] // 80
    coloured = np.ptp(shown, axis=2) > 30
    assert not coloured[:, : 20 * times].any()
    assert coloured[:, 20 * times : 60 * times].all()
    assert not coloured[:, 60 * times :].any()
    green, red = shown[0, 30 * times], shown[0, 50 * times]
    assert green[0] > 2 * green[1]  # the stronger mark
    assert red[0] < 2 * red[1]
    assert "outside BT.709 only: 25.0 %" in words_of(figure)
    assert "outside P3-D65 too: 25.0 %" in words_of(figure)


def test_a_single_pixel_outside_stays_visible_when_the_picture_is_reduced():
    light = np.full((600, 3000, 3), 50.0)
    light[311, 1777] = (0.0, 100.0, 0.0)
    ((image),) = gamut_mask_figure(light, PAPER, "Mask", "", width=800).images
    assert (np.ptp(np.asarray(image.get_array())[..., :3].astype(int), axis=2) > 30).sum() == 1
    ranks = np.zeros((7, 9), np.uint8)
    ranks[3, 4] = 2
    assert reduced_ranks(ranks, (3, 4)).max() == 2
    assert reduced_ranks(ranks, (7, 9)).tolist() == ranks.tolist()


def test_a_legality_mask_tells_what_the_filter_takes_away():
    codes = np.full((60, 60, 3), 500, np.uint16)
    codes[30, 30] = 1000  # one pixel: legal after the filter
    codes[:, :20] = 960  # an edge, which the filter softens over three columns
    figure = legality_mask_figure(Picture(codes, sdr_target()), SCREEN, "Mask", "", width=1200)
    said = words_of(figure)
    assert f"outside before the filter only: {share(181 / 3600)}" in said
    assert "more than the 1 % allowed" in said
    legal = legality_mask_figure(Picture(np.full((9, 9, 3), 500, np.uint16), sdr_target()), SCREEN, "M", "", width=1200)
    assert "outside after the filter: 0 %, within the 1 % allowed" in words_of(legal)


def test_the_heat_map_has_the_colours_of_its_bar():
    differences = np.repeat(np.linspace(0.0, 10.0, 200)[np.newaxis], 50, axis=0)
    figure = difference_figure(differences, SCREEN, "Heat", "", top=10.0, width=1200)
    picture, bar = (np.asarray(image.get_array())[..., :3].astype(int) for image in figure.images)
    colours = matplotlib.colormaps["inferno"](np.linspace(0.0, 1.0, bar.shape[1]))[:, :3]
    assert np.abs(bar[0] - 255.0 * colours).max() <= 0.51
    middle = matplotlib.colormaps["inferno"](float(differences[0, 100]) / 10.0)[:3]
    times = picture.shape[1] // 200
    assert picture[0, 100 * times] == pytest.approx(255.0 * np.array(middle), abs=0.51)
    assert {"0", "2.5", "5", "7.5", "10", "\u0394E ITP"} <= set(texts_of(figure))
    assert "largest 10 at row 0, column 199." in words_of(figure)


def test_the_locus_is_the_observers():
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    values = {int(wave): sample for wave, sample in zip(observer.wavelengths, observer.values, strict=True)}
    for wave, x, y in LOCUS:
        assert (x, y) == pytest.approx(values[wave][:2] / values[wave].sum(), abs=5.1e-5)
    curve = rounded(np.array([uv((x, y)) for _, x, y in LOCUS]), steps=5)
    exact = np.array([uv(tuple(values[wave][:2] / values[wave].sum())) for wave in range(400, 701)])
    assert np.abs(curve - exact)[60:].max() < 5e-4  # below 460 nm the table's four digits show


def test_softening_and_resizing_lose_nothing():
    counts = np.random.default_rng(2).integers(0, 50, (3, 100, 40))
    counts[:, 0] = 900  # an end, where light beyond the axis is counted
    assert softened(counts, (1,)).sum() == pytest.approx(counts.sum(), rel=1e-5)
    for shape in ((100, 40), (37, 13), (230, 99)):
        assert resized(counts[0], shape).shape == shape
        assert resized(counts[0], shape).mean() == pytest.approx(counts[0].mean(), rel=1e-5)
    assert np.array_equal(resized(counts[0], (100, 40)), counts[0])
    assert full_density(np.zeros((4, 4))) == 1.0
    assert strengths(np.array([0.0, 0.25, 1.0, 9.0]), 1.0).tolist() == [0.0, 0.5, 1.0, 1.0]


def test_a_plain_ramp_of_codes_makes_an_even_trace():
    codes = np.repeat(np.arange(64, 941, dtype=np.uint16)[:, np.newaxis, np.newaxis], 3, axis=2)
    master = MasterScopes(1, 10000.0)
    master.add(Picture(codes, Encoding("pq", "bt2020", "narrow", 10, 10000.0)))
    density = resized(softened(master.waveform_pq.counts[3], (0,)), (573, 1))[20:500, 0]
    assert np.ptp(density) < 0.1 * density.mean(), "gaps between code values show as stripes"


def test_ticks_and_labels_keep_their_room():
    for scale in (Scale("pq", 0.0, 1250.0), Scale("log", 0.01, 12500.0)):
        places = [float(scale.place(tick)) * 500.0 for tick in ticks(scale, 500.0, 24.0)]
        assert len(places) >= 6
        assert min(np.diff(places)) >= 24.0
    assert set(ticks(Scale("pq", 0.0, 500.0), 500.0, 24.0)) <= set(NITS_TICKS)
    for wished in ([1.0, 2.0, 3.0, 90.0], [99.0, 98.0, 97.0], [50.0]):
        placed = spread(wished, 10.0, 0.0, 100.0)
        ordered = sorted(placed)
        assert all(after - before >= 10.0 - 1e-9 for before, after in itertools.pairwise(ordered))
        assert [sorted(wished).index(value) for value in wished] == [ordered.index(value) for value in placed]


def test_files_are_whole_sized_and_say_who_made_them(tmp_path):
    plots = all_plots(SCREEN, 800)
    chosen = {name: plots[name] for name in ("waveform-pq", "chromaticity", "level-history")}
    written = write_plots(tmp_path / "new" / "folder", chosen)
    assert [path.name for path in written] == [f"{name}.{kind}" for name in chosen for kind in ("png", "svg")]
    assert {path.name for path in (tmp_path / "new" / "folder").iterdir()} == {path.name for path in written}
    for png, svg in zip(written[::2], written[1::2], strict=True):
        spec = oiio.ImageInput.open(str(png)).spec()
        width, height = plots[png.stem]().canvas.get_width_height()
        assert (spec.width, spec.height) == (width, height) == (800, height)
        assert spec.get_string_attribute("Software").startswith("Trimbench ")
        assert spec.get_float_attribute("XResolution") == pytest.approx(300.0, abs=0.1)
        root = ElementTree.parse(svg).getroot()
        assert root.get("width") == "192pt"  # 800 pixels at 300 an inch, and 72 pt in one
        assert root.get("height") == f"{0.24 * height:g}pt"
        assert root.get("viewBox") == f"0 0 800 {height}"
        assert not root.findall(".//{http://www.w3.org/2000/svg}text"), "letters must be outlines"


def test_the_png_is_the_figure_and_the_same_plot_gives_the_same_bytes(tmp_path):
    make = all_plots(SCREEN, 800)["waveform-pq"]
    for kind in ("png", "svg"):
        one, other = tmp_path / f"one.{kind}", tmp_path / f"other.{kind}"
        save_figure(make(), one, kind)
        save_figure(make(), other, kind)
        assert one.read_bytes() == other.read_bytes()
    shown = oiio.ImageBuf(str(tmp_path / "one.png")).get_pixels(oiio.UINT8)[..., :3]
    assert np.array_equal(shown, pixels_of(make()))


def test_no_file_is_replaced_unless_asked_and_then_nothing_at_all_is_written(tmp_path):
    plots = {name: make for name, make in all_plots(SCREEN, 800).items() if name.startswith("wave")}
    (tmp_path / "waveform-log.svg").write_text("mine")
    with pytest.raises(TrimbenchError) as fault:
        write_plots(tmp_path, plots)
    assert str(fault.value) == (
        f"{tmp_path / 'waveform-log.svg'}: the file exists; choose another name, or give --overwrite to replace it"
    )
    assert [path.name for path in tmp_path.iterdir()] == ["waveform-log.svg"]
    write_plots(tmp_path, plots, overwrite=True)
    assert (tmp_path / "waveform-log.svg").read_text() != "mine"
    assert len(list(tmp_path.iterdir())) == 4


def test_what_can_not_be_written_is_refused(tmp_path):
    with pytest.raises(WrongCall) as fault:
        write_plots(tmp_path, {}, kinds=("pgn",))
    assert str(fault.value) == "plots of kind 'pgn' can't be written; did you mean 'png'?"
    (tmp_path / "file").write_text("")
    with pytest.raises(TrimbenchError, match=r"file: .*give another folder for the plots"):
        write_plots(tmp_path / "file", {"a": lambda: None})
    with pytest.raises(WrongCall) as fault:
        all_plots(SCREEN, 300)["histogram"]()
    assert str(fault.value) == "width = 300 is outside 600..8192 pixels; choose a width in that range"


def test_frames_of_another_width_are_refused():
    master = MasterScopes(8, 1000.0)
    with pytest.raises(WrongCall) as fault:
        master.add(pq_master(4, 9))
    assert str(fault.value) == "a frame is 9 pixels wide, the first one 8; plot them apart"
    with pytest.raises(WrongCall, match="need code values"):
        RenditionScopes(8, Encoding("bt1886", "bt709"))


def test_the_users_matplotlib_settings_are_neither_used_nor_changed():
    plain = pixels_of(all_plots(SCREEN, 800)["level-history"]())
    with matplotlib.rc_context({"lines.linewidth": 9.0, "figure.dpi": 31.0, "text.color": "red", "axes.grid": True}):
        again = pixels_of(all_plots(SCREEN, 800)["level-history"]())
        assert matplotlib.rcParams["lines.linewidth"] == 9.0
    assert np.array_equal(plain, again)


def test_a_renditions_files_begin_with_its_name_or_with_what_is_said():
    kinds = ("waveform", "histogram", "vectorscope")
    scope, subject = RenditionScopes(8, sdr_target()), Subject("Same / name", "")
    assert set(rendition_plots(scope, subject)) == {f"same-name-{kind}" for kind in kinds}
    assert set(rendition_plots(scope, subject, prefix="2-same")) == {f"2-same-{kind}" for kind in kinds}
    assert set(rendition_plots(scope, Subject("!", ""))) == {f"unnamed-{kind}" for kind in kinds}


def test_a_master_brighter_than_its_peak_is_drawn_whole_and_the_peak_is_still_named():
    master = MasterScopes(8, 4000.0)
    master.add(light_picture(np.full((4, 8, 3), 3900.0), peak=1000.0))
    assert not master.waveform_pq.counts[:, -1].any()
    figure = master_plots(master, Subject("Bright", ""), width=800)["waveform-pq"]()
    assert "master's peak, 1000" in texts_of(figure)
    assert {"1000", "4000"} <= set(texts_of(figure))


def test_signal_in_full_range_has_no_limits_of_narrow_range():
    target = Encoding("srgb", "bt709", "full", 8)
    scope = RenditionScopes(8, target)
    codes = np.full((4, 8, 3), 128, np.uint16)
    scope.add(codes)
    plots = rendition_plots(scope, Subject("Web", ""), Picture(codes, target), width=800)
    assert set(plots) == {"web-waveform", "web-histogram", "web-vectorscope"}
    assert "R 103" not in words_of(plots["web-waveform"]())
    assert "nominal white" in words_of(plots["web-waveform"]())


def test_the_scopes_of_a_master_add_frames_and_agree_with_each_other():
    one, two = pq_master(seed=1), pq_master(seed=2)
    scopes_of_both = MasterScopes(32, 1000.0)
    for picture in (one, two):
        scopes_of_both.add(picture)
    histogram = Histogram(scopes_of_both.waveform_pq.scale, scopes_of_both.waveform_pq.counts.shape[1])
    for picture in (one, two):
        histogram.add(light_channels(decode(picture.samples, PQ_10).astype(np.float32)))
    assert scopes_of_both.frames == 2
    assert scopes_of_both.histogram.pixels == histogram.pixels == 2 * 18 * 32
    # The light comes from a table here, and an odd value on the edge of a bin may fall on its other side.
    assert np.abs(scopes_of_both.histogram.counts - histogram.counts).sum() <= 4
    assert scopes_of_both.vectorscope.counts.sum() == 2 * 18 * 32
