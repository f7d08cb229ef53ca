"""Tests of template_gamut: the host's own check, and what the mapping promises."""

from pathlib import Path

import numpy as np
import pytest

from tonemap.host import find_operators
from tonemap.picture import light_picture
from tonemap.reference import ReferenceEngine
from tonemap.rendition import Rendition, chain_of
from viewer.commands import main

FOLDER = Path(__file__).resolve().parent.parent


def test_the_check_passes() -> None:
    """Parity, sanity and speed, as `trimbench operators check` prints them."""
    assert main(["operators", "check", str(FOLDER)]) == 0


def test_the_corners_of_bt2020_end_within_the_target() -> None:
    """Each is outside BT.709 (Recommendation ITU-R BT.2407), so one channel at least lands on 0."""
    picture = light_picture(40.0 * np.eye(3)[np.newaxis])
    rendition = Rendition("corners", "linear_scale", "template_gamut")
    signal = ReferenceEngine().signal(picture, chain_of(rendition, picture.encoding, find_operators([FOLDER])))
    assert signal.min(axis=-1) == pytest.approx(0.0)
    assert signal.max() <= 1.0
