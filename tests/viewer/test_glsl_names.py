"""Names of operators in a program: what each defines is its own, and an error speaks of what its author wrote."""

import re

import pytest

from tonemap.encoding import Encoding
from tonemap.errors import TrimbenchError
from tonemap.host import find_operators
from tonemap.rendition import Rendition, chain_of
from viewer.compose import FRAGMENT_VERSION, OperatorText, compose, rendition_program
from viewer.engine import fullscreen_vertex
from viewer.gl.program import Program, translate_log
from viewer.glsl_names import column_before, defined_names, with_names

TEXT = """#include "lib/levels.glsl"
#define SQR(x) ((x) * \\
    (x))
const float A = 1.0e-9, B = max(2.0, A);
struct Curve {
    float helper;
    float a[3], B;
};
float helper(float x, Curve c) { float A1 = A; return c.helper + SQR(x) + A; } // helper
vec3 mine(vec3 light) { return light * helper(A, Curve(1.0, float[](1., 2., 3.), B)); }
"""


def test_definitions_at_file_scope_are_found():
    assert defined_names(TEXT) == {"SQR", "A", "B", "Curve", "helper", "mine"}


def test_names_change_where_they_stand_for_what_the_file_defines():
    lines = with_names(TEXT, defined_names(TEXT), "Tone_").lines
    assert lines[1:] == (
        "#define Tone_SQR(x) ((x) * \\",
        "    (x))",
        "const float Tone_A = 1.0e-9, Tone_B = max(2.0, Tone_A);",
        "struct Tone_Curve {",
        "    float helper;",
        "    float a[3], B;",
        "};",
        "float Tone_helper(float x, Tone_Curve c) { float A1 = Tone_A; return c.helper + Tone_SQR(x) + Tone_A; } "
        "// helper",
        "vec3 Tone_mine(vec3 light) { return light * Tone_helper(Tone_A, Tone_Curve(1.0, float[](1., 2., 3.), "
        "Tone_B)); }",
    )


@pytest.mark.parametrize("word", ["helper", "A1", "SQR", "return", "c.helper", "x"])
def test_columns_are_those_of_the_author(word):
    renamed = with_names(TEXT, defined_names(TEXT), "Tone_")
    new, old = renamed.lines[8], TEXT.splitlines()[8]
    assert column_before(renamed.edits[8], new.index(word) + 1) == old.index(word) + 1


MESA, NVIDIA, OTHERS = "Mesa", "NVIDIA", "Apple and others"
MESSAGES = [
    (MESA, "0:3(32): error: `Tone_gian' undeclared", ":2:27: error: `gian' undeclared"),
    (MESA, "0:2(7): error: `Tone_gian' redeclared", ":1:7: error: `gian' redeclared"),
    (
        MESA,
        "0:3(32): error: no matching function for call to `Tone_mine(vec3)'; candidates are:\n0:3(32): error:    float",
        ":2:27: error: no matching function for call to `mine(vec3)'",
    ),
    (
        MESA,
        "0:3(44): error: syntax error, unexpected '}', expecting ';'",
        ":2:34: error: syntax error, unexpected '}', expecting ';'",
    ),
    (MESA, "0:3(1): preprocessor error: #error Tone_gian", ":2:1: preprocessor error: #error gian"),
    (
        MESA,
        "0:2(7): warning: `Tone_gian' used uninitialized\n0:3(32): error: type mismatch\n0:3(40): error: later",
        ":2:27: error: type mismatch",
    ),
    (NVIDIA, '0(3) : error C1503: undefined variable "Tone_gian"', ':2: error C1503: undefined variable "gian"'),
    (
        NVIDIA,
        '0(2) : error C1031: swizzle mask element not present in operand "x"',
        ':1: error C1031: swizzle mask element not present in operand "x"',
    ),
    (
        NVIDIA,
        '0(3) : warning C7050: "Tone_gian" might be used before being initialized\n'
        '0(3) : error C1115: unable to find compatible overloaded function "Tone_mine(vec3)"\n'
        "0(3) : error C0000: end",
        ':2: error C1115: unable to find compatible overloaded function "mine(vec3)"',
    ),
    (NVIDIA, "Fragment info\n-------------\n0(3) : fatal error C9999: end", ":2: fatal error C9999: end"),
    (OTHERS, "ERROR: 0:3: 'Tone_gian' : undeclared identifier", ":2: 'gian' : undeclared identifier"),
    (OTHERS, "ERROR: 0:3:32: 'Tone_gian' : undeclared identifier", ":2:27: 'gian' : undeclared identifier"),
    (OTHERS, "ERROR: 0:3: Use of undeclared identifier 'Tone_gian'", ":2: Use of undeclared identifier 'gian'"),
    (
        OTHERS,
        "WARNING: 0:2: 'Tone_gian' : unused\nERROR: 0:3: 'return' : syntax error\nERROR: 2 compilation errors.",
        ":2: 'return' : syntax error",
    ),
    (OTHERS, "ERROR: 0:3: Invalid call of 'Tone_mine'", ":2: Invalid call of 'mine'"),
]


@pytest.mark.parametrize(("driver", "log", "words"), MESSAGES)
def test_a_message_of_any_driver_is_in_the_authors_words(tmp_path, driver, log, words):
    """Messages written from memory in the form of each driver; those of Mesa are also met for real, below."""
    file = tmp_path / "mine.glsl"
    file.write_text("const float gian = 1.0;\nfloat mine(float x) { return gian * x; }\n")
    text = OperatorText(file, "Tone_", "mine", "float mine(float x)")
    composed = compose("main", {"main": '#include "operator"'}, "410 core", {"operator": text})
    assert composed.text.splitlines()[2] == "float Tone_mine(float x) { return Tone_gian * x; }"
    assert translate_log(log, composed) == f"{file}{words}", driver


