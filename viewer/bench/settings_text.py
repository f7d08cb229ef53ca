"""A rendition's settings as text, to be copied, sent and pasted: a line for each, 'path = value'. Plain Python.

The paths are those of the commands and the trim sheet; only what differs from the defaults is written.
"""

import json
from typing import Any

from tonemap.errors import WrongCall
from tonemap.host import Host
from tonemap.rendition import Rendition
from tonemap.settings import changed_settings, with_settings

from .state import BenchState, with_rendition


def text_of(rendition: Rendition, host: Host) -> str:
    """Return the text of a rendition's operators and changed settings."""
    entries = {"tone": rendition.tone, "gamut": rendition.gamut, **changed_settings(rendition, host)}
    return "".join(f"{path} = {json.dumps(value)}\n" for path, value in entries.items())


def with_text(rendition: Rendition, text: str, host: Host) -> Rendition:
    """Return a rendition of the same name with the settings of a text.

    Raises
    ------
    WrongCall
        For text that is no settings, and for settings that are not allowed.
    """
    entries: dict[str, Any] = {}
    for number, line in enumerate(filter(str.strip, text.splitlines()), start=1):
        path, equals, value = line.partition("=")
        try:
            entries[path.strip()] = json.loads(value)
        except ValueError:
            equals = ""
        if not equals:
            raise WrongCall(f"line {number} of the pasted text is no setting; a line is like 'input.exposure = -0.5'")
    if not {"tone", "gamut"} <= set(entries):
        raise WrongCall("the pasted text names no tone and gamut operator; copy a rendition first")
    plain = Rendition(rendition.name, str(entries.pop("tone")), str(entries.pop("gamut")))
    for stage in ("tone", "gamut"):
        host.get(getattr(plain, stage), stage)
    return with_settings(plain, entries, host)


def paste_settings(state: BenchState, key: int, text: str, host: Host) -> BenchState:
    """Give a rendition the settings of a text; an action as those of `state`."""
    return with_rendition(state, key, with_text(state.slot(key).rendition, text, host))
