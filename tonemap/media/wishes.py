"""Wishes: what the user and the file's tags say of an encoding becomes one `Encoding`, or one question."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from ..colorimetry import PRIMARIES
from ..encoding import TRANSFERS, Encoding
from ..errors import WrongCall
from ..signal_range import FULL, RANGES

SAID = "said by the user"
BY_FORMAT = "default (by the format)"
BY_BT2100 = "default (BT.2100)"
COMMON_PRACTICE = "default (common practice)"
MASTERING_DISPLAY = "tag (mastering display)"

HDR_TRANSFERS = ("pq", "hlg", "linear")
SDR_PEAK, HDR_PEAK = 100.0, 1000.0


@dataclass(frozen=True)
class EncodingWishes:
    """The parts of an encoding that somebody has stated; None where nothing was said. Parts as in `Encoding`."""

    transfer: str | None = None
    primaries: str | None = None
    signal_range: str | None = None
    bits: int | None = None
    peak: float | None = None
    black: float | None = None
    unit: float | None = None


class UnknownEncoding(WrongCall):
    """What neither the user nor the file says of an encoding.

    Attributes
    ----------
    missing : the parts that nobody says, by their names in `Encoding`
    by_file : the parts that the file says, with what it says
    """

    def __init__(self, sentence: str, missing: Sequence[str], by_file: Mapping[str, Any]) -> None:
        super().__init__(sentence)
        self.missing, self.by_file = tuple(missing), dict(by_file)


@dataclass(frozen=True)
class Finding:
    """Parts of an encoding, with the words that tell the user where they come from."""

    says: EncodingWishes
    origin: str


def resolve(
    path: Path, wishes: EncodingWishes, findings: Sequence[Finding], stored_bits: int | None
) -> tuple[Encoding, dict[str, str]]:
    """Make one encoding of what the user and the file say; what neither says is a stated default or a question.

    The user's words come first. A tag that names another transfer function than the one taken is wrong about the
    picture, so nothing else that it says is taken either.

    Parameters
    ----------
    path : names the file in messages
    findings : what the file says, the most exact first
    stored_bits : bits of a stored sample; None for floating-point samples

    Returns
    -------
    encoding : Encoding
    origins : dict, where each part of the encoding comes from

    Raises
    ------
    UnknownEncoding
        For what can't be known: one sentence that names the options to give.
    WrongCall
        For a wish that can't be.
    """
    said = {field.name: getattr(wishes, field.name) for field in fields(wishes)}
    _check(path, {name: value for name, value in said.items() if value is not None}, stored_bits)
    findings = [Finding(wishes, SAID), *findings]
    transfer = next((finding.says.transfer for finding in findings if finding.says.transfer), None)
    if wishes.unit is not None and transfer not in (None, "linear"):
        raise WrongCall(f"{path}: --unit is for linear light, and the transfer function is {transfer}; leave it out")
    values, origins = _taken(findings, transfer, stored_bits)
    if any(name not in values for name in _asked(transfer)):
        by_file, _ = _taken(findings[1:], transfer, stored_bits)
        raise _unknown(path, values, by_file, transfer)
    peak = HDR_PEAK if transfer in HDR_TRANSFERS else SDR_PEAK
    for name, value in (("peak", peak), ("black", 0.0)):
        if name not in values:
            values[name], origins[name] = value, COMMON_PRACTICE
    try:
        return Encoding(**values), origins
    except WrongCall as error:
        raise WrongCall(f"{path}: {error}") from error


def _taken(
    findings: Sequence[Finding], transfer: str | None, stored_bits: int | None
) -> tuple[dict[str, Any], dict[str, str]]:
    """Take each part from the first finding that says it, and return the parts with where they come from."""
    values: dict[str, Any] = {}
    origins: dict[str, str] = {}

    def take(says: EncodingWishes, origin: str) -> None:
        for field in fields(says):
            value = getattr(says, field.name)
            if value is not None and field.name not in values:
                values[field.name], origins[field.name] = value, origin

    for finding in findings:
        is_set_aside = finding.says.transfer not in (None, transfer)
        is_of_hdr = finding.origin == MASTERING_DISPLAY
        if not is_set_aside and not (is_of_hdr and transfer not in HDR_TRANSFERS):
            take(finding.says, finding.origin)
    if stored_bits is None:
        take(EncodingWishes(signal_range=FULL), BY_FORMAT)
    else:
        take(EncodingWishes(bits=stored_bits), BY_FORMAT)
    if transfer == "hlg":
        take(EncodingWishes(primaries="bt2020"), BY_BT2100)
    return values, origins


def _check(path: Path, said: Mapping[str, Any], stored_bits: int | None) -> None:
    """Refuse the user's words that can't be, before anything is asked for."""
    if "bits" in said and stored_bits is None:
        raise WrongCall(f"{path}: the samples are floating-point and have no bit depth; leave out --bits")
    try:
        encoding = Encoding(**{"transfer": "linear", "bits": stored_bits, **said})
    except WrongCall as error:
        raise WrongCall(f"{path}: {error}") from error
    if stored_bits is not None and encoding.bits is not None and encoding.bits > stored_bits:
        raise WrongCall(f"{path}: the file holds {stored_bits}-bit codes, not {encoding.bits}-bit; correct --bits")


QUESTIONS = {
    "transfer": ("the transfer function", f"--transfer ({', '.join(TRANSFERS)})"),
    "primaries": ("the primaries", f"--primaries ({', '.join(PRIMARIES)})"),
    "signal_range": ("the signal range", f"--range ({', '.join(RANGES)})"),
    "unit": ("the light of the value 1.0", "--unit (cd/m2)"),
}


def _asked(transfer: str | None) -> list[str]:
    """Return the parts for which there is no default."""
    return [name for name in QUESTIONS if name != "unit" or transfer == "linear"]


def _unknown(
    path: Path, values: Mapping[str, Any], by_file: Mapping[str, Any], transfer: str | None
) -> UnknownEncoding:
    """Return the error that names all that is missing and how to say it."""
    missing = [name for name in _asked(transfer) if name not in values]
    things, options = (_listed(words) for words in zip(*(QUESTIONS[name] for name in missing), strict=True))
    is_singular = len(missing) == 1 and "primaries" in values
    verb, pronoun = ("is", "it") if is_singular else ("are", "them")
    sentence = f"{path}: {things} {verb} not known from the file; say {pronoun} with {options}"
    return UnknownEncoding(sentence, missing, by_file)


def sdr_caution(encoding: Encoding, origins: Mapping[str, str]) -> list[str]:
    """Say that a master is no HDR picture, where it is none: it can be meant, and more often a tag or a file is wrong.

    Parameters
    ----------
    origins : as `resolve` returns them
    """
    if encoding.transfer in HDR_TRANSFERS:
        return []
    return [
        f"the master is SDR: {TRANSFERS[encoding.transfer]} up to {encoding.peak:g} cd/m\u00b2 "
        f"({origins['transfer']}); if it is HDR, say its --transfer"
    ]


def _listed(words: Sequence[str]) -> str:
    """Join words as a sentence does: 'a', 'a and b', 'a, b and c'."""
    return " and ".join(filter(None, [", ".join(words[:-1]), words[-1]]))
