"""All that the author of an operator imports: Operator, its parameters, and the levels it gets."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

from .arrays import Array
from .errors import WrongCall, suggestion

INTERFACE_VERSION = 1

TONE = "tone"
GAMUT = "gamut"

ParameterValue = float | str | bool


@dataclass(frozen=True)
class Levels:
    """Black and peak, in cd/m2, of the master and of the target."""

    source_black: float
    source_peak: float
    target_black: float
    target_peak: float


@dataclass(frozen=True)
class Volume:
    """The target's primaries as matrices on light, (3, 3) for column vectors."""

    to_target: Array
    from_target: Array


@dataclass(frozen=True, kw_only=True)
class Parameter:
    """A number: a slider, an option and a uniform.

    Attributes
    ----------
    scale : 'linear' or 'log'; how a slider spreads the range
    """

    name: str
    unit: str
    default: float
    minimum: float
    maximum: float
    help: str
    scale: str = "linear"

    def checked(self, value: Any) -> float:
        """Return the value as a float; raises WrongCall, without the operator's name, when it is not allowed."""
        try:
            number = float(value)
        except (TypeError, ValueError):
            raise WrongCall(f"{self.name} = {value!r} is not a number; give one in {self.range_text}") from None
        if not self.minimum <= number <= self.maximum:
            raise WrongCall(f"{self.name} = {number:g} is outside {self.range_text}; choose a value in that range")
        return number

    @property
    def range_text(self) -> str:
        """The range with its unit, as messages and help show it."""
        return f"{self.minimum:g}..{self.maximum:g} {self.unit}".strip()


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One of several named ways; it selects code, so changing it makes a new program on the GPU.

    In GLSL the chosen option arrives as an int, and the host defines NAME_OPTION (upper case) for every option.
    """

    name: str
    default: str
    options: Mapping[str, str]
    help: str

    def checked(self, value: Any) -> str:
        """Return the option's name; raises WrongCall for an unknown one."""
        if value not in self.options:
            raise WrongCall(f"{self.name} = {value!r} is not an option; {suggestion(str(value), list(self.options))}")
        return str(value)

    @property
    def range_text(self) -> str:
        """The options, as messages and help show them."""
        return " | ".join(self.options)


@dataclass(frozen=True, kw_only=True)
class Switch:
    """On or off; in GLSL a bool that is known when the program is made."""

    name: str
    default: bool
    help: str

    def checked(self, value: Any) -> bool:
        """Return the value as a bool; text is 'on' or 'off'. Raises WrongCall for anything else."""
        if isinstance(value, bool):
            return value
        if value in ("on", "off"):
            return bool(value == "on")
        raise WrongCall(f"{self.name} = {value!r} is neither on nor off")

    @property
    def range_text(self) -> str:
        """The two values, as messages and help show them."""
        return "on | off"


AnyParameter = Parameter | Choice | Switch


class Values(SimpleNamespace):
    """What `apply` gets: every parameter and derived value by name, and `levels` (and, for gamut, `volume`)."""

    levels: Levels
    volume: Volume

    def __getattr__(self, name: str) -> Any:
        """Name the missing value; only reached when it is not there."""
        raise AttributeError(f"no parameter or derived value '{name}' is declared")


class Operator:
    """A plugin that maps light to light, once in NumPy (`apply`) and once in a GLSL function of the same name.

    The GLSL function is `vec3 NAME(vec3 light, Levels levels, ...)`; a gamut operator has `Volume volume` after the
    levels. Then come the parameters in the order of their declaration (float, int for a choice, bool for a switch),
    then the derived values (float) in the order of `derived`.

    Attributes
    ----------
    name : the name of the GLSL function, of the file in `shaders/operators/`, and in sheets and commands
    title : what a screen shows
    kind : 'tone' (range) or 'gamut' (primaries)
    source : the published reference of the method
    parameters : declared once; the host makes sliders, options, checks, uniforms and documents of them
    derived : names of the values that `derive` computes, once a parameter set, for both engines
    """

    interface_version: int = INTERFACE_VERSION
    name: str
    title: str
    kind: str
    source: str
    parameters: tuple[AnyParameter, ...] = ()
    derived: tuple[str, ...] = ()

    def derive(self, p: Values) -> Mapping[str, float]:
        """Compute the constants of the curve that follow from parameters and levels; raises WrongCall if none fit."""
        return {}

    def apply(self, light: Array, p: Values) -> Array:
        """Map light to light.

        Parameters
        ----------
        light : ndarray (..., 3)
            BT.2020 primaries, cd/m2, finite, normally not negative.
        p : Values
            Parameters and derived values by name; `p.levels`, and for a gamut operator `p.volume`.

        Returns
        -------
        ndarray (..., 3), same shape and dtype
            A tone operator returns BT.2020 light with greys within the target's peak (its docstring says what else is,
            and what may exceed it); a gamut operator returns light in the target's primaries, within 0..peak.
        """
        raise TypeError(f"operator '{getattr(self, 'name', type(self).__name__)}' has no apply")
