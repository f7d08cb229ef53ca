"""How long baking takes: the nodes by each engine, and what measuring and writing add; medians of one run.

Usage: python3 tests/benchmarks/bake.py [rounds]
"""

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tonemap.bake import SIZES, bake, errors_of, grid_trial
from tonemap.clf import Notes
from tonemap.errors import TrimbenchError
from tonemap.lut_file import read_lut, write_lut
from tonemap.lut_input import input_named
from tonemap.parity import Engine
from tonemap.reference import ReferenceEngine
from tonemap.rendition import Rendition, chain_of
from viewer.engine import GpuEngine

NOTES = Notes("name", "made", (), "in", "out")


def median_ms(work: Callable[[], object], rounds: int) -> float:
    """Return the median time of some work, after one round that is not counted."""
    work()
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(1e3 * (time.perf_counter() - start))
    return statistics.median(times)


def engines() -> list[Engine]:
    """Return the reference, and the gpu engine where there is one."""
    found: list[Engine] = [ReferenceEngine()]
    try:
        found.append(GpuEngine())
    except TrimbenchError as fault:
        print(f"no gpu engine: {fault}")
    return found


def main() -> None:
    """Print the table."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 7
    lut_input = input_named("pq,bt2020,narrow")
    chain = chain_of(Rendition("trial", "bt2390", "gamut_hue"), lut_input.encoding)
    found = engines()
    for size in SIZES:
        for engine in found:
            ms = median_ms(lambda engine=engine, size=size: bake(chain, lut_input, size, engine), rounds)  # type: ignore[misc]
            print(f"bake {size} nodes a side, {engine.title}: {ms:.0f} ms")
    lut = bake(chain, lut_input, SIZES[-1], found[0])
    trials = {"grid": grid_trial(chain, lut_input, found[0])}
    with tempfile.TemporaryDirectory() as folder:
        for name in ("lut.clf", "lut.cube"):
            path = Path(folder) / name
            ms = median_ms(lambda path=path: write_lut(path, lut, NOTES, overwrite=True), rounds)  # type: ignore[misc]
            print(f"write {name}, {SIZES[-1]} nodes a side, and read it again: {ms:.0f} ms")
            print(f"read {name}: {median_ms(lambda path=path: read_lut(path), rounds):.0f} ms")  # type: ignore[misc]
    samples = trials["grid"].values.size // 3
    ms = median_ms(lambda: errors_of(lut, trials, chain), rounds)
    print(f"look up and compare {samples} colours: {ms:.0f} ms")


if __name__ == "__main__":
    main()
