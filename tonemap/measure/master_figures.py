"""What is gathered of a master, frame by frame: light levels, gamut shares, a profile's checks, flashing."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from ..arrays import Array
from ..encoding import Encoding
from ..media.master import Frame
from .active_area import ActiveArea, Rectangle
from .flash import FlashMeter
from .frame import FrameFigures, gamut_tolerance
from .gamut_programme import GamutProgramme
from .gamut_share import TOLERANCE, GamutShare, measure_gamut
from .light_levels import FrameTally, tally_band
from .light_of_planes import in_bands_of
from .light_tally import LightTally
from .profile_check import ProfileCheck
from .programme import ProgrammeLevels

GAMUTS = ("p3-d65", "bt709")

COARSE_COLUMNS = 960
"""Columns that flashing is judged on, at least; of wider pictures every second, third ... pixel is taken."""

CODES_OF_CHROMA = {8: 8, 10: 8, 12: 10, 16: 12}
"""Bits of R'G'B' that tell colours apart as Y'CbCr of some bits does: rounding that moves B' by up to 1.4 codes."""


def coarse_step(columns: int) -> int:
    """Return how many pixels lie between those on which flashing is judged."""
    return max(1, columns // COARSE_COLUMNS)


def codes_of(frame: Frame) -> Encoding:
    """Return the encoding of the code values that a frame's light came from, as far as telling colours apart goes."""
    if frame.planes is None:
        return frame.encoding
    coding = frame.planes.coding
    bits = coding.bits if coding.matrix is None else CODES_OF_CHROMA[coding.bits]
    return replace(frame.encoding, bits=bits, signal_range=coding.signal_range)


def measured(frame: Frame, area: Rectangle, number: int, gamuts: tuple[str, ...]) -> tuple[FrameFigures, Array]:
    """Measure a frame's light and gamut in one reading.

    Returns
    -------
    figures : FrameFigures
    coarse : ndarray (rows, columns, 3), the light of every `coarse_step`-th pixel across and down
    """
    encoding = codes_of(frame)
    tolerance = gamut_tolerance(frame.picture) if frame.planes is None else TOLERANCE
    step = coarse_step(frame.planes.columns if frame.planes is not None else frame.picture.columns)

    def work(light: Array, top: int) -> tuple[LightTally, LightTally, list[GamutShare], Array]:
        first, last = max(area.top, top), min(area.top + area.rows, top + light.shape[0])
        inside = light[max(first - top, 0) : max(last - top, 0), area.left : area.left + area.columns]
        place = (first, area.left)
        shares = [
            measure_gamut(inside, name, frame=number, place=place, tolerance=tolerance, encoding=encoding)
            for name in gamuts
        ]
        return *tally_band(light, top, area), shares, light[-top % step :: step, ::step].copy()

    active, bars, merged = LightTally(), LightTally(), dict[str, GamutShare]()
    coarse = []
    for in_area, beside, shares, part in in_bands_of(frame, work):
        active.merge(in_area)
        bars.merge(beside)
        for share in shares:
            merged[share.gamut] = merged[share.gamut].merged(share) if share.gamut in merged else share
        coarse.append(part)
    return FrameFigures(FrameTally(number, area, active, bars), merged), np.concatenate(coarse)


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
        within = check.profile.within if check else None
        names = dict.fromkeys((*GAMUTS, *([within] if within else []), *more_gamuts))
        self.gamuts = {name: GamutProgramme(name) for name in names}
        self.check = check
        self.flash = FlashMeter(rate) if rate else None

    def add(self, frame: Frame, number: int) -> None:
        """Measure a frame that can be read; `number` is what the user calls it."""
        figures, coarse = measured(frame, self.area, number, tuple(self.gamuts))
        levels = self.levels.add(figures.tally)
        for name, programme in self.gamuts.items():
            programme.add(figures.gamuts[name], number)
        if self.check is not None:
            self.check.add(levels, figures.gamuts.get(self.check.profile.within or ""))
        if self.flash is not None:
            self.flash.add(coarse)

    def skip(self) -> None:
        """Let the time of a frame that can't be read pass."""
        if self.flash is not None:
            self.flash.skip()

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON, to go on later with `resume`."""
        return {
            "area": self.area.to_dict(),
            "levels": self.levels.to_dict(),
            "gamuts": {name: programme.to_dict() for name, programme in self.gamuts.items()},
            "check": self.check.to_dict() if self.check else None,
            "flash": self.flash.to_dict() if self.flash else None,
        }

    def resume(self, values: Mapping[str, Any]) -> None:
        """Go on from what `to_dict` wrote, with the same parameters."""
        self.area = Rectangle(**values["area"])
        self.levels = ProgrammeLevels.from_dict(values["levels"])
        self.gamuts = {name: GamutProgramme.from_dict(item) for name, item in values["gamuts"].items()}
        if self.check is not None:
            self.check.resume(values["check"])
        self.flash = FlashMeter.from_dict(values["flash"]) if values["flash"] else None


def light_of(frame: Frame) -> Array:
    """Return all of a frame's light (rows, columns, 3), BT.2020, cd/m2, float32."""
    return np.concatenate(in_bands_of(frame, lambda light, top: np.ascontiguousarray(light, np.float32)))


def area_of(frames: Iterable[Frame], rows: int, columns: int, black: float) -> Rectangle:
    """Find the active area that some frames of a master agree on; the whole frame where bars aren't certain."""
    finder = ActiveArea(rows, columns, black)
    for frame in frames:
        if frame.fault is None:
            finder.add(light_of(frame))
    return finder.area
