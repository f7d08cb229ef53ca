"""trimbench measure: figures whose answer is arithmetic, faults named, and an interruption that changes nothing."""

import argparse
import json
import os
import pty
import re
import signal
import subprocess
import sys
import tracemalloc
from pathlib import Path
from types import SimpleNamespace

import av
import numpy as np
import pytest

from tonemap.encoding import Encoding
from tonemap.host import find_operators
from tonemap.measure.gamut_share import outside_mask
from tonemap.measure.light_of_rows import light_of_rows
from tonemap.measure.patches import Patch
from tonemap.measure.profile import load_profile
from tonemap.measure.report import report_of
from tonemap.measure.session import Plan, Session
from tonemap.media.ahead import ahead
from tonemap.media.master import open_master
from tonemap.media.oiio_output import write_codes, write_signal
from tonemap.reference import ReferenceEngine
from tonemap.rendition import Rendition, chain_of
from tonemap.transfer import pq_eotf_inverse
from viewer.commands.measure import _Progress, add_arguments, session_of
from viewer.commands.measure_plots import plot_names
from viewer.commands.measure_table import _number

LINEAR = Encoding("linear", "bt2020")
PQ = Encoding("pq", "bt2020", "narrow", 10)


def write_light(path, *rows):
    """Write linear light in cd/m2 as EXR; each row of pixels is a list of (R, G, B)."""
    write_signal(path, np.array(rows, np.float64), LINEAR)
    return path


@pytest.fixture
def toy(tmp_path):
    """Make the toy frame of the sheet of standards: MaxCLL 1000, frame average 250.025 over all that is active."""
    plain = [100.0, 50.0, 20.0]
    rows = [[plain] * 4, [plain] * 4]
    rows[0][1], rows[1][2] = [1000.0, 200.0, 50.0], [10.0, 20.0, 400.2]
    return write_light(tmp_path / "toy.exr", *rows)


@pytest.fixture
def sequence(tmp_path, codes):
    """Write eight frames of PQ that get brighter; frame 3 is a flash, and 24 frames are a second."""
    for number in range(8):
        frame = np.clip(codes + 12 * number + 300 * (number == 3), 64, 940).astype(np.uint16)
        write_codes(tmp_path / f"shot.{number + 1001}.png", frame, PQ)
    return tmp_path / "shot.####.png"


def test_a_folder_of_operators_that_is_none_is_refused_without_a_rendition_too(toy, trimbench):
    outcome = trimbench("measure", toy, "--operators", "nowhere")
    assert (outcome.status, outcome.out) == (2, "")
    assert outcome.err == (
        "trimbench: operator folder nowhere is not a folder; give the folder that holds NAME.py and NAME.glsl\n"
    )


def test_a_slope_of_nothing_has_no_sign():
    assert [_number(value) for value in (-0.004, 0.004, -0.006, None)] == ["0.00", "0.00", "-0.01", "\u2013"]


def test_a_line_break_in_a_name_breaks_no_line(toy, trimbench):
    odd = toy.rename(toy.with_name("to\ny\x1b[2J.exr"))
    assert trimbench("measure", odd).out.startswith(f"{toy.parent}/to\\ny\\x1b[2J.exr: still, EXR, 4 x 2\n")
    outcome = trimbench("measure", toy.with_name("no\nne.exr"))
    assert outcome.err == (
        f"trimbench: {toy.parent}/no\\nne.exr: can't be read: No such file or directory; check the name and its "
        "permissions\n"
    )


def test_the_table_of_a_still(trimbench, toy):
    outcome = trimbench("measure", toy)
    assert (outcome.status, outcome.err) == (0, "")
    assert outcome.out == (
        f"{toy}: still, EXR, 4 x 2\n"
        "linear light, BT.2020, 1.0 = 1 cd/m², peak 1000 cd/m²; floating point\n"
        "\n"
        "Light of the active area\n"
        "  MaxCLL          1000 cd/m²   (1000.00; column 1, row 0)\n"
        "  MaxFALL          251 cd/m²   (250.03)\n"
        "  luminance      101.2 cd/m² on average   39.9 to 401.3\n"
        "  picture level   47.9 % of PQ on average\n"
        "  max(R, G, B)      50 %    95 %    99 %  99.9 % 99.99 %  of the pixels, up to\n"
        "                     100    1000    1000    1000    1000  cd/m²\n"
        "                    -1.0    +2.3    +2.3    +2.3    +2.3  stops about reference white, 203\n"
        "  above              100     203     600    1000          cd/m²\n"
        "                    25 %    25 %  12.5 %     0 %          of the pixels\n"
        "\n"
        "Colour outside\n"
        "  P3-D65          12.5 %   farthest 0.0129 in u'v', a blue of 39.9 cd/m²\n"
        "  BT.709          12.5 %   farthest 0.0145 in u'v', a blue of 39.9 cd/m²\n"
    )


