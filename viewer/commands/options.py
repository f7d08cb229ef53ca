"""Options that several verbs share: the master and its encoding, renditions, the engine."""

import argparse
import shutil
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tonemap.encoding import TRANSFERS
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.host import Host, find_operators
from tonemap.parity import Engine
from tonemap.rendition import Rendition
from tonemap.settings import with_setting
from tonemap.signal_range import BIT_DEPTHS, RANGES
from tonemap.trim_sheet_text import ENDING

if TYPE_CHECKING:
    from ..vectors.engine import VectorEngine

CPU = "cpu"
DEFAULT_TONE = "bt2390"
DEFAULT_GAMUT = "gamut_hue"


STILL = "the HDR picture: EXR, DPX, TIFF, PNG ..."
ANY_MASTER = "the HDR picture, movie, folder or pattern (NAME.####.exr) of numbered pictures"
MASTER_OR_SHEET = f"{ANY_MASTER}, or a trim sheet ({ENDING})"


def add_master(parser: argparse.ArgumentParser, what: str = STILL, optional: bool = False) -> None:
    """Add the master, with what it may be, and the words that say its encoding where its file does not."""
    parser.add_argument(
        "master",
        metavar="MASTER",
        type=Path,
        nargs="?" if optional else None,
        help=what,
    )
    group = parser.add_argument_group("encoding of the master, where its file does not say it or says it wrongly")
    group.add_argument("--transfer", metavar="NAME", help=", ".join(TRANSFERS))
    group.add_argument("--primaries", metavar="NAME", help="bt709, bt2020, p3-d65, p3-dci, ap0, ap1")
    group.add_argument("--range", metavar="NAME", dest="signal_range", help=" or ".join(RANGES))
    group.add_argument("--bits", metavar="N", type=int, help=f"bits of a code value: {', '.join(map(str, BIT_DEPTHS))}")
    group.add_argument("--peak", metavar="NITS", type=float, help="peak of the display that the master was graded on")
    group.add_argument("--black", metavar="NITS", type=float, help="black of that display")
    group.add_argument("--unit", metavar="NITS", type=float, help="of the value 1.0, for linear files")


def add_matrix(parser: Any) -> None:
    """Add the matrix of a movie to a parser or a group of one."""
    parser.add_argument(
        "--matrix", metavar="NAME", help="Y'CbCr matrix of a movie, where its tags are wrong: bt709, bt601 or bt2020"
    )


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
    group.add_argument(
        "--cdl", metavar="FILE[#NAME]", action=_Word, help="output adjustments from a .cdl, .cc or .ccc file"
    )
    group.add_argument("--name", metavar="NAME", action=_Word, help="what the rendition is called")
    add_sheet(group)
    group.add_argument(
        "--rendition",
        metavar="NAME",
        action=_Word,
        help="one of the trim sheet's; --gamut, --set, --cdl and --name after it change it for this call",
    )
    parser.set_defaults(takes_several_renditions=several)
    add_operators(parser)


def add_sheet(parser: Any) -> None:
    """Add the trim sheet and the shot in it."""
    parser.add_argument("--sheet", metavar="FILE", type=Path, help="a trim sheet, the source of the renditions")
    parser.add_argument("--shot", metavar="NAME", help="a shot of the trim sheet: its rendition, with its own settings")


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
        "--engine", choices=("gpu", CPU, "reference"), help="default: gpu where there is a card, else cpu"
    )


def wishes_of(parsed: argparse.Namespace) -> Any:
    """Return what the user said of the master's encoding."""
    from tonemap.media.wishes import EncodingWishes

    names = ("transfer", "primaries", "signal_range", "bits", "peak", "black", "unit")
    return EncodingWishes(**{name: getattr(parsed, name) for name in names})


def host_of(parsed: argparse.Namespace, reads_all: bool = False) -> Host:
    """Find the operators, and say on standard error which ones were refused or are slow to read.

    Parameters
    ----------
    reads_all : whether all of them are read now; else each when it is asked for, and then it speaks for itself
    """
    host = find_operators(parsed.operator_folders)
    host.tell = tell
    if reads_all:
        _ = host.operators
    for sentence in host.refused:
        tell(sentence)
    return host


def tell(sentence: str) -> None:
    """Say something on standard error that is no fault."""
    print(f"trimbench: {sentence}", file=sys.stderr)


