"""A bench that is killed in the middle of the work opens again where it was: in a real window on a virtual display."""

import subprocess
import sys
from pathlib import Path

import numpy as np

from tests.bench.conftest import environment
from tests.bench.programme import write_programme
from tonemap.trim_sheet import load

SCRIPT = Path(__file__).with_name("work_in_window.py")


def test_a_killed_bench_opens_again_where_it_was(display, host, tmp_path):
    name, bits = display
    sheet, state, out = write_programme(tmp_path, host), tmp_path / "state", tmp_path / "again.npz"
    before = sheet.read_bytes()

    def call(*words: object) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, str(SCRIPT), *map(str, words)]
        return subprocess.run(command, env=environment(name), capture_output=True, text=True, check=False, timeout=300)

    killed = call("work", sheet, state)
    assert killed.returncode == -9, killed.stderr
    exposure = float(killed.stdout)
    assert exposure < -0.5
    assert sheet.read_bytes() == before

    again = call("again", sheet, state, out)
    assert again.returncode == 0, again.stderr
    found = np.load(out)
    assert found["bits"] == bits
    assert str(found["notice"]) == (
        "reel.trims: 2 changes are back that the last bench was cut off from: input.exposure of shot 20, "
        "shot 20 takes 'BT.2446 C', input.exposure of shot 20"
    )
    assert list(found["marks"]) == [2, 5, True]
    assert (str(found["shot"]), str(found["name"]), bool(found["taken"])) == ("20", "BT.2446 C", True)
    assert float(found["exposure"]) == exposure
    top = 2**bits - 1
    shown, wanted = found["tile"].astype(float) / 1023 * top, np.clip(found["signal"], 0.0, 1.0) * top
    assert len(np.unique(found["tile"])) > (400 if bits == 10 else 150)
    difference = np.abs(np.rint(shown) - wanted)
    assert difference.max() <= 0.501 + top / 876
    assert np.count_nonzero(difference > 0.501) <= 1e-3 * difference.size
    kept = load(sheet).shot("20")
    assert (kept.rendition, dict(kept.settings)) == ("BT.2446 C", {"input.exposure": exposure})
