"""The bench without its screen: the state, what follows from it, and the actions that panels and keys call.

No GL and no imgui, so that all of it can be driven by a test or a script.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from tonemap.encoding import sdr_target
from tonemap.errors import TrimbenchError
from tonemap.host import Host
from tonemap.measure.patches import PatchFigures
from tonemap.media.wishes import EncodingWishes
from tonemap.operator import Statistics
from tonemap.picture import Picture
from tonemap.picture_colours import MONITOR, PictureColours, monitor_colours, picture_colours
from tonemap.rendition import Rendition
from tonemap.trim_sheet import TrimSheet

from ..settings_file import SettingsFile
from . import state as actions
from .feed import Feed
from .histogram import Histogram, luminance_histogram
from .jobs import Queue
from .kept import Notice
from .layout import Placement
from .line_up import LineUp
from .marked import PatchReadings, RenditionOfPatch
from .moving import Moving
from .on_sheet import reentered
from .operators import with_allowed_values
from .presenting import Presenting
from .probe import MasterReading, RenditionReading, Sample, read_master, read_rendition
from .scopes import Scopes
from .showing import DIFFERENCE, PICTURE, Key, Line
from .state import Slot
from .view_file import of_scopes, with_scopes_of
from .workings import Working, Workings


@dataclass
class Shown:
    """What of the interface is open; none of it belongs to the work."""

    panel: bool = True
    help: bool = False
    files: bool = False
    handing: bool = False  # the sheet from which everything is handed on
    saving: bool = False  # the sheet where a name for the trim sheet is typed
    monitor: bool = False  # the sheet where it is said what the screen is
    size: float = 1.0  # of the interface, relative to what the system wants
    timeline: bool = True
    turned: float = 0.0  # of the wheel, what is no whole step yet
    is_naming: bool = False
    is_marking: bool = False  # the next drag on a picture draws a patch, and clicks its corners
    corners: tuple[tuple[float, float], ...] = ()  # of the polygon that is being drawn
    samples: bool = False
    is_other: bool = False  # a flip shows its second picture, as long as a hand holds it
    unfolded: set[str] = field(default_factory=set)
    scopes: Scopes = field(default_factory=Scopes)


class Bench(Feed):
    """The state with its trim sheet and one notice, and everything that is computed from it."""

    def __init__(
        self, host: Host, renditions: Sequence[Rendition], wishes: EncodingWishes, folder: Path | None = None
    ) -> None:
        super().__init__(host, renditions, wishes, folder)
        self.shown = Shown()
        self.jobs = Queue(self.stir)
        self.line_up = LineUp()
        self.presenting = Presenting()
        self.samples: list[Sample] = []
        self.moving = Moving()
        self.settings: SettingsFile | None = None
        self.framebuffer_bits: int | None = None
        self.placement = Placement(1.0, 0, 0)
        self.drawing_faults: dict[int, str] = {}
        self.workings = Workings(host)
        self.patch_readings = PatchReadings()
        self._histogram: tuple[Picture, Histogram] | None = None
        self._readings: dict[int, tuple[object, Picture, RenditionReading | str]] = {}
        self._told: set[object] = set()
        self._removed: TrimSheet | None = None

    @property
    def is_presented(self) -> bool:
        """Whether a client looks at the pictures in this window."""
        return self.presenting.is_on

    def standing(self) -> dict[str, Any]:
        """Return where the bench stands, with its scopes."""
        return {**super().standing(), "scopes": of_scopes(self.shown.scopes, self.state)}

    def stand_again(self, stood: Any) -> None:
        """Open the scopes that were open."""
        if isinstance(stood, dict):
            self.shown.scopes = with_scopes_of(self.shown.scopes, self.state, stood.get("scopes"))

    def take_operators(self, changed: Iterable[Path]) -> None:
        """Take up operators whose files were saved; values that they no longer allow go, and are said in the strip."""
        self.host = self.workings.host = self.host.refreshed(changed)
        told: list[str] = []
        for slot in self.state.slots:
            rendition, sentences = with_allowed_values(slot.rendition, self.host)
            if sentences:
                self.do(actions.with_rendition, slot.key, rendition)
                told += sentences
        self.do(reentered, self.host)
        self._readings = {}
        if told:
            self.notice = None
            self.say(told)

    def show(self, **changes: Any) -> None:
        """Change how the pictures are shown: `Showing`'s attributes by name."""
        before = self.state.showing
        self.do(actions.with_showing, replace(before, **changes))
        if (self.state.showing.line, self.state.showing.layout) != (before.line, before.layout):
            self.moving.stop()

    @property
    def line(self) -> Line:
        """Where the line of a wipe is in this frame."""
        return self.moving.line(self.state.showing)

    @property
    def seconds_to_next(self) -> float:
        """How long it is until another frame is due, or a line that moves; infinite where none is."""
        return min(super().seconds_to_next, self.moving.seconds_to_next(self.state.showing))

    def remove(self, key: int) -> None:
        """Take a rendition off the bench, and offer to put it back."""
        before = self.state
        name = before.slot(key).rendition.name
        if self.do(actions.remove, key):
            self.notice = Notice(f"'{name}' is off the bench", before)
            self._removed = self.keeping.work.history.state

    def put_back(self) -> None:
        """Undo the removal that the strip tells of."""
        notice, self.notice = self.notice or Notice(""), None
        before = notice.before
        self.say(notice.text.splitlines()[1:])  # what else is said stays
        if before is not None and self.keeping.work.history.state is self._removed:
            self.undo()  # nothing has come since: with all that the removal took along
        elif before is not None:
            self.do(actions.put_back, before)

    def set(self, path: str, value: Any) -> bool:
        """Change a setting of the selected rendition."""
        return self.do(actions.set_setting, self.state.selected, path, value, self.host)

    def match_grey(self, key: int, other: int) -> None:
        """Set the exposure of a rendition so that its grey lands where another has it."""
        workings = [self.working(self.state.slot(each)) for each in (key, other)]
        if any(working is not None and working.is_measuring for working in workings):
            self.notice = Notice("the shot is still being measured for an operator; match the grey when that is done")
            return
        measured = [
            working.statistics for working in workings if working and isinstance(working.statistics, Statistics)
        ]
        self.do(actions.match_grey, key, other, self.host, next(iter(measured), None))

    def colours(self, key: Key) -> PictureColours | None:
        """Return the colours that are shown in place of a picture; None when the picture is shown."""
        showing, master, selected = self.state.showing, self.state.master, self.state.selected_slot
        if showing.view == PICTURE or showing.layout == DIFFERENCE or master is None:
            return None
        encoding = master.encoding if key is None else self.state.slot(key).rendition.target
        monitor = self.state.monitor
        if showing.view == MONITOR:
            peak = monitor.peak if monitor.is_pq else self.state.window if key is None else encoding.peak
            return monitor_colours(monitor.primaries, peak)
        target_peak = selected.rendition.target.peak if selected else sdr_target().peak
        return picture_colours(showing.view, encoding, target_peak, monitor.peak if monitor.is_pq else None)

    def patch_of_master(self) -> PatchFigures | str | None:
        """Return the chosen patch's figures on the master, or why there are none; None without a chosen patch."""
        patch, pixels = self.state.chosen_patch, self.pixels
        if patch is None or pixels is None:
            return None
        try:
            return self.patch_readings.of_master(pixels, patch)
        except TrimbenchError as fault:
            return str(fault)

    def patch_of_rendition(self, slot: Slot) -> RenditionOfPatch | str | None:
        """Return the chosen patch's figures on a rendition, or why there are none; None without a chosen patch."""
        patch, working, pixels = self.state.chosen_patch, self.working(slot), self.pixels
        if patch is None or working is None or working.chain is None or pixels is None:
            return None
        try:
            return self.patch_readings.of_rendition(slot.key, pixels, patch, working.chain)
        except TrimbenchError as fault:
            return str(fault)

    def working(self, slot: Slot) -> Working | None:
        """Return the working of a slot; None while there is no master."""
        master = self.state.master
        if master is None:
            return None
        working = self.workings.of(slot, master, self.statistics)
        for sentence in self.host.notices:
            self._tell_once(sentence, sentence)
        if working.notice is not None:
            self._tell_once(working.operators, working.notice)
        return working

    def _tell_once(self, what: object, sentence: str) -> None:
        """Say in the strip what is slow, as soon as nothing else stands there; until it is saved anew, once."""
        if self.notice is None and what not in self._told:
            self._told.add(what)
            self.notice = Notice(sentence)

    def fault(self, slot: Slot) -> str | None:
        """Return the sentence about why a rendition can't be shown."""
        working = self.working(slot)
        return (working.fault if working else None) or self.drawing_faults.get(slot.key)

    @property
    def histogram(self) -> Histogram | None:
        """The histogram of the master's luminance, counted once a frame; None while frames pass."""
        pixels = self.pixels
        if pixels is None:
            return None
        if self._histogram is None or self._histogram[0] is not pixels:
            self._histogram = pixels, luminance_histogram(pixels)
        return self._histogram[1]

    def master_reading(self) -> MasterReading | None:
        """Read the master under the pointer."""
        pixels = self.pixels
        return None if pixels is None or self.pointed is None else read_master(pixels, *self.pointed)

    def reading(self, slot: Slot) -> RenditionReading | str | None:
        """Read a rendition under the pointer, or say why it can't be; None when the pointer is on no picture."""
        working, pixels = self.working(slot), self.pixels
        if pixels is None or self.pointed is None or working is None or working.chain is None:
            return None
        asked = (working, self.pointed)
        known = self._readings.get(slot.key)
        if known is None or known[0] != asked or known[1] is not pixels:
            reading: RenditionReading | str
            try:
                reading = read_rendition(pixels, working.chain, *self.pointed)
            except Exception as fault:  # an author's operator that fails costs only its own tile
                reading = f"the operator fails at this pixel: {type(fault).__name__}: {fault}"
            known = self._readings[slot.key] = asked, pixels, reading
        return known[2]
