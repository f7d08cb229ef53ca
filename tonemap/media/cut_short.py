"""Movie files that end before the end that they state: pictures that would have come are in no index and in no packet.

Other containers keep their index at the end or state in it every frame, so that reading names what is not there.
"""

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

from .packets import PacketTable
from .transport_stream import transport_end


@dataclass(frozen=True)
class Ending:
    """What is to be said of the end of a file.

    Attributes
    ----------
    is_cut_short : whether it is known; else it is not known whether the last picture is whole
    """

    sentence: str
    is_cut_short: bool


def ending(path: Path, container: Any, stream: Any, table: PacketTable) -> Ending | None:
    """Say in a sentence that a file is cut short, or may be; None where nothing shows it."""
    if container.format.name != "mpegts":
        found = _stated_end(container, stream, table)
    else:
        end = transport_end(path, stream.id)
        found = end.fault or _gap_at_the_end(table)
        if found is None and end.is_picture_doubtful:
            return Ending(
                "whether the last picture in the file is whole is not known: it fills its packets to the end, as where "
                "a file is cut; look at it",
                is_cut_short=False,
            )
    return Ending(f"the file is cut short: {found}; copy it again", is_cut_short=True) if found else None


def _stated_end(container: Any, stream: Any, table: PacketTable) -> str | None:
    """Say where the file says that it ends, and where its pictures do; None where they do so there."""
    rate = stream.average_rate or stream.guessed_rate
    stated = _stated_seconds(container, stream)
    if stated is None or not rate:
        return None
    start = table.times[0] if container.format.name == "mxf" else 0
    end = float((table.times[-1] - start) * stream.time_base + 1 / rate)
    if stated - end <= 2.0 / rate:
        return None
    return f"it says {stated:.2f} s, and its pictures end after {end:.2f} s"


def _stated_seconds(container: Any, stream: Any) -> float | None:
    """Return the time of the end: MXF has the length of a track, Matroska the end of one in a tag, or that of all."""
    if container.format.name == "mxf":
        return float(stream.duration * stream.time_base) if stream.duration else None
    if "matroska" not in container.format.name:
        return None
    tags = {name.upper(): value for name, value in stream.metadata.items()}
    if "DURATION" in tags:
        hours, minutes, seconds = tags["DURATION"].split(":")
        return 3600.0 * int(hours) + 60.0 * int(minutes) + float(seconds)
    return container.duration / 1e6 if len(container.streams) == 1 and container.duration else None


def _gap_at_the_end(table: PacketTable) -> str | None:
    """Say how many pictures are not there that are shown before the last ones, and would have been decoded behind them.

    That is known where the pictures before them follow each other at one rate.
    """
    last = table.decoded_last
    if last is None:
        return None
    steps = [(later, later - earlier) for earlier, later in pairwise(table.times)]
    longest = max((step for time, step in steps if time <= last), default=0)
    missing = sum(max(0, round(step / longest) - 1) for time, step in steps if time > last) if longest else 0
    pictures = "1 picture is" if missing == 1 else f"{missing} pictures are"
    return f"{pictures} missing between its last ones" if missing else None
