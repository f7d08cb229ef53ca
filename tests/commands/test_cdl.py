"""trimbench cdl, and --cdl: output adjustments leave as colour decisions and come back the same."""

import json

import numpy as np
import PyOpenColorIO as ocio
import pytest

from tonemap.cdl import Cdl
from tonemap.cdl_files import Correction, read_corrections, write_corrections
from tonemap.media.oiio import read_picture
from tonemap.rendition_entry import RenditionEntry
from tonemap.shots import Key, Shot
from tonemap.trim_sheet import TrimSheet, save

SETTINGS = ["--set", "output.slope=1.1,1,0.9", "--set", "output.offset=0.01", "--set", "output.saturation=0.8"]
DECISION = Cdl((1.1, 1.0, 0.9), (0.01, 0.01, 0.01), saturation=0.8)


@pytest.mark.parametrize("ending", ["cc", "ccc", "cdl"])
def test_output_adjustments_leave_and_come_back(trimbench, master, tmp_path, ending):
    """A picture rendered with --cdl is that rendered with the same numbers spelled out."""
    path = tmp_path / f"look.{ending}"
    outcome = trimbench("cdl", "-o", path, "--tone", "bt2390", *SETTINGS, "--name", "look")
    assert (outcome.status, outcome.err) == (0, "")
    assert outcome.out == (
        f"{path}: 1 correction\n"
        "read again: the output adjustments exactly; operators and input adjustments are not in it\n"
        "look: slope 1.1 1 0.9, offset 0.01 0.01 0.01, power 1 1 1, saturation 0.8\n"
    )
    assert [(item.name, item.cdl) for item in read_corrections(path)] == [("look", DECISION)]
    assert json.loads(trimbench("cdl", path, "--json").out)["error"] is None  # nothing was written
    for name, words in (("a.tif", SETTINGS), ("b.tif", ["--cdl", path])):
        assert trimbench("render", master, "-o", tmp_path / name, *words, "--engine", "reference").status == 0
    one, other = (read_picture(tmp_path / name).picture.samples for name in ("a.tif", "b.tif"))
    assert np.array_equal(one, other)


def test_numbers_finer_than_a_file_holds_are_said_with_their_error(trimbench, tmp_path):
    """OpenColorIO reads the file as the outside; the error is that of its numbers."""
    fine = 1.0 + 1.0 / 3.0
    path = tmp_path / "fine.cc"
    outcome = trimbench("cdl", "-o", path, "--set", f"output.slope={fine},1,1", "--json")
    error = json.loads(outcome.out)["error"]
    read = ocio.CDLTransform.CreateFromFile(str(path), "").getSlope()[0]
    assert 0.0 < error["number"] < 2.0**-23
    assert error["number"] == pytest.approx(abs(read - fine), rel=0.5)
    assert error["sentence"].startswith(f"read again: the output adjustments within {error['number']:.1g}; ")


def test_a_file_of_another_kind_is_one_sentence(trimbench, master):
    outcome = trimbench("cdl", master)
    assert outcome.status == 2
    assert outcome.err == (
        f"trimbench: {master}: this is neither a trim sheet (.trims) nor colour decisions (.cdl, .cc, .ccc); name one\n"
    )


def test_what_follows_a_cdl_changes_it(trimbench, tmp_path):
    path = tmp_path / "look.cc"
    write_corrections(path, [Correction("look", DECISION)])
    words = ["cdl", "--cdl", path, "--set", "output.saturation=1.5", "--json"]
    (found,) = json.loads(trimbench(*words).out)["corrections"]
    assert (found["slope"], found["saturation"]) == ([1.1, 1.0, 0.9], 1.5)


