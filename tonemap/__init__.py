"""Trimbench's library: colour science, operators, renditions and the reference engine. No GL and no window."""

import importlib
from typing import Any

__version__ = "0.1.0"

_HOMES = {
    "Encoding": "encoding",
    "sdr_target": "encoding",
    "InputAdjustments": "adjustments",
    "Cdl": "cdl",
    "Operator": "operator",
    "Parameter": "operator",
    "Choice": "operator",
    "Switch": "operator",
    "Host": "host",
    "find_operators": "host",
    "Picture": "picture",
    "light_picture": "picture",
    "Rendition": "rendition",
    "chain_of": "rendition",
    "ReferenceEngine": "reference",
    "TrimbenchError": "errors",
    "WrongCall": "errors",
}
__all__ = sorted(_HOMES)  # noqa: PLE0605 - the names below are imported when they are first used


def __getattr__(name: str) -> Any:
    """Import a public name from its module when it is first used, so that importing the package costs nothing."""
    if name not in _HOMES:
        raise AttributeError(f"module 'tonemap' has no attribute '{name}'")
    return getattr(importlib.import_module(f"tonemap.{_HOMES[name]}"), name)
