"""A rendition's settings by their paths, as commands, trim sheets and the bench name them: 'input.exposure'."""

from collections.abc import Iterator, Mapping
from dataclasses import fields, replace
from typing import Any

from .adjustments import InputAdjustments
from .cdl import Cdl, Triple
from .encoding import Encoding
from .errors import WrongCall, suggestion
from .host import Host, checked_value, parameter_of
from .operator import AnyParameter, Operator, Parameter
from .rendition import Rendition

INPUT_PARAMETERS = (
    Parameter(
        name="exposure",
        unit="stops",
        default=0.0,
        minimum=-8.0,
        maximum=8.0,
        help="Gain on light before the tone operator.",
    ),
    Parameter(
        name="contrast",
        unit="",
        default=1.0,
        minimum=0.5,
        maximum=2.0,
        help="Power of luminance about the pivot; chromaticity is kept.",
    ),
    Parameter(
        name="pivot",
        unit="cd/m2",
        default=26.0,
        minimum=1.0,
        maximum=1000.0,
        scale="log",
        help="The level that contrast leaves alone; 26 is 18 % grey of a PQ master.",
    ),
    Parameter(
        name="saturation",
        unit="",
        default=1.0,
        minimum=0.0,
        maximum=2.0,
        help="Mix with the grey of the same luminance.",
    ),
)
OUTPUT_PARAMETERS = (
    Parameter(
        name="slope", unit="", default=1.0, minimum=0.0, maximum=4.0, help="ASC CDL slope; one number, or r,g,b."
    ),
    Parameter(
        name="offset", unit="", default=0.0, minimum=-1.0, maximum=1.0, help="ASC CDL offset; one number, or r,g,b."
    ),
    Parameter(
        name="power", unit="", default=1.0, minimum=0.1, maximum=4.0, help="ASC CDL power; one number, or r,g,b."
    ),
    Parameter(name="saturation", unit="", default=1.0, minimum=0.0, maximum=4.0, help="ASC CDL saturation."),
)
TARGET_NUMBERS = ("peak", "black", "unit")
STAGES = ("tone", "gamut", "input", "output", "target")


def with_setting(rendition: Rendition, path: str, value: Any, host: Host) -> Rendition:
    """Return the rendition with one setting changed.

    Parameters
    ----------
    path : 'tone.NAME' and 'gamut.NAME' for an operator's parameter, 'input.NAME', 'output.NAME', 'target.NAME'
    value : a number, text of a number, an option's name, on/off; for an ASC CDL triple also 'r,g,b'

    Raises
    ------
    WrongCall
        For a path or a value that there is not, with what is there.
    """
    stage, _, name = path.partition(".")
    if stage not in STAGES or not name:
        raise WrongCall(f"setting '{path}' is not known; {suggestion(path, list(_paths(rendition, host)))}")
    if stage == "tone":
        operator = host.get(rendition.tone, "tone")
        settings = {**rendition.tone_settings, name: checked_value(operator, name, value)}
        return replace(rendition, tone_settings=settings)
    if stage == "gamut":
        operator = host.get(rendition.gamut, "gamut")
        settings = {**rendition.gamut_settings, name: checked_value(operator, name, value)}
        return replace(rendition, gamut_settings=settings)
    if stage == "input":
        number = _checked(INPUT_PARAMETERS, path, name, value)
        return replace(rendition, input=replace(rendition.input, **{name: number}))
    if stage == "output":
        output: dict[str, Any] = {name: _cdl_value(path, name, value)}
        return replace(rendition, output=replace(rendition.output, **output))
    field_name, checked = _target_entry(path, name, value)
    return replace(rendition, target=replace(rendition.target, **{field_name: checked}))


def with_settings(rendition: Rendition, settings: Mapping[str, Any], host: Host) -> Rendition:
    """Return the rendition with several settings changed; those of the target together, since they lean on each other.

    Raises
    ------
    WrongCall
        As `with_setting` does.
    """
    target: dict[str, Any] = {}
    for path, value in settings.items():
        stage, _, name = path.partition(".")
        if path == "target.bits" and value is None:
            target["bits"] = None  # as `settings_of` gives it for a floating-point target
        elif stage == "target" and name:
            field_name, checked = _target_entry(path, name, value)
            target[field_name] = checked
        else:
            rendition = with_setting(rendition, path, value, host)
    return replace(rendition, target=replace(rendition.target, **target)) if target else rendition


