"""The host: what it finds, what it refuses and in which words, and the values it hands to an operator."""

import importlib.metadata
import os
import re
import sys
import types
from pathlib import Path

import numpy as np
import pytest

from tonemap.colorimetry import conversion_matrix
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.host import (
    ENTRY_POINT_GROUP,
    Host,
    evaluate_parameters,
    find_operators,
    glsl_arguments,
    parameter_of,
)
from tonemap.operator import GAMUT, INTERFACE_VERSION, TONE, Choice, Levels, Operator, Parameter, Switch, Volume
from tonemap.reference import apply_operator

LEVELS = Levels(0.0, 1000.0, 0.0, 100.0)

GOOD = """
from tonemap.operator import Operator, Parameter


class Halve(Operator):
    interface_version = 1
    name = "{name}"
    title = "Halve"
    kind = "tone"
    source = "a test"
    parameters = (Parameter(name="gain", unit="", default=0.5, minimum=0.0, maximum=1.0, help="Gain."),)

    def apply(self, light, p):
        return p.gain * light
"""


def write_pair(folder: Path, stem: str, text: str, glsl: str | None = None) -> Path:
    """Write STEM.py and its GLSL twin (of another name, if given); returns the Python file."""
    (folder / f"{stem}.py").write_text(text)
    twin = folder / f"{glsl or stem}.glsl"
    twin.write_text(f"vec3 {stem}(vec3 light, Levels levels, float gain) {{ return gain * light; }}\n")
    return folder / f"{stem}.py"


def refusal(folder: Path) -> str:
    """Find with one user's folder, check that everything else was found, and return the one refusal."""
    write_pair(folder, "innocent", GOOD.format(name="innocent"))
    host = find_operators([folder])
    assert "innocent" in host.operators
    assert set(host.operators) >= set(find_operators().names)
    assert len(host.refused) == 1, host.refused
    return host.refused[0]


@pytest.fixture
def entry_points(monkeypatch):
    """Return a function that puts objects in the place of installed packages' operators."""

    class Entry:
        def __init__(self, name: str, found: object) -> None:
            self.name, self.found, self.value = name, found, f"package:{name}"
            self.dist = types.SimpleNamespace(name="odd-trims", version="2.1")

        def load(self) -> object:
            if isinstance(self.found, Exception):
                raise self.found
            return self.found

    def install(**found: object) -> None:
        entries = [Entry(name, item) for name, item in found.items()]
        monkeypatch.setattr(
            importlib.metadata, "entry_points", lambda *, group: entries if group == ENTRY_POINT_GROUP else []
        )

    return install


# What is found.


def test_built_in_operators_are_found_with_both_files():
    host = find_operators()
    assert len(host.operators) >= 13
    assert host.refused == []
    folder = Path(sys.modules["tonemap"].__file__).parent / "operators"
    assert {item.python_file for item in host.operators.values()} == set(folder.glob("*.py")) - {folder / "__init__.py"}
    for name, item in host.operators.items():
        assert item.operator.name == name == item.python_file.stem == item.glsl_file.stem
        assert item.glsl_file.is_file()


def test_operators_of_a_kind_are_in_the_order_of_their_titles():
    host = find_operators()
    for kind in (TONE, GAMUT):
        titles = [operator.title for operator in host.of_kind(kind)]
        assert titles == sorted(titles)
        assert titles
    assert len(host.of_kind(TONE)) + len(host.of_kind(GAMUT)) == len(host.operators)


def test_a_users_folder_adds_its_pairs(tmp_path):
    file = write_pair(tmp_path, "halve", GOOD.format(name="halve"))
    host = find_operators([tmp_path])
    assert host.refused == []
    assert host.installed("halve", TONE).python_file == file
    assert host.installed("halve").glsl_file == tmp_path / "halve.glsl"
    values = evaluate_parameters(host.get("halve"), {}, LEVELS)
    assert host.get("halve").apply(np.full(3, 8.0), values).tolist() == [4.0, 4.0, 4.0]


