"""trimbench view: open the bench."""

import argparse
import sys

from tonemap.errors import WrongCall
from tonemap.trim_sheet_text import is_trim_sheet

from . import options


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the verb's arguments."""
    options.add_master(parser, options.MASTER_OR_SHEET, optional=True)
    options.add_renditions(parser, several=True)


def run(parsed: argparse.Namespace) -> int:
    """Open the bench, and return when its window is closed."""
    host = options.host_of(parsed)
    is_sheet = parsed.master is not None and is_trim_sheet(parsed.master)
    if is_sheet and options.says_renditions(parsed):
        raise WrongCall(f"{parsed.master}: a trim sheet has its own renditions; leave the others out")
    renditions = [] if is_sheet else options.renditions_of(parsed, host)

    from ..bench.app import run_bench

    shot = parsed.shot if is_sheet else None
    for sentence in run_bench(parsed.master, options.wishes_of(parsed), renditions, host, shot=shot):
        print(f"trimbench: {sentence}", file=sys.stderr)
    return 0
