"""Files of the ASC Color Decision List: .cc (one correction), .ccc (a collection), .cdl (a decision list)."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from .cdl import Cdl, Triple
from .errors import TrimbenchError, WrongCall, suggestion
from .xml_text import parsed, plain, tag

NAMESPACE = "urn:ASC:CDL:v1.01"
NAMESPACES = (NAMESPACE, "urn:ASC:CDL:v1.2", "")
"""Namespaces of the published versions; files without one are common."""

CC, CCC, CDL = ".cc", ".ccc", ".cdl"
ENDINGS = (CDL, CC, CCC)
ROOTS = {CC: "ColorCorrection", CCC: "ColorCorrectionCollection", CDL: "ColorDecisionList"}


@dataclass(frozen=True)
class Correction:
    """A colour correction with what a file says beside it.

    Attributes
    ----------
    name : the file's id; '' for none
    note : its description
    """

    name: str
    cdl: Cdl
    note: str = ""


def ending_of_cdl(path: Path) -> str:
    """Return the form that the ending of a name asks for; raises WrongCall for another one."""
    if path.suffix.lower() not in ENDINGS:
        raise WrongCall(f"{path}: colour decisions are in files that end in .cdl, .cc or .ccc; change the name")
    return path.suffix.lower()


def cdl_text(ending: str, corrections: Sequence[Correction]) -> str:
    """Write corrections in one of the three forms; numbers are the shortest that give the same float32 again.

    Raises
    ------
    WrongCall
        If a .cc is to hold other than one correction, or two corrections have the same name.
    """
    names = [item.name for item in corrections]
    double = next((name for name in names if names.count(name) > 1), None)
    if double is not None:
        raise WrongCall(f"two colour corrections have the name '{double}'; rename one")
    if ending == CC and len(corrections) != 1:
        raise WrongCall(f"a .cc file holds one colour correction, and there are {len(corrections)}; write a .ccc")
    root, space = ROOTS[ending], f' xmlns="{NAMESPACE}"'
    head = '<?xml version="1.0" encoding="UTF-8"?>\n'
    if ending == CC:
        return head + _element(corrections[0], 0, space)
    if ending == CCC:
        return head + f"<{root}{space}>\n" + "".join(_element(item, 1) for item in corrections) + f"</{root}>\n"
    decisions = (f"  <ColorDecision>\n{_element(item, 2)}  </ColorDecision>\n" for item in corrections)
    return head + f"<{root}{space}>\n" + "".join(decisions) + f"</{root}>\n"


def corrections_in(text: str) -> list[Correction]:
    """Read the corrections of a file of any of the three forms.

    Raises
    ------
    TrimbenchError
        For anything else, and for numbers that ASC CDL doesn't allow: one sentence without the file's name.
    """
    root = parsed(text)
    space, name = tag(root)
    if name not in ROOTS.values() or space not in NAMESPACES:
        raise TrimbenchError("the outermost element is none of " + ", ".join(ROOTS.values()) + " of the ASC CDL")
    if any(tag(element)[1] == "ColorCorrectionRef" for element in root.iter()):
        raise TrimbenchError("it refers to a correction in another file (ColorCorrectionRef); read that file")
    found = [_correction(item) for item in root.iter() if tag(item)[1] == "ColorCorrection"]
    if not found:
        raise TrimbenchError("it holds no colour correction")
    return found


def read_corrections(path: str | Path) -> list[Correction]:
    """Read a .cdl, .cc or .ccc file; raises WrongCall for another ending, TrimbenchError for what can't be read."""
    path = Path(path)
    ending_of_cdl(path)
    try:
        return corrections_in(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise TrimbenchError(f"{path}: can't be read: {error.strerror}; check the name and its permissions") from error
    except UnicodeDecodeError:
        raise TrimbenchError(f"{path}: this is not text in UTF-8; choose another file") from None
    except TrimbenchError as fault:
        raise TrimbenchError(f"{path}: {fault}") from None


def write_corrections(path: str | Path, corrections: Sequence[Correction], *, overwrite: bool = False) -> None:
    """Write corrections, whole or not at all; the form follows from the ending."""
    from .media.whole_file import whole_file

    path = Path(path)
    text = cdl_text(ending_of_cdl(path), corrections)
    with whole_file(path, overwrite) as part:
        part.write_text(text, encoding="utf-8", newline="\n")


def correction_named(words: str) -> Correction:
    """Read the one correction of 'FILE', or that of a name from 'FILE#NAME'.

    Raises
    ------
    WrongCall
        If there are several and none is named, or none has the name.
    TrimbenchError
        If the file can't be read.
    """
    file, mark, name = words.rpartition("#")
    if not mark or Path(words).exists():
        file, name = words, ""
    corrections = read_corrections(file)
    names = [item.name for item in corrections]
    if name:
        if name not in names:
            raise WrongCall(f"{file}: no correction has the name '{name}'; {suggestion(name, names)}")
        return corrections[names.index(name)]
    if len(corrections) > 1:
        raise WrongCall(f"{file}: there are {len(corrections)} corrections; name one as {file}#{names[0]}")
    return corrections[0]


def _element(item: Correction, depth: int, attributes: str = "") -> str:
    """Write one ColorCorrection, in the order of the elements in the schema of ASC CDL v1.01."""
    indent = "  " * depth
    cdl = item.cdl
    identity = f" id={quoteattr(plain(item.name))}" if item.name else ""
    note = [f"    <Description>{escape(plain(item.note))}</Description>"] if item.note else []
    lines = [
        f"<ColorCorrection{attributes}{identity}>",
        "  <SOPNode>",
        *note,
        f"    <Slope>{_numbers(cdl.slope)}</Slope>",
        f"    <Offset>{_numbers(cdl.offset)}</Offset>",
        f"    <Power>{_numbers(cdl.power)}</Power>",
        "  </SOPNode>",
        "  <SatNode>",
        f"    <Saturation>{_numbers((cdl.saturation,))}</Saturation>",
        "  </SatNode>",
        "</ColorCorrection>",
    ]
    return "".join(f"{indent}{line}\n" for line in lines)


def _numbers(values: Sequence[float]) -> str:
    """Write numbers; not by `str`, which follows NumPy's print options, and those are anybody's to change."""
    return " ".join(np.format_float_positional(np.float32(value), unique=True, trim="0") for value in values)


def _correction(element: ElementTree.Element) -> Correction:
    name = element.get("id", "")
    where = f"correction '{name}': " if name else ""
    parts: dict[str, tuple[float, ...]] = {}
    note = ""
    for item in element.iter():
        word = tag(item)[1]
        if word == "Description" and not note:
            note = (item.text or "").strip()
        count = {"Slope": 3, "Offset": 3, "Power": 3, "Saturation": 1}.get(word)
        if count is None:
            continue
        if word in parts:
            raise TrimbenchError(f"{where}there are two of {word}")
        parts[word] = _values(item.text or "", word, count, where)
    return Correction(
        name,
        Cdl(
            _triple(parts.get("Slope", (1.0,) * 3)),
            _triple(parts.get("Offset", (0.0,) * 3)),
            _triple(parts.get("Power", (1.0,) * 3)),
            parts.get("Saturation", (1.0,))[0],
        ),
        note,
    )


def _values(text: str, word: str, count: int, where: str) -> tuple[float, ...]:
    try:
        numbers = tuple(map(float, text.split()))
    except ValueError:
        raise TrimbenchError(f"{where}{word} holds something that is not a number") from None
    if len(numbers) != count:
        raise TrimbenchError(f"{where}{word} has {len(numbers)} numbers, not {count}")
    # ASC CDL v1.2: slope and saturation are 0 or more, power is more than 0.
    is_low = word != "Offset" and min(numbers) < 0.0
    if is_low or not all(map(math.isfinite, numbers)) or (word == "Power" and min(numbers) == 0.0):
        raise TrimbenchError(f"{where}{word} = {text.strip()} is not allowed by the ASC CDL")
    return numbers


def _triple(values: tuple[float, ...]) -> Triple:
    red, green, blue = values
    return red, green, blue