def test_a_folder_is_read_afresh_each_time(tmp_path):
    file = write_pair(tmp_path, "halve", GOOD.format(name="halve"))
    assert find_operators([tmp_path]).get("halve").title == "Halve"
    file.write_text(GOOD.format(name="halve").replace('"Halve"', '"Half of it"'))
    assert find_operators([tmp_path]).get("halve").title == "Half of it"


def test_a_helper_module_in_a_users_folder_is_no_operator(tmp_path):
    write_pair(tmp_path, "halve", GOOD.format(name="halve"))
    (tmp_path / "helper.py").write_text("GAIN = 0.5\n")
    host = find_operators([tmp_path])
    assert "halve" in host.operators
    assert host.refused == []


def test_an_operator_with_a_dataclass_of_its_own_loads(tmp_path):
    """Dataclasses with postponed annotations look their module up by name."""
    text = "from __future__ import annotations\n\nfrom dataclasses import dataclass\n" + GOOD.format(name="halve")
    write_pair(tmp_path, "halve", text + "\n\n@dataclass\nclass Shape:\n    width: float = 1.0\n")
    host = find_operators([tmp_path])
    assert "halve" in host.operators
    assert host.refused == []


def test_a_folder_that_is_none_is_said(tmp_path):
    with pytest.raises(WrongCall) as fault:
        find_operators([tmp_path / "nothing"])
    assert str(fault.value) == (
        f"operator folder {tmp_path / 'nothing'} is not a folder; give the folder that holds NAME.py and NAME.glsl"
    )


def test_a_folder_that_is_named_twice_does_not_clash_with_itself(tmp_path, monkeypatch):
    """By its whole path in the settings, by a short one in the command, and by a link."""
    folder = tmp_path / "own"
    folder.mkdir()
    write_pair(folder, "halve", GOOD.format(name="halve"))
    (tmp_path / "link").symlink_to(folder)
    monkeypatch.chdir(tmp_path)
    (tmp_path / "more").mkdir()
    host = find_operators([folder, tmp_path / "more", Path("own"), Path("link")])
    assert "halve" in host.operators
    assert host.refused == []
    assert host.folders == [folder, tmp_path / "more"]
    write_pair(folder, "faulty", "import no_such_module_anywhere\n")
    host = find_operators([folder, Path("link")])
    assert "halve" in host.operators
    assert host.refused_in(Path("link")) == host.refused_in(folder) == host.refused
    assert len(host.refused) == 1


@pytest.mark.parametrize("locked", ["", "shaders"])
def test_a_folder_that_can_not_be_read_is_said(tmp_path, monkeypatch, locked):
    """On the bench it costs what is in it: the operators of other folders go on."""
    write_pair(tmp_path, "halve", GOOD.format(name="halve"))
    (tmp_path / "shaders").mkdir()
    host = find_operators([tmp_path])
    scandir = os.scandir

    def without_rights(folder: Path) -> object:
        if folder == tmp_path / locked:
            raise PermissionError(13, "Permission denied", str(folder))
        return scandir(folder)

    monkeypatch.setattr(os, "scandir", without_rights)
    sentence = f"operator folder {tmp_path} can't be read: Permission denied; let it be read, or name another one"
    with pytest.raises(WrongCall) as fault:
        find_operators([tmp_path])
    assert str(fault.value) == sentence
    refreshed = host.refreshed([tmp_path / "*"])
    assert refreshed.refused == [sentence]
    assert "halve" not in refreshed.names
    assert refreshed.get("knee").name == "knee"


# What is refused: each fault costs only itself.


def test_an_import_error_costs_only_its_file(tmp_path):
    file = write_pair(tmp_path, "faulty", "import no_such_module_anywhere\n")
    assert refusal(tmp_path) == (
        f"operator 'faulty' in {file} is refused: ModuleNotFoundError: No module named 'no_such_module_anywhere' "
        f"({file}:1)"
    )


