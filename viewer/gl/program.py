"""GL programs from composed text, with compiler messages that name the author's own file and line."""

import re
from collections.abc import Iterable
from typing import Any, Self

import numpy as np

from tonemap.errors import TrimbenchError

from ..compose import Composed
from .texture import Texture

# The forms of Mesa "0:12(5): error: ...", NVIDIA "0(12) : error C1008: ..." and "ERROR: 0:12: ..." of Apple and others.
MESSAGE_FORMS = (
    re.compile(r"^\d+:(?P<line>\d+)\((?P<squeezed>\d+)\): (?P<words>(?:preprocessor )?error.*)"),
    re.compile(r"^\d+\((?P<line>\d+)\) : (?P<words>(?:fatal )?error.*)"),
    re.compile(r"^ERROR: \d+:(?P<line>\d+)(?::(?P<column>\d+))?: (?P<words>.*)"),
)

SQUEEZED = re.compile(r"(?:[ \t]|/\*.*?\*/)+|.")
"""What Mesa counts as one column: its preprocessor makes one space of blanks and comments in a row (seen on 22.3)."""

GROUP = 8
"""Pixels a side that a compute main works on in one group: its local_size."""

UniformValue = float | int | bool | np.ndarray


class Program:
    """A linked program; uniforms are set by name, and one that the compiler removed is passed over."""

    def __init__(self, **stages: Composed) -> None:
        """Compile and link; stages are `vertex`, `fragment` or `compute`. Raises TrimbenchError with file and line."""
        self._begin(stages)
        self.check()

    @classmethod
    def begun(cls, **stages: Composed) -> Self:
        """Return one that is still being compiled, as drivers may for several at once; `check` waits for it."""
        program = cls.__new__(cls)
        program._begin(stages)
        return program

    def _begin(self, stages: dict[str, Composed]) -> None:
        from OpenGL import GL

        kinds = {
            "vertex": GL.GL_VERTEX_SHADER,
            "fragment": GL.GL_FRAGMENT_SHADER,
            "compute": getattr(GL, "GL_COMPUTE_SHADER", None),
        }
        self.is_compute = "compute" in stages
        self.handle = GL.glCreateProgram()
        self._shaders = [(_compiling(kinds[stage], composed), composed) for stage, composed in stages.items()]
        for shader, _ in self._shaders:
            GL.glAttachShader(self.handle, shader)
        GL.glLinkProgram(self.handle)
        self._locations: dict[str, int] = {}

    def check(self) -> None:
        """Wait until it is linked; raises TrimbenchError with file and line, and then there is no program."""
        from OpenGL import GL

        if not self._shaders:
            return
        try:
            for shader, composed in self._shaders:
                if not GL.glGetShaderiv(shader, GL.GL_COMPILE_STATUS):
                    raise TrimbenchError(translate_log(_log_text(GL.glGetShaderInfoLog(shader)), composed))
            if not GL.glGetProgramiv(self.handle, GL.GL_LINK_STATUS):
                log = _log_text(GL.glGetProgramInfoLog(self.handle))
                raise TrimbenchError(translate_link_log(log, [composed for _, composed in self._shaders]))
        except TrimbenchError:
            self.delete()
            raise
        finally:
            for shader, _ in self._shaders:
                GL.glDeleteShader(shader)
            self._shaders = []

    def use(self) -> None:
        """Make this the program that draws."""
        from OpenGL import GL

        GL.glUseProgram(self.handle)

    def set(self, name: str, value: UniformValue) -> None:
        """Set one uniform of the program in use: float, int, bool, a vector (2..4) or a 3 x 3 matrix for columns."""
        from OpenGL import GL

        location = self._locations.get(name)
        if location is None:
            location = self._locations[name] = GL.glGetUniformLocation(self.handle, name)
        if location < 0:
            return
        if isinstance(value, (bool, int, np.integer)):
            GL.glUniform1i(location, int(value))
        elif isinstance(value, (float, np.floating)):
            GL.glUniform1f(location, value)
        elif np.shape(value) == (3, 3):
            GL.glUniformMatrix3fv(location, 1, GL.GL_TRUE, np.ascontiguousarray(value, np.float32))
        else:
            _set_vector(location, np.asarray(value))

    def dispatch(self, texture: Texture, corner: tuple[int, int], end: tuple[int, int], *others: Texture) -> None:
        """Run this compute program, which is in use, for the pixels of its textures from a corner up to an end.

        Programs that write to several textures run side by side: each texture waits when it is read.
        """
        from OpenGL import GL

        self.set("corner", np.array(corner))
        self.set("size", np.array(end))
        for place, one in enumerate((texture, *others)):
            GL.glBindImageTexture(place, one.handle, 0, GL.GL_FALSE, 0, GL.GL_WRITE_ONLY, one.internal_format)
            one.has_unseen = True
        columns, rows = end[0] - corner[0], end[1] - corner[1]
        GL.glDispatchCompute(-(-columns // GROUP), -(-rows // GROUP), 1)

    def delete(self) -> None:
        """Free the program."""
        from OpenGL import GL

        GL.glDeleteProgram(self.handle)


def translate_log(log: str, composed: Composed) -> str:
    """Return the first error of a compiler's log with the file and line that its author wrote."""
    for row in log.splitlines():
        for form in MESSAGE_FORMS:
            match = form.match(row.strip())
            if match:
                at = int(match["line"]) or composed.line_of(match["words"])
                file, line = composed.origin(at)
                column = _column(match.groupdict(), composed, at)
                is_call = at in composed.notes  # the host's line, told as the author's function: no column of his
                place = f"{file}:{line}" + (f":{composed.column(at, column)}" if column and not is_call else "")
                return f"{place}: {composed.words(at, match['words'])}"
    return log.strip()


def translate_link_log(log: str, stages: Iterable[Composed]) -> str:
    """Return a linker's words; with the author's file and line where they speak of a name that an operator defines."""
    words = " ".join(log.split())
    for composed in stages:
        at = composed.line_of(words)
        if at > 1:
            file, line = composed.origin(at)
            return f"{file}:{line}: {composed.words(at, words)}"
    return f"the shaders don't link: {words}"


def _column(found: dict[str, str | None], composed: Composed, at: int) -> int | None:
    """Return the column of a message in a line of the composed text, if it has one."""
    squeezed = found.get("squeezed")
    if squeezed is None:
        column = found.get("column")
        return int(column) if column else None
    line = dict(enumerate(composed.text.splitlines(), 1)).get(at, "")
    starts = [match.start() + 1 for match in SQUEEZED.finditer(line)]
    return starts[int(squeezed) - 1] if 1 <= int(squeezed) <= len(starts) else int(squeezed)


def compile_side_by_side() -> None:
    """Let the driver compile on as many threads as it likes, where it can (KHR_parallel_shader_compile)."""
    from OpenGL.GL.KHR.parallel_shader_compile import glMaxShaderCompilerThreadsKHR

    if glMaxShaderCompilerThreadsKHR:
        glMaxShaderCompilerThreadsKHR(0xFFFFFFFF)


def _compiling(kind: Any, composed: Composed) -> Any:
    from OpenGL import GL

    shader = GL.glCreateShader(kind)
    GL.glShaderSource(shader, composed.text)
    GL.glCompileShader(shader)
    return shader


def _log_text(log: bytes | str) -> str:
    return log.decode(errors="replace") if isinstance(log, bytes) else log


def _set_vector(location: int, value: np.ndarray) -> None:
    from OpenGL import GL

    sort = "i" if np.issubdtype(value.dtype, np.integer) else "f"
    getattr(GL, f"glUniform{value.size}{sort}")(location, *value.tolist())
