"""What the tiles' captions and readings say, each in several wordings from long to short. Plain Python."""

from collections.abc import Callable, Sequence

from .probe import MasterReading, RenditionReading
from .state import SCREEN, BenchState
from .workings import Working

NITS = "cd/m\u00b2"
ANCHOR_NAMES = {"grey": "18 % grey", "white": "white", "peak": "peak"}


def common_wording(texts: Sequence[Sequence[str]], does_fit: Callable[[str], bool]) -> int:
    """Return the number of the first wording that fits for all texts, so that tiles side by side read alike."""
    count = min((len(wordings) for wordings in texts), default=1)
    fitting = (index for index in range(count) if all(does_fit(wordings[index]) for wordings in texts))
    return next(fitting, count - 1)


def window_words(state: BenchState) -> list[str]:
    """Say what the SDR screen shows of the master."""
    window = state.window
    master = state.master
    if master is not None and master.picture.encoding.peak <= SCREEN.peak:
        return ["all of its light, as is", "as is"]
    if window == SCREEN.peak:
        return [f"light up to {window:g} {NITS} as is, clipped above", f"as is to {window:g} {NITS}, then clipped"]
    share = f"{SCREEN.peak / window * 100.0:.3g} %"
    return [
        f"light up to {window:.4g} {NITS}, shown at {share}, clipped above",
        f"to {window:.4g} {NITS}, at {share}, then clipped",
    ]


def anchor_words(working: Working) -> list[str]:
    """Say where a rendition puts grey, white and the master's peak."""
    landings = [(ANCHOR_NAMES[item.name], item.nits, 100.0 * item.signal) for item in working.anchors]
    return [
        "     ".join(f"{name} {nits:.3g} {NITS}, {signal:.1f} %" for name, nits, signal in landings),
        "    ".join(f"{name} {nits:.3g} {NITS}, {signal:.0f} %" for name, nits, signal in landings),
        "    ".join(f"{name} {nits:.3g} · {signal:.0f} %" for name, nits, signal in landings),
        "   ".join(f"{name.split()[-1]} {nits:.3g} · {signal:.0f} %" for name, nits, signal in landings),
        "  ".join(f"{name.split()[-1]} {nits:.3g}/{signal:.0f}%" for name, nits, signal in landings),
        "  ".join(f"{name.split()[-1][0]} {nits:.3g}/{signal:.0f}%" for name, nits, signal in landings),
        "  ".join(f"{name.split()[-1]} {nits:.3g}/{signal:.0f}%" for name, nits, signal in landings[:2]),
    ]


def master_readings(reading: MasterReading) -> tuple[str, ...]:
    """Say what the master is at a pixel."""
    red, green, blue = (_nits(value) for value in reading.light)
    level = _nits(reading.luminance)
    samples = " ".join(f"{value:.0f}" if reading.are_codes else f"{value:.4g}" for value in reading.samples)
    own = f"{'codes' if reading.are_codes else 'values'} {samples}"
    return (
        f"R {red}  G {green}  B {blue}   Y {level} {NITS}     {own}",
        f"R {red}  G {green}  B {blue}   Y {level}    {own}",
        f"R {red} G {green} B {blue}  Y {level}",
        f"{samples}   Y {level}",
        f"Y {level} {NITS}",
    )


def rendition_readings(reading: RenditionReading) -> tuple[str, ...]:
    """Say what a rendition is at a pixel."""
    level = _nits(reading.luminance)
    signal = " ".join(f"{100.0 * value:.1f}" for value in reading.signal)
    codes = " ".join(f"{code}" for code in reading.codes) if reading.codes else "none"
    return (
        f"codes {codes}     signal {signal} %     Y {level} {NITS}",
        f"codes {codes}    {signal} %    Y {level} {NITS}",
        f"{codes}   {signal} %   Y {level}",
        f"{codes}   Y {level}",
        f"Y {level}",
    )


def _nits(value: float) -> str:
    return f"{value:.1f}" if value >= 100.0 else f"{value:.2f}" if value >= 1.0 else f"{value:.4f}"


def all_anchors(working: Working) -> str:
    """Say the anchors in full, a line each."""
    return "\n".join(
        f"{ANCHOR_NAMES[item.name]}: {item.master:g} to {item.nits:.4g} {NITS}, signal {100.0 * item.signal:.1f} %"
        for item in working.anchors
    )
