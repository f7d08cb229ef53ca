"""The comparer of the engines itself: it finds a planted error of each kind, and it points at the right pixel."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tonemap.adjustments import InputAdjustments
from tonemap.arrays import Array, Codes
from tonemap.encoding import Encoding, decode, sdr_target
from tonemap.host import find_operators
from tonemap.operator import GAMUT, Choice, Parameter, Switch
from tonemap.parity import (
    SIGNAL_BAR,
    Agreement,
    at_levels,
    compare,
    compare_chain,
    for_picture,
    parameter_sets,
    stress_pictures,
    trial_chains,
)
from tonemap.picture import Picture, light_picture
from tonemap.reference import ReferenceEngine, finish_signal
from tonemap.rendition import Chain, Rendition, chain_of

HOST = find_operators()
REFERENCE = ReferenceEngine()
ROWS, COLUMNS = 60, 200
AT = (17, 123)  # where an error of one pixel is planted
GREEN_ERROR = np.array([0.0, 0.01, 0.0])


class Planted(ReferenceEngine):
    """The reference with an error: in the signal, or in the codes alone."""

    def __init__(self, signal=lambda signal: signal, codes=lambda codes: codes, chain=lambda chain: chain) -> None:
        self.change_signal, self.change_codes, self.change_chain = signal, codes, chain

    def signal(self, picture: Picture, chain: Chain) -> Array:
        return self.change_signal(super().signal(picture, self.change_chain(chain)).copy())

    def codes(self, picture: Picture, chain: Chain) -> Codes:
        return self.change_codes(super().codes(picture, self.change_chain(chain)).copy())


def at_one_pixel(change):
    """Return a change of a whole result that happens at one pixel only."""

    def changed(result: np.ndarray) -> np.ndarray:
        result[AT] = change(result[AT])
        return result

    return changed


def renewed(chain: Chain, **changes: Any) -> Chain:
    return chain_of(replace(chain.rendition, **changes), chain.master, chain.host)


@pytest.fixture(scope="module")
def picture() -> Picture:
    """Light in all the target's volume and around it; at AT a bright, well-conditioned colour."""
    light = np.random.default_rng(1).random((ROWS, COLUMNS, 3)) ** 3 * 1200.0
    light[AT] = [70.0, 60.0, 50.0]
    return light_picture(light.astype(np.float32))


@pytest.fixture(scope="module")
def chain(picture: Picture) -> Chain:
    rendition = Rendition(
        "trial",
        "knee",
        "gamut_hue",
        {"landing": -0.5, "reach": 0.7, "desaturation": 0.3},
        input=InputAdjustments(exposure=0.25),
    )
    return chain_of(rendition, picture.encoding, HOST)


def agreement_of(engine: ReferenceEngine, picture: Picture, chain: Chain) -> Agreement:
    return compare(REFERENCE, engine, picture, chain)


def test_the_identical_engine_passes_with_no_difference(picture, chain):
    agreement = agreement_of(ReferenceEngine(), picture, chain)
    assert agreement.passes
    assert (agreement.well_conditioned, agreement.anywhere, agreement.outside) == (0.0, 0.0, 0)
    assert (agreement.codes_ppm, agreement.codes_step) == (0.0, 0)
    assert agreement.samples == ROWS * COLUMNS * 3


def test_an_engine_that_rounds_to_float32_passes():
    """On the target's edge rounding shows far above the bar: the interval allows for it, and for no more."""
    edge = np.random.default_rng(2).random((40, 100, 3)) * 90.0
    edge[..., 1] = 0.0
    clipped = chain_of(Rendition("edge", "hard_clip", "gamut_clip"), Encoding("linear"), HOST)
    picture = light_picture((edge @ clipped.volume.from_target.T).astype(np.float32))

    def rounded(chain: Chain, c: float) -> ReferenceEngine:
        toned = chain.tone.apply(decode(picture.samples, chain.master), chain.tone_values)
        toned = toned * np.random.default_rng(3).uniform(1.0 - c, 1.0 + c, toned.shape)
        signal = finish_signal(chain.gamut.apply(toned, chain.gamut_values), chain)
        return Planted(lambda _: signal.astype(np.float32))

    agreement = agreement_of(rounded(clipped, 2.0**-24), picture, clipped)
    assert agreement.passes, str(agreement)
    assert agreement.anywhere > 10.0 * SIGNAL_BAR
    assert not agreement_of(rounded(clipped, 1e-4), picture, clipped).passes


@pytest.mark.parametrize("parameter", ["landing", "reach"])
def test_a_flipped_sign_of_a_parameter_is_found(picture, chain, parameter):
    settings = dict(chain.rendition.tone_settings)
    settings[parameter] = -settings[parameter] if parameter == "reach" else settings[parameter] - 0.01
    agreement = agreement_of(Planted(chain=lambda c: renewed(c, tone_settings=settings)), picture, chain)
    assert not agreement.passes
    assert agreement.outside > 0
    assert agreement.well_conditioned > 1e-4