def test_a_syntax_error_costs_only_its_file(tmp_path):
    file = write_pair(tmp_path, "faulty", "class Halve\n    pass\n")
    assert refusal(tmp_path) == f"operator 'faulty' in {file} is refused: SyntaxError: expected ':' ({file}:1:12)"


def test_an_exit_in_a_module_costs_only_its_file(tmp_path):
    """A script that ends itself must not end the program that looks at it."""
    file = write_pair(tmp_path, "faulty", "import sys\n\nsys.exit(3)\n")
    assert refusal(tmp_path) == f"operator 'faulty' in {file} is refused: SystemExit: 3 ({file}:3)"


def test_a_twin_of_another_name_is_refused(tmp_path):
    file = write_pair(tmp_path, "faulty", GOOD.format(name="halve"))
    assert refusal(tmp_path) == (
        f"operator 'faulty' in {file} is refused: its name is 'halve', and its file is faulty.py; give both the same "
        "name"
    )


def test_an_operator_without_a_twin_is_refused(tmp_path):
    file = write_pair(tmp_path, "halve", GOOD.format(name="halve"), glsl="other")
    assert refusal(tmp_path) == f"operator 'halve' in {file} is refused: its GLSL twin halve.glsl is not in {tmp_path}"


DECLARATIONS = {
    "kind": ('kind = "tone"', 'kind = "colour"', "its kind 'colour' is neither 'tone' nor 'gamut'"),
    "no kind": ('    kind = "tone"\n', "", "its declaration has no kind"),
    "no title": ('    title = "Halve"\n', "", "its declaration has no title"),
    "no source": ('    source = "a test"\n', "", "its declaration has no source"),
    "interface": (
        "interface_version = 1",
        "interface_version = 7",
        f"it was made for operator interface 7, and this program has {INTERFACE_VERSION}; update the operator or the "
        "program",
    ),
    "no interface": (
        "    interface_version = 1\n",
        "",
        "it doesn't say for which operator interface it was made; add 'interface_version = 1' to its class",
    ),
    "unknown need": (
        '    source = "a test"',
        '    needs = ("peak",)\n    source = "a test"',
        "it needs 'peak', which is not measured; choose from peak_nits, highlight_nits, median_nits, average_nits",
    ),
    "no comma": (
        '    source = "a test"',
        '    derived = ("twice")\n    source = "a test"',
        "its derived are not a tuple of names; mind the comma after a single one",
    ),
    "no derive": (
        '    source = "a test"',
        '    derived = ("twice",)\n    source = "a test"',
        "it declares derived and has no derive method",
    ),
    "no tabulate": (
        '    source = "a test"',
        '    tables = ("curve",)\n    source = "a test"',
        "it declares tables and has no tabulate method",
    ),
    "five tables": (
        '    source = "a test"',
        '    tables = ("a", "b", "c", "d", "e")\n    tabulate = Operator.derive\n    source = "a test"',
        "it declares 5 tables, and at most 4 are possible",
    ),
    "neutral": ('help="Gain."', 'help="Gain.", neutral=2.0', "gain = 2 is outside 0..1; choose a value in that range"),
    "scale": (
        'help="Gain."',
        'help="Gain.", scale="cubic"',
        "parameter 'gain' has the scale 'cubic'; choose linear, log or stops",
    ),
    "apply": ("def apply(", "def applied(", "it has no apply method"),
    "parameter's name": (
        'name="gain"',
        'name="Gain"',
        "'Gain' can't be a GLSL name; use lower-case letters, digits and single underscores",
    ),
    "double underscore": (
        'name="gain"',
        'name="gain__a"',
        "'gain__a' can't be a GLSL name; use lower-case letters, digits and single underscores",
    ),
    "word of GLSL": ('name="gain"', 'name="filter"', "'filter' is a word of GLSL's own; choose another name"),
    "taken": (
        'name="gain"',
        'name="levels"',
        "the names of its parameters, needs, derived values and tables are not distinct (light, levels and volume are "
        "taken)",
    ),
    "derived": (
        '    source = "a test"',
        '    derived = ("gain",)\n    source = "a test"',
        "the names of its parameters, needs, derived values and tables are not distinct (light, levels and volume are "
        "taken)",
    ),
    "default": ("default=0.5", "default=1.5", "gain = 1.5 is outside 0..1; choose a value in that range"),
    "default is no number": (
        "default=0.5",
        'default="0.5"',
        "parameter 'gain' has the default '0.5'; write a plain number",
    ),
    "default is a switch's": (
        "default=0.5",
        "default=True",
        "parameter 'gain' has the default True; write a plain number",
    ),
    "minimum is no number": (
        "minimum=0.0",
        'minimum="0.0"',
        "parameter 'gain' has the minimum '0.0'; write a plain number",
    ),
    "maximum is no number": (
        "maximum=1.0",
        "maximum=1j",
        "parameter 'gain' has the maximum 1j; write a plain number",
    ),
    "neutral is no number": (
        'help="Gain."',
        'help="Gain.", neutral=[0.5]',
        "parameter 'gain' has the neutral [0.5]; write a plain number",
    ),
    "unit": ('unit=""', "unit=None", "parameter 'gain' has the unit None; write a word, or '' for a plain number"),
    "unit of two lines": (
        'unit=""',
        r'unit="cd\nm2"',
        r"parameter 'gain' has the unit 'cd\nm2'; write a word, or '' for a plain number",
    ),
    "interface as text": (
        "interface_version = 1",
        'interface_version = "1"',
        "its interface_version is '1'; write a whole number",
    ),
    "range": ("maximum=1.0", "maximum=0.0", "parameter 'gain' has no range"),
    "log scale": ('help="Gain."', 'help="Gain.", scale="log"', "parameter 'gain' has a log scale that reaches 0"),
}


