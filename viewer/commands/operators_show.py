"""trimbench operators show: one operator, from its declaration alone."""

import argparse
import json
from typing import Any

import numpy as np

from tonemap.anchors import neutral_result
from tonemap.encoding import Encoding
from tonemap.host import Host
from tonemap.operator import TONE, AnyParameter, Choice, Operator, Parameter
from tonemap.rendition import Rendition, chain_of
from tonemap.transfer import pq_eotf, pq_eotf_inverse

from . import options

SHOWN_LEVELS = (0.1, 1.0, 10.0, 26.0, 50.0, 100.0, 203.0, 400.0, 600.0, 1000.0)
CURVE_COLUMNS, CURVE_ROWS = 61, 15


def run(parsed: argparse.Namespace) -> int:
    """Print one operator."""
    host = options.host_of(parsed)
    operator = host.get(parsed.operator)
    found = describe(operator, host)
    print(json.dumps(found, indent=2, ensure_ascii=False) if parsed.json else _page(found, operator, host))
    return 0


def describe(operator: Operator, host: Host) -> dict[str, Any]:
    """Return what an operator's declaration says, with its files, and a tone operator's curve at its defaults."""
    installed = host.installed(operator.name)
    described: dict[str, Any] = {
        "name": operator.name,
        "title": operator.title,
        "kind": operator.kind,
        "source": operator.source,
        "about": " ".join((type(operator).__doc__ or "").split()),
        "files": [str(installed.python_file), str(installed.glsl_file)],
        "interface_version": operator.interface_version,
        "parameters": [describe_parameter(parameter) for parameter in operator.parameters],
        "needs": list(operator.needs),
    }
    if operator.kind == TONE:
        signal, nits = curve(operator, host, np.array(SHOWN_LEVELS))
        described["curve"] = [
            {"master": level, "nits": float(light), "signal": float(value)}
            for level, value, light in zip(SHOWN_LEVELS, signal, nits, strict=True)
        ]
    return described


def curve(operator: Operator, host: Host, levels: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return signal and light (n,) of greys at a tone operator's defaults, 1000 to 100 cd/m2."""
    rendition = Rendition(operator.title, operator.name, "gamut_clip")
    return neutral_result(levels, chain_of(rendition, Encoding("linear"), host))


def describe_parameter(parameter: AnyParameter) -> dict[str, Any]:
    """Return one parameter as it is declared."""
    described: dict[str, Any] = {
        "name": parameter.name,
        "default": parameter.default,
        "range": parameter.range_text,
        "help": parameter.help,
    }
    if isinstance(parameter, Choice):
        described["options"] = dict(parameter.options)
    if isinstance(parameter, Parameter):
        declared = ("unit", "minimum", "maximum", "scale", "neutral")
        described |= {role: getattr(parameter, role) for role in declared}
    return described


def range_and_scale(parameter: AnyParameter) -> str:
    """Return the range of a parameter, and that its slider goes by ratios where it does."""
    is_log = isinstance(parameter, Parameter) and parameter.scale == "log"
    return f"{parameter.range_text}, log" if is_log else parameter.range_text


def needs_text(operator: Operator) -> str:
    """Return the sentence about the measured light that an operator needs; empty where it needs none."""
    if not operator.needs:
        return ""
    return f"Needs {', '.join(operator.needs)} of the frame or the shot, measured before the work."


def default_text(default: float | str | bool) -> str:
    """Return a default as help and pages show it."""
    if isinstance(default, bool):
        return "on" if default else "off"
    return f"{default:g}" if isinstance(default, float) else str(default)


def _page(found: dict[str, Any], operator: Operator, host: Host) -> str:
    lines = [f"{operator.title} ({operator.name}, {operator.kind})", found["about"], f"Source: {operator.source}."]
    if operator.parameters:
        lines += ["", "Parameters"]
    for parameter in operator.parameters:
        default = default_text(parameter.default)
        lines.append(f"  {operator.kind}.{parameter.name}   {range_and_scale(parameter)}, default {default}")
        lines.append(f"      {parameter.help}")
        if isinstance(parameter, Choice):
            lines += [f"      {option}: {meaning}" for option, meaning in parameter.options.items()]
    if operator.needs:
        lines += ["", needs_text(operator)]
    if "curve" in found:
        lines += [
            "",
            "At its defaults, a master of 1000 cd/m\u00b2 on a target of 100 cd/m\u00b2",
            *_drawn(operator, host),
        ]
        lines += ["", "  master    target   signal"]
        lines += [f"  {row['master']:6g}  {row['nits']:8.3f}  {row['signal']:6.1%}" for row in found["curve"]]
    return "\n".join([*lines, "", *found["files"]])


def _drawn(operator: Operator, host: Host) -> list[str]:
    """Draw the curve of greys with characters: signal over the master's level, which is spaced as PQ is."""
    ends = pq_eotf_inverse(np.array([1.0, 1000.0]))
    levels = pq_eotf(np.linspace(ends[0], ends[1], CURVE_COLUMNS))
    signal, _ = curve(operator, host, levels)
    places = np.rint(np.clip(signal, 0.0, 1.0) * (CURVE_ROWS - 1)).astype(int)
    lines = []
    for row in range(CURVE_ROWS - 1, -1, -1):
        share = row / (CURVE_ROWS - 1)
        label = f"{share:4.0%}" if row % 7 == 0 else "    "
        lines.append(f"  {label} \u2502" + "".join("\u2022" if place == row else " " for place in places).rstrip())
    ticks = (1.0, 10.0, 26.0, 100.0, 203.0, 1000.0)
    columns = np.rint((pq_eotf_inverse(np.array(ticks)) - ends[0]) / (ends[1] - ends[0]) * (CURVE_COLUMNS - 1))
    axis, labels = ["\u2500"] * CURVE_COLUMNS, [" "] * (CURVE_COLUMNS + 6)
    for tick, column in zip(ticks, columns.astype(int), strict=True):
        axis[column] = "\u2534"
        for index, character in enumerate(f"{tick:g}"):
            labels[column + index] = character
    return [*lines, "       \u2514" + "".join(axis), "        " + "".join(labels).rstrip() + " cd/m\u00b2"]
