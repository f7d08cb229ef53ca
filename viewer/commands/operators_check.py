"""trimbench operators check: a verdict a line, with its figure."""

import argparse
import json
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, closing, contextmanager, nullcontext, redirect_stdout
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from tonemap import operator_check
from tonemap.arrays import Array
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.host import Host
from tonemap.operator_check import HUE_LEVELS, HUE_NAMES, HueShift, Verdict
from tonemap.parity import Engine, stress_pictures
from tonemap.picture import Picture
from tonemap.reference import ReferenceEngine
from tonemap.rendition import Chain

from . import options

if TYPE_CHECKING:
    from ..engine import GpuEngine
    from ..vectors.engine import VectorEngine

MARKS = {True: "pass", False: "FAIL", None: "    "}


def run(parsed: argparse.Namespace) -> int:
    """Check operators and print; exit status 1 when a bar is missed, or one of those was refused."""
    if not 1000 <= parsed.pixels <= 20_000_000:
        raise WrongCall(f"--pixels {parsed.pixels} is outside 1000..20000000; choose a number in that range")
    folders = [Path(word) for word in parsed.checked if _is_folder(word)]
    parsed.operator_folders = [*parsed.operator_folders, *folders]
    host = options.host_of(parsed, reads_all=True)
    names = [word for word in parsed.checked if not _is_folder(word)]
    for name in names:
        host.get(name)
    names += [
        name
        for name, item in host.operators.items()
        if any(folder.resolve() in item.python_file.resolve().parents for folder in folders)
    ]
    if not parsed.checked:
        names = list(host.operators)
    aside = redirect_stdout(sys.stderr) if parsed.json else nullcontext()  # what operators print is no JSON
    with _tools(parsed.pixels) as tools, aside:
        reports = [_checked(name, host, tools, parsed.json) for name in dict.fromkeys(names)]
    refused = host.refused
    if parsed.checked:  # then those of other places are said and fail nothing
        refused = [sentence for folder in folders for sentence in host.refused_in(folder)]
    passed = bool(reports) and all(report["passes"] for report in reports) and not refused
    if parsed.json:
        print(json.dumps({"operators": reports, "refused": refused, "passes": passed}, indent=2))
    else:
        print("every operator passes" if passed else "not every operator passes; the lines above say where")
    return 0 if passed else 1


def _is_folder(word: str) -> bool:
    return "/" in word or Path(word).is_dir()


@dataclass(frozen=True)
class _Tools:
    """What every operator is checked with.

    Attributes
    ----------
    engines : the gpu engine by its mains, and the cpu engine
    lacking : says why an engine is not among them
    """

    pictures: Mapping[str, Picture]
    reference: Engine
    engines: "Mapping[str, GpuEngine | VectorEngine]"
    lacking: tuple[str, ...]

    @property
    def odd_pictures(self) -> Mapping[str, Picture]:
        """The pictures in which light that a formula may not expect is."""
        return {name: self.pictures[name] for name in ("odd", "near black", "corners")}

    def light_after(self, kind: str) -> Callable[[Picture, Chain], Array]:
        """Return what gives light as an operator of a kind leaves it, by the first of the engines."""
        return partial(next(iter(self.engines.values())).light, kind=kind)


@contextmanager
def _tools(pixels: int) -> Iterator[_Tools]:
    """Give the pictures, the reference, the gpu engine by each main that this machine has, and the cpu engine."""
    from ..engine import MAIN_COMPUTE, MAIN_FRAGMENT, GpuEngine
    from ..gl.context import gl_version

    with ExitStack() as held:
        engines: dict[str, GpuEngine | VectorEngine] = {}
        lacking: list[str] = []
        try:
            engines[MAIN_FRAGMENT] = held.enter_context(closing(GpuEngine(MAIN_FRAGMENT)))
            if gl_version() >= (4, 3):
                engines[MAIN_COMPUTE] = held.enter_context(closing(GpuEngine(MAIN_COMPUTE)))
        except TrimbenchError as fault:
            lacking.append(str(fault))
        try:
            engines[options.CPU] = options.cpu_engine()
        except TrimbenchError as fault:
            lacking.append(str(fault))
        yield _Tools(stress_pictures(pixels), ReferenceEngine(), engines, tuple(lacking))


