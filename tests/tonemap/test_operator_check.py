"""The check of an operator sees each fault that it is there for, and passes what is sound."""

from pathlib import Path
from typing import Literal

import numpy as np
import pytest

from tonemap.colorimetry import convert, ictcp_from_light
from tonemap.host import Host, find_operators
from tonemap.operator import GAMUT, TONE, Operator
from tonemap.operator_check import HUE_LEVELS, check_parity, check_sanity, check_speed, hue_shift, largest_jump
from tonemap.parity import stress_pictures
from tonemap.picture import Picture
from tonemap.reference import ReferenceEngine

BUILT_IN = find_operators()


class Sound(Operator):
    """A curve with nothing wrong: what passes the peak is cut."""

    interface_version = 1
    name = "tried"
    title = "Tried"
    kind: Literal["tone", "gamut"] = TONE
    source = "a test"

    def apply(self, light, p):
        return np.clip(light, 0.0, p.levels.target_peak)


class Flips(Sound):
    def apply(self, light, p):
        level = light / p.levels.target_peak
        return np.where(level < 0.5, light, np.where(level < 0.6, 0.9 * light, np.minimum(light, p.levels.target_peak)))


class Leaps(Sound):
    """By arithmetic (0.079^(1/2.4) - 0.077^(1/2.4)) * 876 = 3.2 codes, where the target's peak is 100 cd/m2."""

    def apply(self, light, p):
        return np.clip(np.where(light > 7.7, light + 0.2, light), 0.0, p.levels.target_peak)


class Glows(Sound):
    def apply(self, light, p):
        return np.clip(light + 1e-6, 0.0, p.levels.target_peak)


class Passes(Sound):
    def apply(self, light, p):
        return np.clip(light, 0.0, 1.01 * p.levels.target_peak)


class Tints(Sound):
    def apply(self, light, p):
        return np.clip(light, 0.0, p.levels.target_peak) * np.array([1.0, 0.999, 1.0], light.dtype)


class Breaks(Sound):
    def apply(self, light, p):
        return np.where(light > 9000.0, np.nan, np.clip(light, 0.0, p.levels.target_peak))


class Meddles(Sound):
    def apply(self, light, p):
        np.clip(light, 0.0, p.levels.target_peak, out=light)
        return light


class Widens(Sound):
    def apply(self, light, p):
        return np.clip(light, 0.0, p.levels.target_peak).astype(np.float64)


class Raises(Sound):
    def apply(self, light, p):
        raise ValueError("no luck")


class Leaks(Sound):
    """A gamut operator that leaves negative channels."""

    kind = GAMUT

    def apply(self, light, p):
        return np.minimum(convert(light, p.volume.to_target), p.levels.target_peak)


def host_of(operator_class: type[Operator]) -> Host:
    file = BUILT_IN.installed("linear_scale").glsl_file
    return BUILT_IN.with_operator(operator_class(), Path(__file__), file)


def verdicts(operator_class: type[Operator]) -> dict[str, tuple[bool | None, str]]:
    host = host_of(operator_class)
    return {item.name: (item.passes, item.figure) for item in check_sanity(host.get("tried"), host)}


def test_a_sound_operator_passes_every_line():
    found = verdicts(Sound)
    assert {passes for passes, _ in found.values()} == {True, None}
    assert found["saturated light"] == (None, "a channel reaches 1 of the target's peak")


@pytest.mark.parametrize(
    ("operator_class", "line", "figure"),
    [
        (Flips, "monotone", "greys fall by 0.05 of the target's peak"),
        (Leaps, "continuous", "the largest jump is 3.2 codes of 10 bits"),
        (Glows, "black to black", "1e-08 of the target's peak"),
        (Passes, "within the peak", "greys leave 0..peak by 0.01 of it"),
        (Tints, "neutral stays neutral", "channels of a grey part by 0.001 of the target's peak"),
        (Meddles, "runs", "operator 'tried': apply fails with ValueError: output array is read-only ("),
        (Widens, "runs", "operator 'tried': apply returns float64 for light of float32; correct apply ("),
        (Breaks, "runs", "operator 'tried': apply makes (0, 0, nan) of the light (0, 0, 65504) cd/m2; correct apply ("),
        (Raises, "runs", "operator 'tried': apply fails with ValueError: no luck"),
    ],
)
def test_a_fault_is_seen_and_named(operator_class, line, figure):
    passes, found = verdicts(operator_class)[line]
    assert (passes, found.startswith(figure)) == (False, True), found


def test_a_gamut_operator_that_leaves_the_target_is_seen():
    passes, figure = verdicts(Leaks)["within the peak"]
    assert passes is False
    assert figure.startswith("colours leave 0..peak by ")


def test_the_largest_jump_is_what_remains_however_closely_one_looks():
    """Arithmetic: a step of 0.25 on a steep slope, and none on a slope as steep."""

    def paths(places: np.ndarray) -> np.ndarray:
        return np.repeat(places[..., np.newaxis], 3, axis=-1)

    assert largest_jump(lambda light: 50.0 * light + 0.25 * (light > 0.377), paths) == pytest.approx(0.25, abs=1e-6)
    assert largest_jump(np.sqrt, paths) < 1e-4


def test_hue_shift_is_none_for_one_gain_and_that_of_the_clip_for_the_clip():
    """One gain keeps hue exactly in linear light; ICtCp turns a little, by its own nature: 0.5 degrees at 203 cd/m2."""
    shift = hue_shift(BUILT_IN.get("gamut_clip"), BUILT_IN)
    assert np.isnan(shift.degrees[-1]).all()  # 1000 cd/m2 is above the target's peak
    row = HUE_LEVELS.index(26.0)
    assert np.abs(shift.degrees[row]).max() < 5.0
    assert shift.chroma[row].max() <= 1.01
    linear = hue_shift(BUILT_IN.get("linear_scale"), BUILT_IN)
    light = np.array([[200.0, 20.0, 20.0]])
    before, after = (ictcp_from_light(item)[0, 1:] for item in (light, 0.1 * light))
    turned = np.degrees(np.arctan2(before[1], before[0]) - np.arctan2(after[1], after[0]))
    assert abs(turned) < 3.0
    assert np.nanmax(np.abs(linear.degrees)) < 5.0


class Wrong:
    """An engine that is off by one part in a thousand."""

    name = title = "wrong"

    def signal(self, picture, chain):
        return ReferenceEngine().signal(picture, chain) * 1.001

    def codes(self, picture, chain):
        return ReferenceEngine().codes(picture, chain)


def test_parity_holds_an_engine_to_the_bar():
    ramp = stress_pictures(1000)["ramp"]
    pictures = {"ramp": Picture(ramp.samples[::16].copy(), ramp.encoding)}
    operator, reference = BUILT_IN.get("knee"), ReferenceEngine()
    engines = {"itself": reference, "wrong": Wrong()}
    itself, wrong = check_parity(operator, BUILT_IN, reference, engines, pictures)
    assert (itself.name, itself.passes) == ("parity, itself", True)
    assert (wrong.name, wrong.passes) == ("parity, wrong", False)
    assert "worst: pixel" in wrong.figure


def test_speed_is_a_figure_without_a_bar():
    (verdict,) = check_speed(BUILT_IN.get("linear_scale"), BUILT_IN, {"reference": ReferenceEngine()})
    assert verdict.passes is None
    assert verdict.value > 0.0
    assert "times the chain with linear_scale" in verdict.figure
