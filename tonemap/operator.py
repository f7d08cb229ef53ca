"""All that the author of an operator imports: Operator, its parameters, and what it gets."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any, Literal

from .arrays import Array
from .errors import WrongCall, suggestion

__all__ = [
    "Array",
    "Choice",
    "Levels",
    "Operator",
    "Parameter",
    "Statistics",
    "Switch",
    "Values",
    "Volume",
    "WrongCall",
]

INTERFACE_VERSION = 1

TONE: Literal["tone"] = "tone"
GAMUT: Literal["gamut"] = "gamut"

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


@dataclass(frozen=True)
class Statistics:
    """Measured light of a frame or a shot, in cd/m2.

    All are of max(R, G, B) of the master's light in BT.2020, before the input adjustments, over the pixels of the
    frame, or over those of all frames of the shot. None is below 0.001, so that an author may divide by it.

    Attributes
    ----------
    peak_nits : the highest; where nothing is measured, the master's peak
    highlight_nits : the level that 99.9 % of the pixels don't exceed; where nothing is measured, the master's peak
    median_nits : the level that half of the pixels don't exceed; where nothing is measured, 26 (18 % grey)
    average_nits : the mean, of a frame its average light level (CTA-861.3, Annex A); where nothing is measured, 26
    """

    peak_nits: float
    highlight_nits: float
    median_nits: float
    average_nits: float


@dataclass(frozen=True, kw_only=True)
class Parameter:
    """A number: a slider, an option and a uniform.

    Attributes
    ----------
    unit : 'cd/m2', 'stops', '%' ...; empty for a plain number
    scale : how a slider spreads the range: 'linear'; 'log', evenly in ratios; 'stops', for a number of stops about 0,
        which is shown with its sign
    neutral : the value at which the parameter does nothing, if there is one; parity is then measured well away from it
    """

    name: str
    unit: str
    default: float
    minimum: float
    maximum: float
    help: str
    scale: Literal["linear", "log", "stops"] = "linear"
    neutral: float | None = None

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
        if not isinstance(value, str) or value not in self.options:
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
    """What an operator gets, by name: parameters, the statistics it needs, derived values, tables as arrays (n,).

    `levels` is always there; `volume` is that of the target for a gamut operator. All of it is to be read alone.
    """

    levels: Levels
    volume: Volume

    def __getattr__(self, name: str) -> Any:
        """Name the missing value; only reached when it is not there."""
        raise AttributeError(f"no parameter, need, derived value or table '{name}' is declared")

    def __setattr__(self, name: str, value: Any) -> None:
        """Refuse: what one call changed would be another's fault."""
        raise AttributeError(f"'{name}' can't be set; what the host gives is to be read alone")

    def __delattr__(self, name: str) -> None:
        """Refuse, as `__setattr__`."""
        raise AttributeError(f"'{name}' can't be taken away; what the host gives is to be read alone")


class Operator:
    """A plugin that maps light to light, once in NumPy (`apply`) and once in a GLSL function of the same name.

    The GLSL function is `vec3 NAME(vec3 light, Levels levels, ...)`; a gamut operator has `Volume volume` after the
    levels. Then come the parameters in the order of their declaration (float; int for a choice, bool for a switch), the
    `needs` (float), the `derived` values (float) and the `tables` (sampler2D), each in its order.

    An operator is a function of one pixel's light. It has no neighbours: in both engines a pixel may be of a tile at
    any zoom, of a band of rows, of a patch or of a LUT's grid, where there is no picture around it.

    Attributes
    ----------
    interface_version : the version of this interface that the operator was made for: 1
    name : the name of the Python file, of the GLSL file, of the GLSL function, and in sheets and commands
    title : what a screen shows
    kind : 'tone' (range) or 'gamut' (primaries)
    source : the published reference of the method
    parameters : declared once; the host makes sliders, options, checks, uniforms and documents of them
    needs : names of `Statistics` that the host measures
    derived : names of the values that `derive` computes, once a parameter set, for both engines
    tables : names of the curves that `tabulate` computes, once a parameter set, for both engines; at most four
    """

    interface_version: int
    name: str
    title: str
    kind: Literal["tone", "gamut"]
    source: str
    parameters: tuple[AnyParameter, ...] = ()
    needs: tuple[str, ...] = ()
    derived: tuple[str, ...] = ()
    tables: tuple[str, ...] = ()

    def derive(self, p: Values) -> Mapping[str, float]:
        """Compute the constants that follow from parameters, needs and levels; raises WrongCall if none fit."""
        return {}

    def tabulate(self, p: Values) -> Mapping[str, Array]:
        """Compute the tables: finite values (n,), 2 to 16384, evenly spaced in the position that they are read at.

        Both engines read a table with `table_at` (`tonemap.table`, `lib/table.glsl`), which interpolates linearly.
        Values are rounded to float32 for both. Raises WrongCall if the parameters allow no curve.
        """
        return {}

    def apply(self, light: Array, p: Values) -> Array:
        """Map light to light.

        Parameters
        ----------
        light : ndarray (..., 3)
            BT.2020 primaries, cd/m2, finite, normally not negative; read-only.
        p : Values
            Parameters, needs, derived values and tables by name; `p.levels`, and for a gamut operator `p.volume`.

        Returns
        -------
        ndarray (..., 3), same shape and dtype, finite
            A tone operator returns BT.2020 light with greys within the target's peak (its docstring says what else is,
            and what may exceed it); a gamut operator returns light in the target's primaries, within 0..peak.
        """
        raise TypeError(f"operator '{getattr(self, 'name', type(self).__name__)}' has no apply")