PYTHON = """
from tonemap.operator import Operator

class {title}(Operator):
    interface_version = 1
    name = title = "{name}"
    kind = "{kind}"
    source = "a test"

    def apply(self, light, p):
        return light * 0.5
"""
HELPERS = """
#include "lib/levels.glsl"
#define LIMIT {number}
const float SCALE = {number};
struct Curve {{ float scale; }};
float helper(Curve curve) {{ return curve.scale * LIMIT * SCALE; }}
"""


def pair(folder, name, kind, call):
    """Write an operator that defines a macro, a constant, a struct and a function of the same names as its like."""
    volume = ", Volume volume" if kind == "gamut" else ""
    (folder / f"{name}.py").write_text(PYTHON.format(name=name, title=name.title(), kind=kind))
    (folder / f"{name}.glsl").write_text(
        HELPERS.format(number="0.5" if kind == "tone" else "2.0")
        + f"vec3 {name}(vec3 light, Levels levels{volume}) {{ {call} }}\n"
    )


@pytest.fixture
def context():
    from viewer.gl.context import OffscreenContext

    context = OffscreenContext()
    yield context
    context.close()


def program(folder, tone, gamut):
    chain = chain_of(Rendition("x", tone, gamut), Encoding("linear"), find_operators([folder]))
    return Program(
        vertex=fullscreen_vertex(), fragment=rendition_program(chain, "main/rendition.frag", FRAGMENT_VERSION)
    )


def test_two_operators_with_the_same_helpers_go_together(tmp_path, context):
    pair(tmp_path, "luminance", "tone", "return light * helper(Curve(1.0));")  # named as a function of the library
    pair(tmp_path, "mix", "gamut", "return light * helper(Curve(1.0));")  # and as one of the language
    program(tmp_path, "luminance", "mix").delete()


def test_an_operator_named_as_a_function_of_the_language_can_not_call_it(tmp_path, context):
    pair(tmp_path, "mix", "tone", "return mix(light, vec3(1.0), 0.5);")
    with pytest.raises(TrimbenchError) as fault:
        program(tmp_path, "mix", "gamut_clip")
    column = (tmp_path / "mix.glsl").read_text().splitlines()[6].index("mix(light, vec3") + 1
    assert str(fault.value) == (
        f"{tmp_path}/mix.glsl:7:{column}: 'mix' is GLSL's own function, and this operator's name; give it another name"
    )


@pytest.mark.parametrize("before", ["", "\n\t\t", "\n        /* a note */  "])
def test_an_error_on_this_driver_has_the_authors_line_and_column(tmp_path, context, before):
    """Also where blanks and comments stand before it, which Mesa counts as one column."""
    pair(tmp_path, "torn", "tone", f"{before}return light *   helper(Curve(1.0)) * gian;")
    with pytest.raises(TrimbenchError) as fault:
        program(tmp_path, "torn", "gamut_clip")
    line = 7 + before.count("\n")
    column = (tmp_path / "torn.glsl").read_text().splitlines()[line - 1].index("gian") + 1
    assert str(fault.value) == f"{tmp_path}/torn.glsl:{line}:{column}: error: `gian' undeclared"


@pytest.mark.parametrize(
    ("call", "at", "words"),
    [
        ("return light * helper(Curve(1.0), 2.0);", "helper", "no matching function for call to `helper("),
        ("return light * SCALE.x;", "", "cannot access field `x'"),
        ("vec3 own = light return own;", "return", "syntax error"),
        ("return light;\n#error gian is not there", "", "preprocessor error: #error gian is not there"),
    ],
)
def test_real_messages_of_this_driver_have_the_authors_line_and_names(tmp_path, context, call, at, words):
    pair(tmp_path, "torn", "tone", call)
    with pytest.raises(TrimbenchError) as fault:
        program(tmp_path, "torn", "gamut_clip")
    rows = (tmp_path / "torn.glsl").read_text().splitlines()
    line = 7 + call.count("\n")
    column = str(rows[line - 1].index(at) + 1) if at else r"\d+"
    assert re.match(rf"{tmp_path}/torn\.glsl:{line}:{column}: ", str(fault.value)), str(fault.value)
    assert words in str(fault.value)
    assert "Tone_" not in str(fault.value)


def test_another_signature_than_the_hosts_is_said_with_the_one_that_is_called(tmp_path, context):
    pair(tmp_path, "torn", "tone", "return light;")
    file = tmp_path / "torn.glsl"
    file.write_text(file.read_text().replace("Levels levels", "float gain"))
    with pytest.raises(TrimbenchError) as fault:
        program(tmp_path, "torn", "gamut_clip")
    assert str(fault.value).startswith(f"{file}:7: error: ")
    assert str(fault.value).endswith("; the host calls vec3 torn(vec3 light, Levels levels)")


def test_a_file_without_the_function_is_said(tmp_path, context):
    pair(tmp_path, "torn", "tone", "return light;")
    file = tmp_path / "torn.glsl"
    file.write_text(file.read_text().replace("vec3 torn(", "vec3 other("))
    with pytest.raises(TrimbenchError) as fault:
        program(tmp_path, "torn", "gamut_clip")
    assert str(fault.value) == (f"{file}: there is no function 'vec3 torn(vec3 light, Levels levels)'; write it")
