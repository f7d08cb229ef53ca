"""Setting type: fonts, measuring, wrapping, and words with their places. The family is in viewer/fonts."""

from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

REGULAR, SEMIBOLD = "400Regular", "600SemiBold"
SMALL = 0.88  # em; of labels

# Shades are full-range 8-bit codes, neutral: a tint beside a picture would bias the eye.
GROUND = 30
HAIRLINE = 62
QUIET, SECOND, FIRST = 140, 178, 232


@dataclass(frozen=True)
class Item:
    """A labelled value, such as 'start 40 cd/m2'."""

    label: str
    value: str


@dataclass(frozen=True)
class Word:
    """A run of text at its place: `x` and `baseline` in pixels from the top left corner."""

    text: str
    x: float
    baseline: float
    size: float
    weight: str = REGULAR
    shade: int = FIRST
    align: str = "left"
    is_figure: bool = False

    @property
    def left(self) -> float:
        """Where it begins, whatever it is aligned to."""
        width = text_width(self.text, self.size, self.weight, self.is_figure)
        return self.x - {"left": 0.0, "center": 0.5, "right": 1.0}[self.align] * width

    def moved(self, dx: float, dy: float) -> "Word":
        """Return the word moved right and down."""
        return replace(self, x=self.x + dx, baseline=self.baseline + dy)


def font(text: str, weight: str) -> Any:
    """Return the font properties for a text: the family's, or a broad fallback where it lacks a character."""
    from matplotlib.font_manager import FontProperties

    path = _font_path(weight)
    has_all = _characters(path).issuperset(map(ord, text))
    return FontProperties(fname=path if has_all else _fallback_path())


def one_line(text: str) -> str:
    """Return a text that can be set: without line breaks, with a mark for each character that no font here has."""
    spaced = "".join(c if c.isprintable() else " " for c in text)
    known = _characters(_font_path(REGULAR)) | _characters(_fallback_path())
    return " ".join("".join(c if ord(c) in known or c.isspace() else "\ufffd" for c in spaced).split()) or "unnamed"


def text_width(text: str, size: float, weight: str = REGULAR, is_figure: bool = False) -> float:
    """Return the width in pixels of a text at a size in pixels; without hinting it is in proportion to the size."""
    return _width_in_em(text, weight, is_figure) * size


@cache
def _width_in_em(text: str, weight: str, is_figure: bool) -> float:
    from matplotlib.font_manager import get_font
    from matplotlib.ft2font import LoadFlags

    face = get_font(font(text, weight).get_file())
    face.set_size(100.0, 72.0)
    face.set_text(text, 0.0, LoadFlags.NO_HINTING, features=("tnum",) if is_figure else None)
    return face.get_width_height()[0] / 6400.0


def wrap(text: str, width: float, size: float, weight: str = REGULAR, most_lines: int = 99) -> list[str]:
    """Break a text into lines; a word that is too wide is broken, and what does not fit ends in an ellipsis."""
    lines = [""]
    for word in text.split():
        for piece in _pieces(word, width, size, weight):
            joined = f"{lines[-1]} {piece}".strip() if piece == word or not lines[-1] else None
            if joined is not None and text_width(joined, size, weight) <= width:
                lines[-1] = joined
            else:
                lines.append(piece)
    lines = [line for line in lines if line] or [""]
    if len(lines) > most_lines:
        lines = lines[:most_lines]
        last = lines[-1]
        while last and text_width(f"{last}…", size, weight) > width:
            last = last[:-1]
        lines[-1] = f"{last.rstrip()}…"
    return lines


def paragraph(text: str, width: float, size: float, leading: float, **look: Any) -> tuple[list[Word], float]:
    """Set a text from the top left; returns the words and the height."""
    most_lines = look.pop("most_lines", 99)
    lines = wrap(text, width, size, look.get("weight", REGULAR), most_lines)
    words = [Word(line, 0.0, _baseline(number, size, leading), size, **look) for number, line in enumerate(lines)]
    return words, len(lines) * leading


def flow(items: tuple[Item, ...], width: float, size: float, leading: float) -> tuple[list[Word], float]:
    """Set labelled values one after the other, label quiet and value bright; an item breaks only if it must."""
    words: list[Word] = []
    line, x = 0, 0.0
    space, gap = text_width("n n", size) - text_width("nn", size), 1.1 * size
    for item in items:
        label_width = text_width(item.label, size) + space
        item_width = label_width + text_width(item.value, size)
        if x > 0.0 and x + item_width > width:
            line, x = line + 1, 0.0
        words.append(Word(item.label, x, _baseline(line, size, leading), size, shade=QUIET))
        if item_width <= width:
            words.append(Word(item.value, x + label_width, _baseline(line, size, leading), size))
            x += item_width + gap
            continue
        for part in wrap(item.value, width, size):
            line, x = line + 1, text_width(part, size) + gap
            words.append(Word(part, 0.0, _baseline(line, size, leading), size))
    return words, (line + 1) * leading if items else 0.0


def _baseline(line: int, size: float, leading: float) -> float:
    return line * leading + 0.5 * (leading + 0.66 * size)  # capitals are 0.66 em high: centred in the leading


def _pieces(word: str, width: float, size: float, weight: str) -> list[str]:
    pieces = []
    while text_width(word, size, weight) > width and len(word) > 1:
        end = len(word) - 1
        while end > 1 and text_width(word[:end], size, weight) > width:
            end -= 1
        pieces.append(word[:end])
        word = word[end:]
    return [*pieces, word]


@cache
def _font_path(weight: str) -> Path:
    return Path(str(files("viewer") / "fonts" / f"AtkinsonHyperlegibleNext_{weight}.ttf"))


@cache
def _fallback_path() -> Path:
    import matplotlib

    return Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf"


@cache
def _characters(path: Path) -> frozenset[int]:
    from matplotlib.font_manager import get_font

    return frozenset(get_font(path).get_charmap())
