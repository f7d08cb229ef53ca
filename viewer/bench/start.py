"""What the bench begins with: a master, with the trims that were begun for it, or a trim sheet. Plain Python."""

from pathlib import Path

from tonemap.trim_sheet import load
from tonemap.trim_sheet_text import is_trim_sheet

from .bench import Bench
from .opening import open_master
from .sheet_opening import open_keeping, unnamed_sheet


def open_first(bench: Bench, path: Path, *, has_renditions: bool = False, shot: str | None = None) -> None:
    """Put what the user named on the bench.

    Parameters
    ----------
    has_renditions : whether the user spelled renditions out; those of earlier trims of the master then stay where they
        are
    shot : of the trim sheet, to go to

    Raises
    ------
    TrimbenchError
        When it can't be read, or there is no such shot.
    """
    if is_trim_sheet(path):
        frame = None if shot is None else load(path).shot(shot).first
        keeping, notices = open_keeping(path, bench.folder)
        bench.show_sheet(keeping, notices, frame=frame)
        return
    earlier = None if has_renditions else unnamed_sheet(path, bench.folder)
    if earlier is None:
        bench.show_opened(open_master(path, bench.wishes))
        return
    keeping, notices = open_keeping(earlier, bench.folder)
    bench.show_sheet(keeping, [*notices, f"the trims of {path.name} are back; Ctrl S gives them a name"])
