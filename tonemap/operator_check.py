"""The check of an operator: what every operator must keep, at every set of parameters that parity tries.

Each line of the check is a verdict with its figure, the worst over all sets; figures without a bar inform. The bars are
our own, common practice, no source. No GL here: the engine that is held to the reference is an argument.
"""

import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from .arrays import Array
from .colorimetry import convert, ictcp_from_light, luminance
from .encoding import LIGHT_CEILING, Encoding, decode
from .errors import EngineLimit, TrimbenchError
from .host import Host
from .operator import GAMUT, TONE, Operator, Values
from .parity import (
    Agreement,
    Engine,
    Remembering,
    at_levels,
    compare_chain,
    for_picture,
    stress_pictures,
    trial_chains,
)
from .picture import Picture
from .reference import apply_operator
from .rendition import Chain, Rendition, chain_of
from .transfer import pq_eotf

FALL_BAR = 1e-9  # of the target's peak
BLACK_BAR = 1e-9
GREY_BAR = 1e-6
PEAK_BAR = 1e-6
JUMP_BAR = 1.5  # 10-bit codes; the published pieces of BT.2446 Method A meet with a step of up to 1.1
CODE = 1.0 / 876.0  # of signal, one code at 10 bits, narrow range; Recommendation ITU-R BT.709-6, item 5.6
GAMMA = 2.4

RAMP = np.repeat(pq_eotf(np.linspace(0.0, 1.0, 4001))[:, np.newaxis], 3, axis=1)
CORNERS = np.array([[r, g, b] for r in (0.0, 1.0) for g in (0.0, 1.0) for b in (0.0, 1.0)][1:-1])
HUE_NAMES = ("blue", "green", "cyan", "red", "magenta", "yellow")
HUE_LEVELS = (10.0, 26.0, 50.0, 100.0, 203.0, 400.0, 1000.0)
HUE_PALENESS = 0.5
LEAST_CHROMA = 0.05
"""The share of chroma below which there is no hue to speak of."""
RUNS = 9
TIMING = 0.25
"""Seconds, and rounds at most, that go to the speed of an operator by one engine."""
DARKEST = 0.002
"""Where ramps begin, in PQ: at black itself a gain has no colour to keep, and where black is lifted, colours part."""

INTERVALS = 6
"""How many of a path's steepest intervals are looked at closely for a jump."""


@dataclass(frozen=True)
class Verdict:
    """One line of the check.

    Attributes
    ----------
    name : of what is checked
    figure : the worst that was found, as one reads it
    value : the same as a number, in the unit that the figure has
    passes : whether the bar is met; None for a figure without a bar
    where : the parameter set in which it was found
    """

    name: str
    figure: str
    value: float
    passes: bool | None
    where: str = ""


