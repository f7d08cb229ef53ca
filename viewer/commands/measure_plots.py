"""trimbench measure --plots: the pictures of a measurement, of the frame that has the brightest pixel."""

from pathlib import Path
from typing import Any

import numpy as np

from tonemap.measure.active_area import whole_frame
from tonemap.measure.frame import light_of
from tonemap.measure.session import Session
from tonemap.picture import Picture
from tonemap.scopes import level_history

from ..plots import PAPER, SCREEN, Subject, master_plots, programme_plots, rendition_plots, write_plots
from ..plots.counting import MasterScopes, RenditionScopes
from ..plots.sets import file_stem

WIDTH = 2400


def write(session: Session, folder: Path, overwrite: bool, is_paper: bool = False) -> list[Path]:
    """Write the plots of a session that has measured at least one frame; returns their paths.

    A programme is shown by the frame that has MaxCLL, and by the history of its levels. Only the active area is drawn
    and counted.
    """
    master, levels, area = session.master, session.figures.levels, session.area
    facts, figures = master.facts, levels.figures
    index = master.index(figures.max_cll_frame)
    (frame,) = master.frames(index, index)
    is_programme = levels.frames > 1
    name = frame.name if is_programme else facts.path.name
    picture = frame.picture
    inside = Picture(picture.samples[area.slices], picture.encoding)
    scopes = MasterScopes(inside.columns, max(facts.encoding.peak, figures.max_cll_nits))
    scopes.add(inside)
    look: dict[str, Any] = {"look": PAPER if is_paper else SCREEN, "width": WIDTH}
    title = f"{facts.path.name}, {name}" if is_programme else name
    has_bars = area != whole_frame(facts.rows, facts.columns)
    part = f". Active area {area.text}, the rest left out" if has_bars else ""
    plots = dict(master_plots(scopes, Subject(title, f"{facts.stored.title}{part}"), inside, **look))
    if session.chains:
        light = np.ascontiguousarray(light_of(frame))
        stems: list[str] = []
        for found, (shown, other) in zip(session.renditions, session.compared(picture, light), strict=True):
            chain = shown.chain
            rendition_scopes = RenditionScopes(inside.columns, chain.rendition.target)
            rendition_scopes.add(shown.codes[area.slices])
            subject = Subject(
                chain.rendition.name,
                f"{title}. {chain.rendition.target.title}{part}",
                f"Difference from {session.baseline.title}, at all levels",
            )
            stem = file_stem(chain.rendition.name)
            stems.append(stem)
            plots |= rendition_plots(
                rendition_scopes,
                subject,
                Picture(shown.codes, chain.rendition.target),
                session.difference_map(shown, other),
                limits=found.limits,
                area=area,
                prefix=stem if stems.count(stem) == 1 else f"{stem}-{stems.count(stem)}",
                **look,
            )
    if is_programme:
        plots |= programme_plots(level_history(levels.history), Subject(facts.path.name, facts.stored.title), **look)
    return write_plots(folder, plots, overwrite=overwrite)
