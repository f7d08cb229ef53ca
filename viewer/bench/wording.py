"""What the tiles' captions and readings say, each in several wordings from long to short. Plain Python."""

from collections.abc import Callable, Sequence

from tonemap.colorimetry import primaries_named
from tonemap.measure.patches import KINDS, Patch, PatchFigures
from tonemap.measure.reference_levels import reference_levels
from tonemap.monitor import Monitor
from tonemap.picture_colours import MONITOR

from .marked import RenditionOfPatch
from .probe import MasterReading, RenditionReading
from .showing import COLOURS, DIFFERENCE, PICTURE
from .state import BenchState
from .workings import Working

NITS = "cd/m\u00b2"
ANCHOR_NAMES = {"grey": "18 % grey", "white": "white", "peak": "peak"}


def common_wording(texts: Sequence[Sequence[str]], does_fit: Callable[[str], bool]) -> int:
    """Return the number of the first wording that fits for all texts, so that tiles side by side read alike."""
    count = min((len(wordings) for wordings in texts), default=1)
    fitting = (index for index in range(count) if all(does_fit(wordings[index]) for wordings in texts))
    return next(fitting, count - 1)


def window_words(state: BenchState) -> list[str]:
    """Say what the monitor shows of the master: its light, or colours in place of all of it."""
    window, monitor = state.window, state.monitor
    master = state.master
    if is_coloured(state):
        title = COLOURS[state.showing.view][0].lower()
        return [f"its {title} in colours, at every level", f"{title} in colours"]
    if master is not None and master.encoding.peak <= monitor.peak:
        return ["all of its light, as is", "as is"]
    if monitor.is_pq or window == monitor.peak:
        top = f"{monitor.peak:g} {NITS}"
        return [
            f"light up to {top} as is, clipped above",
            f"as is to {top}, then clipped",
            f"clipped at {top}",
            "clipped",
        ]
    share = f"{monitor.peak / window * 100.0:.3g} %"
    return [
        f"light up to {window:.4g} {NITS}, shown at {share}, clipped above",
        f"to {window:.4g} {NITS}, at {share}, then clipped",
        f"clipped at {window:.4g} {NITS}",
        "clipped",
    ]


def is_coloured(state: BenchState) -> bool:
    """Say whether colours stand in place of the pictures that tell of all their light, whatever the monitor shows."""
    return state.showing.view not in (PICTURE, MONITOR) and state.showing.layout != DIFFERENCE


def monitor_words(monitor: Monitor, bits: int) -> list[str]:
    """Say what the bench believes the screen to be, and where the window has fewer bits than it."""
    known = f"{monitor.bits} bits" if bits >= monitor.bits else f"only {bits} of {monitor.bits} bits"
    if monitor.is_pq and bits < monitor.bits:
        known += ": banding"
    primaries = primaries_named(monitor.primaries).title
    signal = "PQ to" if monitor.is_pq else "SDR"
    return [
        f"{monitor.title}, {known}",
        f"{signal} {monitor.peak:g} {NITS}, {primaries}, {known}",
        f"{signal} {monitor.peak:g}, {known}",
        f"{signal} {monitor.peak:g}, {min(bits, monitor.bits)} bits",
    ]


def anchor_words(working: Working) -> list[str]:
    """Say where a rendition puts grey, white and the master's peak; with less room, in light alone."""
    landings = [(ANCHOR_NAMES[item.name], item.nits, 100.0 * item.signal) for item in working.anchors]
    short = [f"{name.split()[-1]} {nits:.3g}" for name, nits, _ in landings]
    return [
        "     ".join(f"{name} {nits:.3g} {NITS}, {signal:.1f} %" for name, nits, signal in landings),
        "    ".join(f"{name} {nits:.3g} {NITS}, {signal:.0f} %" for name, nits, signal in landings),
        "    ".join(f"{name.split()[-1]} {nits:.3g} {NITS}, {signal:.0f} %" for name, nits, signal in landings),
        f"{'   '.join(short)} {NITS}",
        "   ".join(short),
        "  ".join(short[:2]),
        short[0],
    ]


def master_readings(reading: MasterReading) -> tuple[str, ...]:
    """Say what the master is at a pixel; samples that are the light itself are said once."""
    red, green, blue = (_nits(value) for value in reading.light)
    level = _nits(reading.luminance)
    hue = hue_words(reading.hue)
    if reading.are_light:
        return (
            f"R {red}  G {green}  B {blue}   Y {level} {NITS}     {hue}",
            f"R {red} G {green} B {blue}  Y {level}  {hue}",
            f"R {red} G {green} B {blue}  Y {level}",
            f"Y {level} {NITS}",
        )
    samples = " ".join(f"{value:.0f}" if reading.are_codes else f"{value:.4g}" for value in reading.samples)
    own = f"{'codes' if reading.are_codes else 'values'} {samples}"
    return (
        f"R {red}  G {green}  B {blue}   Y {level} {NITS}     {own}     {hue}",
        f"R {red}  G {green}  B {blue}   Y {level}    {own}    {hue}",
        f"R {red}  G {green}  B {blue}   Y {level} {NITS}     {own}",
        f"R {red}  G {green}  B {blue}   Y {level}    {own}",
        f"R {red} G {green} B {blue}  Y {level}  {hue}",
        f"R {red} G {green} B {blue}  Y {level}",
        f"{samples}   Y {level}",
        f"Y {level} {NITS}",
    )


