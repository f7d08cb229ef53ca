"""Structure kept: how much of the master's texture a rendition keeps, by scale, in highlights, midtones and shadows.

Luminance in PQ, in which equal steps are about equally visible, is split into bands of scale by a Laplacian pyramid
(Burt and Adelson 1983, The Laplacian Pyramid as a Compact Image Code, IEEE Transactions on Communications 31). Each
place counts by its own local contrast in that band, after the idea of Peli 1990, Contrast in complex images, Journal of
the Optical Society of America A 7. Zones, and the sum over them, are Trimbench's own.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..arrays import Array
from ..colorimetry import luminance
from ..errors import WrongCall, suggestion
from ..transfer import pq_eotf_inverse

KERNEL = np.array([1.0, 4.0, 6.0, 4.0, 1.0]) / 16.0  # Burt and Adelson 1983, with a = 0.375
MOST_SCALES = 6
SMALLEST_SIDE = 12  # pixels; a coarser band would hold hardly more than the frame's edges
LEAST_CONTRAST = 1e-5  # mean step in PQ below which a zone has no texture to keep

ZONES = {
    "highlights": "above reference white: full weight from 203 cd/m2, none at 100",
    "midtones": "between the two",
    "shadows": "full weight up to 2 cd/m2, none at 10",
}
HIGHLIGHT_NITS = (100.0, 203.0)
SHADOW_NITS = (2.0, 10.0)


@dataclass(frozen=True)
class StructureFigures:
    """Structure kept in one band of scale, or in all of them together.

    Attributes
    ----------
    scale_pixels : the smallest detail of the band, in pixels; 0 for all bands together
    highlights, midtones, shadows : step of the rendition over step of the master, in PQ: 1 keeps all, 0 is flat, more
        than 1 is enhanced, less than 0 is turned about. None where the master has no texture in that zone.
    """

    scale_pixels: int
    highlights: float | None
    midtones: float | None
    shadows: float | None


@dataclass(frozen=True)
class Structure:
    """Structure kept by one rendition: all scales together, and each scale from fine to coarse.

    Attributes
    ----------
    steps : of the step in PQ itself, as visible as it is
    contrast : of the step relative to its surround in PQ (Peli), which forgives a rendition that is darker as a whole
    scales : the steps by scale
    """

    steps: StructureFigures
    contrast: StructureFigures
    scales: tuple[StructureFigures, ...]


class MasterStructure:
    """The bands of a master's light (rows, columns, 3), BT.2020, cd/m2, made once for all its renditions."""

    def __init__(self, light: Array) -> None:
        self.shape = light.shape[:2]
        self.bands, self.surrounds = laplacian_bands(pq_eotf_inverse(luminance(light)))
        self.weights = [_zone_weights(surround) for surround in self.surrounds]

    def kept(self, light: Array) -> Structure:
        """Return how much structure a rendition's light (rows, columns, 3), BT.2020, cd/m2, keeps.

        Raises
        ------
        WrongCall
            If the rendition's size differs from the master's.

        Examples
        --------
        >>> texture = np.random.default_rng(1).uniform(0.60, 0.70, (64, 64, 1))  # PQ: 244 to 620 cd/m2
        >>> from tonemap.transfer import pq_eotf
        >>> master, flatter = (np.repeat(pq_eotf(grey), 3, axis=2) for grey in (texture, 0.3 + 0.5 * texture))
        >>> round(MasterStructure(master).kept(flatter).steps.highlights, 6)
        0.5
        """
        if light.shape[:2] != self.shape:
            raise WrongCall(
                f"a rendition of {light.shape[1]} x {light.shape[0]} pixels can't be compared with a master of "
                f"{self.shape[1]} x {self.shape[0]}; render it at the master's size"
            )
        bands, surrounds = laplacian_bands(pq_eotf_inverse(luminance(light)))
        own, theirs = self.bands, self.surrounds
        plain = [_sums(b, other, w) for b, other, w in zip(own, bands, self.weights, strict=True)]
        relative = [
            _sums(b / np.maximum(s, 1e-3), other / np.maximum(around, 1e-3), w)
            for b, s, other, around, w in zip(own, theirs, bands, surrounds, self.weights, strict=True)
        ]
        scales = tuple(_figures(2**number, [sums]) for number, sums in enumerate(plain))
        return Structure(_figures(0, plain), _figures(0, relative), scales)