@pytest.mark.parametrize("fault", DECLARATIONS)
def test_a_bad_declaration_costs_only_its_operator(tmp_path, fault):
    old, new, words = DECLARATIONS[fault]
    text = GOOD.format(name="halve")
    assert text.count(old) == 1
    file = write_pair(tmp_path, "halve", text.replace(old, new))
    assert refusal(tmp_path) == f"operator 'halve' in {file} is refused: {words}"


CHOICES = {
    "options": ('default="a", options=["a", "b"]', "the options of 'way' are no names with their meanings"),
    "no options": ('default="a", options={}', "the options of 'way' are no names with their meanings"),
    "none": ('default="a", options=None', "the options of 'way' are no names with their meanings"),
    "meaning": ('default="a", options={"a": 1}', "its meaning of 'a' of 'way' is not one line of 1 to 500 letters"),
    "number": (
        "default=1, options={1: 'one'}",
        "the options of 'way' can't be GLSL names; use lower-case letters, digits and single underscores",
    ),
    "sign": (
        'default="max-rgb", options={"max-rgb": "all"}',
        "the options of 'way' can't be GLSL names; use lower-case letters, digits and single underscores",
    ),
    "two underscores": (
        'default="a__b", options={"a__b": "all"}',
        "the options of 'way' can't be GLSL names; use lower-case letters, digits and single underscores",
    ),
    "default": ('default="c", options={"a": "all"}', "way = 'c' is not an option; choose one of a"),
}


@pytest.mark.parametrize("fault", CHOICES)
def test_a_bad_choice_costs_only_its_operator(tmp_path, fault):
    """Of every option the host makes a constant NAME_OPTION in GLSL, and of its meaning a line of the documents."""
    declared, words = CHOICES[fault]
    text = GOOD.format(name="halve").replace("import Operator", "import Choice, Operator")
    choice = f'Choice(name="way", {declared}, help="Way."),'
    file = write_pair(tmp_path, "halve", text.replace("parameters = (", f"parameters = ({choice}"))
    found = refusal(tmp_path)
    assert found.startswith(f"operator 'halve' in {file} is refused: {words}")


