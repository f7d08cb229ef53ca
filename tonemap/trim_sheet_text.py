"""The text of a trim sheet: JSON, checked against the published schema; older versions are raised to this one."""

import json
import math
from collections.abc import Callable
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

from .errors import TrimbenchError

VERSION = 1
ENDING = ".trims"
SCHEMA_FILE = "trim_sheet.schema.json"
LINE = 100

UPGRADES: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {}
"""From a version to the function that makes entries of the next one; it does not change what it gets."""


def is_trim_sheet(path: Path) -> bool:
    """Say whether a file is a trim sheet, by its name."""
    return path.suffix.lower() == ENDING


@cache
def schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of the version that this program writes."""
    return json.loads((resources.files("tonemap") / SCHEMA_FILE).read_text(encoding="utf-8"))


def entries_of(text: str, name: str) -> tuple[dict[str, Any], int]:
    """Read the text of a trim sheet.

    Parameters
    ----------
    name : names the sheet in messages

    Returns
    -------
    entries : dict, of this program's version and valid by the schema
    version : the one that the text has

    Raises
    ------
    TrimbenchError
        If the text is no trim sheet, or one of a newer version: one sentence with the line or the place.
    """
    try:
        entries = json.loads(
            text, object_pairs_hook=_once, parse_constant=_refuse_constant, parse_float=_finite, parse_int=_short
        )
        json.dumps(entries, ensure_ascii=False).encode()
    except json.JSONDecodeError as fault:
        raise TrimbenchError(
            f"{name}: line {fault.lineno}, column {fault.colno}: the text is no JSON ({fault.msg}); correct it there"
        ) from None
    except _Refused as fault:
        raise TrimbenchError(f"{name}: {fault}") from None
    except UnicodeEncodeError:
        raise TrimbenchError(f"{name}: a text in it holds half a character (\\ud800 to \\udfff); correct it") from None
    except RecursionError:
        raise TrimbenchError(f"{name}: the text is nested too deeply for a trim sheet") from None
    version = entries.get("version") if isinstance(entries, dict) else None
    if not isinstance(version, int) or isinstance(version, bool):
        raise TrimbenchError(f'{name}: this is no trim sheet: it has no "version" with a whole number')
    if version > VERSION:
        raise TrimbenchError(
            f"{name}: this trim sheet is of version {version}, and this program reads up to version {VERSION}; "
            "open it with a newer program"
        )
    for older in range(version, VERSION):
        if older not in UPGRADES:
            raise TrimbenchError(f"{name}: this trim sheet is of version {version}, which no program has written")
        entries = {**UPGRADES[older](entries), "version": older + 1}
    refuse_violations(entries, name)
    return entries, version


def refuse_violations(entries: Any, name: str) -> None:
    """Raise TrimbenchError with one sentence where entries are not as the schema has them."""
    import jsonschema

    fault = jsonschema.exceptions.best_match(_validator().iter_errors(entries))
    if fault is not None:
        raise TrimbenchError(f"{name}: {_place(entries, list(fault.absolute_path))}{_sentence(fault)}")


def text_of(entries: dict[str, Any]) -> str:
    """Write entries with one key a line, in their own order; lists of plain values stay on one line.

    Examples
    --------
    >>> print(text_of({"name": "a", "corners": [[0, 0.5], [1, 1], [1, 0]], "keys": [{"frame": 3}]}), end="")
    {
      "name": "a",
      "corners": [[0, 0.5], [1, 1], [1, 0]],
      "keys": [
        {
          "frame": 3
        }
      ]
    }
    """
    return _written(entries, 0) + "\n"


def _written(value: Any, depth: int) -> str:
    inner = "  " * (depth + 1)
    if isinstance(value, dict) and value:
        lines = [f"{inner}{_plain(key)}: {_written(item, depth + 1)}" for key, item in value.items()]
        return "{\n" + ",\n".join(lines) + "\n" + "  " * depth + "}"
    if isinstance(value, (list, tuple)) and value:
        one_line = _plain(value)
        if not _holds_objects(value) and len(one_line) <= LINE:
            return one_line
        lines = [inner + _written(item, depth + 1) for item in value]
        return "[\n" + ",\n".join(lines) + "\n" + "  " * depth + "]"
    return _plain(value)


def _plain(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _holds_objects(value: Any) -> bool:
    return isinstance(value, dict) or (isinstance(value, (list, tuple)) and any(map(_holds_objects, value)))


class _Refused(Exception):
    """What JSON allows and a trim sheet does not."""


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    entries = dict(pairs)
    if len(entries) < len(pairs):
        names = [key for key, _ in pairs]
        double = next(key for key in names if names.count(key) > 1)
        raise _Refused(f'"{double}" stands twice in one place, perhaps after a merge; keep one of them')
    return entries


def _finite(text: str) -> float:
    number = float(text)
    return number if math.isfinite(number) else _refuse_constant(text)


def _short(text: str) -> int:
    return int(text) if len(text) < 20 else _refuse_constant(text)


def _refuse_constant(text: str) -> Any:
    raise _Refused(f"{text} is no number that a trim sheet can hold; correct it")


@cache
def _validator() -> Any:
    import jsonschema

    return jsonschema.Draft202012Validator(_without_references(schema(), schema()["$defs"]))


def _without_references(part: Any, definitions: dict[str, Any]) -> Any:
    """Return a schema with its references written out, which the validator follows in half the time."""
    if isinstance(part, list):
        return [_without_references(item, definitions) for item in part]
    if not isinstance(part, dict):
        return part
    own = {key: value for key, value in part.items() if key not in ("$ref", "$defs")}
    if "$ref" in part:
        own |= definitions[part["$ref"].removeprefix("#/$defs/")]
    return {key: _without_references(value, definitions) for key, value in own.items()}


def _place(entries: Any, path: list[Any]) -> str:
    """Name a place as a person finds it: 'shots, no. 3 ("12"), keys, no. 1: '."""
    words: list[str] = []
    here = entries
    for step in path:
        here = here[step]
        if isinstance(step, int):
            named = here.get("name") if isinstance(here, dict) else None
            words.append(f"no. {step + 1}" + (f' ("{named}")' if isinstance(named, str) else ""))
        else:
            words.append(str(step))
    return ", ".join(words) + ": " if words else ""


KINDS = {
    "object": "an object",
    "array": "a list",
    "string": "text",
    "integer": "a whole number",
    "number": "a number",
    "boolean": "true or false",
    "null": "null",
}


def _sentence(fault: Any) -> str:
    """Say in words what a violation is."""
    given, wanted, rule = fault.instance, fault.validator_value, fault.validator
    shown = KINDS["object"] if isinstance(given, dict) else KINDS["array"] if isinstance(given, list) else _plain(given)
    words = fault.message[:200]
    if rule == "required":
        return f'there is no "{next(name for name in wanted if name not in given)}"; add it'
    if rule == "type":
        kinds = [wanted] if isinstance(wanted, str) else wanted
        words = f"{shown} is not {' or '.join(KINDS[kind] for kind in kinds)}"
    elif rule == "minimum":
        words = f"{shown} is below {wanted}"
    elif rule in ("minLength", "minItems"):
        words = "it is empty or too short"
    elif rule == "pattern":
        words = f"{shown} is not written as it must be ({fault.schema.get('description', wanted)})"
    return f"{words}; correct it"
