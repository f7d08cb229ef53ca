"""trimbench operators: which there are, what one does, whether it can be trusted, and a new one."""

import argparse
import json
from pathlib import Path

from tonemap.operator import GAMUT, TONE

from . import options


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the verb's arguments."""
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    listing = actions.add_parser("list", help="every operator with its kind and title")
    showing = actions.add_parser("show", help="one operator: its source, its parameters, its curve")
    showing.add_argument("operator", metavar="NAME")
    checking = actions.add_parser("check", help="parity, sanity and speed of operators, a verdict a line")
    checking.add_argument(
        "checked", metavar="NAME|FOLDER", nargs="*", help="only these, or those in a folder; default: every operator"
    )
    checking.add_argument("--pixels", metavar="N", type=int, default=100_000, help="random colours, default 100000")
    making = actions.add_parser("new", help="write a folder with an operator to begin with")
    making.add_argument("operator", metavar="NAME")
    making.add_argument("--kind", choices=(TONE, GAMUT), default=TONE, help="default: tone")
    making.add_argument("-o", "--output", metavar="FOLDER", type=Path, help="default: NAME in the current folder")
    for action in (listing, showing, checking):
        options.add_operators(action)
        action.add_argument("--json", action="store_true", help="print as JSON")


def run(parsed: argparse.Namespace) -> int:
    """Do one action; the modules beside this one have their words."""
    if parsed.action == "list":
        return _list(parsed)
    if parsed.action == "show":
        from . import operators_show

        return operators_show.run(parsed)
    if parsed.action == "check":
        from . import operators_check

        return operators_check.run(parsed)
    from . import operators_new

    return operators_new.run(parsed)


def _list(parsed: argparse.Namespace) -> int:
    host = options.host_of(parsed, reads_all=True)
    found = [operator for kind in (TONE, GAMUT) for operator in host.of_kind(kind)]
    if parsed.json:
        items = [{"name": item.name, "title": item.title, "kind": item.kind, "source": item.source} for item in found]
        print(json.dumps(items, indent=2, ensure_ascii=False))
        return 0
    width = max(len(item.name) for item in found)
    print("\n".join(f"{item.kind:6}{item.name:{width + 2}}{item.title}" for item in found))
    return 0
