"""A broken operator for every kind of fault, and the sentence that the user sees; commands and the bench share them."""

from pathlib import Path

PYTHON = """
from tonemap.operator import Operator, Parameter


class Bad(Operator):
    interface_version = 1
    name = "bad"
    title = "Bad"
    kind = "tone"
    source = "a test"
    parameters = (Parameter(name="share", unit="", default=0.5, minimum=0.1, maximum=1.0, help="Of the light."),)

    def apply(self, light, p):
        return light * p.share
"""
GLSL = """#include "lib/levels.glsl"

vec3 bad(vec3 light, Levels levels, float share)
{
    return light * share;
}
"""
FAULTS = {
    "import": (
        ("from tonemap", "import no_such_module\nfrom tonemap"),
        r"operator 'bad' in {py} is refused: ModuleNotFoundError: No module named 'no_such_module' \({py}:2\)",
    ),
    "syntax": (
        ("light * p.share", "light * p.share)"),
        r"operator 'bad' in {py} is refused: SyntaxError: unmatched '\)' \({py}:14:31\)",
    ),
    "declaration": (
        ("minimum=0.1", "minimum=1.0"),
        r"operator 'bad' in {py} is refused: parameter 'share' has no range",
    ),
    "title of two lines": (
        ('title = "Bad"', 'title = "Bad\\nworse"'),
        r"operator 'bad' in {py} is refused: its title is not one line of 1 to 500 letters",
    ),
    "range beyond numbers": (
        ("maximum=1.0", "maximum=1e300"),
        r"operator 'bad' in {py} is refused: parameter 'share' goes beyond 1e\+30; measure it in another unit",
    ),
    "no function": (
        ("    def apply(self, light, p):\n        return light * p.share", "    apply = 5"),
        r"operator 'bad' in {py} is refused: its apply is no function of the class; write it with def",
    ),
    "interface version": (
        ("interface_version = 1", "interface_version = 9"),
        r"operator 'bad' in {py} is refused: it was made for operator interface 9, and this program has 1; update the "
        r"operator or the program",
    ),
    "exception": (
        ("return light * p.share", "return light * p.portion"),
        r"operator 'bad': apply fails with AttributeError: no parameter, need, derived value or table 'portion' is "
        r"declared \({py}:14\)",
    ),
    "NaN": (
        ("return light * p.share", "return light * float('nan')"),
        r"operator 'bad': apply makes \(nan, nan, nan\) of the light \(\S+, \S+, \S+\) cd/m2; correct apply "
        r"\({py}:13\)",
    ),
    "infinity": (
        ("return light * p.share", "return light + float('inf')"),
        r"operator 'bad': apply makes \(inf, inf, inf\) of the light \(\S+, \S+, \S+\) cd/m2; correct apply "
        r"\({py}:13\)",
    ),
    "compile": (
        ("return light * share", "return lihgt * share"),
        r"{glsl}:5:12: error: `lihgt' undeclared",
    ),
    "exit at import": (
        ("from tonemap", "raise SystemExit(3)\nfrom tonemap"),
        r"operator 'bad' in {py} is refused: SystemExit: 3 \({py}:2\)",
    ),
    "a stop of its own": (
        ("from tonemap", "class Stop(KeyboardInterrupt): pass\nraise Stop('me')\nfrom tonemap"),
        r"operator 'bad' in {py} is refused: Stop: me \({py}:3\)",
    ),
    "no exception by name": (
        ("return light * p.share", "raise BaseException('odd')"),
        r"operator 'bad': apply fails with BaseException: odd \({py}:14\)",
    ),
    "words of many lines": (
        ("return light * p.share", "raise ValueError('one\\ntwo ' * 100)"),
        r"operator 'bad': apply fails with ValueError: (one two ){37}one \.\.\. \({py}:14\)",
    ),
    "words that fail": (
        ("from tonemap", "class Mute(Exception): __str__ = None\nraise Mute\nfrom tonemap"),
        r"operator 'bad' in {py} is refused: Mute: it has no words \({py}:3\)",
    ),
    "shape": (
        ("return light * p.share", "return light[..., 0]"),
        r"operator 'bad': apply returns the shape \(\d+,(?: \d+)?\) for light of the shape \(\d+,(?: \d+,)? 3\); "
        r"correct apply \({py}:13\)",
    ),
    "dtype": (
        ("return light * p.share", "return (light * p.share).astype('float32')"),
        r"operator 'bad': apply returns float32 for light of float64; correct apply \({py}:13\)",
    ),
    "signature": (
        ("def apply(self, light, p)", "def apply(self, light)"),
        r"operator 'bad': apply fails with TypeError: Bad.apply\(\) takes 2 positional arguments but 3 were given "
        r"\({py}:13\)",
    ),
    "light changed": (
        ("return light * p.share", "light *= p.share; return light"),
        r"operator 'bad': apply fails with ValueError: output array is read-only \({py}:14\)",
    ),
    "value changed": (
        ("return light * p.share", "p.share = 1.0; return light * p.share"),
        r"operator 'bad': apply fails with AttributeError: 'share' can't be set; what the host gives is to be read "
        r"alone \({py}:14\)",
    ),
    "mask": (
        ("return light * p.share", "import numpy as np; return np.ma.masked_less(light, 1.0)"),
        r"operator 'bad': apply returns MaskedArray instead of an array; correct apply \({py}:13\)",
    ),
    "open comment": (
        ("return light * share;\n}\n", "return light * share;\n}\n/* more\n"),
        r"{glsl}:7:1: this comment is not closed; close it with \*/",
    ),
    "open bracket": (
        ("return light * share;\n}\n", "return light * share;\n"),
        r"{glsl}:4:1: this '{' is not closed; close it with }",
    ),
    "bracket too many": (
        ("return light * share;\n}\n", "return light * share;\n}\n}\n"),
        r"{glsl}:7:1: this '}' closes nothing; take it out",
    ),
    "sign": (
        ("return light * share;", "float größe = share; return light * größe;"),
        r"{glsl}:5:13: 'ö' stands outside a comment; GLSL is written in ASCII",
    ),
    "macro of the host": (
        ("vec3 bad(", "#undef SOURCE_CODES\nvec3 bad("),
        r"{glsl}:3:8: #undef of 'SOURCE_CODES', which this operator does not define; take it out",
    ),
    "head of the program": (
        ('#include "lib', '#version 330\n#include "lib'),
        r"{glsl}:1:1: #version can't be used: the host writes the head of the program; take it out",
    ),
    "result of its own": (
        ("vec3 bad(", "layout(location = 0) out vec4 result;\nvec3 bad("),
        r"{glsl}:3:1: 'layout' can't stand here: an operator gets all that it needs as arguments",
    ),
    "value of the host": (
        ("return light * share;", "return light * share * adjustments.saturation;"),
        r"{glsl}:5:28: error: `adjustments' undeclared",
    ),
    "choice of the host": (
        ("return light * share;", "return light * float(TARGET_TRANSFER);"),
        r"{glsl}:5:26: error: `TARGET_TRANSFER' undeclared",
    ),
    "place of the pixel": (
        ("return light * share;", "return light * gl_FragCoord.x;"),
        r"{glsl}:5:20: 'gl_FragCoord' can't be used: an operator knows the light of one pixel, and no pixel",
    ),
    "last line goes on": (
        ("return light * share;\n}\n", "return light * share;\n}\n#define MORE \\\n"),
        r"{glsl}:7:14: the last line ends with a \\, and no line follows; take it out",
    ),
    "file of others": (
        ('#include "lib/levels.glsl"', '#include "lib/../../tonemap/host.py"'),
        r"{glsl}:1: the included file 'lib/../../tonemap/host.py' is not there; correct the #include",
    ),
    "promise": (
        (
            "vec3 bad(vec3 light, Levels levels, float share)\n{\n    return light",
            "vec3 later(vec3 x);\n\nvec3 bad(vec3 light, Levels levels, float share)\n{\n    return later(light)",
        ),
        r"{glsl}:3: error: unresolved reference to function `later'",
    ),
    "ring": (
        ("return light * share;", "return bad(light, levels, share);"),
        r"{glsl}:3: error: function `vec3 bad\(vec3, Levels, float\)' has static recursion",
    ),
}


