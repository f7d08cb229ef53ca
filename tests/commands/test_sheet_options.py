"""--sheet, --rendition and --shot: the renditions of a trim sheet in every verb that takes renditions."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from tonemap import Encoding, Rendition, find_operators
from tonemap.adjustments import InputAdjustments
from tonemap.errors import TrimbenchError
from tonemap.measure.patches import Patch
from tonemap.media.oiio_output import write_codes
from tonemap.shots import Key, Shot
from tonemap.trim_sheet import MasterEntry, RenditionEntry, TrimSheet, load, save

HOST = find_operators()


@pytest.fixture
def sheet(master: Path) -> Path:
    """Write a sheet with three renditions, one of an operator that is not here, and two shots."""
    path = master.with_name("programme.trims")
    made = TrimSheet((MasterEntry("A", master.name),))
    made = made.with_rendition(Rendition("soft", "logarithmic", input=InputAdjustments(exposure=-0.25)), HOST)
    made = made.with_rendition(Rendition("EETF", "bt2390"), HOST)
    made = replace(made, renditions=(*made.renditions, RenditionEntry("own", "lantern_glow")), default_rendition="EETF")
    made = made.with_shot(Shot("1", 0, 9)).with_shot(
        Shot("12", 10, 19, rendition="soft", settings={"input.exposure": -1.5})
    )
    save(made, path)
    return path


def rendered(trimbench, master, *words):
    """Return what render reports of the rendition."""
    outcome = trimbench("render", master, "-o", master.with_name("out.png"), "--overwrite", "--json", *words)
    assert outcome.status == 0, outcome.err
    found = json.loads(outcome.out)["rendition"]
    return found["name"], found["tone"], found["gamut"], found["settings"]["input.exposure"]


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ([], ("EETF", "bt2390", "gamut_hue", 0.0)),
        (["--rendition", "soft"], ("soft", "logarithmic", "gamut_hue", -0.25)),
        (["--shot", "12"], ("soft", "logarithmic", "gamut_hue", -1.5)),
        (["--shot", "1"], ("EETF", "bt2390", "gamut_hue", 0.0)),
        (["--shot", "12", "--rendition", "EETF"], ("EETF", "bt2390", "gamut_hue", -1.5)),
        (
            ["--rendition", "soft", "--gamut", "gamut_clip", "--set", "input.exposure=0.5", "--name", "brighter"],
            ("brighter", "logarithmic", "gamut_clip", 0.5),
        ),
        (["--tone", "knee"], ("Knee", "knee", "gamut_hue", 0.0)),
    ],
    ids=["default", "rendition", "shot", "shot with the default", "rendition in a shot", "changed", "spelled out"],
)
def test_a_rendition_comes_from_the_sheet(trimbench, master, sheet, words, expected):
    assert rendered(trimbench, master, "--engine", "reference", "--sheet", sheet, *words) == expected


def test_a_sheet_stands_for_all_of_its_renditions_and_the_one_that_can_not_be_is_said(
    trimbench, master, sheet, tmp_path
):
    outcome = trimbench(
        "compare", master, "-o", tmp_path / "compare.png", "--width", 1200, "--engine", "reference", "--sheet", sheet
    )
    assert outcome.status == 0, outcome.err
    assert "beside soft, EETF; engine" in outcome.out
    assert outcome.err.startswith(
        f"trimbench: {sheet}: rendition 'own': tone operator 'lantern_glow' is not found here; name its folder with "
        "--operators, or choose one of bt2390, "
    )
    assert outcome.err.endswith("; it is left out here\n")


def test_renditions_of_the_sheet_stand_beside_spelled_out_ones(trimbench, master, sheet, tmp_path):
    words = [
        "--sheet",
        sheet,
        "--rendition",
        "EETF",
        "--tone",
        "knee",
        "--rendition",
        "soft",
        "--set",
        "input.contrast=1.1",
    ]
    outcome = trimbench(
        "compare", master, "-o", tmp_path / "compare.png", "--width", 1200, "--engine", "reference", *words
    )
    assert outcome.status == 0, outcome.err
    assert "beside EETF, Knee, soft; engine" in outcome.out


def test_measure_measures_the_renditions_of_a_sheet(trimbench, master, sheet):
    outcome = trimbench("measure", master, "--sheet", sheet, "--shot", "12", "--engine", "reference", "--json")
    assert outcome.status == 0, outcome.err
    assert [rendition["name"] for rendition in json.loads(outcome.out)["renditions"]] == ["soft"]


def test_measure_takes_master_frames_and_patches_from_the_shot(trimbench, codes, tmp_path):
    for number in range(6):
        write_codes(tmp_path / f"reel.{number:04d}.png", codes, Encoding("pq", "bt2020", "narrow", 10))
    keys = (Key(2, {"input.exposure": 0.0}), Key(4, {"input.exposure": 1.0}))
    shot = Shot("12", 2, 4, keys=keys, patches=(Patch.rectangle("face", "skin", 0.0, 0.0, 0.5, 0.5),))
    sheet = TrimSheet((MasterEntry("A", "reel.####.png"),), shots=(shot,)).with_rendition(
        Rendition("soft", "knee"), HOST
    )
    path = tmp_path / "programme.trims"
    save(replace(sheet, default_rendition="soft"), path)
    outcome = trimbench("measure", "--sheet", path, "--shot", "12", "--engine", "reference", "--json")
    assert outcome.status == 0, outcome.err
    report = json.loads(outcome.out)
    assert report["measured"]["frames"] == 3
    assert {row["name"] for row in report["patches"]["rows"]} == {"face"}
    assert outcome.err == ("trimbench: shot '12' changes inside; its rendition is taken as it is at its first frame\n")


def test_measure_takes_the_patches_of_a_still_from_the_sheet_and_show_names_them(trimbench, codes, tmp_path):
    write_codes(tmp_path / "still.png", codes, Encoding("pq", "bt2020", "narrow", 10))
    face = Patch.rectangle("face", "skin", 0.0, 0.0, 0.5, 0.5)
    path = tmp_path / "still.trims"
    save(TrimSheet((MasterEntry("still", "still.png", frames=1, patches=(face,)),)), path)
    assert load(path).masters[0].patches == (face,)
    report = json.loads(trimbench("measure", "--sheet", path, "--json", "--tone", "knee").out)
    assert {row["name"] for row in report["patches"]["rows"]} == {"face"}
    assert "patches: face" in trimbench("sheet", "show", path).out


def test_what_is_not_known_of_a_stills_patches_is_kept_and_two_of_a_name_are_refused(tmp_path):
    path = tmp_path / "still.trims"
    face = {"name": "face", "kind": "skin", "corners": [[0, 0], [0.5, 0], [0.5, 0.5]], "theirs": 1}
    entries = {"version": 1, "masters": [{"name": "a", "path": "a.png", "frames": 1, "patches": [face]}]}
    path.write_text(json.dumps(entries))
    save(replace(load(path), note="changed"))
    assert json.loads(path.read_text())["masters"][0]["patches"][0]["theirs"] == 1
    entries["masters"][0]["patches"].append(face)
    path.write_text(json.dumps(entries))
    with pytest.raises(TrimbenchError, match="master 'a': two patches have the same name; rename one"):
        load(path)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--rendition", "soft"], "--rendition soft names one of a trim sheet; give it with --sheet FILE"),
        (["--shot", "12"], "--shot 12 names a shot of a trim sheet; give it with --sheet FILE"),
        (["--sheet", "SHEET", "--rendition", "sofd"], "rendition 'sofd' is not in the sheet; did you mean 'soft'?"),
        (["--sheet", "SHEET", "--shot", "3"], "shot '3' is not in the sheet; choose one of 1, 12"),
    ],
)
def test_a_name_that_there_is_not_is_one_sentence(trimbench, master, sheet, words, sentence):
    words = [sheet if word == "SHEET" else word for word in words]
    outcome = trimbench("render", master, "-o", master.with_name("out.png"), *words)
    assert (outcome.status, outcome.err) == (2, f"trimbench: {sentence}\n")
