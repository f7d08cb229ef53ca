"""What is found of the frames of a render on the way: samples that are no light, and the distance from the exact trim.

The distance is that of the finished file, read again: engine, rounding and coding together. It is measured on some rows
of a few frames, so that a long render takes little longer for it.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..distance import Distance, distance_between, pooled
from ..encoding import Encoding
from ..errors import TrimbenchError
from ..measure.odd_samples import OddSamples, count_odd
from ..media.master import Frame
from ..media.planes import Planes
from ..picture import Picture
from ..reference import ReferenceEngine
from ..rendition import Chain
from ..signal_range import expand

if TYPE_CHECKING:
    from .programme import Programme

SPACING = 240  # frames of a shot, for one that is tried
PLACE = 12  # of the frame that is tried, behind the first of these: near the start of a movie's segment, soon decoded
PAIRS = 16  # of rows of a tried frame; pairs, because the chroma of two rows may be one


@dataclass(frozen=True)
class Finding:
    """What was found of a frame.

    Attributes
    ----------
    frame : its place in the programme
    odd : pixels that hold no light, by the names of `measure.odd_samples.KINDS`; those alone that there are
    distance : from the exact trim; None where it was not measured
    fault : the sentence why it could not be, or None
    """

    frame: int
    odd: dict[str, int]
    distance: Distance | None = None
    fault: str | None = None

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for the manifest."""
        distance = {"distance": self.distance.to_dict()} if self.distance else {}
        fault = {"fault": self.fault} if self.fault else {}
        return {"frame": self.frame, **({"odd": self.odd} if self.odd else {}), **distance, **fault}

    @classmethod
    def from_dict(cls, values: dict[str, Any]) -> "Finding":
        """Return what `to_dict` wrote."""
        distance = Distance(**values["distance"]) if "distance" in values else None
        return cls(values["frame"], values.get("odd", {}), distance, values.get("fault"))


@dataclass(frozen=True)
class Watched:
    """A frame on its way into a file.

    Attributes
    ----------
    odd : as in `Finding`
    rows : of the frame, that are tried
    sample : these rows of the master; None where the frame is not tried
    """

    frame: int
    odd: dict[str, int]
    chain: Chain
    rows: NDArray[np.intp]
    sample: Picture | None

    def finding(self, in_file: Callable[[], Picture | Planes], target: Encoding) -> Finding:
        """Return what was found.

        Parameters
        ----------
        in_file : reads the frame again; called where it is tried
        target : of the frame
        """
        if self.sample is None:
            return Finding(self.frame, self.odd)
        found = signal_of(in_file(), self.rows)
        try:
            exact = ReferenceEngine().signal(self.sample, self.chain)
        except TrimbenchError as fault:  # an operator of the user's, whose GLSL has done the work
            return Finding(self.frame, self.odd, fault=str(fault))
        return Finding(self.frame, self.odd, distance_between(exact, found, target))


class TriedFrames:
    """The frames on which the distance is measured: one of every shot, of a long one more.

    Where such a frame has no picture, the next one of the shot that has is tried.
    """

    def __init__(self, programme: "Programme") -> None:
        self._last_by_frame = {}
        for first, last in programme.spans():
            for start in range(first, last + 1, SPACING):
                end = min(start + SPACING - 1, last)
                self._last_by_frame[min(start + PLACE, (start + end) // 2)] = end

    def __contains__(self, frame: int) -> bool:
        """Say whether a frame is tried."""
        return frame in self._last_by_frame

    def without(self, frame: int) -> None:
        """Leave a frame out that has no picture."""
        last = self._last_by_frame.pop(frame, frame)
        if frame < last:
            self._last_by_frame[frame + 1] = last


def tried_rows(rows: int) -> NDArray[np.intp]:
    """Return the rows that are tried of so many: pairs in equal steps.

    Examples
    --------
    >>> tried_rows(5).tolist()
    [0, 1, 2, 3, 4]
    >>> len(tried_rows(2160)), tried_rows(2160)[:4].tolist()
    (34, [0, 1, 134, 135])
    """
    step = max(2, rows // PAIRS // 2 * 2)
    found = np.arange(0, rows, step)[:, np.newaxis] + np.arange(2)
    return found[found < rows]


def odd_in(frame: Frame) -> dict[str, int]:
    """Return the pixels of a frame that hold no light, by kind; those kinds alone that there are."""
    if not isinstance(frame.content, Picture):
        return {}
    return {kind: count for kind, count in count_odd(frame.content).items() if count}


def handed_on(
    programme: "Programme", frame: Frame, chain: Chain, rendered: Any, *, odd: dict[str, int], is_tried: bool
) -> tuple[Any, Watched | None]:
    """Return a rendered frame as it is handed on, and what is watched of it; rows with a caption are not tried."""
    if not (odd or is_tried) or frame.content is None:
        return programme.finished(frame.index, rendered), None
    rows = tried_rows(programme.rows)
    before = rendered[rows].copy() if is_tried and programme.caption is not None else None
    finished = programme.finished(frame.index, rendered)
    if before is not None:
        rows = rows[(finished[rows] == before).all(axis=(1, 2))]
    sample = sample_of(frame.content, frame.encoding, rows) if is_tried and len(rows) else None
    return finished, Watched(frame.index, odd, chain, rows, sample)


def watched_still(picture: Picture, chain: Chain) -> Watched:
    """Return what is watched of a still: rows on which the distance is measured."""
    rows = tried_rows(picture.rows)
    return Watched(0, {}, chain, rows, sample_of(picture, picture.encoding, rows))


def signal_of(content: Picture | Planes, rows: NDArray[np.intp]) -> Array:
    """Return the R'G'B' signal of rows of a picture or of a movie's planes, (rows, columns, 3)."""
    if isinstance(content, Picture):
        samples = content.samples[rows]
        bits = content.encoding.bits
        return samples.astype(np.float64) if bits is None else expand(samples, bits, content.encoding.signal_range)
    tops = {int(row) // 2 * 2 for row in rows}
    pairs = {top: content.signal(top, min(top + 2, content.rows)) for top in tops}
    return np.stack([pairs[int(row) // 2 * 2][:, int(row) % 2].T for row in rows])


def sample_of(content: Picture | Planes, encoding: Encoding, rows: NDArray[np.intp]) -> Picture:
    """Return rows of a master's frame as a picture."""
    return Picture(content.samples[rows] if isinstance(content, Picture) else signal_of(content, rows), encoding)


def odd_of(findings: Iterable[Finding], programme: "Programme", frames: int) -> OddSamples:
    """Return what so many frames of a programme held of samples that are no light."""
    odd = OddSamples(programme.rows * programme.columns * frames)
    for finding in findings:
        for kind, count in finding.odd.items():
            odd.counts[kind] += count
            odd.frames[kind].add(programme.number(finding.frame))
    return odd


def distance_of(findings: Iterable[Finding]) -> tuple[Distance | None, int]:
    """Return the distance of a render, and the number of frames on which it was measured."""
    distances = [finding.distance for finding in findings if finding.distance is not None]
    return (pooled(distances) if distances else None), len(distances)
