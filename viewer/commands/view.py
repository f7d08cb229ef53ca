"""trimbench view: open the bench."""

import argparse

from . import options


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the verb's arguments."""
    options.add_master(parser, optional=True)
    options.add_renditions(parser, several=True)


def run(parsed: argparse.Namespace) -> int:
    """Open the bench, and return when its window is closed."""
    host = options.host_of(parsed)
    renditions = options.renditions_of(parsed, host)

    from ..bench.app import run_bench

    run_bench(parsed.master, options.wishes_of(parsed), renditions, host)
    return 0
