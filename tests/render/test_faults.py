"""Faults of a whole render: each is one sentence, and nothing half written lies under a final name."""

import os
import re
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, nullcontext
from pathlib import Path

import av
import pytest
from OpenImageIO import ImageInput

from tests.render.conftest import FRAMES, decoded
from tonemap.errors import TrimbenchError
from tonemap.media.master import open_master
from tonemap.render.manifest import Manifest, open_manifest
from viewer.commands import main

WORDS = ["--engine", "reference", "--tone", "bt2390", "--gamut", "gamut_clip"]
OUTPUTS = ["o/s.%04d.dpx", "o/s.%04d.png", "o/s.%04d.tif", "o/s.%04d.exr", "o/s.mov", "o/s.mkv", "o/s.mp4"]


def run(*words: object) -> int:
    return main([str(word) for word in words])


def names(folder: Path) -> list[str]:
    """Return what lies below a folder, hidden files too."""
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))


@contextmanager
def small_disk(size: int) -> Iterator[None]:
    """Let no file grow beyond a size in bytes: the system refuses, as it does when a disk is full."""
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, limits[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
        signal.signal(signal.SIGXFSZ, handler)


@pytest.mark.parametrize("output", OUTPUTS)
def test_a_full_disk_is_one_sentence_and_the_same_command_goes_on(output, film, tmp_path, capfd):
    out = tmp_path / output
    words = ["render", film.path, "-o", out, *WORDS]
    with small_disk(2500):
        assert run(*words) == 1
    said = capfd.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1  # of the program, and nothing of the libraries below it
    assert said.err.startswith(f"trimbench: {tmp_path}/o/")
    assert "written" in said.err
    assert "space" in said.err or "make room" in said.err
    left = [path for path in (tmp_path / "o").iterdir() if path.suffix != ".jsonl"]
    assert all(path.match("s.????.png") and ImageInput.open(str(path)).read_image() is not None for path in left)
    assert len(left) < FRAMES  # a small picture may fit
    assert run(*words) == 0
    made = [name for name in names(tmp_path / "o") if not name.endswith(".jsonl")]
    assert len(made) == (1 if out.suffix in (".mp4", ".mkv", ".mov") else FRAMES)


def test_a_disk_that_is_full_at_the_manifest_leaves_nothing(film, tmp_path, capsys):
    for output in ("o/s.%04d.dpx", "o/s.mkv"):
        with small_disk(100):
            assert run("render", film.path, "-o", tmp_path / output, *WORDS) == 1
        said = capsys.readouterr().err
        assert said.count("\n") == 1
        assert "manifest.jsonl: can't be written: File too large; make room, then go on" in said
        assert names(tmp_path / "o") == []


@pytest.mark.parametrize("output", ["closed/s.%04d.dpx", "closed/s.mov", "closed/below/s.mov"])
def test_a_folder_that_can_not_be_written_to_is_said_before_any_work(output, film, tmp_path, capfd, monkeypatch):
    closed = tmp_path / "closed"
    closed.mkdir()
    closed.chmod(0o555)
    if os.geteuid() == 0:  # who may write everywhere
        monkeypatch.setattr(os, "access", lambda path, mode: Path(path) != closed)
    assert run("render", film.path, "-o", tmp_path / output, *WORDS) == 1
    said = capfd.readouterr().err
    assert said.count("\n") == 1
    assert said.endswith(f"can't be written: {closed} is read-only; choose another place\n")
    assert names(closed) == []


def test_a_folder_of_the_system_that_takes_no_files_is_one_sentence(film, capfd):
    for output in ("/proc/trimbench/s.%04d.dpx", "/proc/trimbench/s.mov"):
        assert run("render", film.path, "-o", output, *WORDS) == 1
        said = capfd.readouterr().err
        assert said.count("\n") == 1
        assert said.startswith("trimbench: /proc/trimbench")
        assert said.endswith("choose another place\n")


def test_a_file_where_a_folder_should_be_is_one_sentence(film, tmp_path, capfd):
    (tmp_path / "o").write_text("mine")
    for output in ("o/s.%04d.dpx", "o/s.mov"):
        assert run("render", film.path, "-o", tmp_path / output, *WORDS) == 1
        assert f"can't be a folder, {tmp_path / 'o'} is a file; choose another place\n" in capfd.readouterr().err
    assert (tmp_path / "o").read_text() == "mine"


@pytest.mark.parametrize("output", ["o/s.0003.dpx", "o/s.mov"])
def test_an_output_that_exists_stays_and_is_one_sentence(output, film, tmp_path, capfd):
    (tmp_path / "o").mkdir()
    (tmp_path / output).write_text("mine")
    pattern = output.replace("0003", "%04d")
    assert run("render", film.path, "-o", tmp_path / pattern, *WORDS) == 1
    assert capfd.readouterr().err == (
        f"trimbench: {tmp_path / output}: the file exists; choose another name, or give --overwrite to replace it\n"
    )
    assert names(tmp_path / "o") == [Path(output).name]
    assert (tmp_path / output).read_text() == "mine"


def test_nothing_is_made_when_the_engine_fails_before_the_first_frame(film, tmp_path, monkeypatch, capfd):
    from tonemap.errors import TrimbenchError
    from tonemap.reference import ReferenceEngine

    def fails(*_: object) -> None:
        raise TrimbenchError("operator 'bt2390': apply fails")

    for method in ("signal", "codes"):
        monkeypatch.setattr(ReferenceEngine, method, fails)
    for output in ("o/s.%04d.dpx", "o/s.mov", "o/s.mkv"):
        assert run("render", film.path, "-o", tmp_path / output, *WORDS) == 1
        assert capfd.readouterr().err == "trimbench: operator 'bt2390': apply fails\n"
    assert names(tmp_path) == ["film.mkv"]


def test_a_movie_that_is_cut_short_is_named_frame_by_frame_and_the_rest_is_rendered(film, tmp_path, capfd):
    short = tmp_path / "short.mkv"
    short.write_bytes(film.path.read_bytes()[: film.path.stat().st_size * 2 // 3])
    with av.open(str(film.path)) as source:
        packets = [(packet.pos, packet.size) for packet in source.demux(video=0) if packet.size]
    whole = sum(place + size <= short.stat().st_size for place, size in packets)
    assert 5 < whole < FRAMES
    status = run("render", short, "-o", tmp_path / "o/s.%04d.dpx", *WORDS)
    assert status == 1
    said = capfd.readouterr()
    made = [name for name in names(tmp_path / "o") if name.endswith(".dpx")]
    assert len(made) == whole
    assert all(line.startswith("trimbench: ") for line in said.err.splitlines())
    assert f"{whole} of " in said.out
    seconds = (whole * 1001 / 24000, FRAMES * 1001 / 24000)
    assert (
        f"\nthe file is cut short: it says {seconds[1]:.2f} s, and its pictures end after {seconds[0]:.2f} s; copy it "
        "again\n"
    ) in said.out
    part = ["render", short, "-o", tmp_path / "p/s.%04d.dpx", "--frames", "0-3", *WORDS]
    assert run(*part) == 0  # all that was asked for is there
    whole_facts, short_facts = (open_master(path).facts for path in (film.path, short))
    assert (whole_facts.is_cut_short, short_facts.is_cut_short) == (False, True)


def test_a_picture_that_is_cut_short_is_named_and_no_library_speaks(scans, tmp_path, capfd):
    for number, ending in ((1001, "png"), (1002, "tif"), (1003, "exr")):
        folder = tmp_path / ending
        source = scans.parent / f"a.{number}.dpx"
        assert run("render", source, "-o", folder.with_suffix(f".{ending}"), "--hdr", "master", *WORDS[:2]) == 0
        folder.mkdir()
        whole = folder.with_suffix(f".{ending}").read_bytes()
        for frame in range(3):
            (folder / f"m.{frame}.{ending}").write_bytes(whole if frame != 1 else whole[: len(whole) // 2])
        capfd.readouterr()
        assert run("render", folder / f"m.#.{ending}", "-o", folder / "o/s.%04d.dpx", *WORDS) == 1
        said = capfd.readouterr().err
        assert said.startswith(f"trimbench: frame 1: {folder / f'm.1.{ending}'}: ")
        assert said.count("\n") == 1, said
        assert sorted(path.name for path in (folder / "o").glob("*.dpx")) == ["s.0000.dpx", "s.0002.dpx"]


def started(film: Path, output: Path, *program: str, words: Sequence[str] = ()) -> subprocess.Popen[str]:
    words = [sys.executable, "-m", *(program or ["viewer"]), "render", str(film), "-o", str(output), *WORDS, *words]
    pipe = subprocess.PIPE
    return subprocess.Popen(words, stdin=pipe, stdout=pipe, stderr=pipe, text=True)


def wait_for(folder: Path, pattern: str, count: int) -> None:
    deadline = time.monotonic() + 200.0
    while len(list(folder.glob(pattern))) < count:
        assert time.monotonic() < deadline, "the render does not begin"
        time.sleep(0.002)


@pytest.fixture
def long_film(film, tmp_path: Path) -> Path:
    """Repeat the film's packets, so that it is long enough to be stopped in the middle."""
    path = tmp_path / "long.mkv"
    with av.open(str(film.path)) as source, av.open(str(path), "w") as output:
        stream = output.add_stream_from_template(source.streams.video[0])
        packets = [(bytes(packet), packet.time_base) for packet in source.demux(video=0) if packet.size]
        for number in range(8 * len(packets)):
            data, base = packets[number % len(packets)]
            packet = av.Packet(data)
            packet.pts = packet.dts = round(number * 1001 / 24000 / base)
            packet.time_base, packet.stream, packet.is_keyframe = base, stream, True
            output.mux(packet)
    return path


@pytest.mark.parametrize(("output", "pattern"), [("o/s.%04d.dpx", "*.dpx"), ("o/s.mov", ".s.mov.render/*.mov")])
@pytest.mark.parametrize(
    "signals", [[signal.SIGINT], [signal.SIGTERM], [signal.SIGINT, signal.SIGINT], [signal.SIGKILL]]
)
def test_a_stop_leaves_only_what_is_whole_and_the_same_command_goes_on(signals, output, pattern, long_film, tmp_path):
    out = tmp_path / output
    process = started(long_film, out, "tests.held", "40")  # it is in the middle, however quick or slow the machine
    wait_for(tmp_path / "o", pattern, 3 if out.suffix == ".dpx" else 1)
    for number in signals:
        process.send_signal(number)
        time.sleep(0.01)
    report, said = process.communicate(timeout=200)  # which lets it go on
    if signals != [signal.SIGKILL]:
        assert process.returncode == 130
        anew = "nothing is whole yet, and the same command begins anew"
        advice = anew if out.suffix == ".mov" else "the same command goes on from here"
        whole = len(list((tmp_path / "o").glob("s.*.dpx")))
        assert report.startswith(f"{out}: stopped, {whole} of {8 * FRAMES} frames are whole, BT.1886") or report == ""
        sentences = (f"trimbench: stopped; {advice}\n", "trimbench: stopped\n")
        assert said in (sentences if len(signals) > 1 else sentences[:1])
    assert not (tmp_path / "o/s.mov").exists()
    sizes = {path.stat().st_size for path in (tmp_path / "o").glob("s.*.dpx")}
    assert len(sizes) <= 1  # no frame is shorter than the others
    if signals == [signal.SIGKILL] and out.suffix == ".dpx":
        (tmp_path / "o/.s.0100.dpx.01234567.part").write_bytes(b"SDPX")  # as a process may leave it
    again = started(long_film, out)
    said_again, errors = again.communicate(timeout=200)
    assert (again.returncode, errors) == (0, "")
    if out.suffix == ".dpx":
        assert len(list((tmp_path / "o").glob("s.*.dpx"))) == 8 * FRAMES
        assert "were whole already, and were kept" in said_again or signals == [signal.SIGKILL]
        assert not list((tmp_path / "o").glob(".s.*.part"))
    else:
        assert len(decoded(out)) == 8 * FRAMES
        assert names(tmp_path / "o") == ["s.manifest.jsonl", "s.mov"]


@pytest.mark.parametrize(("output", "pattern"), [("o/s.%04d.dpx", "*.dpx"), ("o/s.mov", ".s.mov.render/*.mov")])
def test_a_second_render_to_one_place_is_refused_while_the_first_is_at_work(output, pattern, long_film, tmp_path):
    out = tmp_path / output
    process = started(long_film, out, "tests.held", "40")
    wait_for(tmp_path / "o", pattern, 1)
    for words in ([], ["--overwrite"], ["--overwrite", "--set", "input.exposure=1"]):
        said, errors = started(long_film, out, words=words).communicate(timeout=200)
        place = out.parent if out.suffix == ".dpx" else out.with_name(".s.mov.render")
        assert said == ""
        assert re.fullmatch(
            rf"trimbench: {re.escape(str(place))}: .+ on .+ \(since .+ UTC\) is rendering to this place; wait until "
            r"that has ended, or choose another place; if it was killed, delete .+\.manifest\.jsonl\..+\.open\n",
            errors,
        )
    _, errors = process.communicate(timeout=200)
    assert (process.returncode, errors) == (0, "")
    if out.suffix == ".dpx":
        assert len(names(tmp_path / "o")) == 8 * FRAMES + 1
    else:
        assert names(tmp_path / "o") == ["s.manifest.jsonl", "s.mov"]


def test_a_render_on_another_machine_is_taken_to_be_at_work(tmp_path):
    path = tmp_path / "s.manifest.jsonl"
    note = tmp_path / ".s.manifest.jsonl.elsewhere.12.open"
    note.write_text('{"user": "ada", "host": "elsewhere", "pid": 12, "since": "2026-01-02T03:04:05+00:00"}')
    manifest = Manifest(path, {})
    for call in (manifest.begin, lambda: open_manifest(path, {})):
        with pytest.raises(TrimbenchError) as caught:
            call()
        assert str(caught.value) == (
            f"{tmp_path}: ada on elsewhere (since 2026-01-02 03:04:05 UTC) is rendering to this place; wait until that "
            f"has ended, or choose another place; if it was killed, delete {note}"
        )
    assert list(tmp_path.iterdir()) == [note]


def test_a_movie_stopped_behind_a_whole_segment_says_what_is_kept(film, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("tonemap.render.movie_output.SEGMENT", 6)
    seen = iter(range(1000))
    stop = nullcontext(lambda: next(seen) >= 13)
    monkeypatch.setattr("viewer.commands.render_programme.stop_asked", lambda: stop)
    assert run("render", film.path, "-o", tmp_path / "s.mov", *WORDS) == 130
    said = capsys.readouterr()
    assert said.out.startswith(f"{tmp_path / 's.mov'}: stopped, 12 of {FRAMES} frames are whole, BT.1886")
    assert said.err == (
        "trimbench: stopped; segments of 6 frames that are whole are kept, and the same command goes on behind them\n"
    )
