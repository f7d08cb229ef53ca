"""Frames of movies and sequences on the bench: the picture that is shown is that very frame's, by the reference."""

import time

import numpy as np
import pytest

from tests.bench import numbered
from viewer.bench.bench import Bench


def wait_for(hand, condition, seconds=120.0):
    """Draw frames until something has happened; the reading thread needs its time."""
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "it did not happen"
        time.sleep(0.005)
        hand.frames(1)


def shown(bench: Bench) -> int:
    """Return the number that the frame on the bench carries."""
    assert bench.state.master is not None
    planes = bench.state.master.frame.planes
    assert planes is not None
    return round((int(planes.components[0][0, 0]) - numbered.luma_code(0)) / 12)


def on_frame(hand, index):
    wait_for(hand, lambda: not hand.bench.playback.is_waiting)
    hand.settle()
    assert hand.bench.playback.transport.position == index
    assert shown(hand.bench) == index


@pytest.fixture
def movie(hand, tmp_path):
    path = numbered.write_movie(tmp_path / "numbers.mkv", 20, timecode="01:00:00:00")
    hand.bench.open(path)
    hand.frames(3)
    return path


def test_every_frame_that_is_stepped_to_is_shown_as_the_reference_has_it(hand, movie):
    hand.click("pixels")
    on_frame(hand, 0)
    pictures = []
    for key, index in ((">", 1), (">", 2), ("end", 19), ("<", 18), ("<", 17), ("home", 0)):
        hand.key(key)
        on_frame(hand, index)
        hand.assert_tile_is_exact(1)
        hand.assert_tile_is_exact(4)
        pictures.append(hand.tile(1))
    assert len({picture.tobytes() for picture in pictures}) == 6
    assert np.ptp(pictures[0].astype(int)) > 20
