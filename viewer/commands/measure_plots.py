"""trimbench measure --plots: the pictures of a measurement, of the frame that has the brightest pixel."""

from pathlib import Path
from typing import Any

import numpy as np

from tonemap.errors import TrimbenchError
from tonemap.measure.active_area import whole_frame
from tonemap.measure.frame import coded_as, light_of
from tonemap.measure.session import Session
from tonemap.media.whole_file import refuse_existing
from tonemap.picture import Picture
from tonemap.scopes import level_history

from ..plots import PAPER, SCREEN, Subject, master_plots, programme_plots, rendition_plots, write_plots
from ..plots.counting import MasterScopes, RenditionScopes
from ..plots.sets import MASTER_SIGNAL, file_stem
from ..plots.writing import KINDS

WIDTH = 2400


def refuse_existing_plots(session: Session, folder: Path) -> None:
    """Raise TrimbenchError if a plot that a session will write exists: before the work, which takes long."""
    if folder.exists() and not folder.is_dir():
        raise TrimbenchError(f"{folder}: this is a file; give a folder for the plots")
    for name in plot_names(session):
        for kind in KINDS:
            refuse_existing(folder / f"{name}.{kind}", overwrite=False)


def plot_names(session: Session) -> list[str]:
    """Return the names of the plots that a session whose frames can be read will write, without their endings."""
    speck = Picture(np.zeros((1, 1, 3), np.float32), MASTER_SIGNAL)
    plots = dict(master_plots(MasterScopes(1, session.master.encoding.peak), Subject("", ""), speck))
    for chain, prefix in zip(session.chains, _prefixes(session), strict=True):
        target = chain.rendition.target
        map_or_none = None if chain.rendition.name == session.baseline.name else np.zeros((1, 1))
        codes = Picture(np.zeros((1, 1, 3), np.uint16), target)
        plots |= rendition_plots(RenditionScopes(1, target), Subject("", ""), codes, map_or_none, prefix=prefix)
    if len(session.plan.indices) > 1:
        plots |= programme_plots(level_history(()), Subject("", ""))
    return list(plots)


def _prefixes(session: Session) -> list[str]:
    """Return what the names of each rendition's plots begin with; equal names are numbered."""
    stems = [file_stem(chain.rendition.name) for chain in session.chains]
    counts = [stems[: place + 1].count(stem) for place, stem in enumerate(stems)]
    return [stem if count == 1 else f"{stem}-{count}" for stem, count in zip(stems, counts, strict=True)]


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
    about = facts.stored.title[:1].upper() + facts.stored.title[1:]
    assert frame.content is not None  # it has MaxCLL
    coded = coded_as(frame.content, frame.encoding)
    plots = dict(master_plots(scopes, Subject(title, f"{about}{part}"), inside, coded=coded, **look))
    if session.chains:
        light = light_of(frame)
        compared = session.compared(picture, light, session.codes_of(frame))
        for found, (shown, other), prefix in zip(session.renditions, compared, _prefixes(session), strict=True):
            chain = shown.chain
            rendition_scopes = RenditionScopes(inside.columns, chain.rendition.target)
            rendition_scopes.add(shown.codes[area.slices])
            subject = Subject(
                chain.rendition.name,
                f"{title}. {chain.rendition.target.title}{part}",
                f"Difference from {session.baseline.title}, at all levels",
            )
            plots |= rendition_plots(
                rendition_scopes,
                subject,
                Picture(shown.codes, chain.rendition.target),
                session.difference_map(shown, other),
                limits=found.limits,
                area=area,
                prefix=prefix,
                **look,
            )
    if is_programme:
        plots |= programme_plots(level_history(levels.history), Subject(facts.path.name, about), **look)
    return write_plots(folder, plots, overwrite=overwrite)
