"""Tests of template_tone: the host's own check, and what the curve promises."""

from pathlib import Path

import numpy as np
import pytest

from tonemap.anchors import neutral_result
from tonemap.encoding import Encoding
from tonemap.host import find_operators
from tonemap.rendition import Rendition, chain_of
from viewer.commands import main

FOLDER = Path(__file__).resolve().parent.parent


def test_the_check_passes() -> None:
    """Parity, sanity and speed, as `trimbench operators check` prints them."""
    assert main(["operators", "check", str(FOLDER)]) == 0


def test_the_masters_peak_lands_on_the_targets() -> None:
    """By the formula: a share of 1 is mapped to 1 whatever the bend."""
    chain = chain_of(
        Rendition("peak", "template_tone", "gamut_clip"), Encoding("linear", peak=1000.0), find_operators([FOLDER])
    )
    signal, nits = neutral_result(np.array([0.0, 1000.0]), chain)
    assert nits == pytest.approx([0.0, 100.0], abs=1e-6)
    assert signal == pytest.approx([0.0, 1.0], abs=1e-6)