def test_two_options_of_one_name_in_glsl_are_refused(tmp_path):
    """A_B_C is the option b_c of a, and the option c of a_b."""
    text = GOOD.format(name="halve").replace("import Operator", "import Choice, Operator")
    choices = """Choice(name="a", default="b_c", options={"b_c": "all"}, help="Way."),
        Choice(name="a_b", default="d", options={"d": "none", "c": "all"}, help="Way."),"""
    file = write_pair(tmp_path, "halve", text.replace("parameters = (", f"parameters = ({choices}"))
    assert refusal(tmp_path) == (
        f"operator 'halve' in {file} is refused: two options have one name in GLSL, that of the choice and of the "
        "option; rename one"
    )


@pytest.mark.parametrize("default", ['"on"', "1", "None"])
def test_a_switch_that_is_neither_on_nor_off_is_refused(tmp_path, default):
    text = GOOD.format(name="halve").replace("import Operator", "import Switch, Operator")
    switch = f'Switch(name="soft", default={default}, help="Softly."),'
    file = write_pair(tmp_path, "halve", text.replace("parameters = (", f"parameters = ({switch}"))
    assert refusal(tmp_path) == (
        f"operator 'halve' in {file} is refused: switch 'soft' has the default {default.replace(chr(34), chr(39))}; "
        "write True or False"
    )


def test_a_bad_name_is_refused(tmp_path):
    file = write_pair(tmp_path, "Halve-it", GOOD.format(name="Halve-it"))
    assert refusal(tmp_path) == (
        f"operator 'Halve-it' in {file} is refused: 'Halve-it' can't be a GLSL name; use lower-case letters, digits "
        "and single underscores"
    )


def test_a_word_of_glsl_is_refused_as_a_name(tmp_path):
    file = write_pair(tmp_path, "smooth", GOOD.format(name="smooth"))
    words = "'smooth' is a word of GLSL's own; choose another name"
    assert refusal(tmp_path) == f"operator 'smooth' in {file} is refused: {words}"


def test_a_taken_name_is_refused_with_both_origins(tmp_path):
    file = write_pair(tmp_path, "bt2390", GOOD.format(name="bt2390"))
    built_in = find_operators().installed("bt2390").python_file
    assert refusal(tmp_path) == f"operator 'bt2390' in {file} is refused: the name is already taken by {built_in}"


def test_two_folders_may_not_share_a_name(tmp_path):
    files = []
    for folder in (tmp_path / "first", tmp_path / "second"):
        folder.mkdir()
        files.append(write_pair(folder, "halve", GOOD.format(name="halve")))
    host = find_operators([tmp_path / "first", tmp_path / "second"])
    assert host.installed("halve").python_file == files[0]
    assert host.refused == [f"operator 'halve' in {files[1]} is refused: the name is already taken by {files[0]}"]


# Installed packages.


def packaged(folder: Path, monkeypatch: pytest.MonkeyPatch, name: str = "halve") -> type:
    """Return an operator's class as an installed package would hold it."""
    file = write_pair(folder, name, GOOD.format(name=name))
    module = types.ModuleType(f"a_package_of_{name}")
    module.__file__ = str(file)
    monkeypatch.setitem(sys.modules, module.__name__, module)
    exec(compile(file.read_text(), file, "exec"), vars(module))
    return module.Halve


def test_an_entry_point_adds_its_operator(tmp_path, monkeypatch, entry_points):
    entry_points(halve=packaged(tmp_path, monkeypatch))
    host = find_operators()
    assert host.refused == []
    assert host.installed("halve", TONE).glsl_file == tmp_path / "halve.glsl"