def test_json_has_the_same_figures_for_a_script(trimbench, toy):
    report = json.loads(trimbench("measure", toy, "--json").out)
    assert list(report) == [
        *("master", "measured", "levels", "gamut", "tags", "profile", "flash", "patches", "renditions", "history"),
        "passes",
    ]
    levels = report["levels"]
    assert (levels["max_cll"], levels["max_cll_nits"]) == (1000, 1000.0)
    assert (levels["max_cll_row"], levels["max_cll_column"]) == (0, 1)
    assert (levels["max_fall"], round(levels["max_fall_nits"], 5)) == (251, 250.025)
    assert report["measured"] == {
        "first": 0,
        "last": 0,
        "step": 1,
        "frames": 1,
        "is complete": True,
        "area": {"top": 0, "left": 0, "rows": 2, "columns": 4},
        "area is": "the whole frame",
        "faults": [],
        "fault frames": "",
        "odd samples": {
            "pixels": dict.fromkeys(("nan", "infinite", "negative"), 0),
            "frames": dict.fromkeys(("nan", "infinite", "negative"), ""),
            "sentences": [],
        },
    }
    assert (report["master"]["kind"], report["master"]["frames"], report["passes"]) == ("still", 1, True)
    assert (report["profile"], report["flash"], report["renditions"]) == (None, None, [])
    assert [row["frame"] for row in report["history"]] == [0]


def test_bars_are_left_out_or_kept_as_the_user_says(trimbench, tmp_path):
    picture = np.full((40, 64, 3), 100.0)
    picture[:5] = picture[-5:] = 0.0
    write_signal(tmp_path / "a.exr", picture, LINEAR)
    report = json.loads(trimbench("measure", tmp_path / "a.exr", "--json").out)
    assert (report["measured"]["area"], report["measured"]["area is"]) == (
        {"top": 5, "left": 0, "rows": 30, "columns": 64},
        "found",
    )
    assert (report["levels"]["max_fall_nits"], report["levels"]["max_fall_full_nits"]) == (100.0, 75.0)
    report = json.loads(trimbench("measure", tmp_path / "a.exr", "--json", "--area", "0,0,40,64").out)
    assert (report["measured"]["area is"], report["levels"]["max_fall_nits"]) == ("said by the user", 75.0)


def test_an_unreadable_frame_is_named_counted_and_skipped(trimbench, sequence):
    broken = sequence.with_name("shot.1004.png")
    broken.write_bytes(broken.read_bytes()[:300])
    sequence.with_name("shot.1006.png").unlink()
    outcome = trimbench("measure", sequence, "--json")
    sentence = f"{broken}: the file is damaged or cut short; copy or export it again"
    assert outcome.err == f"trimbench: 2 frames could not be read: 1004, 1006; the first: {sentence}\n"
    assert outcome.status == 1
    report = json.loads(outcome.out)
    assert report["measured"]["faults"] == [
        {"frame": 1004, "sentence": sentence},
        {"frame": 1006, "sentence": f"{sequence.with_name('shot.1006.png')}: the frame is missing"},
    ]
    assert [row["frame"] for row in report["history"]] == [1001, 1002, 1003, 1005, 1007, 1008]
    assert (report["measured"]["frames"], report["passes"]) == (6, False)
    table = trimbench("measure", sequence)
    assert "frames 1001-1008: 6 measured; could not be read: 1004, 1006\n" in table.out
    assert table.status == 1


def test_only_the_frames_asked_for(trimbench, sequence):
    report = json.loads(trimbench("measure", sequence, "--json", "--frames", "1002-1007", "--step", "2").out)
    assert [row["frame"] for row in report["history"]] == [1002, 1004, 1006]
    assert report["levels"]["max_fall_frame"] == 1004
    report = json.loads(trimbench("measure", sequence, "--json", "--frames", "1005").out)
    assert [row["frame"] for row in report["history"]] == [1005]


def test_a_profile_that_fails_says_what_where_and_on_which_frames(trimbench, sequence, tmp_path):
    profile = tmp_path / "house.toml"
    profile.write_text('format = 1\nkind = "hdr"\ntitle = "House"\n[light]\npeak = 700\n')
    outcome = trimbench("measure", sequence, "--json", "--profile", profile)
    assert outcome.status == 1
    assert outcome.err == "trimbench: the master fails the delivery profile 'house': peak\n"
    report = json.loads(outcome.out)
    (check,) = report["profile"]["checks"]
    above = [row["frame"] for row in report["history"] if row["maximum"] > 700]
    assert above
    assert check["frames"] == f"{above[0]}-{above[-1]}"
    assert trimbench("measure", sequence, "--profile", "hdr-4000-p3", "--frames", "1001").status in (0, 1)
    outcome = trimbench("measure", sequence, "--profile", "sdr-709-graded")
    assert (outcome.status, outcome.err) == (
        2,
        "trimbench: delivery profile 'sdr-709-graded' is for SDR; give a rendition to check, with --tone\n",
    )


