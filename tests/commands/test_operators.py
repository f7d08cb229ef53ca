"""trimbench operators new and check: the folder that is written works at once, and what is broken is said."""

import json
import re
import subprocess
import sys

import pytest

from tonemap import operator_check
from tonemap.host import find_operators
from tonemap.operator_check import HUE_NAMES, Verdict


@pytest.fixture
def here(tmp_path, monkeypatch):
    """Work in a folder of our own."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("kind", ["tone", "gamut"])
def test_a_new_operator_passes_its_own_tests_and_the_check(kind, here, trimbench):
    outcome = trimbench("operators", "new", "soft_light", "--kind", kind)
    assert outcome.status == 0
    assert outcome.out == (
        "soft_light: the operator 'soft_light', its GLSL twin, a test and a README\n"
        "next: trimbench operators check soft_light, or trimbench view MASTER --operators soft_light\n"
    )
    written = sorted(str(path.relative_to(here)) for path in here.rglob("*") if path.is_file())
    assert written == [
        "soft_light/README.md",
        "soft_light/soft_light.glsl",
        "soft_light/soft_light.py",
        "soft_light/tests/test_soft_light.py",
    ]
    assert "emplate" not in "".join(path.read_text() for path in here.rglob("*.*"))
    told = (here / "soft_light/README.md").read_text()
    assert f"of kind `{kind}`" in told
    assert '\n[project.entry-points."trimbench.operators"]\nsoft_light = "PACKAGE.soft_light:SoftLight"\n' in told
    host = find_operators([here / "soft_light"])
    assert host.refused == []
    assert (host.get("soft_light").title, host.get("soft_light").kind) == ("Soft light", kind)
    own = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider"],
        cwd=here / "soft_light",
        capture_output=True,
        text=True,
        check=False,
    )
    assert own.returncode == 0, own.stdout
    assert "2 passed" in own.stdout


def test_nothing_is_overwritten(here, trimbench):
    (here / "softlight").mkdir()
    outcome = trimbench("operators", "new", "softlight")
    assert (outcome.status, outcome.err) == (
        1,
        "trimbench: softlight exists already; nothing is written; give another folder with -o\n",
    )
    assert list((here / "softlight").iterdir()) == []
    assert trimbench("operators", "new", "softlight", "-o", "other/place").status == 0
    assert (here / "other/place/softlight.py").is_file()


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("Soft", "'Soft' can't be a GLSL name; use lower-case letters, digits and single underscores"),
        ("../up", "'../up' can't be a GLSL name; use lower-case letters, digits and single underscores"),
        ("so__ft", "'so__ft' can't be a GLSL name; use lower-case letters, digits and single underscores"),
        ("float", "'float' is a word of GLSL's own; choose another name"),
        ("mix", "'mix' is a function of GLSL's own; choose another name"),
        ("knee", "operator 'knee' exists already; choose another name"),
    ],
)
def test_a_name_that_can_not_be_is_refused(name, sentence, here, trimbench):
    outcome = trimbench("operators", "new", name)
    assert (outcome.status, outcome.err) == (2, f"trimbench: {sentence}\n")
    assert list(here.iterdir()) == []


def test_the_check_of_a_folder_is_a_verdict_a_line_and_the_same_as_json(here, trimbench):
    trimbench("operators", "new", "softlight")
    outcome = trimbench("operators", "check", "softlight", "--pixels", "1000")
    assert outcome.status == 0
    lines = outcome.out.splitlines()
    assert lines[0].startswith("Softlight (softlight, tone)")
    assert [line[8:30].strip() for line in lines if line.startswith("  pass")] == [
        "finite",
        "black to black",
        "monotone",
        "within the peak",
        "neutral stays neutral",
        "continuous",
        "parity, fragment",
        "parity, compute",
        "parity, cpu",
        "finite in GLSL",
    ]
    assert lines[-1] == "every operator passes"
    report = json.loads(trimbench("operators", "check", "softlight", "--pixels", "1000", "--json").out)
    (found,) = report["operators"]
    assert (found["name"], found["passes"], report["passes"]) == ("softlight", True, True)
    assert len(found["hue shift"]["degrees"][0]) == len(HUE_NAMES)
    assert {item["name"] for item in found["verdicts"]} >= {"monotone", "parity, compute", "speed, reference"}


def test_what_an_operator_prints_is_not_in_the_json(here, trimbench):
    trimbench("operators", "new", "softlight")
    file = here / "softlight/softlight.py"
    told, count = re.subn(r"(def apply.*\n +\"\"\".*\n)", r'\1        print("at work")\n', file.read_text())
    assert count == 1
    file.write_text(told)
    outcome = trimbench("operators", "check", "softlight", "--pixels", "1000", "--json")
    assert json.loads(outcome.out)["passes"]
    assert "at work" in outcome.err


def test_a_twin_that_differs_fails_the_check(here, trimbench):
    trimbench("operators", "new", "softlight")
    glsl = here / "softlight/softlight.glsl"
    glsl.write_text(glsl.read_text().replace("(bend - 1.0)", "(bend - 1.001)"))
    outcome = trimbench("operators", "check", "softlight", "--pixels", "1000")
    assert outcome.status == 1
    assert "  FAIL  parity, fragment" in outcome.out
    assert "worst: pixel" in outcome.out
    assert outcome.out.endswith("not every operator passes; the lines above say where\n")


def test_a_twin_that_ignores_a_slider_in_one_state_of_a_switch_or_choice_fails_the_check(here, trimbench):
    """The slider bites only where the switch is as declared and an option is not."""
    trimbench("operators", "new", "softlight")
    python, glsl = here / "softlight/softlight.py", here / "softlight/softlight.glsl"
    more = """Switch(name="soft", default=True, help="Softly."),
        Choice(name="way", default="gain", options={"gain": "one gain", "none": "as it is"}, help="Way."),
        Choice(name="end", default="none", options={"none": "as it is", "gain": "one gain"}, help="End."),
        Parameter("""
    bent = 'p.bend if p.soft and p.end == "gain" else 2.0'
    text = python.read_text().replace("parameters = (\n        Parameter(", f"parameters = (\n        {more}")
    text = text.replace("import Operator,", "import Choice, Operator, Switch,")
    python.write_text(text.replace("        curve =", f"        bend = {bent}\n        curve =").replace(
        "p.bend * share / ((p.bend", "bend * share / ((bend"
    ))  # fmt: skip
    twin = glsl.read_text().replace("float slope", "bool soft, int way, int end, float slope")
    twin = twin.replace("float bend)", "float bend_given)")
    sound = "    float bend = soft && end == END_GAIN ? bend_given : 2.0;\n    float curve"
    glsl.write_text(twin.replace("    float curve", sound))
    assert trimbench("operators", "check", "softlight", "--pixels", "1000").status == 0
    glsl.write_text(glsl.read_text().replace("? bend_given", "? 10.0"))  # as at its default
    outcome = trimbench("operators", "check", "softlight", "--pixels", "1000")
    assert outcome.status == 1
    assert re.search(r"FAIL  parity, fragment .*\[end gain, (minimum|maximum|away)\]", outcome.out), outcome.out


def test_a_twin_that_does_not_compile_fails_with_the_authors_line(here, trimbench):
    trimbench("operators", "new", "softlight")
    glsl = here / "softlight/softlight.glsl"
    glsl.write_text(glsl.read_text().replace("light.r", "lihgt.r"))
    outcome = trimbench("operators", "check", "softlight", "--pixels", "1000")
    assert outcome.status == 1
    line = next(line for line in outcome.out.splitlines() if "FAIL" in line)
    assert "softlight.glsl:7" in line
    assert "lihgt" in line


def test_a_refused_operator_fails_the_check(here, trimbench):
    trimbench("operators", "new", "softlight")
    (here / "softlight/softlight.glsl").unlink()
    outcome = trimbench("operators", "check", "softlight", "--pixels", "1000")
    assert outcome.status == 1
    assert "softlight" in outcome.err


def test_a_name_that_is_taken_fails_the_check_with_both_places(here, trimbench):
    trimbench("operators", "new", "softlight")
    (here / "mine").mkdir()
    for ending in ("py", "glsl"):
        text = (here / f"softlight/softlight.{ending}").read_text()
        (here / f"mine/knee.{ending}").write_text(text.replace("softlight", "knee").replace("Softlight", "Knee"))
    outcome = trimbench("operators", "check", "mine", "--pixels", "1000")
    assert outcome.status == 1
    assert re.search(
        r"operator 'knee' in mine/knee\.py is refused: the name is already taken by \S+knee\.py", outcome.err
    )


def test_a_refused_operator_of_another_folder_does_not_fail_the_check_and_is_said(here, trimbench):
    trimbench("operators", "new", "softlight")
    trimbench("operators", "new", "other")
    (here / "other/other.glsl").unlink()
    for asked in ("softlight/", "softlight"):
        words = ["--operators", "other", *(["--operators", "softlight"] if asked == "softlight" else [])]
        outcome = trimbench("operators", "check", asked, *words, "--pixels", "1000", "--json")
        assert outcome.status == 0, outcome.out
        assert json.loads(outcome.out)["refused"] == []
        assert "operator 'other' in other/other.py is refused" in outcome.err
    assert trimbench("operators", "check", "other/", "softlight/", "--pixels", "1000").status == 1


SLOW = """

def busy():
    import time

    end = time.thread_time() + 0.7
    while time.thread_time() < end:
        pass
"""


def test_an_operator_that_is_slow_to_read_is_said_on_standard_error(here, trimbench):
    trimbench("operators", "new", "softlight")
    file = here / "softlight/softlight.py"
    file.write_text(file.read_text() + SLOW.replace("0.7", "1.1") + "\n\nbusy()\n")
    outcome = trimbench("operators", "show", "softlight", "--operators", "softlight")
    assert outcome.status == 0
    assert re.fullmatch(
        r"trimbench: operator 'softlight' in softlight/softlight\.py took 1\.\d s to read; import less\n", outcome.err
    )


@pytest.mark.parametrize("verb", ["render", "compare", "lut"])
def test_an_operator_that_is_slow_at_work_is_said_once(verb, here, trimbench, master):
    """More than half a second of processor time a call; it is called for the anchors, and for every band of rows."""
    trimbench("operators", "new", "softlight")
    file = here / "softlight/softlight.py"
    text = file.read_text()
    line = 1 + text[: text.index("    def apply(")].count("\n")
    file.write_text(text.replace("        level = np.max", "        busy()\n        level = np.max") + SLOW)
    ending = {"render": "tif", "compare": "png", "lut": "cube"}[verb]
    words = ["--tone", "softlight", "--gamut", "gamut_clip", "--operators", "softlight", "--engine", "reference"]
    more = ["--size", "17"] if verb == "lut" else []
    outcome = trimbench(verb, master, "-o", f"out.{ending}", *words, *more)
    assert outcome.status == 0
    said = (
        r"trimbench: operator 'softlight': apply takes 0\.[78] s of Python for \d+ pixels \(softlight/softlight\.py:"
        rf"{line}\); compute with whole arrays\n"
    )
    assert re.fullmatch(said, outcome.err), outcome.err


def test_an_operator_that_is_slow_to_derive_is_said_too(here, trimbench, master):
    trimbench("operators", "new", "softlight")
    file = here / "softlight/softlight.py"
    file.write_text(file.read_text().replace("        return {", "        busy()\n        return {") + SLOW)
    words = ["--tone", "softlight", "--operators", "softlight", "--engine", "reference"]
    outcome = trimbench("render", master, "-o", "out.tif", *words)
    assert outcome.status == 0
    assert re.fullmatch(
        r"trimbench: operator 'softlight': derive takes 0\.[78] s of Python \(.*softlight\.py:\d+\); compute with "
        r"whole arrays\n",
        outcome.err,
    ), outcome.err


def test_the_curve_is_drawn_rising_from_black_to_the_peak(trimbench):
    page = trimbench("operators", "show", "knee").out
    drawn = [line for line in page.splitlines() if "\u2502" in line]
    assert len(drawn) == 15
    first = [line.index("\u2022") for line in drawn if "\u2022" in line]
    assert first == sorted(first, reverse=True)
    assert drawn[0].startswith("  100% \u2502")


def test_show_says_all_that_is_declared(here, trimbench):
    trimbench("operators", "new", "softlight")
    file = here / "softlight/softlight.py"
    switch = 'Switch(name="soft", default=True, help="Softly."),'
    text = file.read_text().replace("parameters = (", f'needs = ("median_nits",)\n    parameters = ({switch}')
    file.write_text(text.replace("import Operator,", "import Operator, Switch,"))
    words = ["operators", "show", "softlight", "--operators", "softlight"]
    page = trimbench(*words).out
    assert "  tone.soft   on | off, default on\n      Softly.\n  tone.slope   0.25..4, log, default 1\n" in page
    assert "\nNeeds median_nits of the frame or the shot, measured before the work.\n" in page
    shown = json.loads(trimbench(*words, "--json").out)
    assert (shown["interface_version"], shown["needs"]) == (1, ["median_nits"])
    slope = shown["parameters"][1]
    assert {role: slope[role] for role in ("default", "minimum", "maximum", "scale", "neutral", "unit")} == {
        "default": 1.0, "minimum": 0.25, "maximum": 4.0, "scale": "log", "neutral": None, "unit": "",
    }  # fmt: skip


def test_without_a_name_the_check_is_of_every_operator(trimbench, monkeypatch):
    """Which ones, and what the exit status follows from; what passes is measured in tests/parity/test_operators.py."""
    asked: list[str] = []

    def sanity(operator, host):
        asked.append(operator.name)
        return [Verdict("runs", "no luck", 1.0, passes=operator.name != "knee")]

    monkeypatch.setattr(operator_check, "check_sanity", sanity)
    monkeypatch.setattr(operator_check, "check_parity", lambda *_: [])
    monkeypatch.setattr(operator_check, "check_speed", lambda *_: [])
    outcome = trimbench("operators", "check", "--pixels", "1000")
    assert asked == list(find_operators().operators)
    assert (outcome.status, outcome.out.count("  FAIL  ")) == (1, 1)
