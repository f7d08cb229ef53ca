"""What is gathered of a master, frame by frame: light levels, gamut shares, a profile's checks, flashing."""

from collections.abc import Iterable, Mapping
from typing import Any

from ..media.master import Frame
from ..picture import Picture
from .active_area import ActiveArea, Rectangle
from .flash import FlashMeter
from .frame import FrameFigures, light_of, measure_frame
from .gamut_programme import GamutProgramme
from .odd_samples import OddSamples
from .profile_check import ProfileCheck
from .programme import ProgrammeLevels

GAMUTS = ("p3-d65", "bt709")

COARSE_COLUMNS = 960
"""Columns that flashing is judged on, at least; of wider pictures every second, third ... pixel is taken."""


def coarse_step(columns: int) -> int:
    """Return how many pixels lie between those on which flashing is judged."""
    return max(1, columns // COARSE_COLUMNS)


def measured(frame: Frame, area: Rectangle, number: int, gamuts: tuple[str, ...]) -> FrameFigures:
    """Measure the light and the gamut of a frame that can be read, and keep every `coarse_step`-th pixel."""
    assert frame.content is not None  # it has no fault
    step = coarse_step(frame.content.columns)
    return measure_frame(frame.content, area, number, gamuts, encoding=frame.encoding, coarse_step=step)


class MasterFigures:
    """Gathers a master's frames; its size doesn't grow with them but for one short row each.

    Parameters
    ----------
    area : the active area
    rate : frames a second, for the flash caution; None where it is unknown or frames are left out
    check : of a delivery profile, or None
    more_gamuts : primaries to measure against besides `GAMUTS` and those of the profile
    """

    def __init__(
        self,
        area: Rectangle,
        rate: float | None = None,
        check: ProfileCheck | None = None,
        more_gamuts: tuple[str, ...] = (),
    ) -> None:
        self.area = area
        self.levels = ProgrammeLevels()
        self.odd = OddSamples()
        within = check.profile.within if check else None
        names = dict.fromkeys((*GAMUTS, *([within] if within else []), *more_gamuts))
        self.gamuts = {name: GamutProgramme(name) for name in names}
        self.check = check
        self.flash = FlashMeter(rate) if rate else None

    def add(self, frame: Frame, number: int) -> None:
        """Measure a frame that can be read; `number` is what the user calls it."""
        figures = measured(frame, self.area, number, tuple(self.gamuts))
        levels = self.levels.add(figures.tally)
        if isinstance(frame.content, Picture):  # planes hold code values
            self.odd.add(frame.content, number)
        for name, programme in self.gamuts.items():
            programme.add(figures.gamuts[name], number)
        if self.check is not None:
            self.check.add(levels, figures.gamuts.get(self.check.profile.within or ""))
        if self.flash is not None:
            self.flash.add(figures.coarse)

    def skip(self) -> None:
        """Let the time of a frame that can't be read pass."""
        if self.flash is not None:
            self.flash.skip()

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON, to go on later with `resume`."""
        return {
            "area": self.area.to_dict(),
            "levels": self.levels.to_dict(),
            "odd": self.odd.to_dict(),
            "gamuts": {name: programme.to_dict() for name, programme in self.gamuts.items()},
            "check": self.check.to_dict() if self.check else None,
            "flash": self.flash.to_dict() if self.flash else None,
        }

    def resume(self, values: Mapping[str, Any]) -> None:
        """Go on from what `to_dict` wrote, with the same parameters."""
        self.area = Rectangle(**values["area"])
        self.levels = ProgrammeLevels.from_dict(values["levels"])
        self.odd = OddSamples.from_dict(values["odd"])
        self.gamuts = {name: GamutProgramme.from_dict(item) for name, item in values["gamuts"].items()}
        if self.check is not None:
            self.check.resume(values["check"])
        self.flash = FlashMeter.from_dict(values["flash"]) if values["flash"] else None


def area_of(frames: Iterable[Frame], rows: int, columns: int, black: float) -> Rectangle:
    """Find the active area that some frames of a master agree on; the whole frame where bars aren't certain."""
    finder = ActiveArea(rows, columns, black)
    for frame in frames:
        if frame.fault is None:
            finder.add(light_of(frame))
    return finder.area
