"""The manifest of a render: a line for the job, one with a checksum for every file that is whole, and what was found.

It lies beside the output, is written as the render goes, and tells a later call what need not be made again.
"""

import hashlib
import json
import os
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ..errors import TrimbenchError
from ..in_use import InUse, note_path, open_elsewhere
from .findings import Finding

FORMAT = 3
BLOCK = 1 << 20


@dataclass(frozen=True)
class Entry:
    """A file that is whole.

    Attributes
    ----------
    file : its name
    sha256 : of its bytes
    frames : the frames in it, by their place in the programme
    codes : SHA-256 of the code values of each of these frames
    source : SHA-256 of the sizes and times of the masters' files that they were read from
    """

    file: str
    sha256: str
    frames: tuple[int, ...]
    codes: tuple[str, ...]
    source: str = ""


@dataclass
class Manifest:
    """The manifest at a path; `entries` by file, `findings` by frame, `is_begun` when the job's line is on the disk.

    From `begin` to `close` a note beside it keeps other renders away.
    """

    path: Path
    job: dict[str, Any]
    entries: dict[str, Entry] = field(default_factory=dict)
    findings: dict[int, Finding] = field(default_factory=dict)
    is_begun: bool = False
    _note: InUse | None = field(default=None, repr=False)

    @property
    def is_mine(self) -> bool:
        """Whether this program is the one at work here."""
        return self._note is not None

    def begin(self) -> None:
        """Make the folder and write the line of the job, once; called when the first frame is ready to be written."""
        if self.is_mine:
            return
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as fault:
            raise self._refused(fault) from fault
        self._leave_note()
        if self.is_begun:
            return
        try:
            self.path.write_text("", encoding="utf-8")
            self._append({"trimbench render": FORMAT, "job": self.job})
        except OSError as fault:
            raise self._refused(fault) from fault
        except TrimbenchError:
            self.path.unlink(missing_ok=True)
            raise
        self.is_begun = True

    def _refused(self, fault: OSError) -> TrimbenchError:
        return TrimbenchError(f"{self.path}: can't be written: {fault.strerror}; choose another place")

    def close(self) -> None:
        """Let others work here."""
        if self._note is not None:
            self._note.close()
        self._note = None

    def _leave_note(self) -> None:
        note = InUse(self.path)
        with suppress(TrimbenchError):  # why it can't be written, the manifest says
            note = InUse.leave(self.path)
        try:
            refuse_others(self.path)
        except TrimbenchError:
            note.close()
            raise
        self._note = note

    def add(self, entry: Entry, findings: Iterable[Finding] = ()) -> None:
        """Note a file, and before it what was found of its frames; the lines are on the disk when this returns."""
        self.note(findings)
        self.entries[entry.file] = entry
        self._append(vars(entry))

    def note(self, findings: Iterable[Finding]) -> None:
        """Note what was found of frames."""
        self.begin()
        for finding in findings:
            self.findings[finding.frame] = finding
            self._append(finding.to_dict())

    def whole(self) -> int:
        """Return the number of frames that are in files that are whole."""
        return len({frame for entry in self.entries.values() for frame in entry.frames})

    def holds(self, file: Path) -> bool:
        """Say whether a file is there and has the bytes that it had when it was made."""
        entry = self.entries.get(file.name)
        return entry is not None and file.is_file() and file_sha256(file) == entry.sha256

    def refuse_changed_source(self, file: Path, source: str) -> None:
        """Raise TrimbenchError when what a file was made from is no longer the same: the result would be of two."""
        if self.entries[file.name].source != source:
            raise TrimbenchError(
                f"{file}: the master was changed after this had been rendered; choose another place, or give "
                "--overwrite to begin anew"
            )

    def _append(self, line: dict[str, Any]) -> None:
        try:
            with self.path.open("a", encoding="utf-8") as file:
                file.write(json.dumps(line, ensure_ascii=False) + "\n")
                file.flush()
                os.fsync(file.fileno())
        except OSError as fault:
            raise TrimbenchError(f"{self.path}: can't be written: {fault.strerror}; make room, then go on") from fault


def open_manifest(path: Path, job: dict[str, Any], overwrite: bool = False) -> Manifest:
    """Open the manifest of a job; a new one is not written before it is begun.

    Raises
    ------
    TrimbenchError
        When there is one of another job and it may not be replaced, or it can't be read, or nothing can be written
        there, or another render does.
    """
    refuse_others(path)
    job = json.loads(json.dumps(job))
    if not path.exists() or overwrite:
        _refuse_closed_folder(path)
        return Manifest(path, job)
    known, entries, findings, length = _read(path)
    if known != job:
        differs = sorted(key for key in {*known, *job} if known.get(key) != job.get(key))
        raise TrimbenchError(
            f"{path}: another render was begun here, which differs in its {', '.join(differs)}; choose another place, "
            "or give --overwrite to begin anew"
        )
    os.truncate(path, length)  # a line that was cut short would spoil the next one
    return Manifest(path, job, entries, findings, is_begun=True)


def refuse_others(path: Path) -> None:
    """Raise TrimbenchError when another render is at work on a manifest."""
    for person in open_elsewhere(path):
        raise TrimbenchError(
            f"{path.parent}: {person.sentence} is rendering to this place; wait until that has ended, or choose "
            f"another place; if it was killed, delete {note_path(path, person)}"
        )


def _refuse_closed_folder(path: Path) -> None:
    """Raise TrimbenchError when a file can't be made at a path, before any work is done for it."""
    above = next(folder for folder in path.absolute().parents if folder.exists())
    if not above.is_dir():
        raise TrimbenchError(f"{path.parent}: can't be a folder, {above} is a file; choose another place")
    if not os.access(above, os.W_OK | os.X_OK):
        raise TrimbenchError(f"{path.parent}: can't be written: {above} is read-only; choose another place")


def _read(path: Path) -> tuple[dict[str, Any], dict[str, Entry], dict[int, Finding], int]:
    """Return the job, the entries, the findings and the bytes of the lines; a last line that was cut short is none."""
    try:
        content = path.read_bytes()
        length = content.rfind(b"\n") + 1
        lines = content[:length].decode().splitlines()
    except (OSError, UnicodeDecodeError) as fault:
        raise TrimbenchError(f"{path}: the manifest can't be read; delete it, or choose another place") from fault
    read = []
    for number, line in enumerate(lines, start=1):
        try:
            read.append(json.loads(line))
        except json.JSONDecodeError as fault:
            raise TrimbenchError(f"{path}:{number}: this is no line of a manifest; delete the file") from fault
    if not read or read[0].get("trimbench render") != FORMAT:
        raise TrimbenchError(f"{path}: this is no manifest of this version; delete it, or choose another place")
    entries = {
        line["file"]: Entry(line["file"], line["sha256"], tuple(line["frames"]), tuple(line["codes"]), line["source"])
        for line in read[1:]
        if "file" in line
    }
    findings = {line["frame"]: Finding.from_dict(line) for line in read[1:] if "frame" in line}
    return read[0]["job"], entries, findings, length


def file_sha256(path: Path) -> str:
    """Return the SHA-256 of a file's bytes."""
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(BLOCK):
            digest.update(block)
    return digest.hexdigest()
