"""Faults of an author's code, told in words: what went wrong, and in which of the author's lines."""

import importlib
import traceback
from pathlib import Path
from typing import Any

LONGEST_WORDS = 300
"""Letters that are told of an exception's words."""

MACHINERY = (Path(importlib.__file__).parent, Path(__file__).parent)
"""Where the lines are that import an author's module."""


def fault_text(fault: BaseException, file: Path | None, otherwise: str = "") -> str:
    """Return 'KIND: words (FILE:LINE)' for an exception, with the innermost line in the author's folder.

    Parameters
    ----------
    file : of the author; None where it is not known, of a package that fails while it is imported
    otherwise : the place to name where no line of the author's was reached
    """
    words = f"{type(fault).__name__}: {_words(fault)}".rstrip(": ")
    place = _place(fault, file) or otherwise
    return f"{words} ({place})" if place else words


def call_fault_text(fault: BaseException, method: str, function: Any) -> str:
    """Return 'METHOD fails with KIND: words (FILE:LINE)' for what a method of an operator raised."""
    words = fault_text(fault, Path(function.__code__.co_filename), function_place(function))
    return f"{method} fails with {words}"


def is_stop(fault: BaseException) -> bool:
    """Say whether an exception is the user's own stop, and no fault of an author's."""
    return type(fault) is KeyboardInterrupt


def function_place(function: Any) -> str:
    """Return 'FILE:LINE' of where a function is defined."""
    code = function.__code__
    return f"{code.co_filename}:{code.co_firstlineno}"


def _words(fault: BaseException) -> str:
    """Return an exception's own words in one line that is not endless."""
    try:
        words = " ".join(str(fault.msg if isinstance(fault, SyntaxError) else fault).split())
    except Exception:  # its author's words may fail too
        return "it has no words"
    return words if len(words) <= LONGEST_WORDS else f"{words[:LONGEST_WORDS].rstrip()} ..."


def _place(fault: BaseException, file: Path | None) -> str | None:
    if isinstance(fault, SyntaxError) and fault.filename:
        column = f":{fault.offset}" if fault.offset else ""
        return f"{fault.filename}:{fault.lineno}{column}"
    frames = [frame for frame in traceback.extract_tb(fault.__traceback__) if not frame.filename.startswith("<")]
    if file is None:  # what is imported first is the author's
        foreign = (Path(frame.filename) for frame in frames)
        file = next((path for path in foreign if not any(map(path.is_relative_to, MACHINERY))), None)
    own = [frame for frame in frames if file is not None and Path(frame.filename).parent == file.parent]
    return f"{own[-1].filename}:{own[-1].lineno}" if own else None
