"""Options that several verbs share: the master and its encoding, renditions, the engine."""

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tonemap.encoding import TRANSFERS
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.host import Host, find_operators
from tonemap.parity import Engine
from tonemap.rendition import Rendition
from tonemap.settings import with_setting
from tonemap.signal_range import BIT_DEPTHS, RANGES

DEFAULT_TONE = "bt2390"
DEFAULT_GAMUT = "gamut_hue"


def add_master(parser: argparse.ArgumentParser, optional: bool = False) -> None:
    """Add the master and the words that say its encoding where its file does not."""
    parser.add_argument(
        "master",
        metavar="MASTER",
        type=Path,
        nargs="?" if optional else None,
        help="the HDR picture: EXR, DPX, TIFF, PNG ...",
    )
    group = parser.add_argument_group("encoding of the master, where its file does not say it or says it wrongly")
    group.add_argument("--transfer", metavar="NAME", help=", ".join(TRANSFERS))
    group.add_argument("--primaries", metavar="NAME", help="bt709, bt2020, p3-d65, p3-dci, ap0, ap1")
    group.add_argument("--range", metavar="NAME", dest="signal_range", help=" or ".join(RANGES))
    group.add_argument("--bits", metavar="N", type=int, help=f"bits of a code value: {', '.join(map(str, BIT_DEPTHS))}")
    group.add_argument("--peak", metavar="NITS", type=float, help="peak of the display that the master was graded on")
    group.add_argument("--black", metavar="NITS", type=float, help="black of that display")
    group.add_argument("--unit", metavar="NITS", type=float, help="of the value 1.0, for linear files")


def add_renditions(parser: argparse.ArgumentParser, several: bool) -> None:
    """Add what spells a rendition out; with several, each --tone starts one."""
    title = "renditions: each --tone starts one, what follows belongs to it" if several else "rendition"
    group = parser.add_argument_group(title)
    group.add_argument("--tone", metavar="OPERATOR", action=_Word, help=f"tone operator, default {DEFAULT_TONE}")
    group.add_argument("--gamut", metavar="OPERATOR", action=_Word, help=f"gamut operator, default {DEFAULT_GAMUT}")
    group.add_argument(
        "--set",
        metavar="PATH=VALUE",
        action=_Word,
        help="a setting, for example tone.knee_offset=0.7, input.exposure=-0.5, gamut.reach=2, target.peak=203",
    )
    group.add_argument("--name", metavar="NAME", action=_Word, help="what the rendition is called")
    add_operators(parser)


def add_operators(parser: argparse.ArgumentParser) -> None:
    """Add the folders of the user's own operators."""
    parser.add_argument(
        "--operators",
        metavar="FOLDER",
        dest="operator_folders",
        type=Path,
        action="append",
        default=[],
        help="a folder with operators of your own (NAME.py and NAME.glsl); Python in it is run",
    )


def add_engine(parser: argparse.ArgumentParser) -> None:
    """Add the choice of engine."""
    parser.add_argument(
        "--engine", choices=("gpu", "reference"), help="default: gpu where there is one, else reference"
    )


def wishes_of(parsed: argparse.Namespace) -> Any:
    """Return what the user said of the master's encoding."""
    from tonemap.media.wishes import EncodingWishes

    names = ("transfer", "primaries", "signal_range", "bits", "peak", "black", "unit")
    return EncodingWishes(**{name: getattr(parsed, name) for name in names})


def host_of(parsed: argparse.Namespace) -> Host:
    """Find the operators, and say on standard error which ones were refused."""
    import sys

    host = find_operators(parsed.operator_folders)
    for sentence in host.refused:
        print(f"trimbench: {sentence}", file=sys.stderr)
    return host


def renditions_of(parsed: argparse.Namespace, host: Host) -> list[Rendition]:
    """Return the renditions that the user spelled out, in order; raises WrongCall for a wrong name or value."""
    renditions: list[Rendition] = []
    for words in getattr(parsed, "rendition_words", []):
        given = dict(words)
        tone, gamut = given.get("tone", DEFAULT_TONE), given.get("gamut", DEFAULT_GAMUT)
        title = host.get(tone, "tone").title
        host.get(gamut, "gamut")
        rendition = Rendition(given.get("name", title), tone, gamut)
        for word, text in words:
            if word == "set":
                path, equals, value = text.partition("=")
                if not equals:
                    raise WrongCall(
                        f"--set {text} has no value; write it as PATH=VALUE, for example input.exposure=0.5"
                    )
                rendition = with_setting(rendition, path.strip(), value.strip(), host)
        renditions.append(rendition)
    return _distinct(renditions)


def engine_of(wish: str | None) -> Engine:
    """Return the engine that the user asked for, or the gpu where there is one, else the reference."""
    from tonemap.reference import ReferenceEngine

    if wish == "reference":
        return ReferenceEngine()
    try:
        from ..engine import GpuEngine

        return GpuEngine()
    except TrimbenchError:
        if wish == "gpu":
            raise
        return ReferenceEngine()


class _Word(argparse.Action):
    """Collects the words of renditions in the order in which they are said."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: str | Sequence[Any] | None,
        option_string: str | None = None,
    ) -> None:
        renditions = getattr(namespace, "rendition_words", [])
        if not renditions or (self.dest == "tone" and any(word == "tone" for word, _ in renditions[-1])):
            renditions.append([])
        renditions[-1].append((self.dest, str(values)))
        namespace.rendition_words = renditions


def _distinct(renditions: list[Rendition]) -> list[Rendition]:
    """Add numbers to the names that occur more than once."""
    from dataclasses import replace

    names = [rendition.name for rendition in renditions]
    result = []
    for index, rendition in enumerate(renditions):
        number = names[: index + 1].count(rendition.name)
        is_one_of_several = names.count(rendition.name) > 1
        result.append(replace(rendition, name=f"{rendition.name} {number}") if is_one_of_several else rendition)
    return result