def tell_needs(renditions: list[Rendition], host: Host, span: tuple[int, int] | None) -> None:
    """Say on standard error that frames are measured first, where an operator of a rendition needs it.

    Parameters
    ----------
    span : the first and the last of the frames; None for those of every shot of a trim sheet
    """
    from tonemap.rendition import needs_of

    needing = [rendition.name for rendition in renditions if needs_of(rendition, host)]
    if needing and (span is None or span[1] > span[0]):
        frames = f"{span[1] - span[0] + 1} frames" if span else "the frames of every shot"
        tell(f"{frames} are measured first, which '{needing[0]}' needs")


def refuse_needs(renditions: list[Rendition], host: Host) -> None:
    """Raise WrongCall where an operator needs the statistics of a frame or a shot, and none is named."""
    from tonemap.rendition import needs_of

    for rendition in renditions:
        needs = dict.fromkeys(needs_of(rendition, host))
        if needs:
            raise WrongCall(
                f"rendition '{rendition.name}' needs {', '.join(needs)} of a frame or a shot, and none is named; "
                "name a master, or a shot of the trim sheet with --shot"
            )


def sheet_of(parsed: argparse.Namespace) -> Any:
    """Return the trim sheet that the user named, or None; raises WrongCall where a word needs one."""
    if parsed.sheet is None:
        if parsed.shot is not None:
            raise WrongCall(f"--shot {parsed.shot} names a shot of a trim sheet; give it with --sheet FILE")
        return None
    from tonemap.trim_sheet import load

    if getattr(parsed, "loaded_sheet", None) is None:
        parsed.loaded_sheet = load(parsed.sheet)
    return parsed.loaded_sheet


def says_renditions(parsed: argparse.Namespace) -> bool:
    """Say whether the user spelled out a rendition or named a trim sheet."""
    return bool(getattr(parsed, "rendition_words", []) or parsed.sheet)


def renditions_of(parsed: argparse.Namespace, host: Host, *, at_last: bool = False) -> list[Rendition]:
    """Return the renditions that the user named or spelled out, in order.

    A trim sheet alone stands for the shot's rendition, else for all that it has, or for its default where the verb
    takes one. With --shot, the settings of the shot, at its first frame, are laid over the renditions of the sheet.

    Parameters
    ----------
    at_last : whether those of its last frame are, of a shot that changes inside; nothing is said then

    Raises
    ------
    WrongCall
        For a wrong name or value.
    """
    sheet, shot = sheet_of(parsed), shot_of(parsed)
    if shot is not None and shot.changes_inside and not at_last:
        tell(f"shot '{shot.name}' changes inside; its rendition is taken as it is at its first frame")
    frame = None if shot is None else shot.last if at_last else shot.first
    words_of_all = getattr(parsed, "rendition_words", [])
    if sheet is not None and not words_of_all:
        return _distinct(_of_sheet(parsed, sheet, frame, host))
    return _distinct([_spelled_out(words, sheet, shot, frame, host) for words in words_of_all])


def shot_of(parsed: argparse.Namespace) -> Any:
    """Return the shot that the user named, or None."""
    sheet = sheet_of(parsed)
    return None if sheet is None or parsed.shot is None else sheet.shot(parsed.shot)


def _of_sheet(parsed: argparse.Namespace, sheet: Any, frame: int | None, host: Host) -> list[Rendition]:
    if frame is not None:
        return [sheet.rendition_at(frame, host)]
    if not parsed.takes_several_renditions:
        if sheet.default_rendition is None:
            raise WrongCall(
                f"{parsed.sheet}: the sheet has no default rendition; choose one with --rendition or --shot"
            )
        return [sheet.rendition_entry(sheet.default_rendition).rendition(host)]
    renditions = []
    for entry in sheet.renditions:
        try:
            renditions.append(entry.rendition(host))
        except WrongCall as fault:
            tell(f"{parsed.sheet}: {fault}; it is left out here")
    if not renditions:
        raise WrongCall(f"{parsed.sheet}: the sheet has no rendition that can be shown; spell one out with --tone")
    return renditions


