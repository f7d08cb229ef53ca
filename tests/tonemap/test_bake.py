"""Baking: what lies between the nodes is measured truly, and rendition and file agree on the numbers."""

import numpy as np
import pytest

from tonemap.bake import (
    GRID_NODES,
    Trial,
    bake,
    errors_of,
    grid_trial,
    measurement_grid,
    picture_trial,
    without_output_adjustments,
)
from tonemap.cdl import Cdl
from tonemap.difference import delta_e_itp
from tonemap.distance import distance_between
from tonemap.encoding import Encoding
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.lut import TETRAHEDRAL, TRILINEAR, Lut, apply_lut
from tonemap.lut_input import LutInput, input_for, input_named
from tonemap.picture import Picture
from tonemap.reference import ReferenceEngine
from tonemap.rendition import Rendition, chain_of

ENGINE = ReferenceEngine()
INPUT = input_named("pq,bt2020,narrow")
CHAIN = chain_of(Rendition("trial", "bt2390", "gamut_clip"), INPUT.encoding)


def identity(size):
    side = np.linspace(0.0, 1.0, size)
    return np.stack(np.meshgrid(side, side, side, indexing="ij"), axis=-1)


@pytest.mark.parametrize("interpolation", [TETRAHEDRAL, TRILINEAR])
@pytest.mark.parametrize("size", [2, 3, 17])
def test_a_table_of_straight_lines_is_reproduced_everywhere(interpolation, size):
    mix = np.array([[0.5, 0.3, 0.2], [0.1, 0.8, 0.1], [0.0, 0.4, 0.6]])
    lut = Lut(identity(size) @ mix.T)
    values = np.random.default_rng(1).random((500, 3))
    np.testing.assert_allclose(apply_lut(lut, values, interpolation), values @ mix.T, atol=1e-14)


def test_tetrahedral_and_trilinear_differ_where_they_must():
    """By hand, in a cell whose first and last corner are 1 and the rest 0.

    Trilinear, the centre has two of eight corners; the tetrahedral walk goes along the diagonal and stays at 1.
    """
    table = np.zeros((2, 2, 2, 3))
    table[0, 0, 0] = table[1, 1, 1] = 1.0
    centre = np.full((1, 3), 0.5)
    assert apply_lut(Lut(table), centre, TRILINEAR)[0].tolist() == [0.25] * 3
    assert apply_lut(Lut(table), centre, TETRAHEDRAL)[0].tolist() == [1.0] * 3


def test_values_outside_are_read_as_the_nearer_end():
    lut = Lut(identity(3), None, 0.1, 0.9)
    assert apply_lut(lut, np.array([-5.0, 0.5, 7.0])).round(12).tolist() == [0.0, 0.5, 1.0]


def test_the_distance_is_that_of_the_standard_and_of_the_codes():
    """Delta E ITP of 100 and 101 cd/m2 is 0.719269 (BT.2124-0, from its formula); BT.1886 gives the signals."""
    target = Encoding("bt1886", "bt709", "narrow", 10, 200.0)
    signal = np.repeat((np.array([100.0, 101.0]) / 200.0)[:, np.newaxis] ** (1.0 / 2.4), 3, axis=1)
    error = distance_between(signal[:1], signal[1:], target)
    assert error.mean == pytest.approx(0.719269, abs=1e-5)
    assert error.codes_maximum == round(signal[1, 0] * 876.0) - round(signal[0, 0] * 876.0)


def test_the_grid_is_off_the_nodes_of_every_size_but_for_the_ends():
    grid = measurement_grid(0.0, 1.0)
    side = np.unique(grid)
    assert grid.reshape(-1, 3).shape == (GRID_NODES**3, 3)
    for size in (17, 33, 65):
        on_node = np.isclose((side * (size - 1)) % 1.0, 0.0) | np.isclose((side * (size - 1)) % 1.0, 1.0)
        assert on_node.sum() == 2


@pytest.mark.parametrize("shaper", [True, False])
def test_the_error_falls_with_the_size_and_is_zero_on_the_nodes(shaper):
    trials = {"grid": grid_trial(CHAIN, INPUT, ENGINE)}
    errors = [errors_of(bake(CHAIN, INPUT, size, ENGINE, shaper=shaper), trials, CHAIN)["grid"] for size in (9, 17, 33)]
    assert errors[0].mean > 2.0 * errors[1].mean > 4.0 * errors[2].mean > 0.0
    assert errors[2].p99 > errors[2].mean
    black = Trial(np.full((1, 3), INPUT.low), np.zeros((1, 3)))
    assert errors_of(bake(CHAIN, INPUT, 9, ENGINE, shaper=shaper), {"x": black}, CHAIN)["x"].maximum == 0.0


def test_the_shaper_brings_the_lut_nearer():
    """Measured on 33 nodes: mean 0.22 against 0.32, 99 % within 2.4 against 3.2."""
    trials = {"grid": grid_trial(CHAIN, INPUT, ENGINE)}
    with_shaper, without = (
        errors_of(bake(CHAIN, INPUT, 33, ENGINE, shaper=shaper), trials, CHAIN)["grid"] for shaper in (True, False)
    )
    assert with_shaper.mean < 0.75 * without.mean
    assert with_shaper.p99 < 0.8 * without.p99