def test_an_entry_point_that_fails_to_import_costs_only_itself(tmp_path, monkeypatch, entry_points):
    entry_points(broken=ImportError("libhalf.so is missing"), halve=packaged(tmp_path, monkeypatch))
    host = find_operators()
    assert "halve" in host.operators
    (sentence,) = host.refused
    assert sentence.startswith(
        "operator 'broken' in entry point 'package:broken' of package odd-trims 2.1 is refused: ImportError: "
        f"libhalf.so is missing ({__file__}:"
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (None, "ModuleNotFoundError: No module named 'halving.halve'"),
        ("import math\n\nGAIN = 1 / 0\n", "ZeroDivisionError: division by zero ({file}:3)"),
        (
            "import json\n\nGAIN = json.loads('half')\n",
            "JSONDecodeError: Expecting value: line 1 column 1 (char 0) ({file}:3)",
        ),
    ],
    ids=["not there", "its own line", "the line that calls others"],
)
def test_an_entry_point_whose_module_fails_is_said_with_its_line(tmp_path, monkeypatch, text, words):
    """As Python itself loads them: what is imported fails below the machinery of imports."""
    (tmp_path / "halving").mkdir()
    (tmp_path / "halving" / "__init__.py").touch()
    file = tmp_path / "halving" / "halve.py"
    if text is not None:
        file.write_text(text)
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.delitem(sys.modules, "halving", raising=False)
    entry = importlib.metadata.EntryPoint("halve", "halving.halve:Halve", ENTRY_POINT_GROUP)
    monkeypatch.setattr(importlib.metadata, "entry_points", lambda *, group: [entry])
    host = find_operators()
    assert "halve" not in host.operators
    origin = "entry point 'halving.halve:Halve'"
    assert host.refused == [f"operator 'halve' in {origin} is refused: {words.format(file=file)}"]


def test_an_entry_point_that_is_no_class_costs_only_itself(tmp_path, monkeypatch, entry_points):
    """An operator that its author made already, instead of the class, and something that is no operator at all."""
    halve = packaged(tmp_path, monkeypatch)
    entry_points(instance=packaged(tmp_path, monkeypatch, "other")(), nothing=np.sin, halve=halve)
    host = find_operators()
    assert "halve" in host.operators
    assert len(host.refused) == 2
    assert all("is refused: " in sentence for sentence in host.refused)


def test_an_entry_point_without_a_twin_is_refused(tmp_path, monkeypatch, entry_points):
    halve = packaged(tmp_path, monkeypatch)
    (tmp_path / "halve.glsl").unlink()
    entry_points(halve=halve)
    host = find_operators()
    assert "halve" not in host.operators
    assert host.refused == [
        "operator 'halve' in entry point 'package:halve' of package odd-trims 2.1 is refused: its GLSL twin halve.glsl "
        f"is not in {tmp_path}"
    ]


# Asking by name.


@pytest.mark.parametrize(
    ("name", "kind", "sentence"),
    [
        ("bt239", TONE, "tone operator 'bt239' is not known; did you mean 'bt2390'?"),
        ("gamut_hue", TONE, "tone operator 'gamut_hue' is not known; choose one of "),
        ("gamut_hu", None, "operator 'gamut_hu' is not known; did you mean 'gamut_hue'"),
        ("zebra", GAMUT, "gamut operator 'zebra' is not known; choose one of gamut_boundary, gamut_clip, gamut_hue"),
    ],
)
def test_an_unknown_operator_is_said_with_the_near_names(name, kind, sentence):
    with pytest.raises(WrongCall) as fault:
        find_operators().get(name, kind)
    assert str(fault.value).startswith(sentence)


class Every(Operator):
    """One parameter of each sort, and a derived value."""

    interface_version = 1
    name = "every"
    title = "Every sort"
    kind = TONE
    source = "a test"
    parameters = (
        Parameter(name="gain", unit="stops", default=0.1, minimum=0.0, maximum=4.0, help="Gain."),
        Choice(name="way", default="left", options={"left": "to the left", "right": "to the right"}, help="Way."),
        Switch(name="soft", default=False, help="Softly."),
    )
    derived = ("twice",)

    def derive(self, p):
        if p.gain > 3.0:
            raise WrongCall(f"gain = {p.gain:g} leaves nothing; lower it")
        return {"twice": 2.0 * p.gain, "left_over": 0.0}

    def apply(self, light, p):
        return light


