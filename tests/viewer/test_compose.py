"""Composition of shader text, and what becomes of a compiler's messages; no GL is needed."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from tonemap.encoding import Encoding, sdr_target
from tonemap.errors import TrimbenchError
from tonemap.host import Host, find_operators
from tonemap.operator import TONE, Choice, Parameter
from tonemap.parity import trial_chains
from tonemap.rendition import Rendition, chain_of
from tonemap.settings import with_setting
from viewer.compose import (
    COMPUTE_VERSION,
    FRAGMENT_VERSION,
    RESULTS,
    Composed,
    OperatorText,
    Variant,
    compose,
    rendition_program,
    uniform_name,
)
from viewer.gl.program import translate_log

HOST = find_operators()
FRAGMENT = ("main/rendition.frag", FRAGMENT_VERSION)
COMPUTE = ("main/rendition.comp", COMPUTE_VERSION)
MASTER = Encoding("linear")


def text_of(
    rendition: Rendition, main: tuple[str, str] = FRAGMENT, master: Encoding = MASTER, host: Host = HOST
) -> str:
    return rendition_program(chain_of(rendition, master, host), *main).text


def mine(folder: Path) -> OperatorText:
    return OperatorText(folder / "mine.glsl", "Tone_", "mine", "float mine()")


def lines_with(text: str, pattern: str) -> list[str]:
    return [line for line in text.splitlines() if re.search(pattern, line)]


# Includes.


def test_an_include_is_taken_once_where_it_is_first_asked_for():
    generated = {
        "main": '#include "one"\n#include "two"\n#include "one"\nvoid main() {}',
        "one": '#include "two"\nfloat one;',
        "two": "float two;",
    }
    composed = compose("main", generated, "410 core")
    assert composed.text == "#version 410 core\nfloat two;\nfloat one;\nvoid main() {}\n"


def test_an_include_in_a_ring_ends():
    composed = compose("a", {"a": '#include "b"\nint a;', "b": '#include "a"\nint b;'}, "410 core")
    assert composed.text == "#version 410 core\nint b;\nint a;\n"


def test_a_file_outside_the_library_is_included_by_its_name(tmp_path):
    (tmp_path / "mine.glsl").write_text("float mine() { return 1.0; }\n")
    composed = compose(
        "main",
        {"main": '#include "operator/mine.glsl"\nfloat x;'},
        "430 core",
        {"operator/mine.glsl": mine(tmp_path)},
    )
    assert composed.text == "#version 430 core\nfloat Tone_mine() { return 1.0; }\nfloat x;\n"
    assert composed.origin(2) == (str(tmp_path / "mine.glsl"), 1)


def test_a_missing_include_is_said_with_the_line_that_asks_for_it():
    with pytest.raises(TrimbenchError) as fault:
        compose("main", {"main": 'float x;\n\n#include "lib/nothing.glsl"'}, "410 core")
    assert str(fault.value) == "main:3: the included file 'lib/nothing.glsl' is not there; correct the #include"


def test_a_missing_include_of_an_operators_file_names_that_file(tmp_path):
    (tmp_path / "mine.glsl").write_text('// Mine.\n#include "lib/levles.glsl"\nfloat mine() {}\n')
    with pytest.raises(TrimbenchError) as fault:
        compose("main", {"main": '#include "mine"'}, "410 core", {"mine": mine(tmp_path)})
    assert str(fault.value) == (
        f"{tmp_path / 'mine.glsl'}:2: the included file 'lib/levles.glsl' is not there; correct the #include"
    )


@pytest.mark.parametrize("line", ["#include <lib/levels.glsl>", "#include lib/levels.glsl", "#include"])
def test_an_include_without_its_quotes_is_said_with_its_line(line):
    with pytest.raises(TrimbenchError) as fault:
        compose("main", {"main": f"float x;\n{line}"}, "410 core")
    assert str(fault.value).startswith("main:2: ")


def test_a_file_that_is_no_text_is_said(tmp_path):
    (tmp_path / "mine.glsl").write_bytes(b"// \xff\xfe\n")
    with pytest.raises(TrimbenchError) as fault:
        compose("main", {"main": '#include "mine"'}, "410 core", {"mine": mine(tmp_path)})
    assert str(fault.value) == f"{tmp_path / 'mine.glsl'}: this is not UTF-8 text; save it as UTF-8"


def test_a_file_that_is_gone_or_locked_is_said(tmp_path):
    """A folder of that name stands for a file without rights, which a superuser could read."""
    with pytest.raises(TrimbenchError) as fault:
        compose("main", {"main": '#include "mine"'}, "410 core", {"mine": mine(tmp_path)})
    assert str(fault.value).endswith("mine.glsl: can't be read: No such file or directory; put it back")
    (tmp_path / "mine.glsl").mkdir()
    with pytest.raises(TrimbenchError) as fault:
        compose("main", {"main": '#include "mine"'}, "410 core", {"mine": mine(tmp_path)})
    assert str(fault.value).endswith("mine.glsl: can't be read: Is a directory; let it be read")


def test_origins_follow_every_line_through_the_includes():
    generated = {"main": 'a\n#include "one"\nb\n', "one": "c\n\nd"}
    composed = compose("main", generated, "410 core")
    assert composed.text.splitlines() == ["#version 410 core", "a", "c", "", "d", "b"]
    expected = (("generated", 1), ("main", 1), ("one", 1), ("one", 2), ("one", 3), ("main", 3))
    assert composed.origins == expected
    assert [composed.origin(line) for line in range(1, 7)] == list(expected)
    assert composed.origin(0) == ("generated", 1)
    assert composed.origin(99) == ("main", 3)


@pytest.mark.parametrize("name", HOST.operators)
def test_origins_of_a_rendition_are_the_authors_own_lines(name):
    """Every line of the operator's file stands in the program, and its origin is that file and that line."""
    installed = HOST.installed(name)
    chain = next(chain for _, chain in trial_chains(installed.operator, HOST))
    composed = rendition_program(chain, *FRAGMENT)
    texts = composed.text.splitlines()
    assert len(texts) == len(composed.origins)
    written = installed.glsl_file.read_text().splitlines()
    found = {
        line: text
        for text, (file, line) in zip(texts, composed.origins, strict=True)
        if file == str(installed.glsl_file) and not re.match(r"vec3 (tone|gamut)\(", text)
    }
    prefix = f"{installed.operator.kind.capitalize()}_"
    bare = {number: re.sub(rf"\b{prefix}", "", text) for number, text in found.items()}
    assert bare == {number: line for number, line in enumerate(written, start=1) if not line.startswith("#include")}
    for text, (file, line) in zip(texts[1:], composed.origins[1:], strict=True):
        if file.startswith("shaders/"):
            path = Path(HOST.installed("bt2390").glsl_file).parent.parent / file.removeprefix("shaders/")
            assert path.read_text().splitlines()[line - 1] == text


