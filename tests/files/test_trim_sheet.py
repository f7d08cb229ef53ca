"""The trim sheet's file: what is written, what survives, what is refused and in which words."""

import json
import os
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings, strategies

from tonemap import Encoding, Rendition, TrimbenchError, find_operators, trim_sheet_text
from tonemap.adjustments import InputAdjustments
from tonemap.measure.patches import Patch
from tonemap.shots import Key, Shot
from tonemap.trim_sheet import MasterEntry, TrimSheet, load, save

HOST = find_operators()


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


@pytest.fixture
def sheet() -> TrimSheet:
    """Make a sheet that uses everything there is."""
    encoding = Encoding("pq", "p3-d65", "narrow", 12, 1000.0, 0.005)
    sheet = TrimSheet(
        masters=(
            MasterEntry(
                "reel 1", "scans/reel1.####.dpx", {"transfer": "pq"}, encoding, 3840, 2160, 200, Fraction(24000, 1001),
                "01:00:00:00", "sha256:" + "0a" * 32,
            ),
            MasterEntry("reel 2", "../reel2.mov"),
        ),
        title="The lantern maker",
        rate=Fraction(24000, 1001),
        timecode="10:00:00:00",
        note="second cut",
    )  # fmt: skip
    for rendition in (
        Rendition("soft", "logarithmic", "gamut_boundary", {"start": 30.0}, input=InputAdjustments(exposure=-0.25)),
        Rendition("EETF", "bt2390"),
    ):
        sheet = sheet.with_rendition(rendition, HOST)
    sheet = replace(sheet, default_rendition="EETF")
    face = Patch.rectangle("face", "skin", 0.4, 0.3, 0.5, 0.45)
    sheet = sheet.with_shot(Shot("1", 0, 47, "reel 1", rendition="soft", patches=(face,), note="the lamp is lit"))
    keys = (Key(50, {"input.exposure": 0.0, "output.slope": [1.0, 1.0, 0.9]}), Key(70, {"input.exposure": 1.0}))
    return sheet.with_shot(Shot("2", 48, 99, "reel 2", 1000, settings={"gamut.reach": 2.0}, keys=keys))


def test_a_sheet_comes_back_as_it_was_and_is_written_again_byte_for_byte(sheet, tmp_path):
    path = tmp_path / "programme.trims"
    save(sheet, path)
    again = load(path)
    assert again == sheet
    save(again, tmp_path / "again.trims")
    assert (tmp_path / "again.trims").read_bytes() == path.read_bytes()


def test_the_published_schema_is_a_schema_and_a_saved_sheet_follows_it(sheet, tmp_path):
    schema = trim_sheet_text.schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    save(sheet, tmp_path / "programme.trims")
    jsonschema.validate(json.loads((tmp_path / "programme.trims").read_text()), schema)


def test_one_changed_setting_is_one_changed_line(sheet, tmp_path):
    before = save(sheet, tmp_path / "programme.trims")
    lines = (tmp_path / "programme.trims").read_text().splitlines()
    save(before.with_shot(replace(before.shot("2"), settings={"gamut.reach": 2.5})))
    changed = (tmp_path / "programme.trims").read_text().splitlines()
    assert [(a.strip(), b.strip()) for a, b in zip(lines, changed, strict=True) if a != b] == [
        ('"gamut.reach": 2.0', '"gamut.reach": 2.5')
    ]


def test_every_setting_is_written_so_that_a_sheet_outlives_a_change_of_defaults(sheet, tmp_path):
    save(sheet, tmp_path / "programme.trims")
    written = json.loads((tmp_path / "programme.trims").read_text())["renditions"][1]["settings"]
    assert written["tone.knee_offset"] == next(
        parameter.default for parameter in HOST.get("bt2390").parameters if parameter.name == "knee_offset"
    )
    assert {"input.pivot", "gamut.reach", "output.slope", "target.peak", "target.range"} <= set(written)


def test_unknown_keys_survive_a_change_and_a_save_at_every_level(sheet, tmp_path):
    path = tmp_path / "programme.trims"
    save(sheet, path)
    entries = json.loads(path.read_text())
    shot = entries["shots"][0]
    places = [
        entries, entries["masters"][0], entries["masters"][0]["encoding"], entries["renditions"][0], shot,
        shot["patches"][0], entries["shots"][1]["keys"][0],
    ]  # fmt: skip
    for number, place in enumerate(places):
        place["from elsewhere"] = {"number": number, "list": [[1], {"a": None}]}
    path.write_text(json.dumps(entries))
    read = load(path)
    changed = read.with_shot(replace(read.shot("1"), note="changed")).with_rendition(
        Rendition("soft", "knee", "gamut_clip"), HOST
    )
    save(changed)
    text = path.read_text()
    assert text.count('"from elsewhere"') == len(places)
    for number in range(len(places)):
        assert f'"number": {number},' in text
    assert load(path) == changed


