"""Counts on the card against counts of the reference engine's picture by NumPy, cell by cell, with both mains."""

from dataclasses import replace

import numpy as np
import pytest

from tonemap.colorimetry import conversion_matrix, convert, luminance
from tonemap.encoding import Encoding, decode, signal_to_light
from tonemap.host import find_operators
from tonemap.measure.hue import uv_of_light
from tonemap.monitor import Monitor
from tonemap.picture import Picture
from tonemap.reference import ReferenceEngine
from tonemap.rendition import chain_of
from tonemap.scopes import (
    BINS,
    PQ_SCALE,
    SIGNAL_SCALE,
    ChromaticityScope,
    Histogram,
    TransferPlot,
    Vectorscope,
    Waveform,
    chroma_signals,
    light_channels,
    signal_channels,
)
from tonemap.signal_range import expand
from tonemap.starters import starter_renditions
from tonemap.transfer import pq_eotf_inverse
from viewer.bench.canvas import Canvas, Drawing, ViewKey
from viewer.bench.layout import Placement
from viewer.bench.painter import Painter
from viewer.bench.programs import Programs
from viewer.bench.pyramid import pyramid_of
from viewer.bench.scope_counts import Counter, Grid, Subject
from viewer.bench.scopes import CHROMATICITY, HISTOGRAM, TRANSFER, VECTORSCOPE, WAVEFORM, Form
from viewer.gl.context import OffscreenContext
from viewer.gl.texture import Texture

COLUMNS, ROWS = 150, 84
NEAR = 4e-3
"""Of a cell: parity's 2e-6 of an axis, twice. A value this near to an edge may be counted on its other side."""

OTHER_CODES = 1e-4
"""Share of the samples whose code may be another one; the bar of parity."""


def picture_of_all_sorts() -> Picture:
    """Return a master of 10-bit codes: ramps, random colours, black, saturated corners."""
    random = np.random.default_rng(11)
    codes = random.integers(64, 700, (ROWS, COLUMNS, 3)).astype(np.uint16)
    codes[:20] = np.linspace(64, 940, COLUMNS).astype(np.uint16)[np.newaxis, :, np.newaxis]
    codes[20:26] = 64
    codes[26:32, :, 0] = 760
    codes[26:32, :, 1:] = 64
    return Picture(codes, Encoding("pq", "bt2020", "narrow", 10))


class Card:
    """A master and a rendition of it on the card, and the same from the reference engine."""

    def __init__(self, has_compute: bool, shares: bool) -> None:
        from OpenGL import GL

        self.context = OffscreenContext()
        GL.glBindVertexArray(GL.glGenVertexArrays(1))
        self.picture = picture_of_all_sorts()
        # far within parity's bar: what is tested is the counting, and of so few samples chance takes more or fewer
        self.chain = chain_of(starter_renditions()[2], self.picture.encoding, find_operators())
        self.pyramid = pyramid_of(self.picture, self.picture.encoding)
        self.light = self.pyramid.levels[0].texture
        self.counter = Counter(has_compute, shares)
        self.painter = Painter(Programs())
        self.target = self.chain.rendition.target
        self.master_light = decode(self.picture.samples, self.picture.encoding)
        codes = ReferenceEngine().codes(self.picture, self.chain)
        assert self.target.bits is not None
        self.signal = expand(codes, self.target.bits, self.target.signal_range)
        own = signal_to_light(self.signal, self.target)
        self.rendition_light = convert(own, conversion_matrix(self.target.primaries, "bt2020"))

    def counts(self, form: Form, key: int | None, grid: Grid, mask: np.ndarray | None = None, step: int = 7):
        """Return what the card counts, in slices of some rows."""
        from OpenGL import GL

        covered = None
        if mask is not None:
            covered = Texture(GL.GL_R32F, grid.width, grid.height)
            covered.upload(np.repeat(mask[..., np.newaxis], 3, axis=-1).astype(np.float32))
        counts = self.counter.make_counts(form)
        for low in range(0, grid.rows, step):
            rows = low, min(low + step, grid.rows)
            middle, size = grid.stride // 2, (grid.columns, rows[1] - rows[0])
            first = (grid.left + middle, grid.top + low * grid.stride + middle)
            subject = Subject((self.light, first, grid.stride), mask=covered)
            if key is not None:
                canvas = Canvas()
                drawing = Drawing(ViewKey(0, Placement(1.0, 0, 0), 1, 1), Monitor(), self.chain)
                self.painter.paint(drawing, self.light, canvas, size, first, grid.stride)
                assert canvas.framebuffer is not None
                subject = replace(subject, signal=canvas.framebuffer.texture, shown=self.target)
            self.counter.add(form, subject, grid, rows, counts)
        return counts.read()


