"""The guest's window beside the bench, on a virtual display of one monitor at 24 and at 30 bits."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from tests.bench.conftest import environment

SCRIPT = Path(__file__).with_name("guest_in_window.py")


@pytest.mark.parametrize(
    ("display", "word", "size"),
    [(24, [], (1000, 600)), (30, ["fill"], (1280, 720))],
    ids=["a window, 8 bits", "a full monitor, 10 bits"],
    indirect=["display"],
)
def test_the_guest_sees_the_present_pictures_without_the_interface(display, word, size, pictures, tmp_path):
    out = tmp_path / "codes.npz"
    name, bits = display
    command = [sys.executable, SCRIPT, pictures / "master.dpx", out, *word]
    done = subprocess.run(command, env=environment(name), capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stderr
    found = np.load(out)
    assert (tuple(found["size"]), int(found["bits"]), int(found["monitors"])) == (size, bits, 1)
    top = 2**bits - 1
    is_second = (np.arange(found["tile"].shape[1]) + 0.5 >= found["line"])[np.newaxis, :, np.newaxis]
    assert is_second.any()
    assert not is_second.all()
    wanted = np.where(is_second, found["second"], found["first"]) * top
    difference = np.abs(np.rint(found["tile"].astype(float) / 1023 * top) - wanted)
    assert difference.max() <= 0.501 + top / 876
    assert np.count_nonzero(difference > 0.501) <= 1e-3 * difference.size
    around = np.concatenate([found["wide"][:40].reshape(-1, 3), found["wide"][-40:].reshape(-1, 3)])
    assert len(np.unique(around, axis=0)) == 1, "the interface is in the guest's window"
    pattern = np.rint(found["pattern"].astype(float) / 1023 * top)
    np.testing.assert_array_equal(pattern, found["wanted_pattern"], "the guest's screen is not lined up")
    for moment in ("beside", "after"):
        np.testing.assert_array_equal(found[moment], found["before"], "the bench is not as it was")
    assert tuple(found["full"]) == (1280, 720), "presenting does not fill the screen"
    assert tuple(found["again"]) == (900, 600)
    assert found["is_gone"], "a guest's window that a hand closed is not gone"
