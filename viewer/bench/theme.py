"""The look: neutral greys, one accent, one type family, sizes in units of the type."""

from dataclasses import dataclass
from importlib.resources import as_file, files
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from .toolkit import imgui

TYPE_SIZE = 16.0
"""Size of the type on a screen with a content scale of 1, in pixels."""

REGULAR = "AtkinsonHyperlegibleNext_400Regular.ttf"
SEMIBOLD = "AtkinsonHyperlegibleNext_600SemiBold.ttf"
ASIAN = Path("/usr/share/fonts-droid-fallback/truetype/DroidSansFallback.ttf")
"""Han, Kana and Hangul, 3 MB: Debian's package fonts-droid-fallback, which the set-up installs."""

BROAD = 0.9
"""Size of the fonts behind the type, whose letters are larger."""

UNKNOWN = 0xFFFD
"""The sign in place of one that no font here has."""

# Greys as signal; on a BT.1886 screen with white at 100 cd/m2 a signal s is 100 s^2.4 cd/m2.
SURROUND = 0.17  # 1.4 cd/m2: around the pictures
PANEL = 0.13
FIELD = 0.21
FIELD_HOVERED = 0.25
LINE = 0.30
TEXT = 0.80
TEXT_DIM = 0.58  # of what is beside the matter, or of a picture that is not on the screen now
ACCENT = (0.48, 0.74, 0.66)  # verdigris, for what is selected or changed and for nothing else

Colour = tuple[float, float, float, float]


def grey(level: float, alpha: float = 1.0) -> Colour:
    """Return a neutral colour."""
    return level, level, level, alpha


def accent(strength: float = 1.0, alpha: float = 1.0) -> Colour:
    """Return the accent, darker with less strength."""
    red, green, blue = (strength * channel for channel in ACCENT)
    return red, green, blue, alpha


@dataclass(frozen=True)
class Fonts:
    """The two weights of the type."""

    regular: Any
    semibold: Any


def load_fonts() -> Fonts:
    """Load the type from the package, and behind it what has the signs that it lacks; the first font is the default."""
    fonts = imgui.get_io().fonts
    behind = imgui.ImFontConfig()
    behind.merge_mode = True

    def load(name: str) -> Any:
        with as_file(files("viewer") / "fonts" / name) as path:
            font = fonts.add_font_from_file_ttf(str(path), TYPE_SIZE)
        for path in broad_fonts():
            fonts.add_font_from_file_ttf(str(path), BROAD * TYPE_SIZE, behind)
        font.fallback_char = UNKNOWN
        return font

    return Fonts(load(REGULAR), load(SEMIBOLD))


def broad_fonts() -> list[Path]:
    """Return the fonts for names in other scripts: one of Matplotlib's package, and the system's for Asian ones.

    A sign that none of them has stands as `UNKNOWN`.
    """
    plots = find_spec("matplotlib")
    folders = [Path(folder) for folder in (plots.submodule_search_locations if plots else None) or ()]
    places = [*(folder / "mpl-data" / "fonts" / "ttf" / "DejaVuSans.ttf" for folder in folders), ASIAN]
    return [place for place in places if place.is_file()]


def apply(scale: float) -> None:
    """Set colours and sizes for a content scale."""
    style = imgui.get_style()
    style.font_size_base = TYPE_SIZE
    style.font_scale_dpi = scale
    em = TYPE_SIZE * scale
    style.window_padding = (round(0.75 * em), round(0.6 * em))
    style.frame_padding = (round(0.45 * em), round(0.2 * em))
    style.item_spacing = (round(0.45 * em), round(0.35 * em))
    style.item_inner_spacing = (round(0.35 * em), round(0.25 * em))
    style.scrollbar_size = round(0.7 * em)
    style.grab_min_size = round(0.7 * em)
    style.window_border_size = style.child_border_size = style.frame_border_size = 0.0
    style.popup_border_size = 1.0
    style.window_rounding = style.popup_rounding = 0.0
    style.frame_rounding = style.scrollbar_rounding = style.grab_rounding = round(0.15 * em)
    style.hover_delay_normal = 0.5
    for name, colour in _colours().items():
        style.set_color_(getattr(imgui.Col_, name), imgui.ImVec4(*colour))


def _colours() -> dict[str, Colour]:
    return {
        "text": grey(TEXT),
        "text_disabled": grey(TEXT_DIM),
        "window_bg": grey(PANEL),
        "child_bg": grey(0.0, 0.0),
        "popup_bg": grey(0.10),
        "frame_bg": grey(FIELD),
        "frame_bg_hovered": grey(FIELD_HOVERED),
        "frame_bg_active": grey(FIELD_HOVERED),
        "button": grey(FIELD),
        "button_hovered": grey(FIELD_HOVERED),
        "button_active": grey(LINE),
        "header": grey(FIELD),
        "header_hovered": grey(FIELD_HOVERED),
        "header_active": grey(LINE),
        "check_mark": grey(TEXT),
        "slider_grab": grey(TEXT_DIM),
        "slider_grab_active": grey(TEXT),
        "scrollbar_bg": grey(0.0, 0.0),
        "scrollbar_grab": grey(0.24),
        "scrollbar_grab_hovered": grey(0.32),
        "scrollbar_grab_active": grey(0.40),
        "separator": grey(0.24),
        "border": grey(0.28),
        "title_bg": grey(0.10),
        "title_bg_active": grey(0.10),
        "text_selected_bg": grey(0.40),
        "nav_cursor": accent(0.7),
        "modal_window_dim_bg": grey(0.0, 0.45),
        "resize_grip": grey(0.0, 0.0),
        "resize_grip_hovered": grey(0.0, 0.0),
        "resize_grip_active": grey(0.0, 0.0),
        "input_text_cursor": grey(TEXT),
    }