EVERY = Every()


def test_numbers_are_rounded_to_what_the_card_gets():
    values = evaluate_parameters(EVERY, {}, LEVELS)
    assert values.gain == float(np.float32(0.1)) != 0.1
    assert values.twice == 2.0 * values.gain
    assert (values.way, values.soft, values.levels) == ("left", False, LEVELS)
    assert not hasattr(values, "left_over")


def test_values_given_as_text_are_read():
    values = evaluate_parameters(EVERY, {"gain": "0.25", "way": "right", "soft": "on"}, LEVELS)
    assert (values.gain, values.way, values.soft) == (0.25, "right", True)
    arguments = glsl_arguments(EVERY, values)
    assert arguments == {"gain": ("float", 0.25), "way": ("int", 1), "soft": ("bool", True), "twice": ("float", 0.5)}
    assert list(arguments) == ["gain", "way", "soft", "twice"]


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"gian": 1.0}, "operator 'every' has no parameter 'gian'; did you mean 'gain'?"),
        ({"zebra": 1.0}, "operator 'every' has no parameter 'zebra'; choose one of gain, soft, way"),
        ({"gain": 9.0}, "operator 'every': gain = 9 is outside 0..4 stops; choose a value in that range"),
        ({"gain": float("nan")}, "operator 'every': gain = nan is outside 0..4 stops; choose a value in that range"),
        ({"gain": "much"}, "operator 'every': gain = 'much' is not a number; give one in 0..4 stops"),
        ({"gain": None}, "operator 'every': gain = None is not a number; give one in 0..4 stops"),
        ({"way": "rihgt"}, "operator 'every': way = 'rihgt' is not an option; did you mean 'right'?"),
        ({"soft": "maybe"}, "operator 'every': soft = 'maybe' is neither on nor off"),
        ({"gain": 3.5}, "operator 'every': gain = 3.5 leaves nothing; lower it"),
    ],
)
def test_a_wrong_value_is_refused_in_one_sentence(given, sentence):
    with pytest.raises(WrongCall) as fault:
        evaluate_parameters(EVERY, given, LEVELS)
    assert str(fault.value) == sentence
    assert fault.value.exit_status == 2


NO_FLOAT32 = "which is no finite number that float32 holds; correct derive"
FAULTY = {
    "a value missing": (lambda p: {}, "derive gives no 'twice'; correct derive"),
    "nothing": (lambda p: None, "derive gives NoneType instead of values by name; correct derive"),
    "a division by 0": (lambda p: {"twice": 1.0 / 0.0}, "derive fails with ZeroDivisionError: float division by zero"),
    "a value that is not declared": (
        lambda p: {"twice": p.gian},
        "derive fails with AttributeError: no parameter, need, derived value or table 'gian' is declared",
    ),
    "a word": (lambda p: {"twice": "two"}, f"derive gives twice = 'two', {NO_FLOAT32}"),
    "NaN": (lambda p: {"twice": float("nan")}, f"derive gives twice = nan, {NO_FLOAT32}"),
    "beyond float32": (lambda p: {"twice": 1e39}, f"derive gives twice = 1e+39, {NO_FLOAT32}"),
    "another call": (lambda: {"twice": 1.0}, r"derive fails with TypeError: .*<lambda>\(\) takes 0 positional"),
}


