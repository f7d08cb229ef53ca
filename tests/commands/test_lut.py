"""trimbench lut: the file is as far from the exact trim as it is said to be, and a bad call costs nothing."""

import json
from datetime import UTC, datetime

import av
import numpy as np
import pytest

from tonemap import __version__
from tonemap.adjustments import InputAdjustments
from tonemap.cdl import apply_cdl
from tonemap.cdl_files import read_corrections
from tonemap.distance import distance_between
from tonemap.encoding import Encoding, sdr_target
from tonemap.host import find_operators
from tonemap.lut import apply_lut
from tonemap.lut_file import read_lut
from tonemap.media.oiio import read_picture
from tonemap.media.oiio_output import write_codes, write_signal
from tonemap.picture import Picture
from tonemap.reference import ReferenceEngine
from tonemap.rendition import Rendition, chain_of
from tonemap.trim_sheet import TrimSheet, save

ENCODING = Encoding("pq", "bt2020", "narrow", 10)
WORDS = ["--tone", "bt2390", "--gamut", "gamut_clip", "--engine", "reference"]


@pytest.fixture(autouse=True)
def small_grid(monkeypatch):
    """Measure on few colours, for speed; how dense the grid is in earnest has its own test in test_bake."""
    monkeypatch.setattr("tonemap.bake.GRID_NODES", 14)


def expected(codes, **settings):
    chain = chain_of(Rendition("trial", "bt2390", "gamut_clip", **settings), ENCODING, find_operators())
    return ReferenceEngine().signal(Picture(codes, ENCODING), chain), chain.rendition.target


@pytest.mark.parametrize("ending", ["clf", "cube"])
def test_the_stated_error_is_that_of_the_file_as_it_lies_there(trimbench, master, codes, tmp_path, ending):
    output = tmp_path / f"x.{ending}"
    outcome = trimbench("lut", master, "-o", output, *WORDS, "--size", "17", "--json")
    assert (outcome.status, outcome.err) == (0, "")
    report = json.loads(outcome.out)
    exact, target = expected(codes)
    found = apply_lut(read_lut(output)[0], codes / 1023.0)
    assert report["errors"]["tetrahedral"]["frame"] == pytest.approx(distance_between(exact, found, target).to_dict())
    assert report["errors"]["tetrahedral"]["grid"]["samples"] == 14**3
    assert report["errors"]["trilinear"]["grid"]["mean"] > report["errors"]["tetrahedral"]["grid"]["mean"]
    assert (report["size"], report["shaper"]) == (17, ending == "clf")
    assert report["bytes"] == output.stat().st_size


def test_the_matrix_of_a_movie_without_tags_is_said_by_the_user(trimbench, tmp_path):
    path, output = tmp_path / "untagged.mkv", tmp_path / "x.cube"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("ffv1", rate=24)
        stream.width, stream.height, stream.pix_fmt = 16, 8, "yuv422p10le"
        for code in (300, 500):
            frame = av.VideoFrame(16, 8, "yuv422p10le")
            for plane in frame.planes:
                np.frombuffer(plane, np.uint16)[:] = code
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
    said = ["--transfer", "pq", "--primaries", "p3-d65", "--range", "narrow", *WORDS, "--size", "17", "--json"]
    outcome = trimbench("lut", path, "-o", output, *said)
    sentence = "the matrix is not known from the file; say it with --matrix (bt709, bt601, bt2020)"
    assert (outcome.status, outcome.err) == (2, f"trimbench: {path}: {sentence}\n")
    outcome = trimbench("lut", path, "-o", output, *said, "--matrix", "bt709")
    assert (outcome.status, outcome.err) == (0, "")
    assert "frame" in json.loads(outcome.out)["errors"]["tetrahedral"]
    outcome = trimbench("lut", "-o", output, "--input", "pq,p3-d65,full", "--matrix", "bt709", "--overwrite", *WORDS)
    assert outcome.status == 2
    assert outcome.err.startswith("trimbench: --matrix describes a master, and none is given; ")


@pytest.mark.parametrize("ending", ["clf", "cube"])
def test_the_file_says_what_it_is(trimbench, master, tmp_path, ending):
    output = tmp_path / f"x.{ending}"
    words = [*WORDS, "--set", "tone.knee_offset=0.7", "--set", "target.peak=120", "--name", "the one"]
    assert trimbench("lut", master, "-o", output, *words, "--size", "17").status == 0
    head = output.read_text()[:4000]
    for part in (
        "the one",
        f"Trimbench {__version__}, reference (NumPy float64), {datetime.now(UTC).date().isoformat()}",
        "tone operator bt2390, gamut operator gamut_clip",
        "tone.knee_offset=0.7",
        "master: peak 1000 cd/m2, black 0 cd/m2; target: BT.1886, BT.709, 10-bit narrow, peak 120 cd/m",
        "PQ (ST 2084), BT.2020, 10-bit narrow, peak 1000 cd/m",
        "the input value is the 10-bit code / 1023. Codes below 64 are read as 64, above 940 as 940.",
        "distance from the exact trim, grid up to the master's peak: Delta E ITP mean ",
        "distance from the exact trim, master.png: Delta E ITP mean ",
    ):
        assert part in head


