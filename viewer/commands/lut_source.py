"""Where a LUT's input and the frame that it is measured on come from: a master, a trim sheet, or the user's words."""

import argparse
from dataclasses import dataclass, replace
from typing import Any

from tonemap.encoding import ENCODING_WORDS
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.host import Host
from tonemap.lut_input import LutInput, input_for, input_named
from tonemap.media.master import Frame
from tonemap.media.wishes import sdr_caution
from tonemap.picture import Picture
from tonemap.rendition import Chain, Rendition, chain_of, needs_of
from tonemap.statistics import measure_frames

from . import options

HDR_PEAK = 1000.0
ON_GRID_ALONE = "measured on the grid alone: there is no frame"


@dataclass(frozen=True)
class Source:
    """What a LUT is made for.

    Attributes
    ----------
    picture : the frame to measure on; None where there is none
    label : what the user calls the frame
    master, span : the first and the last frame of the master that are measured for operators that need it: those that
        were named, the shot's, the one that is judged by, or all; None where there are none
    notices : sentences about what was assumed or left out
    last : of a shot that changes inside, its last frame; None for others
    """

    lut_input: LutInput
    picture: Picture | None = None
    label: str | None = None
    notices: tuple[str, ...] = ()
    master: Any = None
    span: tuple[int, int] | None = None
    last: Frame | None = None

    def chain(self, rendition: Rendition, host: Host) -> Chain:
        """Prepare a rendition; raises WrongCall where its operators need a frame to be measured and there is none."""
        statistics = None
        if self.span is None:
            options.refuse_needs([rendition], host)
        elif needs_of(rendition, host):
            options.tell_needs([rendition], host, self.span)
            statistics = measure_frames(self.master, *self.span)
        return chain_of(rendition, self.lut_input.encoding, host, statistics)


def source_of(parsed: argparse.Namespace) -> Source:
    """Find the LUT's input and the frame; raises WrongCall where the input can't be known."""
    if parsed.master is not None:
        from tonemap.media.master import open_master

        master = open_master(parsed.master, options.wishes_of(parsed), matrix=parsed.matrix)
        source = _of_master(parsed, master, parsed.frame)
        return replace(source, span=_span_of_shot(parsed, source))
    sheet = options.sheet_of(parsed)
    if sheet is not None and (parsed.shot is not None or len(sheet.masters) == 1):
        return _of_sheet(parsed, sheet)
    _refuse_words_of_a_master(parsed)
    if parsed.frame is not None:
        raise WrongCall(f"--frame {parsed.frame} is one of a master, and none is given; name it")
    if parsed.frames is not None:
        raise WrongCall(f"--frames {parsed.frames} are those of a master, and none is given; name it")
    if parsed.input is None:
        raise WrongCall(
            f"there is no master, so the LUT's input is not known; name a master, or give --input {ENCODING_WORDS}"
        )
    lut_input = input_named(parsed.input, parsed.peak or HDR_PEAK, parsed.black or 0.0)
    return Source(lut_input, notices=(ON_GRID_ALONE,))


def _span_of_shot(parsed: argparse.Namespace, source: Source) -> tuple[int, int] | None:
    """Return the frames of the shot that is named, where the frames of a master that is named are among them."""
    sheet = options.sheet_of(parsed)
    if sheet is None or parsed.shot is None or source.span is None or parsed.frames is not None:
        return source.span
    shot = sheet.shot(parsed.shot)
    first, last = shot.source_first, shot.source_first + shot.count - 1
    return (first, last) if first <= source.span[0] <= source.span[1] <= last else source.span


def _of_master(
    parsed: argparse.Namespace, master: Any, number: int | None, index: int | None = None, shot: Any = None
) -> Source:
    """Take the input of a master, and one frame: that of a number, of a place, or the one in the middle."""
    facts = master.facts
    span = (0, master.count - 1)
    if number is not None:
        index = master.index(number)
        span = index, index
    elif index is None:
        index = (master.count - 1) // 2
    frame = next(iter(master.frames(index, index)))
    encoding = facts.encoding
    if parsed.input is None:
        lut_input = input_for(encoding, facts.stored)
    else:
        lut_input = input_named(parsed.input, encoding.peak, encoding.black)
    if shot is not None:
        span = shot.source_first, shot.source_first + shot.count - 1
    if parsed.frames is not None:
        span = options.frames_range(parsed.frames, master)
    notices = (*facts.notices, *sdr_caution(facts.stored, facts.origins))
    last = None
    if shot is not None and shot.changes_inside:
        at = min(span[1], master.count - 1)
        last = next(iter(master.frames(at, at)))
    return Source(lut_input, frame.picture, frame.name, notices, master, span, last)


def _of_sheet(parsed: argparse.Namespace, sheet: Any) -> Source:
    """Take the input of a sheet's master, and a frame of the shot; a master that is not here costs the frame only."""
    from tonemap.sheet_masters import open_entry

    _refuse_words_of_a_master(parsed)
    shot = sheet.shot(parsed.shot) if parsed.shot is not None else None
    entry = sheet.master(shot.master if shot else None)
    index: int | None = None
    if shot is not None:
        index = shot.source_first if shot.changes_inside else shot.source_first + (shot.count - 1) // 2
    try:
        master = open_entry(sheet, entry)
    except WrongCall:
        raise
    except TrimbenchError as fault:
        if entry.encoding is None or parsed.frame is not None or parsed.frames is not None:
            raise
        known = entry.encoding
        lut_input = input_named(parsed.input, known.peak, known.black) if parsed.input else input_for(known)
        return Source(lut_input, notices=(str(fault), ON_GRID_ALONE))
    source = _of_master(parsed, master, parsed.frame, index, shot)
    is_known = shot is not None or parsed.frames is not None or not sheet.shots  # each shot has its own statistics
    span = source.span if is_known else None
    return replace(source, span=span)


def _refuse_words_of_a_master(parsed: argparse.Namespace) -> None:
    for word in ("transfer", "primaries", "signal_range", "bits", "unit", "matrix"):
        if getattr(parsed, word) is not None:
            raise WrongCall(
                f"--{word.removeprefix('signal_')} describes a master, and none is given; "
                f"describe the LUT's input with --input {ENCODING_WORDS}"
            )