@pytest.mark.parametrize("faulty", FAULTY)
def test_a_faulty_derive_is_said_with_the_operators_name_and_its_line(monkeypatch, faulty):
    """An author's slip is a sentence like any other: it must not end the program."""
    function, words = FAULTY[faulty]
    monkeypatch.setattr(Every, "derive", staticmethod(function))
    with pytest.raises(TrimbenchError) as fault:
        evaluate_parameters(EVERY, {}, LEVELS)
    is_pattern = faulty == "another call"
    place = rf"[^()]*\({re.escape(__file__)}:{function.__code__.co_firstlineno}\)"
    assert re.fullmatch(rf"operator 'every': {words if is_pattern else re.escape(words)}{place}", str(fault.value))


class Given(Operator):
    """An operator that gets some of everything."""

    interface_version = 1
    name = title = "given"
    kind = GAMUT
    source = "a test"
    parameters = (Parameter(name="gain", unit="", default=0.5, minimum=0.0, maximum=1.0, help="Gain."),)
    tables = ("curve",)

    def tabulate(self, p):
        return {"curve": [0.0, 1.0]}


CHANGES = {
    "light": lambda self, light, p: np.multiply(light, 2.0, out=light),
    "a channel": lambda self, light, p: light.__setitem__((..., 0), 0.0),
    "its shape": lambda self, light, p: light.resize((1, 3), refcheck=False),
    "a parameter": lambda self, light, p: setattr(p, "gain", 1.0),
    "no parameter any more": lambda self, light, p: delattr(p, "gain"),
    "a table": lambda self, light, p: p.curve.__setitem__(0, 1.0),
    "primaries": lambda self, light, p: np.multiply(p.volume.to_target, 2.0, out=p.volume.to_target),
}


@pytest.mark.parametrize("change", CHANGES)
def test_what_an_operator_is_given_it_can_not_change(monkeypatch, change):
    """What one operator changes would be another's fault: the arrays are shared."""
    monkeypatch.setattr(Given, "apply", CHANGES[change])
    operator, light = Given(), np.ones((4, 3))
    volume = Volume(conversion_matrix("bt2020", "bt709"), conversion_matrix("bt709", "bt2020"))
    values, before = evaluate_parameters(operator, {}, LEVELS, volume), volume.to_target.copy()
    with pytest.raises(TrimbenchError) as fault:
        apply_operator(operator, light, values)
    line = CHANGES[change].__code__.co_firstlineno
    assert re.fullmatch(
        rf"operator 'given': apply fails with \w+: .* \({re.escape(__file__)}:{line}\)",
        str(fault.value),
    )
    assert (light.shape, light.tolist()) == ((4, 3), np.ones((4, 3)).tolist())
    assert (values.gain, values.curve.tolist()) == (0.5, [0.0, 1.0])
    assert (conversion_matrix("bt2020", "bt709") == before).all()


def test_light_that_is_handed_on_as_it_came_is_the_next_operators_to_read(monkeypatch):
    monkeypatch.setattr(Given, "apply", lambda self, light, p: light)
    light = np.ones((4, 3))
    assert apply_operator(Given(), light, evaluate_parameters(Given(), {}, LEVELS)).tolist() == light.tolist()
    assert light.flags.writeable


def test_an_operator_without_parameters_says_so():
    with pytest.raises(WrongCall) as fault:
        parameter_of(find_operators().get("bt2446_a"), "start")
    assert str(fault.value) == "operator 'bt2446_a' has no parameters"


def test_a_value_that_is_not_declared_is_named():
    values = evaluate_parameters(EVERY, {}, LEVELS)
    with pytest.raises(AttributeError) as fault:
        _ = values.gian
    assert str(fault.value) == "no parameter, need, derived value or table 'gian' is declared"


def test_an_operator_without_apply_says_which():
    with pytest.raises(TypeError) as fault:
        Operator.apply(EVERY, np.zeros(3), evaluate_parameters(EVERY, {}, LEVELS))
    assert str(fault.value) == "operator 'every' has no apply"


def test_a_host_starts_empty():
    assert Host().operators == {}
    assert Host().names == []
    assert Host().of_kind(TONE) == []
