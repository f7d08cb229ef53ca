"""The pipeline: frames are decoded ahead, computed in order, and written behind; what is whole is in the manifest."""

from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from typing import Any, Protocol

import numpy as np

from ..arrays import Codes
from ..encoding import quantise_signal
from ..errors import TrimbenchError
from ..media.ahead import ahead
from ..media.dpx import WORD, codes_of
from ..media.master import Frame
from ..media.planes import Planes
from ..parity import Engine
from ..reference import ReferenceEngine
from .findings import Finding, TriedFrames, Watched, handed_on, odd_in
from .forms import Form, in_form, is_taken_as_it_is, rendered_by
from .manifest import Manifest
from .programme import Programme


class Output(Protocol):
    """Where frames go: numbered pictures, or a movie."""

    @property
    def form(self) -> Form:
        """The form in which it takes frames."""
        ...

    def wanted(self) -> list[int]:
        """Return the frames that are still to be made, in rising order; what is whole already is left out."""
        ...

    def put(self, index: int, rendered: Any, watched: Watched | None = None) -> None:
        """Take a frame, in rising order; None where there is no picture. Raises what went wrong with earlier ones."""
        ...

    @property
    def manifest(self) -> Manifest:
        """The manifest, with what was found of the frames that are written."""
        ...

    def finish(self, is_complete: bool) -> list[str]:
        """Wait for what is being written; a movie gets its name when it is complete. Returns notices."""
        ...

    def close(self) -> None:
        """Give up what is not whole."""
        ...


@dataclass
class EngineComparison:
    """How far the engine was from the reference on the frames that were tried, in the code values that are handed on.

    Attributes
    ----------
    step : by how many codes at most
    """

    frames: int = 0
    samples: int = 0
    differing: int = 0
    step: int = 0

    @property
    def ppm(self) -> float:
        """Samples that differ, per million."""
        return 1e6 * self.differing / self.samples if self.samples else 0.0


@dataclass
class Outcome:
    """What a render did.

    Attributes
    ----------
    done : frames rendered now
    kept : frames that were whole already
    whole : frames that are whole in the end
    faults : (number, sentence) of frames without a picture
    is_complete : whether every frame is there, those without a picture excepted; False after a stop
    findings : by frame, those of earlier calls too
    """

    done: int = 0
    kept: int = 0
    whole: int = 0
    faults: list[tuple[int, str]] = field(default_factory=list)
    is_complete: bool = False
    comparison: EngineComparison | None = None
    notices: list[str] = field(default_factory=list)
    findings: dict[int, Finding] = field(default_factory=dict)


def render(
    programme: Programme,
    output: Output,
    engine: Engine,
    *,
    compare_every: int = 0,
    after_frame: Callable[[int, int], None] = lambda done, count: None,
    is_stopped: Callable[[], bool] = lambda: False,
) -> Outcome:
    """Render what is still wanted.

    Parameters
    ----------
    compare_every : every so many frames the reference renders the same, and the difference is counted; 0 for never
    after_frame : called with the frames that are behind and the number of all
    is_stopped : asked after every frame; what is whole is kept then

    Raises
    ------
    TrimbenchError
        When the output can't be written; what was whole before stays, and a later call goes on from there.
    """
    wanted = output.wanted()
    outcome = Outcome(kept=programme.count - len(wanted))
    if compare_every:
        outcome.comparison = EngineComparison()
    reference, tried = ReferenceEngine(), TriedFrames(programme)
    try:
        with closing(_decoded(programme, wanted, engine, output.form)) as frames:
            for place, (frame, odd) in enumerate(frames):
                if frame.fault is not None:
                    outcome.faults.append((programme.number(frame.index), frame.fault))
                    tried.without(frame.index)
                    output.put(frame.index, None)
                else:
                    chain = programme.chain_at(frame.index)
                    rendered = rendered_by(engine, frame, chain, output.form)
                    if outcome.comparison is not None and place % compare_every == 0:
                        exact = in_form(reference, frame.picture, chain, output.form)
                        _compare(outcome.comparison, rendered, exact, programme)
                    is_tried = frame.index in tried
                    output.put(frame.index, *handed_on(programme, frame, chain, rendered, odd=odd, is_tried=is_tried))
                    outcome.done += 1
                after_frame(outcome.kept + place + 1, programme.count)
                if is_stopped() and place + 1 < len(wanted):
                    output.finish(is_complete=False)
                    return outcome
        outcome.notices = output.finish(is_complete=True)
        outcome.is_complete = True
    finally:
        output.close()
        outcome.findings, outcome.whole = output.manifest.findings, output.manifest.whole()
    return outcome


def _decoded(
    programme: Programme, wanted: list[int], engine: Engine, form: Form
) -> Generator[tuple[Frame, dict[str, int]], None, None]:
    """Yield frames, pictures made where the engine needs them, with their odd samples: ahead of the engine."""

    def with_pictures() -> Iterator[tuple[Frame, dict[str, int]]]:
        for frame in programme.frames(wanted):
            if frame.fault is None and not is_taken_as_it_is(engine, frame, form):
                _ = frame.picture  # made here, in the thread that reads ahead
            yield frame, odd_in(frame)

    return ahead(with_pictures())


def _compare(comparison: EngineComparison, rendered: Any, exact: Any, programme: Programme) -> None:
    comparison.frames += 1
    for codes, exact_codes in zip(_codes_in(rendered, programme), _codes_in(exact, programme), strict=True):
        steps = np.abs(codes.astype(np.int64) - exact_codes.astype(np.int64))
        comparison.samples += steps.size
        comparison.differing += int((steps > 0).sum())
        comparison.step = max(comparison.step, int(steps.max()))


def _codes_in(rendered: Any, programme: Programme) -> Sequence[Codes]:
    """Return the code values of a frame in any form; a signal is rounded to those of the target."""
    if isinstance(rendered, Planes):
        return rendered.components
    if rendered.dtype == WORD:
        return [codes_of(rendered)]
    if rendered.dtype == np.uint16:
        return [rendered]
    if programme.target.bits is None:
        raise TrimbenchError("engines are compared in code values; give the target 8, 10, 12 or 16 bits")
    return [quantise_signal(rendered.astype(np.float64), programme.target)]