def test_renditions_are_measured_beside_the_master(trimbench, master):
    words = ["--tone", "hard_clip", "--gamut", "gamut_clip", "--tone", "bt2390", "--name", "Second"]
    patch = ["--patch", "custom:middle:0.25,0.25,0.75,0.75", "--profile", "sdr-709-graded", "--engine", "reference"]
    outcome = trimbench("measure", master, "--json", *words, *patch)
    report = json.loads(outcome.out)
    first, second = report["renditions"]
    assert (first["tone"], first["gamut"], second["name"]) == ("hard_clip", "gamut_clip", "Second")
    for rendition in (first, second):
        # The target is quantised to nominal codes, so that no filtered value can leave them.
        assert rendition["legality"]["is legal"] is True
        assert rendition["profile"]["passes"] is True
        assert rendition["difference"]["below"] == 100.0
        assert rendition["structure"]["highlights"] is None or rendition["structure"]["highlights"] < 1.0
    # Below 100 cd/m2 a hard clip changes only what lies outside BT.709; the EETF rolls off from far below.
    assert first["difference"]["mean"] < second["difference"]["mean"]
    (row,) = report["patches"]["rows"]
    assert (row["name"], row["kind"], row["proposed"]) == ("middle", "custom", False)
    assert [item["name"] for item in row["renditions"]] == [first["name"], "Second"]
    table = trimbench("measure", master, *words, *patch).out
    assert "Renditions by the engine reference (NumPy float64)\nR 103 nominal range" in table
    assert re.search(r"^Second +yes +0 % +[0-9.]+ +[0-9.]+ ", table, re.MULTILINE)
    assert re.search(r"^  middle \(marked region\), hue [0-9]+°, chroma 0\.[0-9]{4} in ICtCp$", table, re.MULTILINE)
    assert max(map(len, table.splitlines()[1:])) <= 100


def test_both_engines_measure_the_same(trimbench, master):
    reports = [
        json.loads(trimbench("measure", master, "--json", "--tone", "bt2390", "--engine", engine).out)["renditions"][0]
        for engine in ("reference", "gpu")
    ]
    assert reports[1]["engine"].startswith("gpu")
    for zone in ("highlights", "midtones", "shadows"):
        one, other = (report["structure"][zone] for report in reports)
        assert one == other or abs(one - other) < 1e-3
    assert abs(reports[0]["difference"]["mean"] - reports[1]["difference"]["mean"]) < 0.01


def test_skin_is_only_proposed(trimbench, master):
    outcome = trimbench("measure", master, "--find-skin")
    assert (
        "Patches on frame 0; no region looks like skin; this is a proposal: confirm it, or mark the skin" in outcome.out
    )


def session(path):
    master = open_master(path)
    host = find_operators()
    chains = [chain_of(Rendition(name, name), master.encoding, host) for name in ("bt2390", "knee")]
    plan = Plan(
        0,
        master.count - 1,
        profile=load_profile("sdr-709-graded"),
        patches=(Patch.rectangle("p", "custom", 0.2, 0.2, 0.8, 0.8),),
        find_skin=True,
    )
    return Session(master, plan, chains, ReferenceEngine())


@pytest.fixture(scope="module")
def movie_and_report(tmp_path_factory):
    """Make a movie, and measure it without a break."""
    movie = make_movie(tmp_path_factory.mktemp("movie") / "a.mkv", frames_of(8))
    whole = session(movie)
    assert whole.run()
    assert whole.figures.flash is not None
    return movie, json.dumps(report_of(whole))


@pytest.mark.parametrize("breaks", [(0, 3, 4), (7,), tuple(range(8))], ids=str)
def test_an_interrupted_run_gives_the_same_to_the_last_bit(movie_and_report, tmp_path, breaks):
    movie, expected = movie_and_report
    state = tmp_path / "state.json"
    for stop in breaks:
        part = session(movie)
        if state.exists():
            part.resume(state)
        assert not part.run(is_stopped=lambda stop=stop, part=part: part.done >= stop)
        assert part.done == stop
        part.save(state)
    last = session(movie)
    last.resume(state)
    assert last.run()
    assert json.dumps(report_of(last)) == expected
    last.save(state)
    again = session(movie)
    again.resume(state)
    assert again.run()
    assert json.dumps(report_of(again)) == expected


def test_memory_does_not_grow_with_the_length(tmp_path):
    peaks = []
    for count in (1, 6, 18):  # the first one fills the caches of tables
        luma = [np.full((540, 960), 300 + number) for number in range(count)]
        master = open_master(make_movie(tmp_path / f"{count}.mkv", luma))
        tracemalloc.start()
        assert Session(master, Plan(0, count - 1)).run()
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    codes_of_a_frame = 2 * 540 * 960
    assert peaks[2] - peaks[1] < 3 * codes_of_a_frame  # 12 more frames


