"""A line-up pattern on the surface, code by code."""

from tonemap.encoding import Encoding
from tonemap.line_up.patterns import draw_pattern

from ..gl.texture import Texture
from ..line_up import set_type
from .line_up import NOTE
from .programs import Programs
from .pyramid import draw_triangle


class PatternPicture:
    """The codes of the pattern that was drawn last, on the card."""

    def __init__(self, programs: Programs) -> None:
        self._programs = programs
        self._key: tuple[str, Encoding, int, int] | None = None
        self._texture: Texture | None = None

    def prepare(self, name: str, encoding: Encoding, columns: int, rows: int) -> None:
        """Put a pattern on the card; raises WrongCall for a size that none has."""
        from OpenGL import GL

        key = name, encoding, columns, rows
        if key == self._key:
            return
        codes = draw_pattern(*key, set_type, NOTE)
        self.delete()
        self._texture = Texture(GL.GL_RGB16UI, columns, rows)
        self._texture.upload(codes)
        self._key = key

    def draw(self) -> None:
        """Draw it over the whole bound framebuffer, which has its size."""
        if self._key is None or self._texture is None:
            return
        _, encoding, columns, rows = self._key
        program = self._programs.fixed("pattern")
        program.set("codes", 0)
        program.set("rows", rows)
        program.set("top_code", 2.0 ** (encoding.bits or 8) - 1.0)
        self._texture.bind(0)
        draw_triangle(columns, rows)

    def delete(self) -> None:
        """Free the card's memory."""
        if self._texture is not None:
            self._texture.delete()
        self._texture = self._key = None
