"""How bright a pattern is, and when a caution comes before it: by its peak with the area of that, and by its mean."""

from dataclasses import dataclass

from ..arrays import Codes
from ..colorimetry import luminance
from ..encoding import Encoding, decode

BRIGHT_MEAN = 200.0
"""cd/m2 over the whole picture. Common practice, no source."""

BRIGHT_PART, BRIGHT_SHARE = 1000.0, 0.01
"""cd/m2, and the share of the area that is above it. Common practice, no source."""

RULE = (
    f"A caution comes before a mean of {BRIGHT_MEAN:g} cd/m\u00b2 or more, and before more than {BRIGHT_PART:g} "
    f"cd/m\u00b2 on {100.0 * BRIGHT_SHARE:g} % of the area."
)


@dataclass(frozen=True)
class Brightness:
    """The light of a picture.

    Attributes
    ----------
    peak, mean : luminance in cd/m2
    share : of the area that is above `BRIGHT_PART`, 0..1
    """

    peak: float
    mean: float
    share: float

    @property
    def is_bright_on_the_whole(self) -> bool:
        """Whether the mean is so high that the picture is written only when it is asked for."""
        return self.mean >= BRIGHT_MEAN

    @property
    def is_very_bright(self) -> bool:
        """Whether a caution comes before it, by `RULE`."""
        return self.is_bright_on_the_whole or self.share >= BRIGHT_SHARE

    @property
    def words(self) -> str:
        """Say how bright it is."""
        share = f"{100.0 * self.share:.{0 if self.share >= 0.1 else 1}f} %"
        part = f", more than {BRIGHT_PART:g} on {share} of the area" if self.share > 0.0 else ""
        return f"up to {self.peak:.0f} cd/m\u00b2{part}, mean {self.mean:.0f}"


def brightness(codes: Codes, encoding: Encoding) -> Brightness:
    """Measure code values (rows, columns, 3) of 16 bits as a screen of an encoding shows them."""
    light = luminance(decode(codes, encoding))
    step = 1.001  # of codes at `BRIGHT_PART`, of which none says it exactly
    return Brightness(float(light.max()), float(light.mean()), float((light > step * BRIGHT_PART).mean()))