def frames_of(count):
    """Luma of flat grey with texture, brighter with every frame."""
    random = np.random.default_rng(2)
    return [np.clip(300 + 40 * (n % 2) + random.integers(0, 200, (36, 48)), 64, 940) for n in range(count)]


def make_movie(path, luma, chroma=(512, 512)):
    """Write FFV1, 4:2:0, with the same chroma in every frame."""
    with av.open(str(path), "w") as output:
        stream = output.add_stream("ffv1", rate=24)
        rows, columns = luma[0].shape
        stream.width, stream.height, stream.pix_fmt = columns, rows, "yuv420p10le"
        tags = stream.codec_context
        tags.color_primaries, tags.color_trc, tags.colorspace, tags.color_range = 9, 16, 9, 1
        for number, codes in enumerate(luma):
            frame = av.VideoFrame(columns, rows, "yuv420p10le")
            for plane, values in zip(frame.planes, (codes, *chroma), strict=True):
                np.frombuffer(plane, np.uint16).reshape(plane.height, -1)[:, : plane.width] = values
            frame.pts = number
            output.mux(stream.encode(frame))
        output.mux(stream.encode())
    return path


def test_the_light_of_a_movie_is_that_of_its_pictures(trimbench, tmp_path):
    # Grey codes: Y' is R' = G' = B', so an image sequence of the same codes must give the same figures.
    luma = frames_of(3)
    movie = make_movie(tmp_path / "a.mkv", luma)
    for number, codes in enumerate(luma):
        write_codes(tmp_path / f"a.{number}.png", np.repeat(codes[..., np.newaxis], 3, 2).astype(np.uint16), PQ)
    of_movie, of_pictures = (
        json.loads(trimbench("measure", path, "--json").out)["levels"] for path in (movie, tmp_path / "a.#.png")
    )
    for name in ("max_cll_nits", "max_fall_nits", "max_fall_full_nits"):
        assert abs(of_movie[name] / of_pictures[name] - 1.0) < 5e-5  # 2e-5 measured
    for name in ("max_cll", "max_cll_frame", "max_cll_row", "max_cll_column", "max_fall", "max_fall_frame"):
        assert of_movie[name] == of_pictures[name]
    for name in ("average", "luminance_average", "average_picture_level"):
        assert abs(of_movie["active"][name] / of_pictures["active"][name] - 1.0) < 1e-5


def test_a_state_of_another_measurement_is_refused(sequence, tmp_path, trimbench):
    state = tmp_path / "state.json"
    assert trimbench("measure", sequence, "--state", state).status == 0
    outcome = trimbench("measure", sequence, "--resume", state, "--step", "2")
    assert (outcome.status, outcome.err) == (
        2,
        f"trimbench: {state}: it belongs to another measurement, which differs in its frames; "
        "give the same words as then, or measure from the beginning\n",
    )
    outcome = trimbench("measure", sequence, "--state", state)
    assert (outcome.status, outcome.err) == (
        1,
        f"trimbench: {state}: the file exists; choose another name, or give --overwrite to replace it\n",
    )
    state.write_text("{}")
    outcome = trimbench("measure", sequence, "--resume", state)
    assert (outcome.status, outcome.err) == (
        1,
        f"trimbench: {state}: this is not a saved measurement; measure from the beginning\n",
    )


@pytest.mark.parametrize("is_compiled", [False, True])
@pytest.mark.parametrize(("kind", "loop"), [("movie", "measure_planes"), ("still", "measure_light")])
def test_the_line_of_progress_says_that_the_first_run_compiles(is_compiled, kind, loop, monkeypatch, capsys):
    monkeypatch.setattr("tonemap.measure.kernels.are_compiled", lambda asked: is_compiled and asked == loop)
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    master = SimpleNamespace(facts=SimpleNamespace(kind=kind))
    _Progress(SimpleNamespace(done=0, master=master), None).begin()
    assert capsys.readouterr().err == ("" if is_compiled else "\rcompiling for this machine, this once \033[K")


def test_ctrl_c_stops_cleanly_and_says_how_to_go_on(tmp_path, trimbench):
    movie = make_movie(tmp_path / "long.mkv", frames_of(24))
    words = ["measure", str(movie), "--json", "--tone", "bt2390", "--engine", "reference"]
    terminal, stderr = pty.openpty()
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[2])}
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.held", "12", *words],  # it is in the middle, however quick or slow the machine
        cwd=tmp_path,
        env=environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=stderr,
    )
    os.close(stderr)
    shown = ""
    while not re.search(r"[1-9]\d*/24 frames", shown):
        shown += os.read(terminal, 4096).decode()
    process.send_signal(signal.SIGINT)
    out, _ = process.communicate(timeout=200)
    try:
        while chunk := os.read(terminal, 4096):
            shown += chunk.decode()
    except OSError:  # the other end is closed
        pass
    os.close(terminal)
    assert process.returncode == 130
    assert out == b""
    state = tmp_path / "long.measure-state.json"
    found = re.search(r"trimbench: stopped after (\d+) of 24 frames; (.*)", shown)
    assert found is not None
    assert found[2].strip() == (f"the same words with --resume {state.name} in place of --state go on from there")
    assert 0 < int(found[1]) < 24
    assert json.loads(state.read_text())["done"] == int(found[1])
    resumed = trimbench(*words, "--resume", state)
    assert (resumed.status, resumed.err) == (0, "")
    assert resumed.out == trimbench(*words).out


