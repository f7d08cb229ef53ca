"""What a rendition's picture is compared with: the master, another rendition, or itself by the reference engine."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import Array
from ..difference import DifferenceStatistics, delta_e_itp, difference_statistics, within_sdr_range
from ..errors import WrongCall, suggestion
from ..parity import Engine
from ..picture import Picture
from ..reference import ReferenceEngine
from ..rendition import Chain
from .active_area import Rectangle
from .rendition_figures import Rendered, rendered

MASTER, REFERENCE = "master", "reference"


@dataclass(frozen=True)
class Baseline:
    """The other picture of a difference, and the light of the master up to which it counts.

    Attributes
    ----------
    name : 'master', 'reference', or the name of a rendition
    below : cd/m2 of the master's luminance; None for the target's peak where the master is the other picture, else for
        all levels
    """

    name: str = MASTER
    below: float | None = None

    def checked(self, chains: Sequence[Chain], engine: Engine | None) -> "Baseline":
        """Return it; raises WrongCall if these renditions and this engine give no such picture."""
        known = [MASTER, REFERENCE, *(chain.rendition.name for chain in chains)]
        if self.below is not None and not self.below > 0.0:
            raise WrongCall(f"differences below {self.below:g} cd/m2 are of no pixel; give a luminance above 0")
        if self != Baseline() and not chains:
            raise WrongCall("a difference is that of a rendition; give one, with --tone or --sheet")
        if self.name == REFERENCE and isinstance(engine, ReferenceEngine):
            raise WrongCall(
                "the renditions are computed by the reference engine and can't differ from it; "
                "compare the other engine, with --engine gpu"
            )
        if self.name not in known:
            raise WrongCall(f"nothing called '{self.name}' can be compared with; {suggestion(self.name, known)}")
        return self

    @property
    def title(self) -> str:
        """What it is, in words."""
        return {MASTER: "the master", REFERENCE: "the reference engine"}.get(self.name, f"'{self.name}'")

    def limit(self, chain: Chain) -> float | None:
        """Return the luminance of the master in cd/m2 up to which a rendition's difference counts; None for all."""
        return chain.rendition.target.peak if self.below is None and self.name == MASTER else self.below

    def light(self, picture: Picture, master: Array, chain: Chain, others: Sequence[Rendered]) -> Array | None:
        """Return the other picture's light (rows, columns, 3) in cd/m2; None where a rendition would meet itself.

        Parameters
        ----------
        master : the light of `picture`, BT.2020, cd/m2
        others : the frame of the rendition that is the other picture, where one is
        """
        if self.name == MASTER:
            return master
        if self.name == REFERENCE:
            return rendered(ReferenceEngine().codes(picture, chain), chain).light
        return None if chain.rendition.name == self.name else others[0].light

    def statistics(
        self, frame: Rendered, other: Array | None, master: Array, area: Rectangle
    ) -> DifferenceStatistics | None:
        """Return the difference within the active area, as far as it counts; None where there is nothing to count."""
        if other is None:
            return None
        limit, inside = self.limit(frame.chain), area.slices
        mask = None if limit is None else within_sdr_range(master[inside], limit)
        return difference_statistics(difference_map(other[inside], frame.light[inside]), mask)


def difference_map(light: Array, other: Array, rows: int = 64) -> Array:
    """Return Delta E ITP (rows, columns) of two pictures' light, some rows at a time: the temporaries stay small."""
    starts = range(0, light.shape[0], rows)
    return np.concatenate([delta_e_itp(light[start : start + rows], other[start : start + rows]) for start in starts])
