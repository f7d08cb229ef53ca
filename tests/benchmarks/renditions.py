"""How long one UHD rendition takes: on the card by each main, and by the reference. Prints medians and ratios.

    python tests/benchmarks/renditions.py [--rows 2160] [--runs 9]

A main is compared with a pass that only copies the source to the result, and the reference with one NumPy power of the
picture, in the same run; times of different runs or machines are not comparable.
"""

import argparse
import statistics
import time
from collections.abc import Callable
from functools import partial

import numpy as np

from tonemap.encoding import Encoding
from tonemap.host import find_operators
from tonemap.picture import Picture
from tonemap.reference import ReferenceEngine
from tonemap.render.forms import CODES
from tonemap.rendition import Chain, Rendition, chain_of
from tonemap.starters import starter_renditions
from viewer.compose import FRAGMENT_VERSION, compose
from viewer.engine import GpuEngine, fullscreen_vertex, set_chain_uniforms
from viewer.gl.context import version_text
from viewer.gl.program import Program
from viewer.gl.texture import Framebuffer, Texture

COPY = """
uniform usampler2D source_texture;
out uvec4 result;
void main() { result = texelFetch(source_texture, ivec2(gl_FragCoord.xy), 0); }
"""


def median_ms(work: Callable[[], object], runs: int) -> float:
    """Return the median of several runs in milliseconds, after one that warms up."""
    work()
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return 1000.0 * statistics.median(times)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--rows", type=int, default=2160)
    parser.add_argument("--runs", type=int, default=9)
    parsed = parser.parse_args()
    rows, columns = parsed.rows, parsed.rows * 16 // 9
    random = np.random.default_rng(1)
    samples = np.clip(random.normal(420.0, 130.0, (rows, columns, 3)), 64, 940).astype(np.uint16)
    picture = Picture(samples, Encoding("pq", "bt2020", "narrow", 10))
    host = find_operators()
    trials = [
        *starter_renditions(),
        Rendition("BT.2390, intensity", "bt2390", "gamut_hue", {"application": "intensity"}),
    ]
    trials.append(Rendition("BT.2390, clip", "bt2390", "gamut_clip"))
    chains = [chain_of(rendition, picture.encoding, host) for rendition in trials]

    for main_name in ("compute", "fragment"):
        engine = GpuEngine(main_name)
        print(f"{engine.title}, {version_text()}, {columns} x {rows}")
        copy = copy_ms(engine, picture, parsed.runs)
        print(f"  {'copy':24}{copy:9.2f} ms")
        for chain in chains:
            drawing = drawing_ms(engine, picture, chain, parsed.runs)
            whole = median_ms(partial(engine.codes, picture, chain), max(3, parsed.runs // 3))
            print(
                f"  {chain.rendition.name:24}{drawing:9.2f} ms = {drawing / copy:6.1f} copies; "
                f"{whole:8.1f} ms with upload and read-back"
            )
        engine.close()

    reference, few = ReferenceEngine(), max(3, parsed.runs // 3)
    power = median_ms(lambda: (samples / 1023.0) ** (1.0 / 2.4), few)
    print(f"{reference.title}\n  {'one power of the picture':24}{power:9.1f} ms")
    for chain in chains:
        whole = median_ms(partial(reference.codes, picture, chain), few)
        print(f"  {chain.rendition.name:24}{whole:9.1f} ms = {whole / power:6.1f} powers")


def drawing_ms(engine: GpuEngine, picture: Picture, chain: Chain, runs: int) -> float:
    """Return the time of the drawing alone, with source and result on the card."""
    from OpenGL import GL

    engine.codes(picture, chain)
    program = engine._program_for(picture, chain, CODES)
    source = engine._textures["source", GL.GL_R16UI if engine._is_wide else GL.GL_RGB16UI]
    framebuffer = engine._framebuffer_for(CODES, picture.columns, picture.rows)
    program.use()
    set_chain_uniforms(program, chain, engine._tables)
    source.bind(0)

    def draw() -> None:
        engine._draw(program, framebuffer, picture.columns, picture.rows)
        GL.glFinish()

    return median_ms(draw, runs)


def copy_ms(engine: GpuEngine, picture: Picture, runs: int) -> float:
    """Return the time of a pass that only copies."""
    from OpenGL import GL

    engine.context.make_current()
    program = Program(
        vertex=fullscreen_vertex(), fragment=compose("generated/copy", {"generated/copy": COPY}, FRAGMENT_VERSION)
    )
    source = Texture(GL.GL_RGB16UI, picture.columns, picture.rows)
    source.upload(picture.samples)
    framebuffer = Framebuffer(Texture(GL.GL_RGBA16UI, picture.columns, picture.rows))
    program.use()
    source.bind(0)
    program.set("source_texture", 0)

    def draw() -> None:
        framebuffer.bind()
        GL.glViewport(0, 0, picture.columns, picture.rows)
        GL.glBindVertexArray(engine._vertex_array)
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)
        GL.glFinish()

    return median_ms(draw, runs)


if __name__ == "__main__":
    main()