def difference_of(trimbench, *words):
    return [item["difference"] for item in json.loads(trimbench("measure", *words, "--json").out)["renditions"]]


def test_a_difference_between_two_renditions_is_that_of_their_greys(trimbench, tmp_path):
    # Delta E ITP of greys is 720 times the difference of their PQ signals (BT.2124-0, Annex 1, with T = P = 0). At
    # 60 cd/m2 a clip at a peak of 100 shows 60, and one at a peak of 50 shows 50: PQ signals of ST 2084.
    path = write_light(tmp_path / "grey.exr", *[[[60.0] * 3] * 32] * 24)
    words = [path, "--engine", "reference", "--against", "A", "--tone", "hard_clip", "--name", "A"]
    words += ["--tone", "hard_clip", "--set", "target.peak=50", "--name", "B"]
    first, second = difference_of(trimbench, *words)
    assert (first["mean"], first["against is"], first["below"]) == (None, "'A'", None)
    assert second["mean"] == pytest.approx(720.0 * float(np.diff(pq_eotf_inverse(np.array([50.0, 60.0])))[0]), abs=0.3)
    (above,) = (item["mean"] for item in difference_of(trimbench, *words, "--below", "59")[1:])
    assert above is None


def test_a_difference_between_the_engines_is_at_most_that_of_one_code(trimbench, master):
    (found,) = difference_of(trimbench, master, "--tone", "bt2390", "--engine", "gpu", "--against", "reference")
    assert (found["against"], found["below"]) == ("reference", None)
    assert found["mean"] < 0.01
    (seen,) = difference_of(trimbench, master, "--tone", "bt2390", "--engine", "gpu")
    assert (seen["against"], seen["below"], seen["mean"] > 0.5) == ("master", 100.0, True)


def test_patches_lie_on_the_frame_asked_for(trimbench, sequence):
    words = ["measure", sequence, "--json", "--patch", "custom:all:0,0,1,0,1,1,0,1"]
    medians = []
    for frame in ("1001", "1004"):  # 1004 is the flash
        patches = json.loads(trimbench(*words, "--patch-frame", frame).out)["patches"]
        assert patches["frame"] == int(frame)
        medians.append(patches["rows"][0]["master"]["nits"]["p50"])
    assert medians[1] > 2.0 * medians[0]
    outcome = trimbench(*words, "--frames", "1001-1002", "--patch-frame", "1004")
    assert (outcome.status, outcome.err) == (
        2,
        f"trimbench: {sequence}: frame 1004 for the patches is not among those to be measured; "
        "choose one that is, with --patch-frame\n",
    )


def test_plots_leave_out_the_bars_and_say_so(trimbench, tmp_path, monkeypatch):
    shown = {}
    monkeypatch.setattr(
        "viewer.commands.measure_plots.write_plots", lambda folder, plots, overwrite: shown.update(plots) or []
    )
    monkeypatch.setattr("viewer.commands.measure_plots.WIDTH", 600)
    picture = np.full((40, 64, 3), 100.0)
    picture[:5] = picture[-5:] = 0.0
    write_signal(tmp_path / "a.exr", picture, LINEAR)
    words = ["--tone", "bt2390", "--engine", "reference", "--plots", tmp_path / "p", "--paper"]
    assert trimbench("measure", tmp_path / "a.exr", *words).status == 0
    assert shown["histogram"].args[0].pixels == 30 * 64  # arithmetic: 10 of the 40 rows are bars
    for name in ("histogram", "gamut-mask", "bt-2390-eetf-legality", "bt-2390-eetf-difference"):
        words = " ".join(text.get_text() for text in shown[name]().axes[0].texts)
        assert "Active area 64 x 30 at column 0, row 5" in words
        assert shown[name].keywords["look"].is_paper


