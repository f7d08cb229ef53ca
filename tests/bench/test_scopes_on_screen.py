"""Scopes on the real bench, driven by hands: what they count, where the traces lie, and that every pixel follows."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from tonemap.colorimetry import luminance
from tonemap.measure.patches import Patch
from tonemap.scopes import (
    BINS,
    PQ_SCALE,
    SIGNAL_SCALE,
    Histogram,
    TransferPlot,
    Vectorscope,
    Waveform,
    light_channels,
    signal_channels,
)
from viewer.bench import tallies, theme
from viewer.bench.panels import scopes as panel
from viewer.bench.patch_actions import add_patch
from viewer.bench.scopes import (
    CHROMATICITY,
    FORMS,
    HISTOGRAM,
    KINDS,
    SHORT_TITLES,
    TITLES,
    TRANSFER,
    VECTORSCOPE,
    WAVEFORM,
    cell_at,
)
from viewer.bench.traces import GROUND, SECOND

SAME = 0.01
"""Share of the counts that may lie in another cell; test_scope_counts.py holds every one of them to its edge."""


def plot_of(hand, kind):
    return next(plot for plot in hand.app._plots if plot.kind == kind)


def counts(hand, kind, key):
    """Return what is counted of a picture for an open scope, when the bench has come to rest."""
    hand.settle()
    tally = hand.app.scopes.tallies.of(key)
    assert tally.stride == 1
    return tally.shown[plot_of(hand, kind).form].read()


def assert_near(got, wanted):
    assert got.sum() == wanted.sum() > 0
    assert np.abs(got - wanted).sum() / 2 <= SAME * wanted.sum()


def trace(hand, kind):
    """Return how bright the plot of a scope is, (rows, columns), as it is on the surface."""
    hand.settle()
    rect = plot_of(hand, kind).rect
    shown = hand.surface.codes()[rect.top : rect.bottom, rect.left : rect.right].astype(float)
    return shown.mean(axis=-1) / hand.top_code


def surface_of(hand, kind):
    """Return the codes of the plot of a scope, 0..1, (rows, columns, 3)."""
    rect = plot_of(hand, kind).rect
    return hand.surface.codes()[rect.top : rect.bottom, rect.left : rect.right] / hand.top_code


def row_of(plot, level):
    """Return the row of a plot where a level of the upright axis lies."""
    return plot.rect.height * (1.0 - (level + 0.5 - plot.window.bottom) / (plot.window.top - plot.window.bottom))


def histogram_of(light):
    scope = Histogram(PQ_SCALE)
    scope.add(light_channels(light))
    return scope.counts


def test_keys_open_the_scopes_and_a_fifth_closes_the_oldest(hand):
    for number, kind in enumerate(KINDS, start=2):
        hand.key(str(number))
        assert f"plot {kind}" in hand.app.ui.places
    assert hand.bench.shown.scopes.in_order == KINDS[1:]
    assert f"plot {WAVEFORM}" not in hand.app.ui.places
    for number in range(3, 7):
        hand.key(str(number))
    assert not hand.bench.shown.scopes.open
    assert "scopes edge" not in hand.app.ui.places


def test_the_scopes_count_the_selected_rendition_as_the_reference_has_it(hand):
    for key in ("2", "3", "6"):
        hand.key(key)
    for selected in (1, 3):
        hand.click(f"caption {selected}")
        signal, target = hand.reference_signal(selected)
        scope = Waveform(signal.shape[1], SIGNAL_SCALE, channels=1)
        scope.add(signal_channels(signal, target.primaries)[..., 3:])
        form = plot_of(hand, WAVEFORM).form
        assert form.columns == signal.shape[1]
        assert_near(counts(hand, WAVEFORM, selected), scope.counts[0])
        chroma = Vectorscope(target.primaries)
        chroma.add(signal)
        assert_near(counts(hand, VECTORSCOPE, selected), chroma.counts)
        transfer = TransferPlot()
        transfer.add(hand.reference_light(None), hand.reference_light(selected))
        assert_near(counts(hand, TRANSFER, selected), transfer.counts)
        assert set(hand.app.scopes.tallies._known) == {selected}


def test_a_slider_moves_the_counts(hand):
    hand.key("4")
    before = counts(hand, HISTOGRAM, 1)
    hand.bench.set("input.exposure", -1.0)
    after = counts(hand, HISTOGRAM, 1)
    assert np.abs(after - before).sum() > 0.3 * before.sum()
    assert_near(after, histogram_of(hand.reference_light(1)))


def test_the_master_is_chosen_and_laid_over(hand):
    hand.key("2")
    assert not plot_of(hand, WAVEFORM).form.is_nits
    hand.key("8")
    plot = plot_of(hand, WAVEFORM)
    assert plot.keys == (1, None)
    assert plot.form.is_nits
    light = hand.reference_light(None)
    scope = Waveform(light.shape[1], PQ_SCALE, channels=1)
    scope.add(luminance(light)[..., np.newaxis])
    assert_near(counts(hand, WAVEFORM, None), scope.counts[0])
    hand.key("8")
    hand.key("4")
    hand.click("scopes of")
    hand.click("scopes of=master")
    assert plot_of(hand, HISTOGRAM).keys == (None,)
    assert_near(counts(hand, HISTOGRAM, None), histogram_of(light))
    hand.click("scopes over")
    hand.click("scopes over=3")
    assert plot_of(hand, HISTOGRAM).keys == (None, 3)
    assert_near(counts(hand, HISTOGRAM, 3), histogram_of(hand.reference_light(3)))


def test_only_the_chosen_patch_is_counted_when_asked(hand):
    hand.key("4")
    hand.bench.do(add_patch, ((0.25, 0.25), (0.75, 0.25), (0.75, 0.75)), "custom")
    whole = histogram_of(hand.reference_light(1))
    assert_near(counts(hand, HISTOGRAM, 1), whole)
    hand.key("z")
    patch = hand.bench.state.chosen_patch
    assert isinstance(patch, Patch)
    mask = patch.mask(hand.picture.rows, hand.picture.columns)
    assert 0.1 < mask.mean() < 0.15
    assert_near(counts(hand, HISTOGRAM, 1), histogram_of(hand.reference_light(1)[mask]))
    hand.click("scopes patch")
    assert_near(counts(hand, HISTOGRAM, 1), whole)


def test_a_trace_of_a_polygon_is_as_strong_as_one_of_all_of_its_pixels(hand, monkeypatch):
    """Of a flat picture a patch has as many pixels a cell as all of it has, for its own number."""
    hand.key("4")
    hand.key("z")
    corners = ((0.25, 0.25), (0.75, 0.25), (0.75, 0.75))
    hand.bench.do(add_patch, corners, "custom")
    hand.settle()
    tally = hand.app.scopes.tallies.of(1)
    inside = int(hand.bench.state.chosen_patch.mask(hand.picture.rows, hand.picture.columns).sum())
    assert tally.samples == inside
    monkeypatch.setattr(tallies, "QUICK", 1e-9)
    monkeypatch.setattr(tallies, "FEWEST", 200)
    hand.bench.set("input.exposure", 0.1)
    hand.app.frame()
    assert tally.stride > 1
    assert tally.samples == tally.shown[plot_of(hand, HISTOGRAM).form].read()[0].sum() < inside / 3


def test_colours_of_two_pictures_over_each_other_are_no_brighter_than_those_of_one(hand):
    """Of the same picture twice, where each channel is at its strongest: white once, as one picture's three are."""
    hand.key("2")
    hand.key("7")
    hand.key("7")
    hand.bench.set("output.saturation", 0.0)
    hand.key("d")
    hand.click("caption 1")
    one = trace(hand, WAVEFORM)
    copy = hand.bench.state.slots[1].key
    hand.click("scopes over")
    hand.click(f"scopes over={copy}")
    assert plot_of(hand, WAVEFORM).keys == (1, copy)
    two = trace(hand, WAVEFORM)
    bright = one > 0.3
    assert bright.sum() > 50
    assert two[bright].mean() == pytest.approx(one[bright].mean(), rel=0.1)


