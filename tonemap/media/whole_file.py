"""Files that appear whole or not at all, and that replace another only when asked to."""

import os
import secrets
from collections.abc import Container, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from ..errors import TrimbenchError, WrongCall

PART = ".part"


@contextmanager
def whole_file(path: Path, overwrite: bool = False) -> Iterator[Path]:
    """Give a temporary path beside `path` to write to; it takes the name `path` when the block ends well.

    Parameters
    ----------
    overwrite : whether an existing file may be replaced

    Raises
    ------
    TrimbenchError
        If the file exists and may not be replaced, and for what the system refuses (permissions, space, ...).
        Whatever is raised, here or in the block, nothing is left behind and an existing file stays as it was.
    """
    target = Path(os.path.realpath(path))  # a link stays a link, and the file that it names is replaced
    refuse_existing(path, overwrite)
    part = target.with_name(f".{target.name}.{secrets.token_hex(4)}{PART}")
    try:
        part.touch(exist_ok=False)
        try:
            yield part
            with part.open("rb") as file:
                os.fsync(file.fileno())
            refuse_existing(path, overwrite)
            part.replace(target)
        finally:
            part.unlink(missing_ok=True)
    except OSError as error:
        reason = error.strerror or str(error)
        raise TrimbenchError(
            f"{path}: can't be written: {reason}; nothing of it is kept; choose another place, or make room"
        ) from error


def remove_parts(folder: Path, names: Container[str]) -> None:
    """Remove what a process that was killed had begun to write of files of these names."""
    for part in folder.glob(f".*{PART}"):
        if part.name[1:].rsplit(".", 2)[0] in names:
            part.unlink(missing_ok=True)


def refuse_existing(path: Path, overwrite: bool) -> None:
    """Raise TrimbenchError when a file may not be written under this name: a folder, or a file that is to stay."""
    if path.is_dir():
        raise TrimbenchError(f"{path}: this is a folder; give the name of a file to write")
    if not overwrite and os.path.lexists(path):
        raise TrimbenchError(f"{path}: the file exists; choose another name, or give --overwrite to replace it")


def refuse_masters(outputs: Iterable[Path], masters: Iterable[Path]) -> None:
    """Raise WrongCall when an output is a file of a master, by whatever path or link: --overwrite doesn't mean that."""
    files = {os.path.realpath(path) for path in masters}
    for path in outputs:
        if os.path.realpath(path) in files:
            raise WrongCall(f"{path}: this is the master, which is never overwritten; choose another name")