@dataclass(frozen=True)
class _Trial:
    """An operator at one set of parameters."""

    label: str
    operator: Operator
    chain: Chain

    @property
    def values(self) -> Values:
        return self.chain.tone_values if self.operator.kind == TONE else self.chain.gamut_values

    @property
    def peak(self) -> float:
        return self.chain.levels.target_peak

    def apply(self, light: Array) -> Array:
        """Return what the operator makes of light; its faults are sentences, and so is that it is slow."""
        with self.chain.host.timed(self.operator, "apply", light.size // 3):
            return apply_operator(self.operator, light, self.values)

    def signal(self, light: Array) -> Array:
        """Return the result as a signal of a pure gamma, in which an error weighs alike from black to peak."""
        return (np.clip(self.apply(light) / self.peak, 0.0, None)) ** (1.0 / GAMMA)


def check_sanity(operator: Operator, host: Host) -> list[Verdict]:
    """Try an operator in NumPy at every set of parameters; returns the verdicts, or the one that says why it fails."""
    trials = [_Trial(label, operator, chain) for label, chain in trial_chains(operator, host)]
    lines = [_finite, _black, _monotone, _within_peak, _neutral, _continuous]
    lines += [_unchanged_inside] if operator.kind == GAMUT else [_saturated]
    try:
        return [line(trials) for line in lines]
    except TrimbenchError as fault:
        return [Verdict("runs", str(fault), 1.0, passes=False)]


def check_twin(
    operator: Operator, host: Host, light: Callable[[Picture, Chain], Array], pictures: Mapping[str, Picture]
) -> Verdict:
    """Look at the light that the GLSL file alone makes: what is not finite the chain cuts, each driver in its own way.

    Parameters
    ----------
    light : the picture's light as the operator leaves it on an engine that runs the GLSL, (rows, columns, 3)
    """
    count = 0
    for label, chain in trial_chains(operator, host):
        for given in pictures.values():
            picture, chain_of_picture = at_levels(given, chain), for_picture(chain, given)
            result = light(picture, chain_of_picture)
            is_bad = ~np.isfinite(result).all(axis=-1)
            count += is_bad.size
            if is_bad.any():
                before = decode(picture.samples[is_bad][:1], picture.encoding)[0]
                words = f"the GLSL makes {_three(result[is_bad][0])} of the light {_three(before)} cd/m2"
                file = host.installed(operator.name).glsl_file
                return Verdict("finite in GLSL", f"{words}; correct {file}", 1.0, passes=False, where=label)
    return Verdict("finite in GLSL", f"all of {count} samples", 0.0, passes=True)


def _three(values: Array) -> str:
    return "({:.6g}, {:.6g}, {:.6g})".format(*values)


def check_parity(
    operator: Operator,
    host: Host,
    reference: Engine,
    engines: Mapping[str, Engine],
    pictures: Mapping[str, Picture],
) -> list[Verdict]:
    """Hold engines, by their mains, to the reference at every set of parameters; its pictures are computed once."""
    remembering = Remembering(reference)
    found: dict[str, list[tuple[str, Agreement]]] = {main: [] for main in engines}
    failed: dict[str, Verdict] = {}
    for label, chain in trial_chains(operator, host):
        for main in engines.keys() - failed.keys():
            try:
                found[main].append((label, compare_chain(remembering, engines[main], pictures, chain)))
            except EngineLimit as limit:
                failed[main] = Verdict(f"parity, {main}", f"not measured: {limit}", 0.0, passes=None)
            except TrimbenchError as fault:
                failed[main] = Verdict(f"parity, {main}", str(fault), np.inf, passes=False, where=label)
    return [failed.get(main) or _parity_verdict(main, found[main]) for main in engines]


def _parity_verdict(main: str, found: list[tuple[str, Agreement]]) -> Verdict:
    label, worst = max(found, key=lambda item: (not item[1].passes, item[1].well_conditioned))
    figure = (
        f"{max(item.well_conditioned for _, item in found):.1e} where well conditioned, "
        f"{sum(item.outside for _, item in found)} outside, {max(item.codes_ppm for _, item in found):.0f} per million "
        f"of 10-bit codes differ by {max(item.codes_step for _, item in found)}"
    )
    if not worst.passes:
        figure += f"; worst: {worst.worst}"
    return Verdict(f"parity, {main}", figure, worst.well_conditioned, passes=worst.passes, where=label)


def check_speed(operator: Operator, host: Host, engines: Mapping[str, Engine]) -> list[Verdict]:
    """Time the operator at its defaults within a chain, against the same chain with the simplest operator."""
    random = np.random.default_rng(1)
    codes = np.clip(random.normal(420.0, 130.0, (540, 960, 3)), 64, 940).astype(np.uint16)
    picture = Picture(codes, Encoding("pq", "bt2020", "narrow", 10))
    chains = []
    for name in (operator.name, "linear_scale" if operator.kind == TONE else "gamut_clip"):
        rendition = (
            Rendition(name, name, "gamut_clip") if operator.kind == TONE else Rendition(name, "linear_scale", name)
        )
        chains.append(chain_of(rendition, picture.encoding, host))
    verdicts = []
    for label, engine in engines.items():
        own, simplest = _medians([partial(engine.codes, picture, chain) for chain in chains])
        per_uhd = 1000.0 * own * 3840 * 2160 / (960 * 540)
        figure = (
            f"{per_uhd:.0f} ms for a UHD frame, {own / simplest:.1f} times the chain with {chains[1].rendition.name}"
        )
        verdicts.append(Verdict(f"speed, {label}", figure, own / simplest, passes=None))
    return verdicts


@dataclass(frozen=True)
class HueShift:
    """How far hue turns: degrees in ICtCp, (levels, hues), and the chroma that is kept, as a share."""

    degrees: Array
    chroma: Array


def hue_shift(operator: Operator, host: Host) -> HueShift:
    """Return the hue shift of an operator at its defaults, at `HUE_LEVELS` of luminance and the hues `HUE_NAMES`.

    The colours are the corners of BT.2020 mixed half with grey of the same luminance. NaN where no hue is left, and
    where the colour is brighter than a gamut operator's target.
    """
    label, chain = next(iter(trial_chains(operator, host)))
    trial = _Trial(label, operator, chain)
    colours = CORNERS / luminance(CORNERS)[:, np.newaxis]
    light = np.array(HUE_LEVELS)[:, np.newaxis, np.newaxis] * (HUE_PALENESS * colours + 1.0 - HUE_PALENESS)
    result = trial.apply(light)
    if operator.kind == GAMUT:
        result = convert(result, chain.volume.from_target)
    before, after = (ictcp_from_light(item)[..., 2] + 1j * ictcp_from_light(item)[..., 1] for item in (light, result))
    with np.errstate(divide="ignore", invalid="ignore"):
        turned, kept = np.degrees(np.angle(after / before)), np.abs(after) / np.abs(before)
    if operator.kind == GAMUT:
        kept[np.array(HUE_LEVELS) > trial.peak] = np.nan
    turned[~(kept > LEAST_CHROMA)] = np.nan
    return HueShift(turned, kept)


def stress_light() -> Array:
    """Return light (n, 3) that decode can produce: of odd samples, random, of corners, near black, at its ceiling."""
    pictures = stress_pictures(6_000)
    parts = [decode(pictures[name].samples.reshape(-1, 3), pictures[name].encoding) for name in ("odd", "random")]
    parts += [
        decode(pictures[name].samples.reshape(-1, 3)[::25], pictures[name].encoding)
        for name in ("corners", "near black")
    ]
    return np.concatenate([*parts, np.random.default_rng(8).random((500, 3)) * LIGHT_CEILING])


def _finite(trials: list[_Trial]) -> Verdict:
    light = stress_light()
    for trial in trials:
        trial.apply(light)  # refuses what is not finite, or of another shape or dtype
        trial.apply(light[:100].astype(np.float32))
    return Verdict("finite", f"all of {len(light)} samples, shape and dtype kept", 0.0, passes=True)


def _black(trials: list[_Trial]) -> Verdict:
    usual = [trial for trial in trials if trial.chain.levels.target_black == 0.0]
    value, where = _worst((np.abs(trial.apply(np.zeros((2, 3)))).max() / trial.peak, trial.label) for trial in usual)
    return Verdict("black to black", f"{value:.1g} of the target's peak", value, value <= BLACK_BAR, where)


def _monotone(trials: list[_Trial]) -> Verdict:
    value, where = _worst(
        (-np.diff(trial.apply(_ramp(trial)), axis=0).min() / trial.peak, trial.label) for trial in trials
    )
    figure = f"greys fall by {value:.1g} of the target's peak" if value > FALL_BAR else "greys never fall"
    return Verdict("monotone", figure, max(value, 0.0), value <= FALL_BAR, where)


def _within_peak(trials: list[_Trial]) -> Verdict:
    if trials[0].operator.kind == GAMUT:
        light = _wild_light()
        value, where = _worst((_excess(trial.apply(light), trial.peak), trial.label) for trial in trials)
        figure = f"colours leave 0..peak by {value:.1g} of it" if value > PEAK_BAR else "every colour within 0..peak"
    else:
        value, where = _worst((_excess(trial.apply(RAMP), trial.peak), trial.label) for trial in trials)
        figure = f"greys leave 0..peak by {value:.1g} of it" if value > PEAK_BAR else "greys within 0..peak"
    return Verdict("within the peak", figure, max(value, 0.0), value <= PEAK_BAR, where)


def _neutral(trials: list[_Trial]) -> Verdict:
    value, where = _worst(
        (np.ptp(trial.apply(_ramp(trial)), axis=1).max() / trial.peak, trial.label) for trial in trials
    )
    figure = f"channels of a grey part by {value:.1g} of the target's peak"
    return Verdict("neutral stays neutral", figure, value, value <= GREY_BAR, where)


def _continuous(trials: list[_Trial]) -> Verdict:
    value, where = _worst((largest_jump(trial.signal, _paths(trial)) / CODE, trial.label) for trial in trials)
    figure = f"the largest jump is {value:.2g} codes of 10 bits"
    return Verdict("continuous", figure, value, value <= JUMP_BAR, where)


def _saturated(trials: list[_Trial]) -> Verdict:
    light = _wild_light()
    light = light[light.min(axis=1) >= 0.0]
    value, where = _worst((trial.apply(light).max() / trial.peak, trial.label) for trial in trials)
    return Verdict("saturated light", f"a channel reaches {value:.3g} of the target's peak", value, None, where)


def _unchanged_inside(trials: list[_Trial]) -> Verdict:
    random = np.random.default_rng(7).random((4_000, 3))

    def change(trial: _Trial) -> float:
        volume, pale = trial.chain.volume, random * 0.1 + 0.9 * random.mean(axis=1, keepdims=True)
        light = 0.75 * trial.peak * convert(pale, volume.from_target)
        return float(np.abs(trial.apply(light) - convert(light, volume.to_target)).max() / trial.peak)

    value, where = _worst((change(trial), trial.label) for trial in trials)
    return Verdict("pale colours", f"inside the target they change by {value:.1g} of its peak", value, None, where)


def largest_jump(signal: Callable[[Array], Array], paths: Callable[[Array], Array]) -> float:
    """Return the largest jump of signal along paths through light: what remains of a step however closely one looks.

    Parameters
    ----------
    signal : light (..., 3) -> signal (..., 3)
    paths : places (paths, n) in 0..1 -> light (paths, n, 3)
    """
    count = len(paths(np.zeros((1, 1))))
    places = np.broadcast_to(np.linspace(0.0, 1.0, 2001), (count, 2001))
    steps = np.abs(np.diff(signal(paths(places)), axis=1)).max(axis=-1)
    steepest = np.argsort(steps, axis=1)[:, -INTERVALS:]
    low = np.take_along_axis(places, steepest, axis=1)
    high = np.take_along_axis(places, steepest + 1, axis=1)
    left = np.empty(low.shape)
    for _ in range(30):
        middle = 0.5 * (low + high)
        at_low, at_middle, at_high = (signal(paths(item)) for item in (low, middle, high))
        left, right = (np.abs(one - other).max(axis=-1) for one, other in ((at_middle, at_low), (at_high, at_middle)))
        is_left = left >= right
        low, high = np.where(is_left, low, middle), np.where(is_left, middle, high)
    return float(np.abs(signal(paths(high)) - signal(paths(low))).max())


def _paths(trial: _Trial) -> Callable[[Array], Array]:
    """Return where jumps are looked for: ramps of grey and of the corners; for a gamut operator, grey to corners."""
    if trial.operator.kind == TONE:
        colours = np.concatenate([np.ones((1, 3)), CORNERS])[:, np.newaxis]

        def ramps(places: Array) -> Array:
            levels = pq_eotf(DARKEST + (1.0 - DARKEST) * places)
            return np.broadcast_to(levels, (len(colours), places.shape[1]))[..., np.newaxis] * colours

        return ramps
    random = np.random.default_rng(9)
    corners = np.concatenate([CORNERS, random.random((18, 3)) ** 3])[:, np.newaxis] * 1.3 * trial.peak
    greys = random.uniform(0.02, 0.9, (len(corners), 1, 1)) * trial.peak

    def lines(places: Array) -> Array:
        share = np.broadcast_to(places, (len(corners), places.shape[1]))[..., np.newaxis]
        return greys + share * (corners - greys)

    return lines


def _ramp(trial: _Trial) -> Array:
    """Return greys: all that there are for a tone operator, up to the target's peak for a gamut operator."""
    return RAMP if trial.operator.kind == TONE else RAMP[RAMP[:, 0] <= trial.peak]


def _wild_light() -> Array:
    random = np.random.default_rng(6)
    return np.concatenate([stress_light(), random.uniform(-50.0, 500.0, (4_000, 3)), CORNERS * 1000.0])


def _excess(result: Array, peak: float) -> float:
    return float(max(result.max() / peak - 1.0, -result.min() / peak))


def _worst(found: Iterable[tuple[float, str]]) -> tuple[float, str]:
    value, where = max(found, key=lambda item: item[0])
    return float(value), where


def _medians(works: Sequence[Callable[[], object]]) -> list[float]:
    """Return the median time of each in seconds, in rounds of all of them; the first round is not measured."""
    for work in works:
        work()
    rounds: list[list[float]] = []
    end = time.perf_counter() + TIMING
    while not rounds or (len(rounds) < RUNS and time.perf_counter() < end):
        rounds.append([])
        for work in works:
            start = time.perf_counter()
            work()
            rounds[-1].append(time.perf_counter() - start)
    return [float(median) for median in np.median(rounds, axis=0)]