def test_a_lut_and_a_cdl_stand_together_for_the_whole_rendition():
    """What is left out of the LUT is not in it: the pair is close to the exact trim, the LUT alone is not."""
    output = Cdl((1.1, 1.0, 0.9), (0.01, 0.0, -0.01), (1.05, 1.0, 0.95), 0.9)
    chain = chain_of(Rendition("trial", "bt2390", "gamut_clip", output=output), INPUT.encoding)
    lut = bake(without_output_adjustments(chain), INPUT, 33, ENGINE)
    trials = {"grid": grid_trial(chain, INPUT, ENGINE)}
    pair = errors_of(lut, trials, chain, cdl=chain.rendition.output)["grid"]
    alone = errors_of(lut, trials, chain)["grid"]
    assert pair.mean < 0.4
    assert alone.mean > 5.0


@pytest.mark.parametrize("words", ["pq,bt2020,narrow", "pq,p3-d65,full", "hlg,bt2020,narrow"])
def test_a_picture_is_compared_with_its_own_exact_trim(words):
    """The exact trim is that of the codes, whatever the LUT's input is; a picture goes in as what its codes mean."""
    encoding = Encoding("pq", "bt2020", "narrow", 10)
    codes = np.random.default_rng(2).integers(64, 700, (20, 30, 1)).astype(np.uint16).repeat(3, axis=2)
    picture = Picture(codes, encoding)
    lut_input = input_named(words)
    trial = picture_trial(CHAIN, lut_input, ENGINE, picture)
    error = errors_of(bake(CHAIN, lut_input, 65, ENGINE), {"frame": trial}, CHAIN)["frame"]
    assert np.array_equal(trial.exact, ENGINE.signal(picture, chain_of(CHAIN.rendition, encoding)))
    assert error.p99 < 0.8  # measured: 0.59, from the codes just above black
    assert error.samples == 600


def test_an_input_follows_from_the_master():
    stored = Encoding("pq", "bt2020", "narrow", 12, 4000.0)
    assert input_for(stored).encoding == stored
    floating = Encoding("pq", "bt2020", peak=4000.0)
    assert input_for(floating, stored).encoding == stored
    assert input_for(floating).encoding == Encoding("pq", "bt2020", "full", 10, 4000.0)
    linear = Encoding("linear", "p3-d65", peak=600.0, black=0.01)
    assert input_for(linear).encoding == Encoding("pq", "bt2020", "full", 10, 600.0, 0.01)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (
            "pq",
            "the input 'pq' is not understood; write it as TRANSFER,PRIMARIES,RANGE or TRANSFER,PRIMARIES,RANGE,BITS"
            ", for example pq,bt2020,narrow",
        ),
        (
            "pq,bt2020,narrow,x",
            "the input 'pq,bt2020,narrow,x' is not understood; write it as TRANSFER,PRIMARIES,RANGE "
            "or TRANSFER,PRIMARIES,RANGE,BITS, for example pq,bt2020,narrow",
        ),
        ("pq,bt2020,half", "the input 'pq,bt2020,half': signal range 'half' is not known; choose one of full, narrow"),
        ("pq,bt2020,full,11", "the input 'pq,bt2020,full,11': 11 bits are not supported; choose one of 8, 10, 12, 16"),
        (
            "hlg,bt709,full",
            "the input 'hlg,bt709,full': HLG is defined with BT.2020 primaries (BT.2100); use primaries bt2020",
        ),
        (
            "linear,bt2020,full",
            "the input 'linear,bt2020,full': a LUT is fed with code values of a signal, not with "
            "linear light; choose pq or hlg",
        ),
    ],
)
def test_an_input_that_can_not_be_is_one_sentence(words, sentence):
    with pytest.raises(WrongCall) as fault:
        input_named(words)
    assert str(fault.value) == sentence


@pytest.mark.parametrize(
    ("table", "shaper", "low", "high"),
    [
        (np.zeros((2, 2, 3, 3)), None, 0.0, 1.0),
        (np.full((2, 2, 2, 3), np.nan), None, 0.0, 1.0),
        (np.zeros((2, 2, 2, 3)), None, 1.0, 1.0),
        (np.zeros((2, 2, 2, 3)), np.array([0.0]), 0.0, 1.0),
        (np.zeros((2, 2, 2, 3)), np.array([0.0, 0.6, 0.5]), 0.0, 1.0),
        (np.zeros((2, 2, 2, 3)), np.array([0.0, 1.1]), 0.0, 1.0),
    ],
)
def test_what_is_no_lut_is_refused(table, shaper, low, high):
    with pytest.raises(TrimbenchError):
        Lut(table, shaper, low, high)


def test_the_chain_takes_peak_and_black_from_the_input():
    low = LutInput(Encoding("pq", "bt2020", "full", 10, peak=1000.0))
    high = LutInput(Encoding("pq", "bt2020", "full", 10, peak=4000.0))
    tables = [bake(CHAIN, lut_input, 5, ENGINE, shaper=False).table for lut_input in (low, high)]
    assert delta_e_itp(tables[0] * 100.0, tables[1] * 100.0).max() > 1.0
