"""trimbench parity: how well this machine's GPU and driver, and its processor, agree with the reference."""

import argparse
import json
import platform
import sys
from collections.abc import Iterator, Mapping
from typing import Any

from tonemap.errors import EngineLimit, TrimbenchError, WrongCall
from tonemap.host import Host
from tonemap.parity import INTERVAL_C, Agreement, Engine, Remembering, compare_chain, stress_pictures, trial_chains
from tonemap.picture import Picture

from . import options


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the verb's arguments."""
    parser.add_argument("operator", metavar="OPERATOR", nargs="*", help="only these; default: every operator found")
    parser.add_argument(
        "--main",
        choices=("fragment", "compute", options.CPU),
        help="only this main of the gpu engine, or the cpu engine; default: all that there are",
    )
    parser.add_argument("--pixels", metavar="N", type=int, default=1_000_000, help="random colours, default 1000000")
    options.add_operators(parser)
    parser.add_argument("--json", action="store_true", help="print as JSON")


def run(parsed: argparse.Namespace) -> int:
    """Measure and print the table; exit status 1 when an operator misses the bar."""
    from tonemap.reference import ReferenceEngine

    if not 1000 <= parsed.pixels <= 20_000_000:
        raise WrongCall(f"--pixels {parsed.pixels} is outside 1000..20000000; choose a number in that range")
    host = options.host_of(parsed, reads_all=not parsed.operator)
    names = parsed.operator or list(host.operators)
    for name in names:
        host.get(name)
    engines, machine = _engines(parsed.main)
    machine["system"] = f"{platform.system()} {platform.machine()}, Python {platform.python_version()}"
    pictures, reference, rows = stress_pictures(parsed.pixels), Remembering(ReferenceEngine()), []
    if not parsed.json:
        print("\n".join([*machine.values(), "", _heading()]), flush=True)
    for name in names:
        for row in _measured(name, host, reference, engines, pictures):
            rows.append(row)
            if not parsed.json:
                print(_line(row), flush=True)
            elif sys.stderr.isatty():
                print(f"{name}, {row['main']}", file=sys.stderr)
    verdicts = [row["passes"] for row in rows if row["passes"] is not None]
    passed = bool(verdicts) and all(verdicts)
    if parsed.json:
        print(json.dumps({"machine": machine, "interval c": INTERVAL_C, "rows": rows, "passes": passed}, indent=2))
    elif passed:
        print("every operator meets the bar" + ("" if len(verdicts) == len(rows) else ", where it was measured"))
    else:
        print("the bar is missed; the lines above say where" if verdicts else "nothing was measured")
    return 0 if passed else 1


def _engines(main: str | None) -> tuple[dict[str, Engine], dict[str, str]]:
    """Return the engines by their mains, and what they run on; raises TrimbenchError where there is none."""
    from ..engine import MAIN_COMPUTE, MAIN_FRAGMENT, GpuEngine
    from ..gl.context import gl_version, renderer_name, version_text

    engines: dict[str, Engine] = {}
    machine: dict[str, str] = {}
    if main != options.CPU:
        try:
            engines[main or MAIN_FRAGMENT] = GpuEngine(main or MAIN_FRAGMENT)
            if main is None and gl_version() >= (4, 3):
                engines[MAIN_COMPUTE] = GpuEngine(MAIN_COMPUTE)
            machine |= {"renderer": renderer_name(), "driver": version_text()}
        except TrimbenchError as fault:
            if main is not None or not options.has_cpu_engine():
                raise
            machine["renderer"] = f"no gpu engine: {fault}"
    if main == options.CPU or (main is None and options.has_cpu_engine()):
        engines[options.CPU] = options.cpu_engine()
        machine["processor"] = engines[options.CPU].title
    return engines, machine


def _measured(
    name: str, host: Host, reference: Engine, engines: dict[str, Engine], pictures: Mapping[str, Picture]
) -> Iterator[dict[str, Any]]:
    """Measure an operator by every engine, and yield a row for each."""
    found: dict[str, list[tuple[str, Agreement]]] = {main: [] for main in engines}
    limits: dict[str, str] = {}
    for label, chain in trial_chains(host.get(name), host):
        for main in engines.keys() - limits.keys():
            try:
                found[main].append((label, compare_chain(reference, engines[main], pictures, chain)))
            except EngineLimit as limit:
                limits[main] = str(limit)
    for main, agreements in found.items():
        yield _unmeasured(name, main, limits[main]) if main in limits else _row(name, main, agreements)


def _row(name: str, main: str, found: list[tuple[str, Agreement]]) -> dict[str, Any]:
    """Return the worst figures of an operator over its parameter sets."""
    failed = [f"{label}: {agreement}" for label, agreement in found if not agreement.passes]
    return {
        "operator": name,
        "main": main,
        "sets": len(found),
        "well conditioned": max(agreement.well_conditioned for _, agreement in found),
        "anywhere": max(agreement.anywhere for _, agreement in found),
        "outside": sum(agreement.outside for _, agreement in found),
        "ppm": max(agreement.codes_ppm for _, agreement in found),
        "step": max(agreement.codes_step for _, agreement in found),
        "passes": not failed,
        "failed": failed,
    }


def _unmeasured(name: str, main: str, limit: str) -> dict[str, Any]:
    """Return the row of an operator that an engine can't run: it passes nothing and fails nothing."""
    return {"operator": name, "main": main, "passes": None, "not measured": limit}


def _heading() -> str:
    columns = f"{'well cond.':>12}{'anywhere':>11}{'outside':>9}{'10-bit ppm':>12}{'step':>6}"
    return f"{'operator':20}{'main':10}{'sets':>5}{columns}"


def _line(row: dict[str, Any]) -> str:
    if row["passes"] is None:
        return f"{row['operator']:20}{row['main']:10}not measured: {row['not measured']}"
    text = (
        f"{row['operator']:20}{row['main']:10}{row['sets']:5}{row['well conditioned']:12.1e}{row['anywhere']:11.1e}"
        f"{row['outside']:9}{row['ppm']:12.0f}{row['step']:6}"
    )
    return "\n".join([text + ("" if row["passes"] else "  FAILS"), *(f"    {line}" for line in row["failed"])])