def test_plots_take_the_renditions_that_were_measured(trimbench, tmp_path, monkeypatch):
    """Of three frames the second is the brightest, and is shown; nothing is rendered twice."""
    rendered, shown = [], {}
    for number, code in enumerate((500, 700, 600), 1):
        write_codes(tmp_path / f"shot.{number}.png", np.full((12, 16, 3), (code, 450, 400), np.uint16), PQ)
    sequence = tmp_path / "shot.#.png"

    class Counting(ReferenceEngine):
        def codes(self, picture, chain):
            rendered.append(chain.rendition.name)
            return super().codes(picture, chain)

    monkeypatch.setattr("viewer.commands.options.engine_of", lambda name: Counting())
    monkeypatch.setattr(
        "viewer.commands.measure_plots.write_plots", lambda folder, plots, overwrite: shown.update(plots) or []
    )
    words = ["--tone", "bt2390", "--tone", "knee", "--plots", tmp_path / "p"]
    assert trimbench("measure", sequence, *words).status == 0
    assert rendered == 3 * ["BT.2390 EETF", "Knee"]
    codes = {name: plot.args[0].samples for name, plot in shown.items() if name.endswith("-legality")}
    (frame,) = open_master(sequence).frames(1, 1)
    for tone, name in (("bt2390", "bt-2390-eetf-legality"), ("knee", "knee-legality")):
        chain = chain_of(Rendition(tone, tone), frame.picture.encoding, find_operators())
        assert np.array_equal(codes[name], ReferenceEngine().codes(frame.picture, chain))


def test_the_gamut_mask_of_a_movie_marks_what_is_counted(trimbench, tmp_path, monkeypatch):
    """A fan of colours that leaves BT.709 and P3-D65: rounding near their borders is forgiven in both alike."""
    shown = {}
    monkeypatch.setattr(
        "viewer.commands.measure_plots.write_plots", lambda folder, plots, overwrite: shown.update(plots) or []
    )
    fan = np.linspace(0.0, 90.0, 200)[np.newaxis] * np.linspace(-1.0, 1.0, 30)[:, np.newaxis]
    chroma = (np.floor(512 - fan), np.floor(512 - 0.7 * np.abs(fan)))
    movie = make_movie(tmp_path / "fan.mkv", [np.full((60, 400), 560)], chroma)
    report = json.loads(trimbench("measure", movie, "--json", "--plots", tmp_path / "p").out)
    still, coded = shown["gamut-mask"].args
    for name, found in report["gamut"].items():
        marked = int(np.count_nonzero(outside_mask(light_of_rows(still, 0, still.rows), name, encoding=coded)))
        assert marked == found["total"]["outside"] > 200
    outside = report["gamut"]["p3-d65"]["total"]["outside"]
    words = " ".join(text.get_text() for text in shown["gamut-mask"]().axes[0].texts)
    assert f"outside P3-D65 too: {100.0 * outside / (60 * 400):.1f} %" in words


def test_a_file_in_place_of_the_folder_of_plots_is_refused_first(trimbench, toy, monkeypatch):
    monkeypatch.delattr("tonemap.measure.session.Session.run")
    outcome = trimbench("measure", toy, "--plots", toy)
    assert (outcome.status, outcome.err) == (1, f"trimbench: {toy}: this is a file; give a folder for the plots\n")


def test_samples_that_are_no_light_are_counted_and_said(trimbench, tmp_path):
    picture = np.full((10, 10, 3), 50.0)
    picture[0, 0] = picture[0, 1, 1] = np.nan
    picture[0, 2, 0], picture[0, 3, 2] = np.inf, -np.inf
    picture[1, :4, 0] = -1.0
    picture[2, :4, 0] = -5e-5  # black by any measure
    write_signal(tmp_path / "a.exr", picture, LINEAR)
    sentences = [
        "2 pixels (2 %) hold NaN, which is no number and is taken as 0 in that channel",
        "2 pixels (2 %) hold an infinity, which is taken as the most light there is, or as 0 where it is negative",
        "4 pixels (4 %) hold negative light, below -0.0001 cd/m\u00b2 in BT.2020, which is taken as 0 in that channel",
    ]
    outcome = trimbench("measure", tmp_path / "a.exr")
    assert outcome.status == 0
    assert [line for line in outcome.out.splitlines() if "CAUTION" in line] == [f"CAUTION: {s}" for s in sentences]
    odd = json.loads(trimbench("measure", tmp_path / "a.exr", "--json").out)["measured"]["odd samples"]
    assert odd["pixels"] == {"nan": 2, "infinite": 2, "negative": 4}
    assert odd["sentences"] == sentences

    for number in range(1, 4):
        write_signal(tmp_path / f"b.{number}.exr", np.full((4, 4, 3), np.nan if number == 2 else 1.0), LINEAR)
    outcome = trimbench("measure", tmp_path / "b.#.exr")
    assert (
        "16 pixels (33.3 %) hold NaN, which is no number and is taken as 0 in that channel, in frames 2\n"
        in outcome.out
    )


