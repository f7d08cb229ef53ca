"""Samples: what was under the pointer at the last clicks, in the master and in every rendition. Plain Python."""

from .bench import Bench
from .probe import RenditionReading, Sample
from .wording import NITS

MOST = 12
"""Samples that are kept; the oldest goes first."""


def take_sample(bench: Bench) -> None:
    """Keep what is under the pointer."""
    master, pointed, frame = bench.master_reading(), bench.pointed, bench.state.master
    if master is None or pointed is None or frame is None:
        return
    read = [(slot.rendition.name, bench.reading(slot)) for slot in bench.state.slots]
    renditions = tuple((name, reading) for name, reading in read if isinstance(reading, RenditionReading))
    bench.samples = [*bench.samples, Sample(frame.frame.name, *pointed, master, renditions)][-MOST:]


def text_of(samples: list[Sample]) -> str:
    """Return samples as a table of text with tabs, a line a picture; a spreadsheet takes it."""
    lines = ["\t".join(["frame", "x", "y", "picture", "codes or values", NITS, "hue", "\u0394E ITP to master"])]
    for sample in samples:
        where = [sample.frame, str(sample.column), str(sample.row)]
        own = " ".join(f"{value:.6g}" for value in sample.master.samples)
        lines.append("\t".join([*where, "master", own, f"{sample.master.luminance:.5g}", _hue(sample.master.hue), ""]))
        for name, reading in sample.renditions:
            codes = " ".join(map(str, reading.codes)) if reading.codes else ""
            difference = "" if reading.difference is None else f"{reading.difference:.3f}"
            lines.append("\t".join([*where, name, codes, f"{reading.luminance:.5g}", _hue(reading.hue), difference]))
    return "\n".join(lines) + "\n"


def _hue(hue: float | None) -> str:
    return "" if hue is None else f"{hue:.1f}"
