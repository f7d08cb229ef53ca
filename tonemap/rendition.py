"""A rendition: input adjustments, one tone operator, one gamut operator, output adjustments, target."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from .adjustments import InputAdjustments
from .cdl import Cdl
from .colorimetry import conversion_matrix
from .encoding import Encoding, sdr_target
from .host import Host, evaluate_parameters, find_operators
from .operator import GAMUT, TONE, Levels, Operator, ParameterValue, Statistics, Values, Volume
from .picture import Picture
from .statistics import measure_frames

if TYPE_CHECKING:
    from .media.master import Master

Settings = Mapping[str, ParameterValue]


@dataclass(frozen=True)
class Rendition:
    """A named chain from the master's light to the SDR signal.

    Attributes
    ----------
    tone, gamut : names of operators
    tone_settings, gamut_settings : the parameters that differ from the operators' defaults
    """

    name: str
    tone: str
    gamut: str = "gamut_hue"
    tone_settings: Settings = field(default_factory=dict)
    gamut_settings: Settings = field(default_factory=dict)
    input: InputAdjustments = field(default_factory=InputAdjustments)
    output: Cdl = field(default_factory=Cdl)
    target: Encoding = field(default_factory=sdr_target)


@dataclass(frozen=True)
class Chain:
    """A rendition ready to be evaluated on one master: operators found, parameters checked, levels known.

    Attributes
    ----------
    statistics : of the frame or the shot, for operators that need them; None where nothing is measured
    """

    rendition: Rendition
    master: Encoding
    host: Host
    statistics: Statistics | None = None

    @cached_property
    def tone(self) -> Operator:
        """The tone operator."""
        return self.host.get(self.rendition.tone, TONE)

    @cached_property
    def gamut(self) -> Operator:
        """The gamut operator."""
        return self.host.get(self.rendition.gamut, GAMUT)

    @cached_property
    def levels(self) -> Levels:
        """Black and peak of the master and of the target, in float32 as the GPU gets them.

        The input adjustments do not move the master's levels: exposure then acts on every operator, also on those that
        see light relative to the master's peak.
        """
        master, target = self.master, self.rendition.target
        return Levels(*(float(np.float32(level)) for level in (master.black, master.peak, target.black, target.peak)))

    @cached_property
    def volume(self) -> Volume:
        """The target's primaries."""
        primaries = self.rendition.target.primaries
        return Volume(conversion_matrix("bt2020", primaries), conversion_matrix(primaries, "bt2020"))

    @cached_property
    def tone_values(self) -> Values:
        """Parameters, derived values and levels of the tone operator; raises WrongCall for a wrong one."""
        with self.host.timed(self.tone, _computing(self.tone)):
            return evaluate_parameters(self.tone, self.rendition.tone_settings, self.levels, None, self.statistics)

    @cached_property
    def gamut_values(self) -> Values:
        """Parameters, derived values, levels and volume of the gamut operator; raises WrongCall for a wrong one."""
        given = self.rendition.gamut_settings
        with self.host.timed(self.gamut, _computing(self.gamut)):
            return evaluate_parameters(self.gamut, given, self.levels, self.volume, self.statistics)


def _computing(operator: Operator) -> str:
    return "tabulate" if operator.tables else "derive"


def chain_of(
    rendition: Rendition, master: Encoding, host: Host | None = None, statistics: Statistics | None = None
) -> Chain:
    """Prepare a rendition for a master with the given encoding, and check every name and value in it."""
    rendition = replace(rendition, input=_float32_adjustments(rendition.input), output=_float32_cdl(rendition.output))
    chain = Chain(rendition, master, host or find_operators(), statistics)
    _ = chain.tone_values, chain.gamut_values  # computed here, so that a wrong value is said before any work
    return chain


def chain_on(rendition: Rendition, picture: Picture, host: Host | None = None) -> Chain:
    """Prepare a rendition for a picture, whose statistics are measured if one of its operators needs them."""
    host = host or find_operators()
    return chain_of(rendition, picture.encoding, host, needed_statistics(rendition, picture, host))


def chain_over(rendition: Rendition, master: "Master", first: int, last: int, host: Host) -> Chain:
    """Prepare a rendition for frames first..last of a master, measured together if one of its operators needs it.

    Raises
    ------
    TrimbenchError
        When a name or a value is wrong, or no frame can be measured.
    """
    statistics = measure_frames(master, first, last) if needs_of(rendition, host) else None
    return chain_of(rendition, master.encoding, host, statistics)


def needed_statistics(rendition: Rendition, picture: Picture, host: Host) -> Statistics | None:
    """Return the statistics of a picture, measured once, if an operator of the rendition needs any; else None."""
    return picture.statistics if needs_of(rendition, host) else None


def needs_of(rendition: Rendition, host: Host) -> tuple[str, ...]:
    """Return the statistics that the operators of a rendition need."""
    return (*host.get(rendition.tone, TONE).needs, *host.get(rendition.gamut, GAMUT).needs)


def _float32_adjustments(adjustments: InputAdjustments) -> InputAdjustments:
    return InputAdjustments(*(float(np.float32(value)) for value in vars(adjustments).values()))


def _float32_cdl(cdl: Cdl) -> Cdl:
    red_green_blue = [
        tuple(float(np.float32(value)) for value in triple) for triple in (cdl.slope, cdl.offset, cdl.power)
    ]
    slope, offset, power = red_green_blue
    return Cdl(slope, offset, power, float(np.float32(cdl.saturation)))  # type: ignore[arg-type]
