"""Arrays that samplers read: however they lie in memory, and what is too large for the code."""

import os
import subprocess
import sys
import threading
import weakref

import numpy as np
import pytest

from viewer.vectors import program as programs
from viewer.vectors.code import Untranslatable
from viewer.vectors.program import GIVING_WAY, VectorProgram, _threads

from .drawing import of_text

COPY = """
uniform usampler2D numbers;
out uvec4 result;
void main() { result = texelFetch(numbers, ivec2(gl_FragCoord.xy) / STEP * STEP, 0); }
"""


@pytest.mark.parametrize("step", [1, 2])
@pytest.mark.parametrize("channels", [1, 2, 3])
def test_arrays_are_read_however_they_lie(channels, step):
    whole = np.random.default_rng(1).integers(0, 60_000, (9, 41, 4)).astype(np.uint16)
    program = VectorProgram(of_text(COPY.replace("STEP", str(step))))
    for name, array in {
        "side by side": np.ascontiguousarray(whole[..., :channels]),
        "with others between": whole[..., :channels],
        "lines longer than the picture": np.ascontiguousarray(whole[..., :channels])[:, :33],
        "a number more from line to line": np.lib.stride_tricks.as_strided(
            whole, (8, 41, channels), (2 * (41 * channels + 1), 2 * channels, 2)
        ),
        "upside down": whole[::-1, :, :channels],
        "turned": whole[..., :channels].transpose(1, 0, 2),
    }.items():
        rows, columns = array.shape[:2]
        program.set_image("numbers", array if channels > 1 else array[..., 0])
        result = np.zeros((rows, columns, channels), np.uint16)
        program.draw({"result": result})
        y, x = (np.arange(size) // step * step for size in (rows, columns))
        np.testing.assert_array_equal(result, array[y][:, x], name)


def test_what_is_too_large_is_refused():
    program = VectorProgram(of_text(COPY.replace("STEP", "1")))
    huge = np.lib.stride_tricks.as_strided(np.zeros(4, np.uint16), (50_000, 4), (100_000, 2), writeable=False)
    with pytest.raises(Untranslatable, match="more than 2147483647 numbers"):
        program.set_image("numbers", huge)


class StoppedPool:
    """Threads that are still at work when the wait for them is interrupted."""

    def __init__(self) -> None:
        self.at_work: list[object] = []

    def map(self, band, rows, chunksize):
        self.at_work.append(band)
        raise KeyboardInterrupt


def test_what_threads_still_work_on_lasts_behind_a_stop(monkeypatch):
    pool = StoppedPool()
    monkeypatch.setattr(programs, "_threads", lambda: pool)
    program = VectorProgram(of_text(COPY.replace("STEP", "1")))
    program.set_image("numbers", np.ones((40, 32, 4), np.uint16))
    arrays = [program._images["numbers"], np.zeros((40, 32, 4), np.uint16)]
    held = [*map(weakref.ref, arrays), weakref.ref(program)]
    with pytest.raises(KeyboardInterrupt):
        program.draw({"result": arrays[1]})
    arrays.clear()
    del program
    assert all(one() is not None for one in held)
    pool.at_work.clear()
    assert all(one() is None for one in held)


ENDLESS = """
import signal
import numpy as np
from tests.vectors.drawing import of_text
from viewer.vectors.program import GIVING_WAY, VectorProgram, _threads

text = "uniform float step; out vec4 result; void main() { float s = 0.0; while (s < 1.0) s += step; result.x = s; }"
program, result = VectorProgram(of_text(text)), np.zeros((1, 32, 4), np.float32)
program.set("step", 1.0)
program.draw({"result": result})
assert result[..., 0].min() == 1.0
signal.signal(signal.SIGALRM, signal.default_int_handler)
signal.setitimer(signal.ITIMER_REAL, 0.5)
program.set("step", 0.0)
program.draw({"result": result})
"""


def test_a_loop_without_an_end_does_not_outlast_a_stop():
    done = subprocess.run([sys.executable, "-c", ENDLESS], capture_output=True, text=True, check=False, timeout=60)
    assert done.stderr.splitlines()[-1:] == ["KeyboardInterrupt"], done.stderr


def test_threads_that_draw_give_way():
    steps = GIVING_WAY if sys.platform == "linux" else 0  # elsewhere a thread has no priority of its own
    own = os.getpriority(os.PRIO_PROCESS, threading.get_native_id())
    (theirs,) = _threads().map(lambda _: os.getpriority(os.PRIO_PROCESS, threading.get_native_id()), [0])
    assert theirs == min(own + steps, 19)
    assert os.getpriority(os.PRIO_PROCESS, threading.get_native_id()) == own
