"""The words of line-up patterns: a text as coverage, in the project's own type."""

import numpy as np

from tonemap.arrays import Array

from .comparison.type_setting import REGULAR, SEMIBOLD, font


def set_type(text: str, size: float, is_bold: bool) -> Array:
    """Set a text; as `tonemap.line_up.plate.SetType` says."""
    from matplotlib.font_manager import get_font

    face = get_font(font(text, SEMIBOLD if is_bold else REGULAR).get_file())
    face.set_size(size, 72.0)
    face.set_text(text)
    face.draw_glyphs_to_bitmap(antialiased=True)
    image = np.asarray(face.get_image(), np.float64) / 255.0
    height, below = face.get_width_height()[1], face.get_descent()  # in 64ths of a pixel
    above = (height - below) // 64 + 1  # rows of the bitmap above the baseline
    coverage = np.zeros((round(size) + max(len(image) - above, round(0.4 * size)), image.shape[1]))
    top = round(size) - above
    kept = image[max(-top, 0) :]
    coverage[max(top, 0) : max(top, 0) + len(kept)] = kept
    return coverage