def test_a_sample_is_said_and_every_pixel_follows(hand, monkeypatch):
    monkeypatch.setattr(tallies, "QUICK", 1e-9)
    monkeypatch.setattr(tallies, "FEWEST", 600)
    hand.key("4")
    hand.settle()
    hand.bench.set("input.exposure", 0.1)
    hand.app.frame()
    tally = hand.app.scopes.tallies.of(1)
    assert tally.stride > 1
    assert hand.app.scopes.sampled(plot_of(hand, HISTOGRAM)) == tally.stride**2
    assert not hand.app.is_settled
    assert tally.shown[plot_of(hand, HISTOGRAM).form].read()[0].sum() == tally.samples < hand.picture.rows * 120 / 3
    hand.settle()
    assert hand.app.scopes.sampled(plot_of(hand, HISTOGRAM)) == 1
    assert_near(counts(hand, HISTOGRAM, 1), histogram_of(hand.reference_light(1)))


def test_a_slow_hand_counts_ever_as_many_samples(hand, monkeypatch):
    hand.key("4")
    hand.settle()
    monkeypatch.setattr(tallies, "QUICK", 1e-9)
    monkeypatch.setattr(tallies, "FEWEST", 600)
    for move in range(1, 6):
        hand.bench.set("input.exposure", 0.1 * move)
        hand.app.frame()
        assert 300 < hand.app.scopes.tallies.of(1).samples <= 700


