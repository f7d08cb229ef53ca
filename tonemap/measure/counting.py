"""What the compiled loops fill in while they go over a frame's rows, and what that means as figures."""

from functools import cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..colorimetry import D65, PRIMARIES, Primaries, luminance, matrix_to_xyz, xyz_of_chromaticity
from ..encoding import Encoding
from .active_area import Rectangle
from .gamut_share import (
    FLOOR_NITS,
    GamutShare,
    HueOutside,
    distance_uv_of,
    gamut_named,
    half_code,
    matrix_from_bt2020,
    share_of,
)
from .hue import HUES, uv_of_xyz
from .light_cells import CELLS
from .light_tally import THRESHOLDS, LightTally

Numbers = NDArray[Any]


class Tallies(NamedTuple):
    """A `LightTally` of the active area, and one of the bars beside it, as arrays with that as their first index.

    The second index is 0 for max(R, G, B) and 1 for luminance; `lowest` and `highest` are bits of float32.
    """

    sums: Numbers
    lowest: Numbers
    highest: Numbers
    places: Numbers
    above: Numbers
    cells: Numbers


class GamutTest(NamedTuple):
    """What is asked of pixels, for some primaries at once; floats are float32, those for hues float64.

    Attributes
    ----------
    matrices, spreads : (primaries, 3, 3) from BT.2020, and their magnitudes
    leaders : for each of the primaries, those whose candidates are enough to look at: themselves, or their leader that
        comes before, with none but its own followers between
    candidate : what a component must be below to be looked at; `tolerance`, `floor` as in `measure_gamut`
    half_code : light of half a code by cell; empty where light does not come from codes
    to_xyz, white : (3, 3), and u'v' of the white
    borders : of the hues, as `turn_of` gives them
    """

    matrices: Array
    spreads: Array
    leaders: Numbers
    candidate: np.float32
    tolerance: np.float32
    floor: np.float32
    half_code: Array
    to_xyz: Array
    white: Array
    borders: Array


class GamutFound(NamedTuple):
    """Pixels outside, by primaries and hue; of the farthest: distance, place (row, column) and light."""

    pixels: Numbers
    distances: Numbers
    places: Numbers
    lights: Numbers


class Counting(NamedTuple):
    """All that rows are counted into, their length, and the borders of the active area."""

    columns: int
    top: int
    bottom: int
    left: int
    right: int
    tallies: Tallies
    test: GamutTest
    found: GamutFound
    coarse_step: int
    coarse: Array


def turn_of(across: float, up: float) -> float:
    """Return a number 0..4 that grows with the angle of a direction, and is whole where the angle is right.

    Examples
    --------
    >>> [turn_of(*direction) for direction in ((1, 0), (1, 1), (0, 1), (-1, 0), (0, -1))]
    [0.0, 0.5, 1.0, 2.0, 3.0]
    """
    size = abs(across) + abs(up)
    if up >= 0.0:
        return up / size if across >= 0.0 else 1.0 - across / size
    return 2.0 - up / size if across < 0.0 else 3.0 + across / size


@cache
def gamut_test(
    gamuts: tuple[str | Primaries, ...], tolerance: float, encoding: Encoding, floor: float = FLOOR_NITS
) -> GamutTest:
    """Return the test for some primaries; `encoding` is that of the code values that the light came from, if of any."""
    all_primaries = [gamut_named(gamut)[1] for gamut in gamuts]
    matrices = np.array([matrix_from_bt2020(primaries) for primaries in all_primaries]).reshape(-1, 3, 3)
    half = half_code(encoding) if encoding.bits is not None else np.empty(0, np.float32)
    return GamutTest(
        matrices.astype(np.float32),
        np.abs(matrices).astype(np.float32),
        np.array([_leader(all_primaries[: index + 1]) for index in range(len(gamuts))], np.int64),
        np.float32(-0.5 * tolerance * floor),
        np.float32(tolerance),
        np.float32(floor),
        half,
        *_hue_test(),
    )


def smallest_first(gamuts: tuple[str | Primaries, ...]) -> tuple[str | Primaries, ...]:
    """Sort primaries by the area of their triangles."""
    return tuple(sorted(gamuts, key=lambda gamut: _area(gamut_named(gamut)[1])))


