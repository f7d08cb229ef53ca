"""LUT files in the Common LUT Format, SMPTE ST 2136-1 (Academy S-2014-006): a range, a shaper, a cube."""

import uuid
from dataclasses import dataclass
from xml.etree import ElementTree
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from .arrays import Array
from .errors import TrimbenchError
from .lut import INTERPOLATIONS, TETRAHEDRAL, TRILINEAR, Lut
from .xml_text import parsed, plain, tag

NAMESPACE = "http://www.smpte-ra.org/ns/2136-1/2024"
OLDER_NAMESPACE = "urn:AMPAS:CLF:v3.0"
VERSION = "3"
DEPTHS = 'inBitDepth="32f" outBitDepth="32f"'
ROW = "%.7f %.7f %.7f\n"
LARGEST_SIDE = 256
LARGEST_SHAPER = 65536


@dataclass(frozen=True)
class Notes:
    """What a file says of itself.

    Attributes
    ----------
    name : of the rendition
    made : the program with its version, and the date
    lines : the rest, a paragraph each
    input, output : what goes in and what comes out
    """

    name: str
    made: str
    lines: tuple[str, ...]
    input: str
    output: str

    @property
    def all(self) -> tuple[str, ...]:
        """Every note as one list of lines."""
        return self.name, *self.lines, f"input: {self.input}", f"output: {self.output}", self.made


def clf_text(lut: Lut, notes: Notes) -> str:
    """Write a LUT as a ProcessList: Range (clamping), LUT1D where there is a shaper, LUT3D (tetrahedral).

    The identity of the file follows from its content without the date.
    """
    nodes = _range(lut)
    if lut.shaper is not None:
        rows = "\n".join(map("{:.7f}".format, lut.shaper.tolist()))
        nodes += _node("LUT1D", "linear", f"{len(lut.shaper)} 1", rows + "\n")
    flat = lut.table.ravel()
    rows = (ROW * (flat.size // 3)) % tuple(flat.tolist())
    nodes += _node("LUT3D", TETRAHEDRAL, f"{lut.size} {lut.size} {lut.size} 3", rows)
    lines = "".join(f"    <Description>{escape(plain(line))}</Description>\n" for line in notes.lines)
    head = (
        f"{lines}"
        f"    <InputDescriptor>{escape(plain(notes.input))}</InputDescriptor>\n"
        f"    <OutputDescriptor>{escape(plain(notes.output))}</OutputDescriptor>\n"
    )
    identity = uuid.uuid5(uuid.NAMESPACE_URL, NAMESPACE + notes.name + head + nodes)
    name = quoteattr(plain(notes.name))
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<ProcessList xmlns="{NAMESPACE}" id="urn:uuid:{identity}" name={name} compCLFversion="{VERSION}">\n'
        f"    <Description>{escape(plain(notes.made))}</Description>\n{head}{nodes}</ProcessList>\n"
    )


def lut_in_clf_text(text: str) -> tuple[Lut, str]:
    """Read what `clf_text` writes, from whatever program it comes.

    Returns
    -------
    lut : Lut
    interpolation : 'tetrahedral' or 'trilinear'

    Raises
    ------
    TrimbenchError
        For anything else: one sentence without the file's name.
    """
    root = parsed(text)
    space, name = tag(root)
    if name != "ProcessList" or space not in (NAMESPACE, OLDER_NAMESPACE):
        raise TrimbenchError("the outermost element is not a ProcessList of the Common LUT Format")
    notes = ("Description", "InputDescriptor", "OutputDescriptor", "Info")
    nodes = [node for node in root if tag(node)[1] not in notes]
    names = [tag(node)[1] for node in nodes]
    if names not in (["LUT3D"], ["Range", "LUT3D"], ["LUT1D", "LUT3D"], ["Range", "LUT1D", "LUT3D"]):
        raise TrimbenchError("it is not a Range, a LUT1D and a LUT3D, the first two by choice; no other is read here")
    found = dict(zip(names, nodes, strict=True))
    for node in nodes:
        if {node.get("inBitDepth"), node.get("outBitDepth")} - {"16f", "32f"}:
            raise TrimbenchError(f"the {tag(node)[1]} is not in floating-point numbers (32f)")
    low, high = _limits(found["Range"]) if "Range" in found else (0.0, 1.0)
    cube, size = _array(found["LUT3D"], 4, LARGEST_SIDE)
    if size[1:] != (size[0], size[0], 3):
        raise TrimbenchError("the LUT3D has not the same number of nodes on every side, or not three channels")
    interpolation = found["LUT3D"].get("interpolation", TRILINEAR)
    if interpolation not in INTERPOLATIONS:
        raise TrimbenchError(f"the interpolation '{interpolation}' is neither tetrahedral nor trilinear")
    shaper = None
    if "LUT1D" in found:
        shaper, (_, channels) = _array(found["LUT1D"], 2, LARGEST_SHAPER)
        if channels != 1 or found["LUT1D"].get("halfDomain") == "true" or found["LUT1D"].get("rawHalfs") == "true":
            raise TrimbenchError("the LUT1D has more than one channel or half-float entries, which are not read here")
    return Lut(cube.reshape(size), shaper, low, high), interpolation


def _range(lut: Lut) -> str:
    values = {"minInValue": lut.low, "maxInValue": lut.high, "minOutValue": 0.0, "maxOutValue": 1.0}
    lines = "".join(f"        <{name}>{float(value)!r}</{name}>\n" for name, value in values.items())
    return f'    <Range {DEPTHS} style="Clamp">\n{lines}    </Range>\n'


def _node(name: str, interpolation: str, dimensions: str, rows: str) -> str:
    return (
        f'    <{name} {DEPTHS} interpolation="{interpolation}">\n'
        f'        <Array dim="{dimensions}">\n{rows}        </Array>\n    </{name}>\n'
    )


def _limits(node: ElementTree.Element) -> tuple[float, float]:
    values = {}
    for child in node:
        try:
            values[tag(child)[1]] = float(child.text or "")
        except ValueError:
            raise TrimbenchError(f"the Range's {tag(child)[1]} is not a number") from None
    try:
        low, high = values["minInValue"], values["maxInValue"]
        is_unit = (values["minOutValue"], values["maxOutValue"]) == (0.0, 1.0)
    except KeyError as missing:
        raise TrimbenchError(f"the Range has no {missing.args[0]}") from None
    if not is_unit or node.get("style", "Clamp") != "Clamp":
        raise TrimbenchError("the Range doesn't clamp to 0..1, which is all that is read here")
    return low, high


def _array(node: ElementTree.Element, dimensions: int, largest: int) -> tuple[Array, tuple[int, ...]]:
    """Return the numbers of a node's Array and its dimensions."""
    name = tag(node)[1]
    array = next((child for child in node if tag(child)[1] == "Array"), None)
    if array is None:
        raise TrimbenchError(f"the {name} has no Array")
    try:
        size = tuple(map(int, array.get("dim", "").split()))
        values = np.fromiter(map(float, (array.text or "").split()), np.float64)
    except ValueError:
        raise TrimbenchError(f"the Array of the {name} holds something that is not a number") from None
    if len(size) != dimensions or not 2 <= size[0] <= largest or min(size) < 1:
        raise TrimbenchError(f"the Array of the {name} has the dimensions '{array.get('dim', '')}'")
    if values.size != np.prod(size):
        raise TrimbenchError(
            f"the Array of the {name} has {values.size} numbers where its dimensions ask for {np.prod(size)}"
        )
    return values, size