def test_a_decision_outside_the_adjustments_is_one_sentence(trimbench, master, tmp_path):
    path = tmp_path / "look.cc"
    write_corrections(path, [Correction("look", Cdl(slope=(9.0, 1.0, 1.0)))])
    outcome = trimbench("render", master, "-o", tmp_path / "a.tif", "--cdl", path)
    assert outcome.status == 2
    assert outcome.err == (f"trimbench: {path}: output.slope = 9 is outside 0..4; choose a value in that range\n")
    assert not (tmp_path / "a.tif").exists()


def test_a_trim_sheet_gives_one_correction_a_shot(trimbench, tmp_path):
    rendition = RenditionEntry("soft", "bt2390", "gamut_clip", {"output.slope": [1.1, 1.0, 0.9]})
    ramp = (Key(1, {"output.saturation": 1.0}), Key(4, {"output.saturation": 2.0}))
    shots = (Shot("12", 0, 0, settings={"output.saturation": 0.9}), Shot("13", 1, 4, keys=ramp))
    from tonemap.master_entry import MasterEntry

    save(TrimSheet((MasterEntry("reel", "reel.mov"),), (rendition,), shots, "soft"), tmp_path / "job.trims")
    outcome = trimbench("cdl", tmp_path / "job.trims", "-o", tmp_path / "all.ccc")
    assert (outcome.status, outcome.err) == (0, "")
    one = trimbench("cdl", tmp_path / "job.trims", "--shot", "13", "--json")
    (notice,) = json.loads(one.out)["notices"]
    assert one.err == ""
    assert f"{notice}\n" in outcome.out
    assert notice.startswith(
        "shot 13 changes inside; the correction is that of its first frame, and from its last one "
    )
    assert "is, over all signals, Delta E ITP mean " in notice
    # OpenColorIO applies both decisions as the outside; rounding to 10-bit codes moves a mean of this size little.
    pixels = np.random.default_rng(3).random((200_000, 3), np.float32)
    last = pixels.copy()
    decision = ocio.CDLTransform()
    decision.setStyle(ocio.CDL_ASC)
    decision.setSat(2.0)
    ocio.Config.CreateRaw().getProcessor(decision).getDefaultCPUProcessor().applyRGB(last)
    codes = np.abs(last - pixels).mean() * 876.0
    assert float(notice.rpartition("codes mean ")[2].split(",")[0]) == pytest.approx(codes, rel=0.03)
    found = read_corrections(tmp_path / "all.ccc")
    assert [(item.name, item.note, item.cdl.saturation) for item in found] == [("12", "soft", 0.9), ("13", "soft", 1.0)]
    assert trimbench("cdl", tmp_path / "job.trims", "--shot", "12", "-o", tmp_path / "one.cc").status == 0
    assert [item.name for item in read_corrections(tmp_path / "one.cc")] == ["12"]
    outcome = trimbench("cdl", tmp_path / "all.ccc", "-o", tmp_path / "all.cdl")
    assert outcome.status == 0
    assert read_corrections(tmp_path / "all.cdl") == found


REFUSED = [
    (["cdl"], "cdl takes a trim sheet, colour decisions, or a rendition; for example --set output.slope=1.1"),
    (["cdl", "a.cc", "--tone", "bt2390"], "a.cc has its own numbers; leave out the renditions"),
    (["cdl", "a.trims", "--sheet", "b.trims"], "a.trims and b.trims are two files; give one"),
    (
        ["cdl", "--tone", "knee", "--tone", "bt2390", "-o", "a.cc"],
        "a .cc file holds one colour correction, and there are 2; write a .ccc",
    ),
]


@pytest.mark.parametrize(("words", "sentence"), REFUSED, ids=[" ".join(words) for words, _ in REFUSED])
def test_a_wrong_call_is_one_sentence_and_writes_nothing(trimbench, tmp_path, monkeypatch, words, sentence):
    monkeypatch.chdir(tmp_path)
    outcome = trimbench(*words)
    assert (outcome.status, outcome.out, outcome.err) == (2, "", f"trimbench: {sentence}\n")
    assert not list(tmp_path.iterdir())