def test_a_flipped_sign_of_the_exposure_is_found(picture, chain):
    flipped = Planted(chain=lambda c: renewed(c, input=InputAdjustments(exposure=-0.25)))
    assert not agreement_of(flipped, picture, chain).passes


@pytest.mark.parametrize("offset", [3e-6, -3e-6])
def test_an_offset_just_above_the_bar_is_found(picture, chain, offset):
    agreement = agreement_of(Planted(lambda signal: signal + offset), picture, chain)
    assert not agreement.passes
    assert agreement.well_conditioned == pytest.approx(3e-6, rel=1e-6)


def test_an_offset_at_one_well_conditioned_pixel_is_found(picture, chain):
    agreement = agreement_of(Planted(at_one_pixel(lambda pixel: pixel + 3e-6)), picture, chain)
    assert not agreement.passes
    assert agreement.well_conditioned == pytest.approx(3e-6, rel=1e-6)


def test_an_offset_within_the_bar_passes(picture, chain):
    assert agreement_of(Planted(lambda signal: signal + 4e-7), picture, chain).passes


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_a_sample_that_is_no_number_is_found(picture, chain, bad):
    def planted(signal: Array) -> Array:
        signal[AT][1] = bad
        return signal

    agreement = agreement_of(Planted(planted), picture, chain)
    assert not agreement.passes
    assert agreement.anywhere == np.inf
    assert agreement.outside >= 1
    assert (agreement.worst.row, agreement.worst.column) == AT


def test_swapped_channels_are_found(picture, chain):
    assert not agreement_of(Planted(lambda signal: signal[..., ::-1]), picture, chain).passes


def test_swapped_channels_of_one_pixel_are_found(picture, chain):
    assert not agreement_of(Planted(at_one_pixel(lambda pixel: pixel[::-1])), picture, chain).passes


def test_a_row_too_far_is_found(picture, chain):
    assert not agreement_of(Planted(lambda signal: np.roll(signal, 1, axis=0)), picture, chain).passes


def test_a_step_of_two_codes_is_found_though_the_signal_agrees(picture, chain):
    agreement = agreement_of(Planted(codes=at_one_pixel(lambda codes: codes + np.uint16(2))), picture, chain)
    assert not agreement.passes
    assert (agreement.codes_step, agreement.anywhere) == (2, 0.0)


def test_a_step_of_two_codes_down_is_found(picture, chain):
    agreement = agreement_of(Planted(codes=at_one_pixel(lambda codes: codes - np.uint16(2))), picture, chain)
    assert (agreement.passes, agreement.codes_step) == (False, 2)


def test_one_code_beside_passes_once_and_not_everywhere(picture, chain):
    once = agreement_of(Planted(codes=at_one_pixel(lambda codes: codes + np.uint16(1))), picture, chain)
    assert once.passes
    assert once.codes_ppm == pytest.approx(3e6 / (ROWS * COLUMNS * 3))
    everywhere = agreement_of(Planted(codes=lambda codes: codes + np.uint16(1)), picture, chain)
    assert not everywhere.passes
    assert (everywhere.codes_step, everywhere.codes_ppm) == (1, 1e6)


def test_an_error_is_measured_against_what_light_can_be(picture, chain):
    """The same 1e-4 is an error on a bright pixel and within the interval where a channel is all but gone."""
    dark = light_picture(np.full((1, 1, 3), 1e-30, np.float32))
    bright = light_picture(np.full((1, 1, 3), 40.0, np.float32))
    far = Planted(lambda signal: signal + 1e-4)
    assert not agreement_of(far, bright, chain).passes
    assert not agreement_of(far, dark, chain).passes  # black is exact: nothing excuses an error there
    edge = chain_of(Rendition("edge", "hard_clip", "gamut_clip"), bright.encoding, HOST)
    light = np.array([[[1.0, 0.0, 0.0]]]) @ edge.volume.from_target.T * 40.0  # a BT.709 red: two channels vanish
    on_edge = light_picture(light)
    assert agreement_of(Planted(lambda signal: signal + np.array([0.0, 1e-4, 0.0])), on_edge, edge).passes
    assert not agreement_of(Planted(lambda signal: signal + np.array([1e-4, 0.0, 0.0])), on_edge, edge).passes


def test_the_printed_worst_pixel_is_the_right_one(picture, chain):
    planted = Planted(at_one_pixel(lambda pixel: pixel + GREEN_ERROR))
    agreement = agreement_of(planted, picture, chain)
    exact = REFERENCE.signal(picture, chain)[AT]
    assert (agreement.worst.row, agreement.worst.column) == AT
    assert agreement.worst.samples == tuple(picture.samples[AT].tolist()) == (70.0, 60.0, 50.0)
    assert agreement.worst.reference == tuple(exact.tolist())
    assert agreement.worst.result == tuple((exact + GREEN_ERROR).tolist())
    three = "{:.9g}, {:.9g}, {:.9g}"
    assert str(agreement.worst) == (
        f"pixel (17, 123), in (70, 60, 50), reference ({three.format(*exact)}), "
        f"got ({three.format(exact[0], exact[1] + 0.01, exact[2])})"
    )
    assert str(agreement) == (
        "36000 samples: 0.01 where well conditioned, 0.01 anywhere, 1 outside the interval, 0 ppm of codes differ by "
        f"up to 0; worst in the picture: {agreement.worst}"
    )


