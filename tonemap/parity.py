"""Parity: how well an engine agrees with the reference, on stress pictures, at parameter values that bite.

The bar is set in the encoded SDR signal, where an error weighs the same from black to peak. Rounding in float32 cannot
be smaller than what it does to the light that enters: near the target's gamut boundary a difference of nearly equal
numbers is encoded with a steep curve. So a pixel is held to `SIGNAL_BAR` where it is well conditioned, and everywhere
to the interval that the exact chain spans when its light moves by `c` times its largest channel.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import product
from typing import Protocol

import numpy as np

from .adjustments import apply_input_adjustments
from .arrays import Array, Codes
from .encoding import Encoding, decode, quantise_signal, sdr_target
from .host import Host
from .operator import TONE, Choice, Operator, Parameter, ParameterValue, Statistics, Switch
from .picture import Picture, light_picture
from .reference import apply_operator, finish_signal, render_signal
from .rendition import Chain, Rendition, chain_of
from .transfer import pq_eotf

SIGNAL_BAR = 2e-6
INTERVAL_C = 5e-6
INTERVAL_FLOOR = 5e-7
ROUNDING = 2.0**-22
WELL_CONDITIONED = 4.0
CODES_BAR_PPM = 100.0
CODES_BAR_STEP = 1
KEPT = 5
"""As many signals as there are stress pictures."""
MEASURED = Statistics(peak_nits=1630.0, highlight_nits=911.0, median_nits=7.5, average_nits=37.25)


class Engine(Protocol):
    """What both engines offer."""

    name: str
    title: str

    def signal(self, picture: Picture, chain: Chain) -> Array:
        """Return the target's signal, (rows, columns, 3), 0..1, not quantised."""
        ...

    def codes(self, picture: Picture, chain: Chain) -> Codes:
        """Return the target's code values, (rows, columns, 3)."""
        ...


class Remembering:
    """An engine that keeps its last signals: those of the stress pictures, when several are held to it in turn."""

    def __init__(self, engine: Engine) -> None:
        self.engine, self.name, self.title = engine, engine.name, engine.title
        self._last: list[tuple[Array | Codes, Chain, Array]] = []

    def signal(self, picture: Picture, chain: Chain) -> Array:
        """Return the engine's signal, computed once while neither the samples nor the chain change."""
        for samples, known, signal in self._last:
            if samples is picture.samples and known == chain:
                return signal
        signal = self.engine.signal(picture, chain)
        self._last = [*self._last[1 - KEPT :], (picture.samples, chain, signal)]
        return signal

    def codes(self, picture: Picture, chain: Chain) -> Codes:
        """Return the engine's code values."""
        return self.engine.codes(picture, chain)


@dataclass(frozen=True)
class Worst:
    """The pixel that differs most: where, what went in, what came out of both engines."""

    row: int
    column: int
    samples: tuple[float, float, float]
    reference: tuple[float, float, float]
    result: tuple[float, float, float]

    def __str__(self) -> str:
        """One line for a log."""
        three = "{:.9g}, {:.9g}, {:.9g}"
        return (
            f"pixel ({self.row}, {self.column}), in ({three.format(*self.samples)}), "
            f"reference ({three.format(*self.reference)}), got ({three.format(*self.result)})"
        )


@dataclass(frozen=True)
class Agreement:
    """The figures of one comparison.

    Attributes
    ----------
    well_conditioned : largest difference of signal on well-conditioned samples
    anywhere : largest difference of signal
    outside : samples outside the conditioning-aware interval, or not finite
    codes_ppm : samples per million whose 10-bit code differs
    codes_step : largest difference of a 10-bit code
    """

    samples: int
    well_conditioned: float
    anywhere: float
    outside: int
    codes_ppm: float
    codes_step: int
    worst: Worst
    picture: str = "the picture"

    @property
    def passes(self) -> bool:
        """Whether the bar is met; of too few samples to speak of millionths, three codes may differ."""
        few_codes = self.codes_ppm <= max(CODES_BAR_PPM, 3e6 / self.samples)
        return (
            self.well_conditioned <= SIGNAL_BAR
            and self.outside == 0
            and few_codes
            and self.codes_step <= CODES_BAR_STEP
        )

    def __str__(self) -> str:
        """One line for a log."""
        return (
            f"{self.samples} samples: {self.well_conditioned:.2g} where well conditioned, {self.anywhere:.2g} "
            f"anywhere, {self.outside} outside the interval, {self.codes_ppm:.0f} ppm of codes differ by up to "
            f"{self.codes_step}; "
            f"worst in {self.picture}: {self.worst}"
        )