def parameter_at(rendition: Rendition, path: str, host: Host) -> AnyParameter | None:
    """Return the declaration behind a setting; None for one of the target. Raises WrongCall where there is none."""
    stage, _, name = path.partition(".")
    if stage in ("tone", "gamut"):
        return parameter_of(host.get(getattr(rendition, stage), stage), name)
    known = {"input": INPUT_PARAMETERS, "output": OUTPUT_PARAMETERS}.get(stage, ())
    for parameter in known:
        if parameter.name == name:
            return parameter
    if path not in _paths(rendition, host):
        raise WrongCall(f"setting '{path}' is not known; {suggestion(path, list(_paths(rendition, host)))}")
    return None


def settings_of(rendition: Rendition, host: Host) -> dict[str, Any]:
    """Return every setting of a rendition by its path, in the order of the chain."""
    return {path: _value(rendition, path, host) for path in _paths(rendition, host)}


def changed_settings(rendition: Rendition, host: Host) -> dict[str, Any]:
    """Return the settings that differ from their defaults, by path."""
    plain = settings_of(Rendition(rendition.name, rendition.tone, rendition.gamut), host)
    return {path: value for path, value in settings_of(rendition, host).items() if value != plain[path]}


def _paths(rendition: Rendition, host: Host) -> Iterator[str]:
    yield from (f"input.{field.name}" for field in fields(InputAdjustments))
    for stage, operator in (("tone", host.get(rendition.tone, "tone")), ("gamut", host.get(rendition.gamut, "gamut"))):
        yield from (f"{stage}.{parameter.name}" for parameter in operator.parameters)
    yield from (f"output.{field.name}" for field in fields(Cdl))
    yield from (f"target.{_target_word(field.name)}" for field in fields(Encoding))


def _value(rendition: Rendition, path: str, host: Host) -> Any:
    stage, _, name = path.partition(".")
    if stage in ("tone", "gamut"):
        operator: Operator = host.get(getattr(rendition, stage), stage)
        given = getattr(rendition, f"{stage}_settings")
        return given.get(name, next(p.default for p in operator.parameters if p.name == name))
    return getattr(getattr(rendition, stage), "signal_range" if path == "target.range" else name)


def _checked(parameters: tuple[Parameter, ...], path: str, name: str, value: Any) -> float:
    known = {parameter.name: parameter for parameter in parameters}
    stage = path.partition(".")[0]
    if name not in known:
        raise WrongCall(f"setting '{path}' is not known; {suggestion(path, [f'{stage}.{item}' for item in known])}")
    try:
        return known[name].checked(value)
    except WrongCall as fault:
        raise WrongCall(f"{stage}.{fault}") from None


def _cdl_value(path: str, name: str, value: Any) -> float | Triple:
    if name == "saturation":
        return _checked(OUTPUT_PARAMETERS, path, name, value)
    items = value.split(",") if isinstance(value, str) else value if isinstance(value, (tuple, list)) else [value]
    if len(items) not in (1, 3):
        raise WrongCall(f"{path} = {value} has {len(items)} numbers; give one, or three as r,g,b")
    numbers = [_checked(OUTPUT_PARAMETERS, path, name, item) for item in items]
    red, green, blue = numbers * 3 if len(numbers) == 1 else numbers
    return red, green, blue


def _target_entry(path: str, name: str, value: Any) -> tuple[str, Any]:
    words = {_target_word(field.name): field.name for field in fields(Encoding)}
    if name not in words:
        raise WrongCall(f"setting '{path}' is not known; {suggestion(path, [f'target.{word}' for word in words])}")
    try:
        if name in TARGET_NUMBERS:
            value = float(value)
        elif name == "bits":
            value = _whole_number(value)
    except (TypeError, ValueError):
        raise WrongCall(f"{path} = {value} is not a number; give one") from None
    return words[name], value


def _whole_number(value: Any) -> int:
    number = float(value)
    if not number.is_integer():
        raise ValueError
    return int(number)


def _target_word(field_name: str) -> str:
    return "range" if field_name == "signal_range" else field_name
