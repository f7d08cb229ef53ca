"""What the tests of measurement share."""

import warnings

import numpy as np
import pytest

from demo.make_scene import grade, render_frame


@pytest.fixture(scope="session")
def colour():
    """colour-science, whose import warns about its own optional packages."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour


@pytest.fixture(scope="session")
def demo_frame() -> np.ndarray:
    """Frame 0 of the demo scene as graded light, 480 x 270."""
    return grade(render_frame(0, 480, 270))


@pytest.fixture(scope="session")
def demo_frame_opposite() -> np.ndarray:
    """Frame 24 of the demo scene: the other end of its loop of motion."""
    return grade(render_frame(24, 480, 270))
