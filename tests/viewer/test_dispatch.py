"""Compute programs run side by side, and what they wrote is waited for where it is read: GL 4.6, clause 7.13.2."""

import numpy as np
import pytest

from viewer.compose import COMPUTE_VERSION, compose
from viewer.gl.context import OffscreenContext
from viewer.gl.program import Program
from viewer.gl.texture import Framebuffer, Texture, settle

MAIN = """
layout(local_size_x = 8, local_size_y = 8) in;
layout(rgba32f, binding = 0) uniform writeonly image2D result;
uniform ivec2 corner, size;
void main()
{
    ivec2 pixel = corner + ivec2(gl_GlobalInvocationID.xy);
    if (all(lessThan(pixel, size))) imageStore(result, pixel, vec4(pixel, 0.5, 1.0));
}
"""
SIZE = 20, 12
EXPECTED = np.stack([*np.meshgrid(np.arange(20.0), np.arange(12.0)), np.full((12, 20), 0.5)], axis=-1)


@pytest.fixture
def program():
    context = OffscreenContext()
    context.make_current()
    program = Program(compute=compose("generated/main", {"generated/main": MAIN}, COMPUTE_VERSION))
    program.use()
    yield program
    program.delete()
    context.close()


@pytest.fixture
def barriers(program, monkeypatch):
    from OpenGL import GL

    found = []
    barrier = GL.glMemoryBarrier
    monkeypatch.setattr(GL, "glMemoryBarrier", lambda bits: (found.append(bits), barrier(bits)))
    return found


def test_dispatches_wait_for_nothing_until_what_they_wrote_is_read(program, barriers):
    from OpenGL import GL

    framebuffers = [Framebuffer(Texture(GL.GL_RGBA32F, *SIZE)) for _ in range(2)]
    for framebuffer in framebuffers:
        program.dispatch(framebuffer.texture, (0, 0), SIZE)
    assert not barriers
    np.testing.assert_array_equal(framebuffers[0].read(*SIZE), EXPECTED)
    assert len(barriers) == 1
    framebuffers[0].texture.bind(0)
    assert len(barriers) == 1
    framebuffers[1].texture.bind(0)
    assert len(barriers) == 2
    for framebuffer in framebuffers:
        program.dispatch(framebuffer.texture, (0, 0), SIZE)
    settle(framebuffer.texture for framebuffer in framebuffers)
    assert len(barriers) == 3
    framebuffers[1].bind()
    assert len(barriers) == 3
    assert all(bits & GL.GL_TEXTURE_FETCH_BARRIER_BIT and bits & GL.GL_FRAMEBUFFER_BARRIER_BIT for bits in barriers)
