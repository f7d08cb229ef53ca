"""The pictures on a surface: laid out, drawn where something changed, and copied to the page; or a line-up pattern."""

from collections.abc import Callable

from tonemap.encoding import Encoding
from tonemap.errors import TrimbenchError

from . import line_up, theme
from .bench import Bench
from .kept import Notice
from .layout import Placement, Rect, place
from .page import Page
from .panes import Pane, panes
from .pattern import PatternPicture
from .showing import Key
from .state import Master
from .surface import Surface
from .tiles import Tiles

EMPTY_ASPECT = 16.0 / 9.0

REFINING = 0.025
"""Seconds of a frame that go to exact means while nothing changes."""


class Stage:
    """Draws the pictures of a bench; needs the surface's context to be current.

    Parameters
    ----------
    refuse : what is done with the sentence about a master that the card can't take

    Attributes
    ----------
    picture_size, placement : of a tile's picture in pixels, and where the master's picture lies on it
    faults : the sentences of renditions that can't be drawn, by their keys
    is_settled : whether what was just drawn is all there is to say; else another frame follows
    """

    def __init__(self, bench: Bench, surface: Surface, refuse: Callable[[str], None]) -> None:
        self.bench, self.surface = bench, surface
        self.tiles = Tiles()
        self.pattern = PatternPicture(self.tiles.programs)
        self.page = Page(self.tiles.programs, surface)
        self.picture_size = (1, 1)
        self.placement = Placement(1.0, 0, 0)
        self.faults: dict[int, str] = {}
        self.is_settled = True
        self._refuse = refuse
        self._master: Master | None = None

    def lay_out(self, area: Rect, em: float, unit: float) -> tuple[Pane, ...]:
        """Place the tiles, and the view on them; without words where `em` is 0."""
        state = self.bench.state
        master = state.master
        aspect = master.facts.columns / master.facts.rows if master else EMPTY_ASPECT
        keys = state.keys if master else (None,)  # without a master there is one place, that says so
        laid = panes(state.showing, keys, self.bench.shown.is_other, area, em, min(max(aspect, 0.2), 5.0))
        picture = laid[0].tile.picture.scaled(unit)  # all have the same size
        self.picture_size = picture.width, picture.height
        if master is not None:
            self.placement = place(state.view, master.facts.columns, master.facts.rows, *self.picture_size)
        return laid

    def render(self, laid: tuple[Pane, ...]) -> set[Key]:
        """Draw the pictures that are shown where something changed; returns the keys of those that there are."""
        bench = self.bench
        self.is_settled = True
        self.tiles.monitor = bench.state.monitor
        if not laid or not self._show_master() or bench.state.master is None:
            return set()
        wanted: set[Key] = {key for pane in laid for key in pane.pictures}
        self.tiles.keep_only(wanted | {caption.key for pane in laid for caption in pane.captions})  # a flip comes back
        drawn: set[Key] = set()
        if None in wanted:
            self.tiles.render_master(self.placement, *self.picture_size, bench.state.window, bench.colours(None))
            drawn.add(None)
        faults = {}
        workings = {slot.key: bench.working(slot) for slot in bench.state.slots if slot.key in wanted}
        chains = {key: working.chain for key, working in workings.items() if working and working.chain}
        self.tiles.programs.begin(chains.values())
        for key, chain in chains.items():
            fault = self.tiles.render(key, chain, self.placement, *self.picture_size, bench.colours(key))
            if fault is None:
                drawn.add(key)
            else:
                faults[key] = fault
        self.tiles.draw()
        self.is_settled = faults == self.faults
        self.faults = faults
        self.is_settled &= self.tiles.refine(REFINING)
        return drawn

    def show(self, laid: tuple[Pane, ...], drawn: set[Key], unit: float) -> None:
        """Put what is drawn on the surface, and the interface over it."""
        self.page.begin(self.bench.state.monitor, theme.SURROUND)
        self._show_pattern()
        for pane in laid:
            self._present(pane, pane.tile.picture.scaled(unit), drawn)
        self.page.finish()

    @property
    def screen(self) -> Encoding:
        """What the monitor's signal is encoded for."""
        return self.bench.state.monitor.encoding

    def delete(self) -> None:
        """Free what is on the card."""
        self.pattern.delete()
        self.page.delete()
        self.tiles.delete()

    def _show_pattern(self) -> None:
        """Draw the line-up's pattern over the whole surface, unless a caution stands before it."""
        showing, screen = self.bench.line_up, line_up.with_codes(self.screen, self.surface.bits)
        if showing.name is None or showing.asks(screen):
            return
        try:
            self.pattern.prepare(showing.name, screen, *self.surface.size)
        except TrimbenchError as fault:
            showing.close()
            self.bench.notice, self.is_settled = Notice(str(fault)), False
            return
        self.page.bind()
        self.pattern.draw()

    def _present(self, pane: Pane, rect: Rect, drawn: set[Key]) -> None:
        """Copy what is on a pane to the page; of a wipe also one of the two, where the other can't be drawn."""
        target = rect, self.surface.size[1], theme.SURROUND, self.surface.bits
        if pane.is_difference:
            is_there = drawn.issuperset(pane.pictures)
            if is_there and self.tiles.render_difference(pane.pictures, self.bench.state.showing.heat_top):
                self.page.bind()
                self.tiles.present_difference(*target)
            return
        first, second = pane.pictures[0], pane.pictures[-1]
        a, b, c = self.bench.line.side(rect.width, rect.height)
        if first in drawn:
            is_half = second not in drawn
            self.tiles.present(first, *target, *([(-a, -b, -c)] if is_half else []))
        if second in drawn and second != first:
            self.tiles.present(second, *target, (a, b, c))

    def _show_master(self) -> bool:
        """Put the master on the card; one that the card can't take is said."""
        bench = self.bench
        master = bench.state.master
        self.tiles.is_moving = bench.is_moving
        if master is None or master is self._master:
            return master is not None
        try:
            is_passing = bench.playback is not None
            self.tiles.show(master.frame.content or master.picture, master.encoding, is_passing)
        except TrimbenchError as fault:
            self.is_settled = False
            self._refuse(f"{master.path}: {fault}")
            return bench.state.master is not None and bench.state.master is self._master
        self._master = master
        return True
