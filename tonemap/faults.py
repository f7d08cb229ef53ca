"""Faults of an author's code, told in words: what went wrong, and in which of the author's lines."""

import traceback
from pathlib import Path
from typing import Any


def fault_text(fault: BaseException, file: Path | str) -> str:
    """Return 'KIND: words (FILE:LINE)' for an exception, with the innermost line in the author's folder, if any."""
    words = f"{type(fault).__name__}: {fault.msg if isinstance(fault, SyntaxError) else fault}".rstrip(": ")
    place = _place(fault, Path(file))
    return f"{words} ({place})" if place else words


def function_place(function: Any) -> str:
    """Return 'FILE:LINE' of where a function is defined."""
    code = function.__code__
    return f"{code.co_filename}:{code.co_firstlineno}"


def _place(fault: BaseException, file: Path) -> str | None:
    if isinstance(fault, SyntaxError) and fault.filename:
        column = f":{fault.offset}" if fault.offset else ""
        return f"{fault.filename}:{fault.lineno}{column}"
    frames = traceback.extract_tb(fault.__traceback__)
    own = [frame for frame in frames if Path(frame.filename).parent == file.parent]
    return f"{own[-1].filename}:{own[-1].lineno}" if own else None