def test_a_patch_has_its_clipping_by_channels_and_its_differences(trimbench, tmp_path):
    """Arithmetic: of the patch's ten pixels one, two and four have one, two and three channels at the peak of 1000."""
    picture = np.full((1, 10, 3), 50.0)
    picture[0, 0, 0] = picture[0, 1:3, :2] = picture[0, 3:7] = 1000.0
    write_signal(tmp_path / "a.exr", picture, LINEAR)
    words = ["measure", tmp_path / "a.exr", "--patch", "custom:all:0,0,1,1", "--tone", "bt2390"]
    outcome = trimbench(*words, "--engine", "reference")
    assert re.search(r"\n    master .*\n +clipped in 1, 2, 3 channels: 10, 20, 40 %\n", outcome.out)
    (row,) = json.loads(trimbench(*words, "--engine", "reference", "--json").out)["patches"]["rows"]
    found = row["renditions"][0]["difference"]
    assert found["pixels"] == 3  # luminance of BT.2020: 0.2627 of 950 more than 50 is above the target's 100
    figures = f"\u0394E ITP {found['delta_e_itp']:.2f}, \u0394E 2000 {found['delta_e_2000']:.2f}\n"
    assert figures in outcome.out
    assert (
        "\u0394E: of the patch's mean colours, from the master where the master is below 100 cd/m\u00b2" in outcome.out
    )


def test_plots_are_written_once_and_named(trimbench, sequence, tmp_path, monkeypatch):
    monkeypatch.setattr("viewer.commands.measure_plots.WIDTH", 600)
    words = ["measure", sequence, "--json", "--tone", "bt2390", "--engine", "reference", "--plots", tmp_path / "plots"]
    outcome = trimbench(*words)
    assert (outcome.status, outcome.err) == (0, "")
    written = json.loads(outcome.out)["plots"]
    names = {Path(path).name for path in written}
    assert {"waveform-pq.png", "level-history.svg", "chromaticity.png", "bt-2390-eetf-difference.png"} <= names
    assert sorted(written) == sorted(str(path) for path in (tmp_path / "plots").iterdir())
    parser = argparse.ArgumentParser()
    add_arguments(parser)
    planned = plot_names(session_of(parser.parse_args([str(word) for word in words[1:]])))
    assert {f"{name}.{kind}" for name in planned for kind in ("png", "svg")} == names
    with monkeypatch.context() as patched:  # it is refused before anything is measured
        patched.delattr("tonemap.measure.session.Session.run")
        outcome = trimbench(*words)
    assert (outcome.status, outcome.out) == (1, "")
    sentence = "the file exists; choose another name, or give --overwrite to replace it"
    assert re.fullmatch(rf"trimbench: .*plots/[\w-]+\.(png|svg): {sentence}\n", outcome.err)
    assert trimbench(*words, "--overwrite").status == 0


