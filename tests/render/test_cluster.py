"""The same render on a real cluster of processes on this machine, one of them killed in the middle."""

import json
import os
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path

import pytest

from tests.render.conftest import FRAMES, HOST, RENDITION
from tonemap.errors import TrimbenchError
from tonemap.media.master import open_master
from tonemap.media.movie_output import codec_for
from tonemap.reference import ReferenceEngine
from tonemap.render import chunks
from tonemap.render.job import render
from tonemap.render.movie_output import MovieOutput
from tonemap.render.programme import MasterProgramme
from tonemap.render.sequence_output import SequenceOutput
from viewer.commands import main
from viewer.commands.progress import ProgressBar


@pytest.fixture
def cluster():
    """Start two workers, one process each; their folder for spilling is not used."""
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as cluster:
        yield cluster


def words(film: Path, output: Path, cluster) -> list[str]:
    words = ["render", str(film), "-o", str(output), "--engine", "reference", "--tone", "bt2390", "--gamut"]
    return [*words, "gamut_clip", "--scheduler", cluster.scheduler_address]


@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::DeprecationWarning", "ignore::UserWarning")
def test_a_cluster_gives_the_same_bytes_though_a_worker_is_killed(film, tmp_path, cluster, monkeypatch, capsys):
    monkeypatch.setattr(chunks, "CHUNK", 2)
    killed: list[int] = []

    def kill() -> None:
        while len(list((tmp_path / "o").glob("*.dpx"))) < 2:
            time.sleep(0.005)
        killed.append(next(iter(cluster.workers.values())).pid)
        os.kill(killed[0], signal.SIGKILL)

    killer = threading.Thread(target=kill)
    killer.start()
    assert main(words(film.path, tmp_path / "o/s.%04d.dpx", cluster)) == 0
    killer.join()
    assert killed
    assert f"{FRAMES} of {FRAMES} frames" in capsys.readouterr().out
    programme = MasterProgramme(open_master(film.path), RENDITION, HOST)
    render(programme, SequenceOutput(tmp_path / "local/s.%04d.dpx", programme), ReferenceEngine())
    for path in (tmp_path / "local").glob("*.dpx"):
        assert path.read_bytes() == (tmp_path / "o" / path.name).read_bytes()
    lines = [json.loads(line) for line in (tmp_path / "o/s.manifest.jsonl").read_text().splitlines()]
    assert len([line for line in lines if "file" in line]) == FRAMES
    assert lines[1:] == [line for line in lines if "file" in line or "distance" in line]
    local = [json.loads(line) for line in (tmp_path / "local/s.manifest.jsonl").read_text().splitlines()]
    found, alone = ([line for line in some if "distance" in line] for some in (lines, local))
    assert len(alone) == 1
    assert found == alone


@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::DeprecationWarning", "ignore::UserWarning")
def test_a_movies_segments_are_coded_by_the_workers(film, tmp_path, cluster, monkeypatch):
    from tests.render.conftest import decoded
    from tonemap.render import movie_output

    monkeypatch.setattr(movie_output, "SEGMENT", 6)
    path = tmp_path / "o.mkv"
    assert main(words(film.path, path, cluster)) == 0
    programme = MasterProgramme(open_master(film.path), RENDITION, HOST)
    local = tmp_path / "local.mkv"
    render(programme, MovieOutput(local, codec_for(local, None), programme), ReferenceEngine())
    for one, other in zip(decoded(path), decoded(local), strict=True):
        for plane, same in zip(one, other, strict=True):
            assert (plane == same).all()


@pytest.mark.parametrize("address", ["nowhere", "tcp://127.0.0.1:port", "tcp://:80", "tcp://[:80", "http://127.0.0.1"])
def test_what_is_no_address_of_a_scheduler_is_one_sentence(address, film, tmp_path, capfd):
    words = ["render", str(film.path), "-o", str(tmp_path / "o/s.%04d.dpx")]
    assert main([*words, "--scheduler", address]) == 2
    said = f"trimbench: --scheduler {address} is no address of a scheduler; write tcp://HOST:PORT\n"
    assert capfd.readouterr().err == said