def hue_words(hue: float | None) -> str:
    """Say a hue; a grey has none."""
    return "no hue" if hue is None else f"hue {hue:.0f}\u00b0"


def rendition_readings(reading: RenditionReading, chosen: RenditionReading | None = None) -> tuple[str, ...]:
    """Say what a rendition is at a pixel; `chosen` is the reading of the one that the panel shows, where another."""
    level = _nits(reading.luminance)
    signal = " ".join(f"{100.0 * value:.1f}" for value in reading.signal)
    codes = " ".join(f"{code}" for code in reading.codes) if reading.codes else "none"
    hue = hue_words(reading.hue)
    to_master = "master above SDR" if reading.difference is None else f"\u0394E {reading.difference:.1f} to master"
    to_both = to_master if chosen is None else f"{to_master}, {reading.difference_from(chosen):.1f} to chosen"
    short = "\u0394E \u2013" if reading.difference is None else f"\u0394E {reading.difference:.1f}"
    return (
        f"codes {codes}     signal {signal} %     Y {level} {NITS}     {hue}     {to_both}",
        f"codes {codes}    {signal} %    Y {level} {NITS}    {hue}    {to_both}",
        f"{codes}    Y {level} {NITS}    {hue}    {to_both}",
        f"{codes}   Y {level}   {hue}   {to_both}",
        f"{codes}   Y {level}   {hue}   {to_master}",
        f"{codes}   Y {level}   {hue}   {short}",
        f"{codes}   Y {level}   {short}",
        f"{codes}   Y {level}",
        f"Y {level}",
    )


def master_patch_words(patch: Patch, figures: PatchFigures) -> tuple[str, ...]:
    """Say what the chosen patch is on the master."""
    low, middle, high = (_nits(figures.nits[name]) for name in ("p5", "p50", "p95"))
    hue = "" if figures.hue is None else f"     hue {figures.hue:.0f}\u00b0"
    levels = [item for item in reference_levels(patch.kind) if item.nits is not None]
    bands = ", ".join(f"{item.title} {item.nits[0]:g} to {item.nits[1]:g}" for item in levels if item.nits)
    shown = f"{patch.name}, {KINDS[patch.kind]}:  {middle} {NITS}, 5 to 95 %: {low} to {high}"
    return (
        f"{shown}{hue}" + (f"     BT.2408: {bands}" if bands else ""),
        f"{shown}{hue}",
        f"{patch.name}:  {middle} {NITS}, {low} to {high}",
        f"{middle} {NITS}",
    )


def patch_words(found: RenditionOfPatch) -> tuple[str, ...]:
    """Say what a rendition makes of the chosen patch: its level and its roll-off."""
    figures, roll = found.figures, found.roll_off
    level = f"{_nits(figures.nits['p50'])} {NITS}"
    slope = "" if roll.slope_median is None else f"contrast {roll.slope_median:z.2f}"
    top = "" if roll.slope_p95 is None else f", at its top {roll.slope_p95:z.2f}"
    hue = "" if roll.hue_shift is None else f"hue {roll.hue_shift:+z.1f}\u00b0"
    chroma = "" if roll.chroma_kept is None else f"chroma {100.0 * roll.chroma_kept:.0f} %"
    stops = "no shoulder" if roll.shoulder_stops is None else f"shoulder {roll.shoulder_stops:.1f} stops above"
    signal = f"{figures.signal_percent['p50']:.0f} %"
    return (
        "     ".join(part for part in (f"{level}, {signal}", slope + top, stops, hue, chroma) if part),
        "    ".join(part for part in (level, slope + top, hue, chroma) if part),
        "   ".join(part for part in (level, slope, hue, chroma) if part),
        "   ".join(part for part in (level, slope) if part),
        level,
    )


def _nits(value: float) -> str:
    return f"{value:.1f}" if value >= 100.0 else f"{value:.2f}" if value >= 1.0 else f"{value:.4f}"


def all_anchors(working: Working) -> str:
    """Say the anchors in full, a line each."""
    return "\n".join(
        f"{ANCHOR_NAMES[item.name]}: {item.master:g} to {item.nits:.4g} {NITS}, signal {100.0 * item.signal:.1f} %"
        for item in working.anchors
    )