def _area(primaries: Primaries) -> float:
    red, green, blue = np.array([primaries.red, primaries.green, primaries.blue])
    one, two = green - red, blue - red
    return float(abs(one[0] * two[1] - one[1] * two[0]))


def _leader(all_primaries: list[Primaries]) -> int:
    """Return the first of the primaries that lie within the last ones and have their white.

    The way to the wider ones is then a matrix without negative elements whose rows sum to 1: no component gets more
    negative than the most negative was, and what is a candidate there is one here.
    """
    to_last = matrix_from_bt2020(all_primaries[-1])
    for index, primaries in enumerate(all_primaries[:-1]):
        widened = to_last @ np.linalg.inv(matrix_from_bt2020(primaries))
        if primaries.white == all_primaries[-1].white and widened.min() > -1e-9:
            return index
    return len(all_primaries) - 1


@cache
def _hue_test() -> tuple[Array, Array, Array]:
    angles = np.radians([border for _, border in HUES])
    borders = np.array([turn_of(np.cos(angle), np.sin(angle)) for angle in angles])
    return (
        matrix_to_xyz(PRIMARIES["bt2020"]).astype(np.float32),
        uv_of_xyz(xyz_of_chromaticity(D65)),
        borders,
    )


def counting_for(columns: int, area: Rectangle, test: GamutTest, coarse_step: int, coarse: Array) -> Counting:
    """Return empty counters; `coarse` is shared by all bands of a frame, for each writes its own rows."""
    by_hue = len(test.matrices), len(HUES)
    return Counting(
        columns,
        area.top,
        area.top + area.rows,
        area.left,
        area.left + area.columns,
        Tallies(
            np.zeros((2, 2)),
            np.full((2, 2), np.float32(np.inf).view(np.int32)),
            np.full((2, 2), -1, np.int32),
            np.zeros((2, 2), np.int64),
            np.zeros((2, len(THRESHOLDS)), np.int64),
            np.zeros((2, 2, CELLS), np.int32),
        ),
        test,
        GamutFound(
            np.zeros(by_hue, np.int64),
            np.full(by_hue, -1.0, np.float32),
            np.zeros((*by_hue, 2), np.int64),
            np.zeros((*by_hue, 3), np.float32),
        ),
        coarse_step,
        coarse,
    )


def tally_of(tallies: Tallies, part: int) -> LightTally:
    """Return the counters of a part, 0 for the active area and 1 for the bars, as a tally."""
    if tallies.highest[part, 0] < 0:
        return LightTally()
    cells = tallies.cells[part].astype(np.int64)
    lowest, highest = tallies.lowest[part].view(np.float32), tallies.highest[part].view(np.float32)
    return LightTally(
        int(cells[0].sum()),
        float(tallies.sums[part, 0]),
        float(tallies.sums[part, 1]),
        float(highest[0]),
        int(tallies.places[part, 0]),
        int(tallies.places[part, 1]),
        float(lowest[0]),
        float(highest[1]),
        float(lowest[1]),
        tallies.above[part].tolist(),
        cells[0],
        cells[1],
    )


def merge_found(into: GamutFound, other: GamutFound) -> None:
    """Add what was found in later rows; of equal distances the earlier pixel stays."""
    into.pixels[...] += other.pixels
    farther = other.distances > into.distances
    for mine, theirs in zip(into[1:], other[1:], strict=True):
        mine[farther] = theirs[farther]


def shares_of(found: GamutFound, gamuts: tuple[str | Primaries, ...], pixels: int, frame: int) -> list[GamutShare]:
    """Return what was found outside each of the primaries, among so many pixels of a frame."""
    shares = []
    for index, gamut in enumerate(gamuts):
        name, primaries = gamut_named(gamut)
        hues = []
        for hue in np.flatnonzero(found.pixels[index]):
            place, light = found.places[index, hue], found.lights[index, hue].astype(np.float64)
            hues.append(
                HueOutside(
                    HUES[hue][0],
                    int(found.pixels[index, hue]),
                    float(found.distances[index, hue]),
                    distance_uv_of(light, primaries),
                    float(luminance(light)),
                    frame,
                    int(place[0]),
                    int(place[1]),
                )
            )
        shares.append(share_of(name, pixels, hues))
    return shares
