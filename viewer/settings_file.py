"""The user's settings: one TOML file in the platform's place, read at the start, written when something is chosen."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from tonemap.errors import TrimbenchError
from tonemap.media.whole_file import whole_file


class SettingsFile:
    """Tables of settings by name; what the program does not know, and comments, stay as they are."""

    def __init__(self, path: Path) -> None:
        """Use a file; it need not be there yet."""
        self.path = path

    def table(self, name: str) -> dict[str, Any]:
        """Return a table, empty where there is none.

        Raises
        ------
        TrimbenchError
            When the file can't be read or is no TOML.
        """
        found = self._document().get(name, {})
        if not isinstance(found, Mapping):
            raise TrimbenchError(f"{self.path}: '{name}' is not a table; write [{name}] with its settings below")
        plain: dict[str, Any] = found.unwrap() if hasattr(found, "unwrap") else dict(found)
        return plain

    def keep(self, name: str, values: Mapping[str, Any]) -> None:
        """Write values into a table, whole or not at all; None takes a setting out.

        Raises
        ------
        TrimbenchError
            When the file can't be read or written; it stays as it was.
        """
        import tomlkit

        document = self._document()
        self.table(name)
        table: Any = document.setdefault(name, tomlkit.table())
        for key, value in values.items():
            if value is not None:
                table[key] = value
            elif key in table:
                del table[key]
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise TrimbenchError(
                f"{self.path}: settings can't be kept: {error.strerror}; they last until the end"
            ) from None
        with whole_file(self.path, overwrite=True) as part:
            part.write_text(tomlkit.dumps(document), encoding="utf-8")

    def _document(self) -> Any:
        import tomlkit
        from tomlkit.exceptions import TOMLKitError

        try:
            return tomlkit.parse(self.path.read_text(encoding="utf-8"))
        except FileNotFoundError:
            return tomlkit.document()
        except (OSError, UnicodeDecodeError, TOMLKitError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            raise TrimbenchError(
                f"{self.path}: can't be read as settings: {reason}; mend the file, or take it away to begin anew"
            ) from None
