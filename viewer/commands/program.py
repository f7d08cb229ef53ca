"""The program around its verbs: help, errors, exit statuses. Nothing heavy is imported before a verb is chosen."""

import argparse
import importlib
import sys
import traceback
from collections.abc import Callable
from io import TextIOWrapper
from typing import NoReturn

from tonemap import __version__
from tonemap.errors import TrimbenchError, WrongCall

from .. import stops
from .output import OutputFault, fill_closed_ends, lossy_errors, printable, watched_output

VERBS = {
    "view": "open the bench: the master beside its renditions",
    "compare": "write one labelled picture: master and renditions side by side",
    "render": "write the SDR picture, numbered pictures or movie of a rendition or a trim sheet",
    "lut": "write a rendition as a LUT, with its distance from the exact trim",
    "cdl": "write output adjustments as ASC CDL, or show what is in such a file",
    "measure": "the figures of a master and its renditions: levels, gamut, legality, patches; or of a monitor",
    "sheet": "make, show, check and relink a trim sheet, and bring its shots in",
    "operators": "list, show and check the operators, or begin one of your own",
    "line-up": "write test patterns that show whether a monitor is in the mode that you believe",
    "parity": "measure how well this machine's GPU agrees with the reference",
}


class Parser(argparse.ArgumentParser):
    """A parser that reports a wrong call in one sentence, like every other error."""

    def error(self, message: str) -> NoReturn:
        """Raise WrongCall; the caller prints it."""
        raise WrongCall(f"{message}; see {self.prog} --help")


def run(words: list[str], is_stopped: Callable[[], bool]) -> int:
    """Run one verb with its words; returns the exit status.

    Parameters
    ----------
    is_stopped : whether a stop was raised, of which a library may have made a fault
    """
    fill_closed_ends()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")  # a terminal without our signs costs the sign, not the work
    with lossy_errors():
        try:
            with watched_output():
                return _status(words, is_stopped)
        except OutputFault as fault:
            if not fault.is_reader_gone:  # else there is nobody to tell
                print(f"trimbench: {fault}", file=sys.stderr)
            return 1


def say_stopped() -> int:
    """Say that a stop has ended the work; returns the exit status."""
    with lossy_errors():
        print("trimbench: stopped", file=sys.stderr)
    return stops.STATUS


def _status(words: list[str], is_stopped: Callable[[], bool]) -> int:
    """Run one verb; what it raises becomes a sentence and an exit status."""
    try:
        return _run(words)
    except TrimbenchError as fault:
        if "--debug" in words:
            traceback.print_exc()
        print(f"trimbench: {printable(str(fault))}", file=sys.stderr)
        return fault.exit_status
    except KeyboardInterrupt:
        return say_stopped()
    except OutputFault:
        raise
    except Exception as fault:
        if "--debug" in words:
            traceback.print_exc()
        if is_stopped():
            return say_stopped()
        said = printable(f"{type(fault).__name__}: {fault}")
        print(f"trimbench: an error in the program ({said}); --debug shows where", file=sys.stderr)
        return 1


def _refuse_odd(words: list[str]) -> None:
    """Raise WrongCall for a word that no verb can mean: an empty one is no folder, and a library takes text alone."""
    for place, word in enumerate(words):
        if not word:
            before = words[place - 1] if place else "trimbench"
            raise WrongCall(f"the word behind {before} is empty; say what is meant, or leave it out")
        if any("\udc80" <= sign <= "\udcff" for sign in word):  # what Python makes of such bytes
            raise WrongCall(f"{word}: this name is not in UTF-8, and can't be read or written here; rename it")


def _run(words: list[str]) -> int:
    _refuse_odd(words)
    parser = Parser(
        prog="trimbench",
        description="A bench for choosing an SDR trim for an HDR master.",
        epilog="trimbench VERB --help explains a verb.",
    )
    parser.add_argument("--version", action="version", version=f"trimbench {__version__}")
    verbs = parser.add_subparsers(dest="verb", metavar="VERB", required=True, parser_class=Parser)
    chosen = next((word for word in words if word in VERBS), None)
    for verb, explanation in VERBS.items():
        verb_parser = verbs.add_parser(
            verb, help=explanation, description=f"{explanation[0].upper()}{explanation[1:]}."
        )
        if verb == chosen:
            module = importlib.import_module(f"{__package__}.{verb.replace('-', '_')}")
            module.add_arguments(verb_parser)
            verb_parser.add_argument("--debug", action="store_true", help="show a traceback when something fails")
            verb_parser.set_defaults(run=module.run)
    parsed = parser.parse_args(words)
    return int(parsed.run(parsed))