def test_the_same_call_gives_the_same_bytes(trimbench, master, tmp_path):
    for name in ("a.clf", "b.clf"):
        assert trimbench("lut", master, "-o", tmp_path / name, *WORDS, "--size", "17").status == 0
    assert (tmp_path / "a.clf").read_bytes() == (tmp_path / "b.clf").read_bytes()


def test_both_engines_bake_the_same(trimbench, master, tmp_path):
    for engine in ("reference", "gpu"):
        words = [
            "lut",
            master,
            "-o",
            tmp_path / f"{engine}.cube",
            "--tone",
            "bt2390",
            "--engine",
            engine,
            "--size",
            "17",
        ]
        assert trimbench(*words).status == 0
    one, other = (read_lut(tmp_path / f"{engine}.cube")[0].table for engine in ("reference", "gpu"))
    difference = np.abs(one - other)
    assert np.median(difference) <= 1e-7
    assert difference.max() <= 2e-4  # the bar of parity, anywhere; nodes on a gamut's surface are the worst of it


def test_the_tolerance_picks_the_smallest_size(trimbench, master, tmp_path):
    output = tmp_path / "x.clf"
    found = {}
    for size in (17, 33, 65):
        trimbench("lut", master, "-o", output, *WORDS, "--size", size, "--overwrite")
        report = json.loads(trimbench("lut", master, "-o", output, *WORDS, "--size", size, "--overwrite", "--json").out)
        found[size] = report["errors"]["tetrahedral"]["frame"]["p99"]
    assert found[17] > found[33] > found[65]
    report = json.loads(
        trimbench("lut", master, "-o", output, *WORDS, "--tolerance", found[33], "--overwrite", "--json").out
    )
    assert (report["size"], report["within tolerance"]) == (33, True)
    assert report["tolerance is of"] == "99 % of the frame, Delta E ITP"
    assert report["tried"] == {"17": found[17], "33": found[33]}


def test_a_tolerance_out_of_reach_writes_nothing_unless_a_size_is_given(trimbench, tmp_path):
    output = tmp_path / "x.cube"
    words = ["--input", "pq,bt2020,narrow", "--tolerance", "0.01", "-o", output]
    outcome = trimbench("lut", *WORDS, *words)
    assert (outcome.status, outcome.out) == (1, "")
    start = f"trimbench: {output}: no size is within 0.01 Delta E ITP for 99 % of the grid: 65 nodes a side reach "
    assert outcome.err.startswith(start)
    assert outcome.err.endswith("; nothing was written; raise --tolerance, or give --size\n")
    assert not list(tmp_path.iterdir())
    outcome = trimbench("lut", *WORDS, *words, "--size", "17")
    assert outcome.status == 0
    assert "tolerance 0.01 of 99 % of the grid, Delta E ITP: not met; tried 17: " in outcome.out
    assert output.exists()


def test_lut_and_cdl_together_are_as_far_as_is_said(trimbench, master, codes, tmp_path):
    lut, cdl = tmp_path / "x.clf", tmp_path / "x.cc"
    words = ["--set", "output.slope=1.1,1,0.9", "--set", "output.saturation=0.8", "--split", cdl, "--size", "33"]
    outcome = trimbench("lut", master, "-o", lut, *WORDS, *words, "--json")
    assert (outcome.status, outcome.err) == (0, "")
    (correction,) = read_corrections(cdl)
    assert np.array_equal(np.float32(correction.cdl.slope), np.float32([1.1, 1.0, 0.9]))
    from tonemap.cdl import Cdl

    exact, target = expected(codes, output=Cdl((1.1, 1.0, 0.9), saturation=0.8))
    table = apply_lut(read_lut(lut)[0], codes / 1023.0)
    stated = json.loads(outcome.out)["errors"]["tetrahedral"]["frame"]
    assert stated == pytest.approx(
        distance_between(exact, apply_cdl(table, correction.cdl), target).to_dict(), rel=1e-6
    )
    assert distance_between(exact, table, target).mean > 5.0 * stated["mean"]


