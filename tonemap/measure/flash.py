"""Flash caution: sequences that may trouble people with photosensitive epilepsy. A hint, never a certificate.

Thresholds of general flashes are those of Recommendation ITU-R BT.1702-3 (11/2023). For saturated red, for which we
know no threshold in that document, those of WCAG 2.2 after ISO 9241-391 are taken; the question is unsettled.
"""

from collections import deque
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..arrays import Array
from ..encoding import Encoding
from ..errors import TrimbenchError, WrongCall
from ..scaling import area_average
from .flash_changes import LuminanceChanges, RedChanges

CAUTION = (
    "Possible flashing; have it checked by a certified method. This is a caution, not a certificate: delivery needs "
    "the authorised test of the territory."
)
NOTHING_FOUND = (
    "No flashing above the thresholds was found. This is no certificate: delivery needs the authorised test of the "
    "territory."
)

COUNTED = (
    "A span is the frames at which the second that ends there holds more than three flashes, a flash being a change up "
    "and one down; the flashing itself begins up to a second before the span."
)

GRID = (36, 64)  # the coarse picture: its cells are averages of light over 1/36 of the height and 1/64 of the width
AREA_LIMIT = 0.25  # share of the screen; BT.1702-3
CHANGES_LIMIT = 6  # three flashes, each an opposing pair of changes, within any second; BT.1702-3
MOST_SPANS = 200  # further ones are only counted

SDR_WHITE_NITS = 200.0  # BT.1702-3 judges SDR on a display with this white
HLG_PEAK_NITS = 1000.0
KINDS = ("general", "red")


def reference_display(encoding: Encoding) -> Encoding:
    """Return the encoding on the display on which BT.1702-3 judges it: SDR white at 200 cd/m2, HLG at 1000.

    Examples
    --------
    >>> from tonemap.encoding import sdr_target
    >>> reference_display(sdr_target()).peak
    200.0
    """
    if encoding.transfer in ("pq", "linear"):
        return encoding
    return replace(encoding, peak=HLG_PEAK_NITS if encoding.transfer == "hlg" else SDR_WHITE_NITS, black=0.0)


@dataclass(frozen=True)
class FlashSpan:
    """Consecutive frames with flashing above the thresholds within the second that ends there.

    Attributes
    ----------
    kind : 'general' or 'red'
    first_frame, last_frame : counted from 0, the first frame added
    start, end : the same in seconds
    area : the largest share of the screen that flashed, 0..1
    flashes : the most flashes within a second
    """

    kind: str
    first_frame: int
    last_frame: int
    start: float
    end: float
    area: float
    flashes: float


@dataclass(frozen=True)
class FlashReport:
    """What a sequence was found to hold.

    Attributes
    ----------
    spans : in order of their end; `further_spans` says how many more were found than are listed
    sentence : what a report must say beside the figures
    """

    frames: int
    rate: float
    spans: tuple[FlashSpan, ...]
    further_spans: int
    sentence: str

    @property
    def is_flagged(self) -> bool:
        """Whether flashing above the thresholds was found."""
        return bool(self.spans)


