"""What is gathered of a rendition, frame by frame: legality, difference from the master, structure kept, flashing."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from ..arrays import Array, Codes
from ..difference import DifferenceStatistics
from ..errors import WrongCall
from ..picture import Picture
from ..rendition import Chain
from ..scaling import area_average
from .active_area import Rectangle
from .flash import FlashMeter, reference_display
from .frame import in_bands, measure_frame
from .frame_ranges import FrameRanges
from .legality import NOMINAL, Legality, measure_legality
from .light_of_rows import light_of_rows
from .master_figures import coarse_step
from .profile_check import ProfileCheck
from .structure import MasterStructure

ZONES = ("highlights", "midtones", "shadows")
STRUCTURE_COLUMNS = 960
"""Widest picture of which structure is measured; larger ones are averaged down, and lose their finest texture."""


def structure_picture(light: Array) -> Array:
    """Bring a picture's light (rows, columns, 3) to the size at which structure is measured."""
    rows, columns = light.shape[:2]
    if columns <= STRUCTURE_COLUMNS:
        return light
    size = (max(1, round(rows * STRUCTURE_COLUMNS / columns)), STRUCTURE_COLUMNS)
    return area_average(lambda first, last: light[first:last], (rows, columns), size)


@dataclass(frozen=True)
class Rendered:
    """One frame of a rendition (rows, columns, 3): code values, and their BT.2020 light on the target's display."""

    chain: Chain
    codes: Codes
    light: Array


def rendered(codes: Codes, chain: Chain) -> Rendered:
    """Return a frame of a rendition from its code values."""
    bands = in_bands(Picture(codes, chain.rendition.target), lambda band, top: np.ascontiguousarray(band, np.float32))
    return Rendered(chain, codes, np.concatenate(bands))


class RenditionFigures:
    """Gathers the frames of one rendition.

    Parameters
    ----------
    rate : frames a second, for the flash caution; None where it is unknown or frames are left out
    check : of a delivery profile for SDR, or None
    """

    def __init__(self, rate: float | None = None, check: ProfileCheck | None = None) -> None:
        self.check = check
        self.limits = (check.profile.legality if check else None) or NOMINAL
        self.illegal = FrameRanges()
        self.worst_legality: tuple[int, Legality] | None = None
        self.no_legality: str | None = None
        self.mean_sum, self.frames = 0.0, 0
        self.worst_difference: tuple[int, DifferenceStatistics] | None = None
        self.kept: dict[str, list[float]] = {zone: [0.0, 0.0] for zone in ZONES}
        self.flash = FlashMeter(rate) if rate else None

    def add(
        self,
        frame: Rendered,
        found: DifferenceStatistics | None,
        structure: MasterStructure,
        area: Rectangle,
        number: int,
    ) -> None:
        """Measure a frame.

        Parameters
        ----------
        found : its difference within the active area from what it is compared with, or None
        structure : of the master's light, as `structure_picture` gives it
        area : the active area
        number : what the user calls the frame
        """
        picture = Picture(frame.codes, frame.chain.rendition.target)
        legality = self._legality(picture, area)
        if self.check is not None:
            within = self.check.profile.within
            figures = measure_frame(picture, area, number, (within,) if within else ())
            self.check.add(figures.tally.levels, figures.gamuts.get(within or ""), legality)
        kept = structure.kept(structure_picture(frame.light)).steps
        coarse = self._coarse(picture) if self.flash is not None else None

        if legality is not None:
            if not legality.is_legal:
                self.illegal.add(number)
            if self.worst_legality is None or _badness(legality) > _badness(self.worst_legality[1]):
                self.worst_legality = (number, legality)
        if found is not None:
            self.mean_sum, self.frames = self.mean_sum + found.mean, self.frames + 1
            if self.worst_difference is None or found.mean > self.worst_difference[1].mean:
                self.worst_difference = (number, found)
        for zone in ZONES:
            value = getattr(kept, zone)
            if value is not None:
                self.kept[zone] = [self.kept[zone][0] + value, self.kept[zone][1] + 1.0]
        if self.flash is not None and coarse is not None:
            self.flash.add(coarse)

    def skip(self) -> None:
        """Let the time of a frame that can't be read pass."""
        if self.flash is not None:
            self.flash.skip()

    def structure(self, zone: str) -> float | None:
        """Return the mean over frames of the structure kept in a zone; None without texture there."""
        total, count = self.kept[zone]
        return total / count if count else None

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON, to go on later with `resume`."""
        legality, difference = self.worst_legality, self.worst_difference
        return {
            "illegal": [list(pair) for pair in self.illegal.ranges],
            "worst_legality": [legality[0], legality[1].to_dict()] if legality else None,
            "no_legality": self.no_legality,
            "mean_sum": self.mean_sum,
            "frames": self.frames,
            "worst_difference": [difference[0], asdict(difference[1])] if difference else None,
            "kept": self.kept,
            "check": self.check.to_dict() if self.check else None,
            "flash": self.flash.to_dict() if self.flash else None,
        }

    def resume(self, values: Mapping[str, Any]) -> None:
        """Go on from what `to_dict` wrote, with the same parameters."""
        self.illegal = FrameRanges((first, last) for first, last in values["illegal"])
        if values["worst_legality"]:
            number, legality = values["worst_legality"]
            self.worst_legality = (number, Legality.from_dict(legality))
        if values["worst_difference"]:
            number, difference = values["worst_difference"]
            self.worst_difference = (number, DifferenceStatistics(**difference))
        self.no_legality = values["no_legality"]
        self.mean_sum, self.frames = values["mean_sum"], values["frames"]
        self.kept = {zone: list(pair) for zone, pair in values["kept"].items()}
        if self.check is not None:
            self.check.resume(values["check"])
        self.flash = FlashMeter.from_dict(values["flash"]) if values["flash"] else None

    def _legality(self, picture: Picture, area: Rectangle) -> Legality | None:
        try:
            return measure_legality(picture, self.limits, area=area)
        except WrongCall as fault:  # a target in full range is no mistake; R 103 has nothing to say of it
            self.no_legality = str(fault)
            return None

    def _coarse(self, picture: Picture) -> Array:
        step = coarse_step(picture.columns)
        codes: Codes = np.ascontiguousarray(picture.samples[::step, ::step], np.uint16)
        small = Picture(codes, reference_display(picture.encoding))
        return light_of_rows(small, 0, small.rows)


def _badness(legality: Legality) -> tuple[int, int]:
    return legality.outside, legality.reserved
