"""How long an edit of an operator takes from the save to the screen, in a window of 1600 x 940 with five tiles.

Run on a display, or as `xvfb-run -s "-screen 0 1920x1080x24" python tests/benchmarks/save_to_screen.py`. Where Mesa is
the driver, its memory of compiled shaders is switched off: an edit is always a new text.
"""

import os
import platform
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from tests.bench.conftest import sample_light, write_picture
from tonemap.signal_range import quantise
from tonemap.transfer import pq_eotf_inverse

ROOT = Path(__file__).resolve().parents[2]
SAVES = 9
WAYS = {"py": "the Python file (no compiler)", "glsl": "the GLSL file (compiled)"}


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        codes = quantise(pq_eotf_inverse(sample_light(1920, 1080)), 10, "full")
        master = write_picture(Path(folder, "master.dpx"), codes << 6, "uint16", oiio__BitsPerSample=10)
        script, out = ROOT / "tests" / "bench" / "save_in_window.py", Path(folder, "out.npz")
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "MESA_SHADER_CACHE_DISABLE": "true"}
        load = os.getloadavg()[0]
        subprocess.run([sys.executable, script, master, out, str(SAVES), "--fit"], check=True, env=environment)
        found = np.load(out)
        cores = os.cpu_count()
        print(f"{platform.system()} {platform.machine()}, {cores} cores, load {load:.1f} to {os.getloadavg()[0]:.1f}")
        print(f"seconds after the save, medians of {SAVES} (smallest..largest)")
        print(f"{'saved':32}{'noticed':>20}{'first new pixels':>22}{'every pixel':>20}{'processor, first':>20}")
        for file, words in WAYS.items():
            columns = (f"{np.median(column):.2f} ({column.min():.2f}..{column.max():.2f})" for column in found[file].T)
            print(
                f"{words:32}"
                + "".join(f"{text:>{width}}" for text, width in zip(columns, (20, 22, 20, 20), strict=True))
            )


if __name__ == "__main__":
    main()
