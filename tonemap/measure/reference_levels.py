"""Published levels of skin, grey and white, to be shown as bands beside a patch's figures and never as pass or fail."""

from dataclasses import dataclass

Band = tuple[float, float]


@dataclass(frozen=True)
class ReferenceLevels:
    """A level or a range that a published source gives for one kind of patch.

    Attributes
    ----------
    kind : kind of patch
    nits : in cd/m2 at 1000 cd/m2 nominal peak; None where the source gives none
    pq_percent, hlg_percent, sdr_percent : in percent of the signal; None where the source gives none
    note : what the source itself says of its value
    """

    kind: str
    title: str
    nits: Band | None
    pq_percent: Band | None
    hlg_percent: Band | None
    sdr_percent: Band | None
    source: str
    note: str = ""


_TABLE_1 = "Report ITU-R BT.2408-8, Table 1"
_TABLE_2 = "Report ITU-R BT.2408-8, Table 2"
_FEW = "indicative; the Report calls its data for types 1, 5 and 6 thin"

REFERENCE_LEVELS = (
    ReferenceLevels(
        "skin", "light skin, types 1 and 2", (65.0, 110.0), (45.0, 55.0), (55.0, 65.0), None, _TABLE_2, _FEW
    ),
    ReferenceLevels(
        "skin", "medium skin, types 3 and 4", (40.0, 85.0), (40.0, 50.0), (45.0, 60.0), None, _TABLE_2, "indicative"
    ),
    ReferenceLevels("skin", "dark skin, types 5 and 6", (10.0, 40.0), (30.0, 40.0), (25.0, 45.0), None, _TABLE_2, _FEW),
    ReferenceLevels(
        "skin",
        "faces in Japanese studio news, SDR",
        None,
        None,
        None,
        (68.6, 80.6),
        "Report ITU-R BT.2408-8, Annex 4",
        "mean 74.6 % with one standard deviation of 6; European and American broadcasts show faces much darker",
    ),
    ReferenceLevels("grey", "18 % grey card", (26.0, 26.0), (38.0, 38.0), (38.0, 38.0), None, _TABLE_1),
    ReferenceLevels("white", "90 % white of a grey scale", (179.0, 179.0), (57.0, 57.0), (73.0, 73.0), None, _TABLE_1),
    ReferenceLevels("white", "reference white", (203.0, 203.0), (58.0, 58.0), (75.0, 75.0), None, _TABLE_1),
)


def reference_levels(kind: str) -> tuple[ReferenceLevels, ...]:
    """Return the published levels for a kind of patch; none for kinds that have none.

    Examples
    --------
    >>> [levels.nits for levels in reference_levels("grey")]
    [(26.0, 26.0)]
    """
    return tuple(levels for levels in REFERENCE_LEVELS if levels.kind == kind)
