"""Movie files that end before the end that they state: pictures that would have come are in no index and in no packet.

Other containers keep their index at the end or state in it every frame, so that reading names what is not there.
"""

from pathlib import Path
from typing import Any

from .packets import PacketTable

TRANSPORT_PACKETS = ((188, 0), (192, 4), (204, 0))
"""Bytes of a packet, and of it before the sync byte: ISO/IEC 13818-1, 2.4.3.2; with a time stamp before it, or with
check bytes behind it (both from memory)."""
SYNC = 0x47
LOOKED_AT = 5  # packets at the start, which have to agree


def cut_short(path: Path, container: Any, stream: Any, table: PacketTable) -> str | None:
    """Say in a sentence that a file is cut short, None where nothing shows it.

    A transport stream that ends between two packets states nothing.
    """
    if container.format.name == "mpegts":
        if _ends_inside_a_packet(path):
            return "the file is cut short: it ends inside a packet of its transport stream; copy it again"
        return None
    rate = stream.average_rate or stream.guessed_rate
    stated = _stated_seconds(container, stream)
    if stated is None or not rate:
        return None
    start = table.times[0] if container.format.name == "mxf" else 0
    end = float((table.times[-1] - start) * stream.time_base + 1 / rate)
    if stated - end <= 2.0 / rate:
        return None
    return f"the file is cut short: it says {stated:.2f} s, and its pictures end after {end:.2f} s; copy it again"


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


def _ends_inside_a_packet(path: Path) -> bool:
    with path.open("rb") as file:
        start = file.read(LOOKED_AT * max(size for size, _ in TRANSPORT_PACKETS))
    for size, before in TRANSPORT_PACKETS:
        places = range(before, LOOKED_AT * size, size)
        if all(place < len(start) and start[place] == SYNC for place in places):
            return path.stat().st_size % size != 0
    return False
