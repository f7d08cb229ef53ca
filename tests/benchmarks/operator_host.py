"""What the host costs a frame and a slider move, beside the operator's own work.

Medians and ratios of one run on one machine.
"""

import statistics
import time
from collections.abc import Callable

import numpy as np

from tonemap.encoding import Encoding
from tonemap.host import Host, find_operators
from tonemap.picture import Picture
from tonemap.render.forms import CODES
from tonemap.rendition import Rendition, chain_of
from viewer.compose import FRAGMENT_VERSION, program_key, rendition_program
from viewer.engine import GpuEngine, set_chain_uniforms

MASTER = Encoding("pq", "bt2020", "narrow", 10)
RUNS = 9


def median_ms(work: Callable[[], object]) -> float:
    """Return the median of some runs in ms, after one that warms up."""
    work()
    times = []
    for _ in range(RUNS):
        start = time.perf_counter()
        work()
        times.append(1000.0 * (time.perf_counter() - start))
    return statistics.median(times)


def main() -> None:
    """Measure and print."""
    host = find_operators()
    codes = np.random.default_rng(1).integers(64, 940, (1080, 1920, 3), dtype=np.uint16)
    picture, engine = Picture(codes, MASTER), GpuEngine("fragment")
    print(f"{engine.title}; 1920 x 1080")
    for name in ("bt2390", "knee"):
        print(_figures(engine, picture, host, Rendition(name, name, "gamut_hue")))
    engine.close()


def _figures(engine: GpuEngine, picture: Picture, host: Host, rendition: Rendition) -> str:
    chain = chain_of(rendition, MASTER, host)
    frame = median_ms(lambda: engine.codes(picture, chain))
    program = engine._program_for(picture, chain, CODES)
    program.use()
    uniforms = median_ms(lambda: set_chain_uniforms(program, chain, engine._tables))
    key = median_ms(lambda: program_key(chain))
    move = median_ms(lambda: chain_of(rendition, MASTER, host))
    text = median_ms(lambda: rendition_program(chain, "main/rendition.frag", FRAGMENT_VERSION))
    return (
        f"{rendition.name:12} frame {frame:.0f} ms, of which the host: program found {key:.3f} ms, uniforms "
        f"{uniforms:.2f} ms ({100.0 * (key + uniforms) / frame:.2f} %); slider move {move:.3f} ms; text of a program "
        f"{text:.1f} ms"
    )


if __name__ == "__main__":
    main()