def _spelled_out(words: list[tuple[str, str]], sheet: Any, shot: Any, frame: int | None, host: Host) -> Rendition:
    from dataclasses import replace

    given = dict(words)
    if "rendition" in given:
        if sheet is None:
            raise WrongCall(f"--rendition {given['rendition']} names one of a trim sheet; give it with --sheet FILE")
        rendition = sheet.rendition_entry(given["rendition"]).rendition(host)
        if shot is not None:
            rendition = shot.rendition_at(frame, rendition, host)
        if "gamut" in given:
            host.get(given["gamut"], "gamut")
            rendition = replace(rendition, gamut=given["gamut"], gamut_settings={})
        rendition = replace(rendition, name=given.get("name", rendition.name))
    else:
        tone, gamut = given.get("tone", DEFAULT_TONE), given.get("gamut", DEFAULT_GAMUT)
        title = host.get(tone, "tone").title
        host.get(gamut, "gamut")
        rendition = Rendition(given.get("name", title), tone, gamut)
    for word, text in words:
        if word == "set":
            path, equals, value = text.partition("=")
            if not equals:
                raise WrongCall(f"--set {text} has no value; write it as PATH=VALUE, for example input.exposure=0.5")
            rendition = with_setting(rendition, path.strip(), value.strip(), host)
        elif word == "cdl":
            rendition = _with_cdl(rendition, text, host)
    return rendition


def _with_cdl(rendition: Rendition, words: str, host: Host) -> Rendition:
    """Return the rendition with the output adjustments of a colour decision; raises WrongCall for what is too far."""
    from tonemap.cdl_files import correction_named
    from tonemap.settings import with_settings

    values = {f"output.{name}": value for name, value in vars(correction_named(words).cdl).items()}
    try:
        return with_settings(rendition, values, host)
    except WrongCall as fault:
        raise WrongCall(f"{words}: {fault}") from None


def frames_text(count: int | None) -> str:
    """Say how many frames there are; None where nobody knows."""
    return "1 frame" if count == 1 else f"{count or 'unknown'} frames"


def frames_range(text: str | None, master: Any) -> tuple[int, int]:
    """Return first and last place of the frames A-B that the user asked for, by the master's own numbers; or all."""
    if text is None:
        return 0, master.count - 1
    first, dash, last = text.partition("-")
    try:
        numbers = int(first), int(last if dash else first)
    except ValueError:
        raise WrongCall(f"--frames {text} is not understood; write A-B, for example 0-47, or one number") from None
    return master.index(numbers[0]), master.index(numbers[1])


def engine_of(wish: str | None) -> Engine:
    """Return the engine that the user asked for; without a wish the gpu where there is a card, else the cpu.

    Where a machine lacks what the cpu engine needs, a software rasteriser stands in for a card, and where it lacks that
    too, the reference.
    """
    from tonemap.reference import ReferenceEngine

    from ..engine import GpuEngine

    if wish == "reference":
        return ReferenceEngine()
    if wish == "gpu":
        return GpuEngine()
    if wish is None:
        with suppress(TrimbenchError):
            gpu = GpuEngine()
            if gpu.has_card:
                return gpu
            gpu.close()
    try:
        return cpu_engine(_gpu_or_reference, tell)
    except TrimbenchError:
        if wish is not None:
            raise
        return _gpu_or_reference()


def cpu_engine(otherwise: Callable[[], Engine] | None = None, tell: Callable[[str], None] = tell) -> "VectorEngine":
    """Return the cpu engine; `otherwise` and `tell` as it has them. Raises TrimbenchError where it can't be had."""
    from ..vectors.engine import VectorEngine
    from ..vectors.program import COMPILER

    if not has_cpu_engine():
        raise TrimbenchError(
            f"the cpu engine needs glslang, and there is no {COMPILER} here; install it (on Debian: glslang-tools), or "
            "use --engine gpu or reference"
        )
    return VectorEngine(otherwise, tell)


def has_cpu_engine() -> bool:
    """Say whether this machine has what the cpu engine needs."""
    from ..vectors.program import COMPILER

    return shutil.which(COMPILER) is not None


def _gpu_or_reference() -> Engine:
    """Return what stands in for the cpu engine."""
    from tonemap.reference import ReferenceEngine

    from ..engine import GpuEngine

    try:
        return GpuEngine()
    except TrimbenchError:
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
        starts = ("tone", "rendition")
        if not renditions or (self.dest in starts and any(word in starts for word, _ in renditions[-1])):
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
