"""The plots of a measurement: of the frame that has MaxCLL, of its renditions, and of the levels of all frames."""

from typing import Any

from tonemap.difference import delta_e_itp
from tonemap.encoding import decode
from tonemap.errors import TrimbenchError
from tonemap.measure.session import Session
from tonemap.picture import Picture
from tonemap.scopes import level_history

from .counting import MasterScopes, RenditionScopes
from .look import SCREEN, Look
from .sets import Plots, Subject, file_stem, master_plots, programme_plots, rendition_plots


def session_plots(session: Session, *, look: Look = SCREEN, width: int = 2400) -> Plots:
    """Return the plots of a session that has measured at least one frame.

    The frame with MaxCLL is read again for the scopes, the masks and the renditions; with several frames the level
    history joins them. Raises TrimbenchError when no frame could be measured.
    """
    levels = session.figures.levels
    if not levels.frames:
        raise TrimbenchError("no frame was measured, so there is nothing to plot; check that the master has frames")
    figures = levels.figures
    master, facts = session.master, session.master.facts
    index = master.index(figures.max_cll_frame)
    (frame,) = master.frames(index, index)
    picture = frame.picture
    name = facts.path.name
    place = f", frame {figures.max_cll_frame}, which has MaxCLL" if levels.frames > 1 else ""
    about = f"{picture.columns} \u00d7 {picture.rows} pixels, {picture.encoding.title}"
    scopes = MasterScopes(picture.columns, max(picture.encoding.peak, float(figures.max_cll)))
    scopes.add(picture)
    options: dict[str, Any] = {"look": look, "width": width}
    plots = dict(master_plots(scopes, Subject(f"{name}{place}", about), picture, **options))
    if levels.frames > 1:
        history = level_history(levels.history)
        plots |= programme_plots(history, Subject(name, f"{levels.frames} frames, {about}"), **options)
    stems: set[str] = set()
    for chain in session.chains:
        plots |= _of_rendition(session, chain, picture, f"{name}{place}", stems, options)
    return plots


def _of_rendition(
    session: Session, chain: Any, picture: Picture, of: str, stems: set[str], options: dict[str, Any]
) -> Plots:
    assert session.engine is not None  # a session with renditions has one
    target = chain.rendition.target
    codes = session.engine.codes(picture, chain)
    scopes = RenditionScopes(picture.columns, target)
    scopes.add(codes)
    differences = delta_e_itp(decode(picture.samples, picture.encoding), decode(codes, target))
    stem = file_stem(chain.rendition.name)
    while stem in stems:
        stem += "-2"
    stems.add(stem)
    subject = Subject(chain.rendition.name, f"Rendition of {of}, {target.title}")
    return rendition_plots(scopes, subject, Picture(codes, target), differences, prefix=stem, **options)
