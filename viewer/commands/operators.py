"""trimbench operators: which operators there are, and what one does."""

import argparse
import json
from typing import Any

import numpy as np

from tonemap.anchors import neutral_result
from tonemap.encoding import Encoding, sdr_target
from tonemap.host import Host
from tonemap.operator import GAMUT, TONE, Choice, Operator, Parameter
from tonemap.rendition import Rendition, chain_of

from . import options

SHOWN_LEVELS = (0.1, 1.0, 10.0, 26.0, 50.0, 100.0, 203.0, 400.0, 600.0, 1000.0)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the verb's arguments."""
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    listing = actions.add_parser("list", help="every operator with its kind and title")
    showing = actions.add_parser("show", help="one operator: its source, its parameters, its curve")
    showing.add_argument("operator", metavar="NAME")
    for action in (listing, showing):
        options.add_operators(action)
        action.add_argument("--json", action="store_true", help="print as JSON")


def run(parsed: argparse.Namespace) -> int:
    """Print a list or one operator."""
    host = options.host_of(parsed)
    if parsed.action == "list":
        found = [describe(operator, host) for kind in (TONE, GAMUT) for operator in host.of_kind(kind)]
        print(json.dumps(found, indent=2, ensure_ascii=False) if parsed.json else _listing(found))
    else:
        found_one = describe(host.get(parsed.operator), host)
        print(json.dumps(found_one, indent=2, ensure_ascii=False) if parsed.json else _page(found_one))
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
        "parameters": [_parameter(parameter) for parameter in operator.parameters],
    }
    if operator.kind == TONE:
        chain = chain_of(
            Rendition(operator.title, operator.name, "gamut_clip", target=sdr_target()), Encoding("linear"), host
        )
        signal, nits = neutral_result(np.array(SHOWN_LEVELS), chain)
        described["curve"] = [
            {"master": level, "nits": float(light), "signal": float(value)}
            for level, value, light in zip(SHOWN_LEVELS, signal, nits, strict=True)
        ]
    return described


def _parameter(parameter: Any) -> dict[str, Any]:
    described = {
        "name": parameter.name,
        "default": parameter.default,
        "range": parameter.range_text,
        "help": parameter.help,
    }
    if isinstance(parameter, Choice):
        described["options"] = dict(parameter.options)
    if isinstance(parameter, Parameter):
        described["unit"] = parameter.unit
    return described


def _listing(found: list[dict[str, Any]]) -> str:
    width = max(len(item["name"]) for item in found)
    return "\n".join(f"{item['kind']:6}{item['name']:{width + 2}}{item['title']}" for item in found)


def _page(found: dict[str, Any]) -> str:
    lines = [f"{found['title']} ({found['name']}, {found['kind']})", found["about"], f"Source: {found['source']}."]
    if found["parameters"]:
        lines += ["", "Parameters"]
    for parameter in found["parameters"]:
        default = parameter["default"]
        if isinstance(default, bool):
            default = "on" if default else "off"
        elif isinstance(default, float):
            default = f"{default:g}"
        lines.append(f"  {found['kind']}.{parameter['name']}   {parameter['range']}, default {default}")
        lines.append(f"      {parameter['help']}")
        lines += [f"      {option}: {meaning}" for option, meaning in parameter.get("options", {}).items()]
    if "curve" in found:
        lines += [
            "",
            "At its defaults, a master of 1000 cd/m\u00b2 on a target of 100 cd/m\u00b2",
            "  master    target   signal",
        ]
        for row in found["curve"]:
            lines.append(f"  {row['master']:6g}  {row['nits']:8.3f}  {row['signal']:6.1%}")
    return "\n".join([*lines, "", *found["files"]])
