"""The forms in which a rendered frame is handed on: what its file holds, so that it is made once, by the engine."""

from typing import Any, Literal, Protocol, runtime_checkable

from ..media.coded_planes import planes_of_signal
from ..media.dpx import words_of
from ..media.master import Frame
from ..media.planes import Coding, Planes
from ..parity import Engine
from ..picture import Picture
from ..rendition import Chain

SIGNAL: Literal["signal"] = "signal"
CODES: Literal["codes"] = "codes"
WORDS: Literal["words"] = "words"

PictureForm = Literal["signal", "codes", "words"]
Form = PictureForm | Coding
"""The R'G'B' signal of the target; its code values; words of three 10-bit codes, as in DPX; or planes, as coded."""


@runtime_checkable
class FormEngine(Protocol):
    """An engine that takes what a file holds, a movie's planes too, and makes any form itself."""

    def takes(self, content: Picture | Planes, form: Form) -> bool:
        """Say whether `rendered` takes a frame of this size."""
        ...

    def rendered(self, content: Picture | Planes, chain: Chain, form: Form) -> Any:
        """Return a frame in a form."""
        ...


def is_taken_as_it_is(engine: Engine, frame: Frame, form: Form) -> bool:
    """Say whether an engine needs no picture made of a frame."""
    return isinstance(engine, FormEngine) and frame.content is not None and engine.takes(frame.content, form)


def rendered_by(engine: Engine, frame: Frame, chain: Chain, form: Form) -> Any:
    """Return a frame in a form, by any engine."""
    if isinstance(engine, FormEngine) and frame.content is not None and engine.takes(frame.content, form):
        return engine.rendered(frame.content, chain, form)
    return in_form(engine, frame.picture, chain, form)


def in_form(engine: Engine, picture: Picture, chain: Chain, form: Form) -> Any:
    """Return a picture in a form, made of an engine's code values or signal."""
    if form == SIGNAL:
        return engine.signal(picture, chain)
    if isinstance(form, Coding) and form.matrix is not None:
        return planes_of_signal(engine.signal(picture, chain), form)
    codes = engine.codes(picture, chain)
    if isinstance(form, Coding):
        return Planes((codes[..., 0], codes[..., 1], codes[..., 2]), form)
    return words_of(codes) if form == WORDS else codes
