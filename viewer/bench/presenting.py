"""Presenting: pictures alone on the whole screen. Plain Python."""

from dataclasses import dataclass


@dataclass
class Presenting:
    """Whether the pictures are presented, with captions or without, and whether a guest has a window."""

    is_on: bool = False
    has_captions: bool = True
    has_guest: bool = False
