"""The end of a transport stream: whether its last packets hold all of what they have begun.

References
----------
ISO/IEC 13818-1: 2.4.3.2 (transport packets), 2.4.3.4 (adaptation fields), 2.4.3.6 (PES packets).
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

PACKETS = ((188, 0), (192, 4), (204, 0))
"""Bytes of a packet, and of it before the sync byte: 2.4.3.2; with a time stamp before it, or with check bytes behind
it (both from memory)."""
SIZE = 188
SYNC = 0x47
LOOKED_AT = 5  # packets at the start, which have to agree
TAIL = 1 << 16  # packets at the end, many times what a PES packet with a length can fill
PES_HEAD = 6  # bytes of a PES packet up to its length, which counts those behind it


@dataclass(frozen=True)
class TransportEnd:
    """What the last packets show.

    Attributes
    ----------
    fault : in words, what is not whole; None where nothing shows it
    is_picture_doubtful : whether the last picture has no length, and nothing shows where it ends
    """

    fault: str | None = None
    is_picture_doubtful: bool = False


def transport_end(path: Path, video: int) -> TransportEnd:
    """Look at the end of a transport stream.

    A PES packet of video may state no length; that such a one is whole is known from the bytes that fill its last
    transport packet up, and of one in 184 by chance there are none.

    Parameters
    ----------
    video : the PID of the video
    """
    kind = _kind_of_packets(path)
    if kind is None:
        return TransportEnd()
    size, before = kind
    length = path.stat().st_size
    if length % size != 0:
        return TransportEnd("it ends inside a packet of its transport stream")
    with path.open("rb") as file:
        file.seek(max(0, length - TAIL * size))
        packets = np.frombuffer(file.read(), np.uint8).reshape(-1, size)[:, before : before + SIZE]
    pids = (packets[:, 1].astype(int) & 0x1F) << 8 | packets[:, 2]
    is_doubtful = False
    for pid in np.unique(pids):
        found = _last_pes(packets[pids == pid])
        if found is None:
            continue
        is_there, stated, is_full = found
        if stated and is_there < stated:
            what = "picture" if pid == video else "packet of sound or data"
            return TransportEnd(f"of its last {what}, {is_there} of {stated} bytes are there")
        is_doubtful |= pid == video and not stated and is_full
    return TransportEnd(is_picture_doubtful=bool(is_doubtful))


def _kind_of_packets(path: Path) -> tuple[int, int] | None:
    with path.open("rb") as file:
        start = file.read(LOOKED_AT * max(size for size, _ in PACKETS))
    for size, before in PACKETS:
        places = range(before, LOOKED_AT * size, size)
        if all(place < len(start) and start[place] == SYNC for place in places):
            return size, before
    return None


def _last_pes(packets: np.ndarray) -> tuple[int, int, bool] | None:
    """Return how many bytes there are of the last PES packet of a PID, how many it states, and if it fills its last.

    What it states is 0 where it does not say it; None where no PES packet begins.
    """
    starts = np.flatnonzero(packets[:, 1] & 0x40)
    if not starts.size:
        return None
    packets = packets[starts[-1] :]
    has_adaptation, has_payload = (packets[:, 3] & 0x20) > 0, (packets[:, 3] & 0x10) > 0
    begins = np.where(has_adaptation, 5 + packets[:, 4].astype(int), 4)
    head = bytes(packets[0, begins[0] : begins[0] + PES_HEAD])
    if head[:3] != b"\0\0\1" or len(head) < PES_HEAD:
        return None
    stated = int.from_bytes(head[4:], "big")
    is_full = not has_adaptation[has_payload][-1]
    return int(np.sum((SIZE - begins)[has_payload])), stated and PES_HEAD + stated, bool(is_full)