def _checked(name: str, host: Host, tools: _Tools, as_json: bool) -> dict[str, Any]:
    """Check one operator, print each verdict as soon as it is known, and return the report."""
    verdicts = []
    if not as_json:
        installed = host.installed(name)
        print(f"{installed.operator.title} ({name}, {installed.operator.kind})  {installed.python_file}", flush=True)
    for verdict in _verdicts(name, host, tools):
        verdicts.append(verdict)
        if not as_json:
            print(_line(verdict), flush=True)
    shift = _shift(name, host)
    if not as_json:
        print(_shift_text(shift) if shift else "", flush=True)
    return _report(name, host, verdicts, shift)


def _verdicts(name: str, host: Host, tools: _Tools) -> Iterator[Verdict]:
    operator = host.get(name)
    try:
        sane = operator_check.check_sanity(operator, host)
    except TrimbenchError as fault:
        yield Verdict("runs", str(fault), 1.0, passes=False)
        return
    yield from sane
    if any(verdict.name == "runs" for verdict in sane):
        return
    for lacking in tools.lacking:
        yield Verdict("parity", f"not measured: {lacking}", float("nan"), passes=False)
    parity = operator_check.check_parity(operator, host, tools.reference, tools.engines, tools.pictures)
    yield from parity
    if parity and parity[0].passes is not None and all(verdict.value < np.inf for verdict in parity):
        yield operator_check.check_twin(operator, host, tools.light_after(operator.kind), tools.odd_pictures)
    if all(np.isfinite(verdict.value) for verdict in parity):
        measured = [main for main, verdict in zip(tools.engines, parity, strict=True) if verdict.passes is not None]
        titles = {main: main if main == options.CPU else f"gpu {main}" for main in measured}
        by_glsl = {title: tools.engines[main] for main, title in titles.items()}
        yield from operator_check.check_speed(operator, host, {"reference": tools.reference, **by_glsl})


def _shift(name: str, host: Host) -> HueShift | None:
    try:
        return operator_check.hue_shift(host.get(name), host)
    except TrimbenchError:
        return None  # a verdict has said why


def _report(name: str, host: Host, verdicts: list[Verdict], shift: HueShift | None) -> dict[str, Any]:
    report: dict[str, Any] = {
        "name": name,
        "file": str(host.installed(name).python_file),
        "verdicts": [{**vars(verdict), "value": _finite(verdict.value)} for verdict in verdicts],
        "passes": all(verdict.passes is not False for verdict in verdicts),
    }
    if shift is not None:
        report["hue shift"] = {
            "levels": HUE_LEVELS,
            "hues": HUE_NAMES,
            "degrees": [[_finite(value) for value in row] for row in shift.degrees.tolist()],
            "chroma": [[_finite(value) for value in row] for row in shift.chroma.tolist()],
        }
    return report


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _line(verdict: Verdict) -> str:
    where = f"  [{verdict.where}]" if verdict.where and verdict.passes is not None else ""
    return f"  {MARKS[verdict.passes]}  {verdict.name:22}{verdict.figure}{where}"


def _shift_text(shift: HueShift) -> str:
    lines = ["        hue shift in ICtCp, degrees, of half-saturated BT.2020 colours at its defaults"]
    lines.append("        cd/m\u00b2   " + "".join(f"{name:>9}" for name in HUE_NAMES))
    for level, row in zip(HUE_LEVELS, shift.degrees, strict=True):
        cells = "".join(f"{value:9.1f}" if np.isfinite(value) else f"{'':9}" for value in row)
        if cells.strip():
            lines.append(f"        {level:<7g}{cells}")
    return "\n".join([*lines, ""])