def test_pictures_are_pooled_and_the_worst_is_named(picture, chain):
    other = light_picture(np.full((5, 5, 3), 30.0, np.float32))

    def planted(signal: Array) -> Array:
        if signal.shape[0] == 5:
            signal[3, 2] += 0.02
        return signal

    agreement = compare_chain(REFERENCE, Planted(planted), {"whole": picture, "small": other}, chain)
    assert (agreement.picture, agreement.worst.row, agreement.worst.column) == ("small", 3, 2)
    assert agreement.samples == (ROWS * COLUMNS + 25) * 3
    assert agreement.outside == 3
    assert not agreement.passes
    assert compare_chain(REFERENCE, ReferenceEngine(), {"whole": picture, "small": other}, chain).passes


# The pictures and the parameters that parity is measured with.


def test_stress_pictures_hold_what_they_say():
    pictures = stress_pictures(10_000)
    assert list(pictures) == ["ramp", "random", "corners", "near black", "odd"]
    assert np.array_equal(np.unique(pictures["ramp"].samples), np.arange(65536))
    assert pictures["random"].samples.size == 30_000
    assert 9000.0 < pictures["random"].samples.max() <= 10000.0
    assert pictures["near black"].samples.max() <= 1.0
    odd = pictures["odd"].samples
    assert np.isnan(odd).any()
    assert np.isposinf(odd).any()
    assert np.isneginf(odd).any()
    assert (odd < 0.0).any()
    saturated = (pictures["corners"].samples == 0.0).any(axis=-1) & (pictures["corners"].samples.max(axis=-1) > 1.0)
    assert saturated.mean() > 0.2
    again = stress_pictures(10_000)
    assert all(
        np.array_equal(pictures[name].samples, again[name].samples, equal_nan=True) for name in ("random", "odd")
    )


@pytest.mark.parametrize("name", HOST.operators)
def test_parameters_are_tried_where_they_bite(name):
    """Every number away from its default and at both ends, in every option and with switches both ways."""
    operator = HOST.get(name)
    sets = parameter_sets(operator)
    assert sets["default"] == {}
    states = [
        (parameter, value)
        for parameter in operator.parameters
        if not isinstance(parameter, Parameter)
        for value in (parameter.options if isinstance(parameter, Choice) else (True, False))
    ]
    numbers = [parameter for parameter in operator.parameters if isinstance(parameter, Parameter)]
    for state, value in states:
        held = [settings for settings in sets.values() if settings.get(state.name, state.default) == value]
        for number in numbers:
            tried = {settings.get(number.name, number.default) for settings in held}
            assert tried >= {number.default, number.minimum, number.maximum, sets["away"][number.name]}
    for parameter in operator.parameters:
        tried = [settings.get(parameter.name, parameter.default) for settings in sets.values()]
        if isinstance(parameter, Parameter):
            away = sets["away"][parameter.name]
            assert parameter.minimum < away < parameter.maximum
            assert away != parameter.default
            assert {parameter.minimum, parameter.maximum} <= set(tried)
        elif isinstance(parameter, Choice):
            assert set(tried) == set(parameter.options)
        else:
            assert isinstance(parameter, Switch)
            assert set(tried) == {True, False}


def test_trial_chains_have_two_sets_of_levels():
    for name in HOST.operators:
        chains = dict(trial_chains(HOST.get(name), HOST))
        assert set(chains) == set(parameter_sets(HOST.get(name)))
        assert chains["default"].levels.target_peak == 100.0
        assert chains["away"].levels.source_black == float(np.float32(0.005))
        assert chains["away"].levels.target_peak == 203.0
        stage = "gamut" if HOST.get(name).kind == GAMUT else "tone"
        assert all(getattr(chain.rendition, stage) == name for chain in chains.values())


def test_a_picture_takes_the_levels_of_the_chain_and_the_chain_the_pictures_encoding():
    chain = chain_of(
        Rendition("trial", "knee", target=sdr_target()), Encoding("linear", peak=4000.0, black=0.005), HOST
    )
    coded = stress_pictures(1000)["ramp"]
    adapted = at_levels(coded, chain)
    assert (adapted.encoding.peak, adapted.encoding.black, adapted.encoding.transfer) == (4000.0, 0.005, "pq")
    assert for_picture(chain, coded).master == adapted.encoding
    assert for_picture(chain, coded).levels == chain.levels