def test_an_unknown_operator_survives_and_is_said(sheet, tmp_path):
    path = tmp_path / "programme.trims"
    save(sheet, path)
    path.write_text(path.read_text().replace('"logarithmic"', '"lantern_glow"'))
    read = save(load(path))
    assert json.loads(path.read_text())["renditions"][0]["settings"]["tone.start"] == 30.0
    with pytest.raises(TrimbenchError, match=r"rendition 'soft': .*'lantern_glow'"):
        read.rendition_at(0, HOST)
    assert read.rendition_at(60, HOST).tone == "bt2390"


def test_renditions_come_back_as_the_same_chain(sheet, tmp_path):
    save(sheet, tmp_path / "programme.trims")
    rendition = load(tmp_path / "programme.trims").rendition_at(0, HOST)
    assert (rendition.name, rendition.tone, rendition.gamut) == ("soft", "logarithmic", "gamut_boundary")
    assert rendition.tone_settings["start"] == 30.0
    assert rendition.input.exposure == -0.25
    assert rendition.target == Rendition("", "knee").target


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ('{"version": 1,\n "shots": [}', "line 2, column 12: the text is no JSON (Expecting value); correct it there"),
        ("[1]", 'this is no trim sheet: it has no "version" with a whole number'),
        ('{"version": true}', 'this is no trim sheet: it has no "version" with a whole number'),
        (
            '{"version": 7}',
            "this trim sheet is of version 7, and this program reads up to version 1; open it with a newer program",
        ),
        ('{"version": 0}', "this trim sheet is of version 0, which no program has written"),
        (
            '{"version": 1, "note": "", "note": ""}',
            '"note" stands twice in one place, perhaps after a merge; keep one of them',
        ),
        ('{"version": 1, "note": NaN}', "NaN is no number that a trim sheet can hold; correct it"),
        ('{"version": 1, "own": 1e999}', "1e999 is no number that a trim sheet can hold; correct it"),
        (
            '{"version": 1, "note": "\\ud800"}',
            "a text in it holds half a character (\\ud800 to \\udfff); correct it",
        ),
        ('{"version": 1, "shots": {}}', "shots: an object is not a list; correct it"),
        (
            '{"version": 1, "shots": [{"name": "12", "first": 3}]}',
            'shots, no. 1 ("12"): there is no "last"; add it',
        ),
        (
            '{"version": 1, "shots": [{"name": "12", "first": -3, "last": 2}]}',
            'shots, no. 1 ("12"), first: -3 is below 0; correct it',
        ),
        (
            '{"version": 1, "rate": "24fps"}',
            'rate: "24fps" is not written as it must be (frames a second, as 25 or 30000/1001); correct it',
        ),
        (
            '{"version": 1, "renditions": [{"name": "a", "tone": "knee", "settings": {"knee": 1}}]}',
            'renditions, no. 1 ("a"), settings: "knee" is not written as it must be (STAGE.NAME with the stage input, '
            "tone, gamut, output or target); correct it",
        ),
        (
            '{"version": 1, "masters": [{"name": "a", "path": "b"}], "shots": [{"name": "1", "first": 5, "last": 4}]}',
            "shot '1': frames 5 to 4 are no stretch; correct the last",
        ),
        (
            '{"version": 1, "default_rendition": "sofd", "renditions": [{"name": "soft", "tone": "knee"}]}',
            "rendition 'sofd' is not in the sheet; did you mean 'soft'?",
        ),
    ],
)  # fmt: skip
def test_what_is_no_trim_sheet_is_one_sentence_with_the_place(text, sentence, tmp_path):
    path = tmp_path / "programme.trims"
    path.write_text(text)
    with pytest.raises(TrimbenchError) as fault:
        load(path)
    assert str(fault.value) == f"{path}: {sentence}"


def test_other_bytes_and_no_file_are_one_sentence(tmp_path):
    path = tmp_path / "programme.trims"
    path.write_bytes(b'{\n"version": 1, "note": "\xff"}')
    with pytest.raises(TrimbenchError, match=r"line 2 is not UTF-8; save the sheet as UTF-8"):
        load(path)
    with pytest.raises(TrimbenchError, match=r"can't be read: No such file"):
        load(tmp_path / "other.trims")