def ranked(structures: Mapping[str, Structure], zone: str = "highlights") -> list[tuple[str, float]]:
    """Order renditions by the steps kept in a zone, the best first; those without a figure are left out.

    More than all counts as a departure too: 1.1 ranks with 0.9.
    """
    if zone not in ZONES:
        raise WrongCall(f"zone '{zone}' is not known; {suggestion(zone, list(ZONES))}")
    figures = {name: getattr(structure.steps, zone) for name, structure in structures.items()}
    known = [(name, value) for name, value in figures.items() if value is not None]
    return sorted(known, key=lambda item: abs(1.0 - item[1]))


def laplacian_bands(picture: Array) -> tuple[list[Array], list[Array]]:
    """Split a picture (rows, columns) into bands of scale.

    Returns
    -------
    bands : from fine to coarse, each half the size of the one before; what is coarser than the last is left out
    surrounds : for each band the picture without it and all finer ones, at the band's size
    """
    bands: list[Array] = []
    surrounds: list[Array] = []
    while len(bands) < MOST_SCALES and (min(picture.shape) >= SMALLEST_SIDE or not bands):
        smaller = _reduced(_reduced(picture).T).T
        surround = _expanded(_expanded(smaller, picture.shape[0]).T, picture.shape[1]).T
        bands.append(picture - surround)
        surrounds.append(surround)
        picture = smaller
    return bands, surrounds


def _reduced(picture: Array) -> Array:
    """Blur along rows and keep every other one; the frame's edge is mirrored."""
    rows = picture.shape[0]
    padded = np.pad(picture, ((2, 2), (0, 0)), mode="reflect" if rows > 2 else "edge")
    return np.sum([weight * padded[start : start + rows : 2] for start, weight in enumerate(KERNEL)], axis=0)


def _expanded(picture: Array, rows: int) -> Array:
    """Interpolate to twice the rows, or one less, with the same kernel."""
    padded = np.pad(picture, ((1, 1), (0, 0)), mode="edge")
    result = np.empty((rows, picture.shape[1]), picture.dtype)
    even = 0.125 * (padded[:-2] + padded[2:]) + 0.75 * padded[1:-1]
    odd = 0.5 * (padded[1:-1] + padded[2:])
    result[0::2] = even
    result[1::2] = odd[: rows // 2]
    return result


def _zone_weights(surround: Array) -> Mapping[str, Array]:
    """Return each zone's weight, 0..1, by the master's own surround in PQ; the three sum to 1 everywhere."""
    highlights = _ramp(surround, HIGHLIGHT_NITS)
    above_shadows = _ramp(surround, SHADOW_NITS)
    return {"highlights": highlights, "midtones": above_shadows - highlights, "shadows": 1.0 - above_shadows}


def _ramp(picture: Array, nits: tuple[float, float]) -> Array:
    low, high = (float(level) for level in pq_eotf_inverse(np.array(nits)))
    return np.clip((picture - low) / (high - low), 0.0, 1.0)


def _sums(master: Array, rendition: Array, weights: Mapping[str, Array]) -> dict[str, tuple[float, float, float]]:
    """Return, by zone, the rendition's steps in the master's own direction, the master's steps, and the weight.

    A place counts by its contrast, not by the square: a few hard edges don't hide the texture. Each pixel of a coarse
    band stands for many of a fine one, and is counted as one, so that every scale has its say by its contrast.
    """
    step, along = np.abs(master), np.sign(master) * rendition
    return {
        zone: (float((weight * along).mean()), float((weight * step).mean()), float(weight.mean()))
        for zone, weight in weights.items()
    }


def _figures(scale: int, sums: list[dict[str, tuple[float, float, float]]]) -> StructureFigures:
    def ratio(zone: str) -> float | None:
        kept, there, weight = (sum(band[zone][place] for band in sums) for place in range(3))
        return kept / there if there > LEAST_CONTRAST * weight else None

    return StructureFigures(scale, ratio("highlights"), ratio("midtones"), ratio("shadows"))