# The generated part.


def test_numbers_and_derived_values_are_uniforms_and_choices_are_text():
    text = text_of(Rendition("trial", "knee", "gamut_hue", {"application": "luminance"}))
    assert lines_with(text, r"^uniform float (tone|gamut)_") == [
        "uniform float tone_start;",
        "uniform float tone_softness;",
        "uniform float tone_reach;",
        "uniform float tone_landing;",
        "uniform float tone_desaturation;",
        "uniform float tone_point;",
        "uniform float tone_half_width;",
        "uniform float tone_slope;",
        "uniform float tone_top;",
        "uniform float gamut_threshold;",
        "uniform float gamut_reach;",
    ]
    assert lines_with(text, r"^vec3 (tone|gamut)\(") == [
        "vec3 tone(vec3 light) { return Tone_knee(light, levels, tone_start, tone_softness, tone_reach, tone_landing, "
        "2, tone_desaturation, tone_point, tone_half_width, tone_slope, tone_top); }",
        "vec3 gamut(vec3 light) { return Gamut_gamut_hue(light, levels, volume, gamut_threshold, gamut_reach); }",
    ]


def test_a_switch_is_a_bool_in_the_text():
    call = r"^vec3 tone\("
    off = text_of(Rendition("trial", "bt2390"))
    on = text_of(Rendition("trial", "bt2390", tone_settings={"adjust_knee": True}))
    assert "Tone_bt2390(light, levels, 1, false, tone_knee_offset," in lines_with(off, call)[0]
    assert "Tone_bt2390(light, levels, 1, true, tone_knee_offset," in lines_with(on, call)[0]


@pytest.mark.parametrize("name", HOST.operators)
def test_options_have_numbers_only_around_their_operator(name):
    """So that two operators with a choice of the same name don't meet."""
    operator = HOST.get(name)
    chain = next(chain for _, chain in trial_chains(operator, HOST))
    text = rendition_program(chain, *FRAGMENT).text
    lines = text.splitlines()
    own = next(number for number, line in enumerate(lines) if re.match(rf"vec3 (Tone|Gamut)_{name}\(", line))
    for parameter in (item for item in operator.parameters if isinstance(item, Choice)):
        for number, option in enumerate(parameter.options):
            define = f"{parameter.name}_{option}".upper()
            assert lines.index(f"#define {define} {number}") < own < lines.index(f"#undef {define}")
    assert len(lines_with(text, "^#define [A-Z_]+_")) >= len(lines_with(text, "^#undef"))


def test_a_program_says_what_the_master_and_the_result_are():
    rendition = Rendition("trial", "knee")
    assert "#define SOURCE_CODES 0\n#define RESULT_FORM 0\n" in text_of(rendition)
    coded = Encoding("pq", "bt2020", "narrow", 10)
    assert "#define SOURCE_CODES 1\n" in text_of(rendition, master=coded)
    chain = chain_of(rendition, coded, HOST)
    for number, result in enumerate(RESULTS):
        assert f"#define RESULT_FORM {number}\n" in rendition_program(chain, *FRAGMENT, Variant(result)).text
    assert "const int SOURCE_TRANSFER = 0;\n" in text_of(rendition, master=coded)
    assert "const int TARGET_TRANSFER = 2;\n" in text_of(rendition)


