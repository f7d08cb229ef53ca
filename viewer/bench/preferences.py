"""What the bench believes of the screen and how large its interface is: chosen once, and kept. Plain Python."""

from dataclasses import replace

from tonemap.errors import TrimbenchError
from tonemap.monitor import BRIGHT, Monitor

from ..settings_file import SettingsFile
from . import state as actions
from .bench import Bench
from .kept import Notice
from .screens import Screen

MONITOR, INTERFACE = "monitor", "interface"
SIZES = (0.75, 0.875, 1.0, 1.125, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0)
"""Sizes of the interface, relative to what the system wants."""

MOST_RESETS = 3

CAUTION = (
    "A screen of more than {peak:g} cd/m\u00b2 can strain or hurt eyes, in a dark room above all: follow the monitor's "
    "own manual and the practice of your house."
)


def use_settings(bench: Bench, settings: SettingsFile) -> None:
    """Take up what was kept; what the screen is gets asked when nobody has said it, or when it can't be read."""
    bench.settings = settings
    try:
        kept = settings.table(MONITOR)
        monitor = Monitor.from_dict(kept) if kept else None
        size = settings.table(INTERFACE).get("size", 1.0)
        if isinstance(size, bool) or not isinstance(size, (int, float)) or not SIZES[0] <= size <= SIZES[-1]:
            raise TrimbenchError(f"{settings.path}: interface: size = {size} is outside {SIZES[0]:g}..{SIZES[-1]:g}")
    except TrimbenchError as fault:
        bench.notice = Notice(str(fault))
        monitor, size = None, 1.0
    bench.shown = replace(bench.shown, size=float(size), monitor=monitor is None)
    if monitor is not None:
        bench.do(actions.with_monitor, monitor)


def use_monitor(bench: Bench, monitor: Monitor) -> None:
    """Draw for another monitor from now on, and keep it; what the window can't do for it is said."""
    if bench.do(actions.with_monitor, monitor):
        bench.notice = None
        _keep(bench, MONITOR, monitor.to_dict())
        tell_bits(bench)


def tell_bits(bench: Bench) -> None:
    """Say it when the window has fewer bits than the monitor."""
    monitor, bits = bench.state.monitor, bench.framebuffer_bits
    if bits is not None and bits < monitor.bits and bench.notice is None:
        shows = "steps show in smooth parts (banding)"
        bench.notice = Notice(f"the window has {bits} bits a channel, and the monitor {monitor.bits}: {shows}")


def tell_screen(bench: Bench, former: Screen, now: Screen, is_gone: bool) -> None:
    """Say that the window lies on another screen, or its screen is in another mode: the description may be wrong."""
    if (former.name, former.place) == (now.name, now.place):
        width, height, bits, rate = now.mode
        how = f"{now.name} is in another mode now, {width} \u00d7 {height}, {bits} bits, {rate} Hz"
    elif is_gone:
        how = f"{former.name} is gone, and the window is on {now.name}"
    else:
        how = f"the window went from {former.name} to {now.name}"
    bench.notice = Notice(
        f"{how}; the bench still draws for {bench.state.monitor.title}; say with F2 what this screen is"
    )


def tell_reset(bench: Bench, count: int) -> None:
    """Say that the bench is drawn anew after the card was reset; raises TrimbenchError when that goes on and on."""
    if count > MOST_RESETS:
        words = f"the graphics card or its driver was reset {count} times; the work is kept"
        raise TrimbenchError(f"{words}, see to the driver before you go on")
    bench.notice = Notice("the graphics card or its driver was reset; the bench is drawn anew, and nothing is lost")


def step_size(bench: Bench, step: int) -> None:
    """Make the interface larger or smaller, or with 0 as large as the system wants it, and keep that."""
    nearest = min(range(len(SIZES)), key=lambda index: abs(SIZES[index] - bench.shown.size))
    size = SIZES[min(max(nearest + step, 0), len(SIZES) - 1)] if step else 1.0
    bench.shown = replace(bench.shown, size=size)
    _keep(bench, INTERFACE, {"size": size})


def caution(monitor: Monitor, now: Monitor) -> str | None:
    """Return what to say before a monitor is used: nothing unless it becomes brighter in PQ than it is now."""
    if not monitor.is_pq or monitor.peak <= BRIGHT or (now.is_pq and now.peak >= monitor.peak):
        return None
    return CAUTION.format(peak=BRIGHT)


def _keep(bench: Bench, table: str, values: dict[str, object]) -> None:
    if bench.settings is None:
        return
    try:
        bench.settings.keep(table, values)
    except TrimbenchError as fault:
        bench.notice = Notice(str(fault))