HARMLESS = {
    "ends of lines": lambda text: text.replace("\n", "\r\n"),
    "mark of its encoding": lambda text: "\ufeff" + text,
    "tabs": lambda text: text.replace("    ", "\t"),
    "letters in comments": lambda text: text.replace("{\n", "{ // größer\n").replace('"a test"', '"Prüfung"'),
    "variants": lambda text: text.replace(
        "vec3 bad(",
        "float helper(float x)\n{\n#if 0\n    {{{ if (\n#endif\n#ifdef MINE\n    if (x > 0.5) {\n#else\n"
        "    if (x > 0.0) {\n#endif\n        x *= 1.0;\n    }\n    return x;\n}\n\nvec3 bad(",
    ),
    "names of the host": lambda text: text.replace(
        '#include "lib/levels.glsl"',
        '#define SOURCE_CODES 7\n#define main tone\n#define vec4 vec2\n#include "lib/levels.glsl"\nvoid encode() {}\n'
        "const float levels_lib = 1.0;\nstruct lib { float levels; };",
    ),
}
"""What an author may write without harm, in either file."""


def write_harmless(folder: Path, kind: str) -> None:
    """Write the pair 'bad' in an unusual way that is no fault."""
    for ending, text in (("py", PYTHON), ("glsl", GLSL)):
        (folder / f"bad.{ending}").write_bytes(HARMLESS[kind](text).encode())


def write_broken(folder: Path, kind: str) -> str:
    """Write the pair 'bad' with one fault, and return the pattern of its sentence."""
    (old, new), sentence = FAULTS[kind]
    write_changed(folder, old, new)
    python, glsl = folder / "bad.py", folder / "bad.glsl"
    return sentence.replace("{py}", str(python)).replace("{glsl}", str(glsl))


def write_changed(folder: Path, old: str, new: str) -> None:
    """Write the pair 'bad' with one change, which is in one of its files."""
    assert (old in PYTHON) != (old in GLSL)
    (folder / "bad.py").write_text(PYTHON.replace(old, new))
    (folder / "bad.glsl").write_text(GLSL.replace(old, new))


def write_clash(folder: Path) -> str:
    """Write a pair whose name is taken, and return the whole sentence, but for where the name was taken first."""
    (folder / "knee.py").write_text(PYTHON.replace('"bad"', '"knee"'))
    (folder / "knee.glsl").write_text(GLSL.replace("vec3 bad(", "vec3 knee("))
    return f"operator 'knee' in {folder / 'knee.py'} is refused: the name is already taken by "
