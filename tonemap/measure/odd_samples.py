"""Samples that are no light: NaN, infinities and negative light of floating-point masters, counted and said."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from ..arrays import Array, Codes
from ..colorimetry import conversion_matrix
from ..encoding import LIGHT_CEILING, NEGATIVE_NITS, Encoding, Flags, odd_pixels, signal_to_light
from ..picture import Picture
from .frame_ranges import FrameRanges

BAND_ROWS = 64

KINDS = {
    "nan": "NaN, which is no number and is taken as 0 in that channel",
    "infinite": "an infinity, which is taken as the most light there is, or as 0 where it is negative",
    "negative": f"negative light, below {-NEGATIVE_NITS:g} cd/m\u00b2 in BT.2020, which is taken as 0 in that channel",
}
"""What a pixel may hold, and what `decode` makes of it."""


def count_odd(picture: Picture) -> dict[str, int]:
    """Return how many pixels of a picture hold what, by the names of `KINDS`; code values hold none of it.

    Examples
    --------
    >>> from tonemap.picture import light_picture
    >>> count_odd(light_picture(np.array([[[np.nan, 1.0, 1.0], [5.0, 5.0, -2.0], [1.0, 1.0, 1.0]]])))
    {'nan': 1, 'infinite': 0, 'negative': 1}
    """
    totals = np.zeros(len(KINDS), np.int64)
    if picture.encoding.bits is None:
        for top in range(0, picture.rows, BAND_ROWS):
            band = picture.samples[top : top + BAND_ROWS]
            if np.isfinite(band).all() and band.min() >= 0.0:
                band = band[_may_be_negative(band, picture.encoding)]
            if band.size:
                totals += [np.count_nonzero(pixels) for pixels in odd_pixels(band, picture.encoding)]
    return dict(zip(KINDS, totals.tolist(), strict=True))


def _may_be_negative(samples: Array | Codes, encoding: Encoding) -> Flags:
    """Return which pixels of components that are not negative may be negative in BT.2020; float32 is enough to say."""
    found = np.zeros(samples.shape[:-1], np.bool_)
    if encoding.primaries in _WITHIN:
        return found
    steps = None
    if encoding.transfer != "linear":
        light = _light_at_steps(encoding)
        steps = (np.minimum(samples, 1.0) * STEPS).astype(np.intp)
    for weights in conversion_matrix(encoding.primaries, "bt2020").astype(np.float32):
        if weights.min() >= 0.0:
            continue
        if steps is None:
            found |= samples @ (weights - ROUNDING) < np.float32(-0.5 * NEGATIVE_NITS / encoding.unit)
        else:
            least = sum(light[steps[..., c] + (weights[c] < 0.0)] * (weights[c] - ROUNDING) for c in range(3))
            found |= np.asarray(least < np.float32(-0.5 * NEGATIVE_NITS))
    return found


def _light_at_steps(encoding: Encoding) -> Array:
    """Return the light of a component at `STEPS` equal steps of its signal, 0 to 1, float32, and what none exceeds."""
    signals = np.broadcast_to(np.linspace(0.0, 1.0, STEPS + 1)[:, np.newaxis], (STEPS + 1, 3))
    return np.append(signal_to_light(signals, encoding)[:, 0], LIGHT_CEILING).astype(np.float32)


STEPS = 4096  # of a signal, between two of which light is bounded by that of both; a power of two, so exact in float32

_WITHIN = ("bt2020", "bt709")
"""Primaries of which no light of positive components is negative in BT.2020."""

ROUNDING = np.float32(1e-6)
"""Of a sum of three products in float32, as a share of the components; a generous one."""


@dataclass
class OddSamples:
    """What the frames of a master held of it: pixels of the whole frame, bars included.

    Attributes
    ----------
    pixels : number of pixels that were looked at
    counts : pixels by the names of `KINDS`
    frames : for each, the frames with such pixels
    """

    pixels: int = 0
    counts: dict[str, int] = field(default_factory=lambda: dict.fromkeys(KINDS, 0))
    frames: dict[str, FrameRanges] = field(default_factory=lambda: {kind: FrameRanges() for kind in KINDS})

    def add(self, picture: Picture, number: int) -> None:
        """Count a frame; `number` is what the user calls it."""
        self.pixels += picture.rows * picture.columns
        for kind, count in count_odd(picture).items():
            self.counts[kind] += count
            if count:
                self.frames[kind].add(number)

    def sentences(self, several: bool) -> Iterator[str]:
        """Say what there was, kind by kind; `several` names the frames."""
        for kind, what in KINDS.items():
            if count := self.counts[kind]:
                share = 100.0 * count / self.pixels
                of_all = f"{share:.3g} %" if share >= 0.01 else "< 0.01 %"
                where = f", in frames {self.frames[kind].text}" if several else ""
                pixels = "1 pixel ({}) holds" if count == 1 else f"{count} pixels ({{}}) hold"
                yield f"{pixels.format(of_all)} {what}{where}"

    def report(self, several: bool) -> dict[str, Any]:
        """Return plain values for a report: counts, frames and the sentences."""
        frames = {kind: ranges.text for kind, ranges in self.frames.items()}
        return {"pixels": dict(self.counts), "frames": frames, "sentences": list(self.sentences(several))}

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON, to go on later with `from_dict`."""
        frames = {kind: [list(pair) for pair in ranges.ranges] for kind, ranges in self.frames.items()}
        return {"pixels": self.pixels, "counts": self.counts, "frames": frames}

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> "OddSamples":
        """Return what `to_dict` wrote."""
        frames = {kind: FrameRanges((first, last) for first, last in pairs) for kind, pairs in values["frames"].items()}
        return cls(values["pixels"], dict(values["counts"]), frames)