def test_a_linear_master_gets_a_lut_for_pq(trimbench, tmp_path):
    light = np.random.default_rng(2).uniform(0.0, 900.0, (8, 12, 3)).astype(np.float32)
    path = tmp_path / "light.exr"
    write_signal(path, light, Encoding("linear", "bt2020"))
    outcome = trimbench("lut", path, "-o", tmp_path / "x.clf", *WORDS, "--size", "17")
    assert outcome.status == 0
    assert "input: PQ (ST 2084), BT.2020, 10-bit full, peak 1000 cd/m\u00b2: " in outcome.out
    assert "light.exr, tetrahedral" in outcome.out
    outcome = trimbench("lut", path, "-o", tmp_path / "y.clf", *WORDS, "--size", "17", "--input", "pq,p3-d65,full,12")
    assert "input: PQ (ST 2084), P3-D65, 12-bit full, peak 1000 cd/m\u00b2: " in outcome.out


@pytest.fixture
def sheet(tmp_path, master):
    """Write a trim sheet with two shots of a master of one frame, which is all that the master has."""
    from tonemap.master_entry import entry_of
    from tonemap.media.master import open_master
    from tonemap.rendition_entry import RenditionEntry
    from tonemap.shots import Key, Shot

    rendition = RenditionEntry("soft", "bt2390", "gamut_clip")
    ramp = (Key(1, {"input.exposure": 0.0}), Key(4, {"input.exposure": 1.0}))
    shots = (
        Shot("12", 0, 0, settings={"input.exposure": -0.5, "output.saturation": 0.9}),
        Shot("13", 1, 4, keys=ramp, source=0),
    )
    entry = entry_of(open_master(master), "reel", master.name)
    path = tmp_path / "job.trims"
    save(TrimSheet((entry,), (rendition,), shots, "soft"), path)
    return path


def test_a_shot_of_a_trim_sheet_is_baked_with_its_settings(trimbench, sheet, tmp_path):
    words = ["--shot", "12", "--engine", "reference", "--size", "17", "--json"]
    outcome = trimbench("lut", sheet, "-o", tmp_path / "shot12.clf", *words)
    assert (outcome.status, outcome.err) == (0, "")
    report = json.loads(outcome.out)
    assert report["rendition"]["settings"]["input.exposure"] == -0.5
    assert report["rendition"]["settings"]["output.saturation"] == pytest.approx(0.9)
    assert report["frame"] == "master.png"
    same = trimbench("lut", "--sheet", sheet, "-o", tmp_path / "again.clf", *words)
    assert json.loads(same.out)["errors"] == report["errors"]


def test_a_shot_that_changes_inside_says_so(trimbench, sheet, tmp_path):
    """Exposure goes up by a stop: the last frame's own trim is far from the LUT, the first one's near."""
    words = ["--shot", "13", "--engine", "reference", "--size", "65"]
    outcome = trimbench("lut", sheet, "-o", tmp_path / "shot13.clf", *words)
    assert outcome.status == 0
    assert outcome.err == "trimbench: shot '13' changes inside; its rendition is taken as it is at its first frame\n"
    assert "changes inside" not in outcome.out
    assert "\nmaster.png (last), tetrahedral " in outcome.out
    errors = json.loads(trimbench("lut", sheet, "-o", tmp_path / "again.clf", *words, "--json").out)["errors"]
    first, last = (errors["tetrahedral"][name] for name in ("frame", "last frame"))
    assert last["mean"] > 5.0 * first["mean"]
    source = read_picture(tmp_path / "master.png").picture
    chains = [
        chain_of(Rendition("soft", "bt2390", "gamut_clip", input=InputAdjustments(exposure=stops)), source.encoding)
        for stops in (0.0, 1.0)
    ]
    dark, bright = (ReferenceEngine().signal(source, chain) for chain in chains)
    exact = distance_between(bright, dark, sdr_target())
    assert last["mean"] == pytest.approx(exact.mean, rel=0.1)
    assert last["codes_mean"] == pytest.approx(exact.codes_mean, rel=0.1)


