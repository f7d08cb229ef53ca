"""Signal legality of SDR pictures: EBU R 103 v3.0 on the code values of R, G, B and Y."""

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..arrays import Codes
from ..encoding import Encoding
from ..errors import WrongCall, suggestion
from ..picture import Picture
from ..signal_range import NARROW, scale_and_offset
from .active_area import Rectangle, whole_frame

Mask = NDArray[np.bool_]
Sums = NDArray[np.uint16] | NDArray[np.uint32]

NOMINAL, PREFERRED, TOTAL = "nominal", "preferred", "total"

# EBU R 103 v3.0, Table 1: lowest and highest code by bit depth.
LIMITS = {
    NOMINAL: {8: (16, 235), 10: (64, 940), 12: (256, 3760), 16: (4096, 60160)},
    PREFERRED: {8: (5, 246), 10: (20, 984), 12: (80, 3936), 16: (1280, 62976)},
    TOTAL: {8: (1, 254), 10: (4, 1019), 12: (16, 4079), 16: (256, 65279)},
}
RANGE_TITLES = {
    NOMINAL: "nominal range, for graded and pre-produced material",
    PREFERRED: "preferred range, -5 % to 105 %, for live material",
    TOTAL: "total video range; the codes beyond it are reserved for timing",
}

AREA_TOLERANCE = 0.01
"""Share of the image that may lie outside before it is an error; EBU R 103 v3.0."""

FILTER_SUM = 64
"""Sum of the measurement filter, (1, 2, 3, 4, 3, 2, 1) across times (1, 2, 1) down; EBU R 103 v3.0."""

# BT.709-6, item 3.2, and BT.2020-2, Table 4: the luma weights as printed, in ten-thousandths.
LUMA_WEIGHTS = {"bt709": (2126, 7152, 722), "bt2020": (2627, 6780, 593)}

CHANNELS = ("R", "G", "B", "Y")


@dataclass(frozen=True)
class Excursion:
    """The filtered value farthest beyond a limit: as a code (not whole after the filter), in % of signal, and where."""

    code: float
    percent: float
    row: int
    column: int


@dataclass(frozen=True)
class ChannelLegality:
    """One channel: how many pixels are below and above the range, and the worst of them."""

    channel: str
    below: int
    above: int
    lowest: Excursion | None
    highest: Excursion | None