def test_a_sheet_that_somebody_else_changed_is_not_overwritten(sheet, tmp_path):
    path = tmp_path / "programme.trims"
    mine = save(sheet, path)
    theirs = save(replace(load(path), note="theirs"))
    with pytest.raises(TrimbenchError) as fault:
        save(replace(mine, note="mine"))
    assert str(fault.value) == (
        f"{path}: somebody else has changed this sheet since it was read; save under another name, or open it again"
    )
    assert load(path) == theirs
    assert names(tmp_path) == ["programme.trims"]
    assert load(save(replace(mine, note="mine"), overwrite=True).origin.path).note == "mine"


def test_another_file_is_not_overwritten_unless_asked(sheet, tmp_path):
    path = tmp_path / "other.trims"
    path.write_text("precious")
    with pytest.raises(TrimbenchError, match="the file exists"):
        save(sheet, path)
    assert path.read_text() == "precious"


def test_a_save_that_fails_leaves_the_old_sheet_whole(sheet, tmp_path, monkeypatch):
    path = tmp_path / "programme.trims"
    saved = save(sheet, path)
    before = path.read_bytes()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(TrimbenchError, match="No space left on device"):
        save(replace(saved, note="new"))
    assert path.read_bytes() == before
    assert names(tmp_path) == ["programme.trims"]


def test_saved_elsewhere_the_masters_are_found_from_there(sheet, tmp_path):
    saved = save(sheet, tmp_path / "programme.trims")
    (tmp_path / "deep" / "er").mkdir(parents=True)
    moved = load(save(saved, tmp_path / "deep" / "er" / "copy.trims").origin.path)
    assert [master.path for master in moved.masters] == ["../../scans/reel1.####.dpx", "../../../reel2.mov"]
    for one, other in zip(saved.masters, moved.masters, strict=True):
        assert os.path.realpath(saved.path_of(one)) == os.path.realpath(moved.path_of(other))


def test_an_older_version_is_raised_and_a_copy_kept_at_the_first_save(tmp_path, monkeypatch):
    def from_zero(entries):
        return {**{key: value for key, value in entries.items() if key != "remark"}, "note": entries["remark"]}

    monkeypatch.setitem(trim_sheet_text.UPGRADES, 0, from_zero)
    path = tmp_path / "programme.trims"
    old = '{"version": 0, "remark": "kept", "own": [1]}'
    path.write_text(old)
    read = load(path)
    assert (read.note, read.extra, read.origin.version) == ("kept", {"own": [1]}, 0)
    assert path.read_text() == old, "reading writes nothing"
    saved = save(read)
    assert json.loads(path.read_text())["version"] == 1
    assert (tmp_path / "programme.version-0.trims").read_text() == old
    save(replace(saved, note="again"))
    assert names(tmp_path) == ["programme.trims", "programme.version-0.trims"]


def test_an_older_version_that_breaks_the_schema_once_raised_is_refused(tmp_path, monkeypatch):
    monkeypatch.setitem(trim_sheet_text.UPGRADES, 0, lambda entries: {**entries, "shots": 3})
    path = tmp_path / "programme.trims"
    path.write_text('{"version": 0}')
    with pytest.raises(TrimbenchError, match="shots: 3 is not a list; correct it"):
        load(path)


JSON_VALUES = strategies.recursive(
    strategies.none()
    | strategies.booleans()
    | strategies.integers()
    | strategies.floats()
    | strategies.text(max_size=8),
    lambda inner: (
        strategies.lists(inner, max_size=3) | strategies.dictionaries(strategies.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=6,
)


def places(value: object, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Return the paths of all values in a document."""
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path, *(deeper for key, item in items for deeper in places(item, (*path, key)))]


@settings(max_examples=100, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
@given(data=strategies.data())
def test_whatever_stands_anywhere_it_is_kept_or_refused_in_one_sentence(sheet, tmp_path, data):
    entries = json.loads(json.dumps(sheet.to_dict()))
    path = data.draw(strategies.sampled_from(places(entries)[1:]))
    value = data.draw(JSON_VALUES)
    here = entries
    for step in path[:-1]:
        here = here[step]
    here[path[-1]] = value
    file = tmp_path / "damaged.trims"
    file.write_text(json.dumps(entries))
    try:
        read = load(file)
    except TrimbenchError as fault:
        sentence = str(fault)
        assert sentence.startswith(f"{file}: ")
        assert "\n" not in sentence
        return
    save(read)
    assert load(file) == read
