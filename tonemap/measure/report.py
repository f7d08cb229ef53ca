"""What a measurement found, as plain values: the same for a table, for JSON and for a page."""

from dataclasses import asdict
from typing import Any

from ..rendition import Chain
from ..settings import settings_of
from .active_area import whole_frame
from .baseline import Baseline
from .flash import COUNTED, FlashMeter
from .frame_ranges import FrameRanges
from .legality import RANGE_TITLES
from .metadata import contradictions
from .profile_check import FAIL, ProfileCheck
from .rendition_figures import ZONES, RenditionFigures
from .session import Session
from .structure import ZONES as ZONE_MEANINGS


def report_of(session: Session) -> dict[str, Any]:
    """Return all that a session found, also when it was stopped halfway."""
    figures, has_levels = session.figures, session.figures.levels.frames > 0
    return {
        "master": _master(session),
        "measured": _measured(session),
        "levels": figures.levels.figures.to_dict() if has_levels else None,
        "gamut": {name: programme.to_dict() for name, programme in figures.gamuts.items()} if has_levels else None,
        "tags": _tags(session) if has_levels else None,
        "profile": _check(figures.check),
        "flash": _flash(session, figures.flash),
        "patches": {"frame": session.patch_frame, "skin": session.skin_sentence, "rows": session.patches},
        "renditions": [_rendition(session, place) for place in range(len(session.chains))],
        "history": [asdict(row) for row in figures.levels.history],
        "passes": passes(session),
    }


def passes(session: Session) -> bool:
    """Whether every frame could be read and no check of the profile fails."""
    checks = [session.figures.check, *(rendition.check for rendition in session.renditions)]
    return not session.faults and all(check is None or check.passes for check in checks)


def _master(session: Session) -> dict[str, Any]:
    facts = session.master.facts
    return {
        "file": str(facts.path),
        "kind": facts.kind,
        "format": facts.format,
        "encoding": facts.stored.title,
        "coding": facts.coding,
        "rows": facts.rows,
        "columns": facts.columns,
        "frames": facts.count,
        "rate": str(facts.rate) if facts.rate else None,
        "timecode": facts.timecode,
        "known from": dict(facts.origins),
        "notices": list(facts.notices),
    }


def _measured(session: Session) -> dict[str, Any]:
    indices, facts = session.plan.indices, session.master.facts
    number = session.master.number
    whole = whole_frame(facts.rows, facts.columns)
    return {
        "first": number(indices[0]),
        "last": number(indices[-1]),
        "step": session.plan.step,
        "frames": session.figures.levels.frames,
        "is complete": session.done == len(indices),
        "area": session.area.to_dict(),
        "area is": "said by the user" if session.plan.area else "found" if session.area != whole else "the whole frame",
        "faults": [{"frame": frame, "sentence": sentence} for frame, sentence in session.faults],
        "fault frames": fault_frames(session.faults),
        "odd samples": session.figures.odd.report(len(indices) > 1),
    }


def fault_frames(faults: list[tuple[int, str]]) -> str:
    """Return the frames that could not be read as a person writes them."""
    ranges = FrameRanges()
    for frame, _ in faults:
        ranges.add(frame)
    return ranges.text


def _tags(session: Session) -> dict[str, Any]:
    facts, levels = session.master.facts, session.figures.levels.figures
    gamut = session.mastering_gamut
    outside = session.figures.gamuts[gamut].worst_share if gamut else None
    found = contradictions(
        max_cll=levels.max_cll,
        max_fall=levels.max_fall,
        content_light=facts.content_light,
        mastering_display=facts.mastering_display,
        peak=levels.max_cll_nits,
        outside_share=outside,
    )
    return {
        "mastering display": facts.mastering_display.to_dict() if facts.mastering_display else None,
        "mastering primaries": gamut,
        "content light": facts.content_light.to_dict() if facts.content_light else None,
        "contradictions": list(found),
    }


def _check(check: ProfileCheck | None) -> dict[str, Any] | None:
    if check is None:
        return None
    checks = [item.to_dict() for item in check.checks]
    return {
        "name": check.profile.name,
        "title": check.profile.title,
        "passes": check.passes,
        "fails": [item["title"] for item in checks if item["status"] == FAIL],
        "checks": checks,
    }


def _flash(session: Session, meter: FlashMeter | None) -> dict[str, Any] | None:
    """Return a meter's report; it counts frames from the first one measured, and a user by their numbers."""
    if meter is None:
        return None
    report, indices, number = meter.report(), session.plan.indices, session.master.number
    spans = [
        {
            **asdict(span),
            "first_frame": number(indices[span.first_frame]),
            "last_frame": number(indices[span.last_frame]),
        }
        for span in report.spans
    ]
    return {**asdict(report), "spans": spans, "counted": COUNTED, "is_flagged": report.is_flagged}


def _rendition(session: Session, place: int) -> dict[str, Any]:
    chain, found = session.chains[place], session.renditions[place]
    rendition = chain.rendition
    return {
        "name": rendition.name,
        "tone": rendition.tone,
        "gamut": rendition.gamut,
        "settings": settings_of(rendition, chain.host),
        "target": rendition.target.title,
        "engine": session.engine.title if session.engine else None,
        "legality": _legality(found),
        "difference": _difference(found, session.baseline, chain),
        "structure": {**{zone: found.structure(zone) for zone in ZONES}, "zones": dict(ZONE_MEANINGS)},
        "profile": _check(found.check),
        "flash": _flash(session, found.flash),
    }


def _legality(found: RenditionFigures) -> dict[str, Any]:
    worst = found.worst_legality
    return {
        "range": found.limits,
        "title": RANGE_TITLES[found.limits],
        "is legal": None if worst is None else not found.illegal.count,
        "illegal frames": found.illegal.text,
        "worst frame": worst[0] if worst else None,
        "worst": worst[1].to_dict() if worst else None,
        "not measured": found.no_legality,
    }


def _difference(found: RenditionFigures, baseline: Baseline, chain: Chain) -> dict[str, Any]:
    worst = found.worst_difference
    return {
        "against": baseline.name,
        "against is": baseline.title,
        "below": baseline.limit(chain),
        "mean": found.mean_sum / found.frames if found.frames else None,
        "worst frame": worst[0] if worst else None,
        "worst": asdict(worst[1]) if worst else None,
    }
