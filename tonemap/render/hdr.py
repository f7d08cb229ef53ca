"""The HDR output: the master with a rendition's input adjustments alone, so that both versions can be approved."""

from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from ..adjustments import InputAdjustments, apply_input_adjustments
from ..encoding import Encoding, encoding_named
from ..errors import TrimbenchError, WrongCall
from ..measure.frame import light_of, measure_frame
from ..measure.master_figures import area_of
from ..measure.programme import ProgrammeFigures, ProgrammeLevels
from ..measure.sidecar import VERSION, content_light_entries
from ..media.ahead import ahead
from ..media.master import Frame
from ..picture import light_picture
from ..rendition import Rendition
from ..transfer import PQ_PEAK

if TYPE_CHECKING:
    from .programme import Programme

MASTER = "master"
HDR_TRANSFERS = ("pq", "hlg")
FRAMES_FOR_AREA = 9


def hdr_target(words: str, stored: Sequence[Encoding]) -> Encoding:
    """Return the encoding of an HDR output.

    Parameters
    ----------
    words : 'master' for that of the masters, 10 bits or more; PQ in BT.2020, narrow range, where they are linear light.
        Or an encoding, as `encoding_named` reads it
    stored : the encodings of the masters' samples in their files

    Raises
    ------
    WrongCall
        When the words are no HDR encoding, or the masters have several.
    """
    peak, black = max(item.peak for item in stored), min(item.black for item in stored)
    if words != MASTER:
        try:
            target = encoding_named(words, peak, black)
        except WrongCall as fault:
            raise WrongCall(f"--hdr {fault}") from None
        if target.transfer not in HDR_TRANSFERS:
            raise WrongCall(f"--hdr {words} is no HDR encoding; choose pq or hlg")
        return target
    found = {replace(_own(item), peak=peak, black=black) for item in stored}
    if len(found) > 1:
        raise WrongCall("the masters have different encodings; name one, for example --hdr pq,bt2020,narrow")
    return found.pop()


def _own(stored: Encoding) -> Encoding:
    """Return the output's encoding for a master's."""
    if stored.transfer not in HDR_TRANSFERS:
        return Encoding("pq", "bt2020", "narrow", 10)
    if stored.bits is None or stored.bits < 10:
        return replace(stored, signal_range="narrow", bits=10)
    return stored


def hdr_rendition(rendition: Rendition, target: Encoding) -> Rendition:
    """Return a rendition with the same input adjustments, whose operators cut only what the target can't say at all."""
    top = PQ_PEAK if target.transfer == "pq" else target.peak
    settings = {"application": "per_channel"}
    return Rendition(
        rendition.name, "hard_clip", "gamut_clip", settings, input=rendition.input, target=replace(target, peak=top)
    )


def measured_levels(
    programme: "Programme", after_frame: Callable[[int, int], None] = lambda done, count: None
) -> ProgrammeFigures:
    """Measure MaxCLL and MaxFALL of what is rendered, input adjustments included, in the frames that have a picture.

    Raises
    ------
    TrimbenchError
        When no frame can be read.
    """
    count = programme.count
    few = range(count)[count // FRAMES_FOR_AREA // 2 :: max(1, count // FRAMES_FOR_AREA)]
    area = area_of(programme.frames(few), programme.rows, programme.columns, programme.target.black)
    levels = ProgrammeLevels()
    with closing(ahead(programme.frames(range(count)))) as frames:
        for frame in frames:
            if frame.content is not None:
                adjustments = programme.chain_at(frame.index).rendition.input
                levels.add(_adjusted(frame, adjustments, area))
            after_frame(frame.index + 1, count)
    if not levels.frames:
        raise TrimbenchError("no frame can be read, so the HDR output has no light levels; check the master")
    return levels.figures


def _adjusted(frame: Frame, adjustments: InputAdjustments, area: Any) -> Any:
    assert frame.content is not None  # the only caller has looked
    if adjustments == InputAdjustments(pivot=adjustments.pivot):
        return measure_frame(frame.content, area, frame.index, (), encoding=frame.encoding).tally
    picture = light_picture(apply_input_adjustments(light_of(frame), adjustments))
    return measure_frame(picture, area, frame.index, ()).tally


def hdr_sidecar(programme: "Programme", figures: ProgrammeFigures, made: str, date: str) -> dict[str, Any]:
    """Return the entries of a sidecar for an HDR output, as `read_sidecar` takes them."""
    display = programme.mastering_display()
    return {
        "version": VERSION,
        "made by": made,
        "date": date,
        "output": {"encoding": programme.target.title, "frames": programme.count},
        "measured": {"frames": figures.frames, "frames that could not be read": programme.count - figures.frames},
        "content light": content_light_entries(figures),
        "mastering display": display.to_dict() if display else None,
    }
