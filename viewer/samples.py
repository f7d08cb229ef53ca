"""The samples of a frame on the card, as they are in the file: R, G and B in one texture, or a movie's planes in three.

The shaders read them by `lib/source.glsl`.
"""

from typing import Any

import numpy as np

from tonemap.colorimetry import conversion_matrix
from tonemap.encoding import TRANSFERS, Encoding
from tonemap.media.planes import MATRICES, SITINGS, Coding, Planes
from tonemap.picture import Picture
from tonemap.signal_range import scale_and_offset

from .engine import Settable, set_display
from .gl.program import Program
from .gl.texture import Texture

Content = Picture | Planes
"""What a frame holds."""

NAMES = ("source_texture", "source_second", "source_third")


class Samples:
    """Textures that are filled with one frame after the other, and made anew only for another kind or size."""

    def __init__(self) -> None:
        self._textures: tuple[Texture, ...] = ()
        self._kind: object = None
        self._coding: Coding | None = None
        self._encoding: Encoding | None = None

    def upload(self, content: Content, encoding: Encoding) -> None:
        """Put a frame on the card; `encoding` is that of its picture."""
        planes = sample_planes(content)
        kind = tuple((plane.shape, plane.dtype) for plane in planes)
        if kind != self._kind:
            self.delete()
            self._textures = tuple(Texture(_format(plane), plane.shape[1], plane.shape[0]) for plane in planes)
            self._kind = kind
        for texture, plane in zip(self._textures, planes, strict=True):
            if plane.ndim == 2:
                texture.upload_plane(plane)
            else:
                texture.upload(plane)
        self._coding = content.coding if isinstance(content, Planes) else None
        self._encoding = encoding

    def bind(self, program: Program) -> None:
        """Bind the textures from unit 0 on and set what `lib/source.glsl` reads, on the program in use."""
        encoding, coding = self._encoding, self._coding
        if encoding is None:
            return
        for unit in reversed(range(len(self._textures))):  # unit 0 last: it stays the active one
            self._textures[unit].bind(unit)
            program.set(NAMES[unit], unit)
        set_source(program, encoding, coding)

    def delete(self) -> None:
        """Free the card's memory."""
        for texture in self._textures:
            texture.delete()
        self._textures, self._kind = (), None


def set_source(program: Settable, encoding: Encoding, coding: Coding | None) -> None:
    """Set what `lib/source.glsl` reads beside the samples, on the program in use."""
    program.set("source.to_bt2020", conversion_matrix(encoding.primaries, "bt2020"))
    set_display(program, "source.display", encoding)
    if coding is not None and coding.matrix is not None:
        set_coding(program, "source_coding", coding)
    elif coding is not None or encoding.bits is not None:
        bits, signal_range = (coding or encoding).bits, (coding or encoding).signal_range
        scale, offset = scale_and_offset(bits or 0, signal_range)
        program.set("source_scale", scale)
        program.set("source_offset", offset)


def set_coding(program: Settable, name: str, coding: Coding) -> None:
    """Set a Coding of the shaders, of Y'CbCr, on the program in use."""
    across, down = SITINGS[coding.siting]
    steps = coding.subsampling
    place = (across if steps[0] > 1 else 0.0, down if steps[1] > 1 else 0.0)
    program.set(f"{name}.luma_scale", np.array(coding.luma_scale, np.float32))
    program.set(f"{name}.chroma_scale", np.array(coding.chroma_scale, np.float32))
    program.set(f"{name}.weights", np.array(MATRICES[coding.matrix or ""], np.float32))
    program.set(f"{name}.steps", np.array(steps))
    program.set(f"{name}.place", np.array(place, np.float32))


def source_kind(content: Content, encoding: Encoding) -> tuple[str, bool, int]:
    """Return what a program that reads a frame depends on: transfer, whether codes, and SOURCE_PLANES."""
    if isinstance(content, Planes):
        return encoding.transfer, True, 2 if content.coding.matrix is None else 1
    return encoding.transfer, encoding.bits is not None, 0


def source_text(kind: tuple[str, bool, int], is_near: bool = False) -> str:
    """Return the generated text that `lib/source.glsl` needs before it, for a kind of source.

    Parameters
    ----------
    is_near : whether chroma may be that of the nearest sample
    """
    transfer, are_codes, planes = kind
    return "\n".join(
        [
            f"#define SOURCE_CODES {int(are_codes)}",
            f"#define SOURCE_PLANES {planes}",
            f"#define SOURCE_IS_NEAR {int(is_near)}",
            "#define SOURCE_LAYOUT 0",
            "#define SOURCE_IS_BT2020 0",
            "#define SOURCE_TABLE 0",
            f"const int SOURCE_TRANSFER = {list(TRANSFERS).index(transfer)};",
            "uniform Encoding source;",
            "uniform float source_scale, source_offset;",
        ]
    )


def sample_planes(content: Content) -> tuple[Any, ...]:
    """Return the arrays that a program reads: of Y'CbCr the two planes of chroma as one, which is read in one go."""
    if isinstance(content, Planes):
        return content.components if content.chroma is None else (content.components[0], content.chroma)
    samples = content.samples
    return (samples if samples.dtype == np.uint16 else samples.astype(np.float32, copy=False),)


def _format(plane: Any) -> Any:
    from OpenGL import GL

    if plane.ndim == 3 and plane.shape[2] == 2:
        return GL.GL_RG8UI if plane.dtype == np.uint8 else GL.GL_RG16UI
    if plane.ndim == 3:
        return GL.GL_RGB16UI if plane.dtype == np.uint16 else GL.GL_RGB32F
    return GL.GL_R8UI if plane.dtype == np.uint8 else GL.GL_R16UI