@dataclass(frozen=True)
class Legality:
    """Signal legality of a frame.

    Attributes
    ----------
    limits : 'nominal', 'preferred' or 'total'
    low, high : the lowest and the highest legal code
    pixels : number of pixels looked at
    outside : pixels of which any channel, filtered, is outside; the stricter reading of the area rule
    outside_unfiltered : the same before the filter
    reserved : samples of R, G and B, unfiltered, on codes that are reserved for timing; none is ever legal
    channels : R, G, B and Y
    tolerance : share of the pixels that may be outside
    """

    limits: str
    low: int
    high: int
    pixels: int
    outside: int
    outside_unfiltered: int
    reserved: int
    channels: tuple[ChannelLegality, ...]
    tolerance: float

    @property
    def share(self) -> float:
        """Share (0..1) of the pixels that are outside."""
        return self.outside / self.pixels

    @property
    def is_legal(self) -> bool:
        """Whether the frame keeps the range, within the area tolerance, and uses no reserved code."""
        return self.share <= self.tolerance and not self.reserved

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON, the share and the verdict among them."""
        return {**asdict(self), "share": self.share, "is_legal": self.is_legal}

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> "Legality":
        """Return what `to_dict` wrote."""
        rest = {name: value for name, value in values.items() if name not in ("channels", "share", "is_legal")}

        def excursion(value: Mapping[str, Any] | None) -> Excursion | None:
            return Excursion(**value) if value else None

        channels = tuple(
            ChannelLegality(
                item["channel"], item["below"], item["above"], *map(excursion, (item["lowest"], item["highest"]))
            )
            for item in values["channels"]
        )
        return cls(**rest, channels=channels)


def luma(codes: Codes, encoding: Encoding) -> Codes:
    """Return Y' as code values (...), rounded half up, of R'G'B' code values (..., 3).

    The weights are BT.2020's for BT.2020 primaries, and BT.709's for all others.
    """
    red, green, blue = LUMA_WEIGHTS["bt2020" if encoding.primaries == "bt2020" else "bt709"]
    mixed = np.full(codes.shape[:-1], 5000, np.uint32)
    for channel, weight in enumerate((red, green, blue)):
        mixed += codes[..., channel] * np.uint32(weight)
    return (mixed // np.uint32(10000)).astype(np.uint16)


def filtered(codes: Codes, is_interlaced: bool = False) -> Sums:
    """Filter one channel (rows, columns) as EBU R 103 v3.0 measures it; the result is `FILTER_SUM` times as large.

    Across, a quarter-band filter (1, 2, 3, 4, 3, 2, 1) / 16; down, a half-band filter (1, 2, 1) / 4, within each field
    of an interlaced picture. The Recommendation says nothing of borders: the outermost pixels are repeated here.

    Examples
    --------
    >>> step = np.repeat(np.array([[64, 64, 64, 64, 940, 940, 940, 940]], np.uint16), 3, axis=0)
    >>> (filtered(step)[1] / FILTER_SUM).tolist()
    [64.0, 118.75, 228.25, 392.5, 611.5, 775.75, 885.25, 940.0]
    """
    if is_interlaced and codes.shape[0] > 1:
        result = np.empty(codes.shape, np.uint32)
        for field in (0, 1):
            result[field::2] = filtered(codes[field::2])
        return result
    # Up to 10 bits the sums fit into the codes' own type, which is faster.
    is_small = int(codes.max()) * FILTER_SUM <= np.iinfo(np.uint16).max
    exact: Sums = codes if is_small else codes.astype(np.uint32)
    return _filtered_inside(np.pad(exact, ((1, 1), (3, 3)), mode="edge"))


def _filtered_inside(padded: NDArray[Any]) -> Sums:
    """Filter what has one row and three columns more on each side, by sums of two and two neighbours."""
    down = padded[:-1] + padded[1:]
    down = down[:-1] + down[1:]
    for _ in range(2):  # (1, 1, 1, 1) twice is (1, 2, 3, 4, 3, 2, 1)
        pairs = down[:, :-1] + down[:, 1:]
        down = pairs[:, :-2] + pairs[:, 2:]
    return down


def measure_legality(
    picture: Picture,
    limits: str = NOMINAL,
    *,
    area: Rectangle | None = None,
    tolerance: float = AREA_TOLERANCE,
    is_interlaced: bool = False,
) -> Legality:
    """Measure a frame's code values against a range of EBU R 103 v3.0, after its filter.

    What the filter gives is rounded to a whole code before it is compared: a ripple of less than half a code is no
    excursion. The Recommendation doesn't say so; published test files with known shares do (tests/measure).

    Parameters
    ----------
    picture : code values in narrow range, not clipped to nominal
    limits : 'nominal' for graded material, 'preferred' for live, 'total' for all that is not reserved
    area : the part of the frame that counts; None for all of it. The filter reaches beyond it, where there is picture
    tolerance : share of the image that may be outside
    is_interlaced : whether rows alternate between two fields

    Raises
    ------
    WrongCall
        For an unknown range, and for samples that are not in narrow range.

    References
    ----------
    EBU R 103 v3.0 (2020), Table 1.

    Examples
    --------
    >>> codes = np.full((8, 8, 3), 64, np.uint16)
    >>> codes[:, 4:, 0] = 1000
    >>> legality = measure_legality(Picture(codes, Encoding("bt1886", "bt709", "narrow", 10)))
    >>> legality.share, round(legality.channels[0].highest.percent, 1)
    (0.25, 106.8)
    """
    low, high = _limits(picture.encoding, limits)
    area = (area or whole_frame(picture.rows, picture.columns)).checked(picture.rows, picture.columns)
    outside, unfiltered = np.zeros((2, area.rows, area.columns), bool)
    channels = []
    for name, codes in _channels(picture):
        values = filtered(codes, is_interlaced)[area.slices]
        below, above = _beyond(values, low, high)
        outside |= below | above
        unfiltered |= (codes[area.slices] < low) | (codes[area.slices] > high)
        channels.append(
            ChannelLegality(
                name,
                int(np.count_nonzero(below)),
                int(np.count_nonzero(above)),
                _excursion(values, int(values.argmin()), area, picture.encoding) if below.any() else None,
                _excursion(values, int(values.argmax()), area, picture.encoding) if above.any() else None,
            )
        )
    lowest, highest = LIMITS[TOTAL][picture.encoding.bits or 0]
    counted = picture.samples[area.slices]
    return Legality(
        limits,
        low,
        high,
        area.pixels,
        int(np.count_nonzero(outside)),
        int(np.count_nonzero(unfiltered)),
        int(np.count_nonzero((counted < lowest) | (counted > highest))),
        tuple(channels),
        tolerance,
    )


def illegal_mask(picture: Picture, limits: str = NOMINAL, *, is_interlaced: bool = False) -> Mask:
    """Return which pixels (rows, columns) of a frame `measure_legality` counts as outside."""
    low, high = _limits(picture.encoding, limits)
    mask = np.zeros(picture.samples.shape[:2], bool)
    for _, codes in _channels(picture):
        below, above = _beyond(filtered(codes, is_interlaced), low, high)
        mask |= below | above
    return mask


def _beyond(values: Sums, low: int, high: int) -> tuple[Mask, Mask]:
    """Return where filtered values, rounded half up to whole codes, are below and above a range of codes."""
    half = FILTER_SUM // 2
    return values < low * FILTER_SUM - half, values >= high * FILTER_SUM + half


def _channels(picture: Picture) -> Iterator[tuple[str, Codes]]:
    for index, name in enumerate(CHANNELS[:3]):
        yield name, picture.samples[..., index].astype(np.uint16)
    yield CHANNELS[3], luma(picture.samples.astype(np.uint16), picture.encoding)


def _limits(encoding: Encoding, limits: str) -> tuple[int, int]:
    if limits not in LIMITS:
        raise WrongCall(f"range '{limits}' of EBU R 103 is not known; {suggestion(limits, list(LIMITS))}")
    if encoding.bits is None or encoding.signal_range != NARROW:
        raise WrongCall(
            f"signal legality needs code values in narrow range, not {encoding.title}; "
            "EBU R 103 says nothing of other signals"
        )
    return LIMITS[limits][encoding.bits]


def _excursion(values: Sums, index: int, area: Rectangle, encoding: Encoding) -> Excursion:
    row, column = divmod(index, values.shape[1])
    code = float(values[row, column]) / FILTER_SUM
    scale, offset = scale_and_offset(encoding.bits or 0, encoding.signal_range)
    return Excursion(code, 100.0 * (code - offset) / scale, area.top + row, area.left + column)