def test_a_trace_lies_where_the_graticule_says(hand):
    """The waveform's brightest row is where the axis has most counts; of RGB side by side each panel for itself."""
    hand.key("2")
    for _ in range(2):
        plot, shown = plot_of(hand, WAVEFORM), trace(hand, WAVEFORM)
        cells = counts(hand, WAVEFORM, 1).reshape(plot.form.channels, -1, plot.form.columns)
        panels = plot.form.channels
        width = plot.rect.width // panels
        for channel in range(panels):
            levels = np.flatnonzero(cells[channel].sum(axis=1))
            rows = [row_of(plot, level) for level in (levels[0], levels[-1])]
            part = shown[:, channel * width + 2 : (channel + 1) * width - 2]
            below, above = part[int(rows[0]) + 3 :], part[: max(int(rows[1]) - 3, 0)]
            inside = part[int(rows[1]) : int(rows[0]) + 1]
            assert inside.max() > 0.5
            assert below.size == 0 or np.median(below) < GROUND + 0.02
            assert above.size == 0 or np.median(above) < GROUND + 0.02
            column = int(np.argmax(cells[channel].max(axis=0)))
            level = int(np.argmax(cells[channel][:, column]))
            row = row_of(plot, level)
            x = int((column + 0.5) * width / plot.form.columns)
            near = part[max(int(row) - 2, 0) : int(row) + 3, max(x - 4, 0) : x + 2]
            assert near.max() > 0.3
        hand.key("7")


def test_brightness_makes_traces_brighter_and_the_edge_makes_them_larger(hand):
    hand.key("3")
    hand.key("5")
    plain = trace(hand, VECTORSCOPE)
    hand.drag("track scopes brightness", (0.33, 0.5), (0.75, 0.5))
    assert hand.bench.shown.scopes.brightness > 3.0
    assert trace(hand, VECTORSCOPE).mean() > 1.1 * plain.mean()
    height = plot_of(hand, CHROMATICITY).rect.height
    place = hand.place("scopes edge")
    hand.drag("scopes edge", (0.5, 0.5), (0.5, 0.5 - 100.0 / place.height))
    assert plot_of(hand, CHROMATICITY).rect.height > height + 50


def test_the_grey_point_of_a_vectorscope_is_its_middle(hand):
    hand.key("3")
    hand.bench.set("output.saturation", 0.0)
    hand.settle()
    cells = counts(hand, VECTORSCOPE, 1)
    middle = cell_at(Vectorscope.scale, 0.0)
    assert cells[int(middle) - 1 : int(middle) + 2, int(middle) - 1 : int(middle) + 2].sum() == cells.sum()
    plot, shown = plot_of(hand, VECTORSCOPE), trace(hand, VECTORSCOPE)
    y, x = np.unravel_index(np.argmax(shown), shown.shape)
    assert abs(y + 0.5 - plot.rect.height / 2) <= 2.0
    assert abs(x + 0.5 - plot.rect.width / 2) <= 2.0


