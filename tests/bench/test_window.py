"""The bench in a real window on a virtual display, at 24 and at 30 bits, and without any display."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from tests.bench.conftest import environment
from tonemap.encoding import Encoding
from tonemap.media.oiio_output import write_codes
from tonemap.signal_range import quantise
from tonemap.transfer import pq_eotf_inverse
from viewer.bench import source_look

SCRIPT = Path(__file__).with_name("draw_in_window.py")
SAVING = Path(__file__).with_name("save_in_window.py")


def test_the_window_holds_the_codes_of_the_reference(display, pictures, tmp_path):
    name, bits = display
    out = tmp_path / "codes.npz"
    command = [sys.executable, SCRIPT, pictures / "master.dpx", pictures / "unknown.tif", out]
    done = subprocess.run(command, env=environment(name), capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stderr
    found = np.load(out)
    assert found["bits"] == bits
    assert found["name"] == "unknown.tif", "the dropped file is not the master"
    assert found["rest"] >= 0.65, "the bench draws although nothing has happened"
    assert found["frames_at_rest"] == 1
    top = 2**bits - 1
    for tile, signal in (("tile", "signal"), ("second_tile", "second_signal")):
        shown = found[tile].astype(float) / 1023 * top
        wanted = np.clip(found[signal], 0.0, 1.0) * top
        assert shown.shape == wanted.shape
        assert len(np.unique(found[tile])) > (400 if bits == 10 else 150)
        difference = np.abs(np.rint(shown) - wanted)
        assert difference.max() <= 0.501 + top / 876
        assert np.count_nonzero(difference > 0.501) <= 1e-3 * difference.size


SDR_SETTINGS = '[monitor]\nsignal = "sdr"\nprimaries = "bt709"\npeak = 100.0\nbits = 10\n'


def test_after_a_reset_of_the_card_the_bench_is_drawn_anew_and_nothing_is_lost(display, pictures, tmp_path):
    name, bits = display
    out = tmp_path / "codes.npz"
    (tmp_path / "trimbench").mkdir()
    (tmp_path / "trimbench" / "settings.toml").write_text(SDR_SETTINGS)  # or the bench would ask
    for number in range(3):
        (tmp_path / f"shot.{number:04d}.dpx").write_bytes((pictures / "master.dpx").read_bytes())
    command = [sys.executable, SCRIPT.with_name("reset_in_window.py"), tmp_path / "shot.####.dpx", out]
    kept = {**environment(name), "XDG_STATE_HOME": str(tmp_path), "XDG_CONFIG_HOME": str(tmp_path)}
    done = subprocess.run(command, env=kept, capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stderr
    found = np.load(out)
    assert found["frame"] == 2
    assert found["words"] == "the graphics card or its driver was reset; the bench is drawn anew, and nothing is lost"
    top = 2**bits - 1
    shown, wanted = found["tile"].astype(float) / 1023 * top, np.clip(found["signal"], 0.0, 1.0) * top
    assert shown.shape == wanted.shape
    difference = np.abs(np.rint(shown) - wanted)
    assert difference.max() <= 0.501 + top / 876


@pytest.mark.parametrize("display", [24], indirect=True)
def test_a_resting_window_says_that_its_master_is_gone_and_a_small_one_what_is_the_matter(display, pictures, tmp_path):
    name, bits = display
    master, out = tmp_path / "night.dpx", tmp_path / "codes.npz"
    master.write_bytes((pictures / "master.dpx").read_bytes())
    command = [sys.executable, SCRIPT.with_name("source_in_window.py"), master, out]
    done = subprocess.run(command, env=environment(name), capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stderr
    found = np.load(out)
    assert found["drawn_at_rest"] <= 4, "the bench draws although nothing has happened"
    assert source_look.LOOK == 1.0  # second, by the clock of the bench: test_source_on_screen
    assert found["looks_until_gone"] == 1
    assert found["looks_until_back"] == 1
    top = 2**bits - 1
    difference = np.abs(np.rint(found["tile"].astype(float) / 1023 * top) - np.clip(found["signal"], 0.0, 1.0) * top)
    assert difference.max() <= 0.501 + top / 876
    assert str(found["title"]) == "Too small for the panel - night.dpx - Trimbench"


@pytest.mark.parametrize("display", [24], indirect=True)
def test_screens_that_are_unplugged_or_change_their_mode_are_said_and_nothing_is_lost(display, pictures, tmp_path):
    name, bits = display
    out = tmp_path / "codes.npz"
    command = [sys.executable, SCRIPT.with_name("screens_in_window.py"), pictures / "master.dpx", out]
    done = subprocess.run(command, env=environment(name), capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stderr
    found = np.load(out)
    screen = str(found["name"])
    what = "the bench still draws for SDR, BT.1886, BT.709, white 100 cd/m\u00b2; say with F2 what this screen is"
    assert str(found["guest"]) == f"the screens have changed; the guest's window is on {screen} now"
    assert found["has_guest"]
    assert tuple(found["full"]) == (1280, 720), "what was presented fills no screen any more"
    assert str(found["gone"]) == f"Right is gone, and the window is on {screen}; {what}"
    assert tuple(found["again"]) == (900, 600)
    assert tuple(found["place"]) == (0, 0), "the window is where its screen was"
    assert str(found["mode"]) == f"{screen} is in another mode now, 1280 \u00d7 720, 5 bits, 30 Hz; {what}"
    assert str(found["once"]) == ""
    assert found["is_kept"]
    top = 2**bits - 1
    difference = np.abs(np.rint(found["tile"].astype(float) / 1023 * top) - np.clip(found["signal"], 0.0, 1.0) * top)
    assert difference.max() <= 0.501 + top / 876


PQ_SETTINGS = '[monitor]\nsignal = "pq"\nprimaries = "bt2020"\npeak = 1000.0\nbits = 10\n'
# SMPTE ST 2084:2014 by Recommendation ITU-R BT.2100-3, Table 4, as shares of the signal; 203 cd/m2 is the reference
# white of Report ITU-R BT.2408-9, Table 1.
PQ_OF = {10.0: 0.299699, 100.0: 0.508078, 203.0: 0.580689, 1000.0: 0.751827}


def test_a_monitor_in_pq_gets_the_codes_of_st_2084(display, tmp_path):
    """Master patches at their own light, clipped at the peak; an SDR white at 100 cd/m2; the panel at its own."""
    name, bits = display
    levels = np.array([10.0, 100.0, 203.0, 1000.0, 4000.0])
    patches = np.repeat(np.repeat(levels, 24)[np.newaxis, :, np.newaxis], 40, axis=0) * np.ones(3)
    chart = tmp_path / "chart.tif"
    write_codes(chart, quantise(pq_eotf_inverse(patches), 16, "full"), Encoding("pq", bits=16))
    (tmp_path / "trimbench").mkdir()
    (tmp_path / "trimbench" / "settings.toml").write_text(PQ_SETTINGS)
    out = tmp_path / "codes.npz"
    command = [sys.executable, SCRIPT.with_name("monitor_in_window.py"), chart, out]
    settings = {**environment(name), "XDG_CONFIG_HOME": str(tmp_path)}
    done = subprocess.run(command, env=settings, capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stderr
    found = np.load(out)
    top = 2**bits - 1
    assert found["bits"] == bits
    assert not found["asked"]
    assert str(found["notice"]) == (
        ""
        if bits == 10
        else "the window has 8 bits a channel, and the monitor 10: steps show in smooth parts (banding)"
    )
    for index, level in enumerate(levels):
        patch = found["master"][2:-2, 24 * index + 2 : 24 * index + 22].reshape(-1, 3) / 1023 * top
        assert np.ptp(patch) == 0
        assert patch[0] == pytest.approx(PQ_OF[min(level, 1000.0)] * top, abs=0.75), level
        sdr = found["clip"][2:-2, 24 * index + 2 : 24 * index + 22].reshape(-1, 3) / 1023 * top
        assert np.ptp(sdr) == 0
        assert sdr[0] == pytest.approx(PQ_OF[min(level, 100.0)] * top, abs=1.0), level
    assert (found["panel"] == found["panel"][0]).all()


@pytest.mark.parametrize("display", [24], indirect=True)
def test_a_save_of_either_file_of_an_operator_reaches_the_window(display, pictures, tmp_path):
    """The new pixels come by themselves, while the bench rests, and are the reference's; how soon is a benchmark's."""
    name, bits = display
    command = [sys.executable, SAVING, pictures / "master.dpx", tmp_path / "saves.npz", "2"]
    done = subprocess.run(command, env=environment(name), capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stderr
    found = np.load(tmp_path / "saves.npz")
    top = 2**bits - 1
    assert (found["bits"], len(found["shown"])) == (bits, 4)
    for codes, signal in zip(found["shown"], found["wanted"], strict=True):
        difference = np.abs(np.rint(codes / 1023 * top) - signal * top)
        assert difference.max() <= 0.501 + top / 876
        assert np.count_nonzero(difference > 0.501) <= 1e-3 * difference.size
    means = found["shown"].mean(axis=(1, 2, 3))
    assert np.abs(np.diff(means)).min() > 1.0, "a save has changed nothing"


def test_without_a_display_there_is_one_sentence(pictures):
    code = (
        "from pathlib import Path\nimport sys\n"
        "from tonemap.errors import TrimbenchError\nfrom viewer.bench.app import run_bench\n"
        "from tonemap.media.wishes import EncodingWishes\n"
        "try:\n    run_bench(Path(sys.argv[1]), EncodingWishes('pq', 'bt2020', 'full'))\n"
        "except TrimbenchError as fault:\n    print(fault)\n"
    )
    command = [sys.executable, "-c", code, pictures / "master.dpx"]
    done = subprocess.run(command, env=environment(None), capture_output=True, text=True, check=False, timeout=300)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("no window can be opened: there is no display, or its driver has no OpenGL 4.1;")
    assert done.stdout.count("\n") == 1


def test_a_missing_master_is_said_before_a_window_opens(tmp_path):
    code = (
        "from pathlib import Path\nfrom viewer.bench.app import run_bench\nfrom tonemap.errors import TrimbenchError\n"
        "try:\n    run_bench(Path('absent.exr'))\nexcept TrimbenchError as fault:\n    print(fault)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], env=environment(None), cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert done.stdout == "absent.exr: can't be read: No such file or directory; check the name and its permissions\n"
