"""trimbench measure --plots: the pictures of a measurement, of the frame that has the brightest pixel."""

from pathlib import Path

import numpy as np

from tonemap.measure.frame import in_bands, light_of
from tonemap.measure.rendition_figures import difference_map
from tonemap.measure.session import Session
from tonemap.picture import Picture
from tonemap.scopes import level_history

from ..plots import Subject, master_plots, programme_plots, rendition_plots, write_plots
from ..plots.counting import MasterScopes, RenditionScopes
from ..plots.sets import file_stem

WIDTH = 2400


def write(session: Session, folder: Path, overwrite: bool) -> list[Path]:
    """Write the plots of a session that has measured at least one frame; returns their paths.

    A programme is shown by the frame that has MaxCLL, and by the history of its levels.
    """
    master, levels = session.master, session.figures.levels
    facts, figures = master.facts, levels.figures
    index = master.index(figures.max_cll_frame)
    (frame,) = master.frames(index, index)
    is_programme = levels.frames > 1
    name = frame.name if is_programme else facts.path.name
    picture = frame.picture
    scopes = MasterScopes(picture.columns, max(facts.encoding.peak, figures.max_cll_nits))
    scopes.add(picture)
    title = f"{facts.path.name}, {name}" if is_programme else name
    plots = dict(master_plots(scopes, Subject(title, facts.stored.title), picture, width=WIDTH))
    if session.chains:
        light = np.ascontiguousarray(light_of(frame))
        stems: list[str] = []
        for chain, found in zip(session.chains, session.renditions, strict=True):
            assert session.engine is not None  # it has measured the renditions
            codes = session.engine.codes(picture, chain)
            still = Picture(codes, chain.rendition.target)
            shown = np.concatenate(in_bands(still, lambda band, _: np.ascontiguousarray(band, np.float32)))
            rendition_scopes = RenditionScopes(picture.columns, chain.rendition.target)
            rendition_scopes.add(codes)
            subject = Subject(chain.rendition.name, f"{title}. {chain.rendition.target.title}")
            stem = file_stem(chain.rendition.name)
            stems.append(stem)
            plots |= rendition_plots(
                rendition_scopes,
                subject,
                still,
                difference_map(light, shown),
                limits=found.limits,
                width=WIDTH,
                prefix=stem if stems.count(stem) == 1 else f"{stem}-{stems.count(stem)}",
            )
    if is_programme:
        plots |= programme_plots(
            level_history(levels.history), Subject(facts.path.name, facts.stored.title), width=WIDTH
        )
    return write_plots(folder, plots, overwrite=overwrite)
