"""Captions of approval copies: shot, rendition, timecode and frame, in the project's type at the picture's foot."""

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tonemap.render.burn_in import burn_in, words_level
from tonemap.render.programme import Programme

from .comparison.type_setting import REGULAR, font, one_line, wrap

SAFE = 0.05  # of the picture's sides, left free; EBU R 95, safe area for graphics, from memory
SIZE = 1.0 / 48.0  # em, of the picture's height
PADDING = 0.4  # em
GAP = " \u00b7 "
MOST_WIDTH = 0.55  # of the picture's, for shot and rendition

Coverage = NDArray[np.float32]


class Captions:
    """Burns its caption into each frame of a programme: what it is at the left, and where it is at the right."""

    def __init__(self, programme: Programme) -> None:
        self._programme = programme
        self._size = max(12.0, SIZE * programme.rows)

    def __call__(self, index: int, rendered: Any) -> Any:
        """Return the frame with its caption; the array is the same."""
        programme, size = self._programme, self._size
        columns, rows = programme.columns, programme.rows
        level = words_level(programme.target, programme.is_hdr)
        what, where = self.texts(index)
        what = wrap(what, MOST_WIDTH * columns, size, most_lines=1)[0]
        for text, is_right in ((what, False), (where, True)):
            coverage = set_line(text, size)[-rows:, :columns]
            height, width = coverage.shape
            top = max(0, round((1.0 - SAFE) * rows) - height)
            left = max(0, round((1.0 - SAFE) * columns) - width) if is_right else round(SAFE * columns)
            left = min(left, columns - width)
            burn_in(rendered, programme.target, coverage, top, left, level)
        return rendered

    def texts(self, index: int) -> tuple[str, str]:
        """Return both parts of a frame's caption."""
        programme = self._programme
        shot, rendition = map(one_line, programme.names_at(index))
        where = filter(None, (programme.timecode_at(index), f"frame {programme.number(index)}"))
        return GAP.join(("HDR" if programme.is_hdr else "SDR", shot, rendition)), GAP.join(where)


@lru_cache(maxsize=16)
def set_line(text: str, size: float) -> Coverage:
    """Set a line; returns how far each pixel is covered, 0..1, of a rectangle with the padding around it."""
    from matplotlib.font_manager import get_font
    from matplotlib.ft2font import LoadFlags

    face = get_font(font(text, REGULAR).get_file())
    face.set_size(size, 72.0)
    face.set_text(text, 0.0, LoadFlags.NO_HINTING, features=("tnum",))
    face.draw_glyphs_to_bitmap(antialiased=True)
    ink = np.asarray(face.get_image(), np.float32) / 255.0
    padding, descent = round(PADDING * size), face.get_descent() / 64.0
    capital = round(0.66 * size)
    height = capital + 2 * padding
    line = np.zeros((height, ink.shape[1] + 2 * padding), np.float32)
    baseline = padding + capital
    top = baseline - (ink.shape[0] - round(descent))
    first, last = max(0, top), min(height, top + ink.shape[0])
    line[first:last, padding : padding + ink.shape[1]] = ink[first - top : last - top]
    return line