def test_without_a_master_there_are_no_plots(hand):
    hand.key("2")
    hand.bench.state = replace(hand.bench.state, master=None)
    hand.frames()
    assert hand.app._plots == ()


def test_at_rest_the_plots_say_that_every_pixel_is_counted(hand, monkeypatch):
    hand.key("2")
    hand.settle()
    hand.bench.set("input.exposure", 0.5)  # the first time is not measured
    hand.settle()
    said, sampled = [], hand.app.scopes.sampled
    monkeypatch.setattr(tallies, "QUICK", 1e-7)
    monkeypatch.setattr(tallies, "FEWEST", 600)
    monkeypatch.setattr(panel, "_plot", lambda *given: said.append(sampled(given[2])))
    hand.bench.set("input.exposure", -0.5)
    hand.settle()
    assert max(said) > 1
    assert said[-1] == 1


@pytest.mark.parametrize("width", [640, 1280])
def test_the_bar_has_room_for_whole_names(hand, width):
    hand.surface.resize(width, 760)
    hand.bench.shown.panel = width > 800
    for key in "236":
        hand.key(key)
    ui, names = hand.app.ui, [f"scope {kind}" for kind in KINDS]
    for kind, name in zip(KINDS, names, strict=True):
        inside = hand.place(name).width - 2 * panel.imgui.get_style().frame_padding.x
        fits = [title for title in (TITLES[kind][0], SHORT_TITLES[kind]) if abs(ui.width_of(title) - inside) <= 1.0]
        assert fits, f"{name} is cut: {inside} wide"
    row = [*names, "scopes of", "scopes over", "scopes form", "scopes patch"]
    row += ["track scopes brightness"] if width > 800 else []
    for before, after in pairwise(row):
        assert hand.place(before).right <= hand.place(after).left
    assert hand.place(row[-1]).right <= hand.place("scopes edge").right


def test_a_second_picture_has_the_accent_alone_in_every_form_and_lies_under_the_first(hand):
    """Where only the second picture has counts the trace has the accent's hue; where the first is dense, its own."""
    accent = np.array(SECOND) - GROUND
    hand.key("2")
    for form in FORMS:
        assert hand.bench.shown.scopes.form == form
        hand.settle()
        alone = surface_of(hand, WAVEFORM)
        hand.key("8")
        hand.settle()
        plot, both = plot_of(hand, WAVEFORM), surface_of(hand, WAVEFORM)
        high = int(row_of(plot, PQ_SCALE.place(120.0) * (BINS - 1)))  # above it, only the master has light
        above = both[:high].reshape(-1, 3) - GROUND
        lit = above[above.max(axis=-1) > 0.15]
        assert len(lit) > 50
        hues = lit / lit.max(axis=-1, keepdims=True) - accent / accent.max()
        assert np.median(np.abs(hues).max(axis=-1)) < 0.03  # a graticule's line may lie over some
        hand.key("8")
        hand.settle()
        np.testing.assert_array_equal(surface_of(hand, WAVEFORM), alone)
        hand.key("7")


def test_the_pictures_that_are_measured_stand_above_the_plot_in_the_colours_of_their_traces(hand, monkeypatch):
    hand.key("2")
    hand.key("8")
    hand.frames(2)
    said, write, top = {}, hand.app.ui.write, hand.place("scopes edge").top

    def written(x, y, text, colour, *rest, **more):
        if y >= top:
            said[text] = colour
        return write(x, y, text, colour, *rest, **more)

    monkeypatch.setattr(hand.app.ui, "write", written)
    hand.frames(1)
    assert said["BT.2390"] == theme.grey(theme.TEXT)
    assert said["Master"] == theme.accent()


@pytest.mark.parametrize("size", [(640, 360), (800, 450), (1280, 720)])
def test_scopes_get_the_room_that_a_plot_needs(hand, size):
    hand.surface.resize(*size)
    hand.bench.shown.panel = size[0] > 800
    hand.key("2")
    hand.frames(3)
    assert plot_of(hand, WAVEFORM).rect.height >= 3.0 * hand.app.ui.em
    assert hand.place("picture master").height > 3.0 * hand.app.ui.em
