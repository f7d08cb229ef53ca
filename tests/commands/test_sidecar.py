"""trimbench measure --sidecar."""

import json

import pytest

from tonemap.measure.metadata import ContentLight
from tonemap.measure.sidecar import read_sidecar


def test_the_sidecar_holds_what_measure_prints(trimbench, master, tmp_path):
    path = tmp_path / "master.json"
    outcome = trimbench("measure", master, "--sidecar", path, "--json")
    assert (outcome.status, outcome.err) == (0, "")
    levels = json.loads(outcome.out)["levels"]
    assert read_sidecar(path).content_light == ContentLight(levels["max_cll"], levels["max_fall"])
    entries = json.loads(path.read_text())
    assert entries["measured"]["whole master"] is True
    assert (entries["measured"]["frames"], entries["master"]["file"]) == (1, "master.png")
    assert entries["content light"]["max_cll before rounding up"] == pytest.approx(levels["max_cll_nits"])
    assert entries["mastering display"] is None


def test_a_sidecar_that_exists_stays(trimbench, master, tmp_path):
    path = tmp_path / "master.json"
    path.write_text("mine")
    outcome = trimbench("measure", master, "--sidecar", path)
    assert (outcome.status, outcome.out) == (1, "")
    assert outcome.err == (
        f"trimbench: {path}: the file exists; choose another name, or give --overwrite to replace it\n"
    )
    assert path.read_text() == "mine"
    outcome = trimbench("measure", master, "--sidecar", path, "--overwrite")
    assert outcome.status == 0
    assert outcome.out.endswith(f"\n\nsidecar written: {path}\n")


def test_a_part_of_a_sequence_says_that_it_is_one(trimbench, master, codes, tmp_path):
    from tonemap.encoding import Encoding
    from tonemap.media.oiio_output import write_codes

    for number in range(3):
        write_codes(tmp_path / f"s.{number:04d}.png", codes, Encoding("pq", "bt2020", "narrow", 10))
    path = tmp_path / "part.json"
    assert trimbench("measure", tmp_path / "s.####.png", "--frames", "1-2", "--sidecar", path).status == 0
    measured = json.loads(path.read_text())["measured"]
    assert (measured["frames"], measured["first"], measured["last"], measured["whole master"]) == (2, 1, 2, False)