@pytest.mark.parametrize("transfer", ["bt1886", "gamma2.4", "srgb"])
def test_an_sdr_master_is_said(trimbench, codes, tmp_path, transfer):
    path = tmp_path / "sdr.png"
    write_codes(path, codes, Encoding(transfer, "bt709", "full", 10, 100.0))
    said = ["--transfer", "pq", "--primaries", "bt2020", "--range", "full", "--overwrite"]
    title = {"bt1886": "BT.1886", "gamma2.4": "gamma 2.4", "srgb": "sRGB (IEC 61966-2-1)"}[transfer]
    for verb, output, words in (
        ("lut", "x.clf", [*WORDS, "--size", "17"]),
        ("render", "x.tif", WORDS),
        ("render", "x.%04d.tif", WORDS),
        ("compare", "x.png", ["--width", "1200", "--engine", "reference"]),
    ):
        outcome = trimbench(verb, path, "-o", tmp_path / output, *words)
        assert outcome.status == 0, outcome.err
        (line,) = (line for line in outcome.out.splitlines() if line.startswith("the master is SDR"))
        assert line.startswith(f"the master is SDR: {title} up to 100 cd/m\u00b2 (")
        assert line.endswith("); if it is HDR, say its --transfer")
        outcome = trimbench(verb, path, "-o", tmp_path / output, *words, *said)
        assert outcome.status == 0, outcome.err
        assert "is SDR" not in outcome.out


def test_a_master_that_is_not_here_costs_the_frame_only(trimbench, sheet, master, tmp_path):
    master.unlink()
    words = ["--shot", "12", "--engine", "reference", "--size", "17"]
    outcome = trimbench("lut", sheet, "-o", tmp_path / "shot12.clf", *words)
    assert (outcome.status, outcome.err) == (0, "")
    assert "master.png" in outcome.out
    assert "measured on the grid alone: there is no frame\n" in outcome.out
    assert "10-bit narrow" in outcome.out


REFUSED = [
    (["-o", "x.3dl"], "x.3dl: LUTs are written to files that end in .clf or .cube; change the name"),
    (
        ["-o", "x.clf"],
        "there is no master, so the LUT's input is not known; name a master, or give --input TRANSFER,PRIMARIES,RANGE "
        "or TRANSFER,PRIMARIES,RANGE,BITS, for example pq,bt2020,narrow",
    ),
    (
        ["-o", "x.clf", "--transfer", "pq"],
        "--transfer describes a master, and none is given; describe the LUT's input with --input "
        "TRANSFER,PRIMARIES,RANGE or TRANSFER,PRIMARIES,RANGE,BITS, for example pq,bt2020,narrow",
    ),
    (
        ["-o", "x.clf", "--input", "pq,bt2020,full", "--range", "full"],
        "--range describes a master, and none is given; describe the LUT's input with --input TRANSFER,PRIMARIES,RANGE "
        "or TRANSFER,PRIMARIES,RANGE,BITS, for example pq,bt2020,narrow",
    ),
    (
        ["-o", "x.clf", "--input", "pq,bt2020,full", "--tolerance", "0"],
        "--tolerance 0 can't be met; give a Delta E ITP above 0",
    ),
    (
        ["-o", "x.clf", "--input", "pq,bt2020,full", "--frame", "3"],
        "--frame 3 is one of a master, and none is given; name it",
    ),
    (
        ["-o", "x.clf", "--input", "pq,bt2020,full", "--tone", "knee", "--tone", "bt2390"],
        "lut takes one rendition, and several --tone were given; call it once for each",
    ),
    (
        ["-o", "x.clf", "--input", "pq,bt2020,full", "--split", "x.xml"],
        "x.xml: colour decisions are in files that end in .cdl, .cc or .ccc; change the name",
    ),
    (["a.trims", "--sheet", "b.trims", "-o", "x.clf"], "a.trims and b.trims are both trim sheets; give one"),
    (
        ["-o", "x.clf", "--size", "34"],
        "argument --size: invalid choice: 34 (choose from 17, 33, 65); see trimbench lut --help",
    ),
]


@pytest.mark.parametrize(("words", "sentence"), REFUSED, ids=[" ".join(words) for words, _ in REFUSED])
def test_a_wrong_call_is_one_sentence_and_writes_nothing(trimbench, tmp_path, monkeypatch, words, sentence):
    monkeypatch.chdir(tmp_path)
    outcome = trimbench("lut", *words)
    assert (outcome.status, outcome.out, outcome.err) == (2, "", f"trimbench: {sentence}\n")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("name", ["x.clf", "x.cc"])
def test_a_file_that_exists_stays_and_its_partner_is_not_written(trimbench, master, tmp_path, name):
    (tmp_path / name).write_text("mine")
    words = ["-o", tmp_path / "x.clf", "--split", tmp_path / "x.cc", "--size", "17"]
    outcome = trimbench("lut", master, *WORDS, *words)
    assert outcome.status == 1
    assert outcome.err == (
        f"trimbench: {tmp_path / name}: the file exists; choose another name, or give --overwrite to replace it\n"
    )
    assert (tmp_path / name).read_text() == "mine"
    assert {path.name for path in tmp_path.iterdir()} == {"master.png", name}
    assert trimbench("lut", master, *WORDS, *words, "--overwrite").status == 0