def test_a_scheduler_that_does_not_answer_is_one_sentence(film, tmp_path, monkeypatch, capsys):
    from viewer.commands import render_cluster

    monkeypatch.setattr(render_cluster, "PATIENCE", 0.5)
    status = main(["render", str(film.path), "-o", str(tmp_path / "o/s.%04d.dpx"), "--scheduler", "tcp://127.0.0.1:9"])
    assert status == 1
    assert capsys.readouterr().err.startswith("trimbench: no scheduler answers at tcp://127.0.0.1:9 (")


def started(*words: str) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "dask", *words, "--no-dashboard"]
    return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def address_in(told: Path) -> str:
    """Wait until a scheduler has written where it is, and return that."""
    deadline = time.monotonic() + 200.0
    while time.monotonic() < deadline:
        with suppress(FileNotFoundError, json.JSONDecodeError):
            return json.loads(told.read_text())["address"]
        time.sleep(0.01)
    raise AssertionError("the scheduler does not begin")


@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::DeprecationWarning", "ignore::UserWarning")
def test_a_cluster_that_is_gone_is_one_sentence_and_the_same_command_goes_on(scans, tmp_path, monkeypatch, capfd):
    monkeypatch.setattr(chunks, "CHUNK", 2)
    last, whole = scans.with_name("a.1006.dpx"), scans.with_name("whole")
    last.rename(whole)
    os.mkfifo(last)  # nothing is written into it: the worker does not come to the end, however quick it is
    told = tmp_path / "scheduler.json"
    scheduler = started("scheduler", "--host", "127.0.0.1", "--port", "0", "--scheduler-file", str(told))
    address = address_in(told)
    worker = started("worker", address, "--no-nanny", "--nthreads", "1", "--local-directory", str(tmp_path / "spill"))
    arguments = ["render", str(scans), "-o", str(tmp_path / "o/s.%04d.dpx"), "--engine", "reference"]
    are_killed = threading.Event()

    def kill(*_: object) -> None:
        for process in (scheduler, worker):
            process.kill()
        are_killed.set()

    monkeypatch.setattr(ProgressBar, "show", kill)  # when the first chunk is back
    try:
        while main([*arguments, "--scheduler", address]) == 1 and not are_killed.is_set():  # until the worker is there
            capfd.readouterr()
            time.sleep(0.2)
    finally:
        for process in (scheduler, worker):
            process.kill()
            process.wait()
    monkeypatch.undo()
    whole.rename(last)
    said = capfd.readouterr()
    assert (said.out, said.err) == (
        "",
        f"trimbench: the cluster at {address} is gone, or a chunk ends its workers; what is whole stays, and the same "
        "command goes on when there is a cluster again\n",
    )
    assert main(arguments) == 0
    assert len(list((tmp_path / "o").glob("*.dpx"))) == 6


def test_a_stop_is_heard_while_no_worker_answers(film, tmp_path):
    programme = MasterProgramme(open_master(film.path), RENDITION, HOST)
    output = SequenceOutput(tmp_path / "o/s.%04d.dpx", programme)
    is_over = threading.Event()

    def waits(frames: list[int]) -> chunks.ChunkResult:
        is_over.wait(200.0)
        return chunks.ChunkResult(tuple(frames), (), ())

    with ThreadPoolExecutor(1) as pool:
        try:
            outcome = chunks.render_on(pool, waits, output, programme, is_stopped=lambda: True)
            assert not is_over.is_set()
        finally:
            is_over.set()
    assert (outcome.done, outcome.is_complete) == (0, False)


def test_a_worker_that_fails_says_why(film, tmp_path):
    programme = MasterProgramme(open_master(film.path), RENDITION, HOST)
    output = SequenceOutput(tmp_path / "o/s.%04d.dpx", programme)

    def fails(frames: list[int]) -> chunks.ChunkResult:
        raise TrimbenchError(f"frame {frames[0]} can't be written: no room")

    with ThreadPoolExecutor(1) as pool, pytest.raises(TrimbenchError, match="frame 0 can't be written: no room"):
        chunks.render_on(pool, fails, output, programme)
