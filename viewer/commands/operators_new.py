"""trimbench operators new: a folder with an operator that already works, to be changed."""

import argparse
import re
from importlib.resources import files
from pathlib import Path

from tonemap.declaration import check_name
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.glsl_words import FUNCTIONS
from tonemap.host import find_operators


def run(parsed: argparse.Namespace) -> int:
    """Write the folder and say what to do with it."""
    folder = write_operator(parsed.operator, parsed.kind, parsed.output or Path(parsed.operator))
    print(f"{folder}: the operator '{parsed.operator}', its GLSL twin, a test and a README")
    print(f"next: trimbench operators check {folder}, or trimbench view MASTER --operators {folder}")
    return 0


def write_operator(name: str, kind: str, folder: Path) -> Path:
    """Write a folder with an operator of the kind under that name.

    Raises
    ------
    WrongCall
        When GLSL does not take the name, or an operator has it already.
    TrimbenchError
        When the folder exists, or can't be written.
    """
    try:
        check_name(name)
    except TrimbenchError as fault:
        raise WrongCall(str(fault)) from None
    if name in FUNCTIONS:  # an operator may hide one, where its file does not call it
        raise WrongCall(f"'{name}' is a function of GLSL's own; choose another name")
    if name in find_operators().names:
        raise WrongCall(f"operator '{name}' exists already; choose another name")
    template = files("viewer.commands").joinpath("operator_template")
    texts = {
        f"{name}.py": template.joinpath(f"template_{kind}.py").read_text(encoding="utf-8"),
        f"{name}.glsl": template.joinpath(f"template_{kind}.glsl").read_text(encoding="utf-8"),
        f"tests/test_{name}.py": template.joinpath(f"test_template_{kind}.py").read_text(encoding="utf-8"),
        "README.md": template.joinpath("README.md").read_text(encoding="utf-8"),
    }
    try:
        folder.mkdir(parents=True)
        (folder / "tests").mkdir()
        for file, text in texts.items():
            (folder / file).write_text(_renamed(text, name, kind), encoding="utf-8")
    except FileExistsError:
        raise TrimbenchError(f"{folder} exists already; nothing is written; give another folder with -o") from None
    except OSError as fault:
        raise TrimbenchError(f"{folder}: {fault.strerror or fault}; give another folder with -o") from None
    return folder


def _renamed(text: str, name: str, kind: str) -> str:
    class_name = "".join(word.capitalize() for word in name.split("_"))
    title = name.replace("_", " ").capitalize()
    for old, new in (
        ("template_kind", kind),
        (f"TemplateKind|Template{kind.capitalize()}", class_name),
        (f"Template {kind}", title),
        (f"template_{kind}", name),
        ("template_name", name),
    ):
        text = re.sub(rf"\b(?:{old})\b|(?<=test_){old}\b", new, text)
    return text
