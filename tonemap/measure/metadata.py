"""What an HDR file says of its own light and colour, and where the picture contradicts it."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from ..colorimetry import Chromaticity, Primaries

CHROMATICITY_STEP = 0.00002  # SMPTE ST 2086:2018, of x and of y
LUMINANCE_STEP = 0.0001  # SMPTE ST 2086:2018, of the minimum luminance, cd/m2; files code both luminances in it
MAXIMUM_STEP = 1.0  # SMPTE ST 2086:2018, of the maximum luminance, cd/m2
ROUNDING = 1e-6  # relative: the last bits of float32


@dataclass(frozen=True)
class MasteringDisplay:
    """The display on which the master was graded; SMPTE ST 2086:2018.

    Attributes
    ----------
    red, green, blue, white : CIE 1931 xy; None where the file gives no chromaticities
    maximum, minimum : luminance in cd/m2; None where the file gives none
    """

    red: Chromaticity | None = None
    green: Chromaticity | None = None
    blue: Chromaticity | None = None
    white: Chromaticity | None = None
    maximum: float | None = None
    minimum: float | None = None

    @property
    def primaries(self) -> Primaries | None:
        """The display's primaries; None if the file doesn't give all four chromaticities."""
        if self.red is None or self.green is None or self.blue is None or self.white is None:
            return None
        return Primaries("mastering display", self.red, self.green, self.blue, self.white)

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON."""
        return asdict(self)


@dataclass(frozen=True)
class ContentLight:
    """Content light level of a programme in whole cd/m2, 0 or None if unknown; CTA-861.3, Annex A."""

    max_cll: int | None = None
    max_fall: int | None = None

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON."""
        return asdict(self)


@dataclass(frozen=True)
class HdrMetadata:
    """What travels with an HDR picture: SMPTE ST 2086 and CTA-861.3; None where it is not known."""

    content_light: ContentLight
    mastering_display: MasteringDisplay | None = None

    @property
    def whole_display(self) -> tuple[Primaries, float, float] | None:
        """The mastering display's primaries, maximum and minimum; None where one is open: ST 2086 has no 'unknown'."""
        display = self.mastering_display
        if display is None or display.primaries is None or display.maximum is None or display.minimum is None:
            return None
        return display.primaries, display.maximum, display.minimum


def contradictions(
    *,
    max_cll: int,
    max_fall: int,
    content_light: ContentLight | None = None,
    mastering_display: MasteringDisplay | None = None,
    peak: float | None = None,
    outside_share: float | None = None,
) -> tuple[str, ...]:
    """Compare what was measured with what the file's tags say.

    Parameters
    ----------
    max_cll, max_fall : measured, in whole cd/m2
    content_light, mastering_display : what the tags say; None where there are none
    peak : measured MaxCLL before it was rounded up, cd/m2; for the comparison with the display's maximum
    outside_share : largest share (0..1) of a frame's picture that lies outside the mastering primaries, if measured

    Returns
    -------
    tuple of str
        One sentence a contradiction; none if the tags agree with the picture, or say nothing.

    Examples
    --------
    >>> contradictions(max_cll=1204, max_fall=180, content_light=ContentLight(1000, 180))
    ('MaxCLL is 1204 cd/m2, above the 1000 of the tag',)
    """
    found = []
    measured = {"MaxCLL": max_cll, "MaxFALL": max_fall}
    tags = content_light or ContentLight()
    for (name, value), tag in zip(measured.items(), (tags.max_cll, tags.max_fall), strict=True):
        if tag and value > tag:
            found.append(f"{name} is {value} cd/m2, above the {tag} of the tag")
    if tags.max_cll and tags.max_fall and tags.max_fall > tags.max_cll:
        found.append(f"the tags give MaxFALL {tags.max_fall}, which can't be above MaxCLL {tags.max_cll}")
    if mastering_display is None:
        return tuple(found)
    maximum = mastering_display.maximum
    if peak is not None and maximum and peak > (maximum + 0.5 * MAXIMUM_STEP) * (1.0 + ROUNDING):
        found.append(f"the peak is {peak:.1f} cd/m2, above the {maximum:g} of the mastering display")
    if outside_share:
        found.append(f"up to {100.0 * outside_share:.3g} % of a frame lies outside the mastering display's primaries")
    return tuple(found)


def named_primaries(display: MasteringDisplay, known: dict[str, Primaries]) -> str | None:
    """Name the known primaries that are the display's, to within two steps of ST 2086; None if there are none.

    Examples
    --------
    >>> from tonemap.colorimetry import PRIMARIES
    >>> display = MasteringDisplay((0.68, 0.32), (0.265, 0.69), (0.15, 0.06), (0.3127, 0.329), 1000.0, 0.0001)
    >>> named_primaries(display, PRIMARIES)
    'p3-d65'
    """
    primaries = display.primaries
    if primaries is None:
        return None
    return next((name for name, other in known.items() if _near(_flat(primaries), _flat(other))), None)


def _flat(primaries: Primaries) -> tuple[float, ...]:
    return (*primaries.red, *primaries.green, *primaries.blue, *primaries.white)


def _near(some: Sequence[float], others: Sequence[float]) -> bool:
    return all(abs(one - other) <= 2.0 * CHROMATICITY_STEP for one, other in zip(some, others, strict=True))
