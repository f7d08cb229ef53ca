"""Evaluates one GLSL expression of the shader library on an array, for tests of the library's functions."""

import numpy as np

from viewer.compose import FRAGMENT_VERSION, Composed, compose
from viewer.engine import GpuEngine, fullscreen_vertex
from viewer.gl.program import Program
from viewer.gl.texture import Framebuffer, Texture
from viewer.vectors.engine import VectorEngine
from viewer.vectors.program import VectorProgram

MAIN = """
{includes}
uniform sampler2D source_texture;
out vec4 result;
void main()
{{
    vec3 x = texelFetch(source_texture, ivec2(gl_FragCoord.xy), 0).rgb;
    result = vec4({expression}, 1.0);
}}
"""


def evaluate(engine: GpuEngine | VectorEngine, expression: str, values: np.ndarray, *includes: str) -> np.ndarray:
    """Return the float32 results of a vec3 expression of `x` for values of shape (n, 3)."""
    text = MAIN.format(includes="\n".join(f'#include "{name}"' for name in includes), expression=expression)
    fragment = compose("generated/expression", {"generated/expression": text}, FRAGMENT_VERSION)
    columns = 1024
    rows = -(-len(values) // columns)
    block = np.zeros((rows * columns, 3), np.float32)
    block[: len(values)] = values
    source = block.reshape(rows, columns, 3)
    result = by_vectors(fragment, source) if isinstance(engine, VectorEngine) else by_card(engine, fragment, source)
    return result.reshape(-1, 3)[: len(values)]


def by_vectors(fragment: Composed, samples: np.ndarray) -> np.ndarray:
    """Draw on the processor."""
    program, result = VectorProgram(fragment), np.empty_like(samples)
    program.set_image("source_texture", samples)
    program.draw({"result": result})
    return result


def by_card(engine: GpuEngine, fragment: Composed, samples: np.ndarray) -> np.ndarray:
    """Draw by the GL driver."""
    from OpenGL import GL

    engine.context.make_current()
    rows, columns = samples.shape[:2]
    program = Program(vertex=fullscreen_vertex(), fragment=fragment)
    source, target = Texture(GL.GL_RGB32F, columns, rows), Texture(GL.GL_RGBA32F, columns, rows)
    framebuffer = Framebuffer(target)
    source.upload(samples)
    program.use()
    source.bind(0)
    program.set("source_texture", 0)
    framebuffer.bind()
    GL.glViewport(0, 0, columns, rows)
    GL.glBindVertexArray(engine._vertex_array)
    GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)
    result = framebuffer.read(columns, rows)
    for item in (program, framebuffer, source, target):
        item.delete()
    return result
