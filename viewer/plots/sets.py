"""Which plots there are of a master, of a rendition and of a programme: their names, and how each is made."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from tonemap.anchors import GREY_NITS, WHITE_NITS
from tonemap.arrays import Array
from tonemap.encoding import Encoding
from tonemap.measure.active_area import Rectangle
from tonemap.measure.frame import gamut_tolerance
from tonemap.measure.gamut_share import TOLERANCE
from tonemap.measure.legality import NOMINAL, PREFERRED
from tonemap.measure.light_of_rows import light_of_rows
from tonemap.measure.monitor import MonitorFigures
from tonemap.picture import Picture
from tonemap.scopes import LevelHistory, skin_angle
from tonemap.signal_range import NARROW
from tonemap.transfer import pq_eotf_inverse

from .axis import Level, nits
from .chromaticity import chromaticity_figure
from .counting import MasterScopes, RenditionScopes
from .difference import difference_figure
from .histogram import histogram_figure
from .history import history_figure
from .look import SCREEN, Look
from .masks import gamut_mask_figure, legality_mask_figure
from .monitor import monitor_figure
from .vectorscope import vectorscope_figure
from .waveform import waveform_figure

Plots = Mapping[str, Callable[[], Any]]
"""By the name of the file, without its ending: what makes the figure."""

PQ_BAR = 0.58  # Recommendation ITU-R BT.2111
SDR_BARS = (0.75, 1.0)
PREFERRED_10 = (20, 984)  # EBU R 103 v3.0, Table 1
MASTER_SIGNAL = Encoding("pq", "bt2020")


@dataclass(frozen=True)
class Subject:
    """What plots are of, in words: a title, a line about it such as the encoding, and what a heat map is."""

    title: str
    about: str
    compared: str = "Difference from the master"

    def shown(self, what: str) -> dict[str, Any]:
        """Return the title and the line of a plot that shows `what`."""
        return {"title": self.title, "about": f"{what}. {self.about}"}


def master_plots(
    scopes: MasterScopes,
    subject: Subject,
    still: Picture | None = None,
    *,
    coded: Encoding | None = None,
    look: Look = SCREEN,
    width: int = 2400,
) -> Plots:
    """Return the plots of a master.

    Parameters
    ----------
    scopes : with at least one frame added
    still : the frame for the gamut mask; None for no mask
    coded : of the codes that the still comes from, as `coded_as` gives it, so that the mask marks what is counted as
        outside; None where they are its own
    """
    peak = scopes.highest if scopes.peak is None else scopes.peak
    named = (
        Level(peak, f"master's peak, {nits(peak)}", is_strong=False),
        Level(WHITE_NITS, f"reference white, {nits(WHITE_NITS)}"),
        Level(GREY_NITS, f"18 % grey, {nits(GREY_NITS)}"),
    )
    levels = tuple(level for level in named if level.value <= scopes.highest)
    look_and_size: dict[str, Any] = {"look": look, "width": width}
    light: dict[str, Any] = {**look_and_size, "levels": levels}
    panels: dict[str, Any] = {**light, "names": {"Y": "luminance"}}
    plots: dict[str, Callable[[], Any]] = {
        "waveform-pq": partial(
            waveform_figure,
            scopes.waveform_pq,
            **subject.shown("Waveform of light, BT.2020, spaced as PQ"),
            **panels,
        ),
        "waveform-log": partial(
            waveform_figure,
            scopes.waveform_log,
            **subject.shown("Waveform of light, BT.2020, on a logarithmic axis"),
            **panels,
        ),
        "histogram": partial(
            histogram_figure, scopes.histogram, **subject.shown("Histogram of light, BT.2020, spaced as PQ"), **light
        ),
        "vectorscope": partial(
            vectorscope_figure,
            scopes.vectorscope,
            **subject.shown("Vectorscope of the light as a PQ signal, BT.2020"),
            bars=(PQ_BAR, max(PQ_BAR, float(pq_eotf_inverse(np.array(scopes.highest))))),
            skin=skin_angle(MASTER_SIGNAL),
            **look_and_size,
        ),
        "chromaticity": partial(
            chromaticity_figure,
            scopes.chromaticity,
            **subject.shown("Chromaticities, CIE 1976 u'v'"),
            **look_and_size,
        ),
    }
    if still is not None:
        plots["gamut-mask"] = partial(
            _gamut_mask,
            still,
            coded or still.encoding,
            **subject.shown("What lies outside BT.709 and P3-D65"),
            **look_and_size,
        )
    return plots


def rendition_plots(
    scopes: RenditionScopes,
    subject: Subject,
    still: Picture | None = None,
    differences: Array | None = None,
    *,
    prefix: str | None = None,
    limits: str = NOMINAL,
    area: Rectangle | None = None,
    look: Look = SCREEN,
    width: int = 2400,
) -> Plots:
    """Return the plots of a rendition.

    Parameters
    ----------
    scopes : with at least one frame added
    still : the frame of code values for the legality mask; no mask is made of None and of full range
    differences : map of Delta E ITP (rows, columns); None for no heat map
    prefix : what the names of the files begin with; None for the subject's title
    limits : range of EBU R 103 for the mask
    area : part of `still` that the mask shows and counts; None for all of it
    """
    target = scopes.target
    low, high = ((code - 64) / 876.0 for code in PREFERRED_10)
    levels: tuple[Level, ...] = (Level(1.0, "nominal white"), Level(0.0, "nominal black"))
    if target.signal_range == NARROW:
        levels = (
            Level(high, "R 103 preferred, 105 %", False),
            *levels,
            Level(low, "R 103 preferred, \u22125 %", False),
        )
    look_and_size: dict[str, Any] = {"look": look, "width": width}
    prefix = prefix or file_stem(subject.title)
    plots: dict[str, Callable[[], Any]] = {
        f"{prefix}-waveform": partial(
            waveform_figure,
            scopes.waveform,
            **subject.shown("Waveform of the signal"),
            levels=levels,
            names={"Y": "luma", "R": "R'", "G": "G'", "B": "B'"},
            **look_and_size,
        ),
        f"{prefix}-histogram": partial(
            histogram_figure, scopes.histogram, **subject.shown("Histogram of the signal"), **look_and_size
        ),
        f"{prefix}-vectorscope": partial(
            vectorscope_figure,
            scopes.vectorscope,
            **subject.shown("Vectorscope"),
            bars=SDR_BARS,
            skin=skin_angle(target),
            **look_and_size,
        ),
    }
    if still is not None and target.signal_range == NARROW:
        what = "Graded material" if limits == NOMINAL else "Live material" if limits == PREFERRED else "All material"
        plots[f"{prefix}-legality"] = partial(
            legality_mask_figure,
            still,
            **subject.shown(f"Signal legality. {what}"),
            limits=limits,
            area=area,
            **look_and_size,
        )
    if differences is not None:
        plots[f"{prefix}-difference"] = partial(
            difference_figure, differences, **subject.shown(subject.compared), **look_and_size
        )
    return plots


def programme_plots(history: LevelHistory, subject: Subject, *, look: Look = SCREEN, width: int = 2400) -> Plots:
    """Return the plots of a programme: the level history."""
    what = subject.shown("Light levels of each frame")
    return {"level-history": partial(history_figure, history, **what, look=look, width=width)}


def monitor_plots(figures: MonitorFigures, subject: Subject, *, look: Look = SCREEN, width: int = 2400) -> Plots:
    """Return the plot of a monitor's readings."""
    what = subject.shown(f"{len(figures.patches)} patches")
    return {"monitor": partial(monitor_figure, figures, **what, look=look, width=width)}


def file_stem(name: str) -> str:
    """Return a name that is safe in a file's name.

    Examples
    --------
    >>> file_stem("BT.2390, stop -0.5 / soft")
    'bt-2390-stop-0-5-soft'
    """
    return "-".join(re.findall(r"\w+", name.lower())) or "unnamed"


def _gamut_mask(still: Picture, coded: Encoding, **options: Any) -> Any:
    tolerance = TOLERANCE if coded.bits is not None else gamut_tolerance(still)
    light = np.asarray(light_of_rows(still, 0, still.rows))
    return gamut_mask_figure(light, encoding=coded, tolerance=tolerance, **options)
