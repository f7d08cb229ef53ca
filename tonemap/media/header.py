"""What the header of a picture file says about its place in a programme: rate, timecode, mastering, content light."""

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from ..measure.metadata import ContentLight, MasteringDisplay
from .png import SIGNATURE, chunk_attributes


@dataclass(frozen=True)
class HeaderFacts:
    """The facts; None where the file doesn't say."""

    rate: Fraction | None = None
    timecode: str | None = None
    mastering_display: MasteringDisplay | None = None
    content_light: ContentLight | None = None


def header_facts(path: Path) -> HeaderFacts:
    """Read a picture's header; the picture itself has been read before, so that nothing can be wrong with the file."""
    import OpenImageIO as oiio

    with path.open("rb") as file:
        if file.read(len(SIGNATURE)) == SIGNATURE:
            return _of_png(path)
    source = oiio.ImageInput.open(str(path))
    if source is None:
        oiio.geterror()
        return HeaderFacts()
    spec = source.spec()
    source.close()
    timecode = spec.get_string_attribute("smpte:TimeCode") or spec.get_string_attribute("dpx:TimeCode")
    rate = spec.getattribute("FramesPerSecond") or spec.getattribute("dpx:FrameRate")
    return HeaderFacts(_rate(rate), timecode or None)


def _rate(value: object) -> Fraction | None:
    """Make a fraction of a tag: a pair of integers, or a number that stands for a usual one."""
    if isinstance(value, tuple) and len(value) == 2 and value[1]:
        value = Fraction(int(value[0]), int(value[1]))
    elif isinstance(value, int | float) and 1.0 <= value <= 1000.0:
        number, whole = float(value), Fraction(round(value))
        value = min((whole, whole * 1000 / 1001), key=lambda rate: abs(float(rate) - number))
    return value if isinstance(value, Fraction) and 1 <= value <= 1000 else None


def _of_png(path: Path) -> HeaderFacts:
    chunks = chunk_attributes(path)
    display = content = None
    if "mDCV" in chunks:
        peak, black, *points = chunks["mDCV"]
        red, green, blue, white = points if all(map(any, points)) else (None, None, None, None)
        display = MasteringDisplay(red, green, blue, white, peak, black)
    if "cLLI" in chunks:
        content = ContentLight(*(round(level) for level in chunks["cLLI"]))
    return HeaderFacts(mastering_display=display, content_light=content)
