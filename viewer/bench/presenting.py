"""Presenting: pictures alone on the whole screen. Plain Python."""

from dataclasses import dataclass


@dataclass
class Presenting:
    """Whether the pictures are presented, and with captions or without."""

    is_on: bool = False
    has_captions: bool = True
