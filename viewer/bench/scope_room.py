"""The scopes at work: what the plots show is counted from the tiles' pictures, and drawn."""

from collections.abc import Sequence

from .bench import Bench
from .scope_plots import Plot
from .scopes import Form
from .showing import Key
from .tallies import Tallies, Work, region_of
from .tiles import Tiles
from .traces import Traces


class ScopeRoom:
    """Counts and draws with the tiles' programs; needs a current context."""

    def __init__(self, tiles: Tiles) -> None:
        self._tiles = tiles
        self.tallies = Tallies(tiles.programs, tiles.painter)
        self.traces = Traces(tiles.programs.has_compute)

    def draw(self, bench: Bench, plots: Sequence[Plot], line: float, seconds: float) -> bool:
        """Count what has changed and draw it, quickly; returns whether every pixel is counted and all is drawn.

        Parameters
        ----------
        line : width of lines in pixels
        seconds : how long to work towards counts of every pixel where nothing changed
        """
        tiles, said = self._tiles, [self.sampled(plot) for plot in plots]
        tiles.programs.prepare()
        self.traces.keep_only([plot.kind for plot in plots])
        self.tallies.count(self._wanted(bench, plots))
        is_exact = tiles.is_moving or tiles.pyramid is None
        if not is_exact and tiles.pyramid is not None and tiles.pyramid.is_whole:
            is_exact = self.tallies.refine(seconds)
        is_said = said == [self.sampled(plot) for plot in plots]  # what the plots say is drawn before the counts
        return self.traces.draw(plots, bench.shown.scopes, self.tallies, line) and is_exact and is_said

    def sampled(self, plot: Plot) -> int:
        """Return of how many pixels one is counted in a plot."""
        found = [self.tallies.of(key) for key in plot.keys]
        return max((tally.stride**2 for tally in found if tally is not None), default=1)

    def delete(self) -> None:
        """Free what is on the card."""
        self.tallies.delete()
        self.traces.delete()

    def _wanted(self, bench: Bench, plots: Sequence[Plot]) -> dict[Key, tuple[Work, list[Form]]]:
        light = self._tiles.pyramid
        if light is None or not plots:
            return {}
        patch = bench.state.chosen_patch if bench.shown.scopes.is_of_patch else None
        region = region_of(patch, light.columns, light.rows)
        if region is None:
            return {}
        wanted: dict[Key, tuple[Work, list[Form]]] = {}
        for plot in plots:
            for key in plot.keys:
                working = None if key is None else bench.working(bench.state.slot(key))
                chain = working.chain if working is not None else None
                if key is not None and (chain is None or key in bench.drawing_faults):
                    continue
                wanted.setdefault(key, (Work(chain, light, light.serial, region, patch), []))[1].append(plot.form)
        return wanted
