"""The words that GLSL has for itself, tried by the compiler of the machine."""

import pytest

from tonemap.glsl_words import FUNCTIONS, KEYWORDS, RESERVED

LATER = {"buffer", "shared", "coherent", "volatile", "restrict", "readonly", "writeonly", "resource"}
"""Words of GLSL 4.20 and later."""


def compiled(text: str) -> str:
    """Return what the compiler says of a fragment shader; nothing where all is well."""
    from OpenGL import GL

    shader = GL.glCreateShader(GL.GL_FRAGMENT_SHADER)
    GL.glShaderSource(shader, f"#version 410 core\n{text}\n")
    GL.glCompileShader(shader)
    is_good = GL.glGetShaderiv(shader, GL.GL_COMPILE_STATUS)
    log = GL.glGetShaderInfoLog(shader)
    GL.glDeleteShader(shader)
    return "" if is_good else log.decode() if isinstance(log, bytes) else str(log)


@pytest.mark.parametrize("word", sorted(KEYWORDS | RESERVED))
def test_no_variable_can_have_a_word_of_glsl_for_its_name(word, engines):
    engines["fragment"].context.make_current()
    text = "void main() {{ float {} = 1.0; }}"
    assert compiled(text.format("worded")) == ""
    if word not in LATER:
        assert compiled(text.format(word)) != ""


@pytest.mark.parametrize("word", sorted(FUNCTIONS))
def test_every_function_of_glsl_is_known_to_the_compiler(word, engines):
    """It says another thing of a function that it has not, whatever the arguments."""
    engines["fragment"].context.make_current()

    def said_of(name: str) -> str:
        return compiled(f"struct One {{ int one; }}; void main() {{ {name}(One(1)); }}").replace(name, "")

    assert said_of(word) != said_of("worded")