@pytest.mark.parametrize(("main", "version"), [FRAGMENT, COMPUTE])
def test_the_version_is_the_first_line(main, version):
    text = text_of(Rendition("trial", "knee"), (main, version))
    assert text.splitlines()[0] == f"#version {version}"
    assert text.count("#version") == 1
    assert "#include" not in text


@pytest.mark.parametrize("main", [FRAGMENT, COMPUTE], ids=lambda main: main[0])
@pytest.mark.parametrize("name", HOST.operators)
def test_moving_a_slider_leaves_the_text_and_a_choice_changes_it(name, main):
    operator = HOST.get(name)
    stage = operator.kind
    base = Rendition("trial", name) if stage == TONE else Rendition("trial", "knee", name)
    text = text_of(base, main)
    for parameter in operator.parameters:
        path = f"{stage}.{parameter.name}"
        if isinstance(parameter, Parameter):
            for value in (parameter.minimum, parameter.maximum):
                assert text_of(with_setting(base, path, value, HOST), main) == text
            assert f"uniform float {uniform_name(stage, parameter.name)};" in text
        elif isinstance(parameter, Choice):
            texts = {text_of(with_setting(base, path, option, HOST), main) for option in parameter.options}
            assert len(texts) == len(parameter.options)
            assert text in texts
        else:
            assert text_of(with_setting(base, path, not parameter.default, HOST), main) != text


def test_levels_adjustments_and_output_leave_the_text():
    base = Rendition("trial", "knee")
    text = text_of(base)
    for path, value in (
        ("input.exposure", 1.0),
        ("input.saturation", 0.5),
        ("output.slope", "1.1,1,0.9"),
        ("output.saturation", 1.2),
        ("target.peak", 203.0),
        ("target.black", 0.05),
        ("target.primaries", "p3-d65"),
        ("target.bits", 8),
    ):
        assert text_of(with_setting(base, path, value, HOST)) == text, path
    assert text_of(base, master=replace(MASTER, peak=4000.0, black=0.005)) == text
    assert text_of(replace(base, target=replace(sdr_target(), transfer="srgb"))) != text
    assert text_of(base, master=Encoding("pq")) != text


def test_every_number_survives_as_a_uniform_not_as_digits():
    """A value formatted into the text would lose digits: none of a rendition's numbers stands there."""
    rendition = Rendition("trial", "knee", tone_settings={"start": 87.3125, "softness": 0.40625})
    text = text_of(rendition)
    assert "87.3125" not in text
    assert "0.40625" not in text


# What compilers say.


@pytest.fixture(scope="module")
def composed() -> Composed:
    return compose("main", {"main": 'a\n#include "mine.glsl"\nb', "mine.glsl": "c\nd\ne"}, "410 core")


@pytest.mark.parametrize(
    ("log", "expected"),
    [
        # The form of Mesa: source:line(column): error: words
        ("0:4(17): error: `gian' undeclared\n", "mine.glsl:2:17: error: `gian' undeclared"),
        ("0:3(1): warning: `x' is unused\n0:5(2): error: syntax error\n", "mine.glsl:3:2: error: syntax error"),
        ("1:6(3): error: no such function\n0:2(1): error: later\n", "main:3:3: error: no such function"),
        # The form of NVIDIA: source(line) : error code: words
        ('0(4) : error C1503: undefined variable "gian"\n', 'mine.glsl:2: error C1503: undefined variable "gian"'),
        ("0(3) : warning C7050: x may be used\n0(6) : error C0000: end\n", "main:3: error C0000: end"),
        # The form of other drivers: ERROR: source:line: words
        ("ERROR: 0:4: 'gian' : undeclared identifier\n", "mine.glsl:2: 'gian' : undeclared identifier"),
        ("  ERROR: 0:2: 'a' : syntax error\r\nERROR: 1 compilation errors.\r\n", "main:1: 'a' : syntax error"),
        ("WARNING: 0:2: 'a' : odd\nERROR: 0:5: 'e' : bad\n", "mine.glsl:3: 'e' : bad"),
        # A form that is not known is shown as it is.
        ("something went wrong on line 4\n", "something went wrong on line 4"),
        ("", ""),
    ],
)
def test_a_compilers_message_names_the_authors_file_and_line(composed, log, expected):
    assert translate_log(log, composed) == expected


@pytest.mark.parametrize("line", [0, 99])
def test_a_line_that_is_not_there_is_read_as_the_nearest(composed, line):
    place = {0: "generated:1", 99: "main:3"}[line]
    assert translate_log(f"0:{line}(1): error: here", composed) == f"{place}:1: error: here"
