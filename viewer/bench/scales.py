"""How a number lies on its track, and how it is rounded and shown. No GL and no imgui."""

import math

from tonemap.operator import Parameter

UNIT_WORDS = {"cd/m2": ("cd/m2", "cd/m\u00b2", "nits", "nit"), "stops": ("stops", "stop")}
"""What a hand writes behind a number of a unit."""


def share_of(parameter: Parameter, value: float) -> float:
    """Return where on its track a value lies, 0..1."""
    low, high = parameter.minimum, parameter.maximum
    if parameter.scale == "log":
        return math.log(max(value, low) / low) / math.log(high / low)
    return min(max((value - low) / (high - low), 0.0), 1.0)


def value_at(parameter: Parameter, share: float) -> float:
    """Return the value at a place of its track, rounded to what a hand means."""
    low, high = parameter.minimum, parameter.maximum
    if parameter.scale == "log":
        value = low * (high / low) ** share
        value = float(f"{value:.3g}")
    else:
        value = round(low + share * (high - low), digits_of(parameter))
    return min(max(value, low), high)


def digits_of(parameter: Parameter) -> int:
    """Return after how many digits a number of this range is rounded and shown: a hundred steps or more."""
    width = parameter.maximum - parameter.minimum
    digits = max(3 - math.floor(math.log10(width) + 1e-9), 0)
    return min(digits, 3) if width >= 0.1 else digits


def typed_number(text: str, unit: str = "") -> str:
    """Return a typed number as Python reads it: without its unit, with a hyphen for minus and a point for a comma."""
    text = text.strip().replace("\u2212", "-")
    for name in UNIT_WORDS.get(unit, (unit,)):
        text = text.removesuffix(name).rstrip() if name else text
    return text.replace(",", ".") if text.count(",") == 1 and "." not in text else text


def shown_value(parameter: Parameter, value: float) -> str:
    """Return a value as its field shows it."""
    if parameter.scale == "log":
        return f"{value:.4g}"
    if parameter.scale == "stops":
        text = f"{value:+.{digits_of(parameter)}f}"
        return text if float(text) else text[1:]
    return f"{value:.{digits_of(parameter)}f}"
