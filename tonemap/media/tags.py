"""Tags: what a file says about its own encoding, and what we write into it to say the same."""

from collections.abc import Mapping, Sequence
from dataclasses import fields
from typing import Any

from ..colorimetry import PRIMARIES
from ..encoding import CICP_MATRIX_RGB, CICP_PRIMARIES, CICP_TRANSFERS, CICP_UNSPECIFIED, Encoding
from ..errors import WrongCall
from ..signal_range import FULL, NARROW, RANGES
from .wishes import MASTERING_DISPLAY, EncodingWishes, Finding

NOTE = "tag (Trimbench's encoding note)"

NOTE_START = "Trimbench encoding:"
NOTE_ATTRIBUTES = {
    "openexr": "trimbench:encoding",
    "tiff": "ImageDescription",
    "png": "ImageDescription",
    "dpx": "DocumentName",
}
"""Where each format keeps the note that carries what its own tags can't; by OpenImageIO's names."""

CHROMATICITY_TOLERANCE = 1e-3

# SMPTE 268M-2003, the header's transfer and colorimetric characteristics, by OpenImageIO's names for the codes.
DPX_709 = "ITU-R 709-4"
DPX_OTHER = "User defined"
DPX_TRANSFERS = {
    "Linear": "linear",
    "SMPTE 274M": "bt1886",
    DPX_709: "bt1886",
    "ITU-R 601-5 system B or G": "bt1886",
    "ITU-R 601-5 system M": "bt1886",
}
DPX_PRIMARIES = {"SMPTE 274M": "bt709", DPX_709: "bt709"}

# ASWF Color Interop Forum, Display Color Space Recommendation: the values of EXR's colorInteropID.
INTEROP_IDS = {
    "pq_rec2020_display": ("pq", "bt2020"),
    "hlg_rec2020_display": ("hlg", "bt2020"),
    "pq_p3d65_display": ("pq", "p3-d65"),
    "g24_rec709_display": ("bt1886", "bt709"),
    "g22_rec709_display": ("gamma2.2", "bt709"),
    "g26_p3d65_display": ("gamma2.6", "p3-d65"),
    "srgb_rec709_display": ("srgb", "bt709"),
    "srgb_p3d65_display": ("srgb", "p3-d65"),
}


def note_of(encoding: Encoding) -> str:
    """Write an encoding as one line of text, for the formats whose own tags can't carry all of it."""
    return " ".join([NOTE_START, *(f"{field.name}={getattr(encoding, field.name)}" for field in fields(encoding))])


def encoding_in(note: object) -> Encoding | None:
    """Read what `note_of` wrote; None for any other text.

    Examples
    --------
    >>> encoding_in(note_of(Encoding("pq", peak=4000.0, bits=10, signal_range="narrow"))).title
    'PQ (ST 2084), BT.2020, 10-bit narrow, peak 4000 cd/m²'
    """
    if not isinstance(note, str) or not note.startswith(NOTE_START):
        return None
    words = dict(item.split("=", 1) for item in note.removeprefix(NOTE_START).split() if "=" in item)
    try:
        return Encoding(
            words["transfer"],
            words["primaries"],
            words["signal_range"],
            None if words["bits"] == "None" else int(words["bits"]),
            *(float(words[name]) for name in ("peak", "black", "unit")),
        )
    except (KeyError, ValueError, WrongCall):
        return None  # a text that only looks like ours


def attributes_for(file_format: str, encoding: Encoding) -> dict[str, Any]:
    """Return the standard tags that say as much of the encoding as the format can, by OpenImageIO's names."""
    if file_format == "png" and CICP_UNSPECIFIED not in encoding.cicp[:2]:
        return {"CICP": encoding.cicp}
    if file_format == "dpx" and encoding.bits is not None:
        is_709 = encoding.transfer == "bt1886"
        transfer = DPX_709 if is_709 else "Linear" if encoding.transfer == "linear" else DPX_OTHER
        low, high = reference_codes(encoding.signal_range, encoding.bits)
        return {
            "dpx:Transfer": transfer,
            "dpx:Colorimetric": DPX_709 if encoding.primaries == "bt709" else DPX_OTHER,
            "dpx:LowData": low,
            "dpx:HighData": high,
        }
    if file_format == "openexr":
        primaries = PRIMARIES[encoding.primaries]
        attributes: dict[str, Any] = {
            "chromaticities": (*primaries.red, *primaries.green, *primaries.blue, *primaries.white)
        }
        transfer = "bt1886" if encoding.transfer == "gamma2.4" else encoding.transfer
        for name, meaning in INTEROP_IDS.items():
            if meaning == (transfer, encoding.primaries):
                attributes["colorInteropID"] = name
        if encoding.transfer == "linear":
            attributes["whiteLuminance"] = encoding.unit
        return attributes
    return {}


def reference_codes(signal_range: str, bits: int) -> tuple[int, int]:
    """Return the code values of black and white: the reference low and high data of a DPX header."""
    return (16 << (bits - 8), 235 << (bits - 8)) if signal_range == NARROW else (0, (1 << bits) - 1)


