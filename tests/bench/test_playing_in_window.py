"""A movie plays in a real window on a virtual display, by the real clock."""

import subprocess
import sys
from pathlib import Path

import numpy as np

from tests.bench import numbered
from tests.bench.conftest import environment

SCRIPT = Path(__file__).with_name("play_in_window.py")
RATE = 12


def test_a_movie_plays_at_its_rate_and_every_frame_is_shown_or_counted(display, tmp_path):
    name, bits = display
    movie = numbered.write_movie(tmp_path / "numbers.mkv", 65, rate=RATE)
    out = tmp_path / "seen.npz"
    command = [sys.executable, SCRIPT, movie, "5", out]
    done = subprocess.run(command, env=environment(name), capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stderr
    found = np.load(out)
    assert found["bits"] == bits
    assert found["shown"] + found["dropped"] == found["place"]
    assert found["due"] == min(int(found["taken"] * RATE + 1e-6), 64)
    busy = max(1.0, 2.0 * found["longest"])  # seconds; where one turn of the loop takes longer, other work is to blame
    assert found["place"] >= found["due"] - busy * RATE
    assert found["shown"] >= 3
    indices = found["indices"]
    assert (np.diff(indices) > 0).all()
    assert len(indices) - 1 == found["shown"]  # with the one that it began with
    top = 2**bits - 1
    shown = found["codes"].astype(float) / 1023 * top
    assert np.abs(np.rint(shown) - np.clip(found["wanted"], 0.0, 1.0) * top).max() <= 0.501 + top / 876
    red = found["codes"][:, 0].astype(int)
    below = np.flatnonzero(red < 800)  # near white the roll-off makes neighbours alike
    assert (np.diff(red) >= 0).all()
    assert len(np.unique(red[below])) == len(below) >= 3
    assert found["closing"] < 5.0 * busy
    assert not found["is_alive"]
