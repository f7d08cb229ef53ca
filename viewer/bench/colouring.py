"""Colours in place of a picture, drawn with GL: what `tonemap.picture_colours` says of every pixel."""

import numpy as np

from tonemap.colorimetry import conversion_matrix
from tonemap.encoding import Encoding
from tonemap.measure.gamut_share import FLOOR_NITS, HALF_FLOAT_TOLERANCE
from tonemap.picture_colours import ABOVE, GREY_LEVEL, VIEWS, PictureColours, clipping_encoding, clipping_limit

from ..engine import set_display
from ..gl.texture import Texture
from .interface_encoding import INTERFACE, interface_signal
from .programs import Programs
from .uniforms import set_encoding, transfer_number

GREY = (-1.0, -1.0, -1.0)


class Colouring:
    """Draws colours in place of pictures."""

    def __init__(self, programs: Programs) -> None:
        self._programs = programs
        self._marks: tuple[PictureColours, Texture] | None = None

    def draw(
        self,
        colours: PictureColours,
        picture: Texture,
        shown: Encoding,
        is_light: bool,
        first: tuple[int, int] = (0, 0),
        stride: int = 1,
    ) -> None:
        """Draw to the bound framebuffer's viewport.

        Parameters
        ----------
        picture : the signal of `shown`, or BT.2020 light
        first, stride : texel of the picture for the first pixel drawn, and texels a pixel
        """
        from OpenGL import GL

        marks = self._texture(colours)
        coded = clipping_encoding(shown)
        program = self._programs.fixed(
            "colours",
            view=VIEWS.index(colours.view),
            shown_transfer=transfer_number(coded),
            shown_is_light=int(is_light),
        )
        program.set("picture", 0)
        program.set("marks", 1)
        program.set("first", np.array(first))
        program.set("stride", stride)
        program.set("texels", np.array([picture.columns, picture.rows]))
        set_encoding(program, "shown", coded)
        program.set("to_bt709", conversion_matrix("bt2020", "bt709"))
        program.set("to_p3", conversion_matrix("bt2020", "p3-d65"))
        program.set("to_own", conversion_matrix("bt2020", coded.primaries))
        program.set("tolerance", HALF_FLOAT_TOLERANCE)
        program.set("floor_nits", FLOOR_NITS)
        primaries, peak = colours.reach
        program.set("to_monitor", conversion_matrix("bt2020", primaries))
        program.set("most", peak * (1.0 + ABOVE))
        program.set("limit", clipping_limit(coded))
        program.set("grey_level", GREY_LEVEL)
        set_display(program, "screen", INTERFACE)
        picture.bind(0)
        marks.bind(1)
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)

    def delete(self) -> None:
        """Free the card's memory."""
        if self._marks is not None:
            self._marks[1].delete()
        self._marks = None

    def _texture(self, colours: PictureColours) -> Texture:
        """Return the table of the marks: their colours, and below them where bands begin."""
        from OpenGL import GL

        if self._marks is None or self._marks[0] != colours:
            self.delete()
            lights = [mark.light for mark in colours.marks]
            colour = [GREY if light is None else tuple(interface_signal(np.array(light))) for light in lights]
            lows = [(mark.low, 0.0, 0.0) for mark in colours.marks]
            texture = Texture(GL.GL_RGB32F, len(colour), 2)
            texture.upload(np.array([colour, lows], np.float32))
            self._marks = colours, texture
        return self._marks[1]
