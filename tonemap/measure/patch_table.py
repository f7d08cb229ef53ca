"""The figures of marked regions, on the master and on its renditions, as plain values."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from ..arrays import Array
from ..encoding import Encoding
from ..rendition import Chain
from .patch_roll_off import roll_off
from .patches import KINDS, Patch, master_figures, rendition_figures
from .reference_levels import reference_levels


def patch_rows(
    patches: Sequence[Patch], light: Array, encoding: Encoding, renditions: Sequence[tuple[Chain, Array]]
) -> list[dict[str, Any]]:
    """Measure patches on one frame.

    Parameters
    ----------
    light : ndarray (rows, columns, 3), the master's, BT.2020, cd/m2
    encoding : the master's
    renditions : each with its R'G'B' signal (rows, columns, 3), 0..1
    """
    rows = []
    for patch in patches:
        mask = patch.mask(light.shape[0], light.shape[1])
        rows.append(
            {
                **asdict(patch),
                "title": KINDS[patch.kind],
                "master": asdict(master_figures(mask, light, encoding)),
                "references": [asdict(levels) for levels in reference_levels(patch.kind)],
                "renditions": [
                    {
                        "name": chain.rendition.name,
                        **asdict(rendition_figures(mask, signal, chain)),
                        "roll_off": asdict(roll_off(mask, light, chain)),
                    }
                    for chain, signal in renditions
                ],
            }
        )
    return rows
