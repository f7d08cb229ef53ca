"""XML as colour decisions and LUTs need it: read without entities, and with faults in one sentence."""

from xml.etree import ElementTree

from .errors import TrimbenchError


def parsed(text: str) -> ElementTree.Element:
    """Return the outermost element; raises TrimbenchError where the text is not XML, or declares a document type.

    A document type could define entities that grow without end; the formats read here have none.
    """
    if "<!DOCTYPE" in text:
        raise TrimbenchError("it declares a document type, which these files don't have")
    try:
        return ElementTree.fromstring(text.encode())  # bytes: text with an encoding declaration is refused
    except (ElementTree.ParseError, UnicodeEncodeError, LookupError, ValueError) as fault:
        raise TrimbenchError(f"it is not well-formed XML: {fault}") from None


def tag(element: ElementTree.Element) -> tuple[str, str]:
    """Return an element's namespace ('' for none) and its name."""
    space, _, name = element.tag.rpartition("}")
    return space.removeprefix("{"), name


def plain(text: str) -> str:
    """Take out what XML 1.0 can't hold, and line breaks."""
    return "".join(letter for letter in text if letter.isprintable() and letter not in "\ufffe\uffff")