class FlashMeter:
    """Watches a sequence frame by frame, in constant memory.

    A cell of the coarse picture counts as flashing when it made more than six changes within a second; so does the
    whole screen when changes that cover more than a quarter of it at once, up and down in turn, are more than six. The
    second finds flashes that wander, the first those that don't reach all cells in the same frame.

    Parameters
    ----------
    rate : frames a second
    """

    def __init__(self, rate: float) -> None:
        if not 1.0 <= rate <= 1000.0:
            raise WrongCall(f"rate = {rate:g} is outside 1..1000 frames a second; give the rate of the sequence")
        self.rate = rate
        self.frames = 0
        self.changes: dict[str, LuminanceChanges | RedChanges] = {"general": LuminanceChanges(), "red": RedChanges()}
        self.recent: dict[str, deque[tuple[int, list[int]]]] = {kind: deque() for kind in KINDS}
        self.screen: dict[str, deque[tuple[int, int]]] = {kind: deque() for kind in KINDS}
        self.counts = {kind: np.zeros(GRID[0] * GRID[1], np.int64) for kind in KINDS}
        self.spans: list[FlashSpan] = []
        self.further = 0
        self.open: dict[str, FlashSpan | None] = dict.fromkeys(KINDS)

    def add(self, light: Array) -> None:
        """Add the next frame: BT.2020 light (rows, columns, 3) in cd/m2, of the display of `reference_display`."""
        rows, columns = light.shape[:2]
        grid = (min(GRID[0], rows), min(GRID[1], columns))
        coarse = light
        if grid != (rows, columns):
            coarse = area_average(lambda first, last: light[first:last], (rows, columns), grid)
        if grid != GRID:  # a picture of fewer pixels than cells: each pixel stands for its share of them
            down, across = (np.arange(size) * have // size for size, have in zip(GRID, grid, strict=True))
            coarse = coarse[down][:, across]
        cells = coarse.reshape(-1, 3).astype(np.float64)
        for kind in KINDS:
            self._count(kind, self.changes[kind].step(cells))
        self.frames += 1

    def skip(self) -> None:
        """Let the time of one unreadable frame pass."""
        for kind in KINDS:
            self._count(kind, np.zeros(GRID[0] * GRID[1], np.int64))
        self.frames += 1

    def report(self) -> FlashReport:
        """Return what was found up to now; more frames may follow."""
        spans = sorted([*self.spans, *(span for span in self.open.values() if span)], key=lambda span: span.last_frame)
        return FlashReport(self.frames, self.rate, tuple(spans), self.further, CAUTION if spans else NOTHING_FOUND)

    def _count(self, kind: str, directions: np.ndarray) -> None:
        """Take one frame's changes, +1 or -1 a cell, and say whether the second that ends here is above the limits."""
        now, counts, recent, screen = self.frames, self.counts[kind], self.recent[kind], self.screen[kind]
        oldest = now - self.rate + 1e-6  # frames up to here are a second or more ago
        while recent and recent[0][0] <= oldest:
            counts[recent.popleft()[1]] -= 1
        while screen and screen[0][0] <= oldest:
            screen.popleft()
        changed = np.flatnonzero(directions)
        if changed.size:
            recent.append((now, changed.tolist()))
            counts[changed] += 1
        up, down = float((directions > 0).mean()), float((directions < 0).mean())
        last = screen[-1][1] if screen else 0
        direction = -last if up == down and last else (1 if up >= down else -1)
        together = up if direction > 0 else down
        if together > AREA_LIMIT and direction != last:
            screen.append((now, direction))

        area = float((counts > CHANGES_LIMIT).mean())
        flashes = 0.0
        if area > AREA_LIMIT:  # the number that more than a quarter of the screen reached
            flashes = float(np.sort(counts)[-int(AREA_LIMIT * counts.size) - 1]) / 2.0
        if len(screen) > CHANGES_LIMIT:
            area, flashes = max(area, together), max(flashes, len(screen) / 2.0)
        self._note(kind, now, area, flashes)

    def _note(self, kind: str, now: int, area: float, flashes: float) -> None:
        span = self.open[kind]
        if flashes > 0.0:
            at = now / self.rate
            if span is None:
                self.open[kind] = FlashSpan(kind, now, now, at, at, area, flashes)
            else:
                most = max(span.flashes, flashes)
                self.open[kind] = replace(span, last_frame=now, end=at, area=max(span.area, area), flashes=most)
        elif span is not None:
            self.open[kind] = None
            if len(self.spans) < MOST_SPANS:
                self.spans.append(span)
            else:
                self.further += 1

    def to_dict(self) -> dict[str, Any]:
        """Return all that is needed to go on later, as plain numbers, texts and lists."""
        return {
            "rate": self.rate,
            "frames": self.frames,
            "changes": {kind: changes.to_dict() for kind, changes in self.changes.items()},
            "recent": {kind: [[frame, cells] for frame, cells in queue] for kind, queue in self.recent.items()},
            "screen": {kind: [list(pair) for pair in queue] for kind, queue in self.screen.items()},
            "spans": [vars(span) for span in self.spans],
            "further": self.further,
            "open": {kind: vars(span) if span else None for kind, span in self.open.items()},
        }

    @classmethod
    def from_dict(cls, entries: dict[str, Any]) -> "FlashMeter":
        """Return a meter that goes on where `to_dict` left off; raises TrimbenchError for other entries."""
        try:
            meter = cls(float(entries["rate"]))
            meter.frames = int(entries["frames"])
            meter.further = int(entries["further"])
            meter.spans = [FlashSpan(**span) for span in entries["spans"]]
            for kind in KINDS:
                meter.changes[kind].take(entries["changes"][kind])
                meter.recent[kind] = deque((int(frame), list(cells)) for frame, cells in entries["recent"][kind])
                meter.screen[kind] = deque((int(frame), int(way)) for frame, way in entries["screen"][kind])
                for _, cells in meter.recent[kind]:
                    meter.counts[kind][cells] += 1
                span = entries["open"][kind]
                meter.open[kind] = FlashSpan(**span) if span else None
        except (KeyError, TypeError, ValueError, IndexError) as fault:
            raise TrimbenchError(f"the flash meter's saved state is not readable ({fault!r}); start again") from None
        return meter
