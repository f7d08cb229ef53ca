"""Notes beside a file that say who is at work on it: so two benches on one sheet, and two renders, see each other."""

import getpass
import glob
import json
import os
import socket
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from .errors import TrimbenchError


@dataclass(frozen=True)
class Person:
    """Who is at work: a user's program on a machine.

    Attributes
    ----------
    since : date and time in UTC, ISO 8601
    """

    user: str
    host: str
    pid: int
    since: str

    @classmethod
    def here(cls) -> "Person":
        """Return this program."""
        try:
            user = getpass.getuser()
        except (KeyError, OSError, ImportError):  # a user without a name
            user = "somebody"
        return cls(user, socket.gethostname(), os.getpid(), datetime.now(UTC).isoformat(timespec="seconds"))

    @classmethod
    def from_dict(cls, entries: dict[str, Any]) -> "Person":
        """Make a person from what `to_dict` gave."""
        return cls(str(entries["user"]), str(entries["host"]), int(entries["pid"]), str(entries["since"]))

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON."""
        return asdict(self)

    @property
    def sentence(self) -> str:
        """Who and since when, in words."""
        return f"{self.user} on {self.host} (since {self.since.replace('T', ' ').removesuffix('+00:00')} UTC)"

    @property
    def is_me(self) -> bool:
        """Whether it is this very program."""
        return (self.host, self.pid) == (socket.gethostname(), os.getpid())

    def is_at_work(self) -> bool:
        """Say whether the program still runs; of another machine it can't be known, so it is taken to."""
        if self.is_me:
            return False
        if self.host != socket.gethostname() or os.name != "posix":
            return True
        try:
            os.kill(self.pid, 0)  # signal 0 only asks
        except ProcessLookupError:
            return False
        except PermissionError:
            return True
        return not _has_ended(self.pid)


class InUse:
    """The note of one program beside one sheet; `close` takes it away."""

    def __init__(self, sheet_path: Path) -> None:
        self._sheet_path = sheet_path
        self.person = Person.here()
        self._path = note_path(sheet_path, self.person)

    @classmethod
    def leave(cls, sheet_path: Path) -> "InUse":
        """Leave a note that this program has the sheet open.

        Raises
        ------
        TrimbenchError
            If the folder can't be written to.
        """
        note = cls(sheet_path)
        try:
            note._path.write_text(json.dumps(note.person.to_dict()) + "\n", encoding="utf-8")
        except OSError as error:
            raise TrimbenchError(
                f"{note._path}: no note can be left that the sheet is open: {error.strerror}; others will not be warned"
            ) from error
        return note

    def others(self) -> tuple[Person, ...]:
        """Return who else has the sheet open now; a look at the folder, quick enough for every second."""
        return open_elsewhere(self._sheet_path)

    def close(self) -> None:
        """Take the note away."""
        self._path.unlink(missing_ok=True)


def open_elsewhere(sheet_path: Path) -> tuple[Person, ...]:
    """Return who else has the sheet open, the earliest first; notes of programs that have ended are taken away."""
    people = []
    for path in sheet_path.parent.glob(f".{glob.escape(sheet_path.name)}.*.open"):
        try:
            person = Person.from_dict(json.loads(path.read_text(encoding="utf-8")))
        except (OSError, ValueError, KeyError, TypeError):
            continue  # gone since, or being written
        if person.is_at_work():
            people.append(person)
        elif not person.is_me:
            path.unlink(missing_ok=True)
    return tuple(sorted(people, key=lambda person: person.since))


def _has_ended(pid: int) -> bool:
    """Say whether a program has ended that keeps its number until its parent asks; only Linux tells (proc(5))."""
    try:
        stat = Path(f"/proc/{pid}/stat").read_text(errors="replace")
    except OSError:
        return False
    return stat.rpartition(")")[2].split()[0] in ("Z", "X")


def note_path(sheet_path: Path, person: Person) -> Path:
    """Return the name of a person's note."""
    return sheet_path.with_name(f".{sheet_path.name}.{person.host}.{person.pid}.open")