def compare(reference: Engine, engine: Engine, picture: Picture, chain: Chain, c: float = INTERVAL_C) -> Agreement:
    """Compare an engine with the reference on one picture and chain (whose target has 10 bits)."""
    exact, result = reference.signal(picture, chain), engine.signal(picture, chain).astype(np.float64)
    difference = np.abs(result - exact)
    is_bad = ~np.isfinite(result)
    difference[is_bad] = np.inf
    suspects = np.argwhere((difference > min(SIGNAL_BAR, INTERVAL_FLOOR)).any(axis=-1))
    well_conditioned = float(difference.max(where=difference <= INTERVAL_FLOOR, initial=0.0))
    outside = 0
    for part in np.array_split(suspects, max(1, len(suspects) // 100_000)):
        at = part[:, 0], part[:, 1]
        width = interval_width(picture.samples[at], chain, c)
        outside += int((difference[at] > width + INTERVAL_FLOOR).sum())
        conditioning = 2.4 * width / (c * np.maximum(exact[at], 1e-12))
        settled = (conditioning < WELL_CONDITIONED) & (difference[at] < np.inf)
        well_conditioned = max(well_conditioned, float(difference[at].max(where=settled, initial=0.0)))
    exact_codes = quantise_signal(exact, chain.rendition.target)
    steps = np.abs(exact_codes.astype(np.int64) - engine.codes(picture, chain).astype(np.int64))
    row, column, _ = (int(i) for i in np.unravel_index(int(difference.argmax()), difference.shape))
    return Agreement(
        samples=difference.size,
        well_conditioned=well_conditioned,
        anywhere=float(difference.max()),
        outside=outside,
        codes_ppm=float((steps > 0).mean() * 1e6),
        codes_step=int(steps.max()),
        worst=Worst(row, column, *(_three(item[row, column]) for item in (picture.samples, exact, result))),
    )


def compare_chain(
    reference: Engine, engine: Engine, pictures: Mapping[str, Picture], chain: Chain, c: float = INTERVAL_C
) -> Agreement:
    """Compare an engine with the reference on several pictures, and pool the figures."""
    found = [
        replace(compare(reference, engine, at_levels(picture, chain), for_picture(chain, picture), c), picture=name)
        for name, picture in pictures.items()
    ]
    samples = sum(item.samples for item in found)
    worst = max(found, key=lambda item: item.anywhere)
    return Agreement(
        samples=samples,
        well_conditioned=max(item.well_conditioned for item in found),
        anywhere=worst.anywhere,
        outside=sum(item.outside for item in found),
        codes_ppm=sum(item.codes_ppm * item.samples for item in found) / samples,
        codes_step=max(item.codes_step for item in found),
        worst=worst.worst,
        picture=worst.picture,
    )


def interval_width(samples: Array | Codes, chain: Chain, c: float) -> Array:
    """Return how far the exact signal (n, 3) moves when light moves by c times its largest channel, in any channel.

    Light is moved where it enters the chain and where it leaves the tone operator: what is rounded within the operator
    shows there, also where its curve is flat. Where it leaves the gamut operator it is moved by `ROUNDING`: a channel
    near 0 is a sum of terms as large as the largest, and float32 holds no more of it.
    """
    light = decode(samples, chain.master)
    toned = apply_operator(chain.tone, apply_input_adjustments(light, chain.rendition.input), chain.tone_values)
    as_light = replace(chain, master=Encoding("linear", peak=chain.master.peak, black=chain.master.black))
    mapped = apply_operator(chain.gamut, toned, chain.gamut_values)
    return (
        _moved(light, lambda moved: render_signal(moved, as_light), c)
        + _moved(toned, lambda moved: finish_signal(apply_operator(chain.gamut, moved, chain.gamut_values), chain), c)
        + _moved(mapped, lambda moved: finish_signal(moved, chain), ROUNDING)
    )


def _moved(light: Array, finish: Callable[[Array], Array], c: float) -> Array:
    exact, width = finish(light), np.zeros_like(light)
    step = c * light.max(axis=-1)
    for channel in range(3):
        moves = []
        for sign in (-1.0, 1.0):
            moved = light.copy()
            moved[..., channel] += sign * step
            moves.append(np.abs(finish(moved) - exact))
        width += np.maximum(*moves)
    return width


def stress_pictures(random_pixels: int = 1_000_000, seed: int = 20) -> Mapping[str, Picture]:
    """Return the pictures that parity is measured on.

    A ramp in PQ codes; random colours in BT.2020 up to 10 000 cd/m2, uniform in PQ; ramps of saturated corners; light
    near black; negative, infinite and undefined samples.
    """
    random = np.random.default_rng(seed)
    ramp = np.repeat(np.arange(65536, dtype=np.uint16).reshape(256, 256, 1), 3, axis=2)
    columns = 1000
    colours = pq_eotf(random.random((max(1, random_pixels // columns), columns, 3)))
    corners = np.array([[r, g, b] for r in (0.0, 1.0) for g in (0.0, 1.0) for b in (0.0, 1.0)][1:])
    levels = pq_eotf(np.linspace(0.0, 1.0, 4096))
    pale = np.concatenate([corners, 0.95 * corners + 0.05, 0.5 * corners + 0.5])
    dark = 10.0 ** random.uniform(-7.0, 0.0, (64, columns, 3))
    odd = np.array([np.nan, np.inf, -np.inf, -100.0, -1e-3, -0.0, 0.0, 1e-30, 1e-42, 203.0, 65504.0, 1e9, 3e38])
    odd = np.stack(np.meshgrid(odd, odd, odd), axis=-1).reshape(13, 169, 3)
    return {
        "ramp": Picture(ramp, Encoding("pq", "bt2020", "full", 16)),
        "random": light_picture(colours.astype(np.float32)),
        "corners": light_picture((pale[:, np.newaxis, :] * levels[:, np.newaxis]).astype(np.float32)),
        "near black": light_picture(dark.astype(np.float32)),
        "odd": light_picture(odd.astype(np.float32)),
    }


def parameter_sets(operator: Operator) -> Mapping[str, dict[str, ParameterValue]]:
    """Return the settings at which an operator is tried, by a label.

    Every option of every choice, with the switches as they are declared and with all of them switched; in each of these
    states the numbers at their defaults, away from them, and all at their minimum and at their maximum.
    """
    numbers = [parameter for parameter in operator.parameters if isinstance(parameter, Parameter)]
    places: dict[str, dict[str, ParameterValue]] = {"": {}, "away": {item.name: _away(item) for item in numbers}}
    if numbers:
        places["minimum"] = {item.name: item.minimum for item in numbers}
        places["maximum"] = {item.name: item.maximum for item in numbers}
    ways: dict[str, dict[str, ParameterValue]] = {"": {}}
    for choice in (parameter for parameter in operator.parameters if isinstance(parameter, Choice)):
        others = (option for option in choice.options if option != choice.default)
        ways |= {f"{choice.name} {option}": {choice.name: option} for option in others}
    switched = {item.name: not item.default for item in operator.parameters if isinstance(item, Switch)}
    states = {"": {}, "switched": switched} if switched else {"": {}}
    return {
        ", ".join(filter(None, (way, state, place))) or "default": ways[way] | states[state] | places[place]
        for way, state, place in product(ways, states, places)
    }


def trial_chains(operator: Operator, host: Host) -> Iterator[tuple[str, Chain]]:
    """Yield the chains on which an operator is tried, with labels.

    A tone operator is followed by the clip; a gamut operator follows a roll-off by luminance, which leaves channels
    above the target's peak. 'away' sets also have other levels: a master of 0.005..4000 and a target of 0.05..203
    cd/m2; and measured statistics, where the others have what stands for them.
    """
    for label, settings in parameter_sets(operator).items():
        is_away = label.endswith(("away", "maximum"))
        target = sdr_target(203.0, 0.05) if is_away else sdr_target()
        master = Encoding("linear", peak=4000.0, black=0.005) if is_away else Encoding("linear")
        if operator.kind == TONE:
            rendition = Rendition(label, operator.name, "gamut_clip", settings, target=target)
        else:
            tone: dict[str, ParameterValue] = {"application": "luminance", "start": 20.0}
            rendition = Rendition(label, "reinhard_extended", operator.name, tone, settings, target=target)
        yield label, chain_of(rendition, master, host, MEASURED if is_away else None)


def at_levels(picture: Picture, chain: Chain) -> Picture:
    """Return the picture as one of a master with the chain's peak and black."""
    return Picture(picture.samples, replace(picture.encoding, peak=chain.master.peak, black=chain.master.black))


def for_picture(chain: Chain, picture: Picture) -> Chain:
    """Return the chain for a picture's own encoding, with the chain's own peak and black."""
    return replace(chain, master=at_levels(picture, chain).encoding)


def _away(parameter: Parameter) -> float:
    """Return a value well inside the range, well away from the default and from where the parameter does nothing."""
    shares = np.log if parameter.scale == "log" else np.asarray
    low, high, default = (shares(value) for value in (parameter.minimum, parameter.maximum, parameter.default))
    part = 0.5 if parameter.scale == "log" else 0.25
    ends = sorted((high, low), key=lambda end: -abs(end - default))
    tried = [default + part * (end - default) for end in ends]
    neutral = parameter.neutral
    if neutral is not None:
        tried.sort(key=lambda value: abs(value - shares(neutral)) < 0.1 * (high - low))
    return float(np.exp(tried[0]) if parameter.scale == "log" else tried[0])


def _three(item: np.ndarray) -> tuple[float, float, float]:
    red, green, blue = (float(value) for value in item)
    return red, green, blue