@pytest.fixture(
    scope="module", params=[(True, False), (True, True), (False, False)], ids=["compute", "shared", "points"]
)
def card(request):
    card = Card(*request.param)
    yield card
    card.context.close()


WHOLE = Grid(0, 0, COLUMNS, ROWS)
PART = Grid(30, 10, 71, 45)


def cut(values: np.ndarray, grid: Grid) -> np.ndarray:
    middle = grid.stride // 2
    bottom, right = grid.top + grid.height, grid.left + grid.width
    return values[grid.top + middle : bottom : grid.stride, grid.left + middle : right : grid.stride]


def near_edges(*places: np.ndarray) -> int:
    """Return how many values lie so near to an edge of their cell that float32 may put them into the next one."""
    cells = [place * (BINS - 1) + 0.5 for place in places]
    return int(np.logical_or.reduce([np.abs(cell - np.rint(cell)) < NEAR for cell in cells]).sum())


def assert_alike(got: np.ndarray, wanted: np.ndarray, *places: np.ndarray) -> None:
    """Assert equal counts, but for values on an edge, which may lie in the next cell up or down, left or right."""
    assert got.shape == wanted.shape
    assert got.sum() == wanted.sum() > 0
    moved = np.abs(got - wanted).sum() / 2
    allowed = near_edges(*places) + OTHER_CODES * wanted.sum()
    assert moved <= allowed, f"{moved:.0f} of {wanted.sum()} lie elsewhere, {allowed:.0f} may"
    assert allowed < 0.02 * wanted.sum()
    around = sum(np.roll(got, (y, x), (0, 1)) for y in (-1, 0, 1) for x in (-1, 0, 1))
    assert (around >= wanted).all(), "a count lies farther away than the next cell"


def wanted_waveform(values: np.ndarray, scale, columns: int) -> np.ndarray:
    """Return the waveform of values with one column a sample, put together in fewer columns."""
    scope = Waveform(values.shape[1], scale, BINS, values.shape[2])
    scope.add(values)
    places = np.arange(values.shape[1]) * columns // values.shape[1]
    result = np.zeros((values.shape[2], BINS, columns), np.int64)
    for column, place in enumerate(places):
        result[:, :, place] += scope.counts[:, :, column]
    return result.reshape(-1, columns)


@pytest.mark.parametrize("columns", [150, 64])
@pytest.mark.parametrize(("first", "channels"), [(3, 1), (0, 3)])
def test_a_waveform_of_the_signal_counts_the_codes_of_the_reference(card, columns, first, channels):
    got = card.counts(Form(WAVEFORM, False, columns, first, channels), 1, WHOLE)
    values = signal_channels(card.signal, card.target.primaries)[..., first : first + channels]
    assert_alike(got, wanted_waveform(values, SIGNAL_SCALE, columns), SIGNAL_SCALE.place(values))


@pytest.mark.parametrize("key", [None, 1])
def test_a_waveform_of_light_counts_nits_spaced_as_pq(card, key):
    got = card.counts(Form(WAVEFORM, True, 150, 0, 4), key, WHOLE)
    light = card.master_light if key is None else card.rendition_light
    assert_alike(got, wanted_waveform(light_channels(light), PQ_SCALE, 150), PQ_SCALE.place(light_channels(light)))