ONE_OF_THEM = "measure takes a master, or a monitor's readings with --readings; name one of them"
WRONG = [
    ([], ONE_OF_THEM),
    (["MASTER", "--readings", "r.txt"], ONE_OF_THEM),
    (["MASTER", "--state", "a", "--resume", "b"], "--resume goes on saving to its own file; leave out --state"),
    (["MASTER", "--paper"], "--paper is how plots look; say where they go with --plots FOLDER, or leave it out"),
    (["MASTER", "--frames", "x-3"], "--frames x-3 is not understood; write A-B, for example 0-47, or one number"),
    (["MASTER", "--frames", "0-1"], "MASTER: there are no frames 0-1; the frames are 0-0"),
    (["MASTER", "--step", "0"], "MASTER: a step of 0 frames leads nowhere; give 1 or more"),
    (
        ["MASTER", "--area", "1,2,3"],
        "--area 1,2,3 is not understood; write TOP,LEFT,ROWS,COLUMNS in pixels, for example 276,0,1608,3840",
    ),
    (
        ["MASTER", "--area", "0,0,25,32"],
        "active area 32 x 25 at column 0, row 0 is not within the frame of 32 x 24 pixels; "
        "give top, left, rows and columns of a part of it",
    ),
    (
        ["MASTER", "--patch", "skin:face"],
        "--patch skin:face is not understood; write KIND:NAME: and two corners X,Y,X,Y, or more of a polygon, "
        "for example skin:face:0.4,0.3,0.5,0.45",
    ),
    (["MASTER", "--patch", "skim:face:0,0,1,1"], "patch 'face': kind 'skim' is not known; did you mean 'skin'?"),
    (
        ["MASTER", "--patch-frame", "3"],
        "MASTER: frame 3 for the patches is not among those to be measured; choose one that is, with --patch-frame",
    ),
    (
        ["MASTER", "--against", "reference"],
        "a difference is that of a rendition; give one, with --tone or --sheet",
    ),
    (
        ["MASTER", "--tone", "bt2390", "--engine", "reference", "--against", "reference"],
        "the renditions are computed by the reference engine and can't differ from it; "
        "compare the other engine, with --engine gpu",
    ),
    (
        ["MASTER", "--tone", "bt2390", "--name", "soft", "--engine", "reference", "--against", "sotf"],
        "nothing called 'sotf' can be compared with; did you mean 'soft'?",
    ),
    (
        ["MASTER", "--tone", "bt2390", "--engine", "reference", "--below", "0"],
        "differences below 0 cd/m2 are of no pixel; give a luminance above 0",
    ),
    (["MASTER", "--shot", "2"], "--shot 2 names a shot of a trim sheet; give it with --sheet FILE"),
    (["MASTER", "--matrix", "bt709"], "MASTER: the matrix is a matter of movies, and this is none; leave out --matrix"),
    (
        ["--readings", "READINGS"],
        "READINGS: readings don't say what the monitor was set to; say it with --transfer and --primaries",
    ),
    (
        ["--readings", "READINGS", "--transfer", "pq", "--primaries", "bt2020", "--grade", "ebu-3320-grade-1-hrd"],
        "grade 'ebu-3320-grade-1-hrd' is not known; did you mean 'ebu-3320-grade-1-hdr' or 'ebu-3320-grade-1-sdr'?",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("words", "sentence"), WRONG, ids=lambda value: value[:40] if isinstance(value, str) else "")
def test_wrong_calls(trimbench, master, words, sentence, tmp_path):
    readings = tmp_path / "readings.txt"
    readings.write_text(READINGS.format(grey="18 19 20"))
    files = {"MASTER": str(master), "READINGS": str(readings)}
    outcome = trimbench("measure", *[files.get(word, word) for word in words])
    assert (outcome.status, outcome.out) == (2, "")
    for name, path in files.items():
        sentence = sentence.replace(name, path)
    assert outcome.err == f"trimbench: {sentence}\n"


def test_readings_that_do_not_exist_are_said_before_what_is_missing_of_them(trimbench, tmp_path):
    outcome = trimbench("measure", "--readings", str(tmp_path / "nothing.txt"))
    assert (outcome.status, outcome.out) == (1, "")
    assert "nothing.txt" in outcome.err
    assert "--transfer" not in outcome.err


READINGS = """CGATS.17
NORMALIZED_TO_Y_100 "NO"
NUMBER_OF_FIELDS 7
BEGIN_DATA_FORMAT
SAMPLE_ID RGB_R RGB_G RGB_B XYZ_X XYZ_Y XYZ_Z
END_DATA_FORMAT
NUMBER_OF_SETS 3
BEGIN_DATA
1 0 0 0 0.00095 0.001 0.00109
2 50 50 50 {grey}
3 100 100 100 95.0456 100.0 108.9058
END_DATA
"""


def test_a_monitor_by_its_readings(trimbench, tmp_path):
    path = tmp_path / "readings.txt"
    grey = 100.0 * 0.5**2.4
    path.write_text(READINGS.format(grey=f"{0.950456 * grey:.5f} {grey:.5f} {1.089058 * grey:.5f}"))
    words = ["measure", "--readings", path, "--transfer", "bt1886", "--primaries", "bt709"]
    outcome = trimbench(*words, "--grade", "ebu-3320-grade-1-sdr")
    assert (outcome.status, outcome.err) == (0, "")
    heading = f"{path}: 3 patches against BT.1886, BT.709, peak 100 cd/m²"
    assert outcome.out.startswith(f"{heading}\n\nwhite      100.00 cd/m²")
    assert re.search(r"^  black +met +0\.001 cd/m²   at most 0\.05 ", outcome.out, re.MULTILINE)
    assert re.search(r"^  sequential contrast +met +100000    at least 2000 ", outcome.out, re.MULTILINE)
    assert re.search(r"^ΔE 2000    mean 0\.\d\d, worst 0\.\d\d at '2'$", outcome.out, re.MULTILINE)
    report = json.loads(trimbench(*words, "--json").out)
    assert report["white_nits"] == 100.0
    assert report["delta_e_2000_max"] < 0.5  # the grey is that of a display without black, and this one has some
    plotted = trimbench(*words, "--plots", tmp_path / "plots", "--paper")
    assert plotted.out.endswith(f"\n\nplot written: {tmp_path}/plots/monitor.png, {tmp_path}/plots/monitor.svg\n")
    path.write_text(READINGS.format(grey="30 31 33").replace("95.0456 100.0 108.9058", "140 150 160"))
    outcome = trimbench(*words, "--grade", "ebu-3320-grade-1-sdr")
    assert outcome.status == 1
    assert "NOT MET" in outcome.out


def test_reading_ahead_keeps_few_frames_and_stops_with_the_reader():
    made = []

    def frames():
        try:
            for number in range(100):
                made.append(number)
                yield number
        finally:
            made.append("closed")

    reading = ahead(frames(), depth=2)
    assert [next(reading) for _ in range(3)] == [0, 1, 2]
    reading.close()
    assert made[-1] == "closed"
    assert len(made) <= 3 + 2 + 2 + 1  # read, waiting, in hand, closed

    def broken():
        yield 1
        raise OSError("gone")

    reading = ahead(broken())
    assert next(reading) == 1
    with pytest.raises(OSError, match="gone"):
        next(reading)
