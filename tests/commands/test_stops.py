"""Ctrl-C and SIGTERM: one sentence and 130 at any time, never a traceback."""

import ctypes
import signal
import subprocess
import sys

import numpy as np
import pytest

from tonemap.encoding import Encoding
from tonemap.media.oiio_output import write_codes
from viewer.stops import stop_asked, stops_heard

SIGNALS = [signal.SIGINT, signal.SIGTERM]
ON_THE_WAY = [
    "viewer.commands.program",
    "argparse",
    "tonemap.anchors",
    "numpy",
    "datetime",  # by NumPy's own C, which makes an ImportError of a stop
    "tonemap.media.oiio",
    "viewer.engine",
]


def stopped_at(number: int, module: str, *words: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "tests.stopped_at", str(int(number)), module, *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=200)


@pytest.mark.parametrize("number", SIGNALS)
@pytest.mark.parametrize("module", ON_THE_WAY)
def test_a_stop_on_the_way_to_the_work_is_one_sentence(number, module, master, tmp_path):
    done = stopped_at(number, module, "render", master, "-o", tmp_path / "sdr.tif")
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "trimbench: stopped\n")
    assert [path.name for path in tmp_path.iterdir()] == [master.name]


@pytest.mark.parametrize("number", SIGNALS)
def test_a_stop_behind_the_work_ends_the_program_without_a_word(number, master, tmp_path):
    done = stopped_at(number, "atexit", "render", master, "-o", tmp_path / "sdr.tif")
    assert (done.returncode, done.stderr) == (-number, "")
    assert done.stdout.startswith(f"{tmp_path / 'sdr.tif'}: ")


def test_a_stop_in_a_destructor_is_not_lost(capfd):
    """Python prints what is raised there, and goes on."""

    class Last:
        def __del__(self) -> None:
            signal.raise_signal(signal.SIGTERM)

    def work() -> None:
        last = Last()
        del last
        signal.pause()

    with pytest.raises(KeyboardInterrupt), stops_heard():
        work()
    assert capfd.readouterr().err == ""


def test_a_stop_of_which_a_library_makes_another_exception_is_a_stop(trimbench, monkeypatch):
    """As ctypes does of what is raised while it converts an argument, for all calls of OpenGL."""
    from viewer.commands import operators

    class Number:
        @classmethod
        def from_param(cls, value: int) -> int:
            signal.raise_signal(signal.SIGTERM)
            return value

    function = ctypes.CDLL(None).abs
    function.argtypes = [Number]
    monkeypatch.setattr(operators, "_list", lambda *_: function(1))
    outcome = trimbench("operators", "list")
    assert (outcome.status, outcome.out, outcome.err) == (130, "", "trimbench: stopped\n")


def test_a_stop_that_is_to_be_ignored_is():
    """As a shell without job control has it for a command behind '&'."""
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        with stops_heard(), stop_asked() as is_stopped:
            signal.raise_signal(signal.SIGINT)
            assert not is_stopped()
            signal.raise_signal(signal.SIGTERM)
            assert is_stopped()
        assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    finally:
        signal.signal(signal.SIGINT, before)


def test_whoever_heard_stops_before_hears_them_again():
    before = [signal.getsignal(number) for number in SIGNALS]
    with stops_heard():
        assert [signal.getsignal(number) for number in SIGNALS] != before
    assert [signal.getsignal(number) for number in SIGNALS] == before


def test_a_command_that_the_bench_stops_at_once_says_no_more_than_that(tmp_path):
    """While it is Python's alone, it says nothing; how far it is by then is a matter of the machine."""
    from viewer.bench.jobs import STOPPED, Job, Queue

    queue = Queue()
    master = tmp_path / "large.dpx"  # so that no machine is through with it by then
    write_codes(master, np.full((4000, 5000, 3), 400, np.uint16), Encoding("pq", "bt2020", "narrow", 10))
    job = Job("a render", ["render", str(master), "-o", str(tmp_path / "sdr.tif"), "--engine", "reference"])
    queue.add(job)
    while queue.running is not None and queue._process is None:
        pass
    queue.stop(job)
    queue.close()
    assert job.state == STOPPED
    assert job.sentences in ([], ["stopped"])
    assert list(tmp_path.iterdir()) == [master]