@pytest.mark.parametrize("key", [None, 1])
def test_a_histogram_counts_nits(card, key):
    scope = Histogram(PQ_SCALE)
    values = light_channels(card.master_light if key is None else card.rendition_light)
    scope.add(values)
    assert_alike(card.counts(Form(HISTOGRAM, channels=4), key, WHOLE), scope.counts, PQ_SCALE.place(values))


@pytest.mark.parametrize("key", [None, 1])
def test_a_vectorscope_counts_chroma_of_the_signal(card, key):
    """Against np.histogram2d too, whose edges are those of the rule: cell n has its middle at n of 1023."""
    scope = Vectorscope("bt2020" if key is None else card.target.primaries)
    signal = pq_eotf_inverse(card.master_light) if key is None else card.signal
    scope.add(signal)
    got = card.counts(Form(VECTORSCOPE), key, WHOLE)
    places = [scope.scale.place(value) for value in chroma_signals(signal, scope.primaries)]
    assert_alike(got, scope.counts, *places)
    red, green, blue = (0.2627, 0.6780, 0.0593) if key is None else (0.2126, 0.7152, 0.0722)
    luma = signal @ np.array([red, green, blue])
    cb, cr = (signal[..., 2] - luma) / (2.0 - 2.0 * blue), (signal[..., 0] - luma) / (2.0 - 2.0 * red)
    edges = (np.arange(BINS + 1) - 0.5 - 512.0) / 896.0
    counted, _, _ = np.histogram2d(cr.ravel(), cb.ravel(), (edges, edges))
    assert_alike(got, counted.astype(np.int64), *places)


@pytest.mark.parametrize("key", [None, 1])
def test_a_chromaticity_scope_counts_colours_that_are_not_too_dark(card, key):
    scope = ChromaticityScope()
    light = card.master_light if key is None else card.rendition_light
    scope.add(light)
    assert scope.dark > 100
    got = card.counts(Form(CHROMATICITY), key, WHOLE)
    assert_alike(got, scope.counts, scope.scale.place(uv_of_light(light)))


def test_a_transfer_plot_counts_output_against_input(card):
    scope = TransferPlot()
    scope.add(card.master_light, card.rendition_light)
    got = card.counts(Form(TRANSFER), 1, WHOLE)
    places = [PQ_SCALE.place(luminance(light)).ravel() for light in (card.rendition_light, card.master_light)]
    edges = (np.arange(BINS + 1) - 0.5) / (BINS - 1)
    counted, _, _ = np.histogram2d(*places, (edges, edges))
    assert_alike(got, counted.astype(np.int64), *places)
    assert_alike(got, scope.counts, *places)


@pytest.mark.parametrize("stride", [1, 2, 5])
def test_a_part_of_the_picture_and_a_sample_of_it_are_counted_alone(card, stride):
    grid = Grid(PART.left, PART.top, PART.width, PART.height, stride)
    for key, light in ((None, card.master_light), (1, card.rendition_light)):
        scope = Histogram(PQ_SCALE)
        values = light_channels(cut(light, grid))
        scope.add(values)
        got = card.counts(Form(HISTOGRAM, channels=4), key, grid)
        assert got[0].sum() == grid.columns * grid.rows == cut(light, grid)[..., 0].size
        assert_alike(got, scope.counts, PQ_SCALE.place(values))


def test_a_mask_leaves_out_what_it_does_not_cover(card):
    y, x = np.mgrid[0 : PART.height, 0 : PART.width]
    mask = x + y < 60
    scope = Vectorscope(card.target.primaries)
    signal = cut(card.signal, PART)[mask]
    scope.add(signal)
    places = [scope.scale.place(value) for value in chroma_signals(signal, scope.primaries)]
    assert_alike(card.counts(Form(VECTORSCOPE), 1, PART, mask), scope.counts, *places)
