"""Hands in a real window on a virtual display: what they do between two frames counts whole, and no more than that."""

import json
import subprocess
import sys
from pathlib import Path

from tests.bench.conftest import environment

SCRIPT = Path(__file__).with_name("hands_in_window.py")


def test_quick_drags_double_clicks_and_held_keys_in_a_window(display, pictures):
    name, _ = display
    command = [sys.executable, SCRIPT, pictures / "master.dpx"]
    done = subprocess.run(command, env=environment(name), capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["dragged"] < -1.0
    assert found["reset"] == 0.0
    assert found["centre"] == [55.0, 31.5]
    assert found["slots"] == 5, "a held D duplicates again and again"
    assert found["held"] <= -0.375, "a held comma does not go on"
