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
}


def write_broken(folder: Path, kind: str) -> str:
    """Write the pair 'bad' with one fault, and return the pattern of its sentence."""
    (old, new), sentence = FAULTS[kind]
    assert (old in PYTHON) != (old in GLSL)
    python, glsl = folder / "bad.py", folder / "bad.glsl"
    python.write_text(PYTHON.replace(old, new))
    glsl.write_text(GLSL.replace(old, new))
    return sentence.replace("{py}", str(python)).replace("{glsl}", str(glsl))


def write_clash(folder: Path) -> str:
    """Write a pair whose name is taken, and return the whole sentence, but for where the name was taken first."""
    (folder / "knee.py").write_text(PYTHON.replace('"bad"', '"knee"'))
    (folder / "knee.glsl").write_text(GLSL.replace("vec3 bad(", "vec3 knee("))
    return f"operator 'knee' in {folder / 'knee.py'} is refused: the name is already taken by "