def findings_in(
    file_format: str, attributes: Mapping[str, Any], stored_bits: int | None
) -> tuple[list[Finding], list[str]]:
    """Collect what a file's own tags say, the most exact first.

    Parameters
    ----------
    file_format : OpenImageIO's name of the format, for example 'dpx'
    attributes : the tags by OpenImageIO's names, and the chunks of a PNG as `png.chunk_attributes` names them
    stored_bits : bits of a stored sample; None for floating-point samples

    Returns
    -------
    findings : list of Finding
    notices : list of str, sentences about tags that were not taken
    """
    findings: list[Finding] = []
    notices: list[str] = []
    if file_format == "png":
        findings, notices = _png_findings(attributes, stored_bits)
    elif file_format == "dpx":
        findings, notices = _dpx_findings(attributes, stored_bits)
    elif file_format == "openexr":
        findings, notices = _exr_findings(attributes)
    note = encoding_in(attributes.get(NOTE_ATTRIBUTES.get(file_format, "")))
    if note is not None and (note.bits is None) == (stored_bits is None):
        if all(_same(attributes.get(name), value) for name, value in attributes_for(file_format, note).items()):
            findings.insert(0, Finding(EncodingWishes(**{f.name: getattr(note, f.name) for f in fields(note)}), NOTE))
        else:
            notices.append("Trimbench's encoding note contradicts the other tags, so it was not taken")
    if "ICCProfile" in attributes:
        notices.append("the ICC profile in the file is not applied")
    return findings, notices


def _same(found: Any, expected: Any) -> bool:
    """Compare tags as a file can hold them: numbers to the precision of float32."""
    if isinstance(expected, str):
        return bool(found == expected)
    found, expected = _numbers(found), _numbers(expected)
    return len(found) == len(expected) and all(
        abs(a - b) <= 1e-6 * max(1.0, abs(b)) for a, b in zip(found, expected, strict=True)
    )


def _numbers(value: Any) -> tuple[float, ...]:
    """Return a tag's numbers; none if it holds something else, as a file may."""
    numbers = value if isinstance(value, tuple) else (value,)
    return numbers if all(isinstance(number, int | float) for number in numbers) else ()


def _png_findings(attributes: Mapping[str, Any], stored_bits: int | None) -> tuple[list[Finding], list[str]]:
    """Read the chunks cICP, sRGB, sBIT, mDCV and cLLI; Portable Network Graphics, third edition, 2025."""
    findings, notices = [], []
    if "CICP" in attributes:
        primaries, transfer, matrix, full = attributes["CICP"]
        if matrix == CICP_MATRIX_RGB:
            signal_range = FULL if full else NARROW
            says = EncodingWishes(CICP_TRANSFERS.get(transfer), CICP_PRIMARIES.get(primaries), signal_range)
            findings.append(Finding(says, "tag (PNG cICP)"))
        else:
            notices.append(f"the cICP chunk names matrix {matrix}, which a PNG can't have, so it was not taken")
    elif "sRGB" in attributes:
        findings.append(Finding(EncodingWishes("srgb", "bt709", FULL), "tag (PNG sRGB)"))
    if attributes.get("sBIT", stored_bits) != stored_bits:
        findings.append(Finding(EncodingWishes(bits=attributes["sBIT"]), "tag (PNG sBIT)"))
    if "mDCV" in attributes:
        peak, black, *_ = attributes["mDCV"]
        if 1.0 <= peak <= 10000.0 and black < peak:
            findings.append(Finding(EncodingWishes(peak=peak, black=black), MASTERING_DISPLAY))
        else:
            notices.append(f"the mDCV chunk gives a display of {black:g}..{peak:g} cd/m2, so it was not taken")
    if "cLLI" in attributes:
        notices.append("the file states MaxCLL {:g} and MaxFALL {:g} cd/m2".format(*attributes["cLLI"]))
    return findings, notices


def _dpx_findings(attributes: Mapping[str, Any], stored_bits: int | None) -> tuple[list[Finding], list[str]]:
    """Read the characteristics and the reference codes of the header; SMPTE 268M-2003."""
    transfer, primaries = attributes.get("dpx:Transfer", ""), attributes.get("dpx:Colorimetric", "")
    findings = [Finding(EncodingWishes(DPX_TRANSFERS.get(transfer), DPX_PRIMARIES.get(primaries)), "tag (DPX header)")]
    codes = attributes.get("dpx:LowData"), attributes.get("dpx:HighData")
    for signal_range in RANGES if stored_bits is not None else ():
        if codes == reference_codes(signal_range, stored_bits or 0):
            findings.append(Finding(EncodingWishes(signal_range=signal_range), "tag (DPX reference codes)"))
    notices = []
    if transfer in ("Logarithmic", "Printing density"):
        notices.append(f"the DPX header calls the transfer '{transfer}', which Trimbench doesn't have")
    return findings, notices


def _exr_findings(attributes: Mapping[str, Any]) -> tuple[list[Finding], list[str]]:
    """Read chromaticities, whiteLuminance (cd/m2 of the value 1.0; OpenEXR's standard attributes), colorInteropID."""
    findings, notices = [], []
    if attributes.get("colorInteropID") in INTEROP_IDS:
        findings.append(Finding(EncodingWishes(*INTEROP_IDS[attributes["colorInteropID"]]), "tag (EXR colorInteropID)"))
    if "chromaticities" in attributes:
        name = primaries_of(_numbers(attributes["chromaticities"]))
        if name is None:
            notices.append("the EXR chromaticities are those of no primaries that Trimbench has")
        findings.append(Finding(EncodingWishes(primaries=name), "tag (EXR chromaticities)"))
    for unit in _numbers(attributes.get("whiteLuminance", 0.0)):
        if 0.0 < unit <= 10000.0:
            findings.append(Finding(EncodingWishes("linear", unit=float(unit)), "tag (EXR whiteLuminance)"))
    return findings, notices


def primaries_of(chromaticities: Sequence[float]) -> str | None:
    """Name the primaries whose red, green, blue and white xy are these, within `CHROMATICITY_TOLERANCE`."""
    for name, known in PRIMARIES.items():
        expected = (*known.red, *known.green, *known.blue, *known.white)
        if len(chromaticities) == len(expected) and all(
            abs(a - b) <= CHROMATICITY_TOLERANCE for a, b in zip(chromaticities, expected, strict=True)
        ):
            return name
    return None
