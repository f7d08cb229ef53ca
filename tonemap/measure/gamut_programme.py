"""Colour outside a set of primaries over a programme, gathered frame by frame in bounded memory."""

from collections.abc import Mapping
from typing import Any

from .frame_ranges import FrameRanges
from .gamut_share import GamutShare, nothing_outside


class GamutProgramme:
    """Gathers the gamut shares of frames, for one set of primaries.

    Attributes
    ----------
    total : all frames' pixels as one; in its hues, the places name the frame
    worst_share, worst_frame : the largest share (0..1) of a frame that lies outside, and the first frame that has it
    frames : the frames in which anything lies outside

    Examples
    --------
    >>> import numpy as np
    >>> from tonemap.measure.gamut_share import measure_gamut
    >>> programme = GamutProgramme("p3-d65")
    >>> for number, green in enumerate([10.0, 0.0, 10.0]):
    ...     programme.add(measure_gamut(np.array([[[0.0, green, 0.0]]]), frame=number), number)
    >>> programme.frames.text, round(programme.total.share, 3)
    ('0, 2', 0.667)
    """

    def __init__(self, gamut: str) -> None:
        self.total = nothing_outside(gamut)
        self.worst_share = 0.0
        self.worst_frame: int | None = None
        self.frames = FrameRanges()

    def add(self, share: GamutShare, frame: int) -> None:
        """Take a frame's share over."""
        self.total = self.total.merged(share)
        if share.outside:
            self.frames.add(frame)
            self._take_worst(share.share, frame)

    def merge(self, other: "GamutProgramme") -> None:
        """Take other frames over."""
        self.total = self.total.merged(other.total)
        self.frames.merge(other.frames)
        if other.worst_frame is not None:
            self._take_worst(other.worst_share, other.worst_frame)

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON, to show and to go on later with `from_dict`."""
        return {
            "total": self.total.to_dict(),
            "worst_share": self.worst_share,
            "worst_frame": self.worst_frame,
            "frames": self.frames.text,
            "ranges": [list(item) for item in self.frames.ranges],
        }

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> "GamutProgramme":
        """Return what `to_dict` wrote."""
        programme = cls(values["total"]["gamut"])
        programme.total = GamutShare.from_dict(values["total"])
        programme.worst_share, programme.worst_frame = values["worst_share"], values["worst_frame"]
        programme.frames = FrameRanges((first, last) for first, last in values["ranges"])
        return programme

    def _take_worst(self, share: float, frame: int) -> None:
        if self.worst_frame is None or (share, -frame) > (self.worst_share, -self.worst_frame):
            self.worst_share, self.worst_frame = share, frame
